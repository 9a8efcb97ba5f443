/* CSV files as rows of cells, with places. Finds out the separator (comma, semicolon, tab) by itself;
 * reads byte-order marks, CRLF, quotes. Bounded memory whatever the file's length; libcsv does the
 * parsing. */
#ifndef SWH_SOLVER_FILES_CSV_TEXT_H
#define SWH_SOLVER_FILES_CSV_TEXT_H

#include "model/base/status.h"

#include <stdbool.h>
#include <stddef.h>

enum { SWH_CSV_CELLS = 256, SWH_CSV_LINE = 65536 }; /* most cells of a row, most bytes of a line */

struct swh_cell {
    const char *text; /* not terminated */
    size_t length;
};
struct swh_csv_row {
    const struct swh_cell *cell; /* valid until the next row is read */
    int count;
    long line;    /* in which the row begins */
    bool cut_off; /* the file ends in this row, without an end of line */
};

struct swh_csv;

/* Opens a file, "-" for the standard input, and reads as far as its separator needs. NULL with err set.
 * Where a signal breaks into a read, `interrupted` (NULL: never) says whether that is the end of the file. */
struct swh_csv *swh_csv_open(const char *path, bool (*interrupted)(void), struct swh_error *err);
void swh_csv_close(struct swh_csv *csv);
/* Reads the next row that has anything in it; blank lines and lines that begin with '#' are passed over.
 * *more = false at the end. SWH_ERR_INPUT with file, line and column. */
enum swh_status swh_csv_next(struct swh_csv *csv, struct swh_csv_row *row, bool *more, struct swh_error *err);
/* Column (from 1) at which cell number i of the row just read begins in its line. */
long swh_csv_column(const struct swh_csv *csv, int cell);
char swh_csv_separator(const struct swh_csv *csv);

#endif
