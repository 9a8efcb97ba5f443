#include "solver/infer/residuals.h"

#include "solver/infer/spot.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const enum swh_channel swh_compared[SWH_COMPARED] = {SWH_CH_suction_pressure,
                                                     SWH_CH_discharge_pressure,
                                                     SWH_CH_suction_temperature,
                                                     SWH_CH_discharge_temperature,
                                                     SWH_CH_shell_temperature,
                                                     SWH_CH_liquid_line_temperature,
                                                     SWH_CH_vent_temperature,
                                                     SWH_CH_cabin_temperature,
                                                     SWH_CH_condenser_air_in_temperature,
                                                     SWH_CH_condenser_air_out_temperature,
                                                     SWH_CH_valve_inlet_temperature};
const enum swh_param swh_compared_error[SWH_COMPARED] = {
    SWH_P_uncertainty_suction_pressure,    SWH_P_uncertainty_discharge_pressure,
    SWH_P_uncertainty_suction_temperature, SWH_P_uncertainty_discharge_temperature,
    SWH_P_uncertainty_shell_temperature,   SWH_P_uncertainty_liquid_line_temperature,
    SWH_P_uncertainty_vent_temperature,    SWH_P_uncertainty_cabin_temperature,
    SWH_P_uncertainty_condenser_air_in,    SWH_P_uncertainty_condenser_air_out,
    SWH_P_uncertainty_valve_inlet};

/* ---- what a vehicle file is worth ---- */

static const enum swh_param mark_of[SWH_COMPARED] = {
    SWH_P_fitted_suction_pressure,      SWH_P_fitted_discharge_pressure, SWH_P_fitted_suction_temperature,
    SWH_P_fitted_discharge_temperature, SWH_P_fitted_shell_temperature,  SWH_P_fitted_liquid_line_temperature,
    SWH_P_fitted_vent_temperature,      SWH_P_fitted_cabin_temperature,  SWH_P_fitted_condenser_air_in,
    SWH_P_fitted_condenser_air_out,     SWH_P_fitted_valve_inlet};

/* How far apart sound vehicles of one kind read [Pa, K] that are alike in what their papers say: of channels
 * that no fit has seen. Common practice, no source. */
static const double unlike[SWH_COMPARED] = {0.25e5, 1.0e5, 9, 10, 10, 9, 3, 5, 3, 5, 9};

enum swh_knowledge swh_knowledge_of(const struct swh_params *p)
{
    return p->fitted_logs > 0   ? SWH_KNOWN_BY_LOGS
           : p->fitted_rows > 0 ? SWH_KNOWN_BY_ROWS
                                : SWH_KNOWN_BY_PAPERS;
}

bool swh_fit_has_seen(const struct swh_params *p, int i)
{
    return swh_knowledge_of(p) != SWH_KNOWN_BY_PAPERS && !isnan(swh_param_get(p, (int)mark_of[i]));
}

void swh_mark_fitted(struct swh_params *p, int logs, int rows, const double left[SWH_COMPARED])
{
    p->fitted_logs = logs;
    p->fitted_rows = rows;
    for (int i = 0; i < SWH_COMPARED; i++)
        swh_param_set(p, (int)mark_of[i], left[i]);
}

double swh_slow_error(const struct swh_params *p, int i)
{
    const int param = (int)swh_compared_error[i];
    const double least = fmax(swh_param_get(p, param), p->uncertainty_unseen * swh_param_table[param].value);
    if (swh_knowledge_of(p) == SWH_KNOWN_BY_PAPERS)
        return least;
    return fmax(least, swh_fit_has_seen(p, i) ? swh_param_get(p, (int)mark_of[i]) : unlike[i]);
}

double swh_level_error(const struct swh_params *p, int i)
{
    return swh_knowledge_of(p) == SWH_KNOWN_BY_PAPERS ? p->uncertainty_papers_lasting * unlike[i] : 0;
}

double swh_possible_error(const struct swh_params *p, int i, double sigma)
{
    const enum swh_knowledge k = swh_knowledge_of(p);
    return hypot(sigma, unlike[i] * (k == SWH_KNOWN_BY_PAPERS ? 1 : k == SWH_KNOWN_BY_ROWS ? 0.5 : 0.3));
}

/* ---- residuals ---- */

struct collect {
    const struct swh_log_memory *log;
    struct swh_residuals *out;
    size_t next; /* log row to be compared next */
    double t0;   /* log time of the run's start */
    bool replay; /* its clock is the log's; most readings drive it or are not computed by it */
    double last_time, last[SWH_COMPARED];
    bool begun;
    double *trace;                         /* NULL, or predictions wanted: log rows x SWH_COMPARED */
    double hopeless, weight[SWH_COMPARED]; /* 1/variance of each channel's difference */
    double square, square_time;            /* weighed, smoothed over five minutes */
};

