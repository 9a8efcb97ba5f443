/* Rows and events kept in memory for pictures: a bounded number of points whatever the length of the run.
 * When there are too many, neighbours are merged so that each channel's minima and maxima stay. */
#ifndef SWH_CLI_COMMANDS_RUN_DECIMATED_SERIES_H
#define SWH_CLI_COMMANDS_RUN_DECIMATED_SERIES_H

#include "solver/simulate/run.h"

enum { SWH_KEEP_ROWS = 4000, SWH_KEEP_EVENTS = 2000 };

struct swh_keep {
    int rows;
    double *value;    /* rows x SWH_CHANNEL_COUNT */
    double *measured; /* the same, or NULL */
    int events;
    struct swh_event_record *event; /* the first SWH_KEEP_EVENTS */
    long events_lost;

    /* private: a bucket of `stride` rows is open at the end, merged into two */
    long stride, in_bucket;
};

/* with_measured: rows carry measured readings. SWH_ERR_MEMORY. Free in either case. */
enum swh_status swh_keep_begin(struct swh_keep *k, bool with_measured, struct swh_error *err);
void swh_keep_free(struct swh_keep *k);
void swh_keep_row(struct swh_keep *k, const struct swh_row *row);
void swh_keep_end(struct swh_keep *k); /* after the last row */
void swh_keep_event(struct swh_keep *k, const struct swh_event_record *event);

#endif
