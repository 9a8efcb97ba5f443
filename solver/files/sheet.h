/* Spot sheets: CSV files of readings written down at test points, without a column of times. */
#ifndef SWH_SOLVER_FILES_SHEET_H
#define SWH_SOLVER_FILES_SHEET_H

#include "solver/files/notes.h"
#include "solver/files/problems.h"
#include "solver/files/units.h"
#include "solver/simulate/spot_sheet.h"

struct swh_sheet_request {
    const char *path;
    const char *columns; /* MAP.ini, or NULL */
    const struct swh_units *units;
    double atmosphere;   /* Pa, what gauge pressures count from */
    double pulley_ratio; /* compressor over engine revolutions; 0: an engine's speed is not used */
};

/* Whether a CSV file is a spot sheet: it has readings and no column of times; or it has one, and a column of
 * points or rows more than a minute and a half apart. False also where it cannot be read. "-" is a log. */
bool swh_sheet_looks_like(const struct swh_sheet_request *request);

/* Reads a spot sheet. `point` (words), `held` (a time, SWH_SPOT_HELD where blank) and `doors_open` (yes, no)
 * are read besides readings under their own or their usual names. Rows without a reading are passed over and
 * counted in the notes, which also say what each column was taken for. Problems are noted with file, line and
 * column; returns the status of the first. */
enum swh_status swh_sheet_read(const struct swh_sheet_request *request, struct swh_spot_sheet *out,
                               struct swh_notes *notes, struct swh_problems *problems);

#endif