static void trace_row(struct collect *c, double w, const double *now)
{
    for (int i = 0; c->trace && i < SWH_COMPARED; i++)
        c->trace[c->next * SWH_COMPARED + (size_t)i] = c->last[i] + w * (now[i] - c->last[i]);
}

static void compare_row(struct collect *c, const struct swh_log_row *row, double w, const double *now)
{
    struct swh_residuals *r = c->out;
    const double t = row->value[SWH_CH_time] - c->t0 - r->skip;
    const int k = (int)floor(t / r->length);
    if (t < 0 || k < 0 || k >= r->windows)
        return;
    double square = 0;
    int channels = 0;
    for (int i = 0; i < SWH_COMPARED; i++) {
        const double d = c->last[i] + w * (now[i] - c->last[i]) - row->value[swh_compared[i]];
        if (!isfinite(d))
            continue;
        r->mean[i][k] += d;
        r->count[i][k] += 1;
        square += d * d * c->weight[i];
        channels++;
    }
    if (channels > 0)
        c->square += (square / channels - c->square) * fmin(1, (t - c->square_time) / 300);
    r->worst = fmax(r->worst, c->square);
    c->square_time = t;
}

static bool is_replayed(enum swh_channel ch)
{
    return ch == SWH_CH_discharge_temperature || ch == SWH_CH_shell_temperature;
}

static enum swh_status collect_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    struct collect *c = user;
    double now[SWH_COMPARED];
    const double t = row->value[SWH_CH_time] - (c->replay ? c->t0 : 0);
    for (int i = 0; i < SWH_COMPARED; i++)
        now[i] = !c->replay || is_replayed(swh_compared[i]) ? row->value[swh_compared[i]] : NAN;
    if (!c->begun)
        memcpy(c->last, now, sizeof now);
    const double span = t - c->last_time;
    while (c->next < c->log->rows) {
        const struct swh_log_row *read = &c->log->row[c->next];
        const double when = read->value[SWH_CH_time] - c->t0;
        if (when > t + 1e-9)
            break;
        const double w = c->begun && span > 0 ? (when - c->last_time) / span : 1;
        trace_row(c, w, now);
        compare_row(c, read, w, now);
        c->next++;
    }
    memcpy(c->last, now, sizeof now);
    c->last_time = t;
    c->begun = true;
    return c->square > c->hopeless ? SWH_ERR_SOLVER : SWH_OK; /* any status ends the run */
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
    for (int i = 0; i < SWH_COMPARED; i++)
        for (int k = 0; k < r->windows; k++)
            if (r->count[i][k] > 0)
                r->mean[i][k] /= r->count[i][k];
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

static void weigh_channels(struct collect *c, const struct swh_params *p)
{
    for (int i = 0; i < SWH_COMPARED; i++) {
        const double slow = swh_slow_error(p, i);
        const double offset = swh_channel_table[swh_compared[i]].offset_sigma;
        const double level = swh_level_error(p, i);
        c->weight[i] = 1 / (slow * slow + offset * offset + level * level + 1e-12);
    }
}

static struct collect begin_collect(const struct swh_log_memory *log, struct swh_residuals *out)
{
    memset(out, 0, sizeof *out);
    lay_windows(out, swh_log_memory_span(log));
    return (struct collect){
        .log = log, .out = out, .t0 = log->row[0].value[SWH_CH_time], .hopeless = INFINITY};
}

static enum swh_status collect_run(const struct swh_case *driven, struct collect *c, struct swh_error *err)
{
    struct swh_residuals *out = c->out;
    weigh_channels(c, &driven->params);
    const struct swh_sinks sinks = {.row = collect_row, .user = c};
    struct swh_error run_err;
    swh_error_clear(&run_err);
    const enum swh_status status = swh_run(driven, &sinks, &out->summary, &run_err);
    out->complete = status == SWH_OK && out->summary.end_time >= driven->params.run_duration - 1;
    finish_means(out);
    return judge_end(status, &run_err, err);
}

static enum swh_status collect_replay(const struct swh_case *vehicle, const struct swh_log_memory *drive,
                                      struct collect *c, struct swh_error *err)
{
    struct swh_residuals *out = c->out;
    c->replay = true;
    const struct swh_sinks sinks = {.row = collect_row, .user = c};
    struct swh_log_cursor cursor;
    const struct swh_log_source source = swh_log_cursor_source(&cursor, drive);
    struct swh_error run_err;
    swh_error_clear(&run_err);
    const enum swh_status status = swh_replay(vehicle, &source, false, &sinks, &out->summary, &run_err);
    out->complete = status == SWH_OK && !swh_outcome_is_lost(out->summary.outcome);
    finish_means(out);
    return judge_end(status, &run_err, err);
}

