/* The integrator against closed forms. */
#include "solver/ode/newton.h"
#include "solver/ode/ode.h"
#include "tests/check.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

static const char *const names[] = {"first", "second", "third", "fourth"};

/* ---- one node with constant heat: T = T_inf + (T_0 - T_inf) exp(-t/tau),
 * textbook lumped capacitance ---- */
static int one_node(double t, const double *y, double *dy, void *user)
{
    (void)t;
    (void)user;
    dy[0] = (500.0 - 20.0 * (y[0] - 300.0)) / 4000.0;
    return 0;
}

static struct swh_ode_problem plain(int n, swh_ode_rhs rhs, const double *rtol, const double *atol,
                                    void *user)
{
    struct swh_ode_problem p = {.n = n, .names = names, .rhs = rhs, .rtol = rtol, .atol = atol, .user = user};
    return p;
}

static void run_to(struct swh_ode *o, double t)
{
    struct swh_error err = {0};
    while (swh_ode_time(o) < t)
        assert_int_not_equal(swh_ode_step(o, t, &err), SWH_ODE_FAILED);
}

static double one_node_error(double tol)
{
    const double rtol = tol, atol = tol, y0 = 290;
    struct swh_error err = {0};
    const struct swh_ode_problem p = plain(1, one_node, &rtol, &atol, NULL);
    struct swh_ode *o = swh_ode_create(&p, 0, &y0, &err);
    assert_non_null(o);
    run_to(o, 300);
    const double exact = 325 + (290 - 325) * exp(-300.0 / 200.0);
    const double e = fabs(swh_ode_state(o)[0] - exact);
    swh_ode_free(o);
    return e;
}

static void test_exponential(void **state)
{
    (void)state;
    CHECK_BETWEEN(one_node_error(1e-8), 0, 1e-5 * 325);
    CHECK_BETWEEN(one_node_error(1e-9), 0, 2e-5);
    /* a tighter tolerance must do better, or the tolerance means nothing */
    assert_true(one_node_error(1e-9) < 0.3 * one_node_error(1e-6));
}

/* ---- two coupled nodes: eigen-solution of a symmetric 2 x 2, textbook linear algebra ---- */
static int two_nodes(double t, const double *y, double *dy, void *user)
{
    (void)t;
    (void)user;
    dy[0] = -0.03 * y[0] + 0.01 * y[1];
    dy[1] = 0.01 * y[0] - 0.03 * y[1];
    return 0;
}

static void test_two_nodes(void **state)
{
    (void)state;
    const double rtol[2] = {1e-9, 1e-9}, atol[2] = {1e-9, 1e-9}, y0[2] = {100, 20};
    struct swh_error err = {0};
    const struct swh_ode_problem p = plain(2, two_nodes, rtol, atol, NULL);
    struct swh_ode *o = swh_ode_create(&p, 0, y0, &err);
    run_to(o, 50);
    const double sum = 120 * exp(-0.02 * 50), difference = 80 * exp(-0.04 * 50);
    CHECK_CLOSE(swh_ode_state(o)[0], 0.5 * (sum + difference), 1e-6, 0);
    CHECK_CLOSE(swh_ode_state(o)[1], 0.5 * (sum - difference), 1e-6, 0);
    swh_ode_free(o);
}

/* ---- the corrector ---- */

/* Scalar model y' = -k y with k so large that I - gamma J = gamma k: a residual r asks for the step r /
 * (gamma k), the factorised matrix gives r / (gamma_0 k). With the factor the error that is left is (1 -
 * ratio) / (1 + ratio) of what it was, whether the step has grown or shrunk; without it 1 - ratio (CVODES's
 * user guide). */
static void test_stale_gamma_is_met_halfway(void **state)
{
    (void)state;
    for (int i = 0; i < 3; i++) {
        const double ratio = (double[]){0.7, 1.0, 1.5}[i];
        const double left = 1 - ratio * swh_newton_stale_gamma(ratio);
        CHECK_CLOSE(left, (1 - ratio) / (1 + ratio), 0, 1e-15);
    }
}

/* ---- thermostat: heater between 60 and 70, T' = (T_set - T)/tau; the period has a closed form ---- */
struct thermostat {
    int on;
};
static int thermostat_rhs(double t, const double *y, double *dy, void *user)
{
    const struct thermostat *s = user;
    (void)t;
    dy[0] = ((s->on ? 90.0 : 20.0) - y[0]) / 100.0;
    return 0;
}
static int thermostat_root(double t, const double *y, double *g, void *user)
{
    const struct thermostat *s = user;
    (void)t;
    g[0] = (y[0] - (s->on ? 70.0 : 60.0)) / 10;
    return 0;
}

static void test_thermostat(void **state)
{
    (void)state;
    struct thermostat s = {1};
    const double rtol = 1e-9, atol = 1e-9, y0 = 60;
    const int direction = 0;
    struct swh_ode_problem p = plain(1, thermostat_rhs, &rtol, &atol, &s);
    p.n_roots = 1;
    p.roots = thermostat_root;
    p.root_direction = &direction;
    struct swh_error err = {0};
    struct swh_ode *o = swh_ode_create(&p, 0, &y0, &err);
    int events = 0;
    double last_on = 0, period = 0;
    while (swh_ode_time(o) < 2000) {
        const enum swh_ode_result r = swh_ode_step(o, 2000, &err);
        assert_int_not_equal(r, SWH_ODE_FAILED);
        if (r != SWH_ODE_ROOT)
            continue;
        events++;
        s.on = !s.on;
        if (s.on) {
            period = swh_ode_time(o) - last_on;
            last_on = swh_ode_time(o);
        }
        const double y = swh_ode_state(o)[0];
        assert_int_equal(swh_ode_restart(o, swh_ode_time(o), &y, &err), SWH_OK);
    }
    const double heating = 100 * log((90 - 60.0) / (90 - 70.0)),
                 cooling = 100 * log((70 - 20.0) / (60 - 20.0));
    CHECK_CLOSE(period, heating + cooling, 1e-6, 0);
    assert_int_equal(events, (int)(2 * 2000 / (heating + cooling)));
    swh_ode_free(o);
}

