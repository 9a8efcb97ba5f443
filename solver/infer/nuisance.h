/* What the drives of a replay may be wrong by. Readings drive the body, so the constant error of a gauge or
 * of a clamp moves the prediction of other channels: by how much is found from replays of the log with each
 * reading moved by its instrument's offset (errors in the variables, integrated out to first order; Seber and
 * Wild, Nonlinear Regression, ch. 10). */
#ifndef SWH_SOLVER_INFER_NUISANCE_H
#define SWH_SOLVER_INFER_NUISANCE_H

#include "solver/infer/residuals.h"

enum { SWH_GAUGE_NUISANCES = 10 }; /* room for all of them */

struct swh_nuisance_request {
    const struct swh_case *vehicle;
    const struct swh_log_memory *drive, *log; /* as in swh_residuals_replay */
    const struct swh_residuals *at;           /* of the replay as it is */
    const int *free; /* [n_free] parameters that are fitted: their error is no doubt besides */
    int n_free, threads;
    struct swh_team *team; /* takes the error of a failed allocation */
};

/* Changes of the residuals by one standard deviation of each doubt into out[SWH_GAUGE_NUISANCES]; returns how
 * many were found: those whose reading is missing, or whose replay fails, are left out. Thread-safe. */
int swh_gauge_nuisances(const struct swh_nuisance_request *q, struct swh_nuisance *out);

#endif
