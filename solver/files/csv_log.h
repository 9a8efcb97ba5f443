/* Logs of readings as a source for a replay. */
#ifndef SWH_SOLVER_FILES_CSV_LOG_H
#define SWH_SOLVER_FILES_CSV_LOG_H

#include "solver/files/csv_table.h"
#include "solver/files/notes.h"
#include "solver/simulate/run.h"

struct swh_log_request {
    const char *path;    /* "-" for the standard input */
    const char *columns; /* MAP.ini, or NULL */
    const struct swh_units *units;
    double atmosphere;         /* Pa, what gauge pressures count from */
    bool (*interrupted)(void); /* whether a read that a signal broke into ends the log; NULL: never */
    double pulley_ratio;       /* compressor over engine revolutions; 0: not known, engine's speed unused */
    bool required[SWH_CHANNEL_COUNT]; /* channels without which it is of no use */
    bool wanted[SWH_CHANNEL_COUNT];   /* channels whose misspelt name is a mistake, and not a column unused */
};

struct swh_log;

/* Opens a log; problems with its first line are noted. NULL if it cannot be read at all. Free with close. */
struct swh_log *swh_log_open(const struct swh_log_request *request, struct swh_problems *problems);
void swh_log_close(struct swh_log *log);
/* Reads one row; *more = false at the end, where a log of less than two rows is an error. */
enum swh_status swh_log_next(struct swh_log *log, struct swh_log_row *row, bool *more, struct swh_error *err);
bool swh_log_broken(const struct swh_log *log); /* after an error: no further row can be read */
struct swh_log_source swh_log_as_source(struct swh_log *log);
bool swh_log_has(const struct swh_log *log, enum swh_channel channel);
/* 1 or 0 where the log's own column says all along that the doors were open or shut; NaN if it does not. */
double swh_log_doors(const struct swh_log *log);
const struct swh_table_facts *swh_log_facts(const struct swh_log *log);

long swh_log_readings(const struct swh_log *log, enum swh_channel channel);
/* -INFINITY without readings */
double swh_log_highest(const struct swh_log *log, enum swh_channel channel);
long swh_log_head_line(const struct swh_log *log);

/* Notes which column was read as what. */
void swh_log_note_columns(const struct swh_log *log, struct swh_notes *notes);
/* Notes, after reading, what looks odd: gaps, a missing end of line, readings that are blank or never change,
 * a clutch that is never on, a short log, pressures that were probably written in another unit or exchanged.
 * False if the pressures cannot be believed. */
bool swh_log_note_oddities(const struct swh_log *log, struct swh_notes *notes);

#endif
