/* What may be wrong without a fault, as changes of all residuals at once (J S J', with S the covariance of
 * what is not known of the vehicle and its surroundings, to first order; Seber and Wild, Nonlinear
 * Regression, ch. 10): errors of ambient, humidity and bay; and of the vehicle either what a fit leaves open
 * (the covariance that it wrote into the vehicle file, and parts of the vehicle by a few per cent), or all
 * that the papers of a vehicle do not tell (unknowns.def; where the file has a spread of its own, that). */
#ifndef SWH_SOLVER_INFER_UNKNOWNS_H
#define SWH_SOLVER_INFER_UNKNOWNS_H

#include "solver/infer/residuals.h"
#include "solver/simulate/joint.h"

enum {
#define UNKNOWN(param, share) SWH_UNKNOWN_##param,
#include "solver/infer/unknowns.def"
#undef UNKNOWN
    SWH_UNKNOWN_COUNT
};
struct swh_unknown_info {
    enum swh_param param;
    double share; /* standard deviation of ln(parameter) */
};
extern const struct swh_unknown_info swh_unknown_table[SWH_UNKNOWN_COUNT];

enum {
    SWH_DOUBTS_SURROUNDINGS = 3,
    SWH_DOUBTS_PARTS = 5,
    SWH_NUISANCES = SWH_DOUBTS_SURROUNDINGS + SWH_DOUBTS_PARTS + (int)SWH_JOINT_MAX + (int)SWH_UNKNOWN_COUNT
};

/* Differences from the residuals `at` (complete) of the same case, from one run each with one thing moved by
 * its standard deviation. Those whose run fails are left out. Returns how many were found. `team` takes
 * the error of a failed allocation. */
int swh_nuisances(const struct swh_case *driven, const struct swh_readings *read,
                  const struct swh_residuals *at, enum swh_knowledge knowledge, int threads,
                  struct swh_nuisance out[SWH_NUISANCES], struct swh_team *team);

#endif
