#include "solver/infer/fit.h"

#include "solver/infer/nuisance.h"
#include "solver/infer/spot.h"
#include "solver/infer/unknowns.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Two runs of a replay at the usual tolerance differ by 0.1 K in a window mean, for no other reason than that
 * their steps fell differently; at a tenth of it by 0.01 K, for a quarter more time (measured on 25 minutes
 * with noisy drives). A circuit driven by the two healthy demo logs likewise: all residuals together, each
 * over its standard deviation, differ by a length of 0.6 at 0.4 of the usual tolerance, by 0.04 at 0.04 and
 * by 0.006 at 0.008 of it; a change of 1 % in a conductance or an area moves them by 0.5 to 0.7. CVODES's
 * forward sensitivities would have no such noise, but each parameter costs them one more integration of the
 * same equations, as a difference does, and clutch edges would have to be carried over by hand. */
static const double replay_tolerance = 0.1, circuit_tolerance = 0.04;
static const double replay_move = 4, circuit_move = 0.4;
/* Windows of a circuit that count as one: an error of its model keeps its sign for some eight minutes. With
 * one for one, the windows outweigh what is known of the drives and of the parameters, and a fit of many
 * parameters takes the model's faults for a humidity or an efficiency that nobody has seen (measured: 1, 4,
 * 16, 50). */
static const double windows_together = 16;
/* Standard deviation of ln(parameter) round its start, in a circuit, where nobody gave one. */
static const double weak_prior = 0.7;
static const double average_span =
    6; /* s; shorter than a valve's hunting, which the clamp's undoing needs to see */
static const double huber = 2.5; /* weighed residuals beyond it count linearly; 1.345 to 3 are usual */

struct fit {
    const struct swh_fit_request *q;
    struct swh_log_memory drive[SWH_FIT_LOGS]; /* replay: averages, so that noise does not slow the runs */
    struct swh_case driven[SWH_FIT_LOGS];      /* circuit: schedules made once, only read afterwards */
    struct swh_error_covariance weights[SWH_FIT_LOGS]; /* how the residuals err */
    struct swh_error_covariance plain[SWH_FIT_LOGS];   /* circuit: how they are weighed */
    const struct swh_error_covariance *loss;           /* one of the two */
    struct swh_residuals at_start[SWH_FIT_LOGS];
    struct swh_nuisance doubt[SWH_FIT_LOGS][SWH_NUISANCES]; /* what its drives may be wrong by */
    int doubts[SWH_FIT_LOGS];
    int first_hidden[SWH_FIT_LOGS]; /* first window that the fit does not see */
    int points, priors;
    double scale[SWH_FIT_LOGS]; /* robust loss: size of an ordinary weighed residual */
    bool robust;
    double naive[SWH_LSQ_MAX]; /* circuit: variances as if the residuals erred as they are weighed */
    double lo[SWH_LSQ_MAX], hi[SWH_LSQ_MAX];
    int fixed; /* profile: this variable is held, else -1 */
    double fixed_value;
    struct swh_team *team; /* takes the error of a failed allocation in any run */
};

/* logs and sheets */
static int records(const struct swh_fit_request *q)
{
    return q->logs + q->sheets;
}

static bool is_sheet(const struct swh_fit_request *q, int record)
{
    return record >= q->logs;
}

static struct swh_readings readings_of(const struct swh_fit_request *q, int record)
{
    struct swh_readings r = {.doors_given = q->doors_given};
    if (is_sheet(q, record))
        r.sheet = &q->sheet[record - q->logs];
    else
        r.log = &q->log[record];
    return r;
}

/* Windows that count as one: each row of a sheet is a test of its own. */
static double together(const struct swh_fit_request *q, int record)
{
    return is_sheet(q, record) ? 1 : windows_together;
}

static double fine_tolerance(const struct swh_fit_request *q)
{
    return q->with == SWH_FIT_CIRCUIT ? circuit_tolerance : replay_tolerance;
}

/* ---- residuals at a set of parameters ---- */

static enum swh_status run_log(const struct fit *f, int log, const double *p, struct swh_residuals *r,
                               struct swh_error *err)
{
    const struct swh_fit_request *q = f->q;
    struct swh_case c = f->driven[log]; /* the schedule is shared, the parameters are this run's */
    for (int i = 0, k = 0; i < q->params; i++)
        swh_param_set(&c.params, q->param[i], i == f->fixed ? f->fixed_value : p[k++]);
    c.params.run_tolerance *= fine_tolerance(q);
    const struct swh_readings read = readings_of(q, log);
    if (q->with == SWH_FIT_CIRCUIT)
        return swh_residuals_run(&c, &read, r, err);
    return swh_residuals_replay(&c, &f->drive[log], &q->log[log], r, err);
}

