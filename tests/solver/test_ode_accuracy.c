/* How near the integrator comes, and what it conserves. Sources are named beside each check. */
#include "solver/ode/ode.h"
#include "tests/check.h"
#include "tests/solver/ode_ring.h"

#include <stdlib.h>

enum { NODES = 30 };
static const double PI = 3.141592653589793, K = 0.4; /* conductance by capacity of the ladder [1/s] */

/* ---- RC ladder with both ends held at zero; a sum takes what leaves at the far end ---- */
static int ladder(double t, const double *y, double *dy, void *user)
{
    (void)t;
    (void)user;
    for (int i = 0; i < NODES; i++)
        dy[i] = K * ((i > 0 ? y[i - 1] : 0) - 2 * y[i] + (i + 1 < NODES ? y[i + 1] : 0));
    dy[NODES] = K * y[NODES - 1];
    return 0;
}

/* its modes are sines that fade with 4 K sin^2(k pi/(2 (NODES + 1))): the discrete heat equation, textbook */
static double ladder_exact(int node, double t)
{
    static const int mode[3] = {1, 4, 21};
    static const double size[3] = {80, 30, 10};
    double sum = 0;
    for (int q = 0; q < 3; q++) {
        const double half = sin(mode[q] * PI / (2 * (NODES + 1)));
        sum += size[q] * sin(mode[q] * PI * node / (NODES + 1)) * exp(-4 * K * half * half * t);
    }
    return sum;
}

/* what left: the integral of K T_NODES, mode by mode */
static double ladder_left(double t)
{
    static const int mode[3] = {1, 4, 21};
    static const double size[3] = {80, 30, 10};
    double sum = 0;
    for (int q = 0; q < 3; q++) {
        const double half = sin(mode[q] * PI / (2 * (NODES + 1))), rate = 4 * K * half * half;
        sum += K * size[q] * sin(mode[q] * PI * NODES / (NODES + 1)) * (1 - exp(-rate * t)) / rate;
    }
    return sum;
}

/* largest error at t = 100 s, in units of the tolerance; the pattern is the sparse one or none */
static double ladder_error(double tol, int sparse, int kinked, double *left)
{
    double rtol[NODES + 1], atol[NODES + 1], y0[NODES + 1] = {0};
    int col_ptr[NODES + 2] = {0}, row_idx[4 * NODES + 4], count = 0;
    for (int j = 0; j <= NODES; j++) {
        for (int i = 0; i <= NODES; i++)
            if (i == j || (j < NODES && abs(i - j) == 1))
                row_idx[count++] = i;
        col_ptr[j + 1] = count;
        rtol[j] = tol;
        atol[j] = j < NODES ? tol : INFINITY;
        y0[j] = j < NODES ? ladder_exact(j + 1, 0) : 0;
    }
    const struct swh_ode_problem p = {.n = NODES + 1,
                                      .rhs = ladder,
                                      .rtol = rtol,
                                      .atol = atol,
                                      .col_ptr = sparse ? col_ptr : NULL,
                                      .row_idx = sparse ? row_idx : NULL,
                                      .kinked = kinked};
    struct swh_error err = {0};
    struct swh_ode *o = swh_ode_create(&p, 0, y0, &err);
    assert_non_null(o);
    while (swh_ode_time(o) < 100)
        assert_true(swh_ode_step(o, 100, &err) != SWH_ODE_FAILED);
    double worst = 0;
    for (int i = 0; i < NODES; i++) {
        const double exact = ladder_exact(i + 1, 100);
        worst = fmax(worst, fabs(swh_ode_state(o)[i] - exact) / (tol * fabs(exact) + tol));
    }
    *left = swh_ode_state(o)[NODES];
    swh_ode_free(o);
    return worst;
}

/* The manual of the integrator expects global errors above the local tolerance; within 100 of it is its own
 * rule. The tolerance must mean something: two decades tighter has to bring at least one decade. */
static void test_ladder(void **state)
{
    (void)state;
    for (int way = 0; way < 3; way++) { /* dense, sparse, sparse and ready for corners */
        double left, coarse = 0;
        for (double tol = 1e-4; tol > 1e-9; tol *= 0.01) {
            const double error = ladder_error(tol, way > 0, way > 1, &left);
            CHECK_BETWEEN(error, 0, 100);
            CHECK_CLOSE(left, ladder_left(100), 100 * tol,
                        0); /* the sum follows, though it has no tolerance */
            if (coarse > 0)
                CHECK_BETWEEN(error * tol, 0, 0.1 * coarse);
            coarse = error * tol;
        }
    }
}

/* What the rates conserve the steps conserve, to the rounding of a Newton solution, over half an hour and 150
 * restarts; and a switching costs a bounded number of steps. */
static void test_ring_conserves(void **state)
{
    (void)state;
    double y[RING_STATES], again[RING_STATES], mass, energy;
    struct swh_ode_stats s, t;
    assert_int_equal(ring_run(1e-4, 1800, 12, y, &mass, &energy, &s), 150);
    CHECK_BETWEEN(mass, 0, 1e-12);
    CHECK_BETWEEN(energy, 0, 1e-12);
    assert_true(y[RING_HEAT] > 1e4 && y[RING_WORK] > 1e4); /* something did happen */
    assert_int_equal(s.restarts, 150);                     /* counters live on over restarts */
    CHECK_BETWEEN((double)s.steps / 150, 5, 55);
    assert_true(s.rhs_evals > s.jac_rhs_evals && s.jac_rhs_evals > s.jac_evals && s.jac_evals > 150);
    assert_int_equal(ring_run(1e-4, 1800, 12, again, &mass, &energy, &t), 150);
    CHECK_SAME_BITS(y, again, RING_STATES);
    assert_memory_equal(&s, &t, sizeof s);
}

