#include "solver/infer/plausible.h"

#include <math.h>
#include <string.h>

/* s: what a clamp on a pipe and a warm compressor take to follow, and what both sides take to meet */
static const double SETTLED = 180, RESTED = 300;
/* tolerances of a pair of gauges [Pa] and of clamps against saturation [K] */
static const double GAUGES = 0.6e5, EQUAL = 0.3e5, CLAMP = 5, WET_CLAMP = 15;

/* sums over rows in one state */
struct state {
    double sum[SWH_CHANNEL_COUNT];
    long n[SWH_CHANNEL_COUNT];
};

struct looker {
    const struct swh_fluid *fluid;
    struct state running, rest;
    struct swh_implausible *out;
    int count;
};

static void take(struct state *s, const double *value)
{
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        if (isfinite(value[i])) {
            s->sum[i] += value[i];
            s->n[i]++;
        }
}

static double mean(const struct state *s, enum swh_channel ch)
{
    return s->n[ch] ? s->sum[ch] / (double)s->n[ch] : NAN;
}

/* ---- rows ---- */

static bool turns(const double *value, bool engaged)
{
    return engaged && !(value[SWH_CH_compressor_speed] < 1); /* true for a blank */
}

static void look_at_log(struct looker *l, const struct swh_log_memory *log)
{
    bool engaged = !log->has[SWH_CH_clutch], turning = false;
    double since = NAN;
    for (size_t i = 0; i < log->rows; i++) {
        const double *v = log->row[i].value;
        if (isfinite(v[SWH_CH_clutch]))
            engaged = v[SWH_CH_clutch] >= 0.5;
        if (i == 0 || turning != turns(v, engaged))
            since = v[SWH_CH_time];
        turning = turns(v, engaged);
        const double lasts = v[SWH_CH_time] - since;
        if (turning && lasts >= SETTLED)
            take(&l->running, v);
        else if (!turning && lasts >= RESTED)
            take(&l->rest, v);
    }
}

static void look_at_sheet(struct looker *l, const struct swh_spot_sheet *sheet)
{
    for (size_t i = 0; i < sheet->rows; i++) {
        const double *v = sheet->row[i].value;
        const bool turning = turns(v, !(v[SWH_CH_clutch] < 0.5));
        if (turning)
            take(&l->running, v);
        else if (sheet->row[i].held >= RESTED)
            take(&l->rest, v);
    }
}

/* ---- judgements ---- */

static void found(struct looker *l, bool wrong, enum swh_implausible_kind kind, double a, double b,
                  bool fatal)
{
    if (wrong && l->count < SWH_IMPLAUSIBLE_MAX)
        l->out[l->count++] = (struct swh_implausible){kind, a, b, fatal};
}

static double saturation(const struct looker *l, double P)
{
    double T = NAN;
    return isfinite(P) && swh_Tsat(l->fluid, P, &T) == 0 ? T : NAN;
}

static void judge_pressures(struct looker *l)
{
    const double low = mean(&l->running, SWH_CH_suction_pressure),
                 high = mean(&l->running, SWH_CH_discharge_pressure);
    const double a = mean(&l->rest, SWH_CH_suction_pressure), b = mean(&l->rest, SWH_CH_discharge_pressure);
    found(l, fabs(high - low) < EQUAL, SWH_IMP_SIDES_EQUAL, low, high, true);
    found(l, fabs(a - b) > GAUGES, SWH_IMP_GAUGES_PART, a, b, false);
}

static void judge_pipes(struct looker *l)
{
    const double suction = mean(&l->running, SWH_CH_suction_temperature),
                 discharge = mean(&l->running, SWH_CH_discharge_temperature),
                 liquid = mean(&l->running, SWH_CH_liquid_line_temperature);
    const double low = saturation(l, mean(&l->running, SWH_CH_suction_pressure)),
                 high = saturation(l, mean(&l->running, SWH_CH_discharge_pressure));
    const bool cold = discharge < suction; /* each comparison is false for a NaN */
    found(l, cold, SWH_IMP_DISCHARGE_COLD, discharge, suction, true);
    found(l, !cold && suction < low - CLAMP, SWH_IMP_SUCTION_COLD, suction, low, true);
    found(l, !cold && discharge < high - WET_CLAMP, SWH_IMP_DISCHARGE_WET, discharge, high, true);
    /* without enough refrigerant gas comes out of the condenser, at any temperature */
    const bool condenses = high > mean(&l->running, SWH_CH_ambient_temperature) + CLAMP;
    found(l, condenses && liquid > high + CLAMP, SWH_IMP_LIQUID_HOT, liquid, high, true);
}

int swh_implausible_find(const struct swh_readings *r, const struct swh_fluid *fluid,
                         struct swh_implausible out[SWH_IMPLAUSIBLE_MAX])
{
    struct looker l;
    memset(&l, 0, sizeof l);
    l.fluid = fluid;
    l.out = out;
    if (r->log)
        look_at_log(&l, r->log);
    if (r->sheet)
        look_at_sheet(&l, r->sheet);
    judge_pressures(&l);
    judge_pipes(&l);
    return l.count;
}