static double soften(const struct fit *f, int log, double u)
{
    const double limit = huber * f->scale[log];
    if (!f->robust || fabs(u) <= limit)
        return u;
    return copysign(sqrt(2 * limit * fabs(u) - limit * limit), u);
}

static double prior_of(const struct fit *f, int i, double value)
{
    const struct swh_fit_request *q = f->q;
    const double sigma = swh_param_get(&q->vehicle->spread, q->param[i]);
    const double start = swh_param_get(&q->vehicle->params, q->param[i]);
    if (sigma > 0)
        return (value - start) / sigma;
    if (q->with == SWH_FIT_CIRCUIT && start > 0)
        return log(fmax(value, 1e-6 * start) / start) / weak_prior;
    return NAN; /* none */
}

static int add_priors(const struct fit *f, const double *p, double *r)
{
    int count = 0;
    for (int i = 0, k = 0; i < f->q->params; i++) {
        const double prior = prior_of(f, i, i == f->fixed ? f->fixed_value : p[k++]);
        if (!isnan(prior))
            r[count++] = prior;
    }
    return count;
}

static enum swh_status fit_residuals(const double *p, double *r, void *user, struct swh_error *err)
{
    struct fit *f = user;
    struct swh_residuals *one = malloc(sizeof *one);
    if (!one) {
        swh_team_note_memory(f->team);
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    }
    int at = 0;
    enum swh_status status = SWH_OK;
    for (int log = 0; log < records(f->q) && status == SWH_OK; log++) {
        status = run_log(f, log, p, one, err);
        if (status != SWH_OK)
            break;
        swh_error_covariance_apply(&f->loss[log], one, r + at);
        for (int i = 0; i < f->weights[log].points; i++)
            r[at + i] = soften(f, log, r[at + i]);
        at += f->weights[log].points;
    }
    free(one);
    add_priors(f, p, r + at);
    if (status == SWH_ERR_MEMORY)
        swh_team_note_memory(f->team);
    return status;
}

/* ---- weights ---- */

static void free_weights(struct fit *f)
{
    for (int log = 0; log < records(f->q); log++)
        swh_error_covariance_free(&f->weights[log]);
}

static enum swh_status weigh_plainly(struct fit *f, struct swh_error *err)
{
    f->points = 0;
    for (int log = 0; log < records(f->q); log++) {
        const enum swh_status status =
            swh_error_covariance_make_plain(&f->plain[log], &f->at_start[log], f->doubt[log], f->doubts[log],
                                            together(f->q, log), 0, f->first_hidden[log], err);
        if (status != SWH_OK)
            return status;
        f->points += f->plain[log].points;
        f->scale[log] = 1 / sqrt(together(f->q, log));
    }
    f->loss = f->plain;
    return SWH_OK;
}

static enum swh_status weigh(struct fit *f, const struct swh_params *model_errors, struct swh_error *err)
{
    struct swh_params own = *model_errors, *errors = &own;
    own.uncertainty_unseen = own.uncertainty_papers_lasting = 0; /* these logs are the ones that it sees */
    own.fitted_logs = own.fitted_rows = 0;
    free_weights(f);
    f->points = 0;
    if (f->q->with == SWH_FIT_REPLAY)
        f->loss = f->weights;
    for (int log = 0; log < records(f->q); log++) {
        const struct swh_residuals *r = &f->at_start[log];
        const enum swh_status status = swh_error_covariance_make(
            &f->weights[log], r, errors, f->doubt[log], f->doubts[log], 0, f->first_hidden[log], err);
        if (status != SWH_OK)
            return status;
        f->points += f->weights[log].points;
    }
    return SWH_OK;
}

/* What drives may be wrong too: readings in a replay; ambient, humidity and bay in a circuit. */
static enum swh_status nuisance_inputs(struct fit *f, int log, struct swh_error *err)
{
    const struct swh_fit_request *q = f->q;
    struct swh_team team;
    swh_team_begin(&team);
    if (q->with == SWH_FIT_CIRCUIT) {
        struct swh_case driven = f->driven[log];
        driven.params.run_tolerance *= fine_tolerance(q);
        const struct swh_readings read = readings_of(q, log);
        f->doubts[log] = swh_nuisances(&driven, &read, &f->at_start[log], SWH_KNOWN_WHOLLY, q->threads,
                                       f->doubt[log], &team);
        return swh_team_end(&team, err);
    }
    struct swh_case c = *q->vehicle;
    c.params.run_tolerance *= fine_tolerance(q);
    const struct swh_nuisance_request d = {&c,       &f->drive[log], &q->log[log], &f->at_start[log],
                                           q->param, q->params,      q->threads,   &team};
    f->doubts[log] = swh_gauge_nuisances(&d, f->doubt[log]);
    return swh_team_end(&team, err);
}