/* largest relative error at any of the five switchings in the first minute */
static double ring_error(double tol, double reference[5][RING_STATES])
{
    double worst = 0;
    for (int k = 0; k < 5; k++) {
        double y[RING_STATES], mass, energy;
        struct swh_ode_stats s;
        assert_int_equal(ring_run(tol, 12 * (k + 1), 12, y, &mass, &energy, &s), k + 1);
        for (int i = 0; i < 2 * RING_VOLUMES; i++)
            worst = fmax(worst, fabs(y[i] / reference[k][i] - 1));
    }
    return worst;
}

/* Tolerances are felt in the full nonlinear system too. A method of order q that holds the local error at tol
 * leaves a global error of about tol^(q/(q+1)) (Hairer, Norsett and Wanner, section II.4); with q of 2 or
 * more five decades of tol must bring 5 x 2/3 decades. One end point would not do: the ring forgets, so a
 * single error may be small by luck. The reference is the same code at 1e-9; test_ode_scipy.py brings
 * another's. */
static void test_ring_converges(void **state)
{
    (void)state;
    static double reference[5][RING_STATES];
    for (int k = 0; k < 5; k++) {
        double mass, energy;
        struct swh_ode_stats s;
        assert_int_equal(ring_run(1e-9, 12 * (k + 1), 12, reference[k], &mass, &energy, &s), k + 1);
    }
    double coarsest = 0, finest = 0;
    for (double tol = 1e-3; tol > 5e-9; tol *= 0.1) {
        finest = ring_error(tol, reference);
        coarsest = coarsest > 0 ? coarsest : finest;
        CHECK_BETWEEN(finest, 0, 10 * tol);
    }
    CHECK_BETWEEN(finest, 0, coarsest * pow(10, -5 * 2.0 / 3));
}

/* ---- rates with corners, met one after the other: what leaves a vessel above its brim, and a leak ---- */
enum { VESSELS = 12 };
static const double LEAK = 0.02; /* 1/s */

/* vessel i empties to its brim (level 0) in just i + 1 half seconds */
static double corner_time(int i)
{
    return 0.5 * (i + 1);
}

static int vessels(double t, const double *y, double *dy, void *user)
{
    (void)t;
    (void)user;
    dy[VESSELS] = 0;
    for (int i = 0; i < VESSELS; i++) {
        dy[i] = -LEAK - 3 / corner_time(i) * fmax(y[i], 0);
        dy[VESSELS] -= dy[i];
    }
    return 0;
}

/* closed form: an exponential down to the brim, a straight line below it */
static double vessel_exact(int i, double t)
{
    const double at = corner_time(i), k = 3 / at, asymptote = -LEAK / k;
    return t < at ? asymptote - asymptote * exp(k * (at - t)) : -LEAK * (t - at);
}

/* largest error at any of 40 times, in units of the tolerance */
static double vessels_error(double tol, int kinked, struct swh_ode_stats *stats)
{
    double rtol[VESSELS + 1] = {0}, atol[VESSELS + 1], y[VESSELS + 1] = {0}, worst = 0, all = 0;
    for (int i = 0; i < VESSELS; i++) {
        atol[i] = tol;
        all += y[i] = vessel_exact(i, 0);
    }
    atol[VESSELS] = INFINITY;
    const struct swh_ode_problem p = {
        .n = VESSELS + 1, .rhs = vessels, .rtol = rtol, .atol = atol, .kinked = kinked};
    struct swh_error err = {0};
    struct swh_ode *o = swh_ode_create(&p, 0, y, &err);
    assert_non_null(o);
    for (int k = 1; k <= 40;) {
        assert_true(swh_ode_step(o, 8, &err) != SWH_ODE_FAILED);
        for (; k <= 40 && 0.2 * k <= swh_ode_time(o); k++) {
            assert_int_equal(swh_ode_interpolate(o, 0.2 * k, y, &err), SWH_OK);
            double sum = y[VESSELS];
            for (int i = 0; i < VESSELS; i++) {
                worst = fmax(worst, fabs(y[i] - vessel_exact(i, 0.2 * k)) / tol);
                sum += y[i];
            }
            CHECK_CLOSE(sum, all, 1e-10, 0); /* whatever Newton leaves over: rounding of differences only */
        }
    }
    swh_ode_get_stats(o, stats);
    swh_ode_free(o);
    return worst;
}

/* Corners cost steps, not truth: errors stay within some tolerances, with and without being told of corners,
 * and three decades of tolerance bring two of error. Told of them it keeps to order 2, whose steps grow by
 * tol^(-1/3) (Hairer, Norsett and Wanner, section II.4): 10 times as many. */
static void test_corners(void **state)
{
    (void)state;
    double coarse[2] = {0};
    long steps[2] = {0};
    for (double tol = 1e-3; tol > 5e-7; tol *= 0.1)
        for (int kinked = 0; kinked < 2; kinked++) {
            struct swh_ode_stats s;
            const double error = vessels_error(tol, kinked, &s);
            CHECK_BETWEEN(error, 0, 40);
            CHECK_BETWEEN((double)s.newton_iters / (double)s.steps, 1, 2);
            if (tol > 5e-4) {
                coarse[kinked] = error * tol;
                steps[kinked] = s.steps;
            } else if (tol < 5e-6) {
                CHECK_BETWEEN(error * tol, 0, 0.02 * coarse[kinked]);
                CHECK_BETWEEN((double)s.steps / (double)steps[kinked], 2, 10);
            }
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_corners),
        cmocka_unit_test(test_ladder),
        cmocka_unit_test(test_ring_conserves),
        cmocka_unit_test(test_ring_converges),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
