/* What run and replay share: a machine with its inputs, modes and controls on one integrator, advanced from
 * stop to stop with events handled on the way. Private to solver/. */
#ifndef SWH_SOLVER_SIMULATE_ENGINE_H
#define SWH_SOLVER_SIMULATE_ENGINE_H

#include "model/machine.h"
#include "solver/ode/ode.h"
#include "solver/simulate/run.h"

enum { SWH_ROOT_COUNT = 14, SWH_WARNING_COUNT = 3 };

/* Inputs at time t [s]; returns nothing: outside its range the nearest segment's line is continued. */
typedef void (*swh_input_function)(double t, struct swh_inputs *in, void *user);

struct swh_controls {
    bool low_ok, frost_ok, high_ok, fuse_ok;
    double off_until; /* clutch may not engage before [s] */
};

enum { SWH_GAUGE_MINUTES = 6 };
struct swh_engine {
    const struct swh_case *c;
    struct swh_machine machine; /* parameters with the faults of the present time */
    struct swh_modes modes;
    struct swh_controls controls;
    swh_input_function inputs;
    void *inputs_user;
    bool clutch_from_inputs; /* replay: the log's clutch decides, the controls do not */
    bool ramping;            /* a fault's severity changes with time just now */
    bool too_hot;            /* the last state refused was one of compressor gas beyond the tables' hot end */
    bool destroyed;          /* overheated or burst: the run ends */
    struct swh_ode *ode;
    double highest_head;
    struct swh_cycle cycle; /* of this row */
    struct swh_flows flows; /* scratch of the last evaluation */
    const struct swh_sinks *sinks;
    struct swh_summary *summary;
    double mass_start, energy_start, body_start;
    double on_time, last_engaged_time;
    double told[SWH_WARNING_COUNT]; /* when each of film_lost, contact_overheated, plate_softened was last
                                       told */
    long starved;                   /* openings of the low-pressure switch onto dry gas */
    double t_first;
    char state_names[SWH_STATE_MAX][48];
    const char *names[SWH_STATE_MAX];
    double rtol[SWH_STATE_MAX], atol[SWH_STATE_MAX];
    int col_ptr[SWH_STATE_MAX + 1], row_idx[SWH_STATE_MAX * 40];
    struct swh_entries entries;
    int root_direction[SWH_ROOT_COUNT];
    double y[SWH_STATE_MAX], dy[SWH_STATE_MAX];
    bool shifted; /* the next restart moves scalar states by `shift` */
    double shift[SWH_SCALAR_COUNT];
    bool by_caller; /* a sink or hook ended the run, nothing went wrong: what it came to until then counts */
    double previous_time;
    double channel_sum[SWH_CHANNEL_COUNT], channel_time[SWH_CHANNEL_COUNT], channel_last[SWH_CHANNEL_COUNT];
    struct swh_minute { /* integrals with the clutch engaged, minute by minute, the oldest written over */
        long number;
        double sum[SWH_CHANNEL_COUNT], time[SWH_CHANNEL_COUNT];
    } minute[SWH_GAUGE_MINUTES];
};

/* Prepares everything and the start state at time t0; inputs must be callable. */
enum swh_status swh_engine_start(struct swh_engine *e, const struct swh_case *c, double t0,
                                 const struct swh_sinks *sinks, struct swh_summary *summary,
                                 struct swh_error *err);
/* Integrates to t_stop; at each event acts, reports and restarts. emit is called after each internal step
 * with the time reached; outputs inside the step can be interpolated. Ends early (returns SWH_OK, *ended =
 * true) when a seizure ends the run. */
enum swh_status swh_engine_advance(struct swh_engine *e, double t_stop,
                                   enum swh_status (*emit)(struct swh_engine *e, double t, void *user,
                                                           struct swh_error *err),
                                   void *user, bool *ended, struct swh_error *err);
/* Re-reads the clutch request and everything that jumps, and restarts if that changed the modes or `jump`
 * says so. */
enum swh_status swh_engine_settle(struct swh_engine *e, bool jump, struct swh_error *err);
/* Channels at time t inside the last step; counts peaks and means; hands the row to the sink. */
enum swh_status swh_engine_row(struct swh_engine *e, double t, const double *measured, struct swh_error *err);
/* Channels at time t without handing them on. */
enum swh_status swh_engine_observe(struct swh_engine *e, double t, double *channel, struct swh_error *err);
/* Fills what the summary says at the end. */
void swh_engine_finish(struct swh_engine *e);
void swh_engine_free(struct swh_engine *e);

/* swh_run for solver/'s own use: `ready` is told of the engine before the first step (its state may be set
 * there), `step` of the time after each internal step. Either may be NULL; other than SWH_OK ends the run. */
struct swh_run_hooks {
    enum swh_status (*ready)(struct swh_engine *e, void *user, struct swh_error *err);
    enum swh_status (*step)(struct swh_engine *e, double t, void *user, struct swh_error *err);
    void *user;
};
enum swh_status swh_run_with_hooks(const struct swh_case *c, const struct swh_sinks *sinks,
                                   const struct swh_run_hooks *watch, struct swh_summary *summary,
                                   struct swh_error *err);

#endif
