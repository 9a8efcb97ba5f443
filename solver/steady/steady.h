/* A case followed until it has come to rest, is lost, or has had time enough. */
#ifndef SWH_SOLVER_STEADY_STEADY_H
#define SWH_SOLVER_STEADY_STEADY_H

#include "solver/study/sweep.h"

struct swh_steady {
    enum swh_case_result result;
    enum swh_seizure cause; /* of a seizure; else SWH_SEIZURE_COUNT */
    bool settled;           /* came to rest; false: still moving at the end, or seized */
    bool cycling;           /* the clutch switched during the last window */
    bool overheated;        /* given up at the limit of heat: see swh_steady_run */
    double time;            /* s followed */
    double quiet;           /* s at the end without a change of the clutch */
    enum swh_event pauses;  /* the switch that gave most of the pauses; SWH_EVENT_COUNT: none did */
    double to_seizure;      /* s from the start; NaN if it did not seize */
    double to_loss;         /* s to seizure or overheating; NaN if neither */
    /* slow rate of the rotor's temperature [1/s]; NaN if the clutch cycles or nothing decays */
    double growth;
    double mean[SWH_CHANNEL_COUNT];    /* over the last whole window of 300 s */
    double engaged[SWH_CHANNEL_COUNT]; /* the same with the clutch in only; NaN if it never was */
};

/* Seconds that a case is followed beyond the last change of its faults if nothing else is asked for. */
#define SWH_REST_HORIZON 21600.0

/* Runs c (rows every 10 s, run ended by a seizure) for `horizon` seconds beyond the last change of its
 * faults. Settled: from one window of 300 s to the next the mean temperatures of rotor, block and oil moved
 * less than 0.02 K, the oil in the compressor less than 0.01 g.
 * With a cycling clutch the slow states (metal, oil, cabin) are moved along their rates of change over cycles
 * (solver/steady/cycles.h): `time` and times to seizure are those of their clock, within a tenth of a run
 * cycle by cycle; where they rest is the same. Settled then: forecasts of the rest by Aitken's rule (1926)
 * agree; mean and engaged hold the forecast. Overheated, and followed no farther: the rotor was hotter than
 * the weld temperature for a window and its film still carried, or the run left the property tables because
 * gas in the compressor got hotter than they reach; no rest is looked for beyond. A case with a drive
 * schedule is followed for its own duration. Errors: SWH_ERR_MEMORY; whatever else swh_run says, with
 * out->result SWH_CASE_IMPOSSIBLE or SWH_CASE_INCOMPLETE. */
enum swh_status swh_steady_run(const struct swh_case *c, double horizon, struct swh_steady *out,
                               struct swh_error *err);

/* How well the rest has to be known. */
enum swh_steady_grade {
    SWH_REST_EXACT,  /* temperatures within 1 K of a long run's */
    SWH_REST_VERDICT /* that there is one */
};

/* The same to a grade. */
enum swh_status swh_steady_run_to(const struct swh_case *c, double horizon, enum swh_steady_grade grade,
                                  struct swh_steady *out, struct swh_error *err);

#endif
