/* Least squares against published problems: NIST's certified regressions, and the test set of More, Garbow
 * and Hillstrom (ACM TOMS 7, 1981; minima from that paper as its problems are exact, zero
 * at the solution). */
#include "solver/infer/least_squares.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

struct nist {
    const char *name;
    int n, m;
    const double (*data)[2];
    double (*model)(const double *b, double x);
    double start1[7], start2[7], certified[7], deviation[7];
    double sum;
};

static double model_misra1a(const double *b, double x)
{
    return b[0] * (1 - exp(-b[1] * x));
}
static double model_chwirut2(const double *b, double x)
{
    return exp(-b[0] * x) / (b[1] + b[2] * x);
}
static double model_thurber(const double *b, double x)
{
    return (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1 + x * (b[4] + x * (b[5] + x * b[6])));
}
static double model_mgh09(const double *b, double x)
{
    return b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]);
}
static double model_mgh10(const double *b, double x)
{
    return b[0] * exp(b[1] / (x + b[2]));
}
static double model_rat43(const double *b, double x)
{
    return b[0] / pow(1 + exp(b[1] - b[2] * x), 1 / b[3]);
}
static double model_eckerle4(const double *b, double x)
{
    return b[0] / b[1] * exp(-0.5 * pow((x - b[2]) / b[1], 2));
}
static double model_boxbod(const double *b, double x)
{
    return b[0] * (1 - exp(-b[1] * x));
}

#include "tests/solver/nist_strd.h"

static enum swh_status nist_residuals(const double *p, double *r, void *user, struct swh_error *err)
{
    const struct nist *n = user;
    (void)err;
    for (int i = 0; i < n->m; i++)
        r[i] = n->data[i][0] - n->model(p, n->data[i][1]);
    return SWH_OK;
}

/* Certified values to 6 digits and standard deviations to 4, from NIST's second (nearer) start, and for the
 * sets of lower difficulty from the first as well. */
static void check_nist(const struct nist *n, const double *start)
{
    struct swh_lsq_result r;
    struct swh_error err = {0};
    const struct swh_lsq q = {.m = n->m,
                              .n = n->n,
                              .residuals = nist_residuals,
                              .user = (void *)(uintptr_t)n,
                              .noise = 1e-15,
                              .central = true,
                              .evals_max = 20000,
                              .threads = 1};
    assert_int_equal(swh_lsq_solve(&q, start, &r, &err), SWH_OK);
    if (fabs(r.sum / n->sum - 1) > 1e-6)
        fail_msg("%s: sum of squares %.10g, certified %.10g", n->name, r.sum, n->sum);
    for (int i = 0; i < n->n; i++) {
        const double sd = sqrt(r.covariance[i * n->n + i] * r.sum / (n->m - n->n));
        if (fabs(r.p[i] / n->certified[i] - 1) > 1e-6)
            fail_msg("%s: b%d = %.10g, certified %.10g", n->name, i + 1, r.p[i], n->certified[i]);
        if (fabs(sd / n->deviation[i] - 1) > 1e-4)
            fail_msg("%s: standard deviation of b%d %.8g, certified %.8g", n->name, i + 1, sd,
                     n->deviation[i]);
    }
}

static void test_nist(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof nist_sets / sizeof nist_sets[0]; i++)
        check_nist(&nist_sets[i], nist_sets[i].start2);
    check_nist(&nist_sets[0], nist_sets[0].start1);
    check_nist(&nist_sets[1], nist_sets[1].start1);
}

/* ---- More, Garbow and Hillstrom ---- */

static enum swh_status rosenbrock(const double *x, double *r, void *user, struct swh_error *err)
{
    (void)user;
    (void)err;
    r[0] = 10 * (x[1] - x[0] * x[0]);
    r[1] = 1 - x[0];
    return SWH_OK;
}
static enum swh_status powell_singular(const double *x, double *r, void *user, struct swh_error *err)
{
    (void)user;
    (void)err;
    r[0] = x[0] + 10 * x[1];
    r[1] = sqrt(5.0) * (x[2] - x[3]);
    r[2] = pow(x[1] - 2 * x[2], 2);
    r[3] = sqrt(10.0) * pow(x[0] - x[3], 2);
    return SWH_OK;
}
static enum swh_status helical_valley(const double *x, double *r, void *user, struct swh_error *err)
{
    (void)user;
    (void)err;
    const double pi = 3.14159265358979323846;
    const double theta = atan(x[1] / x[0]) / (2 * pi) + (x[0] < 0 ? 0.5 : 0);
    r[0] = 10 * (x[2] - 10 * theta);
    r[1] = 10 * (hypot(x[0], x[1]) - 1);
    r[2] = x[2];
    return SWH_OK;
}
static enum swh_status beale(const double *x, double *r, void *user, struct swh_error *err)
{
    static const double y[] = {1.5, 2.25, 2.625};
    (void)user;
    (void)err;
    for (int i = 0; i < 3; i++)
        r[i] = y[i] - x[0] * (1 - pow(x[1], i + 1));
    return SWH_OK;
}

