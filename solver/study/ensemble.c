#include "solver/study/ensemble.h"

#include "solver/simulate/parallel.h"
#include "solver/study/sample.h"

#include <math.h>
#include <stdlib.h>

enum { REDRAWS = 32 };

const enum swh_channel swh_ensemble_channels[SWH_ENSEMBLE_CHANNELS] = {
    SWH_CH_rotor_temperature,     SWH_CH_contact_temperature, SWH_CH_oil_temperature, SWH_CH_head_temperature,
    SWH_CH_discharge_temperature, SWH_CH_discharge_pressure,  SWH_CH_film_ratio,      SWH_CH_oil_mass};

static bool is_inside(int param, double x)
{
    return x >= swh_param_table[param].lo && x <= swh_param_table[param].hi;
}

static bool is_joint(const struct swh_joint_root *root, int param)
{
    for (int i = 0; i < root->n; i++)
        if (root->param[i] == param)
            return true;
    return false;
}

/* Draws what errs together; false if one of them is outside its limits. */
static bool draw_together(const struct swh_case *base, const struct swh_joint_root *root, uint64_t seed,
                          uint64_t counter, struct swh_params *out)
{
    double z[SWH_JOINT_MAX];
    bool inside = true;
    for (int i = 0; i < root->n; i++) {
        z[i] = swh_random_normal(seed, (uint64_t)root->param[i], counter);
        double x = swh_param_get(&base->params, root->param[i]);
        for (int k = 0; k <= i; k++)
            x += root->root[i][k] * z[k];
        inside = inside && is_inside(root->param[i], x);
        swh_param_set(out, root->param[i],
                      fmin(fmax(x, swh_param_table[root->param[i]].lo), swh_param_table[root->param[i]].hi));
    }
    return inside;
}

void swh_ensemble_draw(const struct swh_case *base, uint64_t seed, long i, struct swh_params *out)
{
    struct swh_joint_root root;
    *out = base->params;
    swh_joint_make_root(&base->joint, &base->spread, &root);
    for (int again = 0; again < REDRAWS; again++)
        if (draw_together(base, &root, seed, (uint64_t)i * REDRAWS + (uint64_t)again, out))
            break;
    for (int k = 0; k < SWH_PARAM_COUNT; k++) {
        const double mean = swh_param_get(&base->params, k), spread = swh_param_get(&base->spread, k);
        for (int again = 0; spread > 0 && !is_joint(&root, k) && again < REDRAWS; again++) {
            const uint64_t counter = (uint64_t)i * REDRAWS + (uint64_t)again;
            const double x = mean + spread * swh_random_normal(seed, (uint64_t)k, counter);
            if (!is_inside(k, x))
                continue;
            swh_param_set(out, k, x);
            break;
        }
    }
}

void swh_wilson_interval(long k, long n, double *low, double *high)
{
    const double z = 1.959963984540054, N = (double)n, p = (double)k / N;
    const double middle = (p + z * z / (2 * N)) / (1 + z * z / N);
    const double half = z / (1 + z * z / N) * sqrt(p * (1 - p) / N + z * z / (4 * N * N));
    *low = fmax(middle - half, 0);
    *high = fmin(middle + half, 1);
}

/* ---- one member ---- */

struct member {
    float value[SWH_ENSEMBLE_CHANNELS][SWH_ENSEMBLE_TIMES]; /* as last seen once it has seized */
    double to_seizure;                                      /* s; NaN if none */
    bool seized, failed;
};

struct recorder {
    struct member *m;
    double interval;
};

static enum swh_status record(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    const struct recorder *r = user;
    const double place = row->value[SWH_CH_time] / r->interval;
    const long k = lround(place);
    if (k < 0 || k >= SWH_ENSEMBLE_TIMES || fabs(place - (double)k) > 1e-6)
        return SWH_OK;
    for (int i = 0; i < SWH_ENSEMBLE_CHANNELS; i++)
        r->m->value[i][k] = (float)row->value[swh_ensemble_channels[i]];
    return SWH_OK;
}

/* A seized member stays where it seized: bands over those still running would jump down whenever the hottest
 * one leaves. */
static void hold_last(struct member *m)
{
    for (int c = 0; c < SWH_ENSEMBLE_CHANNELS; c++)
        for (int k = 1; k < SWH_ENSEMBLE_TIMES; k++)
            if (isnan(m->value[c][k]))
                m->value[c][k] = m->value[c][k - 1];
}

static enum swh_status run_member(const struct swh_ensemble_request *q, long i, struct member *m,
                                  struct swh_error *err)
{
    for (int c = 0; c < SWH_ENSEMBLE_CHANNELS; c++)
        for (int k = 0; k < SWH_ENSEMBLE_TIMES; k++)
            m->value[c][k] = NAN;
    struct swh_case c = *q->base; /* the schedule is shared: it is only read */
    swh_ensemble_draw(q->base, q->seed, i, &c.params);
    c.params.run_output_interval = c.params.run_duration / (SWH_ENSEMBLE_TIMES - 1);
    c.choices.controls_after_seizure = 0;
    struct swh_summary *summary = calloc(1, sizeof *summary);
    if (!summary)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a member of the ensemble");
    struct recorder r = {m, c.params.run_output_interval};
    const struct swh_sinks sinks = {.row = record, .user = &r};
    const enum swh_status status = swh_run(&c, &sinks, summary, err);
    m->failed = status != SWH_OK;
    m->seized = !m->failed && isfinite(summary->time_to_seizure);
    m->to_seizure = summary->time_to_seizure;
    if (m->seized)
        hold_last(m);
    if (q->rows)
        swh_sweep_row_fill(status, summary, &q->rows[i]);
    free(summary);
    return status;
}

