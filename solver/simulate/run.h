/* One simulation from start to end: events, outputs, ledger, verdict. Thread-safe:
 * one call, one integrator. */
#ifndef SWH_SOLVER_SIMULATE_RUN_H
#define SWH_SOLVER_SIMULATE_RUN_H

#include "model/machine.h"
#include "model/tables/events.h"
#include "solver/simulate/case.h"

/* Protected: a switch or fuse kept it alive. Overheated: the compressed gas passed 250 degC, where oil burns
 * and reeds and seals fail (the property tables end there). Burst: the head passed 80 bar. The run ends with
 * either. Incomplete: it stopped before its end for want of a solution, and nothing of this had happened. */
enum swh_outcome {
    SWH_SURVIVES,
    SWH_SHOE_SEIZED,
    SWH_BORE_SEIZED,
    SWH_PROTECTED,
    SWH_OVERHEATED,
    SWH_BURST,
    SWH_INCOMPLETE
};
const char *swh_outcome_word(enum swh_outcome outcome); /* "survives", "shoe_seized", ... */
const char *swh_cause_word(enum swh_seizure cause);     /* "film_lost", ..., "" if nothing seized */
/* Whether the machine is lost: seized, overheated or burst. */
bool swh_outcome_is_lost(enum swh_outcome outcome);

struct swh_cycle;

/* One output row: value[SWH_CHANNEL_COUNT] in SI, NaN where a channel does not exist in this run. In a
 * replay, measured[] holds the log's readings at that time (NaN where blank), else NULL. */
struct swh_row {
    const double *value;
    const double *measured;
    const struct swh_cycle *cycle; /* of this moment; NULL with the clutch out and in a replay */
};
struct swh_event_record {
    double time;
    enum swh_event event;
    double value; /* of the quantity that crossed, SI */
    char text[160];
};

/* Where results go; any may be NULL. A sink that returns other than SWH_OK ends the run with that status. */
struct swh_sinks {
    enum swh_status (*row)(const struct swh_row *row, void *user, struct swh_error *err);
    enum swh_status (*event)(const struct swh_event_record *event, void *user, struct swh_error *err);
    void (*progress)(double time, double end, void *user);
    void *user;
};

struct swh_peak {
    double value, time; /* extreme value met at any output time or event, and when */
};

/* the refrigerant's cycle at one time, for the pressure-enthalpy picture */
struct swh_cycle {
    double time;
    int n;
    double P[SWH_CYCLE_MAX], h[SWH_CYCLE_MAX];
};
enum {
    SWH_CYCLE_EARLY,
    SWH_CYCLE_HIGHEST,
    SWH_CYCLE_LAST,
    SWH_CYCLE_COUNT
}; /* after 2 min; at the highest head; last */

struct swh_integrator_stats {
    long steps, rhs_evals, jac_evals, jac_rhs_evals, lin_setups, newton_iters, events, restarts;
};

struct swh_summary {
    enum swh_outcome outcome;
    enum swh_seizure cause; /* what ended it; SWH_SEIZURE_COUNT if nothing did */
    double time_to_seizure; /* s; NaN if none */
    bool complete;          /* false: the integrator could not go on; see the error */
    double end_time;
    struct swh_peak peak[SWH_CHANNEL_COUNT];
    struct swh_peak lowest[SWH_CHANNEL_COUNT];
    struct swh_cycle cycle[SWH_CYCLE_COUNT]; /* with the clutch engaged; n = 0 if there is none */
    double final[SWH_CHANNEL_COUNT];
    double mean[SWH_CHANNEL_COUNT];   /* time average over the run */
    double gauge[SWH_CHANNEL_COUNT];  /* what an instrument shows at the end: time average of the last five to
                                         six minutes with the clutch engaged; NaN: it was not engaged then */
    double ledger[SWH_CHANNEL_COUNT]; /* J through each heat_... path over the run */
    double duty;                      /* share of time with the clutch engaged */
    double charge_drift;              /* relative, (charge + leaked - charge at start)/charge at start */
    double energy_residual;           /* relative to the heat moved, whole system */
    double body_residual;             /* relative to the heat moved, metal of the compressor */
    double heat_moved;                /* J */
    double suction_cooling_share;     /* share of the heat removed from the body that suction gas took */
    enum swh_event protected_by;      /* the switch that opened most, if outcome is SWH_PROTECTED */
    long event_count[SWH_EVENT_COUNT];
    struct swh_integrator_stats stats;
    /* replay: root mean square and mean of (predicted - measured) per channel, number of readings compared */
    double rms[SWH_CHANNEL_COUNT], bias[SWH_CHANNEL_COUNT];
    long compared[SWH_CHANNEL_COUNT];
};

/* Runs a case. On SWH_ERR_RANGE or SWH_ERR_SOLVER the summary holds what was reached, complete = false. */
enum swh_status swh_run(const struct swh_case *c, const struct swh_sinks *sinks, struct swh_summary *summary,
                        struct swh_error *err);

/* ---- replay ---- */

/* One row of a log in SI; NaN where blank or absent. value[SWH_CH_time] is strictly increasing. */
struct swh_log_row {
    double value[SWH_CHANNEL_COUNT];
};
/* A source of log rows: returns SWH_OK and sets *more = false at the end. Pulled one row at a time, so that a
 * log of any length needs bounded memory and a growing log can be followed. */
struct swh_log_source {
    enum swh_status (*next)(void *user, struct swh_log_row *row, bool *more, struct swh_error *err);
    void *user;
    bool has[SWH_CHANNEL_COUNT]; /* channels that the log carries at all */
    bool live; /* next() may wait for its row: it is asked for no more rows than the next step needs */
};

/* The channels of a log that drive the body, and the inputs they set (constants for what the log lacks). */
struct swh_replay_input {
    enum swh_channel channel;
    enum swh_input input;
};
enum { SWH_REPLAY_INPUT_COUNT = 8 };
extern const struct swh_replay_input swh_replay_inputs[SWH_REPLAY_INPUT_COUNT];

/* Drives the compressor body with the log's pressures, suction temperature, speed, clutch, ambient (what it
 * lacks comes from c->conditions); emits one row per log row, at most one per output_interval if that is
 * longer than the log's spacing and thin is true. The first row's readings set the start. */
enum swh_status swh_replay(const struct swh_case *c, const struct swh_log_source *log, bool thin,
                           const struct swh_sinks *sinks, struct swh_summary *summary, struct swh_error *err);

#endif
