/* Events in series and at once, and runs that cannot go on. Closed forms are named beside each check. */
#include "solver/ode/ode.h"
#include "tests/check.h"

#include <stdlib.h>

static const char *const names[] = {"first", "second"};

/* a system of at most two states with one tolerance for all */
static struct swh_ode *start(int n, swh_ode_rhs rhs, int n_roots, swh_ode_roots roots, const int *direction,
                             double tolerance, const double *y0, void *user)
{
    const double tolerances[2] = {tolerance, tolerance};
    const struct swh_ode_problem p = {.n = n,
                                      .names = names,
                                      .rhs = rhs,
                                      .n_roots = n_roots,
                                      .roots = roots,
                                      .root_direction = direction,
                                      .rtol = tolerances,
                                      .atol = tolerances,
                                      .user = user};
    struct swh_error err = {0};
    struct swh_ode *o = swh_ode_create(&p, 0, y0, &err);
    if (!o)
        print_error("%s\n", err.what);
    assert_non_null(o);
    return o;
}

/* steps until something other than a step happens */
static enum swh_ode_result go(struct swh_ode *o, double t_stop)
{
    struct swh_error err = {0};
    enum swh_ode_result r = SWH_ODE_STEP;
    while (r == SWH_ODE_STEP)
        r = swh_ode_step(o, t_stop, &err);
    return r;
}

static void restart(struct swh_ode *o, const double *y)
{
    struct swh_error err = {0};
    assert_int_equal(swh_ode_restart(o, swh_ode_time(o), y, &err), SWH_OK);
}

/* ---- a bouncing ball: each flight lasts 2 v/g, each bounce leaves 0.8 of the
 * speed (school mechanics) ---- */
static int fall(double t, const double *y, double *dy, void *user)
{
    (void)t;
    (void)user;
    dy[0] = y[1];
    dy[1] = -9.81;
    return 0;
}

static int floor_root(double t, const double *y, double *g, void *user)
{
    (void)t;
    (void)user;
    g[0] = y[0];
    return 0;
}

static void test_bouncing(void **state)
{
    (void)state;
    const double y0[2] = {5, 0};
    const int down = -1;
    struct swh_ode *o = start(2, fall, 1, floor_root, &down, 1e-9, y0, NULL);
    double exact = sqrt(2 * 5 / 9.81), speed = 9.81 * exact;
    for (int bounce = 0; bounce < 12; bounce++) {
        assert_int_equal(go(o, 100), SWH_ODE_ROOT);
        CHECK_CLOSE(swh_ode_time(o), exact, 1e-7, 0);
        int info = 0;
        swh_ode_root_info(o, &info);
        assert_int_equal(info, -1);
        speed *= 0.8;
        exact += 2 * speed / 9.81;
        const double y[2] = {0, -0.8 * swh_ode_state(o)[1]};
        restart(o, y);
    }
    swh_ode_free(o);
}

/* ---- clocks: y' = 1, so that every event time is known exactly ---- */
static int clock_rates(double t, const double *y, double *dy, void *user)
{
    (void)t;
    (void)y;
    (void)user;
    dy[0] = 1;
    return 0;
}

static int three_marks(double t, const double *y, double *g, void *user)
{
    (void)t;
    (void)user;
    g[0] = y[0] - 3;
    g[1] = 6 - 2 * y[0]; /* the same moment, falling */
    g[2] = 3 - y[0];     /* the same moment, falling, but only rising is asked for */
    return 0;
}

static void test_together_and_by_direction(void **state)
{
    (void)state;
    const double y0 = 0;
    const int direction[3] = {0, -1, 1};
    struct swh_ode *o = start(1, clock_rates, 3, three_marks, direction, 1e-6, &y0, NULL);
    assert_int_equal(go(o, 10), SWH_ODE_ROOT);
    int info[3];
    swh_ode_root_info(o, info);
    assert_int_equal(info[0], 1);
    assert_int_equal(info[1], -1);
    assert_int_equal(info[2], 0);
    CHECK_CLOSE(swh_ode_time(o), 3, 1e-9, 0);
    swh_ode_free(o);
}

/* ---- failures are told in words ---- */
/* one bad perturbation point is walked round, it does not end the run */
static int bad_once(double t, const double *y, double *dy, void *user)
{
    int *calls = user;
    (void)t;
    dy[0] = ++*calls == 12 ? NAN : -y[0];
    return 0;
}

static void test_one_nan_is_survived(void **state)
{
    (void)state;
    const double y0 = 1;
    int calls = 0;
    struct swh_ode *o = start(1, bad_once, 0, NULL, NULL, 1e-8, &y0, &calls);
    assert_int_equal(go(o, 3), SWH_ODE_STOP);
    CHECK_CLOSE(swh_ode_state(o)[0], exp(-3.0), 1e-5, 0);
    swh_ode_free(o);
}

static int wrong_program(double t, const double *y, double *dy, void *user)
{
    (void)y;
    (void)user;
    dy[0] = dy[1] = 0;
    return t > 1 ? -1 : 0;
}

/* y' = y^2 has its pole at t = 1/y(0): steps go to nothing there */
static int pole(double t, const double *y, double *dy, void *user)
{
    (void)t;
    (void)user;
    dy[0] = y[0] * y[0];
    dy[1] = 0;
    return 0;
}

static void test_dead_ends(void **state)
{
    (void)state;
    const double y0[2] = {0.5, 1};
    const swh_ode_rhs rhs[2] = {wrong_program, pole};
    /* a negative return ends the run even at a perturbation point, so at any time before; the pole is
     * approached */
    const double earliest[2] = {0, 1.9}, latest[2] = {1.0001, 2.0001};
    for (int i = 0; i < 2; i++) {
        struct swh_ode *o = start(2, rhs[i], 0, NULL, NULL, 1e-6, y0, NULL);
        struct swh_error err = {0};
        enum swh_ode_result r = SWH_ODE_STEP;
        for (long steps = 0; r == SWH_ODE_STEP; steps++) {
            assert_true(steps < 20000);
            r = swh_ode_step(o, 10, &err);
        }
        assert_int_equal(r, SWH_ODE_FAILED);
        assert_true(err.status != SWH_OK && err.what[0]);
        CHECK_BETWEEN(swh_ode_time(o), earliest[i], latest[i]);
        swh_ode_free(o);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bouncing),
        cmocka_unit_test(test_together_and_by_direction),
        cmocka_unit_test(test_one_nan_is_survived),
        cmocka_unit_test(test_dead_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
