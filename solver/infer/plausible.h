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
    SWH_IMP_LIQUID_HOT      /* a: liquid line, b: saturation at the high side [K] */
};
struct swh_implausible {
    enum swh_implausible_kind kind;
    double a, b;
    bool fatal; /* nothing can be concluded before it is put right */
};
enum { SWH_IMPLAUSIBLE_MAX = 8 };

/* Looks at means over all rows of settled running (the clutch in for three minutes at least; a sheet's points
 * with the clutch in) and of rest (five minutes). Returns how many were found. Thermodynamics: a pipe cannot
 * be colder than the saturation of the gas in it, liquid not hotter than its own, the gauges of a system at
 * rest show one pressure. Tolerances are for clamps and gauges (common practice, no source). */
int swh_implausible_find(const struct swh_readings *r, const struct swh_fluid *fluid,
                         struct swh_implausible out[SWH_IMPLAUSIBLE_MAX]);

#endif
