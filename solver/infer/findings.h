/* What lies on the bench after the compressor came out, or is found on the vehicle with the engine off; and
 * how likely it is with a fault of some severity. */
#ifndef SWH_SOLVER_INFER_FINDINGS_H
#define SWH_SOLVER_INFER_FINDINGS_H

#include "solver/simulate/run.h"

enum swh_finding {
#define FINDING(id, kind, channel, extreme, threshold, width, help, place) SWH_FINDING_##id,
#include "solver/infer/findings.def"
#undef FINDING
    SWH_FINDING_COUNT
};
enum swh_finding_kind { SWH_FINDING_SIGN, SWH_FINDING_AMOUNT, SWH_FINDING_LOOK, SWH_FINDING_MEASURE };
enum swh_finding_extreme { SWH_FINDING_PEAK, SWH_FINDING_LOWEST, SWH_FINDING_FINAL };
struct swh_finding_info {
    const char *id;
    enum swh_finding_kind kind;
    enum swh_channel channel; /* of a value: its quantity */
    enum swh_finding_extreme extreme;
    double threshold, width;
    const char *help, *place;
};
extern const struct swh_finding_info swh_finding_table[SWH_FINDING_COUNT];
int swh_finding_find(const char *id); /* -1 if unknown */
/* Is it answered by yes or no (else by a value in the channel's quantity)? */
bool swh_finding_is_sign(enum swh_finding f);

/* value: 1 yes, 0 no, or SI; NaN: not looked at. */
struct swh_findings {
    double value[SWH_FINDING_COUNT];
};
/* Findings that exclude each other or that no vehicle gives: more than twice the oil or the refrigerant that
 * the system holds, a standing pressure without its temperature. SWH_ERR_INPUT naming them. */
enum swh_status swh_findings_check(const struct swh_findings *b, const struct swh_case *vehicle,
                                   struct swh_error *err);
/* ln of the likelihood of each SIGN and AMOUNT, given how a hard hour with the fault went, and their sum; 0
 * where not looked at, and for the other kinds. Each finding counts at most as a chance of one in fifty
 * against. part may be NULL. */
double swh_findings_likelihood(const struct swh_findings *b, const struct swh_summary *hard,
                               double part[SWH_FINDING_COUNT]);
/* The same of each LOOK, by its own chances, and each MEASURE, at most as a chance of one in 250 against, on
 * a vehicle whose only fault is `fault`
 * (negative: none) at `severity`. */
double swh_findings_on_vehicle(const struct swh_findings *b, const struct swh_case *vehicle, int fault,
                               double severity, double part[SWH_FINDING_COUNT]);

/* For finding_effects.def. Severity of air_in_system by a standing pressure v [Pa] above saturation at the
 * temperature of the rest: its partial pressure, taken to 50 degC, over 4 bar. Severity of undercharge by one
 * so far below it that all is vapour; NaN above. Both NaN where the temperature is not known. */
double swh_finding_air(double v, const struct swh_findings *b, const struct swh_case *c);
double swh_finding_empty(double v, const struct swh_findings *b, const struct swh_case *c);

#endif
