#include "solver/infer/rank.h"

#include "solver/simulate/parallel.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- hypotheses ---- */

enum { SAMPLES = 24 };
/* deviance over severity, the severities ascending, and what was left over at each; the first is health */
struct curve {
    double s[SAMPLES], deviance[SAMPLES];
    struct swh_residuals *left[SAMPLES]; /* NULL: nothing was read */
    int n;
};

/* severities of the hard hours behind bench findings */
enum { HOURS = 5 };
static const double hour_severity[HOURS] = {0, 0.25, 0.5, 0.75, 0.95};

struct rank {
    const struct swh_rank_request *q;
    struct swh_readings read;
    struct swh_case driven;
    struct swh_error_covariance weights;
    struct swh_nuisance nuisance[SWH_NUISANCES];
    struct swh_residuals healthy;
    double healthy_deviance;
    struct curve curve[SWH_FAULT_COUNT];
    double hour[SWH_FAULT_COUNT][HOURS]; /* ln likelihood of the bench after a hard hour, over severity */
    double bottom;                       /* least deviance of the first two looks at every cause */
    struct swh_team *team;
    struct swh_ranking *out;
};

/* A loop of the ranking, its rounds shared out; stops short, in effect, once memory has failed. */
static void share_out(struct rank *r, long count, void (*each)(long i, void *user))
{
    if (swh_team_status(r->team) == SWH_OK)
        swh_parallel(count, r->q->threads, each, r);
}

const struct swh_cause *swh_ranking_healthy(const struct swh_ranking *r)
{
    for (int i = 0; i < r->causes; i++)
        if (r->cause[i].fault == SWH_HEALTHY)
            return &r->cause[i];
    return &r->cause[0];
}

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

/* A switch that never opens shows only where a sound one would have opened: seconds in which the clutch stays
 * in although the low side has been under the switch's point, in noise units. */
