/* --vary KEY=LO..HI:N and its like: keys, ranges and units on the command line. */
#ifndef SWH_CLI_BASE_RANGE_OPTION_H
#define SWH_CLI_BASE_RANGE_OPTION_H

#include "solver/files/units.h"
#include "solver/simulate/key.h"
#include "solver/study/sample.h"

/* Finds a key of a case; an unknown one is an error that names
 * the nearest. `where` is the option as written. */
enum swh_status swh_vary_key(const struct swh_case *c, const char *name, const char *where,
                             struct swh_key *key, struct swh_error *err);
/* Reads "LO..HI" in the unit of the key; a unit after HI alone counts for both. Neither order nor limits are
 * checked. */
enum swh_status swh_vary_range(const struct swh_units *u, const char *text, const struct swh_key *key,
                               double *lo, double *hi, struct swh_error *err);
/* Reads "KEY=LO..HI" or, with `counted`, "KEY=LO..HI:N" (n is 0 if N is missing). */
enum swh_status swh_vary_read(const struct swh_units *u, const struct swh_case *c, const char *text,
                              struct swh_key *key, struct swh_range *range, struct swh_error *err);
/* What an option asks for and cannot be had is wrong usage, not a bad file: turns SWH_ERR_INPUT into
 * SWH_ERR_USAGE, in `err` too, and names the option unless the error has a place. Other states stay. */
enum swh_status swh_vary_judged(enum swh_status status, const char *option, struct swh_error *err);
/* Reads a whole number in lo..hi. */
enum swh_status swh_vary_count(const char *text, const char *where, long lo, long hi, long *out,
                               struct swh_error *err);

#endif
