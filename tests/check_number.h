/* Comparison of doubles: cmocka's own casts to float and takes NaN for anything. */
#ifndef SWH_TESTS_CHECK_NUMBER_H
#define SWH_TESTS_CHECK_NUMBER_H

#include <math.h>
#include <stdio.h>

/* fails unless |a - b| <= tolerance * max(|b|, 1e-300) */
#define check_close(a, b, tolerance)                                                                         \
    do {                                                                                                     \
        const double a_ = (a), b_ = (b);                                                                     \
        if (!(fabs(a_ - b_) <= (tolerance)*fmax(fabs(b_), 1e-300))) {                                        \
            print_error("%s = %.17g, expected %.17g\n", #a, a_, b_);                                         \
            fail();                                                                                          \
        }                                                                                                    \
    } while (0)

#endif
