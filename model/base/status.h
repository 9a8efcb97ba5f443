/* Errors are values: the first thing that went wrong, with where, what was found and what was expected.
 *
 * Functions that can fail take a `struct swh_error *err` last and return an `enum swh_status` (0 = SWH_OK).
 * Only cli/ prints. The exit status of the program follows from the status: see swh_status_exit_code. */
#ifndef SWH_MODEL_BASE_STATUS_H
#define SWH_MODEL_BASE_STATUS_H

#include "model/base/error.h"

/* Clears `err` (may be NULL). */
void swh_error_clear(struct swh_error *err);

/* Fills `err` unless it already holds an error (the first one wins; err may be NULL) and returns `status`.
 * `what` is a printf format. */
enum swh_status swh_error_set(struct swh_error *err, enum swh_status status, const char *what, ...)
    __attribute__((format(printf, 3, 4)));

/* Adds the place (where may be NULL; line and column 0 if unknown) to an error that has none yet. */
void swh_error_at(struct swh_error *err, const char *where, long line, long column);

/* Adds what was expected to an error that does not say so yet. `expected` is a printf format. */
void swh_error_expected(struct swh_error *err, const char *expected, ...)
    __attribute__((format(printf, 2, 3)));

/* The program's exit status for `status`: 0 done, 2 usage, 3 bad input, 4 could not go on, 5 not writable,
 * 6 out of memory. */
int swh_status_exit_code(enum swh_status status);

#endif