static double switch_chi2(const struct rank *r, int fault, double severity)
{
    const struct swh_params *p = &r->q->vehicle->params;
    const struct swh_log_memory *log = r->read.log;
    if (r->read.sheet || r->q->vehicle->choices.controls_cycling == SWH_CYCLING_NONE ||
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

static const double SEIZED_TOO_SOON = 100; /* deviance */
static const double HOPELESS =
    12; /* mean square of what is left over, above health's, in standard deviations */

static double try_severities(const struct rank *r, const struct swh_cause *c, double a, double b,
                             struct swh_residuals *res)
{
    struct swh_case one = r->driven; /* the schedule is shared and only read */
    swh_case_fault_always(&one, c->fault, a);
    swh_case_fault_always(&one, c->second, b);
    struct swh_error inside = {0};
    if (swh_team_note(r->team, swh_residuals_try(&one, &r->read, HOPELESS + r->healthy.worst, res, &inside),
                      &inside) != SWH_OK)
        return INFINITY;
    const double deviance =
        swh_error_covariance_deviance(&r->weights, res, &r->healthy, &r->q->vehicle->params) +
        switch_chi2(r, c->fault, a);
    if (isnan(deviance)) {
        swh_team_note_memory(r->team);
        return INFINITY;
    }
    /* the log goes on where this case has seized: it cannot have been so */
    return res->complete ? deviance : fmax(deviance, r->healthy_deviance + SEIZED_TOO_SOON);
}

/* ---- severities of one fault ---- */

/* false: it has no room, or says nothing */
static bool add_sample(struct curve *c, double s, double deviance, struct swh_residuals *left)
{
    int at = c->n;
    if (c->n == SAMPLES || !isfinite(deviance))
        return false;
    while (at > 0 && c->s[at - 1] > s) {
        c->s[at] = c->s[at - 1];
        c->deviance[at] = c->deviance[at - 1];
        c->left[at] = c->left[at - 1];
        at--;
    }
    c->s[at] = s;
    c->deviance[at] = deviance;
    c->left[at] = left;
    c->n++;
    return true;
}

static int lowest(const struct curve *c)
{
    int best = 0;
    for (int i = 1; i < c->n; i++)
        if (c->deviance[i] < c->deviance[best])
            best = i;
    return best;
}

static double least(const struct curve *c)
{
    return c->deviance[lowest(c)];
}

/* where the next look promises most: the vertex of the parabola through the best three, kept off the samples,
 * else the middle of the wider gap beside the best */
static double next_severity(const struct curve *c, double most)
{
    const int b = lowest(c);
    const double lo = b > 0 ? c->s[b - 1] : 0, hi = b + 1 < c->n ? c->s[b + 1] : most;
    double s = c->s[b] - lo > hi - c->s[b] ? 0.5 * (lo + c->s[b]) : 0.5 * (hi + c->s[b]);
    if (b > 0 && b + 1 < c->n) {
        const double x = c->s[b], dl = x - lo, dh = hi - x;
        const double fl = c->deviance[b - 1] - c->deviance[b], fh = c->deviance[b + 1] - c->deviance[b];
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

double swh_severity_most(int fault)
{
    return fault == SWH_FAULT_fan_dead ? 1 : 0.95;
}

/* How likely a severity is once the fault is there. A fan runs or stands, rarely between; a face loses
 * seldom most of its air. Common practice, no source. */
static double severity_prior(int fault, double s)
{
    if (fault == SWH_FAULT_fan_dead && s < 0.8)
        return 0.1;
    if (fault == SWH_FAULT_condenser_blocked && s > 0.8)
        return 0.15;
    return 1;
}

/* deviance above its least value at severity s: straight lines in the signed root, so that a parabola is met
 * exactly */
static double above_least(const struct curve *c, double s)
{
    const int b = lowest(c);
    int i = 0;
    while (i + 2 < c->n && c->s[i + 1] < s)
        i++;
    const double bottom = c->deviance[b];
    const double x = (i < b ? -1 : 1) * sqrt(fmax(c->deviance[i] - bottom, 0));
    const double y = (i + 1 < b ? -1 : 1) * sqrt(fmax(c->deviance[i + 1] - bottom, 0));
    const double z = x + (y - x) * (s - c->s[i]) / (c->s[i + 1] - c->s[i]);
    return z * z;
}

enum { STEPS = 200 }; /* from 0 to 1; beyond the largest severity that is run the curve goes on */
static double quantile(const double *density, double level)
{
    double total = 0, sum = 0;
    int k = 0;
    for (int i = 0; i < STEPS; i++)
        total += density[i];
    while (k < STEPS - 1 && sum + density[k] < level * total)
        sum += density[k++];
    const double part = density[k] > 0 ? (level * total - sum) / density[k] : 0.5;
    return 1.0 / STEPS * (k + part);
}

/* the density of the severity that the model needs, smeared by how far the vehicle's may lie from it */
static void smear(const double *density, double sigma, double *out)
{
    const double ds = 1.0 / STEPS;
    for (int k = 0; k < STEPS; k++)
        for (int i = 0; i < STEPS; i++) {
            const double z = (k - i) * ds / fmax(sigma, 0.2 * ds);
            out[k] += density[i] * exp(-0.5 * z * z);
        }
}

/* ---- what the bench says of a severity ---- */

static double by_hour(const struct rank *r, int fault, double s)
{
    int i = 0;
    while (i + 2 < HOURS && hour_severity[i + 1] < s)
        i++;
    const double w = fmin((s - hour_severity[i]) / (hour_severity[i + 1] - hour_severity[i]), 1);
    return r->hour[fault][i] + w * (r->hour[fault][i + 1] - r->hour[fault][i]);
}

/* ln of the likelihood of what was found */
static double of_bench(const struct rank *r, int fault, double s)
{
    if (!r->q->bench)
        return 0;
    return by_hour(r, fault, s) + swh_findings_on_vehicle(r->q->bench, r->q->vehicle, fault, s, NULL);
}

/* The severity integrated out: -2 ln of the mean likelihood over severities. Into c: median and 95 % of the
 * posterior, what the prior of such severities makes of it, and what the bench says: to the severities that
 * the readings leave, and to those that nothing is known of. */
static double integrate(const struct rank *r, double over, double sigma, struct swh_cause *c)
{
    const struct curve *curve = &r->curve[c->fault];
    double density[STEPS], smeared[STEPS] = {0}, found[STEPS], prior = 0, sum = 0, weighed = 0, joint = 0,
                           alone = 0;
    const double ds = 1.0 / STEPS;
    for (int k = 0; k < STEPS; k++) {
        const double s = (k + 0.5) * ds, p = severity_prior(c->fault, s);
        const double likely = exp(-0.5 * above_least(curve, s) / over);
        found[k] = exp(of_bench(r, c->fault, s));
        prior += p;
        density[k] = p * likely;
        weighed += density[k];
        joint += density[k] * found[k];
        alone += p * found[k];
        sum += likely;
    }
    smear(density, sigma, smeared); /* what was read; what was found is of the vehicle itself */
    for (int k = 0; k < STEPS; k++)
        smeared[k] *= found[k];
    c->low = quantile(smeared, 0.025);
    c->severity = quantile(smeared, 0.5);
    c->high = quantile(smeared, 0.975);
    c->odds = log(weighed / sum * STEPS / prior);
    c->bench = log(joint / weighed);
    c->bench_alone = log(alone / prior);
    return least(curve) / over - 2 * log(sum / STEPS);
}

/* ---- the first look ---- */

static void try_one(struct rank *r, int fault, double severity)
{
    const struct swh_cause c = {.fault = fault, .second = SWH_HEALTHY};
    struct swh_residuals *left = malloc(sizeof *left);
    if (!left) {
        swh_team_note_memory(r->team);
        return;
    }
    if (!add_sample(&r->curve[fault], severity, try_severities(r, &c, severity, 0, left), left))
        free(left);
}

static void forget(struct rank *r)
{
    for (int f = 0; f < SWH_FAULT_COUNT; f++)
        for (int i = 0; i < r->curve[f].n; i++)
            if (r->curve[f].left[i] != &r->healthy)
                free(r->curve[f].left[i]);
}

static double above_health(const struct rank *r, int fault, double severity)
{
    const struct curve *c = &r->curve[fault];
    for (int i = 0; i < c->n; i++)
        if (c->s[i] == severity)
            return c->deviance[i] - r->healthy_deviance;
    return INFINITY; /* it could not be run */
}

/* The middle first. Where it explains far less than health, only less of the fault can be right, else more
 * may be. */
static const double FAR = 15, NOTHING = 0.5; /* deviance */
static void look_first(long i, void *user)
{
    struct rank *r = user;
    const int fault = (int)i;
    add_sample(&r->curve[fault], 0, r->healthy_deviance, &r->healthy);
    if (severity_prior(fault, 1) > severity_prior(fault, 0.6))
        try_one(r, fault, swh_severity_most(fault));
    try_one(r, fault, 0.6);
    try_one(r, fault, above_health(r, fault, 0.6) > FAR ? 0.2 : 0.9);
}

/* what would be left over halfway between two looks if the fault worked in proportion; false: not known */
static bool halfway(const struct swh_residuals *a, const struct swh_residuals *b, struct swh_residuals *out)
{
    *out = *a;
    for (int i = 0; i < SWH_COMPARED; i++)
        for (int k = 0; k < a->windows; k++)
            out->mean[i][k] = 0.5 * (a->mean[i][k] + b->mean[i][k]);
    return a->complete && b->complete;
}

/* the least deviance that a look between those that were taken might find */
static double promised(const struct rank *r, const struct curve *c)
{
    struct swh_residuals *half = malloc(sizeof *half);
    double best = least(c);
    if (!half)
        swh_team_note_memory(r->team);
    for (int i = 0; half && i + 1 < c->n; i++)
        if (halfway(c->left[i], c->left[i + 1], half))
            best = fmin(
                best, swh_error_covariance_deviance(&r->weights, half, &r->healthy, &r->q->vehicle->params));
    free(half);
    return best;
}

/* How far the shares of a vehicle that is known so well may be believed. */
struct trust {
    double evidence, unlike, severity;
};
static struct trust trust_in_file(const struct swh_params *p)
{
    switch (swh_knowledge_of(p)) {
    case SWH_KNOWN_BY_PAPERS:
        return (struct trust){p->uncertainty_papers_evidence, p->uncertainty_papers_unlike,
                              p->uncertainty_papers_severity};
    case SWH_KNOWN_BY_ROWS:
        return (struct trust){p->uncertainty_rows_evidence, p->uncertainty_rows_unlike,
                              p->uncertainty_rows_severity};
    default:
        return (struct trust){p->uncertainty_evidence_share, p->uncertainty_unlike, p->uncertainty_severity};
    }
}

/* A few rows that were read by hand tell of a fault no more than a few rows of a table tell of a vehicle. */
static struct trust trust_of(const struct rank *r)
{
    struct trust t = trust_in_file(&r->q->vehicle->params);
    if (r->read.sheet) {
        t.unlike = fmax(t.unlike, r->q->vehicle->params.uncertainty_rows_unlike);
        t.severity = fmax(t.severity, r->q->vehicle->params.uncertainty_rows_severity);
    }
    return t;
}

/* May a cause come near the best? One that leaves this much more has a share of e^-10 of the best's, whatever
 * further looks say of its severity: those are the dearest runs. */
static const double REACH = 20;
static bool in_reach(const struct rank *r, const struct curve *c)
{
    const double scale = fmax(1, r->bottom / r->weights.points) / trust_of(r).evidence;
    return promised(r, c) < r->bottom + REACH * scale;
}

/* Where the greatest does nothing either it is enough; of others those that may be the cause. */
static void look_again(long i, void *user)
{
    struct rank *r = user;
    const int fault = (int)i;
    const double middle = above_health(r, fault, 0.6), most = above_health(r, fault, 0.9);
    if (!in_reach(r, &r->curve[fault]))
        return;
    if (middle > FAR) {
        if (above_health(r, fault, 0.2) < FAR)
            try_one(r, fault, 0.4);
        return;
    }
    if (fabs(middle) < NOTHING && fabs(most) < NOTHING)
        return;
    try_one(r, fault, 0.75);
    try_one(r, fault, 0.4);
    try_one(r, fault, 0.2);
}

static void keep_residuals(const struct rank *r, const struct swh_residuals *res, struct swh_cause *c)
{
    double count[SWH_COMPARED] = {0}, late[SWH_COMPARED] = {0};
    for (int a = 0; a < r->weights.points; a++) {
        const int i = r->weights.channel[a], k = r->weights.window[a];
        const double d = res->mean[i][k], sigma = swh_error_covariance_sigma(&r->weights, a);
        c->against[i] += d * d / (sigma * sigma);
        c->off[i] += d / sigma;
        c->mean[i] += d;
        count[i]++;
        if (k < 2 * res->windows / 3)
            continue;
        c->last[i] += d;
        late[i]++;
    }
    for (int i = 0; i < SWH_COMPARED; i++) {
        c->against[i] = count[i] > 0 ? c->against[i] / count[i] : NAN;
        c->off[i] = count[i] > 0 ? c->off[i] / count[i] : NAN;
        c->mean[i] = count[i] > 0 ? c->mean[i] / count[i] : NAN;
        c->last[i] = late[i] > 0 ? c->last[i] / late[i] : NAN;
    }
}

static bool says_nothing(const struct rank *r, int fault)
{
    const struct curve *c = &r->curve[fault];
    for (int i = 0; i < c->n; i++)
        if (fabs(c->deviance[i] - r->healthy_deviance) >= NOTHING)
            return false;
    return true;
}

/* the severity above 0 that explains most; NULL: none was run */
static const struct swh_residuals *left_at_best(const struct curve *c)
{
    int best = -1;
    for (int i = 0; i < c->n; i++)
        if (c->s[i] > 0 && (best < 0 || c->deviance[i] < c->deviance[best]))
            best = i;
    return best < 0 ? NULL : c->left[best];
}

/* A look that close to the best, and that little better, need not be followed by another: severities are
 * believed to a tenth only. */
static const double CLOSE = 0.03, LITTLE = 0.5;
static void refine(struct rank *r, struct swh_cause *c)
{
    enum { REFINE = 4 };
    struct curve *curve = &r->curve[c->fault];
    bool further = !says_nothing(r, c->fault) && in_reach(r, curve);
    for (int k = 0; k < REFINE && further; k++) {
        const double before = least(curve), at = curve->s[lowest(curve)];
        /* no worse than health: look whether a little is better */
        const double s =
            k == 0 && lowest(curve) == 0 ? 0.12 : next_severity(curve, swh_severity_most(c->fault));
        try_one(r, c->fault, s);
        c->runs++;
        further = fabs(s - at) > CLOSE || before - least(curve) > LITTLE;
    }
    const struct swh_residuals *left = left_at_best(curve);
    if (left) {
        c->chi2 = swh_error_covariance_chi2(&r->weights, left);
        keep_residuals(r, left, c);
    }
}

/* ---- pairs ---- */

/* two severities by turns, starting from what each needs alone, halved */
static void refine_pair(const struct rank *r, struct swh_cause *c, double a, double b)
{
    struct swh_residuals *res = malloc(2 * sizeof *res);
    if (!res) {
        swh_team_note_memory(r->team);
        return;
    }
    double at[2] = {0.8 * a, 0.4 * b}, step[2] = {0.25 * a + 0.02, 0.3 * b + 0.02};
    c->deviance = try_severities(r, c, at[0], at[1], &res[1]);
    c->runs = 1;
    for (int k = 0; k < 6; k++) {
        const int i = k & 1;
        double trial[2] = {at[0], at[1]};
        trial[i] = fmin(fmax(trial[i] + step[i], 0.01), swh_severity_most(i == 0 ? c->fault : c->second));
        const double deviance = try_severities(r, c, trial[0], trial[1], &res[0]);
        c->runs++;
        if (deviance < c->deviance) {
            c->deviance = deviance;
            at[i] = trial[i];
            res[1] = res[0];
        } else
            step[i] *= -0.5;
    }
    c->severity = at[0];
    c->second_severity = at[1];
    const double half = 2 * hypot(step[0], trust_of(r).severity);
    c->low = fmax(at[0] - half, 0);
    c->high = fmin(at[0] + half, 1);
    c->chi2 = swh_error_covariance_chi2(&r->weights, &res[1]);
    keep_residuals(r, &res[1], c);
    free(res);
}

static bool moves_air(int fault)
{
    return fault == SWH_FAULT_condenser_blocked || fault == SWH_FAULT_fan_dead ||
           fault == SWH_FAULT_hot_air_recirculation;
}

bool swh_rank_may_pair(int a, int b)
{
    const bool charge = a <= SWH_FAULT_overcharge && b <= SWH_FAULT_overcharge;
    const bool valve = (a == SWH_FAULT_valve_starving && b == SWH_FAULT_valve_flooding) ||
                       (b == SWH_FAULT_valve_starving && a == SWH_FAULT_valve_flooding);
    return a != b && !charge && !valve && !(moves_air(a) && moves_air(b));
}

/* ---- criterion ---- */

/* A log states the pulley's own speed, unless somebody computed it from the engine's: then that the pulley is
 * a wrong one is a hundredth as likely. */
static double stated_speed(const struct rank *r, int fault)
{
    const bool stated = swh_readings_have(&r->read, SWH_CH_compressor_speed);
    const bool measured = r->q->bench && isfinite(r->q->bench->value[SWH_FINDING_pulley_ratio]);
    return fault == SWH_FAULT_overspeed && stated && !measured ? 0.01 : 1;
}

/* How likely a cause is before the log was seen: a vehicle without a fault against the faults' frequencies of
 * their table; two faults at once are rare. Common practice, no source. */
static double prior(const struct rank *r, const struct swh_cause *c)
{
    if (c->fault == SWH_HEALTHY)
        return 4;
    const double one = stated_speed(r, c->fault) * swh_fault_table[c->fault].often;
    return c->second == SWH_HEALTHY
               ? one
               : 0.01 * one * stated_speed(r, c->second) * swh_fault_table[c->second].often;
}

/* readings that may err independently of each other */
static double independent(const struct rank *r)
{
    const struct swh_params *p = &r->q->vehicle->params;
    bool has[SWH_COMPARED] = {false};
    int channels = 0;
    for (int a = 0; a < r->weights.points; a++) {
        channels += !has[r->weights.channel[a]];
        has[r->weights.channel[a]] = true;
    }
    const double span = r->healthy.windows * r->healthy.length;
    return channels * (1 + (1 - p->uncertainty_persistent) * span / p->uncertainty_correlation_time);
}

static int by_share(const void *a, const void *b)
{
    const double x = ((const struct swh_cause *)a)->share, y = ((const struct swh_cause *)b)->share;
    return (x < y) - (x > y);
}

static double evidence_of(const struct rank *r, double over, struct swh_cause *c)
{
    if (c->fault == SWH_HEALTHY)
        return r->healthy_deviance / over;
    if (c->second != SWH_HEALTHY)
        return c->deviance / over + 2 * log(independent(r));
    return integrate(r, over, trust_of(r).severity, c);
}

/* of health and the single causes. Two at once are judged by what one alone cannot explain: their own,
 * smaller rest would make a model's error look like a second fault (as an F test does). */
static double least_deviance(const struct rank *r)
{
    double bottom = r->healthy_deviance;
    for (int f = 0; f < SWH_FAULT_COUNT; f++)
        bottom = fmin(bottom, least(&r->curve[f]));
    return bottom;
}

static struct swh_cause *single(struct swh_ranking *out, int fault)
{
    for (int i = 0; i < out->causes; i++)
        if (out->cause[i].fault == fault && out->cause[i].second == SWH_HEALTHY)
            return &out->cause[i];
    return NULL;
}

/* Causes that do the same to a log: what it says for one of them counts for all, and at most two to one
 * between them. */
static void share_evidence(struct swh_ranking *out, const int *fault, int faults)
{
    double before = 0, after = 0, best = INFINITY;
    for (int i = 0; i < faults; i++)
        best = fmin(best, single(out, fault[i])->criterion);
    for (int i = 0; i < faults; i++) {
        struct swh_cause *c = single(out, fault[i]);
        before += exp(-0.5 * (c->criterion - best));
        c->criterion = fmin(c->criterion, best + 2 * log(2));
        c->alike = 1 + fault[0];
        after += exp(-0.5 * (c->criterion - best));
    }
    for (int i = 0; i < faults; i++)
        single(out, fault[i])->criterion += 2 * log(after / before);
}

/* A narrow place in the liquid line and a valve that does not open throttle the same flow; as long as the
 * clamp sits before both, only the laws of the two flows tell them apart, and those no model knows. At
 * standstill it is one whether the condenser's air is blocked or not moved; that it is drawn in again shows
 * only in the temperature before the face. */
static void share_alike(const struct rank *r, struct swh_ranking *out)
{
    static const int throttles[] = {SWH_FAULT_liquid_line_restricted, SWH_FAULT_valve_starving};
    static const int air[] = {SWH_FAULT_condenser_blocked, SWH_FAULT_fan_dead,
                              SWH_FAULT_hot_air_recirculation};
    if (r->q->vehicle->choices.probe_liquid_line_place == SWH_LIQUID_AT_CONDENSER &&
        !swh_readings_have(&r->read, SWH_CH_valve_inlet_temperature))
        share_evidence(out, throttles, 2);
    if (!swh_readings_moved(&r->read))
        share_evidence(out, air, swh_readings_have(&r->read, SWH_CH_condenser_air_in_temperature) ? 2 : 3);
}

/* Shares: what the readings and the bench say together, but for the chance `unlike` that the vehicle is so
 * unlike the model that the readings say nothing (a mixture, as of gross errors: Huber 1964); then only the
 * bench speaks. */
static void take_shares(const struct rank *r, struct swh_ranking *out, double unlike)
{
    double best = INFINITY, likely = 0, priors = 0, sum = 0;
    for (int i = 0; i < out->causes; i++)
        best = fmin(best, out->cause[i].criterion);
    for (int i = 0; i < out->causes; i++) {
        likely += exp(-0.5 * (out->cause[i].criterion - best));
        priors += prior(r, &out->cause[i]);
    }
    for (int i = 0; i < out->causes; i++) {
        struct swh_cause *c = &out->cause[i];
        c->share = (1 - unlike) * exp(-0.5 * (c->criterion - best) + c->bench) / likely +
                   unlike * prior(r, c) / priors * exp(c->bench_alone);
        sum += c->share;
    }
    for (int i = 0; i < out->causes; i++)
        out->cause[i].share /= sum;
}

/* Does even the best cause leave a reading where no vehicle of this kind could have it? The best is the one
 * that leaves least: a share says only which of the list is ahead. */
static void see_whether_any_fits(const struct swh_params *p, struct swh_ranking *out)
{
    double least = INFINITY;
    for (int k = 0; k < out->causes && out->points > 0; k++) {
        const struct swh_cause *c = &out->cause[k];
        double most = 0;
        int channel = -1;
        for (int i = 0; i < SWH_COMPARED && !c->dropped; i++)
            if (fabs(c->mean[i]) > most * swh_possible_error(p, i, out->mean_sigma[i])) { /* not a NaN */
                most = fabs(c->mean[i]) / swh_possible_error(p, i, out->mean_sigma[i]);
                channel = i;
            }
        if (c->dropped || !(c->share > SWH_RANK_OPEN * out->cause[0].share) || most >= least)
            continue;
        least = most;
        out->farthest = channel;
    }
    out->misfit = isfinite(least) ? least : 0;
    out->none_fits = out->misfit > SWH_RANK_MISFIT;
}

/* Where the best cause leaves a reading nearly as far off as no vehicle of this kind could have it, the
 * vehicle, or what is wrong with it, is likely not of the list, and readings say little. */
static double unlike_for(double usual, double misfit)
{
    static const double from = 2.5, most = 0.6;
    const double w = fmin(fmax((misfit - from) / (SWH_RANK_MISFIT - from), 0), 1);
    return fmax(usual, usual + w * (most - usual));
}

static void judge(const struct rank *r, struct swh_ranking *out)
{
    out->knowledge = swh_knowledge_of(&r->q->vehicle->params);
    out->points = r->weights.points;
    out->spread = out->points > 0 ? least_deviance(r) / out->points : NAN;
    const struct trust trust = trust_of(r);
    const double over = fmax(1, out->spread) / trust.evidence;
    for (int i = 0; i < out->causes; i++)
        out->cause[i].criterion = evidence_of(r, over, &out->cause[i]);
    if (out->points > 0)
        share_alike(r, out);
    for (int i = 0; i < out->causes; i++)
        out->cause[i].criterion -= 2 * (out->cause[i].odds + log(prior(r, &out->cause[i])));
    take_shares(r, out, trust.unlike);
    qsort(out->cause, (size_t)out->causes, sizeof out->cause[0], by_share);
    see_whether_any_fits(&r->q->vehicle->params, out);
    take_shares(r, out, unlike_for(trust.unlike, out->misfit));
    qsort(out->cause, (size_t)out->causes, sizeof out->cause[0], by_share);
    out->cannot_tell = out->causes > 1 && out->cause[1].share > out->cause[0].share / 3;
    for (int i = 0; i < out->causes; i++)
        out->cause[i].criterion -= 2 * out->cause[i].bench;
}

/* ---- the hard hour behind bench findings ---- */

static double hard_hour(const struct rank *r, const struct swh_cause *c, double a, double b, double *part)
{
    struct swh_error inside = {0};
    struct swh_case hard = *r->q->vehicle;
    struct swh_summary s;
    swh_case_hard_hour(&hard, 313.15, 2500.0 / 60, 4);
    hard.choices.controls_cycling = SWH_CYCLING_NONE; /* what happened had got past the switches */
    hard.choices.controls_high_pressure = 0;
    swh_case_fault_always(&hard, c->fault, a);
    swh_case_fault_always(&hard, c->second, b);
    if (swh_run(&hard, NULL, &s, &inside) == SWH_ERR_MEMORY)
        swh_team_note(r->team, SWH_ERR_MEMORY, &inside);
    return swh_findings_likelihood(r->q->bench, &s, part);
}

static void one_hour(long i, void *user)
{
    struct rank *r = user;
    const int f = (int)i / HOURS, k = (int)i % HOURS;
    const struct swh_cause c = {.fault = f, .second = SWH_HEALTHY};
    if (k > 0)
        r->hour[f][k] = hard_hour(r, &c, hour_severity[k], 0, NULL);
}

static void look_at_bench(struct rank *r)
{
    const struct swh_cause none = {.fault = SWH_HEALTHY, .second = SWH_HEALTHY};
    if (!r->q->bench)
        return;
    const double healthy = hard_hour(r, &none, 0, 0, NULL);
    for (int f = 0; f < SWH_FAULT_COUNT; f++)
        r->hour[f][0] = healthy;
    share_out(r, SWH_FAULT_COUNT * HOURS, one_hour);
}

/* What each finding says of a cause at its severity; of health and of pairs all that the bench says: two
 * faults explain what either of them does. */
static void hear_findings(long number, void *user)
{
    const struct rank *r = user;
    struct swh_cause *c = &r->out->cause[number];
    const struct swh_findings *b = r->q->bench;
    double other[SWH_FINDING_COUNT] = {0};
    const double hour = hard_hour(r, c, c->severity, c->second_severity, c->said);
    double own = swh_findings_on_vehicle(b, r->q->vehicle, c->fault, c->severity, c->said);
    if (c->second != SWH_HEALTHY) {
        swh_findings_on_vehicle(b, r->q->vehicle, c->second, c->second_severity, other);
        own = 0;
        for (int i = 0; i < SWH_FINDING_COUNT; i++)
            if (other[i] != 0) {
                c->said[i] = fmax(c->said[i], other[i]);
                own += c->said[i];
            }
    }
    if (c->fault == SWH_HEALTHY || c->second != SWH_HEALTHY)
        c->bench = c->bench_alone = hour + own;
    for (int i = 0; i < SWH_FINDING_COUNT; i++)
        if (isnan(b->value[i]))
            c->said[i] = NAN;
}

/* ---- all of it ---- */

static enum swh_status first_run(struct rank *r, struct swh_ranking *out, struct swh_error *err)
{
    const struct swh_rank_request *q = r->q;
    enum swh_status status = swh_readings_drive(&r->driven, q->vehicle, &r->read, &out->drive, err);
    if (status != SWH_OK)
        return status;
    r->driven.params.run_tolerance *= 1.6; /* 0.1 K is fine enough here */
    status = swh_residuals_run(&r->driven, &r->read, &r->healthy, err);
    if (status == SWH_OK && !r->healthy.complete)
        status =
            swh_error_set(err, SWH_ERR_SOLVER, "the healthy vehicle does not get through these readings");
    if (status != SWH_OK)
        return status;
    out->nuisances = swh_nuisances(&r->driven, &r->read, &r->healthy, swh_knowledge_of(&q->vehicle->params),
                                   q->threads, r->nuisance, r->team);
    status = swh_error_covariance_make(&r->weights, &r->healthy, &q->vehicle->params, r->nuisance,
                                       out->nuisances, 0, r->healthy.windows, err);
    for (int i = 0; i < SWH_COMPARED && status == SWH_OK; i++)
        out->mean_sigma[i] = swh_error_covariance_mean_sigma(&r->weights, i);
    if (status == SWH_OK)
        r->healthy_deviance =
            swh_error_covariance_chi2(&r->weights, &r->healthy) + switch_chi2(r, SWH_HEALTHY, 0);
    return status;
}

/* the best of the first look are looked at more closely; the others keep what they have */
enum { CLOSER = 6 };
static void choose(const struct rank *r, struct swh_ranking *out)
{
    for (int f = 0; f < SWH_FAULT_COUNT; f++) {
        const double own = least(&r->curve[f]);
        int better = 0;
        for (int g = 0; g < SWH_FAULT_COUNT; g++) {
            const double other = least(&r->curve[g]);
            better += other < own || (other == own && g < f);
        }
        out->cause[1 + f].dropped = better >= CLOSER;
        out->cause[1 + f].runs = r->curve[f].n - 1; /* that at 0 is the healthy one */
        out->cause[1 + f].chi2 = NAN;
    }
}

/* of the single causes, which follow health */
static void refine_one(long i, void *user)
{
    struct rank *r = user;
    if (!r->out->cause[1 + i].dropped)
        refine(r, &r->out->cause[1 + i]);
}

/* a single cause leaves this much per reading unexplained: two may be at work */
static const double PAIRS_FROM = 1.3;

static void pair_one(long i, void *user)
{
    const struct rank *r = user;
    struct swh_cause *c = &r->out->cause[1 + SWH_FAULT_COUNT + i];
    const struct curve *a = &r->curve[c->fault], *b = &r->curve[c->second];
    refine_pair(r, c, a->s[lowest(a)], b->s[lowest(b)]);
}

static void pair_up(struct rank *r, struct swh_ranking *out)
{
    int top[3] = {-1, -1, -1};
    for (int f = 0; f < SWH_FAULT_COUNT; f++) {
        for (int k = 0; k < 3; k++)
            if (top[k] < 0 || least(&r->curve[f]) < least(&r->curve[top[k]])) {
                for (int m = 2; m > k; m--)
                    top[m] = top[m - 1];
                top[k] = f;
                break;
            }
    }
    static const int pairs[SWH_RANK_PAIRS][2] = {{0, 1}, {0, 2}, {1, 2}};
    const int first = out->causes;
    for (int k = 0; k < SWH_RANK_PAIRS; k++) {
        const int a = top[pairs[k][0]], b = top[pairs[k][1]];
        if (swh_rank_may_pair(a, b))
            out->cause[out->causes++] = (struct swh_cause){.fault = a, .second = b, .chi2 = NAN};
    }
    share_out(r, out->causes - first, pair_one);
}

/* Nothing was read: no severity is likelier than another until the bench speaks. */
static void read_nothing(struct rank *r, struct swh_ranking *out)
{
    for (int f = 0; f < SWH_FAULT_COUNT; f++) {
        struct swh_cause *c = &out->cause[1 + f];
        add_sample(&r->curve[f], 0, 0, NULL);
        add_sample(&r->curve[f], swh_severity_most(f), 0, NULL);
        c->chi2 = NAN;
        for (int i = 0; i < SWH_COMPARED; i++)
            c->against[i] = c->off[i] = c->mean[i] = c->last[i] = NAN;
    }
}

static void rank_causes(struct rank *r, struct swh_ranking *out)
{
    out->cause[0] = (struct swh_cause){
        .fault = SWH_HEALTHY, .second = SWH_HEALTHY, .runs = 1, .chi2 = r->healthy_deviance};
    if (r->weights.points > 0)
        keep_residuals(r, &r->healthy, &out->cause[0]);
    for (int f = 0; f < SWH_FAULT_COUNT; f++)
        out->cause[1 + f] = (struct swh_cause){.fault = f, .second = SWH_HEALTHY};
    out->causes = 1 + SWH_FAULT_COUNT;
    look_at_bench(r);
    if (r->weights.points > 0) {
        share_out(r, SWH_FAULT_COUNT, look_first);
        r->bottom = least_deviance(r);
        share_out(r, SWH_FAULT_COUNT, look_again);
        choose(r, out);
        share_out(r, SWH_FAULT_COUNT, refine_one);
    } else
        read_nothing(r, out);
    if (r->q->pairs && least_deviance(r) > PAIRS_FROM * r->weights.points)
        pair_up(r, out);
    judge(r, out); /* severities, for what is found */
    if (!r->q->bench)
        return;
    share_out(r, out->causes, hear_findings);
    judge(r, out);
}

static enum swh_status rank_all(struct rank *r, struct swh_ranking *out, struct swh_error *err)
{
    const bool read = r->read.log || r->read.sheet;
    if (!read && !r->q->bench)
        return swh_error_set(err, SWH_ERR_INPUT, "nothing was read and nothing was found");
    const enum swh_status status = read ? first_run(r, out, err) : SWH_OK;
    if (status != SWH_OK)
        return status;
    if (swh_team_status(r->team) == SWH_OK)
        rank_causes(r, out);
    for (int i = 0; i < out->causes; i++)
        out->runs += out->cause[i].runs;
    return SWH_OK;
}

enum swh_status swh_rank(const struct swh_rank_request *q, struct swh_ranking *out, struct swh_error *err)
{
    memset(out, 0, sizeof *out);
    struct rank *r = calloc(1, sizeof *r);
    if (!r)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory to rank causes");
    struct swh_team team;
    swh_team_begin(&team);
    r->q = q;
    r->read = (struct swh_readings){q->log, q->sheet, q->doors_given};
    r->out = out;
    r->team = &team;
    enum swh_status status = rank_all(r, out, err);
    const enum swh_status inside = swh_team_end(&team, err);
    status = status == SWH_OK ? inside : status;
    forget(r);
    swh_error_covariance_free(&r->weights);
    swh_case_free(&r->driven);
    free(r);
    return status;
}
