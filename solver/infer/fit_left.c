/* What a fit leaves over: of each channel, of each log, and what that says of the model's errors. */
#include "solver/infer/fit_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* mean of each channel over the points of one log; what is left there and round it goes into left */
static void take_means(const struct swh_error_covariance *w, const struct swh_residuals *r, double *mean,
                       struct swh_fit_left *left)
{
    int count[SWH_COMPARED] = {0};
    for (int a = 0; a < w->points; a++) {
        mean[w->channel[a]] += r->mean[w->channel[a]][w->window[a]];
        count[w->channel[a]]++;
    }
    for (int i = 0; i < SWH_COMPARED; i++) {
        const double offset = swh_channel_table[swh_compared[i]].offset_sigma;
        mean[i] = count[i] > 0 ? mean[i] / count[i] : 0;
        left[i].bias2 += count[i] * fmax(mean[i] * mean[i] - 4 * offset * offset, 0);
    }
}

static void look_at_log(const struct swh_fit_work *f, int log, const struct swh_residuals *r,
                        struct swh_fit_left *left)
{
    const struct swh_error_covariance *w = &f->weights[log];
    double white[SWH_POINTS_MAX];
    double mean[SWH_COMPARED] = {0};
    swh_error_covariance_apply(w, r, white);
    take_means(w, r, mean, left);
    for (int a = 0; a < w->points; a++) {
        const int i = w->channel[a], k = w->window[a];
        struct swh_fit_left *l = &left[i];
        const double d = r->mean[i][k], sigma = swh_channel_table[swh_compared[i]].sigma;
        l->n++;
        l->sum += d;
        l->sum2 += d * d;
        l->around2 += (d - mean[i]) * (d - mean[i]);
        l->noise2 += sigma * sigma / fmax(r->count[i][k], 1);
        l->white2 += white[a] * white[a];
        if (a == 0 || w->channel[a - 1] != i)
            continue;
        l->pairs++;
        l->lag += (d - mean[i]) * (r->mean[i][w->window[a - 1]] - mean[i]);
        l->white_lag += white[a] * white[a - 1];
        l->white_step2 += (white[a] - white[a - 1]) * (white[a] - white[a - 1]);
    }
    for (int i = 0; i < SWH_COMPARED; i++)
        for (int k = f->first_hidden[log]; k < r->windows; k++)
            if (r->count[i][k] > 0) {
                left[i].held++;
                left[i].held2 += r->mean[i][k] * r->mean[i][k];
            }
}

/* root mean square of the windows [first, last) of a channel; NaN without one */
static double window_rms(const struct swh_residuals *r, int channel, int first, int last)
{
    double sum2 = 0;
    int n = 0;
    for (int k = first; k < last && k < r->windows; k++)
        if (r->count[channel][k] > 0) {
            sum2 += r->mean[channel][k] * r->mean[channel][k];
            n++;
        }
    return n ? sqrt(sum2 / n) : NAN;
}

static void say_log(const struct swh_fit_work *f, int log, const struct swh_residuals *r,
                    struct swh_fit_log *out)
{
    const int hidden = f->first_hidden[log];
    const double t0 = swh_fit_is_sheet(f->q, log) ? 0 : f->q->log[log].row[0].value[SWH_CH_time];
    out->seen_from = t0 + r->skip;
    out->window = r->length;
    out->hidden_from = hidden < r->windows ? t0 + r->skip + hidden * r->length : NAN;
    for (int i = 0; i < SWH_COMPARED; i++) {
        out->before[i] = window_rms(&f->at_start[log], i, 0, hidden);
        out->rms[i] = window_rms(r, i, 0, hidden);
        out->holdout_rms[i] = window_rms(r, i, hidden, r->windows);
    }
}

