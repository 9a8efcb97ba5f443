/* A CSV file of numbers in SI, row by row: logs and drive schedules. Checks times, units, ranges; names file,
 * line and column of what is wrong. Bounded memory. */
#ifndef SWH_SOLVER_FILES_CSV_TABLE_H
#define SWH_SOLVER_FILES_CSV_TABLE_H

#include "solver/files/csv_head.h"

/* Notable things about the rows read so far */
struct swh_table_facts {
    long rows;
    double first_time, last_time, longest_gap, gap_from; /* s */
    bool clock;                                          /* times of day, hh:mm:ss */
    bool cut_off;                                        /* the last line has no end */
    bool half_line; /* the last line of a live log has no end, and was left out */
};

struct swh_table;

/* Opens a file and maps its first line. target[0] is the time. Problems with the first line are noted; NULL
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
/* line of the first line, of names */
long swh_table_head_line(const struct swh_table *t);

#endif