enum swh_status swh_residuals_run(const struct swh_case *driven, const struct swh_readings *read,
                                  struct swh_residuals *out, struct swh_error *err)
{
    return swh_residuals_try(driven, read, INFINITY, out, err);
}

enum swh_status swh_residuals_try(const struct swh_case *driven, const struct swh_readings *read,
                                  double hopeless, struct swh_residuals *out, struct swh_error *err)
{
    if (read->sheet)
        return swh_spot_residuals(driven, read->sheet, read->doors_given, out, NULL, err);
    struct collect c = begin_collect(read->log, out);
    c.hopeless = hopeless;
    return collect_run(driven, &c, err);
}

enum swh_status swh_residuals_replay(const struct swh_case *vehicle, const struct swh_log_memory *drive,
                                     const struct swh_log_memory *log, struct swh_residuals *out,
                                     struct swh_error *err)
{
    struct collect c = begin_collect(log, out);
    return collect_replay(vehicle, drive, &c, err);
}

enum swh_status swh_residuals_trace(const struct swh_case *c, const struct swh_log_memory *drive,
                                    const struct swh_log_memory *log, double *trace,
                                    struct swh_residuals *out, struct swh_error *err)
{
    struct collect collect = begin_collect(log, out);
    collect.trace = trace;
    for (size_t i = 0; i < log->rows * SWH_COMPARED; i++)
        trace[i] = NAN;
    return drive ? collect_replay(c, drive, &collect, err) : collect_run(c, &collect, err);
}

/* ---- weights ---- */

static int lay_points(struct swh_error_covariance *w, const struct swh_residuals *r, int first, int last)
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

static double by_nuisances(const struct swh_error_covariance *w, const struct swh_nuisance *nuisance,
                           int nuisances, int a, int b)
{
    const int i = w->channel[a], j = w->channel[b], k = w->window[a], l = w->window[b];
    double sum = 0;
    for (int q = 0; q < nuisances; q++)
        sum += nuisance[q].change[i][k] * nuisance[q].change[j][l];
    return sum;
}

static double point_covariance(const struct swh_error_covariance *w, const struct swh_residuals *r,
                               const struct swh_params *p, int a, int b)
{
    const int i = w->channel[a], k = w->window[a], l = w->window[b];
    if (i != w->channel[b])
        return 0;
    const struct swh_channel_info *ch = &swh_channel_table[swh_compared[i]];
    const double slow = swh_slow_error(p, i);
    const double apart = abs(k - l) * r->length;
    const double lasting = p->uncertainty_persistent, scatter = fmin(p->uncertainty_scatter, 1 - lasting);
    const double slowly = (1 - lasting - scatter) * exp(-apart / p->uncertainty_correlation_time);
    const double together = lasting + slowly + (a == b ? scatter : 0);
    const double level = swh_level_error(p, i);
    return ch->offset_sigma * ch->offset_sigma + level * level + slow * slow * together +
           (a == b ? ch->sigma * ch->sigma / r->count[i][k] : 0);
}

