/* The first line of a log or schedule: which column is what, in which unit. */
#ifndef SWH_SOLVER_FILES_CSV_HEAD_H
#define SWH_SOLVER_FILES_CSV_HEAD_H

#include "solver/files/csv_text.h"
#include "solver/files/problems.h"
#include "solver/files/units.h"

/* What the columns of a file may be: channels, or inputs after the time. */
struct swh_target {
    const char *id;
    enum swh_quantity quantity;
    double lo, hi; /* physically possible */
};
enum { SWH_TARGETS_MAX = SWH_CHANNEL_COUNT + SWH_INPUT_COUNT + 1 };

struct swh_column {
    int target; /* -1: not used */
    struct swh_unit unit;
    char header[64], unit_text[32];
    bool foreign;        /* not called by the target's own name */
    bool taken_as_gauge; /* the header did not say whether gauge or absolute */
};
struct swh_columns {
    int count;
    struct swh_column column[SWH_CSV_CELLS];
    int of_target[SWH_TARGETS_MAX]; /* column of each target, -1 if none */
};

struct swh_head_request {
    const struct swh_target *target;
    int target_count;
    bool readings;   /* also recognise the usual foreign headers of readings */
    const char *map; /* INI file with foreign headers, or NULL */
    const char *path;
    const struct swh_units *units;
    bool (*interrupted)(void); /* whether a read that a signal broke into is the end; NULL: never */
};

/* Maps a line of headers. Wrong units, unknown units and doubled columns are noted in `problems`. */
void swh_head_map(const struct swh_head_request *request, const struct swh_csv *csv,
                  const struct swh_csv_row *row, struct swh_columns *out, struct swh_problems *problems);

#endif
