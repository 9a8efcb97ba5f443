/* Stops, events, restarts and failures of the integrator: what it promises beyond solving. Expected values
 * are closed forms beside each test. */
#include "solver/ode/ode.h"
#include "tests/check.h"

#include <stdlib.h>

static const char *const names[] = {"alpha", "beta", "gamma", "delta"};
static const double tight[4] = {1e-8, 1e-8, 1e-8, 1e-8};

/* ---- y' = a: a ramp ---- */

struct ramp {
    double slope, level, limit; /* y > limit is outside the model */
    int nan_root, nan_rate;
};

static int ramp_rhs(double t, const double *y, double *dy, void *user)
{
    const struct ramp *r = user;
    (void)t;
    if (y[0] > r->limit && !r->nan_rate)
        return 1;
    dy[0] = y[0] > r->limit ? NAN : r->slope;
    return 0;
}

static int ramp_root(double t, const double *y, double *g, void *user)
{
    const struct ramp *r = user;
    g[0] = r->nan_root && t > 3 ? NAN : y[0] - r->level;
    return 0;
}

static struct swh_ode *make_ramp(struct ramp *r, const int *direction, struct swh_error *err)
{
    const double y0 = 0;
    const struct swh_ode_problem p = {.n = 1,
                                      .names = names,
                                      .rhs = ramp_rhs,
                                      .n_roots = 1,
                                      .roots = ramp_root,
                                      .root_direction = direction,
                                      .rtol = tight,
                                      .atol = tight,
                                      .user = r};
    struct swh_ode *o = swh_ode_create(&p, 0, &y0, err);
    assert_non_null(o);
    return o;
}

static enum swh_ode_result step_on(struct swh_ode *o, double t_stop, struct swh_error *err)
{
    enum swh_ode_result r = SWH_ODE_STEP;
    while (r == SWH_ODE_STEP)
        r = swh_ode_step(o, t_stop, err);
    return r;
}

/* y = 0.1 t meets 1 at t = 10, the stop; in binary 0.1 t falls on either side of 1 by rounding */
static void root_on_a_stop(void **state)
{
    (void)state;
    const int direction = 0;
    for (int k = -3; k <= 3; k++) {
        struct swh_error err = {0};
        struct ramp r = {.slope = 0.1, .level = 1 + k * 2.2e-16, .limit = INFINITY};
        struct swh_ode *o = make_ramp(&r, &direction, &err);
        int told = 0, info = 0;
        for (double stop = 10; stop <= 12; stop += 1) {
            while (swh_ode_time(o) < stop)
                if (swh_ode_step(o, stop, &err) == SWH_ODE_ROOT) {
                    told++;
                    swh_ode_root_info(o, &info);
                    CHECK_CLOSE(swh_ode_time(o), 10, 1e-9, 0);
                }
            assert_int_equal(told, 1); /* at the stop itself: after a restart there it would never be told */
        }
        assert_int_equal(info, 1); /* upwards */
        swh_ode_free(o);
    }
}

static void direction_counts(void **state)
{
    (void)state;
    const int down = -1;
    struct swh_error err = {0};
    struct ramp r = {.slope = 0.1, .level = 1, .limit = INFINITY};
    struct swh_ode *o = make_ramp(&r, &down, &err);
    assert_int_equal(step_on(o, 10, &err), SWH_ODE_STOP); /* it goes up */
    assert_int_equal(step_on(o, 20, &err), SWH_ODE_STOP);
    swh_ode_free(o);
}

static void stop_too_close(void **state)
{
    (void)state;
    const int direction = 0;
    struct swh_error err = {0};
    struct ramp r = {.slope = 0.1, .level = 1e9, .limit = INFINITY};
    struct swh_ode *o = make_ramp(&r, &direction, &err);
    assert_int_equal(step_on(o, 1000, &err), SWH_ODE_STOP);
    CHECK_CLOSE(swh_ode_time(o), 1000, 0, 0);
    const double y = swh_ode_state(o)[0];
    CHECK_OK(swh_ode_restart(o, 1000, &y, &err), &err);
    assert_int_equal(swh_ode_step(o, 1000, &err), SWH_ODE_STOP);
    assert_int_equal(swh_ode_step(o, 1000 + 1e-8, &err), SWH_ODE_STOP);
    CHECK_CLOSE(swh_ode_time(o), 1000 + 1e-8, 0, 0); /* arrived: a caller that waits for it does not hang */
    assert_int_equal(step_on(o, 1001, &err), SWH_ODE_STOP);
    CHECK_CLOSE(swh_ode_state(o)[0], 100.1, 1e-8, 0);
    assert_int_equal(err.status, SWH_OK);
    assert_int_equal(swh_ode_step(o, 900, &err), SWH_ODE_FAILED);
    assert_non_null(strstr(err.what, "before the present"));
    swh_ode_free(o);
}

