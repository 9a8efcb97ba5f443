/* The fold finder on one-node reductions whose fold is known in closed form. */
#include "solver/ode/ode.h"
#include "solver/steady/fold.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

static void assert_near(double a, double b, double tolerance)
{
    assert_true(fabs(a - b) <= tolerance);
}

/* ---- Semenov's body: heat made as exp(-E/(R T)), heat lost as chi (T - T_a) ---- */

struct body {
    bool arrhenius; /* the exact exponent; otherwise Frank-Kamenetskii's d theta/dt = delta e^theta - theta */
    double delta;   /* Frank-Kamenetskii: the parameter; Arrhenius: heat made over heat lost, B */
    double T_a;     /* ambient over activation temperature, T_a R/E */
    double end;     /* time followed, in relaxation times */
    double samples[4000];
    size_t n;
};

static double rate(const struct body *b, double x)
{
    return b->arrhenius ? b->delta * exp(-1 / x) - (x - b->T_a) : b->delta * exp(x) - x;
}

static int body_rhs(double t, const double *y, double *dy, void *user)
{
    (void)t;
    dy[0] = rate(user, y[0]);
    return 0;
}

/* lost once it is far hotter than any stable state: theta 5, or twice the critical excess and more */
static double far_off(const struct body *b)
{
    return b->arrhenius ? b->T_a + 6 * b->T_a * b->T_a : 5;
}

static int body_roots(double t, const double *y, double *g, void *user)
{
    (void)t;
    g[0] = (y[0] - far_off(user)) / far_off(user);
    return 0;
}

static enum swh_status follow(struct body *b, struct swh_ode *ode, double dt, struct swh_probe_result *out,
                              struct swh_error *err)
{
    b->n = 0;
    while (swh_ode_time(ode) < b->end - 1e-9) {
        const double stop = dt * (double)(b->n + 1);
        const enum swh_ode_result r = swh_ode_step(ode, stop, err);
        if (r == SWH_ODE_FAILED)
            return SWH_ERR_SOLVER;
        if (r == SWH_ODE_ROOT) {
            *out = (struct swh_probe_result){true, swh_ode_time(ode), NAN};
            return SWH_OK;
        }
        if (r == SWH_ODE_STOP)
            b->samples[b->n++] = swh_ode_state(ode)[0];
    }
    const double scale = b->arrhenius ? b->T_a * b->T_a : 1;
    *out = (struct swh_probe_result){false, NAN, swh_growth_rate(b->samples, b->n, dt, 0.002 * scale, 1e-9)};
    return SWH_OK;
}

static enum swh_status probe_body(double x, struct swh_probe_result *out, void *user, struct swh_error *err)
{
    struct body *b = user;
    b->delta = x;
    static const char *const names[] = {"temperature"};
    static const int direction[] = {1};
    const double rtol = 1e-9, atol = 1e-12, y0 = b->arrhenius ? b->T_a : 0;
    const struct swh_ode_problem problem = {.n = 1,
                                            .names = names,
                                            .rhs = body_rhs,
                                            .n_roots = 1,
                                            .roots = body_roots,
                                            .root_direction = direction,
                                            .rtol = &rtol,
                                            .atol = &atol,
                                            .user = b};
    struct swh_ode *ode = swh_ode_create(&problem, 0, &y0, err);
    if (!ode)
        return SWH_ERR_SOLVER;
    const enum swh_status status = follow(b, ode, b->end / 400, out, err);
    swh_ode_free(ode);
    return status;
}

/* Semenov 1928 with Frank-Kamenetskii's exponent (Diffusion and Heat Exchange in Chemical Kinetics,
 * textbook): the stable temperature vanishes at delta = 1/e, theta = 1. */
static void test_semenov_fold(void **state)
{
    (void)state;
    struct body b = {.end = 400};
    const struct swh_fold_search s = {probe_body, &b, 1e-4, 8};
    struct swh_probe_result at;
    assert_int_equal(probe_body(0, &at, &b, NULL), SWH_OK);
    assert_false(at.lost);
    struct swh_fold fold;
    assert_int_equal(swh_fold_scan(&s, 0, &at, 2, &fold, NULL), SWH_OK);
    assert_true(fold.found);
    assert_near(fold.critical, exp(-1), 3e-4);
    /* what is lost later than the time followed counts as holding: pi sqrt(2/excess) = 400 at an excess
     * of 1.2e-4 */
    assert_true(fold.holds < exp(-1) * (1 + 1.3e-4) && fold.lost > exp(-1));
    assert_true(fold.at_lost.time > 10);
}

/* The same with the exact Arrhenius exponent: d/dT of gain and loss agree at the lower root of
 * T^2 - T + T_a = 0 (T in units of E/R), T_c = (1 - sqrt(1 - 4 T_a))/2 (Semenov 1928; textbooks), from which
 * B_c = (T_c - T_a) exp(1/T_c). */
