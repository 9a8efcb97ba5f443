/* The line of names of a log, sheet or schedule: which column is what, in which unit. */
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
    bool words;    /* text, not a number */
    bool absolute; /* a pressure that no gauge shows: bar means bar absolute */
};
enum { SWH_TARGETS_MAX = SWH_CHANNEL_COUNT + SWH_INPUT_COUNT + 4 };

struct swh_column {
    int target; /* -1: not used */
    int twin;   /* column that has the same target already, -1: none */
    struct swh_unit unit;
    char header[64], unit_text[32];
    long place;           /* where it begins in the line of names */
    bool foreign;         /* not called by the target's own name */
    bool taken_as_gauge;  /* nothing said whether gauge or absolute */
    bool engine;          /* the engine's speed: times the pulley ratio */
    bool unit_from_cells; /* its unit stands below its name, or in its cells */
    const char *spelled;  /* the name, as headers.def knows it; NULL: not there */
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
    double pulley_ratio; /* compressor revolutions per engine revolution; 0: an engine's speed is not used */
    bool no_time;        /* a file of rows in no particular time: a spot sheet */
};

/* The user's own names of columns, from request->map. */
struct swh_mapping;
/* NULL without memory. Problems with the file are noted. */
struct swh_mapping *swh_mapping_read(const struct swh_head_request *request, struct swh_problems *problems);
void swh_mapping_free(struct swh_mapping *m);

/* Takes a row as the line of names; returns how many are known. `out` is filled anew. */
int swh_head_names(const struct swh_mapping *m, const struct swh_csv *csv, const struct swh_csv_row *row,
                   struct swh_columns *out);
/* Whether a row below the names holds the columns' units and nothing else. */
bool swh_head_is_units(const struct swh_mapping *m, const struct swh_columns *c,
                       const struct swh_csv_row *row);
/* Finds the units, from the names, the row of units (or NULL), the first row of cells (or NULL). Wrong and
 * unknown units, mapped names that are not there are noted in `problems`; a column with a problem is not
 * used. `line`: of the names. */
void swh_head_units(const struct swh_mapping *m, struct swh_columns *c, const struct swh_csv_row *units,
                    const struct swh_csv_row *first, long line, struct swh_problems *problems);
/* Whether a cell begins with a number that is a word of its own ("12.5", "79 F", but not "2nd clamp"); `unit`
 * (or NULL) gets what follows it. */
bool swh_cell_is_number(const struct swh_cell *cell, char *unit, size_t size);

#endif