/* on after an event without a restart, the stop inside the step already made */
static void goes_on_without_restart(void **state)
{
    (void)state;
    const int direction = 0;
    struct swh_error err = {0};
    struct ramp r = {.slope = 0.1, .level = 1, .limit = INFINITY};
    struct swh_ode *o = make_ramp(&r, &direction, &err);
    assert_int_equal(step_on(o, 1e6, &err), SWH_ODE_ROOT);
    CHECK_CLOSE(swh_ode_time(o), 10, 1e-9, 0);
    assert_int_equal(step_on(o, 10.5, &err), SWH_ODE_STOP);
    CHECK_CLOSE(swh_ode_time(o), 10.5, 0, 0);
    CHECK_CLOSE(swh_ode_state(o)[0], 1.05, 1e-8, 0);
    assert_int_equal(step_on(o, 20, &err), SWH_ODE_STOP);
    CHECK_CLOSE(swh_ode_state(o)[0], 2, 1e-8, 0);
    swh_ode_free(o);
}

/* ---- y' = 2 t, y = t^2 ---- */

static int square_rhs(double t, const double *y, double *dy, void *user)
{
    (void)y;
    (void)user;
    dy[0] = 2 * t;
    return 0;
}

static void interpolates_the_last_step(void **state)
{
    (void)state;
    const double y0 = 0;
    struct swh_error err = {0};
    const struct swh_ode_problem p = {
        .n = 1, .names = names, .rhs = square_rhs, .rtol = tight, .atol = tight};
    struct swh_ode *o = swh_ode_create(&p, 0, &y0, &err);
    int checked = 0;
    enum swh_ode_result result = SWH_ODE_STEP;
    while (result == SWH_ODE_STEP) {
        result = swh_ode_step(o, 5, &err);
        for (int k = 0; k <= 4; k++) {
            const double t = swh_ode_time(o) - 0.25 * k * swh_ode_last_step(o);
            double y;
            CHECK_OK(swh_ode_interpolate(o, t, &y, &err), &err);
            CHECK_CLOSE(y, t * t, 1e-5, 1e-6);
            checked++;
        }
    }
    assert_true(checked > 20);
    double y;
    assert_int_not_equal(swh_ode_interpolate(o, 5.1, &y, &err), SWH_OK); /* no guessing ahead */
    assert_non_null(strstr(err.what, "no solution is kept"));
    swh_error_clear(&err);
    assert_int_not_equal(swh_ode_interpolate(o, 0.1, &y, &err), SWH_OK);
    swh_ode_free(o);
}

/* ---- filling a rigid vessel from a main, adiabatic: m = m0 + q t, U = m0 cv T0 + q t cp T_main; filled from
 * (almost) nothing it ends at k T_main. Textbook thermodynamics (for example Moran and Shapiro, unsteady
 * control volumes). The flow is choked, so q is constant; an event ends it at the main's pressure. ---- */

enum { FILL_M, FILL_U, FILL_SUM };
static const double fill_q = 0.01, fill_cv = 718, fill_R = 287, fill_T = 300, fill_V = 0.05, fill_P = 8e5;

static int fill_rhs(double t, const double *y, double *dy, void *user)
{
    (void)t;
    (void)y;
    (void)user;
    dy[FILL_M] = fill_q;
    dy[FILL_U] = fill_q * (fill_cv + fill_R) * fill_T;
    dy[FILL_SUM] = fill_q;
    return 0;
}

static int fill_root(double t, const double *y, double *g, void *user)
{
    (void)t;
    (void)user;
    g[0] = (fill_R / fill_cv * y[FILL_U] / fill_V - fill_P) / 1e5;
    return 0;
}

