/* Checks on doubles for the tests: finite, relative plus absolute, and all 17 digits shown when they fail.
 * Include this instead of cmocka.h. cmocka's own float assertions are not used: they compare in float and
 * accept NaN. */
#ifndef SWH_TESTS_CHECK_H
#define SWH_TESTS_CHECK_H

/* cmocka.h needs these four before it, in any order */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "model/base/status.h"

/* |actual - expected| <= rtol |expected| + atol, all four finite, 0 <= rtol <= 0.5 (more would accept nearly
 * anything) and atol >= 0; else false. */
static inline bool check_is_close(double actual, double expected, double rtol, double atol)
{
    if (!isfinite(actual) || !isfinite(expected) || !isfinite(rtol) || !isfinite(atol) || rtol < 0 ||
        rtol > 0.5 || atol < 0)
        return false;
    return fabs(actual - expected) <= rtol * fabs(expected) + atol;
}

static inline void check_close(double actual, double expected, double rtol, double atol, const char *words,
                               const char *file, int line)
{
    if (check_is_close(actual, expected, rtol, atol))
        return;
    const double off = actual - expected;
    print_error(
        "%s\n  is       %.17g\n  expected %.17g\n  off by   %.3g (%.3g of expected); allowed rtol %g, atol "
        "%g\n",
        words, actual, expected, off, off / fabs(expected), rtol, atol);
    _fail(file, line);
}

static inline void check_between(double actual, double low, double high, const char *words, const char *file,
                                 int line)
{
    if (isfinite(actual) && actual >= low && actual <= high)
        return;
    print_error("%s\n  is       %.17g\n  expected %.17g to %.17g\n", words, actual, low, high);
    _fail(file, line);
}

/* The same bits, so that -0 differs from 0 and a NaN equals itself: for 'two runs give the same result'. */
static inline void check_same_bits(const double *a, const double *b, size_t count, const char *words,
                                   const char *file, int line)
{
    for (size_t i = 0; i < count; i++) {
        if (memcmp(&a[i], &b[i], sizeof a[i]) == 0)
            continue;
        print_error("%s\n  differ first at [%zu]: %.17g and %.17g\n", words, i, a[i], b[i]);
        _fail(file, line);
    }
}

static inline void check_ok(int status, const struct swh_error *err, const char *words, const char *file,
                            int line)
{
    if (status == SWH_OK)
        return;
    print_error("%s\n  failed with status %d: %s%s%s (expected: %s)\n", words, status, err ? err->where : "",
                err && err->where[0] ? ": " : "", err ? err->what : "", err ? err->expected : "");
    _fail(file, line);
}

/* Fails unless `actual` is finite and |actual - expected| <= rtol |expected| + atol. */
#define CHECK_CLOSE(actual, expected, rtol, atol)                                                            \
    check_close((actual), (expected), (rtol), (atol), #actual, __FILE__, __LINE__)
/* Fails unless `actual` is finite and low <= actual <= high (the bounds may be infinite). */
#define CHECK_BETWEEN(actual, low, high) check_between((actual), (low), (high), #actual, __FILE__, __LINE__)
/* Fails at the first of `count` doubles whose bits differ. */
#define CHECK_SAME_BITS(a, b, count) check_same_bits((a), (b), (count), #a " and " #b, __FILE__, __LINE__)
/* Fails, showing the error's words, unless the swh_status of `call` is SWH_OK. `err` is a pointer or NULL. */
#define CHECK_OK(call, err) check_ok((int)(call), (err), #call, __FILE__, __LINE__)

#endif
