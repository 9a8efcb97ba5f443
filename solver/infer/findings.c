#include "solver/infer/findings.h"

#include "model/refrigerant/refrigerant.h"

#include <math.h>
#include <string.h>

const struct swh_finding_info swh_finding_table[SWH_FINDING_COUNT] = {
#define FINDING(id, kind, channel, extreme, threshold, width, help, place)                                   \
    {#id, SWH_FINDING_##kind, SWH_CH_##channel, SWH_FINDING_##extreme, threshold, width, help, place},
#include "solver/infer/findings.def"
#undef FINDING
};

int swh_finding_find(const char *id)
{
    for (int i = 0; i < SWH_FINDING_COUNT; i++)
        if (strcmp(id, swh_finding_table[i].id) == 0)
            return i;
    return -1;
}

bool swh_finding_is_sign(enum swh_finding f)
{
    const enum swh_finding_kind kind = swh_finding_table[f].kind;
    return kind == SWH_FINDING_SIGN || kind == SWH_FINDING_LOOK;
}

/* ---- contradictions ---- */

static bool found(const struct swh_findings *b, enum swh_finding f)
{
    return b->value[f] >= 0.5;
}

static enum swh_status check_mass(const struct swh_findings *b, enum swh_finding f, double whole,
                                  struct swh_error *err)
{
    const double x = b->value[f];
    if (isnan(x) || (x >= 0 && x <= 2 * whole))
        return SWH_OK;
    swh_error_set(err, SWH_ERR_INPUT, "%s is %.0f g", swh_finding_table[f].id, 1e3 * x);
    swh_error_expected(err, "0 to %.0f g, twice what the system holds", 2e3 * whole);
    return SWH_ERR_INPUT;
}

static enum swh_status check_rest(const struct swh_findings *b, struct swh_error *err)
{
    if (isnan(b->value[SWH_FINDING_standing_pressure]) == isnan(b->value[SWH_FINDING_standing_ambient]))
        return SWH_OK;
    swh_error_set(
        err, SWH_ERR_INPUT, "%s without %s",
        swh_finding_table[isnan(b->value[SWH_FINDING_standing_pressure]) ? SWH_FINDING_standing_ambient
                                                                         : SWH_FINDING_standing_pressure]
            .id,
        swh_finding_table[isnan(b->value[SWH_FINDING_standing_pressure]) ? SWH_FINDING_standing_pressure
                                                                         : SWH_FINDING_standing_ambient]
            .id);
    swh_error_expected(err, "both or neither: the one says nothing without the other");
    return SWH_ERR_INPUT;
}

enum swh_status swh_findings_check(const struct swh_findings *b, const struct swh_case *vehicle,
                                   struct swh_error *err)
{
    static const struct {
        enum swh_finding without, with;
    } pairs[] = {{SWH_FINDING_coating_lost, SWH_FINDING_shoe_seized}};
    const double oil = vehicle->params.oil_total, charge = vehicle->params.charge_nominal;
    for (unsigned i = 0; i < sizeof pairs / sizeof pairs[0]; i++)
        if (b->value[pairs[i].without] < 0.5 && found(b, pairs[i].with))
            return swh_error_set(err, SWH_ERR_INPUT, "findings contradict each other: %s = yes, but %s = no",
                                 swh_finding_table[pairs[i].with].id, swh_finding_table[pairs[i].without].id);
    enum swh_status status = check_mass(b, SWH_FINDING_oil_amount, oil, err);
    if (status == SWH_OK)
        status = check_mass(b, SWH_FINDING_oil_drained, oil, err);
    if (status == SWH_OK)
        status = check_mass(b, SWH_FINDING_refrigerant_recovered, charge, err);
    return status == SWH_OK ? check_rest(b, err) : status;
}

/* ---- what a hard hour leaves behind ---- */

static double left_behind(const struct swh_findings *b, enum swh_finding i, const struct swh_summary *hard)
{
    const struct swh_finding_info *f = &swh_finding_table[i];
    const double x = f->extreme == SWH_FINDING_PEAK     ? hard->peak[f->channel].value
                     : f->extreme == SWH_FINDING_LOWEST ? hard->lowest[f->channel].value
                                                        : hard->final[f->channel];
    if (isnan(b->value[i]) || !isfinite(x))
        return 0;
    if (f->kind == SWH_FINDING_AMOUNT) {
        const double z = (b->value[i] - x) / f->width;
        return log(0.02 + 0.98 * exp(-0.5 * z * z));
    }
    const double p = 1 / (1 + exp(-(x - f->threshold) / f->width));
    const double likely = found(b, i) ? p : 1 - p;
    return log(0.02 + 0.96 * likely);
}

double swh_findings_likelihood(const struct swh_findings *b, const struct swh_summary *hard,
                               double part[SWH_FINDING_COUNT])
{
    double sum = 0;
    for (int i = 0; i < SWH_FINDING_COUNT; i++) {
        const enum swh_finding_kind kind = swh_finding_table[i].kind;
        const bool by_hour = kind == SWH_FINDING_SIGN || kind == SWH_FINDING_AMOUNT;
        const double one = by_hour ? left_behind(b, (enum swh_finding)i, hard) : 0;
        if (part && by_hour)
            part[i] = one;
        sum += one;
    }
    return sum;
}

/* ---- what is seen of a fault itself ---- */

static double saturation_at_rest(const struct swh_findings *b, const struct swh_case *c)
{
    struct swh_saturation s;
    const double T = b->value[SWH_FINDING_standing_ambient];
    if (isnan(T) || swh_saturation_T(swh_fluid_eos(swh_case_refrigerant(c)), T, &s, NULL) != SWH_OK)
        return NAN;
    return s.P;
}

double swh_finding_air(double v, const struct swh_findings *b, const struct swh_case *c)
{
    const double above = v - saturation_at_rest(b, c);
    return fmax(above, 0) * 323.15 / b->value[SWH_FINDING_standing_ambient] / 4e5;
}

/* From the last drop on, pressure falls with what is left. In this model's circuits (3 to 4 litres) vapour at
 * 30 degC then is about a sixth of a usual charge. */
double swh_finding_empty(double v, const struct swh_findings *b, const struct swh_case *c)
{
    const double saturation = saturation_at_rest(b, c);
    return v < saturation - 0.7e5 ? 1 - 0.17 * v / saturation : NAN; /* false for a NaN */
}

enum { SWH_FAULT_NONE = -2 };
static const struct sight {
    enum swh_finding finding;
    int fault;
    double answer, from, with, without;
} sights[] = {
#define SEES(finding, fault, answer, from, with, without)                                                    \
    {SWH_FINDING_##finding, SWH_FAULT_##fault, answer, from, with, without},
#define MEASURES(finding, fault, opposite, severity, sigma)
#include "solver/infer/finding_effects.def"
#undef SEES
#undef MEASURES
};

/* A look that speaks of several faults: the one at hand, else how often it is seen without any. */
static double seen(const struct swh_findings *b, enum swh_finding f, int fault, double severity)
{
    double yes = NAN;
    for (size_t i = 0; i < sizeof sights / sizeof sights[0]; i++) {
        const struct sight *s = &sights[i];
        if (s->finding != f || (s->fault != fault && !isnan(yes)))
            continue;
        const double there = s->fault == fault ? 1 / (1 + exp(-(severity - s->from) / 0.08)) : 0;
        const double answer = s->without + (s->with - s->without) * there;
        yes = s->answer > 0.5 ? answer : 1 - answer;
    }
    return isnan(yes) ? 0 : log(found(b, f) ? yes : 1 - yes);
}

struct measure {
    enum swh_finding finding;
    int fault, opposite;
    double severity, sigma;
};
enum {
#define SEES(finding, fault, answer, from, with, without)
#define MEASURES(finding, fault, opposite, severity, sigma) MEASURE_##finding##_##fault,
#include "solver/infer/finding_effects.def"
#undef SEES
#undef MEASURES
    MEASURES_COUNT
};

static void take_measures(const struct swh_findings *b, const struct swh_case *c, struct measure *out)
{
    const struct swh_params *p = &c->params;
    int n = 0;
#define SEES(finding, fault, answer, from, with, without)
#define MEASURES(f, for, against, x, s)                                                                      \
    {                                                                                                        \
        const double v = b->value[SWH_FINDING_##f], sd = swh_finding_table[SWH_FINDING_##f].width;           \
        out[n++] = (struct measure)                                                                          \
        {SWH_FINDING_##f, SWH_FAULT_##for, SWH_FAULT_##against, isnan(v) ? NAN : x, s                        \
        };                                                                                                   \
        (void)sd;                                                                                            \
    }
#include "solver/infer/finding_effects.def"
#undef SEES
#undef MEASURES
    (void)p;
}

static const double MISTAKEN = 0.004; /* a wrong scale, a wrong label, a vehicle that was opened before */
static double measured(const struct measure *m, int fault, double severity)
{
    const double there = fault == m->fault ? severity : fault == m->opposite ? -severity : 0;
    const double z = (m->severity - there) / m->sigma;
    /* a mistake may give any value: against a sharp measure it counts for less */
    const double mistaken = MISTAKEN * fmin(1, m->sigma / 0.05);
    return isnan(z) ? 0 : log(mistaken + (1 - mistaken) * exp(-0.5 * z * z));
}

double swh_findings_on_vehicle(const struct swh_findings *b, const struct swh_case *vehicle, int fault,
                               double severity, double part[SWH_FINDING_COUNT])
{
    double own[SWH_FINDING_COUNT] = {0}, sum = 0;
    struct measure seen_as[MEASURES_COUNT];
    take_measures(b, vehicle, seen_as);
    for (int i = 0; i < SWH_FINDING_COUNT; i++)
        if (swh_finding_table[i].kind == SWH_FINDING_LOOK && !isnan(b->value[i]))
            own[i] = seen(b, (enum swh_finding)i, fault, severity);
    for (int i = 0; i < MEASURES_COUNT; i++)
        own[seen_as[i].finding] += measured(&seen_as[i], fault, severity);
    for (int i = 0; i < SWH_FINDING_COUNT; i++) {
        sum += own[i];
        if (part && (swh_finding_table[i].kind == SWH_FINDING_LOOK ||
                     swh_finding_table[i].kind == SWH_FINDING_MEASURE))
            part[i] = own[i];
    }
    return sum;
}