enum swh_status swh_fit_look(const struct swh_fit_work *f, const double *p, struct swh_fit_left *left,
                             struct swh_fit_log *logs, struct swh_error *err)
{
    memset(left, 0, SWH_COMPARED * sizeof *left);
    struct swh_residuals *r = malloc(sizeof *r);
    if (!r)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    enum swh_status status = SWH_OK;
    for (int log = 0; log < swh_fit_records(f->q) && status == SWH_OK; log++) {
        status = swh_fit_run(f, log, p, r, err);
        if (status != SWH_OK)
            break;
        look_at_log(f, log, r, left);
        say_log(f, log, r, &logs[log]);
    }
    free(r);
    return status;
}

/* Slow error of a channel and its decay over one window. An instrument's offset may explain the mean of a log
 * (each log has instruments of its own); what exceeds noise and keeps its sign from window to window is the
 * model's. */
static double slow_error(const struct swh_fit_left *l, double *decay)
{
    *decay = NAN;
    if (l->n < 8)
        return 0;
    const double n = l->n, variance = l->around2 / n, lag = l->lag / fmax(l->pairs, 1);
    const double beyond = fmax(variance - l->noise2 / n, 0), bias2 = l->bias2 / n;
    const bool keeps_sign = variance > 0 && lag / variance > 2 / sqrt(n);
    if (keeps_sign && beyond > 0)
        *decay = fmin(fmax(lag / beyond, 0.05), 0.98);
    return sqrt((keeps_sign ? beyond : 0) + bias2);
}

/* Learned errors stay within a factor of four of what the first fit allowed: a channel that fits badly must
 * not lose its voice. */
void swh_fit_learn_errors(const struct swh_fit_work *f, const struct swh_fit_left *left, struct swh_params *p,
                          struct swh_fit_result *out)
{
    double sum = 0;
    int count = 0;
    for (int i = 0; i < SWH_COMPARED; i++) {
        double decay = NAN;
        const double slow = slow_error(&left[i], &decay);
        out->channel[i].slow = slow;
        const double before = swh_param_get(p, (int)swh_compared_error[i]);
        if (left[i].n > 0)
            swh_param_set(p, (int)swh_compared_error[i], fmin(fmax(slow, 0.25 * before), 4 * before));
        if (isnan(decay))
            continue;
        sum -= log(decay);
        count++;
    }
    out->correlation_time =
        count ? fmin(fmax(f->at_start[0].length * count / sum, 30), 3000) : p->uncertainty_correlation_time;
    p->uncertainty_correlation_time = out->correlation_time;
}

void swh_fit_say_channels(const struct swh_fit_left *left, struct swh_fit_result *out, bool replay)
{
    double sum2 = 0, held2 = 0;
    out->misfit = 0;
    int n = 0, held = 0;
    for (int i = 0; i < SWH_COMPARED; i++) {
        const struct swh_fit_left *l = &left[i];
        struct swh_fit_channel *c = &out->channel[i];
        const struct swh_channel_info *info = &swh_channel_table[swh_compared[i]];
        c->points = l->n;
        c->held_out = l->held;
        c->rms = l->n ? sqrt(l->sum2 / l->n) : NAN;
        c->bias = l->n ? l->sum / l->n : NAN;
        c->holdout_rms = l->held ? sqrt(l->held2 / l->held) : NAN;
        c->lag1 = l->pairs ? l->white_lag / l->white2 : NAN;
        c->durbin_watson = l->pairs ? l->white_step2 / l->white2 : NAN;
        c->effective = l->n * (c->lag1 > 0 ? (1 - c->lag1) / (1 + c->lag1) : 1);
        c->allowed = hypot(info->offset_sigma, swh_param_table[swh_compared_error[i]].value);
        if (c->rms / c->allowed > out->misfit) { /* false for a NaN */
            out->misfit = c->rms / c->allowed;
            out->misfit_channel = i;
        }
        const double unit = replay ? 1 : sqrt(info->offset_sigma * info->offset_sigma + c->slow * c->slow);
        sum2 += l->sum2 / (unit * unit);
        held2 += l->held2 / (unit * unit);
        n += l->n;
        held += l->held;
    }
    out->fits = out->misfit <= SWH_FIT_MISFIT;
    out->rms = n ? sqrt(sum2 / n) : NAN;
    out->holdout_rms = held ? sqrt(held2 / held) : NAN;
}
