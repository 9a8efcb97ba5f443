/* A CSV file of numbers in SI, row by row: logs, spot sheets, drive schedules. Passes over lines about the
 * device before the line of names, reads a row of units below it. Checks times, units, ranges; names file,
 * line and column of what is wrong, and what is wrong with a whole column once. Bounded memory. */
#ifndef SWH_SOLVER_FILES_CSV_TABLE_H
#define SWH_SOLVER_FILES_CSV_TABLE_H

#include "solver/files/csv_head.h"
#include "solver/files/csv_time.h"

/* Steps between rows that are longer than 10 s: the eight longest, in order of time. */
enum { SWH_TABLE_GAPS = 8 };
struct swh_table_gap {
    double from, length; /* s */
};

/* Notable things about the rows read so far */
struct swh_table_facts {
    long rows;
    double first_time, last_time; /* s */
    struct swh_table_gap gap[SWH_TABLE_GAPS];
    int gaps;
    bool clock;                  /* times of day */
    bool since_1970;             /* times counted in seconds since 1970 */
    bool minutes_first;          /* times like 0:30, read as minutes and seconds */
    bool cut_off;                /* the last line has no end */
    bool half_line;              /* the last line of a live log has no end, and was left out */
    long lines_above;            /* lines about the device, before the line of names */
    bool units_row;              /* the units stand in a row of their own */
    long dropped[SWH_CSV_CELLS]; /* of each column: cells that say that there was no reading, as 65535 does */
};

struct swh_table;

/* Opens a file and maps its line of names. target[0] is the time. Problems with that line are noted; NULL
 * if the file cannot be read at all. `atmosphere` [Pa]: what gauge pressures count from. The head request
 * must outlive the table. */
struct swh_table *swh_table_open(const struct swh_head_request *head, double atmosphere,
                                 struct swh_problems *problems);
void swh_table_close(struct swh_table *t);
const struct swh_columns *swh_table_columns(const struct swh_table *t);
char swh_table_separator(const struct swh_table *t);

/* Reads the next row: value[target_count] in SI, NaN where blank or absent. *more = false at the end. After
 * an error in a cell (SWH_ERR_INPUT and swh_table_broken() false) the next row may still be read. */
enum swh_status swh_table_next(struct swh_table *t, double *value, bool *more, struct swh_error *err);
bool swh_table_broken(const struct swh_table *t);
const struct swh_table_facts *swh_table_get_facts(const struct swh_table *t);
/* line of the line of names */
long swh_table_head_line(const struct swh_table *t);
/* Line of the row just read, and the column at which a target's cell begins in it. */
long swh_table_line(const struct swh_table *t);
long swh_table_place(const struct swh_table *t, int target);
/* The words of the row just read in the column of a target of words; "" if there are none. */
const char *swh_table_words(const struct swh_table *t, int target, char *out, size_t size);

#endif
