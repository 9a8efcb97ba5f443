/* The coloured Jacobian against analytic derivatives, dense differences and conservation. */
#include "solver/ode/jacobian.h"
#include "tests/check.h"
#include "tests/solver/ode_network.h"

#include <stdlib.h>

/* Robertson's kinetics (1966), Hairer and Wanner, Solving Ordinary Differential Equations II, eq. IV.1.4 */
static int robertson(double t, const double *y, double *dy, void *context)
{
    (void)t;
    (void)context;
    const double a = 0.04 * y[0], b = 1e4 * y[1] * y[2], c = 3e7 * y[1] * y[1];
    dy[0] = b - a;
    dy[1] = a - b - c;
    dy[2] = c;
    return 0;
}

static void analytic(void **state)
{
    (void)state;
    const double rtol[3] = {1e-6, 1e-6, 1e-6}, atol[3] = {1e-8, 1e-12, 1e-8};
    const double y[3] = {0.7158, 9.185e-6, 0.2842};
    const double J[9] = {-0.04,      0.04,
                         0, /* column of y0 */
                         1e4 * y[2], -1e4 * y[2] - 6e7 * y[1],
                         6e7 * y[1], /* y1 */
                         1e4 * y[1], -1e4 * y[1],
                         0}; /* y2 */
    double f[3];
    robertson(0, y, f, NULL);
    struct swh_jacobian *jac = swh_jacobian_create(3, NULL, NULL, rtol, atol);
    assert_int_equal(swh_jacobian_evaluate(jac, 0, y, f, robertson, NULL), 0);
    for (int k = 0; k < 9; k++)
        CHECK_CLOSE(swh_jacobian_values(jac)[k], J[k], 1e-5, 1e-6);
    assert_int_equal(swh_jacobian_rates_calls(jac), 3);
    swh_jacobian_free(jac);
}

static int network(double t, const double *y, double *dy, void *context)
{
    return network_rates(t, y, dy, context);
}

/* some state away from rest */
static void disturb(const struct network *net, double *y)
{
    for (int i = 0; i < NET_STATES; i++)
        y[i] = net->y0[i] * (1 + 0.01 * ((i * 7) % 5 - 2)) + (i >= NET_SUM);
}

static void coloured_equals_dense(void **state)
{
    (void)state;
    static struct network net;
    struct swh_ode_problem p;
    static double y[NET_STATES], f[NET_STATES];
    network_make(&net, 1e-5, &p);
    disturb(&net, y);
    network(0, y, f, &net);
    struct swh_jacobian *sparse = swh_jacobian_create(p.n, p.col_ptr, p.row_idx, p.rtol, p.atol);
    struct swh_jacobian *dense = swh_jacobian_create(p.n, NULL, NULL, p.rtol, p.atol);
    assert_int_equal(swh_jacobian_evaluate(sparse, 0, y, f, network, &net), 0);
    assert_int_equal(swh_jacobian_evaluate(dense, 0, y, f, network, &net), 0);
    double sum_all = 0, sum_pattern = 0;
    for (int j = 0; j < p.n; j++)
        for (int k = p.col_ptr[j]; k < p.col_ptr[j + 1]; k++) {
            const double whole = swh_jacobian_values(dense)[j * p.n + p.row_idx[k]];
            CHECK_CLOSE(swh_jacobian_values(sparse)[k], whole, 0, 0); /* the same differences, to the bit */
            sum_pattern += fabs(whole);
        }
    for (int k = 0; k < p.n * p.n; k++)
        sum_all += fabs(swh_jacobian_values(dense)[k]);
    CHECK_CLOSE(sum_all, sum_pattern, 1e-14, 0); /* nothing lies outside the pattern */
    assert_true(swh_jacobian_colours(sparse) <= 12);
    swh_jacobian_free(sparse);
    swh_jacobian_free(dense);
}

/* mass is conserved identically: every column of masses sums to zero over the rows of masses */
static void columns_conserve(void **state)
{
    (void)state;
    static struct network net;
    struct swh_ode_problem p;
    static double y[NET_STATES], f[NET_STATES];
    network_make(&net, 1e-5, &p);
    disturb(&net, y);
    network(0, y, f, &net);
    struct swh_jacobian *jac = swh_jacobian_create(p.n, p.col_ptr, p.row_idx, p.rtol, p.atol);
    assert_int_equal(swh_jacobian_evaluate(jac, 0, y, f, network, &net), 0);
    for (int j = 0; j < NET_W; j++) {
        double sum = 0, size = 0;
        for (int k = p.col_ptr[j]; k < p.col_ptr[j + 1]; k++)
            if (p.row_idx[k] < NET_U) {
                sum += swh_jacobian_values(jac)[k];
                size += fabs(swh_jacobian_values(jac)[k]);
            }
        CHECK_BETWEEN(sum / (size + 1e-30), -1e-7, 1e-7);
    }
    swh_jacobian_free(jac);
}

