#include "solver/infer/plausible.h"

#include <math.h>
#include <string.h>

/* s: what a clamp on a pipe and a warm compressor take to follow, and what both sides take to meet */
static const double SETTLED = 180, RESTED = 300;
/* tolerances of a pair of gauges [Pa] and of clamps against saturation [K] */
static const double AT_START = 5; /* s */
static const double GAUGES = 0.6e5, EQUAL = 0.3e5, CLAMP = 5, WET_CLAMP = 15;

/* sums over rows in one state */
struct state {
    double sum[SWH_CHANNEL_COUNT];
    long n[SWH_CHANNEL_COUNT];
};

struct looker {
    const struct swh_fluid *fluid;
    struct state running, rest;
    struct state start; /* the first rows, while both sides still read the same */
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
        if (v[SWH_CH_time] - log->row[0].value[SWH_CH_time] <= AT_START &&
            fabs(v[SWH_CH_suction_pressure] - v[SWH_CH_discharge_pressure]) < EQUAL)
            take(&l->start, v);
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

/* In the first row of a log that begins at rest one side is at saturation, and the other a bar off it. */
static void judge_first_row(struct looker *l, const struct swh_log_memory *log)
{
    const double *v = log->row[0].value;
    const double low = v[SWH_CH_suction_pressure], high = v[SWH_CH_discharge_pressure];
    double saturated = NAN;
    if (!isfinite(v[SWH_CH_ambient_temperature]) ||
        swh_Psat(l->fluid, v[SWH_CH_ambient_temperature], &saturated) != 0)
        return;
    const double off = fmin(fabs(low - saturated), fabs(high - saturated));
    found(l, off < EQUAL && fabs(high - low) > GAUGES && fabs(high - low) < 1.5e5, SWH_IMP_GAUGES_PART, low,
          high, false);
}

/* At rest a soaked system with liquid in it shows saturation at its coldest place. Two kelvins and 0.3 bar
 * are for probes and gauges (common practice, no source); absolute pressure taken for gauge pressure is 1
 * bar. */
static void judge_rest(struct looker *l)
{
    const double T = fmin(mean(&l->start, SWH_CH_ambient_temperature),
                          mean(&l->start, SWH_CH_shell_temperature)); /* fmin passes over a NaN */
    const double P =
        0.5 * (mean(&l->start, SWH_CH_suction_pressure) + mean(&l->start, SWH_CH_discharge_pressure));
    double saturated = NAN;
    if (isfinite(T) && isfinite(P) && swh_Psat(l->fluid, T - 2, &saturated) == 0)
        found(l, P < saturated - EQUAL, SWH_IMP_REST_LOW, P, saturated, false);
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
    found(l, high < mean(&l->running, SWH_CH_ambient_temperature) - CLAMP, SWH_IMP_HIGH_COLD, high,
          mean(&l->running, SWH_CH_ambient_temperature), true);
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
    if (r->log && r->log->rows > 0 && l.rest.n[SWH_CH_suction_pressure] == 0)
        judge_first_row(&l, r->log);
    judge_rest(&l);
    judge_pipes(&l);
    return l.count;
}

/* ---- a reading that stays where it is ---- */

/* Did the machine do something else between two times: another speed, other pressures, the clutch? */
static bool others_moved(const struct swh_log_memory *m, enum swh_channel ch, double from, double to)
{
    static const enum swh_channel looked_at[] = {SWH_CH_compressor_speed, SWH_CH_suction_pressure,
                                                 SWH_CH_discharge_pressure, SWH_CH_clutch};
    bool moved = false;
    for (size_t k = 0; k < sizeof looked_at / sizeof looked_at[0]; k++) {
        double low = INFINITY, high = -INFINITY;
        for (size_t i = 0; i < m->rows && looked_at[k] != ch; i++) {
            const double t = m->row[i].value[SWH_CH_time], x = m->row[i].value[looked_at[k]];
            if (t < from || t > to || isnan(x))
                continue;
            low = fmin(low, x);
            high = fmax(high, x);
        }
        moved |= high > 1.25 * low; /* false if there was nothing */
    }
    return moved;
}

bool swh_log_stuck(const struct swh_log_memory *m, enum swh_channel ch, double *from, double *to)
{
    double last = NAN, begun = NAN, best_from = NAN, best_to = NAN;
    long run = 0, longest = 0, changes = 0, steps = 0;
    for (size_t i = 0; i < m->rows; i++) {
        const double x = m->row[i].value[ch], t = m->row[i].value[SWH_CH_time];
        if (isnan(x))
            continue;
        steps += !isnan(last);
        if (x != last) {
            changes += !isnan(last);
            begun = t;
            run = 0;
        } else if (++run > longest) {
            longest = run;
            best_from = begun;
            best_to = t;
        }
        last = x;
    }
    *from = best_from;
    *to = best_to;
    if (longest < 8 || best_to - best_from < 60 || steps - longest < 8 || changes == 0)
        return false;
    const double often = fmin((double)changes / (double)(steps - longest), 0.9);
    return (double)longest * log(1 - often) < log(1e-6) && others_moved(m, ch, best_from, best_to);
}

void swh_log_leave_out_between(struct swh_log_memory *m, enum swh_channel ch, double from, double to)
{
    for (size_t i = 0; i < m->rows; i++)
        if (m->row[i].value[SWH_CH_time] > from && m->row[i].value[SWH_CH_time] <= to)
            m->row[i].value[ch] = NAN;
}
