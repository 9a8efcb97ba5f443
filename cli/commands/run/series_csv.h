/* series.csv and events.csv */
#ifndef SWH_CLI_COMMANDS_RUN_SERIES_CSV_H
#define SWH_CLI_COMMANDS_RUN_SERIES_CSV_H

#include "solver/simulate/run.h"

#include <stdio.h>

enum { SWH_ROWFILE_BUFFER = 1 << 16 };

/* Writes rows as CSV, header `name[unit]` in SI base units. Columns are the channels that the first row has;
 * in a replay those of measured readings follow, called measured_NAME. */
struct swh_rowfile {
    FILE *file;
    bool measured[SWH_CHANNEL_COUNT]; /* columns wanted */
    int value_column[SWH_CHANNEL_COUNT], measured_column[SWH_CHANNEL_COUNT];
    int values, n_measured;
    bool begun;
    size_t used;
    char buffer[SWH_ROWFILE_BUFFER];
};

/* `measured`: which readings the log has; NULL in a run. */
void swh_rowfile_begin(struct swh_rowfile *s, FILE *file, const bool *measured);
void swh_rowfile_row(struct swh_rowfile *s, const struct swh_row *row);
/* Hands the last rows to the file. Whether all got through is seen when the file is closed. */
void swh_rowfile_end(struct swh_rowfile *s);

void swh_events_begin(FILE *file);
void swh_events_row(FILE *file, const struct swh_event_record *event);

#endif
