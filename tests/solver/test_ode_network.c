/* The integrator on stiff systems: conservation over many restarts, tolerance against error, repeatability,
 * threads. Sources stand beside the checks. */
#include "tests/check.h"
#include "tests/solver/ode_network.h"

#include <pthread.h>
#include <stdlib.h>

struct outcome {
    double rtol, t_end;
    int forced, events;
    double y[NET_STATES];
    struct swh_ode_stats stats;
};

static void *run(void *argument)
{
    struct outcome *r = argument;
    struct network *net = malloc(sizeof *net);
    struct swh_ode_problem p;
    struct swh_error err = {0};
    network_make(net, r->rtol, &p);
    net->forced = r->forced;
    r->events = network_run(&p, net, r->t_end, r->y, &r->stats, &err);
    if (r->events < 0)
        print_error("%s\n", err.what);
    free(net);
    return NULL;
}

/* Sums of states that the rates leave alone are kept, whatever the tolerance: the
 * scheme is linear in them. */
static void invariants(void **state)
{
    (void)state;
    static struct network net;
    struct swh_ode_problem p;
    network_make(&net, 1e-4, &p);
    static struct outcome r;
    for (double rtol = 1e-3; rtol > 1e-6; rtol *= 0.1) {
        r = (struct outcome){.rtol = rtol, .t_end = 1800};
        run(&r);
        assert_true(r.events > 140);
        assert_int_equal(r.stats.restarts, r.events);
        CHECK_CLOSE(network_mass(r.y), network_mass(net.y0), 1e-12, 0);
        CHECK_CLOSE(network_energy(r.y) + network_energy_out(r.y), network_energy(net.y0), 1e-12, 0);
        assert_true(fabs(network_energy_out(r.y)) > 1e-3 * network_energy(net.y0)); /* it did go somewhere */
    }
}

/* a bound against getting slow unseen: counts, not times, so the machine does not matter */
static void steps_per_switching(void **state)
{
    (void)state;
    static struct outcome r;
    r = (struct outcome){.rtol = 1e-4, .t_end = 1800, .forced = 1};
    run(&r);
    assert_int_equal(r.events, 149);
    CHECK_BETWEEN((double)r.stats.steps / r.events, 20, 80);
    CHECK_BETWEEN((double)r.stats.rhs_evals / (double)r.stats.steps, 1, 3.5);
    /* the corrector's own test (newton.h): 1.32 iterations a step, where one ten times looser stops
     * after 1.03 and leaves errors that the error estimate multiplies */
    CHECK_BETWEEN((double)r.stats.newton_iters / (double)r.stats.steps, 1.2, 1.5);
}

/* The pump's work over 40 switchings, against the same with a tolerance a thousand times tighter. */
static void tighter_is_better(void **state)
{
    (void)state;
    static struct outcome r;
    double work[4];
    const double rtol[4] = {1e-4, 1e-5, 1e-6, 1e-9};
    for (int k = 0; k < 4; k++) {
        r = (struct outcome){.rtol = rtol[k], .t_end = 480, .forced = 1};
        run(&r);
        work[k] = r.y[NET_SUM + NET_TANKS];
    }
    CHECK_CLOSE(work[0], work[3], 1e-4, 0);
    CHECK_CLOSE(work[1], work[3], 2e-5, 0);
    CHECK_CLOSE(work[2], work[3], 2e-6, 0);
}

static void same_bits(void **state)
{
    (void)state;
    static struct outcome a, b;
    a = b = (struct outcome){.rtol = 1e-4, .t_end = 300};
    run(&a);
    run(&b);
    assert_int_equal(a.stats.steps, b.stats.steps);
    CHECK_SAME_BITS(a.y, b.y, NET_STATES);
}

static void two_threads(void **state)
{
    (void)state;
    static struct outcome serial[2], parallel[2];
    for (int k = 0; k < 2; k++)
        serial[k] = parallel[k] = (struct outcome){.rtol = k ? 1e-4 : 1e-5, .t_end = 300};
    pthread_t thread[2];
    for (int k = 0; k < 2; k++)
        assert_int_equal(pthread_create(&thread[k], NULL, run, &parallel[k]), 0);
    for (int k = 0; k < 2; k++)
        pthread_join(thread[k], NULL);
    for (int k = 0; k < 2; k++) {
        run(&serial[k]);
        CHECK_SAME_BITS(serial[k].y, parallel[k].y, NET_STATES);
    }
}

/* ---- Robertson's kinetics ---- */

static int robertson(double t, const double *y, double *dy, void *user)
{
    (void)t;
    (void)user;
    const double a = 0.04 * y[0], b = 1e4 * y[1] * y[2], c = 3e7 * y[1] * y[1];
    dy[0] = b - a;
    dy[1] = a - b - c;
    dy[2] = c;
    return 0;
}

static void robertson_to(double tol, double t_end, double *y)
{
    static const char *const names[3] = {"A", "B", "C"};
    const double rtol[3] = {tol, tol, tol}, atol[3] = {1e-8 * tol, 1e-12 * tol, 1e-4 * tol},
                 y0[3] = {1, 0, 0};
    const struct swh_ode_problem p = {.n = 3, .names = names, .rhs = robertson, .rtol = rtol, .atol = atol};
    struct swh_error err = {0};
    struct swh_ode *o = swh_ode_create(&p, 0, y0, &err);
    enum swh_ode_result r = SWH_ODE_STEP;
    while (r == SWH_ODE_STEP)
        r = swh_ode_step(o, t_end, &err);
    CHECK_OK(err.status, &err);
    memcpy(y, swh_ode_state(o), 3 * sizeof *y);
    swh_ode_free(o);
}

/* Reference solution of problem ROBER at t = 1e11: Mazzia and Magherini, Test Set for Initial Value Problem
 * Solvers, release 2.4 (2008), from memory; SciPy 1.17.1's Radau with rtol 1e-11 gives the same 12 digits. */
static void robertson_reference(void **state)
{
    (void)state;
    double y[3], error[3];
    for (int k = 0; k < 3; k++) {
        robertson_to(pow(10, -6 - k), 1e11, y);
        error[k] = fabs(y[0] / 0.2083340149701255e-07 - 1);
        CHECK_CLOSE(y[0], 0.2083340149701255e-07, 20 * pow(10, -6 - k), 0);
        CHECK_CLOSE(y[1], 0.8333360770334713e-13, 20 * pow(10, -6 - k), 0);
        CHECK_CLOSE(y[2], 0.9999999791665050, 1e-11, 0);
        CHECK_CLOSE(y[0] + y[1] + y[2], 1, 1e-12, 0);
    }
    /* a method of order q held at a local error of tol has a global one of tol^(q/(q+1)): a decade of tol is
     * a factor of 6.8 at order 5 and of 10 at most; half of that and half
     * more are allowed for changes of order */
    CHECK_BETWEEN(error[0] / error[1], 3.4, 15);
    CHECK_BETWEEN(error[1] / error[2], 3.4, 15);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(invariants),        cmocka_unit_test(steps_per_switching),
        cmocka_unit_test(tighter_is_better), cmocka_unit_test(same_bits),
        cmocka_unit_test(two_threads),       cmocka_unit_test(robertson_reference),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
