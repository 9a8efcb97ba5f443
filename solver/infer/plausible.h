/* What no vehicle can have read: looked for before any cause is ranked. */
#ifndef SWH_SOLVER_INFER_PLAUSIBLE_H
#define SWH_SOLVER_INFER_PLAUSIBLE_H

#include "model/refrigerant/refrigerant.h"
#include "solver/infer/readings.h"

enum swh_implausible_kind {
    SWH_IMP_SIDES_EQUAL,    /* a, b: low and high side while it runs [Pa] */
    SWH_IMP_GAUGES_PART,    /* a, b: low and high side at rest [Pa] */
    SWH_IMP_DISCHARGE_COLD, /* a, b: discharge and suction pipe while it runs [K] */
    SWH_IMP_SUCTION_COLD,   /* a: suction pipe, b: saturation at the low side [K] */
    SWH_IMP_DISCHARGE_WET,  /* a: discharge pipe, b: saturation at the high side [K] */
    SWH_IMP_LIQUID_HOT,     /* a: liquid line, b: saturation at the high side [K] */
    SWH_IMP_HIGH_COLD,      /* a: saturation at the high side while it runs, b: outside air [K] */
    SWH_IMP_REST_LOW        /* a: both sides at rest, b: saturation at the outside air [Pa] */
};
/* A reading that stays where it is, bit for bit, for longer than its other changes let one expect: the
 * longest such stretch [s of the log], *to its last row. By chance once in a million times, if its readings
 * change from row to row as often as they do outside the stretch; a minute and eight readings at least. */
bool swh_log_stuck(const struct swh_log_memory *m, enum swh_channel ch, double *from, double *to);
/* Blanks the readings in (from, to]: the first one of a stretch is one. */
void swh_log_leave_out_between(struct swh_log_memory *m, enum swh_channel ch, double from, double to);

struct swh_implausible {
    enum swh_implausible_kind kind;
    double a, b;
    bool fatal; /* nothing can be concluded before it is put right */
};
enum { SWH_IMPLAUSIBLE_MAX = 8 };
/* Gauges that part at rest, or less there than liquid at the outside air has: a cause may explain it, a fit
 * to it would believe it. */
static inline bool swh_implausible_at_rest(const struct swh_implausible *w)
{
    return w->kind == SWH_IMP_REST_LOW || w->kind == SWH_IMP_GAUGES_PART;
}

/* Looks at means over all rows of settled running (the clutch in for three minutes at least; a sheet's points
 * with the clutch in) and of rest (five minutes). Returns how many were found. Thermodynamics: a pipe cannot
 * be colder than the saturation of the gas in it, liquid not hotter than its own, the gauges of a system at
 * rest show one pressure, which is that of saturation where it is coldest as long as there is liquid; heat
 * leaves a condenser only for colder air. Tolerances are for
 * clamps and gauges (common practice, no source). */
int swh_implausible_find(const struct swh_readings *r, const struct swh_fluid *fluid,
                         struct swh_implausible out[SWH_IMPLAUSIBLE_MAX]);

#endif