/* ---- all members ---- */

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* quantile of n sorted values, linear between neighbours */
static double quantile(const double *sorted, long n, double q)
{
    if (n == 0)
        return NAN;
    const double at = q * (double)(n - 1);
    const long k = (long)at;
    return k + 1 < n ? sorted[k] + (at - (double)k) * (sorted[k + 1] - sorted[k]) : sorted[n - 1];
}

static const double levels[SWH_ENSEMBLE_BANDS] = {0.05, 0.5, 0.95};

static void make_bands(const struct member *all, double *scratch, struct swh_ensemble *out)
{
    for (int c = 0; c < SWH_ENSEMBLE_CHANNELS; c++)
        for (int k = 0; k < SWH_ENSEMBLE_TIMES; k++) {
            long n = 0;
            for (long i = 0; i < out->members; i++)
                if (!all[i].failed && !isnan(all[i].value[c][k]))
                    scratch[n++] = (double)all[i].value[c][k];
            qsort(scratch, (size_t)n, sizeof *scratch, ascending);
            for (int b = 0; b < SWH_ENSEMBLE_BANDS; b++)
                out->band[c][b][k] = quantile(scratch, n, levels[b]);
        }
}

static void make_probability(const struct member *all, double *scratch, struct swh_ensemble *out)
{
    for (long i = 0; i < out->members; i++) {
        out->incomplete += all[i].failed;
        if (all[i].seized)
            scratch[out->seized++] = all[i].to_seizure;
    }
    qsort(scratch, (size_t)out->seized, sizeof *scratch, ascending);
    out->time_low = quantile(scratch, out->seized, levels[0]);
    out->time_median = quantile(scratch, out->seized, levels[1]);
    out->time_high = quantile(scratch, out->seized, levels[2]);
    const long counted = out->members - out->incomplete;
    out->probability = counted > 0 ? (double)out->seized / (double)counted : NAN;
    out->low = out->high = NAN;
    if (counted > 0)
        swh_wilson_interval(out->seized, counted, &out->low, &out->high);
}

struct members {
    const struct swh_ensemble_request *q;
    struct member *all;
    struct swh_team team;
};

static void one_of_all(long i, void *user)
{
    struct members *m = user;
    struct swh_error inside = {0};
    const enum swh_status status = run_member(m->q, i, &m->all[i], &inside);
    if (status == SWH_ERR_INPUT || status == SWH_ERR_MEMORY)
        swh_team_note(&m->team, status, &inside);
    swh_team_enter(&m->team);
    if (m->q->finished)
        m->q->finished(m->q->user);
    swh_team_leave(&m->team);
}

static enum swh_status run_all(const struct swh_ensemble_request *q, struct member *all,
                               struct swh_error *err)
{
    struct members m = {.q = q, .all = all};
    swh_team_begin(&m.team);
    swh_parallel(q->members, q->threads > 0 ? q->threads : swh_processors(), one_of_all, &m);
    return swh_team_end(&m.team, err);
}

static enum swh_status check(const struct swh_ensemble_request *q, struct swh_error *err)
{
    if (q->members < 1 || q->members > 100000)
        return swh_error_set(err, SWH_ERR_INPUT, "an ensemble of %ld members (1 to 100000 are possible)",
                             q->members);
    for (int k = 0; k < SWH_PARAM_COUNT; k++)
        if (swh_param_get(&q->base->spread, k) > 0)
            return SWH_OK;
    swh_error_set(err, SWH_ERR_INPUT, "no parameter has a spread");
    swh_error_expected(err, "for example clearance = 14 um +- 2 um in the vehicle file");
    return SWH_ERR_INPUT;
}

enum swh_status swh_ensemble_run(const struct swh_ensemble_request *q, struct swh_ensemble *out,
                                 struct swh_error *err)
{
    *out = (struct swh_ensemble){.members = q->members};
    enum swh_status status = check(q, err);
    if (status != SWH_OK)
        return status;
    struct member *all = calloc((size_t)q->members, sizeof *all);
    double *scratch = malloc((size_t)q->members * sizeof *scratch);
    if (!all || !scratch)
        status = swh_error_set(err, SWH_ERR_MEMORY, "no memory for %ld members", q->members);
    else
        status = run_all(q, all, err);
    if (status == SWH_OK) {
        for (int k = 0; k < SWH_ENSEMBLE_TIMES; k++)
            out->time[k] = q->base->params.run_duration * k / (SWH_ENSEMBLE_TIMES - 1);
        make_bands(all, scratch, out);
        make_probability(all, scratch, out);
    }
    free(scratch);
    free(all);
    return status;
}
