#include "solver/evidence.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const enum swh_channel swh_compared[SWH_COMPARED] = {
    SWH_CH_suction_pressure,      SWH_CH_discharge_pressure, SWH_CH_suction_temperature,
    SWH_CH_discharge_temperature, SWH_CH_shell_temperature,  SWH_CH_liquid_line_temperature,
    SWH_CH_vent_temperature,      SWH_CH_cabin_temperature};
const enum swh_param swh_compared_error[SWH_COMPARED] = {
    SWH_P_uncertainty_suction_pressure,    SWH_P_uncertainty_discharge_pressure,
    SWH_P_uncertainty_suction_temperature, SWH_P_uncertainty_discharge_temperature,
    SWH_P_uncertainty_shell_temperature,   SWH_P_uncertainty_liquid_line_temperature,
    SWH_P_uncertainty_vent_temperature,    SWH_P_uncertainty_cabin_temperature};

/* ---- residuals ---- */

struct collect {
    const struct swh_log_memory *log;
    struct swh_residuals *out;
    size_t next; /* log row to be compared next */
    double t0;   /* log time of the run's start */
    double last_time, last[SWH_COMPARED];
    bool begun;
};

static void compare_row(struct collect *c, const struct swh_log_row *row, double w, const double *now)
{
    struct swh_residuals *r = c->out;
    const double t = row->value[SWH_CH_time] - c->t0 - r->skip;
    const int k = (int)floor(t / r->length);
    if (t < 0 || k < 0 || k >= r->windows)
        return;
    for (int i = 0; i < SWH_COMPARED; i++) {
        const double d = c->last[i] + w * (now[i] - c->last[i]) - row->value[swh_compared[i]];
        if (!isfinite(d))
            continue;
        r->mean[i][k] += d;
        r->count[i][k] += 1;
    }
}

static enum swh_status collect_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    struct collect *c = user;
    double now[SWH_COMPARED];
    const double t = row->value[SWH_CH_time];
    for (int i = 0; i < SWH_COMPARED; i++)
        now[i] = row->value[swh_compared[i]];
    if (!c->begun)
        memcpy(c->last, now, sizeof now);
    const double span = t - c->last_time;
    while (c->next < c->log->rows) {
        const struct swh_log_row *read = &c->log->row[c->next];
        const double when = read->value[SWH_CH_time] - c->t0;
        if (when > t + 1e-9)
            break;
        compare_row(c, read, c->begun && span > 0 ? (when - c->last_time) / span : 1, now);
        c->next++;
    }
    memcpy(c->last, now, sizeof now);
    c->last_time = t;
    c->begun = true;
    return SWH_OK;
}

static void lay_windows(struct swh_residuals *r, double span)
{
    r->skip = fmin(60.0, 0.1 * span); /* soaked refrigerant sorts itself out */
    const double left = span - r->skip;
    r->length = fmax(30.0, left / (SWH_WINDOWS_MAX - 1));
    r->windows = (int)ceil(left / r->length - 1e-9);
    if (r->windows < 1)
        r->windows = 1;
}

static void finish_means(struct swh_residuals *r)
{
    for (int i = 0; i < SWH_COMPARED; i++) {
        r->high[i] = -INFINITY;
        r->low[i] = INFINITY;
        for (int k = 0; k < r->windows; k++) {
            if (r->count[i][k] == 0)
                continue;
            r->mean[i][k] /= r->count[i][k];
            r->high[i] = fmax(r->high[i], r->mean[i][k]);
            r->low[i] = fmin(r->low[i], r->mean[i][k]);
        }
    }
}

/* A run that ends early is an answer (complete = false); anything else that fails is an error. */
static enum swh_status judge_end(enum swh_status status, const struct swh_error *run_err,
                                 struct swh_error *err)
{
    if (status == SWH_OK || status == SWH_ERR_RANGE || status == SWH_ERR_SOLVER)
        return SWH_OK;
    if (err && err->status == SWH_OK)
        *err = *run_err;
    return status;
}

enum swh_status swh_evidence_run(const struct swh_case *driven, const struct swh_log_memory *log,
                                 struct swh_residuals *out, struct swh_error *err)
{
    memset(out, 0, sizeof *out);
    lay_windows(out, swh_log_memory_span(log));
    struct collect c = {.log = log, .out = out, .t0 = log->row[0].value[SWH_CH_time]};
    const struct swh_sinks sinks = {.row = collect_row, .user = &c};
    struct swh_error run_err;
    swh_error_clear(&run_err);
    const enum swh_status status = swh_run(driven, &sinks, &out->summary, &run_err);
    out->complete = status == SWH_OK && out->summary.end_time >= driven->params.run_duration - 1;
    finish_means(out);
    return judge_end(status, &run_err, err);
}

