/* Many cases at once: the points of a plan run in parallel threads, one result row each. */
#ifndef SWH_SOLVER_STUDY_SWEEP_H
#define SWH_SOLVER_STUDY_SWEEP_H

#include "solver/simulate/key.h"
#include "solver/simulate/run.h"
#include "solver/study/sample.h"

/* Extremes that a row carries: SWEEP_EXTREME(channel, 1 highest / 0 lowest) */
#define SWH_SWEEP_EXTREMES(SWEEP_EXTREME)                                                                    \
    SWEEP_EXTREME(rotor_temperature, 1)                                                                      \
    SWEEP_EXTREME(contact_temperature, 1)                                                                    \
    SWEEP_EXTREME(oil_temperature, 1)                                                                        \
    SWEEP_EXTREME(block_temperature, 1)                                                                      \
    SWEEP_EXTREME(head_temperature, 1)                                                                       \
    SWEEP_EXTREME(shell_temperature, 1)                                                                      \
    SWEEP_EXTREME(discharge_temperature, 1)                                                                  \
    SWEEP_EXTREME(discharge_pressure, 1)                                                                     \
    SWEEP_EXTREME(superheat, 1)                                                                              \
    SWEEP_EXTREME(suction_pressure, 0)                                                                       \
    SWEEP_EXTREME(film_ratio, 0)                                                                             \
    SWEEP_EXTREME(running_clearance, 0)                                                                      \
    SWEEP_EXTREME(oil_mass, 0)

enum {
#define SWEEP_EXTREME(channel, highest) SWH_SWEEP_##channel,
    SWH_SWEEP_EXTREMES(SWEEP_EXTREME)
#undef SWEEP_EXTREME
        SWH_SWEEP_EXTREME_COUNT
};
struct swh_sweep_extreme {
    enum swh_channel channel;
    bool highest;
    const char *column; /* "peak_rotor_temperature", "lowest_film_ratio" */
};
extern const struct swh_sweep_extreme swh_sweep_extremes[SWH_SWEEP_EXTREME_COUNT];

/* How a case went; the first seven are enum swh_outcome. */
enum swh_case_result {
    SWH_CASE_SURVIVES,
    SWH_CASE_SHOE_SEIZED,
    SWH_CASE_BORE_SEIZED,
    SWH_CASE_PROTECTED,
    SWH_CASE_OVERHEATED,
    SWH_CASE_BURST,
    SWH_CASE_INCOMPLETE = SWH_INCOMPLETE, /* the integrator could not go on */
    SWH_CASE_IMPOSSIBLE, /* the values contradict each other (a charge that does not fit, ...) */
    SWH_CASE_RESULT_COUNT
};
const char *swh_case_result_word(enum swh_case_result result);

struct swh_sweep_row {
    bool done;
    enum swh_case_result result;
    enum swh_seizure cause; /* of a seizure; else SWH_SEIZURE_COUNT */
    double input[SWH_SAMPLE_AXES];
    double time_to_seizure, end_time; /* s; time_to_seizure NaN if none */
    double duty, suction_cooling_share;
    double extreme[SWH_SWEEP_EXTREME_COUNT]; /* SI, NaN if the channel does not exist */
};

/* How a run went, in a row without inputs. */
void swh_sweep_row_fill(enum swh_status status, const struct swh_summary *summary, struct swh_sweep_row *row);

struct swh_sweep {
    const struct swh_case *base; /* output interval and duration are taken from it */
    struct swh_sampling plan;
    struct swh_key key[SWH_SAMPLE_AXES];
    long shard, shards; /* only cases with index % shards == shard; shards 1: all */
    int threads;        /* 0: as many as the machine has */
    /* A case is done. Called by one thread at a time, in the order in which cases finish; other than SWH_OK
     * ends the sweep with that status once the cases under way are through. May be NULL. */
    enum swh_status (*finished)(long index, const struct swh_sweep_row *row, void *user,
                                struct swh_error *err);
    void *user;
};

/* Checks keys against ranges, begins the plan. SWH_ERR_INPUT names the key. swh_sweep_free in either case. */
enum swh_status swh_sweep_begin(struct swh_sweep *s, struct swh_error *err);
void swh_sweep_free(struct swh_sweep *s);

/* Runs all cases of the shard whose row is not yet done. rows: plan.count of them. A row depends on base and
 * plan only: not on threads, order, shard or what was done before. */
enum swh_status swh_sweep_run(const struct swh_sweep *s, struct swh_sweep_row *rows, struct swh_error *err);

/* One case of a sweep by itself. SWH_ERR_MEMORY, SWH_ERR_OUTPUT; what goes wrong
 * inside is the row's result. */
enum swh_status swh_sweep_case(const struct swh_sweep *s, long index, struct swh_sweep_row *row,
                               struct swh_error *err);

/* A number that changes with anything that the rows depend on (FNV-1a, 64 bits). */
uint64_t swh_sweep_fingerprint(const struct swh_sweep *s);

/* Threads that are used if none are asked for. */
int swh_sweep_default_threads(void);

#endif
