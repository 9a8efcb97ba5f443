/* Times as loggers write them: clocks, dates, halves of a day, seconds since 1970. */
#ifndef SWH_SOLVER_FILES_CSV_TIME_H
#define SWH_SOLVER_FILES_CSV_TIME_H

#include <stdbool.h>
#include <stddef.h>

/* How the times of a column are written, as far as it has been seen. */
struct swh_time_style {
    bool minutes_first; /* "0:30" is 0 min 30 s, not half past midnight */
    bool begun;         /* a first time was read */
    bool dated;         /* times carry dates: no midnight is to be guessed */
    double first_day;   /* s from the era's beginning to midnight of the first date */
};

/* Reads "13:05", "1:05:23.5 PM", "2026-07-14T13:05:22Z", "07/14/2026 13:05" ([s, s + n), decimal sign
 * `point`) into seconds from midnight (with a date: from the midnight of the first date). An offset from UTC
 * at the end is read over: it is the same in every row. False if it is no such time. */
bool swh_time_read(const char *s, size_t n, char point, struct swh_time_style *style, double *seconds);

/* A number that can only be a count since 1970 (seconds, or thousandths or millionths of them) becomes
 * seconds from the midnight before the first one; any other number is left alone and gives false. */
bool swh_time_since_1970(struct swh_time_style *style, double *seconds);

#endif