/* slow columns: kept for seven evaluations, as they were to the bit; the others are always of the present */
static void slow_columns(void **state)
{
    (void)state;
    static struct network net;
    struct swh_ode_problem p;
    static double y[NET_STATES], f[NET_STATES], before[NET_STATES * NET_STATES];
    unsigned char slow[NET_STATES] = {0};
    network_make(&net, 1e-5, &p);
    disturb(&net, y);
    network(0, y, f, &net);
    for (int j = 1; j < p.n; j += 3)
        slow[j] = 1;
    struct swh_jacobian *jac = swh_jacobian_create(p.n, p.col_ptr, p.row_idx, p.rtol, p.atol);
    struct swh_jacobian *fresh = swh_jacobian_create(p.n, p.col_ptr, p.row_idx, p.rtol, p.atol);
    const int colours = swh_jacobian_colours(jac);
    assert_true(swh_jacobian_set_slow(jac, slow));
    assert_true(swh_jacobian_colours(jac) < colours);
    for (int round = 0; round < 17; round++) {
        if (round == 12)
            swh_jacobian_forget(jac);
        const int all = round == 0 || round == 8 || round == 12;
        for (int j = 0; j < NET_U; j++)
            y[j] *= 1 + 0.01 * (round % 3);
        network(0, y, f, &net);
        const long calls = swh_jacobian_rates_calls(jac);
        assert_int_equal(swh_jacobian_evaluate(jac, 0, y, f, network, &net), 0);
        assert_int_equal(swh_jacobian_evaluate(fresh, 0, y, f, network, &net), 0);
        assert_int_equal(swh_jacobian_rates_calls(jac) - calls > swh_jacobian_colours(jac), all);
        for (int j = 0; j < p.n; j++)
            for (int k = p.col_ptr[j]; k < p.col_ptr[j + 1]; k++) {
                const double now = swh_jacobian_values(jac)[k];
                CHECK_CLOSE(now, slow[j] && !all ? before[k] : swh_jacobian_values(fresh)[k], 0, 0);
                before[k] = now;
            }
    }
    swh_jacobian_free(jac);
    swh_jacobian_free(fresh);
}

/* defined for y <= limit only */
static int one_sided(double t, const double *y, double *dy, void *context)
{
    const double limit = *(const double *)context;
    (void)t;
    if (y[0] > limit)
        return 1;
    dy[0] = y[0] * y[0];
    return 0;
}

static void other_side(void **state)
{
    (void)state;
    const double rtol = 1e-6, atol = 1e-6, y = 3, f = 9;
    double limit = 3;
    struct swh_jacobian *jac = swh_jacobian_create(1, NULL, NULL, &rtol, &atol);
    assert_int_equal(swh_jacobian_evaluate(jac, 0, &y, &f, one_sided, &limit), 0);
    CHECK_CLOSE(swh_jacobian_values(jac)[0], 6, 1e-6, 0); /* d(y^2)/dy */
    assert_int_equal(swh_jacobian_rates_calls(jac), 2);
    limit = 2; /* no side is left */
    assert_int_equal(swh_jacobian_evaluate(jac, 0, &y, &f, one_sided, &limit), 1);
    swh_jacobian_free(jac);
}

static int reciprocal(double t, const double *y, double *dy, void *context)
{
    (void)t;
    (void)context;
    dy[0] = 1 / y[0];
    return 0;
}

/* a small state beside a coarse tolerance: d(1/y)/dy = -1/y^2 all the same */
static void coarse_tolerance(void **state)
{
    (void)state;
    const double rtol = 1e-3, atol = 1e-5, y = 1e-3, f = 1 / y;
    struct swh_jacobian *jac = swh_jacobian_create(1, NULL, NULL, &rtol, &atol);
    assert_int_equal(swh_jacobian_evaluate(jac, 0, &y, &f, reciprocal, NULL), 0);
    CHECK_CLOSE(swh_jacobian_values(jac)[0], -1e6, 1e-6, 0);
    swh_jacobian_free(jac);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(analytic),         cmocka_unit_test(coloured_equals_dense),
        cmocka_unit_test(columns_conserve), cmocka_unit_test(other_side),
        cmocka_unit_test(coarse_tolerance), cmocka_unit_test(slow_columns),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
