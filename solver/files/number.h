/* Numbers as text, fast and the same on every machine: no locale, no printf. */
#ifndef SWH_SOLVER_FILES_NUMBER_H
#define SWH_SOLVER_FILES_NUMBER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum { SWH_NUMBER_MAX = 32 }; /* longest text of one number */

/* Writes x with up to 9 significant digits (the form of printf's %.9g; halves are rounded away from zero);
 * nothing for NaN, "inf" or "-inf" for an infinity. Returns the length; no terminating NUL. */
size_t swh_number_write(char out[SWH_NUMBER_MAX], double x);

/* Writes `before`, then x in the same form. */
void swh_number_put(FILE *f, const char *before, double x);

/* Reads a decimal number at s, not beyond end; `point` is the decimal sign ('.' or ','). Returns the first
 * character after it, NULL if there is no number. No hexadecimal, no "inf", no "nan". */
const char *swh_number_read(const char *s, const char *end, char point, double *x);

#endif