static void check_exact(int n, int m,
                        enum swh_status (*f)(const double *, double *, void *, struct swh_error *),
                        const double *start, const double *solution, double within)
{
    struct swh_lsq_result r;
    struct swh_error err = {0};
    const struct swh_lsq q = {
        .m = m, .n = n, .residuals = f, .noise = 1e-15, .central = true, .evals_max = 5000, .threads = 2};
    assert_int_equal(swh_lsq_solve(&q, start, &r, &err), SWH_OK);
    for (int i = 0; i < n; i++)
        if (fabs(r.p[i] - solution[i]) > within)
            fail_msg("x%d = %.10g, published %.10g", i + 1, r.p[i], solution[i]);
}

static void test_more_garbow_hillstrom(void **state)
{
    (void)state;
    check_exact(2, 2, rosenbrock, (double[]){-1.2, 1}, (double[]){1, 1}, 1e-7);
    check_exact(3, 3, helical_valley, (double[]){-1, 0, 0}, (double[]){1, 0, 0}, 1e-7);
    check_exact(4, 4, powell_singular, (double[]){3, -1, 0, 1}, (double[]){0, 0, 0, 0}, 1e-3);
    check_exact(2, 3, beale, (double[]){1, 1}, (double[]){3, 0.5}, 1e-7);
}

/* ---- bounds ---- */

static enum swh_status pulled_out(const double *x, double *r, void *user, struct swh_error *err)
{
    (void)user;
    (void)err;
    r[0] = x[0] - 5; /* the minimum lies outside 1 .. 2 */
    r[1] = 3 * (x[1] - 0.4);
    return SWH_OK;
}

static void test_bounds(void **state)
{
    (void)state;
    const double lo[] = {1, -1}, hi[] = {2, 1}, start[] = {1.5, -0.5};
    struct swh_lsq_result r;
    const struct swh_lsq q = {.m = 2,
                              .n = 2,
                              .residuals = pulled_out,
                              .lo = lo,
                              .hi = hi,
                              .noise = 1e-12,
                              .central = true,
                              .evals_max = 2000,
                              .threads = 1};
    assert_int_equal(swh_lsq_solve(&q, start, &r, NULL), SWH_OK);
    assert_true(r.p[0] > 1.98 && r.p[0] <= 2);
    assert_true(fabs(r.p[1] - 0.4) < 1e-4);
}

static enum swh_status noisy(const double *x, double *r, void *user, struct swh_error *err)
{
    (void)user;
    (void)err;
    for (int i = 0; i < 20; i++) {
        const double t = 0.1 * i;
        const double exact = x[0] * exp(-x[1] * t) - 3 * exp(-0.7 * t);
        r[i] = exact + 1e-6 * sin(1e7 * (x[0] + 3 * x[1]) + i); /* as a simulation's tolerance makes it */
    }
    return SWH_OK;
}

/* With steps that suit the noise of the residuals the fit arrives; steps at rounding level would stop at
 * once. */
static void test_noisy_residuals(void **state)
{
    (void)state;
    struct swh_lsq_result r;
    const struct swh_lsq q = {.m = 20,
                              .n = 2,
                              .residuals = noisy,
                              .noise = 1e-6,
                              .evals_max = 500,
                              .threads = 1,
                              .lo = (const double[]){0.1, 0.01},
                              .hi = (const double[]){100, 10}};
    assert_int_equal(swh_lsq_solve(&q, (double[]){1, 0.2}, &r, NULL), SWH_OK);
    assert_true(fabs(r.p[0] - 3) < 1e-3 && fabs(r.p[1] - 0.7) < 1e-3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_nist),
        cmocka_unit_test(test_more_garbow_hillstrom),
        cmocka_unit_test(test_bounds),
        cmocka_unit_test(test_noisy_residuals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
