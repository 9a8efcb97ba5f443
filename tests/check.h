/* Comparing doubles in tests. cmocka 1.1.5's assert_float_equal casts to float and accepts NaN: never use it
 * here. */
#ifndef SWH_TESTS_CHECK_H
#define SWH_TESTS_CHECK_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>

static inline int swh_close(double actual, double expected, double rtol, double atol)
{
    return isfinite(actual) && isfinite(expected) && rtol <= 0.5 &&
           fabs(actual - expected) <= rtol * fabs(expected) + atol;
}

/* both finite and |actual - expected| <= rtol |expected| + atol; prints both numbers with 17 digits */
#define CHECK_CLOSE(actual, expected, rtol, atol)                                                            \
    do {                                                                                                     \
        const double swh_a = (actual), swh_e = (expected);                                                   \
        if (!swh_close(swh_a, swh_e, (rtol), (atol))) {                                                      \
            print_error("%s:%d: %s = %.17g, expected %.17g\n", __FILE__, __LINE__, #actual, swh_a, swh_e);   \
            fail();                                                                                          \
        }                                                                                                    \
    } while (0)

/* lo <= actual <= hi, finite */
#define CHECK_BETWEEN(actual, lo, hi)                                                                        \
    do {                                                                                                     \
        const double swh_a = (actual);                                                                       \
        if (!(swh_a >= (lo) && swh_a <= (hi))) {                                                             \
            print_error("%s:%d: %s = %.17g, expected %.17g to %.17g\n", __FILE__, __LINE__, #actual, swh_a,  \
                        (double)(lo), (double)(hi));                                                         \
            fail();                                                                                          \
        }                                                                                                    \
    } while (0)

#endif