static enum swh_status collect_replayed(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    struct collect *c = user;
    struct swh_residuals *r = c->out;
    const double t = row->value[SWH_CH_time] - c->t0 - r->skip;
    const int k = (int)floor(t / r->length);
    if (t < 0 || k >= r->windows)
        return SWH_OK;
    for (int i = 0; i < SWH_COMPARED; i++) {
        const enum swh_channel ch = swh_compared[i];
        const double d = row->value[ch] - row->measured[ch];
        if ((ch != SWH_CH_discharge_temperature && ch != SWH_CH_shell_temperature) || !isfinite(d))
            continue;
        r->mean[i][k] += d;
        r->count[i][k] += 1;
    }
    return SWH_OK;
}

enum swh_status swh_evidence_replay(const struct swh_case *vehicle, const struct swh_log_memory *log,
                                    struct swh_residuals *out, struct swh_error *err)
{
    memset(out, 0, sizeof *out);
    lay_windows(out, swh_log_memory_span(log));
    struct collect c = {.log = log, .out = out, .t0 = log->row[0].value[SWH_CH_time]};
    const struct swh_sinks sinks = {.row = collect_replayed, .user = &c};
    struct swh_log_cursor cursor;
    const struct swh_log_source source = swh_log_cursor_source(&cursor, log);
    struct swh_error run_err;
    swh_error_clear(&run_err);
    const enum swh_status status = swh_replay(vehicle, &source, false, &sinks, &out->summary, &run_err);
    out->complete = status == SWH_OK && out->summary.outcome != SWH_SHOE_SEIZED &&
                    out->summary.outcome != SWH_BORE_SEIZED;
    finish_means(out);
    return judge_end(status, &run_err, err);
}

/* ---- weights ---- */

static int lay_points(struct swh_weights *w, const struct swh_residuals *r, int first, int last)
{
    w->points = 0;
    for (int i = 0; i < SWH_COMPARED; i++)
        for (int k = first; k < last && k < r->windows; k++) {
            if (r->count[i][k] == 0)
                continue;
            w->channel[w->points] = (short)i;
            w->window[w->points++] = (short)k;
        }
    return w->points;
}

static double point_covariance(const struct swh_weights *w, const struct swh_residuals *r,
                               const struct swh_params *p, const struct swh_nuisance *nuisance, int nuisances,
                               int a, int b)
{
    const int i = w->channel[a], j = w->channel[b], k = w->window[a], l = w->window[b];
    double sum = 0;
    for (int q = 0; q < nuisances; q++)
        sum += nuisance[q].change[i][k] * nuisance[q].change[j][l];
    if (i != j)
        return sum;
    const struct swh_channel_info *ch = &swh_channel_table[swh_compared[i]];
    const double slow = swh_param_get(p, (int)swh_compared_error[i]);
    const double apart = abs(k - l) * r->length;
    sum += ch->offset_sigma * ch->offset_sigma + slow * slow * exp(-apart / p->uncertainty_correlation_time);
    if (a == b)
        sum += ch->sigma * ch->sigma / r->count[i][k] + 1e-4 * sum;
    return sum;
}

/* lower Cholesky factor in place, row-major; false if the matrix is not positive definite */
static bool factor(int n, double *a)
{
    for (int i = 0; i < n; i++) {
        double *row = a + (size_t)i * (size_t)n;
        for (int j = 0; j <= i; j++) {
            const double *other = a + (size_t)j * (size_t)n;
            double sum = row[j];
            for (int k = 0; k < j; k++)
                sum -= row[k] * other[k];
            if (i == j && !(sum > 0))
                return false;
            row[j] = i == j ? sqrt(sum) : sum / other[j];
        }
    }
    return true;
}