static void filling_a_vessel(void **state)
{
    (void)state;
    const double m0 = 1e-6, y0[3] = {m0, m0 * fill_cv * fill_T, 0};
    const double rtol[3] = {1e-6, 1e-6, 0}, atol[3] = {1e-10, 1e-4, INFINITY};
    const int up = 1;
    struct swh_error err = {0};
    const struct swh_ode_problem p = {.n = 3,
                                      .names = names,
                                      .rhs = fill_rhs,
                                      .n_roots = 1,
                                      .roots = fill_root,
                                      .root_direction = &up,
                                      .rtol = rtol,
                                      .atol = atol};
    struct swh_ode *o = swh_ode_create(&p, 0, y0, &err);
    assert_int_equal(step_on(o, 100, &err), SWH_ODE_ROOT);
    const double *y = swh_ode_state(o);
    const double k = (fill_cv + fill_R) / fill_cv;
    const double full = fill_P * fill_V / (fill_R * k * fill_T); /* mass that came in, m0 neglected */
    CHECK_CLOSE(swh_ode_time(o), full / fill_q, 1e-5, 0);
    CHECK_CLOSE(y[FILL_U] / (y[FILL_M] * fill_cv), k * fill_T, 1e-5, 0);
    CHECK_CLOSE(y[FILL_SUM], y[FILL_M] - m0, 1e-12, 0); /* a sum outside the error test is as exact */
    swh_ode_free(o);
}

/* ---- sums do not dilute the error test: y' = -y beside 0 or 99 sums ---- */

static int decay_rhs(double t, const double *y, double *dy, void *user)
{
    const int n = *(const int *)user;
    dy[0] = -y[0] + sin(t);
    for (int i = 1; i < n; i++)
        dy[i] = y[0];
    return 0;
}

static long decay_steps(int n, double *end)
{
    double rtol[100], atol[100], y0[100];
    for (int i = 0; i < 100; i++) {
        rtol[i] = i ? 0 : 1e-6;
        atol[i] = i ? INFINITY : 1e-6;
        y0[i] = i == 0;
    }
    struct swh_error err = {0};
    const struct swh_ode_problem p = {.n = n, .rhs = decay_rhs, .rtol = rtol, .atol = atol, .user = &n};
    struct swh_ode *o = swh_ode_create(&p, 0, y0, &err);
    assert_int_equal(step_on(o, 20, &err), SWH_ODE_STOP);
    struct swh_ode_stats s;
    swh_ode_get_stats(o, &s);
    *end = swh_ode_state(o)[0];
    swh_ode_free(o);
    return s.steps;
}

static void sums_do_not_dilute(void **state)
{
    (void)state;
    double alone, crowded;
    const long steps_alone = decay_steps(1, &alone), steps_crowded = decay_steps(100, &crowded);
    CHECK_CLOSE((double)steps_crowded, (double)steps_alone, 0.02,
                0); /* diluted tenfold they would be fewer */
    CHECK_CLOSE(crowded, alone, 1e-7, 0);
    /* y = 1.5 exp(-t) + (sin t - cos t)/2 */
    CHECK_CLOSE(alone, 1.5 * exp(-20) + 0.5 * (sin(20) - cos(20)), 1e-4, 0);
}

/* ---- failures in words ---- */

static void outside_the_model(void **state)
{
    (void)state;
    const int direction = 0;
    struct swh_error err = {0};
    struct ramp r = {.slope = 0.1, .level = 1e9, .limit = 0.5};
    struct swh_ode *o = make_ramp(&r, &direction, &err);
    assert_int_equal(step_on(o, 100, &err), SWH_ODE_FAILED);
    assert_int_equal(err.status, SWH_ERR_RANGE);
    assert_non_null(strstr(err.what, "model's range"));
    assert_non_null(strstr(err.what, "alpha"));
    CHECK_CLOSE(swh_ode_time(o), 5, 0.02, 0); /* the farthest point is kept: y = 0.5 at t = 5 */
    CHECK_CLOSE(swh_ode_state(o)[0], 0.1 * swh_ode_time(o), 1e-6, 0);
    struct swh_ode_stats s;
    swh_ode_get_stats(o, &s);
    assert_true(s.rhs_evals < 2000); /* it gives up soon */
    swh_ode_free(o);
}

static void rate_not_a_number(void **state)
{
    (void)state;
    const int direction = 0;
    struct swh_error err = {0};
    struct ramp r = {.slope = 0.1, .level = 1e9, .limit = 0.5, .nan_rate = 1};
    struct swh_ode *o = make_ramp(&r, &direction, &err);
    assert_int_equal(step_on(o, 100, &err), SWH_ODE_FAILED);
    assert_int_equal(err.status, SWH_ERR_RANGE);
    assert_non_null(strstr(err.what, "the rate of alpha was not a number"));
    CHECK_CLOSE(swh_ode_time(o), 5, 0.02, 0);
    struct swh_ode_stats s;
    swh_ode_get_stats(o, &s);
    assert_true(s.rhs_evals < 200); /* CVODE alone takes thousands to give up */
    swh_ode_free(o);
}

