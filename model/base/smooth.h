/* Regularised minimum, maximum, step and root: the only place with such functions and their widths. A kink in
 * the right-hand side costs the integrator steps; these are smooth and cheap. */
#ifndef SWH_MODEL_BASE_SMOOTH_H
#define SWH_MODEL_BASE_SMOOTH_H

#include <math.h>

/* The larger and the lesser of x and a limit, as fmax and fmin give them (the limit for a NaN), which the
 * compiler may only call, while these are one instruction. */
static inline double swh_max(double x, double limit)
{
    return x > limit ? x : limit;
}
static inline double swh_min(double x, double limit)
{
    return x < limit ? x : limit;
}
/* max(x, 0), rounded over a width d (same unit as x, > 0) */
static inline double swh_smooth_pos(double x, double d)
{
    return 0.5 * (x + sqrt(x * x + d * d));
}
/* its derivative with x */
static inline double swh_plus_slope(double x, double d)
{
    return 0.5 * (1 + x / sqrt(x * x + d * d));
}
/* min(a, b), rounded over a width d */
static inline double swh_smooth_min(double a, double b, double d)
{
    return a - swh_smooth_pos(a - b, d);
}
/* 0 below 0, 1 above 1, between 3x^2 - 2x^3 */
static inline double swh_smooth_step(double x)
{
    if (x <= 0)
        return 0;
    if (x >= 1)
        return 1;
    return x * x * (3 - 2 * x);
}
/* its derivative with x */
static inline double swh_step_slope(double x)
{
    return x > 0 && x < 1 ? 6 * x * (1 - x) : 0;
}
/* x held inside [lo, hi], rounded over d at both ends */
static inline double swh_smooth_clip(double x, double lo, double hi, double d)
{
    return lo + swh_smooth_pos(x - lo, d) - swh_smooth_pos(x - hi, d);
}
/* its derivative with x */
static inline double swh_clip_slope(double x, double lo, double hi, double d)
{
    return swh_plus_slope(x - lo, d) - swh_plus_slope(x - hi, d);
}
/* sign(x) sqrt|x|, linear within about d of zero */
static inline double swh_signed_sqrt(double x, double d)
{
    return x / sqrt(sqrt(x * x + d * d));
}
/* x^0.75 for x >= 0: the mean exponent of turbulent and mixed convection, by two square roots */
static inline double swh_pow_three_quarters(double x)
{
    const double r = sqrt(x);
    return r * sqrt(r);
}
/* x^e for x >= 0. Exponents of physical laws are often small whole numbers: those by multiplication. */
static inline double swh_power(double x, double e)
{
    const int n = e >= 0 && e <= 12 ? (int)e : 0;
    if (n != e)
        return pow(x, e);
    double y = n & 1 ? x : 1;
    const double x2 = x * x, x4 = x2 * x2;
    y *= n & 2 ? x2 : 1;
    y *= n & 4 ? x4 : 1;
    return n & 8 ? y * (x4 * x4) : y;
}

/* A value that may be held still: `held`, or `value` while that is blank (NaN). */
static inline double swh_held(double held, double value)
{
    return isnan(held) ? value : held;
}

#endif
