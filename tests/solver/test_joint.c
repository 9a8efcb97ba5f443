/* Correlations of parameters with a spread: the root of their covariance, and draws from it. */
#include "solver/study/ensemble.h"
#include "tests/check.h"

#include <string.h>

enum { A = SWH_P_condenser_ua_air, B = SWH_P_valve_area, C = SWH_P_suction_line_ua };

static void two(struct swh_case *c, double r)
{
    swh_case_default(c);
    swh_param_set(&c->spread, A, 30);
    swh_param_set(&c->spread, B, 1e-7);
    assert_true(swh_joint_set(&c->joint, A, B, r));
}

/* Cholesky factor of a 2 x 2 covariance in closed form (Golub and Van Loan, ch. 4). */
static void test_root_of_two(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_joint_root root;
    two(&c, -0.6);
    swh_joint_make_root(&c.joint, &c.spread, &root);
    assert_int_equal(root.n, 2);
    assert_true(A < B && root.param[0] == A && root.param[1] == B); /* the table's order */
    CHECK_CLOSE(root.root[0][0], 30, 1e-12, 0);
    CHECK_CLOSE(root.root[1][0], -0.6e-7, 1e-12, 0);
    CHECK_CLOSE(root.root[1][1], 0.8e-7, 1e-12, 0);
    CHECK_CLOSE(swh_joint_get(&c.joint, B, A), -0.6, 0, 0);
    CHECK_CLOSE(swh_joint_get(&c.joint, A, C), 0, 0, 0);
    CHECK_CLOSE(swh_joint_get(&c.joint, C, C), 1, 0, 0);
    assert_false(swh_joint_set(&c.joint, A, A, 0.5));
    assert_false(swh_joint_set(&c.joint, A, B, 1.1));
}

/* A parameter without a spread takes no part, whatever its correlations are. */
static void test_no_spread_no_part(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_joint_root root;
    two(&c, 0.5);
    swh_param_set(&c.spread, A, 0);
    swh_joint_make_root(&c.joint, &c.spread, &root);
    assert_int_equal(root.n, 1);
    CHECK_CLOSE(root.root[0][0], 1e-7, 1e-12, 0);
}

/* 0.9, 0.9 and -0.9 are no correlations of three numbers (the determinant is negative); nor is exactly 1 of
 * two, which rounding gives. */
static void test_impossible_correlations_are_shrunk(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_joint_root root;
    two(&c, 0.9);
    swh_param_set(&c.spread, C, 1);
    swh_joint_set(&c.joint, A, C, 0.9);
    swh_joint_set(&c.joint, B, C, -0.9);
    swh_joint_make_root(&c.joint, &c.spread, &root);
    for (int i = 0; i < 3; i++) {
        double square = 0;
        for (int k = 0; k <= i; k++)
            square += root.root[i][k] * root.root[i][k];
        CHECK_CLOSE(sqrt(square), swh_param_get(&c.spread, root.param[i]), 1e-9, 0);
    }
    const double ab = root.root[1][0] / 1e-7;
    CHECK_BETWEEN(ab, 0.3, 0.501); /* 1/2 is the most that three such can have */
    two(&c, 1);
    swh_joint_make_root(&c.joint, &c.spread, &root);
    CHECK_BETWEEN(root.root[1][0], 0.9999e-7, 1e-7);
}

/* The draws have the correlation (five standard errors, (1 - r^2)/sqrt(n) each; Fisher 1915), and one that
 * stands alone is drawn as ever. */
static void test_draws_go_together(void **state)
{
    (void)state;
    struct swh_case c, alone;
    struct swh_params p, q;
    enum { N = 20000 };
    double ab = 0, aa = 0, bb = 0;
    two(&c, 0.8);
    swh_param_set(&c.spread, C, 0.3);
    alone = c;
    memset(&alone.joint, 0, sizeof alone.joint);
    for (long i = 0; i < N; i++) {
        swh_ensemble_draw(&c, 5, i, &p);
        swh_ensemble_draw(&alone, 5, i, &q);
        const double a = (swh_param_get(&p, A) - swh_param_get(&c.params, A)) / 30;
        const double b = (swh_param_get(&p, B) - swh_param_get(&c.params, B)) / 1e-7;
        ab += a * b;
        aa += a * a;
        bb += b * b;
        assert_true(swh_param_get(&p, C) == swh_param_get(&q, C));
    }
    CHECK_BETWEEN(ab / sqrt(aa * bb), 0.8 - 0.0127, 0.8 + 0.0127);
    CHECK_BETWEEN(sqrt(bb / N), 0.975, 1.025);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_root_of_two),
        cmocka_unit_test(test_no_spread_no_part),
        cmocka_unit_test(test_impossible_correlations_are_shrunk),
        cmocka_unit_test(test_draws_go_together),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