static void event_without_value(void **state)
{
    (void)state;
    const int direction = 0;
    struct swh_error err = {0};
    struct ramp r = {.slope = 0.1, .level = 1e9, .limit = INFINITY, .nan_root = 1};
    struct swh_ode *o = make_ramp(&r, &direction, &err);
    assert_int_equal(step_on(o, 100, &err), SWH_ODE_FAILED);
    assert_non_null(strstr(err.what, "event function 1"));
    swh_ode_free(o);
}

static void bad_problems(void **state)
{
    (void)state;
    struct ramp r = {.limit = INFINITY};
    struct swh_error err = {0};
    double y0 = NAN;
    struct swh_ode_problem p = {
        .n = 1, .names = names, .rhs = ramp_rhs, .rtol = tight, .atol = tight, .user = &r};
    assert_null(swh_ode_create(&p, 0, &y0, &err));
    assert_non_null(strstr(err.what, "alpha"));
    swh_error_clear(&err);
    y0 = 0;
    const double zero = 0;
    p.atol = &zero;
    assert_null(swh_ode_create(&p, 0, &y0, &err));
    assert_non_null(strstr(err.what, "tolerances of alpha"));
    swh_error_clear(&err);
    p.atol = tight;
    const int col_ptr[2] = {0, 0}, row_idx[1] = {0}; /* no diagonal */
    p.col_ptr = col_ptr;
    p.row_idx = row_idx;
    assert_null(swh_ode_create(&p, 0, &y0, &err));
    assert_non_null(strstr(err.what, "not a pattern"));
}

static void restart_with_nan(void **state)
{
    (void)state;
    const int direction = 0;
    struct swh_error err = {0};
    struct ramp r = {.slope = 0.1, .level = 1e9, .limit = INFINITY};
    struct swh_ode *o = make_ramp(&r, &direction, &err);
    const double bad = NAN, good = 2;
    assert_int_equal(swh_ode_restart(o, 1, &bad, &err), SWH_ERR_RANGE);
    assert_non_null(strstr(err.what, "alpha"));
    swh_error_clear(&err);
    CHECK_OK(swh_ode_restart(o, 1, &good, &err), &err);
    assert_int_equal(step_on(o, 11, &err), SWH_ODE_STOP);
    CHECK_CLOSE(swh_ode_state(o)[0], 3, 1e-8, 0);
    swh_ode_free(o);
}

/* y' = -sign(y): slides along y = 0 by ever smaller steps. It must end, with a name. */
static int chatter_rhs(double t, const double *y, double *dy, void *user)
{
    (void)t;
    (void)user;
    dy[0] = y[0] > 0 ? -1e6 : 1e6;
    return 0;
}

static void chattering_ends(void **state)
{
    (void)state;
    const double rtol = 1e-9, atol = 1e-12, y0 = 1e-3;
    struct swh_error err = {0};
    const struct swh_ode_problem p = {
        .n = 1, .names = names, .rhs = chatter_rhs, .rtol = &rtol, .atol = &atol};
    struct swh_ode *o = swh_ode_create(&p, 0, &y0, &err);
    assert_int_equal(step_on(o, 1, &err), SWH_ODE_FAILED);
    assert_int_equal(err.status, SWH_ERR_SOLVER);
    assert_non_null(strstr(err.what, "alpha"));
    struct swh_ode_stats s;
    swh_ode_get_stats(o, &s);
    assert_true(s.steps < 20000);
    swh_ode_free(o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(root_on_a_stop),
        cmocka_unit_test(direction_counts),
        cmocka_unit_test(stop_too_close),
        cmocka_unit_test(goes_on_without_restart),
        cmocka_unit_test(interpolates_the_last_step),
        cmocka_unit_test(filling_a_vessel),
        cmocka_unit_test(sums_do_not_dilute),
        cmocka_unit_test(outside_the_model),
        cmocka_unit_test(event_without_value),
        cmocka_unit_test(rate_not_a_number),
        cmocka_unit_test(bad_problems),
        cmocka_unit_test(restart_with_nan),
        cmocka_unit_test(chattering_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