enum swh_status swh_weights_make(struct swh_weights *w, const struct swh_residuals *r,
                                 const struct swh_params *p, const struct swh_nuisance *nuisance,
                                 int nuisances, int first, int last, struct swh_error *err)
{
    memset(w, 0, sizeof *w);
    if (lay_points(w, r, first, last) < 2)
        return swh_error_set(err, SWH_ERR_INPUT,
                             "the log has no readings that the closed circuit could be compared with");
    const size_t n = (size_t)w->points;
    w->covariance = malloc(n * n * sizeof *w->covariance);
    if (!w->covariance)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory to weigh a log");
    for (int a = 0; a < w->points; a++)
        for (int b = 0; b <= a; b++)
            w->covariance[(size_t)a * n + (size_t)b] = point_covariance(w, r, p, nuisance, nuisances, a, b);
    if (factor(w->points, w->covariance))
        return SWH_OK;
    swh_weights_free(w);
    return swh_error_set(err, SWH_ERR_SOLVER,
                         "the errors of the readings cannot be weighed against each other");
}

void swh_weights_free(struct swh_weights *w)
{
    free(w->covariance);
    w->covariance = NULL;
}

double swh_weights_sigma(const struct swh_weights *w, int point)
{
    const double *row = w->covariance + (size_t)point * (size_t)w->points;
    double sum = 0;
    for (int k = 0; k <= point; k++)
        sum += row[k] * row[k];
    return sqrt(sum);
}

void swh_weights_apply(const struct swh_weights *w, const struct swh_residuals *r, double *white)
{
    for (int a = 0; a < w->points; a++) {
        const double *row = w->covariance + (size_t)a * (size_t)w->points;
        const int i = w->channel[a], k = w->window[a];
        double sum = r->count[i][k] > 0 ? r->mean[i][k] : 10 * swh_weights_sigma(w, a);
        for (int b = 0; b < a; b++)
            sum -= row[b] * white[b];
        white[a] = sum / row[a];
    }
}

double swh_weights_chi2(const struct swh_weights *w, const struct swh_residuals *r)
{
    double white[SWH_POINTS_MAX], sum = 0;
    swh_weights_apply(w, r, white);
    for (int a = 0; a < w->points; a++)
        sum += white[a] * white[a];
    return sum;
}

/* ---- what may be wrong without a fault ---- */

static void shift_column(struct swh_case *c, enum swh_input input, double by)
{
    struct swh_schedule *s = &c->schedule;
    *swh_input_at(&c->conditions, (int)input) += by;
    if (!s->given[input])
        return;
    for (size_t i = 0; i < s->rows; i++)
        s->column[input][i] += by;
}

/* moves the case by about one standard deviation; false if this nuisance does not apply */
static bool disturb(struct swh_case *c, int which, double *size)
{
    const struct swh_params *p = &c->params;
    switch (which) {
    case 0:
        *size = p->uncertainty_ambient;
        shift_column(c, SWH_IN_ambient_temperature, *size);
        return *size > 0;
    case 1:
        *size = c->schedule.given[SWH_IN_ambient_humidity] ? 0 : p->uncertainty_humidity;
        shift_column(c, SWH_IN_ambient_humidity, c->conditions.ambient_humidity > 0.6 ? -*size : *size);
        return *size > 0;
    default:
        *size = c->schedule.given[SWH_IN_underhood_temperature] ? 0 : p->uncertainty_bay_rise;
        c->params.bay_rise_at_rest += *size;
        return *size > 0;
    }
}

static bool nuisance_of(const struct swh_case *driven, const struct swh_log_memory *log,
                        const struct swh_residuals *at, int which, struct swh_nuisance *out)
{
    struct swh_case c;
    double size = 0;
    if (swh_case_copy(&c, driven, NULL) != SWH_OK)
        return false;
    struct swh_residuals *r = malloc(sizeof *r);
    bool good = r && disturb(&c, which, &size) && swh_evidence_run(&c, log, r, NULL) == SWH_OK && r->complete;
    for (int i = 0; i < SWH_COMPARED && good; i++)
        for (int k = 0; k < r->windows; k++)
            out->change[i][k] = r->mean[i][k] - at->mean[i][k];
    free(r);
    swh_case_free(&c);
    return good;
}

int swh_nuisances(const struct swh_case *driven, const struct swh_log_memory *log,
                  const struct swh_residuals *at, struct swh_nuisance *out, int room, int threads)
{
    enum { KINDS = 3 };
    bool good[KINDS] = {false};
    if (room < KINDS || !at->complete)
        return 0;
#pragma omp parallel for schedule(dynamic) num_threads(threads > 1 ? threads : 1)
    for (int i = 0; i < KINDS; i++)
        good[i] = nuisance_of(driven, log, at, i, &out[i]);
    int found = 0;
    for (int i = 0; i < KINDS; i++)
        if (good[i])
            out[found++] = out[i];
    return found;
}
