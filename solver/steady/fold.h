/* The edge between holding and lost along one number: bracketing and bisection on a yes-or-no probe, and the
 * slow rate of return as evidence that a stable state is about to vanish. Knows nothing of compressors. */
#ifndef SWH_SOLVER_STEADY_FOLD_H
#define SWH_SOLVER_STEADY_FOLD_H

#include "model/base/status.h"

#include <stdbool.h>
#include <stddef.h>

struct swh_probe_result {
    bool lost;
    double time;   /* s until lost; NaN if it holds */
    double growth; /* 1/s, rate at which a small disturbance grows (< 0: dies out); NaN if unknown */
};

/* Tries x. Other than SWH_OK ends the search. */
typedef enum swh_status (*swh_probe)(double x, struct swh_probe_result *out, void *user,
                                     struct swh_error *err);

struct swh_fold_search {
    swh_probe probe;
    void *user;
    double tolerance; /* width of the last bracket, > 0, in the unit of x */
    int steps;        /* equal steps in which a range is scanned for the first change, >= 1 */
};

struct swh_fold {
    bool found;
    double holds, lost, critical; /* last bracket and its middle; NaN if not found */
    struct swh_probe_result at_holds, at_lost;
    struct swh_probe_result at_end; /* at the last value scanned, if nothing was found */
    int probes;
};

/* Goes from `from`, where the verdict is `at_from`, toward `to` until the verdict changes, then bisects. An
 * edge narrower than a step may be missed: the scan sees the verdict at its steps only. */
enum swh_status swh_fold_scan(const struct swh_fold_search *s, double from,
                              const struct swh_probe_result *at_from, double to, struct swh_fold *out,
                              struct swh_error *err);

/* The same near a guess: brackets outward from `guess` with steps that double, starting with `width`, inside
 * lo..hi. up: larger x is lost. For following an edge while something else changes. */
enum swh_status swh_fold_near(const struct swh_fold_search *s, double guess, double width, double lo,
                              double hi, bool up, struct swh_fold *out, struct swh_error *err);

/* Rate of the slowest way back [1/s] from equally spaced samples T[n] (interval dt) that come to rest: from
 * the ratio of successive differences while the rest is nearer than `near` (unit of T), so that faster ways
 * have died out, and the differences are above `noise`. NaN if there are fewer than five such differences or
 * they do not keep one direction. */
double swh_growth_rate(const double *T, size_t n, double dt, double near, double noise);

/* Near a saddle-node fold the square of the slow rate falls linearly to zero at the critical value (normal
 * form dx/dt = mu + x^2, rate^2 = -4 mu). Line through (x, growth^2) by least squares, n >= 2; returns where
 * it is zero, NaN if there is no such place. An estimate of the critical value that owes nothing to
 * bisection. */
double swh_fold_extrapolate(const double *x, const double *growth, size_t n);

#endif