/* ---- a short pulse is not stepped over when its corners are stops ---- */
struct pulse {
    int on;
};
static int pulse_rhs(double t, const double *y, double *dy, void *user)
{
    (void)t;
    dy[0] = ((const struct pulse *)user)->on ? 100 : 0;
    dy[1] = -y[1];
    return 0;
}

static void test_pulse(void **state)
{
    (void)state;
    struct pulse s = {0};
    const double rtol[2] = {1e-6, 1e-6}, atol[2] = {1e-6, 1e-6}, y0[2] = {0, 1};
    struct swh_error err = {0};
    const struct swh_ode_problem p = plain(2, pulse_rhs, rtol, atol, &s);
    struct swh_ode *o = swh_ode_create(&p, 0, y0, &err);
    const double corner[3] = {1000, 1005, 2000};
    for (int i = 0; i < 3; i++) {
        run_to(o, corner[i]);
        s.on = i == 0;
        double y[2];
        memcpy(y, swh_ode_state(o), sizeof y);
        assert_int_equal(swh_ode_restart(o, corner[i], y, &err), SWH_OK);
    }
    CHECK_CLOSE(swh_ode_state(o)[0], 500, 1e-9, 0);
    swh_ode_free(o);
}

/* ---- linear invariants: three tanks in a ring and a sum outside the error test, with restarts ---- */
static int ring(double t, const double *y, double *dy, void *user)
{
    (void)user;
    const double a = 1e4 * (y[0] - y[1] * y[1]), b = 50 * (y[1] - y[2]) * (1 + sin(t)), c = 3 * y[2] * y[0];
    dy[0] = c - a;
    dy[1] = a - b;
    dy[2] = b - c - 0.01 * y[2];
    dy[3] = 0.01 * y[2];
    return 0;
}

static void ring_run(double *out)
{
    static const int col_ptr[5] = {0, 3, 6, 10, 11}; /* third column reaches the sum */
    static const int row_idx[11] = {0, 1, 2, 0, 1, 2, 0, 1, 2, 3, 3};
    const double rtol[4] = {1e-6, 1e-6, 1e-6, 0}, atol[4] = {1e-9, 1e-9, 1e-9, INFINITY};
    const double y0[4] = {0.7, 0.2, 0.4, 0};
    struct swh_error err = {0};
    struct swh_ode_problem p = plain(4, ring, rtol, atol, NULL);
    p.col_ptr = col_ptr;
    p.row_idx = row_idx;
    struct swh_ode *o = swh_ode_create(&p, 0, y0, &err);
    for (int k = 1; k <= 40; k++) {
        run_to(o, 0.5 * k);
        memcpy(out, swh_ode_state(o), 4 * sizeof *out);
        assert_int_equal(swh_ode_restart(o, 0.5 * k, out, &err), SWH_OK);
    }
    swh_ode_free(o);
}

static void test_invariant(void **state)
{
    (void)state;
    double y[4], again[4];
    ring_run(y);
    CHECK_CLOSE(y[0] + y[1] + y[2] + y[3], 1.3, 1e-12, 0);
    assert_true(y[3] > 0.01);
    ring_run(again);
    assert_memory_equal(y, again, sizeof y); /* the same bits twice */
}

static void *ring_thread(void *out)
{
    ring_run(out);
    return NULL;
}

static void test_threads(void **state)
{
    (void)state;
    double serial[4], a[4], b[4];
    ring_run(serial);
    pthread_t one, two;
    assert_int_equal(pthread_create(&one, NULL, ring_thread, a), 0);
    assert_int_equal(pthread_create(&two, NULL, ring_thread, b), 0);
    pthread_join(one, NULL);
    pthread_join(two, NULL);
    assert_memory_equal(serial, a, sizeof a);
    assert_memory_equal(serial, b, sizeof b);
}

/* ---- trouble is told in words ---- */
static int goes_nan(double t, const double *y, double *dy, void *user)
{
    (void)user;
    dy[0] = -y[0];
    dy[1] = t > 1 ? NAN : 0;
    return 0;
}

static void test_nan_named(void **state)
{
    (void)state;
    const double rtol[2] = {1e-6, 1e-6}, atol[2] = {1e-6, 1e-6}, y0[2] = {1, 1};
    struct swh_error err = {0};
    const struct swh_ode_problem p = plain(2, goes_nan, rtol, atol, NULL);
    struct swh_ode *o = swh_ode_create(&p, 0, y0, &err);
    enum swh_ode_result r = SWH_ODE_STEP;
    while (swh_ode_time(o) < 2 && r != SWH_ODE_FAILED)
        r = swh_ode_step(o, 2, &err);
    assert_int_equal(r, SWH_ODE_FAILED);
    assert_non_null(strstr(err.what, "second"));
    assert_non_null(strstr(err.what, "not a number"));
    CHECK_BETWEEN(swh_ode_time(o), 0.9, 1.0001);
    swh_ode_free(o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_exponential),
        cmocka_unit_test(test_two_nodes),
        cmocka_unit_test(test_stale_gamma_is_met_halfway),
        cmocka_unit_test(test_thermostat),
        cmocka_unit_test(test_pulse),
        cmocka_unit_test(test_invariant),
        cmocka_unit_test(test_threads),
        cmocka_unit_test(test_nan_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