static double plain_variance(const struct swh_error_covariance *w, const struct swh_residuals *r, int a)
{
    const int i = w->channel[a];
    const struct swh_channel_info *ch = &swh_channel_table[swh_compared[i]];
    const double slow = 0.25 * swh_param_table[swh_compared_error[i]].value;
    return ch->offset_sigma * ch->offset_sigma + slow * slow +
           ch->sigma * ch->sigma / r->count[i][w->window[a]];
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

/* Lays out the points and takes the memory; covariance is left to the caller. */
static enum swh_status begin_weights(struct swh_error_covariance *w, const struct swh_residuals *r, int first,
                                     int last, struct swh_error *err)
{
    memset(w, 0, sizeof *w);
    if (lay_points(w, r, first, last) < 2)
        return swh_error_set(err, SWH_ERR_INPUT,
                             "the log has no readings that a prediction could be compared with");
    const size_t n = (size_t)w->points;
    w->covariance = malloc(n * n * sizeof *w->covariance);
    return w->covariance ? SWH_OK : swh_error_set(err, SWH_ERR_MEMORY, "no memory to weigh a log");
}

static enum swh_status end_weights(struct swh_error_covariance *w, struct swh_error *err)
{
    if (factor(w->points, w->covariance))
        return SWH_OK;
    swh_error_covariance_free(w);
    return swh_error_set(err, SWH_ERR_SOLVER,
                         "the errors of the readings cannot be weighed against each other");
}

enum swh_status swh_error_covariance_make(struct swh_error_covariance *w, const struct swh_residuals *r,
                                          const struct swh_params *p, const struct swh_nuisance *nuisance,
                                          int nuisances, int first, int last, struct swh_error *err)
{
    const enum swh_status status = begin_weights(w, r, first, last, err);
    for (int a = 0; a < w->points && status == SWH_OK; a++)
        for (int b = 0; b <= a; b++) {
            const double c = by_nuisances(w, nuisance, nuisances, a, b) + point_covariance(w, r, p, a, b);
            w->covariance[(size_t)a * (size_t)w->points + (size_t)b] = a == b ? 1.0001 * c : c;
        }
    return status == SWH_OK ? end_weights(w, err) : status;
}

enum swh_status swh_error_covariance_make_plain(struct swh_error_covariance *w, const struct swh_residuals *r,
                                                const struct swh_nuisance *nuisance, int nuisances,
                                                double together, int first, int last, struct swh_error *err)
{
    const enum swh_status status = begin_weights(w, r, first, last, err);
    for (int a = 0; a < w->points && status == SWH_OK; a++)
        for (int b = 0; b <= a; b++)
            w->covariance[(size_t)a * (size_t)w->points + (size_t)b] =
                by_nuisances(w, nuisance, nuisances, a, b) +
                (a == b ? together * plain_variance(w, r, a) : 0);
    return status == SWH_OK ? end_weights(w, err) : status;
}

void swh_error_covariance_free(struct swh_error_covariance *w)
{
    free(w->covariance);
    w->covariance = NULL;
}

double swh_error_covariance_sigma(const struct swh_error_covariance *w, int point)
{
    const double *row = w->covariance + (size_t)point * (size_t)w->points;
    double sum = 0;
    for (int k = 0; k <= point; k++)
        sum += row[k] * row[k];
    return sqrt(sum);
}

/* variance of a sum over points: the squared length of the factor's rows, added up */
double swh_error_covariance_mean_sigma(const struct swh_error_covariance *w, int channel)
{
    double square = 0;
    int count = 0;
    for (int a = 0; a < w->points; a++)
        count += w->channel[a] == channel;
    for (int k = 0; k < w->points; k++) {
        double sum = 0;
        for (int a = k; a < w->points; a++)
            if (w->channel[a] == channel)
                sum += w->covariance[(size_t)a * (size_t)w->points + (size_t)k];
        square += sum * sum;
    }
    return count > 0 ? sqrt(square) / count : NAN;
}

/* forward substitution in place: the covariance's root divided out */
static void whiten(const struct swh_error_covariance *w, double *v)
{
    for (int a = 0; a < w->points; a++) {
        const double *row = w->covariance + (size_t)a * (size_t)w->points;
        double sum = v[a];
        for (int b = 0; b < a; b++)
            sum -= row[b] * v[b];
        v[a] = sum / row[a];
    }
}

static double dot(int n, const double *a, const double *b)
{
    double sum = 0;
    for (int i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

void swh_error_covariance_apply(const struct swh_error_covariance *w, const struct swh_residuals *r,
                                double *white)
{
    for (int a = 0; a < w->points; a++) {
        const int i = w->channel[a], k = w->window[a];
        white[a] = r->count[i][k] > 0 ? r->mean[i][k] : 10 * swh_error_covariance_sigma(w, a);
    }
    whiten(w, white);
}

void swh_error_covariance_solve_root(const struct swh_error_covariance *w, double *u)
{
    const size_t n = (size_t)w->points;
    for (size_t a = n; a-- > 0;) {
        u[a] /= w->covariance[a * n + a];
        for (size_t b = 0; b < a; b++)
            u[b] -= w->covariance[a * n + b] * u[a];
    }
}

void swh_error_covariance_apply_root(const struct swh_error_covariance *w, double *u)
{
    const size_t n = (size_t)w->points;
    for (size_t b = 0; b < n; b++) { /* u[b] is not needed for the rows above b */
        double sum = 0;
        for (size_t a = b; a < n; a++)
            sum += w->covariance[a * n + b] * u[a];
        u[b] = sum;
    }
}

double swh_error_covariance_chi2(const struct swh_error_covariance *w, const struct swh_residuals *r)
{
    double white[SWH_POINTS_MAX];
    swh_error_covariance_apply(w, r, white);
    return dot(w->points, white, white);
}

/* What may be wrong with a fault's changes: each channel as a whole, and each of its stretches. A row per
 * point, a column per doubt: all columns are whitened at once. */
enum { STRETCHES = 8, CHANGES = SWH_COMPARED * (1 + STRETCHES) };
struct changes {
    int columns;
    double row[SWH_POINTS_MAX][CHANGES];
};

/* The change of one channel against health in the windows [from, to), times share, is a column, if there is
 * one. */
static void add_change(const struct swh_error_covariance *w, const struct swh_residuals *r,
                       const struct swh_residuals *healthy, int channel, int from, int to, double share,
                       struct changes *u)
{
    bool any = false;
    for (int a = 0; a < w->points; a++) {
        const int k = w->window[a];
        const bool counts = w->channel[a] == channel && k >= from && k < to && r->count[channel][k] > 0;
        u->row[a][u->columns] = counts ? share * (r->mean[channel][k] - healthy->mean[channel][k]) : 0;
        any |= u->row[a][u->columns] != 0;
    }
    u->columns += any;
}

/* What of a change may be wrong at most: its share, but no more than some of the model's usual errors.
 * Otherwise a fault that turns everything over could explain anything by being computed badly. */
static double wrong_share(const struct swh_residuals *r, const struct swh_residuals *healthy,
                          const struct swh_params *p, int channel)
{
    double square = 0, count = 0;
    for (int k = 0; k < r->windows; k++)
        if (r->count[channel][k] > 0) {
            const double change = r->mean[channel][k] - healthy->mean[channel][k];
            square += change * change;
            count++;
        }
    const double most = p->uncertainty_fault_most * swh_param_table[swh_compared_error[channel]].value;
    const double wrong = p->uncertainty_fault_share * sqrt(square / fmax(count, 1));
    return wrong > most ? most / wrong : 1;
}

/* forward substitution in place, of all columns */
static void whiten_changes(const struct swh_error_covariance *w, struct changes *u)
{
    for (int a = 0; a < w->points; a++) {
        const double *row = w->covariance + (size_t)a * (size_t)w->points;
        for (int b = 0; b < a; b++)
            for (int i = 0; i < u->columns; i++)
                u->row[a][i] -= row[b] * u->row[b][i];
        for (int i = 0; i < u->columns; i++)
            u->row[a][i] /= row[a];
    }
}

static void collect_changes(const struct swh_error_covariance *w, const struct swh_residuals *r,
                            const struct swh_residuals *healthy, const struct swh_params *p,
                            struct changes *u)
{
    const int stretch = (int)fmax(ceil(240 / r->length), ceil((double)r->windows / STRETCHES));
    u->columns = 0;
    for (int i = 0; i < SWH_COMPARED; i++) {
        const double part = wrong_share(r, healthy, p, i);
        add_change(w, r, healthy, i, 0, r->windows, part * p->uncertainty_fault_share, u);
        for (int from = 0; from < r->windows; from += stretch)
            add_change(w, r, healthy, i, from, from + stretch, part * p->uncertainty_fault_stretch, u);
    }
    whiten_changes(w, u);
}

/* I + U'U, rows of the lower triangle, and U'v */
static void multiply_changes(int points, const struct changes *u, const double *v, double *inner, double *b)
{
    const int m = u->columns;
    for (int i = 0; i < m * m; i++)
        inner[i] = i % (m + 1) == 0;
    memset(b, 0, (size_t)m * sizeof *b);
    for (int a = 0; a < points; a++)
        for (int i = 0; i < m; i++) {
            const double x = u->row[a][i];
            for (int j = 0; j <= i; j++)
                inner[i * m + j] += x * u->row[a][j];
            b[i] += x * v[a];
        }
}

double swh_error_covariance_deviance(const struct swh_error_covariance *w, const struct swh_residuals *r,
                                     const struct swh_residuals *healthy, const struct swh_params *p)
{
    double white[SWH_POINTS_MAX], b[CHANGES];
    struct changes *u = malloc(sizeof *u);
    double *inner = malloc(CHANGES * CHANGES * sizeof *inner);
    swh_error_covariance_apply(w, r, white);
    double deviance = u && inner ? dot(w->points, white, white) : NAN;
    if (u && inner) {
        collect_changes(w, r, healthy, p, u);
        multiply_changes(w->points, u, white, inner, b);
        if (u->columns > 0 && factor(u->columns, inner)) {
            const struct swh_error_covariance small = {.points = u->columns, .covariance = inner};
            whiten(&small, b);
            deviance -= dot(u->columns, b, b);
            for (int i = 0; i < u->columns; i++)
                deviance += 2 * log(inner[i * u->columns + i]);
        }
    }
    free(u);
    free(inner);
    return deviance;
}
