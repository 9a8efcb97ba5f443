/* A log held in memory: read once, replayed as often as wanted, by several threads at a time. */
#ifndef SWH_SOLVER_SIMULATE_LOG_MEMORY_H
#define SWH_SOLVER_SIMULATE_LOG_MEMORY_H

#include "solver/simulate/run.h"

struct swh_log_memory {
    struct swh_log_row *row; /* SI, times strictly increasing */
    size_t rows, capacity;
    bool has[SWH_CHANNEL_COUNT]; /* channels with at least one reading */
};

/* Appends a row. Rows closer than `spacing` [s] to the one before are left out unless the clutch changes.
 * SWH_ERR_MEMORY. */
enum swh_status swh_log_memory_add(struct swh_log_memory *m, const struct swh_log_row *row, double spacing,
                                   struct swh_error *err);
/* Averages the rows of each `span` [s] into one, within stretches of the same clutch state; `to` is new.
 * Blanks do not count. The row of a clutch edge stays by itself. SWH_ERR_MEMORY. */
enum swh_status swh_log_memory_average(struct swh_log_memory *to, const struct swh_log_memory *from,
                                       double span, struct swh_error *err);
/* Leaves every second row out; returns the usual time between those that are left [s]. */
double swh_log_memory_thin(struct swh_log_memory *m);
void swh_log_memory_free(struct swh_log_memory *m);
/* Time between first and last row [s]; 0 if there are fewer than two. */
double swh_log_memory_span(const struct swh_log_memory *m);
/* Seconds with the clutch engaged (blanks: as before; a log without a clutch counts as engaged) and the shaft
 * not known to stand. Gaps of more than three usual steps, at least 10 s, count as that long only. */
double swh_log_memory_at_work(const struct swh_log_memory *m);
/* Seconds of the log that a channel's readings cover: those less than a minute apart. */
double swh_log_memory_covered(const struct swh_log_memory *m, enum swh_channel channel);

/* Least and fair time at work [s] of a log that is to tell a cause: one and two time constants of the
 * compressor's metal. From cold its parts have gone 63 % of their way after 240 to 290 s in this model (bay,
 * 32 degC, 1500 rpm), the pressures after 10 s. Until then a warm compressor reads much as a cold one that is
 * warming up. */
#define SWH_LEAST_AT_WORK 300.0
#define SWH_FAIR_AT_WORK 600.0

/* A reader of a log in memory; each thread has its own. */
struct swh_log_cursor {
    const struct swh_log_memory *log;
    size_t next;
};
/* The cursor as a source for swh_replay; starts at the first row. The cursor must outlive the source. */
struct swh_log_source swh_log_cursor_source(struct swh_log_cursor *cursor, const struct swh_log_memory *log);

/* What a channel's readings are worth. */
struct swh_channel_facts {
    size_t readings;
    double lowest, highest, mean; /* NaN without readings */
};
struct swh_channel_facts swh_log_channel_facts(const struct swh_log_memory *m, enum swh_channel channel);

#endif
