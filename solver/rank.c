#include "solver/rank.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- bench ---- */

const struct swh_finding_info swh_finding_table[SWH_FINDING_COUNT] = {
#define FINDING(id, kind, channel, extreme, threshold, width, help, place)                                   \
    {#id, SWH_FINDING_##kind, SWH_CH_##channel, SWH_FINDING_##extreme, threshold, width, help, place},
#include "model/findings.def"
#undef FINDING
};

int swh_finding_find(const char *id)
{
    for (int i = 0; i < SWH_FINDING_COUNT; i++)
        if (strcmp(id, swh_finding_table[i].id) == 0)
            return i;
    return -1;
}

static bool found(const struct swh_bench *b, enum swh_finding f)
{
    return b->value[f] >= 0.5;
}

enum swh_status swh_bench_check(const struct swh_bench *b, const struct swh_case *vehicle,
                                struct swh_error *err)
{
    static const struct {
        enum swh_finding without, with;
    } pairs[] = {{SWH_FINDING_coating_lost, SWH_FINDING_shoe_seized}};
    for (unsigned i = 0; i < sizeof pairs / sizeof pairs[0]; i++)
        if (b->value[pairs[i].without] < 0.5 && found(b, pairs[i].with))
            return swh_error_set(err, SWH_ERR_INPUT, "findings contradict each other: %s = yes, but %s = no",
                                 swh_finding_table[pairs[i].with].id, swh_finding_table[pairs[i].without].id);
    const double most = 2 * vehicle->params.oil_total;
    if (b->value[SWH_FINDING_oil_amount] < 0 || b->value[SWH_FINDING_oil_amount] > most) {
        swh_error_set(err, SWH_ERR_INPUT, "oil_amount is %.0f g", 1e3 * b->value[SWH_FINDING_oil_amount]);
        swh_error_expected(err, "0 to %.0f g, twice what the system holds", 1e3 * most);
        return SWH_ERR_INPUT;
    }
    return SWH_OK;
}

double swh_bench_likelihood(const struct swh_bench *b, const struct swh_summary *hard)
{
    double sum = 0;
    for (int i = 0; i < SWH_FINDING_COUNT; i++) {
        const struct swh_finding_info *f = &swh_finding_table[i];
        const double x = f->extreme == SWH_FINDING_PEAK     ? hard->peak[f->channel].value
                         : f->extreme == SWH_FINDING_LOWEST ? hard->lowest[f->channel].value
                                                            : hard->final[f->channel];
        if (isnan(b->value[i]) || !isfinite(x))
            continue;
        if (f->kind == SWH_FINDING_AMOUNT) {
            const double z = (b->value[i] - x) / f->width;
            sum += log(0.02 + 0.98 * exp(-0.5 * z * z));
            continue;
        }
        const double p = 1 / (1 + exp(-(x - f->threshold) / f->width));
        const double likely = found(b, (enum swh_finding)i) ? p : 1 - p;
        sum += log(0.02 + 0.96 * likely);
    }
    return sum;
}

/* ---- hypotheses ---- */

struct rank {
    const struct swh_rank_request *q;
    struct swh_case driven;
    struct swh_log_memory part; /* the beginning of the log, for the coarse look; rows are the log's */
    struct swh_weights weights, part_weights;
    struct swh_nuisance nuisance[4];
    int nuisances;
};

const char *swh_cause_name(const struct swh_cause *c, char *out, size_t size)
{
    if (c->fault == SWH_HEALTHY)
        snprintf(out, size, "healthy");
    else if (c->second == SWH_HEALTHY)
        snprintf(out, size, "%s", swh_fault_table[c->fault].id);
    else
        snprintf(out, size, "%s+%s", swh_fault_table[c->fault].id, swh_fault_table[c->second].id);
    return out;
}

static void set_fault(struct swh_case *c, int fault, double severity)
{
    if (fault == SWH_HEALTHY || severity <= 0)
        return;
    c->fault[fault] = (struct swh_fault_setting){
        .present = true, .severity = severity, .start = -INFINITY, .end = INFINITY};
}

/* A switch that never opens shows only where a sound one would have opened: seconds in which the clutch stays
 * in although the low side has been under the switch's point, in noise units. */
static double switch_chi2(const struct rank *r, const struct swh_log_memory *log, int fault, double severity)
{
    const struct swh_params *p = &r->q->vehicle->params;
    if (r->q->vehicle->choices.controls_cycling == SWH_CYCLING_NONE ||
        r->q->vehicle->choices.controls_cycling == SWH_CYCLING_FROST || !log->has[SWH_CH_clutch] ||
        !log->has[SWH_CH_suction_pressure])
        return 0;
    const double open = p->controls_low_open * (fault == SWH_FAULT_never_cycling ? 1 - severity : 1);
    const double margin = open - 3 * swh_channel_table[SWH_CH_suction_pressure].offset_sigma - 0.1e5;
    double below = 0;
    for (size_t i = 1; i < log->rows; i++) {
        const double *v = log->row[i].value;
        const double dt = v[SWH_CH_time] - log->row[i - 1].value[SWH_CH_time];
        if (v[SWH_CH_clutch] >= 0.5 && v[SWH_CH_suction_pressure] < margin)
            below += fmin(dt, 10);
    }
    return below > 60 ? fmin(30.0, below / 20) : 0;
}

static double try_severities(const struct rank *r, const struct swh_cause *c, double a, double b, bool coarse,
                             struct swh_residuals *res)
{
    const struct swh_log_memory *log = coarse ? &r->part : r->q->log;
    struct swh_case one = r->driven; /* the schedule is shared and only read */
    if (coarse)
        one.params.run_duration = swh_log_memory_span(log);
    set_fault(&one, c->fault, a);
    set_fault(&one, c->second, b);
    if (swh_evidence_run(&one, log, res, NULL) != SWH_OK)
        return INFINITY;
    const double chi2 = swh_weights_chi2(coarse ? &r->part_weights : &r->weights, res);
    return chi2 + switch_chi2(r, log, c->fault, a) + (res->complete ? 0 : 50);
}

/* ---- the best severity of one fault ---- */

enum { SAMPLES = 24 };
struct curve {
    double s[SAMPLES], chi2[SAMPLES];
    int n;
};

static void add_sample(struct curve *c, double s, double chi2)
{
    int at = c->n;
    if (c->n == SAMPLES)
        return;
    while (at > 0 && c->s[at - 1] > s) {
        c->s[at] = c->s[at - 1];
        c->chi2[at] = c->chi2[at - 1];
        at--;
    }
    c->s[at] = s;
    c->chi2[at] = chi2;
    c->n++;
}

static int lowest(const struct curve *c)
{
    int best = 0;
    for (int i = 1; i < c->n; i++)
        if (c->chi2[i] < c->chi2[best])
            best = i;
    return best;
}

/* where the next look promises most: the vertex of the parabola through the best three, kept off the samples,
 * else the middle of the wider gap beside the best */
static double next_severity(const struct curve *c)
{
    const int b = lowest(c);
    const double lo = b > 0 ? c->s[b - 1] : 0, hi = b + 1 < c->n ? c->s[b + 1] : SWH_SEVERITY_MOST;
    double s = c->s[b] - lo > hi - c->s[b] ? 0.5 * (lo + c->s[b]) : 0.5 * (hi + c->s[b]);
    if (b > 0 && b + 1 < c->n) {
        const double x = c->s[b], dl = x - lo, dh = hi - x;
        const double fl = c->chi2[b - 1] - c->chi2[b], fh = c->chi2[b + 1] - c->chi2[b];
        const double down = dl * fh + dh * fl;
        if (down > 0) {
            const double v = x + 0.5 * (fl * dh * dh - fh * dl * dl) / down;
            const double gap = 0.08 * (hi - lo);
            if (v > lo + gap && v < hi - gap && fabs(v - x) > gap)
                s = v;
        }
    }
    return s;
}

/* severity at which chi2 is `rise` above its least value, towards side -1 or +1, by straight lines in the
 * root */
static double crossing(const struct curve *c, int side, double rise)
{
    const int b = lowest(c);
    for (int i = b; i + side >= 0 && i + side < c->n; i += side) {
        const double x = sqrt(fmax(c->chi2[i] - c->chi2[b], 0)),
                     y = sqrt(fmax(c->chi2[i + side] - c->chi2[b], 0));
        if (y < sqrt(rise) || y <= x)
            continue;
        return c->s[i] + (c->s[i + side] - c->s[i]) * (sqrt(rise) - x) / (y - x);
    }
    return side < 0 ? 0 : SWH_SEVERITY_MOST;
}

static const double coarse_grid[] = {0.2, 0.5, 0.8};
enum { COARSE = (int)(sizeof coarse_grid / sizeof coarse_grid[0]) };

struct looks {
    double chi2[SWH_FAULT_COUNT][COARSE];
    double healthy;
};

static void look_coarsely(const struct rank *r, struct looks *out)
{
    const int jobs = SWH_FAULT_COUNT * COARSE + 1;
#pragma omp parallel for schedule(dynamic) num_threads(r->q->threads > 1 ? r->q->threads : 1)
    for (int job = 0; job < jobs; job++) {
        struct swh_residuals *res = malloc(sizeof *res);
        const int fault = job / COARSE < SWH_FAULT_COUNT ? job / COARSE : SWH_HEALTHY;
        const struct swh_cause c = {.fault = fault, .second = SWH_HEALTHY};
        const double chi2 =
            !res ? INFINITY : try_severities(r, &c, fault < 0 ? 0 : coarse_grid[job % COARSE], 0, true, res);
        if (fault == SWH_HEALTHY)
            out->healthy = chi2;
        else
            out->chi2[fault][job % COARSE] = chi2;
        free(res);
    }
}

static void keep_residuals(const struct rank *r, const struct swh_residuals *res, struct swh_cause *c)
{
    double count[SWH_COMPARED] = {0}, late[SWH_COMPARED] = {0};
    for (int a = 0; a < r->weights.points; a++) {
        const int i = r->weights.channel[a], k = r->weights.window[a];
        const double d = res->mean[i][k], sigma = swh_weights_sigma(&r->weights, a);
        c->against[i] += d * d / (sigma * sigma);
        c->mean[i] += d;
        count[i]++;
        if (k < 2 * res->windows / 3)
            continue;
        c->last[i] += d;
        late[i]++;
    }
    for (int i = 0; i < SWH_COMPARED; i++) {
        c->against[i] = count[i] > 0 ? c->against[i] / count[i] : NAN;
        c->mean[i] = count[i] > 0 ? c->mean[i] / count[i] : NAN;
        c->last[i] = late[i] > 0 ? c->last[i] / late[i] : NAN;
    }
}

static void refine(const struct rank *r, const struct looks *looks, struct swh_cause *c)
{
    struct swh_residuals *res = malloc(2 * sizeof *res);
    struct curve curve = {.n = 0};
    if (!res)
        return;
    add_sample(&curve, 0, looks->healthy); /* of the full log by now */
    int first = 0;
    for (int i = 1; i < COARSE; i++)
        if (looks->chi2[c->fault][i] < looks->chi2[c->fault][first])
            first = i;
    double best = INFINITY, s = coarse_grid[first];
    for (int k = 0; k < 6; k++) {
        const double chi2 = try_severities(r, c, s, 0, false, &res[0]);
        add_sample(&curve, s, chi2);
        c->runs++;
        if (chi2 < best) {
            best = chi2;
            res[1] = res[0];
            c->severity = s;
        }
        s = k == 0 && first + 1 < COARSE ? coarse_grid[first + 1] : next_severity(&curve);
    }
    c->chi2 = best;
    const double rise = 3.841 * fmax(1, best / r->weights.points);
    c->low = fmin(crossing(&curve, -1, rise), c->severity);
    c->high = fmax(crossing(&curve, 1, rise), c->severity);
    keep_residuals(r, &res[1], c);
    free(res);
}

/* ---- pairs ---- */

/* two severities by turns, starting from what each needs alone, halved */
static void refine_pair(const struct rank *r, struct swh_cause *c, double a, double b)
{
    struct swh_residuals *res = malloc(2 * sizeof *res);
    if (!res)
        return;
    double at[2] = {0.8 * a, 0.4 * b}, step[2] = {0.25 * a + 0.02, 0.3 * b + 0.02};
    c->chi2 = try_severities(r, c, at[0], at[1], false, &res[1]);
    c->runs = 1;
    for (int k = 0; k < 6; k++) {
        const int i = k & 1;
        double trial[2] = {at[0], at[1]};
        trial[i] = fmin(fmax(trial[i] + step[i], 0.01), SWH_SEVERITY_MOST);
        const double chi2 = try_severities(r, c, trial[0], trial[1], false, &res[0]);
        c->runs++;
        if (chi2 < c->chi2) {
            c->chi2 = chi2;
            at[i] = trial[i];
            res[1] = res[0];
        } else
            step[i] *= -0.5;
    }
    c->severity = at[0];
    c->second_severity = at[1];
    c->low = fmax(at[0] - 2 * fabs(step[0]), 0);
    c->high = fmin(at[0] + 2 * fabs(step[0]), SWH_SEVERITY_MOST);
    keep_residuals(r, &res[1], c);
    free(res);
}

static bool may_pair(int a, int b)
{
    const bool charge = a <= SWH_FAULT_overcharge && b <= SWH_FAULT_overcharge;
    const bool valve = (a == SWH_FAULT_valve_starving && b == SWH_FAULT_valve_flooding) ||
                       (b == SWH_FAULT_valve_starving && a == SWH_FAULT_valve_flooding);
    return !charge && !valve;
}

/* ---- criterion ---- */

/* How likely a cause is before the log was seen, relative to the others. A fan mostly runs or stands, so a
 * partly dead one is rare; air guides go missing less often than faces clog; pairs are rare. Common practice,
 * no source. */
static double prior(const struct swh_cause *c)
{
    double p = c->second != SWH_HEALTHY ? 0.01 : 1;
    if (c->fault == SWH_FAULT_fan_dead && c->severity < 0.7)
        p *= 0.3;
    if (c->fault == SWH_FAULT_hot_air_recirculation)
        p *= 0.5;
    return p;
}

static int by_criterion(const void *a, const void *b)
{
    const double x = ((const struct swh_cause *)a)->criterion, y = ((const struct swh_cause *)b)->criterion;
    return (x > y) - (x < y);
}

static void judge(const struct rank *r, struct swh_ranking *out)
{
    double least = INFINITY;
    for (int i = 0; i < out->causes; i++)
        least = fmin(least, out->cause[i].chi2);
    out->points = r->weights.points;
    out->spread = least / out->points;
    const double over = fmax(1, out->spread);
    double best = INFINITY, sum = 0;
    for (int i = 0; i < out->causes; i++) {
        struct swh_cause *c = &out->cause[i];
        const int k = (c->fault != SWH_HEALTHY) + (c->second != SWH_HEALTHY);
        c->criterion = c->chi2 / over + k * log(out->points) - 2 * c->bench - 2 * log(prior(c));
        best = fmin(best, c->criterion);
    }
    qsort(out->cause, (size_t)out->causes, sizeof out->cause[0], by_criterion);
    for (int i = 0; i < out->causes; i++)
        sum += exp(-0.5 * (out->cause[i].criterion - best));
    for (int i = 0; i < out->causes; i++)
        out->cause[i].share = exp(-0.5 * (out->cause[i].criterion - best)) / sum;
    out->cannot_tell = out->causes > 1 && out->cause[1].share > out->cause[0].share / 3;
}

/* ---- the hard hour behind bench findings ---- */

static void hard_hour(const struct rank *r, struct swh_cause *c)
{
    struct swh_case hard = *r->q->vehicle;
    memset(&hard.schedule, 0, sizeof hard.schedule);
    hard.conditions.ambient_temperature = fmax(hard.conditions.ambient_temperature, 313.15);
    hard.conditions.compressor_speed = fmax(hard.conditions.compressor_speed, 2500.0 / 60);
    hard.conditions.vehicle_speed = fmax(hard.conditions.vehicle_speed, 4);
    hard.conditions.doors_open = 1;
    hard.params.run_duration = 3600;
    hard.params.run_output_interval = 10;
    hard.choices.controls_cycling = SWH_CYCLING_NONE; /* what happened had got past the switches */
    hard.choices.controls_high_pressure = 0;
    set_fault(&hard, c->fault, c->severity);
    set_fault(&hard, c->second, c->second_severity);
    swh_run(&hard, NULL, &c->hard, NULL);
    c->bench = swh_bench_likelihood(r->q->bench, &c->hard);
}

/* ---- all of it ---- */

static enum swh_status first_run(struct rank *r, struct swh_ranking *out, struct swh_residuals *healthy,
                                 struct swh_error *err)
{
    const struct swh_rank_request *q = r->q;
    enum swh_status status = swh_drive(&r->driven, q->vehicle, q->log, q->doors_given, &out->drive, err);
    if (status != SWH_OK)
        return status;
    r->part = *q->log;
    const double t0 = q->log->row[0].value[SWH_CH_time];
    const double enough = fmax(420, 0.25 * swh_log_memory_span(q->log));
    while (r->part.rows > 2 && r->part.row[r->part.rows - 1].value[SWH_CH_time] > t0 + enough)
        r->part.rows--;
    status = swh_evidence_run(&r->driven, q->log, healthy, err);
    if (status == SWH_OK && !healthy->complete)
        status = swh_error_set(err, SWH_ERR_SOLVER,
                               "the healthy vehicle does not get through this log (it ends at %.0f s)",
                               healthy->summary.end_time);
    if (status == SWH_OK)
        r->nuisances = swh_nuisances(&r->driven, q->log, healthy, r->nuisance, 4, q->threads);
    out->nuisances = r->nuisances;
    return status;
}

static enum swh_status weigh(struct rank *r, const struct swh_residuals *healthy, struct swh_error *err)
{
    const struct swh_params *p = &r->q->vehicle->params;
    enum swh_status status =
        swh_weights_make(&r->weights, healthy, p, r->nuisance, r->nuisances, 0, healthy->windows, err);
    struct swh_residuals *part = malloc(sizeof *part);
    if (!part)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory to rank causes");
    struct swh_case one = r->driven;
    one.params.run_duration = swh_log_memory_span(&r->part);
    if (status == SWH_OK)
        status = swh_evidence_run(&one, &r->part, part, err);
    if (status == SWH_OK) /* without nuisances: their windows are the full log's */
        status = swh_weights_make(&r->part_weights, part, p, NULL, 0, 0, part->windows, err);
    free(part);
    return status;
}

/* keeps the seven best faults of the coarse look */
static void drop_hopeless(const struct looks *looks, struct swh_ranking *out)
{
    double least[SWH_FAULT_COUNT];
    for (int f = 0; f < SWH_FAULT_COUNT; f++) {
        least[f] = INFINITY;
        for (int k = 0; k < COARSE; k++)
            least[f] = fmin(least[f], looks->chi2[f][k]);
    }
    for (int f = 0; f < SWH_FAULT_COUNT; f++) {
        int better = 0;
        for (int g = 0; g < SWH_FAULT_COUNT; g++)
            better += least[g] < least[f];
        struct swh_cause *c = &out->cause[1 + f];
        c->dropped = better >= 7;
        c->chi2 = INFINITY;
    }
}

static void refine_all(const struct rank *r, const struct looks *looks, struct swh_ranking *out)
{
#pragma omp parallel for schedule(dynamic) num_threads(r->q->threads > 1 ? r->q->threads : 1)
    for (int i = 1; i <= SWH_FAULT_COUNT; i++)
        if (!out->cause[i].dropped)
            refine(r, looks, &out->cause[i]);
}

/* What was dropped keeps its coarse chi2, scaled to the full log. */
static void fill_dropped(const struct rank *r, const struct looks *looks, double coarse_healthy,
                         struct swh_ranking *out)
{
    for (int f = 0; f < SWH_FAULT_COUNT; f++) {
        struct swh_cause *c = &out->cause[1 + f];
        if (!c->dropped)
            continue;
        int best = 0;
        for (int k = 1; k < COARSE; k++)
            if (looks->chi2[f][k] < looks->chi2[f][best])
                best = k;
        c->severity = coarse_grid[best];
        c->low = best > 0 ? coarse_grid[best - 1] : 0;
        c->high = best + 1 < COARSE ? coarse_grid[best + 1] : SWH_SEVERITY_MOST;
        c->chi2 = looks->chi2[f][best] * looks->healthy / fmax(coarse_healthy, 1e-9);
        if (looks->chi2[f][best] >=
            coarse_healthy) { /* no severity helps: the least one is as good as none */
            c->severity = c->low = 0;
            c->high = coarse_grid[0];
            c->chi2 = looks->healthy;
        }
        (void)r;
    }
}

static void pair_up(const struct rank *r, struct swh_ranking *out)
{
    int top[3] = {-1, -1, -1};
    for (int i = 1; i <= SWH_FAULT_COUNT; i++)
        for (int k = 0; k < 3; k++)
            if (!out->cause[i].dropped && (top[k] < 0 || out->cause[i].chi2 < out->cause[top[k]].chi2)) {
                for (int m = 2; m > k; m--)
                    top[m] = top[m - 1];
                top[k] = i;
                break;
            }
    static const int pairs[SWH_RANK_PAIRS][2] = {{0, 1}, {0, 2}, {1, 2}};
    const int first = out->causes;
    for (int k = 0; k < SWH_RANK_PAIRS; k++) {
        const int a = top[pairs[k][0]], b = top[pairs[k][1]];
        if (a > 0 && b > 0 && may_pair(a - 1, b - 1))
            out->cause[out->causes++] = (struct swh_cause){.fault = a - 1, .second = b - 1, .chi2 = INFINITY};
    }
#pragma omp parallel for schedule(dynamic) num_threads(r->q->threads > 1 ? r->q->threads : 1)
    for (int i = first; i < out->causes; i++)
        refine_pair(r, &out->cause[i], out->cause[1 + out->cause[i].fault].severity,
                    out->cause[1 + out->cause[i].second].severity);
}

static enum swh_status rank_all(struct rank *r, struct swh_ranking *out, struct swh_error *err)
{
    struct swh_residuals *healthy = malloc(sizeof *healthy);
    if (!healthy)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory to rank causes");
    enum swh_status status = first_run(r, out, healthy, err);
    if (status == SWH_OK)
        status = weigh(r, healthy, err);
    if (status == SWH_OK) {
        out->cause[0] = (struct swh_cause){.fault = SWH_HEALTHY, .second = SWH_HEALTHY, .runs = 1};
        out->cause[0].chi2 =
            swh_weights_chi2(&r->weights, healthy) + switch_chi2(r, r->q->log, SWH_HEALTHY, 0);
        keep_residuals(r, healthy, &out->cause[0]);
    }
    free(healthy);
    if (status != SWH_OK)
        return status;
    for (int f = 0; f < SWH_FAULT_COUNT; f++)
        out->cause[1 + f] = (struct swh_cause){.fault = f, .second = SWH_HEALTHY};
    out->causes = 1 + SWH_FAULT_COUNT;
    struct looks looks;
    look_coarsely(r, &looks);
    const double coarse_healthy = looks.healthy;
    looks.healthy = out->cause[0].chi2;
    drop_hopeless(&looks, out);
    refine_all(r, &looks, out);
    fill_dropped(r, &looks, coarse_healthy, out);
    if (r->q->pairs)
        pair_up(r, out);
    if (r->q->bench)
#pragma omp parallel for schedule(dynamic) num_threads(r->q->threads > 1 ? r->q->threads : 1)
        for (int i = 0; i < out->causes; i++)
            hard_hour(r, &out->cause[i]);
    for (int i = 0; i < out->causes; i++)
        out->runs += out->cause[i].runs;
    judge(r, out);
    return SWH_OK;
}

enum swh_status swh_rank(const struct swh_rank_request *q, struct swh_ranking *out, struct swh_error *err)
{
    memset(out, 0, sizeof *out);
    struct rank *r = calloc(1, sizeof *r);
    if (!r)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory to rank causes");
    r->q = q;
    const enum swh_status status = rank_all(r, out, err);
    swh_weights_free(&r->weights);
    swh_weights_free(&r->part_weights);
    swh_case_free(&r->driven);
    free(r);
    return status;
}