/* which windows there are, and which of them are kept back */
static enum swh_status lay_out(struct fit *f, struct swh_error *err)
{
    double p[SWH_LSQ_MAX];
    for (int i = 0; i < f->q->params; i++)
        p[i] = swh_param_get(&f->q->vehicle->params, f->q->param[i]);
    for (int log = 0; log < records(f->q); log++) {
        struct swh_residuals *r = &f->at_start[log];
        const enum swh_status status = run_log(f, log, p, r, err);
        if (status != SWH_OK)
            return status;
        if (!r->complete)
            return swh_error_set(err, SWH_ERR_SOLVER,
                                 "with the vehicle's present parameters the model does not get through %s %d "
                                 "(it ends at %.0f s): the fit has no place to start",
                                 is_sheet(f->q, log) ? "sheet" : "log",
                                 log + 1 - (is_sheet(f->q, log) ? f->q->logs : 0), r->summary.end_time);
        const enum swh_status doubted = nuisance_inputs(f, log, err);
        if (doubted != SWH_OK)
            return doubted;
        f->first_hidden[log] = is_sheet(f->q, log) ? r->windows : (int)ceil(r->windows * (1 - f->q->holdout));
    }
    return SWH_OK;
}

/* ---- starts ---- */

static void start_point(const struct fit *f, int start, double *p)
{
    struct swh_lsq limits = {.n = f->q->params, .lo = f->lo, .hi = f->hi};
    for (int i = 0; i < f->q->params; i++) {
        p[i] = swh_param_get(&f->q->vehicle->params, f->q->param[i]);
        if (start == 0)
            continue;
        /* start 1 up, 2 down, then alternating from variable to variable */
        const double side = start <= 2 ? (start == 1 ? 1 : -1) : ((i >> (start - 3)) & 1 ? 1 : -1);
        p[i] = swh_lsq_from_z(&limits, i, swh_lsq_to_z(&limits, i, p[i]) + 0.35 * side);
    }
}

static struct swh_lsq problem(struct fit *f)
{
    return (struct swh_lsq){.m = f->points + f->priors,
                            .n = f->q->params,
                            .residuals = fit_residuals,
                            .user = f,
                            .lo = f->lo,
                            .hi = f->hi,
                            .noise = 1e-5,
                            .change = 0.03,
                            .move = f->q->with == SWH_FIT_CIRCUIT ? circuit_move : replay_move,
                            .evals_max = 40 * (f->q->params + 1),
                            .threads = f->q->threads};
}

static enum swh_status from_starts(struct fit *f, struct swh_lsq_result *best, struct swh_fit_result *out,
                                   struct swh_error *err)
{
    struct swh_lsq q = problem(f);
    q.rough = true;
    double sums[16];
    enum swh_status status = SWH_OK;
    const int starts = f->q->starts < 16 ? f->q->starts : 16;
    for (int start = 0; start < starts; start++) {
        struct swh_lsq_result one;
        double p[SWH_LSQ_MAX];
        start_point(f, start, p);
        struct swh_error inside = {0};
        status = swh_lsq_solve(&q, p, &one, start == 0 ? err : &inside);
        sums[start] = status == SWH_OK ? one.sum : INFINITY;
        if (status == SWH_ERR_MEMORY && err && err->status == SWH_OK)
            *err = inside;
        if ((start == 0 && status != SWH_OK) || status == SWH_ERR_MEMORY)
            return status;
        out->evals += one.evals;
        if (start == 0 || sums[start] < best->sum)
            *best = one;
    }
    out->starts = starts;
    out->starts_agree = 0;
    for (int start = 0; start < starts; start++)
        out->starts_agree += sums[start] <= 1.02 * best->sum + 1e-9;
    return SWH_OK;
}

/* ---- what is left over ---- */

struct left {
    double sum2, sum, held2, white2, white_lag, white_step2, noise2;
    double bias2, around2, lag; /* beyond the offset: squares of each log's mean; round that mean: squares,
                                   products of neighbours */
    int n, pairs, held;
};

/* mean of each channel over the points of one log; what is left there and round it goes into left */
static void take_means(const struct swh_error_covariance *w, const struct swh_residuals *r, double *mean,
                       struct left *left)
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

