/* Designs and sensitivities against closed forms and published values. */
#include "solver/study/sample.h"
#include "solver/study/sensitivity.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void assert_near(double a, double b, double tolerance)
{
    assert_true(fabs(a - b) <= tolerance);
}

static const double PI = 3.14159265358979323846;

static struct swh_sampling plan_of(enum swh_design design, int axes, double lo, double hi, long n)
{
    struct swh_sampling plan = {.design = design, .axes = axes, .sample = n, .seed = 7};
    for (int i = 0; i < axes && i < SWH_SAMPLE_AXES; i++)
        plan.range[i] = (struct swh_range){lo, hi, n};
    return plan;
}

/* Equal arguments give equal bits, any other argument others; moments of the uniform and of the normal
 * distribution (closed forms). */
static void test_generator(void **state)
{
    (void)state;
    assert_true(swh_random_bits(1, 2, 3) == swh_random_bits(1, 2, 3));
    assert_true(swh_random_bits(1, 2, 3) != swh_random_bits(1, 2, 4));
    assert_true(swh_random_bits(1, 2, 3) != swh_random_bits(1, 3, 3));
    assert_true(swh_random_bits(1, 2, 3) != swh_random_bits(2, 2, 3));
    const int n = 200000;
    double u1 = 0, u2 = 0, z1 = 0, z2 = 0, z4 = 0, product = 0;
    for (int i = 0; i < n; i++) {
        const double u = swh_random_uniform(11, 0, (uint64_t)i), z = swh_random_normal(11, 1, (uint64_t)i);
        assert_true(u > 0 && u < 1);
        u1 += u / n;
        u2 += u * u / n;
        z1 += z / n;
        z2 += z * z / n;
        z4 += z * z * z * z / n;
        product += (u - 0.5) * (swh_random_uniform(11, 2, (uint64_t)i) - 0.5) / n;
    }
    /* five standard errors */
    assert_true(fabs(u1 - 0.5) < 5 * sqrt(1.0 / 12 / n));
    assert_true(fabs(u2 - 1.0 / 3) < 5 * sqrt(4.0 / 45 / n));
    assert_true(fabs(z1) < 5 / sqrt(n));
    assert_true(fabs(z2 - 1) < 5 * sqrt(2.0 / n));
    assert_true(fabs(z4 - 3) < 5 * sqrt(96.0 / n));
    assert_true(fabs(product) < 5.0 / 12 / sqrt(n));
}

static void test_grid(void **state)
{
    (void)state;
    struct swh_sampling plan = {.design = SWH_DESIGN_GRID, .axes = 2, .range = {{0, 1, 3}, {10, 40, 4}}};
    assert_int_equal(swh_sampling_begin(&plan, NULL), SWH_OK);
    assert_int_equal(plan.count, 12);
    double x[2];
    swh_sampling_point(&plan, 0, x);
    assert_true(x[0] == 0 && x[1] == 10);
    swh_sampling_point(&plan, 6, x);
    assert_true(x[0] == 0.5 && x[1] == 30);
    swh_sampling_point(&plan, 11, x);
    assert_true(x[0] == 1 && x[1] == 40);
    swh_sampling_free(&plan);
}

/* The definition of a Latin hypercube (McKay, Beckman and Conover 1979): each stratum of each axis once. */
static void test_latin_hypercube(void **state)
{
    (void)state;
    enum { N = 97 };
    struct swh_sampling plan = plan_of(SWH_DESIGN_LATIN, 3, -2, 5, N);
    assert_int_equal(swh_sampling_begin(&plan, NULL), SWH_OK);
    for (int k = 0; k < 3; k++) {
        int hits[N] = {0};
        for (long i = 0; i < N; i++) {
            double x[3];
            swh_sampling_point(&plan, i, x);
            hits[(int)((x[k] + 2) / 7 * N)]++;
        }
        for (int i = 0; i < N; i++)
            assert_int_equal(hits[i], 1);
    }
    swh_sampling_free(&plan);
}

static void test_seed_decides(void **state)
{
    (void)state;
    struct swh_sampling a = plan_of(SWH_DESIGN_LATIN, 2, 0, 1, 50), b = a, c = a;
    c.seed = 8;
    assert_int_equal(
        swh_sampling_begin(&a, NULL) | swh_sampling_begin(&b, NULL) | swh_sampling_begin(&c, NULL), SWH_OK);
    int same = 0;
    for (long i = 0; i < 50; i++) {
        double x[2], y[2], z[2];
        swh_sampling_point(&a, i, x);
        swh_sampling_point(&b, 49 - i, y);
        swh_sampling_point(&b, i, y);
        swh_sampling_point(&c, i, z);
        assert_memory_equal(x, y, sizeof x);
        same += memcmp(x, z, sizeof x) == 0;
    }
    assert_int_equal(same, 0);
    swh_sampling_free(&a);
    swh_sampling_free(&b);
    swh_sampling_free(&c);
}

static void refused(struct swh_sampling plan, const char *word)
{
    struct swh_error err = {0};
    assert_int_equal(swh_sampling_begin(&plan, &err), SWH_ERR_INPUT);
    assert_non_null(strstr(err.what, word));
    swh_sampling_free(&plan);
}