static void test_semenov_fold_arrhenius(void **state)
{
    (void)state;
    struct body b = {.arrhenius = true, .T_a = 0.03, .end = 400};
    const double T_c = 0.5 * (1 - sqrt(1 - 4 * b.T_a)), B_c = (T_c - b.T_a) * exp(1 / T_c);
    const struct swh_fold_search s = {probe_body, &b, 2e-4 * B_c, 6};
    struct swh_probe_result at;
    assert_int_equal(probe_body(0.1 * B_c, &at, &b, NULL), SWH_OK);
    struct swh_fold fold;
    assert_int_equal(swh_fold_scan(&s, 0.1 * B_c, &at, 3 * B_c, &fold, NULL), SWH_OK);
    assert_true(fold.found);
    assert_near(fold.critical / B_c, 1, 6e-4);
}

/* At rest theta = delta e^theta, so the slow rate is theta - 1 exactly. */
static void test_slow_rate_is_exact(void **state)
{
    (void)state;
    struct body b = {.end = 60};
    for (double theta = 0.2; theta < 0.95; theta += 0.2) {
        struct swh_probe_result r;
        assert_int_equal(probe_body(theta * exp(-theta), &r, &b, NULL), SWH_OK);
        assert_false(r.lost);
        assert_near(r.growth, theta - 1, 0.01 * (1 - theta));
    }
}

/* The square of the slow rate reaches zero where the fold is: found from stable states alone. */
static void test_rate_extrapolates_to_the_fold(void **state)
{
    (void)state;
    struct body b = {.end = 400};
    const double x[3] = {0.350, 0.358, 0.364};
    double growth[3];
    for (int i = 0; i < 3; i++) {
        struct swh_probe_result r;
        assert_int_equal(probe_body(x[i], &r, &b, NULL), SWH_OK);
        growth[i] = r.growth;
        assert_true(i == 0 || fabs(growth[i]) < fabs(growth[i - 1]));
    }
    assert_near(swh_fold_extrapolate(x, growth, 3), exp(-1), 0.002);
}

/* Time beyond the edge, against the textbook limit close to it: passage through the bottleneck of
 * d theta/dt = delta e^theta - theta takes pi sqrt(2 e/ (delta e - 1))/ sqrt(e) = pi sqrt(2/(delta e - 1))
 * relaxation times (normal form; the rest of the way adds a little). */
static void test_time_beyond_the_edge(void **state)
{
    (void)state;
    struct body b = {.end = 400};
    const double excess = 1e-3;
    struct swh_probe_result r;
    assert_int_equal(probe_body((1 + excess) * exp(-1), &r, &b, NULL), SWH_OK);
    assert_true(r.lost);
    const double theory = 3.14159265358979323846 * sqrt(2 / excess);
    assert_near(r.time / theory, 1, 0.03);
}

/* Following the edge from a guess gives what scanning and bisecting gives. */
static void test_near_agrees_with_scan(void **state)
{
    (void)state;
    struct body b = {.end = 400};
    const struct swh_fold_search s = {probe_body, &b, 1e-4, 8};
    const double guesses[3] = {0.3, 0.37, 0.6};
    for (int i = 0; i < 3; i++) {
        struct swh_fold fold;
        assert_int_equal(swh_fold_near(&s, guesses[i], 0.01, 0, 2, true, &fold, NULL), SWH_OK);
        assert_true(fold.found);
        assert_near(fold.critical, exp(-1), 3e-4);
    }
}

static void test_no_edge_in_range(void **state)
{
    (void)state;
    struct body b = {.end = 100};
    const struct swh_fold_search s = {probe_body, &b, 1e-3, 5};
    struct swh_probe_result at;
    assert_int_equal(probe_body(0.1, &at, &b, NULL), SWH_OK);
    struct swh_fold fold;
    assert_int_equal(swh_fold_scan(&s, 0.1, &at, 0.3, &fold, NULL), SWH_OK);
    assert_false(fold.found);
    assert_false(fold.at_end.lost);
    assert_true(isnan(fold.critical));
    assert_int_equal(swh_fold_near(&s, 0.2, 0.01, 0.1, 0.3, true, &fold, NULL), SWH_OK);
    assert_false(fold.found);
}

static enum swh_status probe_fails(double x, struct swh_probe_result *out, void *user, struct swh_error *err)
{
    (void)user;
    out->lost = false;
    return x > 0.5 ? swh_error_set(err, SWH_ERR_SOLVER, "cannot go on") : SWH_OK;
}

static void test_errors_end_the_search(void **state)
{
    (void)state;
    const struct swh_fold_search s = {probe_fails, NULL, 1e-3, 4};
    const struct swh_probe_result holds = {false, NAN, NAN};
    struct swh_fold fold;
    struct swh_error err = {0};
    assert_int_equal(swh_fold_scan(&s, 0, &holds, 1, &fold, &err), SWH_ERR_SOLVER);
    assert_false(fold.found);
    assert_non_null(strstr(err.what, "cannot go on"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_semenov_fold),         cmocka_unit_test(test_semenov_fold_arrhenius),
        cmocka_unit_test(test_slow_rate_is_exact),   cmocka_unit_test(test_rate_extrapolates_to_the_fold),
        cmocka_unit_test(test_time_beyond_the_edge), cmocka_unit_test(test_near_agrees_with_scan),
        cmocka_unit_test(test_no_edge_in_range),     cmocka_unit_test(test_errors_end_the_search)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