static void look_at_log(const struct fit *f, int log, const struct swh_residuals *r, struct left *left)
{
    const struct swh_error_covariance *w = &f->weights[log];
    double white[SWH_POINTS_MAX];
    double mean[SWH_COMPARED] = {0};
    swh_error_covariance_apply(w, r, white);
    take_means(w, r, mean, left);
    for (int a = 0; a < w->points; a++) {
        const int i = w->channel[a], k = w->window[a];
        struct left *l = &left[i];
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

static void say_log(const struct fit *f, int log, const struct swh_residuals *r, struct swh_fit_log *out)
{
    const int hidden = f->first_hidden[log];
    const double t0 = is_sheet(f->q, log) ? 0 : f->q->log[log].row[0].value[SWH_CH_time];
    out->seen_from = t0 + r->skip;
    out->window = r->length;
    out->hidden_from = hidden < r->windows ? t0 + r->skip + hidden * r->length : NAN;
    for (int i = 0; i < SWH_COMPARED; i++) {
        out->before[i] = window_rms(&f->at_start[log], i, 0, hidden);
        out->rms[i] = window_rms(r, i, 0, hidden);
        out->holdout_rms[i] = window_rms(r, i, hidden, r->windows);
    }
}

static enum swh_status look(struct fit *f, const double *p, struct left *left, struct swh_fit_log *logs,
                            struct swh_error *err)
{
    memset(left, 0, SWH_COMPARED * sizeof *left);
    struct swh_residuals *r = malloc(sizeof *r);
    if (!r)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    enum swh_status status = SWH_OK;
    for (int log = 0; log < records(f->q) && status == SWH_OK; log++) {
        status = run_log(f, log, p, r, err);
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
static double slow_error(const struct left *l, double *decay)
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
static void learn_errors(const struct fit *f, const struct left *left, struct swh_params *p,
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

/* ---- the result ---- */

static void say_channels(const struct left *left, struct swh_fit_result *out, bool replay)
{
    double sum2 = 0, held2 = 0;
    int n = 0, held = 0;
    for (int i = 0; i < SWH_COMPARED; i++) {
        const struct left *l = &left[i];
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
        const double unit = replay ? 1 : sqrt(info->offset_sigma * info->offset_sigma + c->slow * c->slow);
        sum2 += l->sum2 / (unit * unit);
        held2 += l->held2 / (unit * unit);
        n += l->n;
        held += l->held;
    }
    out->rms = n ? sqrt(sum2 / n) : NAN;
    out->holdout_rms = held ? sqrt(held2 / held) : NAN;
}

/* An interval that runs into a limit ends there; the logistic variable only ever nears it. */
static void snap_to_limits(const struct fit *f, int i, struct swh_fit_estimate *e)
{
    const double lo = f->lo[i], hi = f->hi[i], near = 1e-3 * (hi - lo);
    if (isfinite(lo) && e->low < lo + (lo > 0 ? 0.01 * lo : near))
        e->low = lo;
    if (isfinite(hi) && e->high > hi - near)
        e->high = hi;
}

/* Intervals are symmetric in the transformed variable, so they respect the limits. Residuals larger than
 * their weights allow, and what autocorrelation is left, widen them. Smaller ones do not narrow them: an
 * instrument's offset is one draw, about whose size the scatter of the readings says nothing. */
static void estimate(const struct fit *f, const struct swh_lsq_result *best, double white2,
                     struct swh_fit_result *out)
{
    const struct swh_lsq limits = {.n = f->q->params, .lo = f->lo, .hi = f->hi};
    double effective = 0;
    for (int i = 0; i < SWH_COMPARED; i++)
        effective += out->channel[i].points ? out->channel[i].effective : 0;
    const double inflate = effective > 0 ? sqrt(out->points / effective) : 1;
    out->spread =
        sqrt((f->q->with == SWH_FIT_CIRCUIT ? white2 : best->sum) / fmax(1, out->points - f->q->params));
    const int n = f->q->params;
    for (int i = 0; i < n; i++) {
        struct swh_fit_estimate *e = &out->estimate[i];
        const double sd = sqrt(best->covariance[i * n + i]) * fmax(1, out->spread * inflate);
        const double range = log(99.0); /* logistic variable 1 % from a limit */
        e->param = f->q->param[i];
        e->value = best->p[i];
        e->start = swh_param_get(&f->q->vehicle->params, e->param);
        e->low = swh_lsq_from_z(&limits, i, best->z[i] - 1.96 * sd);
        e->high = swh_lsq_from_z(&limits, i, best->z[i] + 1.96 * sd);
        snap_to_limits(f, i, e);
        e->at_lower = best->z[i] < -range;
        e->at_upper = best->z[i] > range;
        for (int j = 0; j < n; j++)
            out->correlation[i * n + j] =
                best->covariance[i * n + j] /
                sqrt(best->covariance[i * n + i] * best->covariance[j * n + j] + 1e-300);
    }
    out->estimates = n;
}

static void add_words(struct swh_fit_result *out, const char *text)
{
    for (int i = 0; i < out->n_cannot_tell; i++)
        if (strcmp(out->cannot_tell[i], text) == 0)
            return;
    if (out->n_cannot_tell < SWH_FIT_WORDS)
        snprintf(out->cannot_tell[out->n_cannot_tell++], sizeof out->cannot_tell[0], "%s", text);
}

/* A direction of the parameters along which the logs allow more than a factor of 1.5 either way. */
static void say_direction(const struct fit *f, const struct swh_lsq_result *best, int k,
                          struct swh_fit_result *out)
{
    const int n = f->q->params;
    int first = -1, second = -1;
    double a = 0, b = 0;
    for (int i = 0; i < n; i++) {
        const double v = best->vector[i * n + k] * best->slope[i] / best->p[i];
        if (fabs(v) > fabs(a)) {
            second = first;
            b = a;
            first = i;
            a = v;
        } else if (fabs(v) > fabs(b)) {
            second = i;
            b = v;
        }
    }
    const double sd = out->spread / sqrt(fmax(best->eigen[k], 1e-300));
    if (first < 0 || 1.96 * sd * fabs(a) < 0.5 || out->n_cannot_tell == SWH_FIT_WORDS)
        return;
    char text[256];
    const char *name = swh_param_table[f->q->param[first]].name;
    const struct swh_param_info *other = second >= 0 ? &swh_param_table[f->q->param[second]] : NULL;
    if (!other || fabs(b) < 0.3 * fabs(a))
        snprintf(text, sizeof text, "the logs say almost nothing about %s (%s)", name,
                 swh_param_table[f->q->param[first]].help);
    else
        snprintf(text, sizeof text, "%s and %s trade off: %s leaves the fit nearly as good", name,
                 other->name,
                 a * b < 0 ? "more of one with less of the other" : "more or less of both together");
    add_words(out, text);
}

/* Near a limit the directions above lose sight of a parameter, because it hardly moves there; its interval
 * does not: half as much again either way, or an end at a limit, and no direction has named it yet. */
static void say_open(const struct fit *f, int i, struct swh_fit_result *out)
{
    const struct swh_fit_estimate *e = &out->estimate[i];
    const struct swh_param_info *p = &swh_param_table[e->param];
    char text[256];
    for (int k = 0; k < out->n_cannot_tell; k++)
        if (strstr(out->cannot_tell[k], p->name))
            return;
    if (e->high <= 2.25 * fmax(e->low, 0) && e->low > f->lo[i] && e->high < f->hi[i])
        return;
    snprintf(text, sizeof text, "the logs say almost nothing about %s (%s)", p->name, p->help);
    if (e->low > f->lo[i] || e->high < f->hi[i])
        snprintf(text, sizeof text, "%s is hardly bounded %s by the logs (%s)", p->name,
                 e->low <= f->lo[i]    ? "below"
                 : e->high >= f->hi[i] ? "above"
                                       : "on either side",
                 p->help);
    add_words(out, text);
}

/* What rank trusts each reading by. */
static void leave_mark(const struct fit *f, struct swh_fit_result *out)
{
    double left[SWH_COMPARED];
    int rows = 0;
    for (int i = 0; i < SWH_COMPARED; i++)
        left[i] = out->channel[i].points > 0 ? out->channel[i].rms : NAN;
    for (int i = 0; i < f->q->sheets; i++)
        rows += (int)f->q->sheet[i].rows;
    swh_mark_fitted(&out->params, f->q->logs, rows, left);
}

static enum swh_status finish(struct fit *f, const struct swh_lsq_result *best,
                              const struct swh_params *errors, struct swh_fit_result *out,
                              struct swh_error *err)
{
    struct left left[SWH_COMPARED];
    const enum swh_status status = look(f, best->p, left, out->log, err);
    if (status != SWH_OK)
        return status;
    out->points = f->points;
    say_channels(left, out, f->q->with == SWH_FIT_REPLAY);
    double white2 = 0;
    for (int i = 0; i < SWH_COMPARED; i++)
        white2 += left[i].white2;
    estimate(f, best, white2, out);
    for (int k = 0; k < f->q->params; k++)
        say_direction(f, best, k, out);
    for (int i = 0; i < f->q->params; i++)
        say_open(f, i, out);
    out->params = f->q->vehicle->params;
    if (f->q->with == SWH_FIT_CIRCUIT)
        for (int i = 0; i < SWH_COMPARED; i++)
            swh_param_set(&out->params, (int)swh_compared_error[i],
                          swh_param_get(errors, (int)swh_compared_error[i]));
    if (f->q->with == SWH_FIT_CIRCUIT)
        out->params.uncertainty_correlation_time = errors->uncertainty_correlation_time;
    for (int i = 0; i < f->q->params; i++)
        swh_param_set(&out->params, f->q->param[i], best->p[i]);
    if (f->q->with == SWH_FIT_CIRCUIT)
        leave_mark(f, out);
    return SWH_OK;
}

/* ---- profile likelihood ---- */

/* the loss with variable i held at z, the others fitted anew; *p: where they end */
static double profile_sum(struct fit *f, int i, double z, double *p)
{
    const struct swh_lsq limits = {.n = f->q->params, .lo = f->lo, .hi = f->hi};
    struct fit held = *f;
    held.fixed = i;
    held.fixed_value = swh_lsq_from_z(&limits, i, z);
    struct swh_lsq q = problem(&held);
    double lo[SWH_LSQ_MAX], hi[SWH_LSQ_MAX];
    q.n = 0;
    for (int k = 0; k < f->q->params; k++) {
        if (k == i)
            continue;
        lo[q.n] = f->lo[k];
        hi[q.n++] = f->hi[k];
    }
    q.lo = lo;
    q.hi = hi;
    double *r = malloc((size_t)q.m * sizeof *r);
    double sum = r ? 0 : INFINITY;
    struct swh_error trouble = {0};
    struct swh_lsq_result one = {.sum = INFINITY};
    if (q.n > 0 && r && swh_lsq_solve(&q, p, &one, &trouble) == SWH_OK) {
        memcpy(p, one.p, (size_t)q.n * sizeof *p);
        sum = one.sum;
    } else if (r && fit_residuals(p, r, &held, NULL) == SWH_OK) {
        for (int k = 0; k < q.m; k++)
            sum += r[k] * r[k];
    }
    if (!r || trouble.status == SWH_ERR_MEMORY)
        swh_team_note_memory(f->team);
    free(r);
    return sum;
}

/* where the loss has risen by the 95 % point of chi-squared with one degree of freedom, on one side */
static double profile_side(struct fit *f, const struct swh_lsq_result *best, int i, double step, double rise)
{
    double p[SWH_LSQ_MAX], inside = 0, outside = NAN;
    for (int k = 0, m = 0; k < f->q->params; k++)
        if (k != i)
            p[m++] = best->p[k];
    for (int k = 1; k <= 6 && isnan(outside); k++) {
        if (profile_sum(f, i, best->z[i] + k * step, p) > best->sum + rise)
            outside = k * step;
        else
            inside = k * step;
    }
    if (isnan(outside))
        return copysign(INFINITY, step);
    for (int k = 0; k < 5; k++) {
        const double mid = 0.5 * (inside + outside);
        if (profile_sum(f, i, best->z[i] + mid, p) > best->sum + rise)
            outside = mid;
        else
            inside = mid;
    }
    return 0.5 * (inside + outside);
}

static void profile(struct fit *f, const struct swh_lsq_result *best, struct swh_fit_result *out)
{
    const struct swh_lsq limits = {.n = f->q->params, .lo = f->lo, .hi = f->hi};
    const int n = f->q->params;
    for (int i = 0; i < n; i++) {
        /* a circuit's loss is no likelihood: it rises by as much as its variance is too small */
        const double share = f->q->with == SWH_FIT_CIRCUIT ? best->covariance[i * n + i] / f->naive[i] : 1;
        const double rise = 3.841 * out->spread * out->spread * share;
        const double step = fmax(1.2 * sqrt(best->covariance[i * n + i]) * out->spread, 1e-4);
        struct swh_fit_estimate *e = &out->estimate[i];
        e->low = swh_lsq_from_z(&limits, i, best->z[i] + profile_side(f, best, i, -step, rise));
        e->high = swh_lsq_from_z(&limits, i, best->z[i] + profile_side(f, best, i, step, rise));
        e->profiled = true;
    }
}

/* ---- all of it ---- */

static enum swh_status prepare(struct fit *f, struct swh_error *err)
{
    const struct swh_fit_request *q = f->q;
    if (records(q) < 1 || records(q) > SWH_FIT_LOGS)
        return swh_error_set(err, SWH_ERR_USAGE, "%d logs and sheets: between 1 and %d can be fitted at once",
                             records(q), SWH_FIT_LOGS);
    if (q->sheets > 0 && q->with != SWH_FIT_CIRCUIT)
        return swh_error_set(err, SWH_ERR_USAGE, "a sheet cannot drive a body: it needs the circuit");
    if (q->params < 1 || q->params > SWH_LSQ_MAX)
        return swh_error_set(err, SWH_ERR_USAGE, "%d parameters: between 1 and %d can be fitted", q->params,
                             SWH_LSQ_MAX);
    for (int i = 0; i < q->params; i++) {
        f->lo[i] = swh_param_table[q->param[i]].lo;
        f->hi[i] = swh_param_table[q->param[i]].hi;
        f->priors += !isnan(prior_of(f, i, swh_param_get(&q->vehicle->params, q->param[i])));
        if (isnan(swh_param_get(&q->vehicle->params, q->param[i])))
            return swh_error_set(err, SWH_ERR_USAGE, "%s has no value to start from",
                                 swh_param_table[q->param[i]].name);
    }
    for (int log = 0; log < records(q); log++) {
        struct swh_schedule_facts facts;
        const struct swh_readings read = readings_of(q, log);
        enum swh_status status = SWH_OK;
        if (q->with == SWH_FIT_CIRCUIT)
            status = swh_readings_drive(&f->driven[log], q->vehicle, &read, &facts, err);
        else
            f->driven[log] = *q->vehicle;
        if (status == SWH_OK && q->with == SWH_FIT_REPLAY)
            status = swh_log_memory_average(&f->drive[log], &q->log[log], average_span, err);
        if (status != SWH_OK)
            return status;
    }
    return lay_out(f, err);
}

/* Replay: generalised least squares, twice. A driven body errs less than a whole circuit; what is left over
 * by the first pass shows how it errs. */
static enum swh_status fit_replay(struct fit *f, struct swh_fit_result *out, struct swh_error *err)
{
    struct swh_params errors = f->q->vehicle->params;
    errors.uncertainty_persistent = errors.uncertainty_scatter = 0;
    for (int i = 0; i < SWH_COMPARED; i++)
        swh_param_set(&errors, (int)swh_compared_error[i],
                      0.25 * swh_param_get(&errors, (int)swh_compared_error[i]));
    struct swh_lsq_result best, last;
    struct left left[SWH_COMPARED];
    enum swh_status status = weigh(f, &errors, err);
    if (status == SWH_OK)
        status = from_starts(f, &best, out, err);
    if (status == SWH_OK)
        status = look(f, best.p, left, out->log, err);
    if (status != SWH_OK)
        return status;
    learn_errors(f, left, &errors, out);
    status = weigh(f, &errors, err);
    f->robust = f->q->robust;
    const struct swh_lsq q = problem(f);
    if (status == SWH_OK)
        status = swh_lsq_solve(&q, best.p, &last, err);
    if (status != SWH_OK)
        return status;
    out->evals += last.evals;
    status = finish(f, &last, &errors, out, err);
    if (status == SWH_OK && f->q->profile)
        profile(f, &last, out);
    return status;
}

/* Columns of the Jacobian with what the residuals really do in the place of how they are weighed: the
 * products of two columns make J' S J with S the covariance of the weighed residuals. Priors err as they are
 * weighed. */
static void let_err_together(const struct fit *f, double *J)
{
    const int m = f->points + f->priors;
    for (int i = 0; i < f->q->params; i++)
        for (int log = 0, at = i * m; log < records(f->q); at += f->plain[log++].points) {
            swh_error_covariance_solve_root(&f->plain[log], J + at);
            swh_error_covariance_apply_root(&f->weights[log], J + at);
        }
}

/* Covariance of estimates whose residuals are weighed in one way and err in another: (J'J)^-1 J' S J (J'J)^-1
 * (White, Econometrica 48 (1980) 817). Destroys J. */
static void take_sandwich(struct fit *f, double *J, struct swh_lsq_result *best)
{
    const int n = f->q->params, m = f->points + f->priors;
    double meat[SWH_LSQ_MAX * SWH_LSQ_MAX] = {0}, out[SWH_LSQ_MAX * SWH_LSQ_MAX] = {0};
    const double *bread = best->covariance;
    let_err_together(f, J);
    for (int i = 0; i < n * n; i++)
        for (int k = 0; k < m; k++)
            meat[i] += J[i / n * m + k] * J[i % n * m + k];
    for (int i = 0; i < n * n; i++)
        for (int k = 0; k < n * n; k++)
            out[i] += bread[i / n * n + k / n] * meat[k] * bread[k % n * n + i % n];
    for (int i = 0; i < n; i++)
        f->naive[i] = bread[i * n + i];
    swh_lsq_take_covariance(n, out, best);
}

/* Circuit: robust least squares, residuals weighed as if independent but for the drives. A model of a
 * whole circuit is wrong in ways that no covariance describes; generalised least squares, which believes its
 * own, trades lasting errors of several instruments for the shape of a few transients and ends at parameters
 * that no vehicle has. The intervals allow for what the residuals do together. */
static enum swh_status fit_circuit(struct fit *f, struct swh_fit_result *out, struct swh_error *err)
{
    struct swh_params errors = f->q->vehicle->params;
    struct swh_lsq_result best, last;
    struct left left[SWH_COMPARED];
    enum swh_status status = weigh_plainly(f, err);
    if (status == SWH_OK)
        status = weigh(f, &errors, err); /* until what is left over shows how the model errs */
    f->robust = f->q->robust;
    if (status == SWH_OK)
        status = from_starts(f, &best, out, err);
    if (status != SWH_OK)
        return status;
    double *J = malloc((size_t)(f->points + f->priors) * (size_t)f->q->params * sizeof *J);
    if (!J)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    struct swh_lsq q = problem(f);
    q.jacobian = J;
    status = swh_lsq_solve(&q, best.p, &last, err);
    if (status == SWH_OK)
        status = look(f, last.p, left, out->log, err);
    if (status == SWH_OK) {
        out->evals += last.evals;
        learn_errors(f, left, &errors, out);
        status = weigh(f, &errors, err);
    }
    if (status == SWH_OK)
        take_sandwich(f, J, &last);
    free(J);
    if (status == SWH_OK)
        status = finish(f, &last, &errors, out, err);
    if (status == SWH_OK && f->q->profile)
        profile(f, &last, out);
    return status;
}

enum swh_status swh_fit(const struct swh_fit_request *q, struct swh_fit_result *out, struct swh_error *err)
{
    memset(out, 0, sizeof *out);
    struct fit *f = calloc(1, sizeof *f);
    if (!f)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    f->q = q;
    f->fixed = -1;
    for (int log = 0; log < SWH_FIT_LOGS; log++)
        f->scale[log] = 1;
    struct swh_team team;
    swh_team_begin(&team);
    f->team = &team;
    enum swh_status status = prepare(f, err);
    if (status == SWH_OK)
        status = q->with == SWH_FIT_CIRCUIT ? fit_circuit(f, out, err) : fit_replay(f, out, err);
    const enum swh_status inside = swh_team_end(&team, err);
    status = status == SWH_OK ? inside : status;
    free_weights(f);
    for (int log = 0; log < records(q) && log < SWH_FIT_LOGS; log++)
        swh_error_covariance_free(&f->plain[log]);
    for (int log = 0; log < records(q) && log < SWH_FIT_LOGS; log++) {
        if (q->with == SWH_FIT_CIRCUIT)
            swh_case_free(&f->driven[log]);
        swh_log_memory_free(&f->drive[log]);
    }
    free(f);
    return status;
}

/* ---- what is usually freed ---- */

static const struct {
    int param;
    double share;
    enum swh_channel channel;
} usual[] = {
#define USUAL(param, share, channel) {SWH_P_##param, share, SWH_CH_##channel},
#include "solver/infer/usual.def"
#undef USUAL
};

/* of a valve or of an orifice tube, whichever the vehicle has not */
static bool is_of_other_device(const struct swh_case *vehicle, int param)
{
    const bool orifice = vehicle->choices.vehicle_expansion == SWH_EXPANSION_ORIFICE;
    const bool of_valve = param == SWH_P_valve_area || param == SWH_P_valve_spring;
    return orifice ? of_valve : param == SWH_P_orifice_coefficient;
}

int swh_fit_usual(struct swh_fit_request *q, struct swh_case *vehicle)
{
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++) {
        const int param = usual[i].param;
        bool read = false;
        for (int k = 0; k < q->sheets; k++)
            read |= q->sheet[k].has[usual[i].channel];
        if (!read || is_of_other_device(vehicle, param) || q->params == SWH_LSQ_MAX)
            continue;
        q->param[q->params++] = param;
        if (!(swh_param_get(&vehicle->spread, param) > 0))
            swh_param_set(&vehicle->spread, param, usual[i].share * swh_param_get(&vehicle->params, param));
    }
    return q->params;
}

/* ---- the model along a log ---- */

static enum swh_status trace_case(const struct swh_case *c, const struct swh_fit_request *q, int log,
                                  const struct swh_log_memory *drive, double *trace, struct swh_error *err)
{
    struct swh_residuals *r = malloc(sizeof *r);
    if (!r)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    const struct swh_readings read = readings_of(q, log);
    const enum swh_status status = read.sheet
                                       ? swh_spot_residuals(c, read.sheet, read.doors_given, r, trace, err)
                                       : swh_residuals_trace(c, drive, read.log, trace, r, err);
    free(r);
    return status;
}

enum swh_status swh_fit_trace(const struct swh_fit_request *q, const struct swh_params *params, int log,
                              double *trace, struct swh_error *err)
{
    struct swh_case vehicle = *q->vehicle, driven = {0};
    struct swh_log_memory drive = {0};
    struct swh_schedule_facts facts;
    const struct swh_readings read = readings_of(q, log);
    vehicle.params = *params;
    vehicle.params.run_tolerance *= fine_tolerance(q);
    if (q->with == SWH_FIT_CIRCUIT) {
        enum swh_status status = swh_readings_drive(&driven, &vehicle, &read, &facts, err);
        if (status == SWH_OK)
            status = trace_case(&driven, q, log, NULL, trace, err);
        swh_case_free(&driven);
        return status;
    }
    enum swh_status status = swh_log_memory_average(&drive, &q->log[log], average_span, err);
    if (status == SWH_OK)
        status = trace_case(&vehicle, q, log, &drive, trace, err);
    swh_log_memory_free(&drive);
    return status;
}