static void test_bad_plans(void **state)
{
    (void)state;
    refused(plan_of(SWH_DESIGN_GRID, 0, 0, 1, 3), "0 keys");
    refused(plan_of(SWH_DESIGN_GRID, 9, 0, 1, 3), "9 keys");
    refused(plan_of(SWH_DESIGN_GRID, 1, 2, 1, 3), "reversed");
    refused(plan_of(SWH_DESIGN_GRID, 1, 1, 1, 3), "empty");
    refused(plan_of(SWH_DESIGN_LATIN, 2, 1, 1, 3), "empty");
    refused(plan_of(SWH_DESIGN_GRID, 1, 0, 1, 0), "at least 1");
    refused(plan_of(SWH_DESIGN_LATIN, 1, 0, 1, 0), "0 cases");
    refused(plan_of(SWH_DESIGN_GRID, 1, NAN, 1, 3), "not a number");
    refused(plan_of(SWH_DESIGN_GRID, 8, 0, 1, 100), "cases");
}

/* Ishigami and Homma 1990: f = sin x1 + a sin^2 x2 + b x3^4 sin x1 on (-pi, pi)^3, a = 7, b = 0.1; the
 * variances are known in closed form (Sobol 1993; Saltelli et al. 2008): S = .3139, .4424, 0; S_T = .5576,
 * .4424, .2437. */
static void test_ishigami(void **state)
{
    (void)state;
    const double a = 7, b = 0.1, p4 = pow(PI, 4), p8 = pow(PI, 8);
    const double V = a * a / 8 + b * p4 / 5 + b * b * p8 / 18 + 0.5;
    const double V1 = 0.5 * (1 + b * p4 / 5) * (1 + b * p4 / 5), V2 = a * a / 8, V13 = 8 * b * b * p8 / 225;
    const double first[3] = {V1 / V, V2 / V, 0}, total[3] = {(V1 + V13) / V, V2 / V, V13 / V};
    assert_near(first[0], 0.3139, 1e-4);
    assert_near(total[2], 0.2437, 1e-4);
    struct swh_sampling plan = plan_of(SWH_DESIGN_SALTELLI, 3, -PI, PI, 20000);
    assert_int_equal(swh_sampling_begin(&plan, NULL), SWH_OK);
    assert_int_equal(plan.count, 100000);
    double *y = malloc((size_t)plan.count * sizeof *y);
    assert_non_null(y);
    for (long i = 0; i < plan.count; i++) {
        double x[3];
        swh_sampling_point(&plan, i, x);
        y[i] = sin(x[0]) + a * sin(x[1]) * sin(x[1]) + b * pow(x[2], 4) * sin(x[0]);
    }
    struct swh_sobol s[3];
    swh_sobol_indices(y, plan.sample, 3, s);
    for (int k = 0; k < 3; k++) {
        assert_true(fabs(s[k].first - first[k]) < 0.02 && fabs(s[k].total - total[k]) < 0.02);
        assert_true(fabs(s[k].first - first[k]) < 4 * s[k].first_error + 1e-9);
        assert_true(fabs(s[k].total - total[k]) < 4 * s[k].total_error + 1e-9);
    }
    free(y);
    swh_sampling_free(&plan);
}

/* Spearman's rho: any increasing function gives 1, a decreasing one -1; without ties 1 - 6 sum d^2/(n (n^2 -
 * 1)) (the textbook formula), here on n = 6 with d = (1, -1, 0, 2, -1, -1). */
static void test_rank_correlation(void **state)
{
    (void)state;
    double x[6] = {1, 2, 3, 4, 5, 6}, y[6], rho = 0;
    for (int i = 0; i < 6; i++)
        y[i] = exp(x[i]);
    assert_int_equal(swh_rank_correlation(x, y, 6, &rho, NULL), SWH_OK);
    assert_near(rho, 1, 1e-12);
    for (int i = 0; i < 6; i++)
        y[i] = -x[i] * x[i];
    swh_rank_correlation(x, y, 6, &rho, NULL);
    assert_near(rho, -1, 1e-12);
    const double z[6] = {2, 1, 3, 6, 4, 5};
    swh_rank_correlation(x, z, 6, &rho, NULL);
    assert_near(rho, 1 - 6.0 * 8 / (6 * 35), 1e-12);
    const double gaps[6] = {2, NAN, NAN, NAN, NAN, 5}, flat[6] = {1, 1, 1, 1, 1, 1};
    swh_rank_correlation(x, gaps, 6, &rho, NULL);
    assert_true(isnan(rho));
    swh_rank_correlation(x, flat, 6, &rho, NULL);
    assert_true(isnan(rho));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_generator),       cmocka_unit_test(test_grid),
        cmocka_unit_test(test_latin_hypercube), cmocka_unit_test(test_seed_decides),
        cmocka_unit_test(test_bad_plans),       cmocka_unit_test(test_ishigami),
        cmocka_unit_test(test_rank_correlation)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
