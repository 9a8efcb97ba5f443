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
    bool leaves;       /* warms up at the bottleneck of its way: it has no rest; not followed to its end */
    double time;       /* s followed */
    double to_seizure; /* s from the start; NaN if it did not seize */
    double to_loss;    /* s to seizure or overheating; NaN if neither */
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

/* How well the rest has to be known. For less than EXACT a machine that is put beyond its forecast rest and
 * cools there counts as settled. */
enum swh_steady_grade {
    SWH_REST_EXACT,  /* temperatures within 1 K of a long run's */
    SWH_REST_TOLD,   /* to a few kelvins */
    SWH_REST_VERDICT /* that there is one */
};

/* What neighbours tell, and what is told to them. All pointers may be NULL. */
struct swh_engine_state;
struct swh_bottleneck;
struct swh_steady_help {
    /* a state at work to start from, where known and without a drive schedule: faults have come to what they
     * come to, and times count from there */
    const struct swh_engine_state *from;
    struct swh_engine_state
        *to; /* receives the state at rest, known only where the clutch cycles; not `from` */
    const struct swh_bottleneck *guess; /* bottleneck of the way, for less than EXACT */
    bool untimed;                       /* when it is lost does not matter: not followed to there */
    bool rough;    /* what hardly moves counts as at rest: beside an edge that is right to a per cent */
    bool in_place; /* `from` is at the bottleneck of a neighbour: where all metal cools or warms up
                    * there, clearly, nothing else is looked for */
    double *low; /* receives the lowest rotor temperature [K] from which all metal warmed up while nothing was
                  * to come that helps (oil, a cooler cabin); 0: none */
    struct swh_bottleneck *narrow; /* receives that place, if one was passed or measured, and its rate */
};

/* The same to a grade, with such help. Private to solver/. */
enum swh_status swh_steady_run_from(const struct swh_case *c, double horizon, enum swh_steady_grade grade,
                                    const struct swh_steady_help *help, struct swh_steady *out,
                                    struct swh_error *err);

#endif
