/* What the drives of a replay may be wrong by. Readings drive the body, so the constant error of a gauge or
 * of a clamp moves the prediction of other channels: by how much is found from replays of the log with each
 * reading moved by its instrument's offset (errors in the variables, integrated out to first order; Seber and
 * Wild, Nonlinear Regression, ch. 10). */
#ifndef SWH_SOLVER_INFER_NUISANCE_H
#define SWH_SOLVER_INFER_NUISANCE_H

#include "solver/infer/drive_change.h"
#include "solver/infer/residuals.h"

enum { SWH_GAUGE_NUISANCES = 16 }; /* room for all of them */

/* What the drive may have been where the log does not say. */
enum swh_drive_doubt {
    SWH_DOUBT_RESTARTS, /* liquid that comes back after each restart and that no reading shows */
    SWH_DOUBT_EDGES,    /* when the clutch moved between two rows */
    SWH_DOUBT_GAPS,     /* when in a gap the drive changed */
    SWH_DOUBT_LONG_GAPS /* what it did meanwhile */
};
/* The change of the drive, and what share of its effect is one standard deviation; false if the log leaves
 * nothing of the kind open. */
bool swh_drive_doubt(enum swh_drive_doubt which, const struct swh_drive_facts *facts,
                     struct swh_drive_change *change, double *share);
/* The averages that drive a replay, of a log with its drive changed. `to` is new. SWH_ERR_MEMORY. */
enum swh_status swh_replay_drive(struct swh_log_memory *to, const struct swh_log_memory *log,
                                 const struct swh_drive_change *change, struct swh_error *err);

/* The circuit of a vehicle driven by what was read, the drive changed where the log does not say. Free with
 * swh_case_free. Errors: swh_readings_drive, SWH_ERR_MEMORY. */
enum swh_status swh_circuit_drive(struct swh_case *to, const struct swh_case *vehicle,
                                  const struct swh_readings *read, const struct swh_drive_change *change,
                                  struct swh_error *err);
/* Changes of a circuit's residuals by one standard deviation of what the log's clock leaves open of its drive
 * (edges of the clutch, gaps), into out[3]; returns how many. `at`: of the circuit as it was read.
 * Thread-safe. */
int swh_circuit_drive_nuisances(const struct swh_case *vehicle, const struct swh_readings *read,
                                const struct swh_residuals *at, int threads, struct swh_nuisance out[3],
                                struct swh_team *team);

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
