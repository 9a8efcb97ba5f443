/* Ensembles: draws, bands, probability. */
#include "solver/study/ensemble.h"
#include "tests/check.h"

#include <string.h>

/* Wilson 1927; with none of n the upper end is z^2/(n + z^2) in closed form, z = 1.96. */
static void test_wilson(void **state)
{
    (void)state;
    double low = 0, high = 0;
    swh_wilson_interval(0, 10, &low, &high);
    CHECK_CLOSE(low, 0, 0, 1e-12);
    CHECK_CLOSE(high, 3.841458820694124 / 13.841458820694124, 1e-12, 0);
    swh_wilson_interval(5, 10, &low, &high);
    CHECK_CLOSE(low + high, 1, 1e-12, 0);
}

/* moments of the normal distribution, and of its cut at a limit two deviations away */
static void test_draws(void **state)
{
    (void)state;
    struct swh_case c;
    swh_case_default(&c);
    c.spread.friction_film_scale = 0.1;
    enum { N = 20000 };
    double sum = 0, squares = 0;
    struct swh_params p;
    for (long i = 0; i < N; i++) {
        swh_ensemble_draw(&c, 5, i, &p);
        const double z = (p.friction_film_scale - c.params.friction_film_scale) / 0.1;
        sum += z / N;
        squares += z * z / N;
        assert_true(p.oil_total == c.params.oil_total);
    }
    CHECK_BETWEEN(sum, -0.036, 0.036); /* five standard errors */
    CHECK_BETWEEN(squares, 0.95, 1.05);
    c.spread.condenser_air_share = 0.3; /* the mean, 1, is the upper limit */
    for (long i = 0; i < 200; i++) {
        swh_ensemble_draw(&c, 5, i, &p);
        CHECK_BETWEEN(p.condenser_air_share, 0, 1);
    }
}

static void starving_case(struct swh_case *c)
{
    swh_case_default(c);
    c->conditions.ambient_temperature = 316.15;
    c->conditions.compressor_speed = 50;
    c->conditions.doors_open = 1;
    c->params.run_duration = 600;
    c->fault[SWH_FAULT_never_cycling].present = c->fault[SWH_FAULT_undercharge].present = true;
    c->fault[SWH_FAULT_never_cycling].severity = 1;
    c->fault[SWH_FAULT_undercharge].severity = 0.7;
    c->spread.friction_film_scale = 0.3;
}

static void test_reproducible_on_any_number_of_threads(void **state)
{
    (void)state;
    struct swh_case c;
    static struct swh_ensemble one, two;
    starving_case(&c);
    struct swh_ensemble_request q = {.base = &c, .members = 12, .seed = 3, .threads = 1};
    assert_int_equal(swh_ensemble_run(&q, &one, NULL), SWH_OK);
    q.threads = 2;
    assert_int_equal(swh_ensemble_run(&q, &two, NULL), SWH_OK);
    assert_memory_equal(&one, &two, sizeof one);
    for (int k = 0; k < SWH_ENSEMBLE_TIMES; k++)
        if (!isnan(one.band[0][1][k]))
            assert_true(one.band[0][0][k] <= one.band[0][1][k] && one.band[0][1][k] <= one.band[0][2][k]);
    assert_true(one.seized > 0 && one.probability >= one.low && one.probability <= one.high);
}

/* a member is the single run with its parameters */
static void test_member_is_a_single_run(void **state)
{
    (void)state;
    struct swh_case c;
    static struct swh_ensemble e;
    static struct swh_summary summary;
    starving_case(&c);
    const struct swh_ensemble_request q = {.base = &c, .members = 1, .seed = 9, .threads = 1};
    assert_int_equal(swh_ensemble_run(&q, &e, NULL), SWH_OK);
    struct swh_case one = c;
    swh_ensemble_draw(&c, 9, 0, &one.params);
    one.choices.controls_after_seizure = 0;
    one.params.run_output_interval = one.params.run_duration / (SWH_ENSEMBLE_TIMES - 1);
    assert_int_equal(swh_run(&one, NULL, &summary, NULL), SWH_OK);
    assert_int_equal(e.seized, isfinite(summary.time_to_seizure));
    if (e.seized)
        assert_true(e.time_median == summary.time_to_seizure);
}

static void test_bad_input(void **state)
{
    (void)state;
    struct swh_case c;
    static struct swh_ensemble e;
    struct swh_error err = {0};
    swh_case_default(&c);
    struct swh_ensemble_request q = {.base = &c, .members = 5, .seed = 1};
    assert_int_equal(swh_ensemble_run(&q, &e, &err), SWH_ERR_INPUT);
    assert_non_null(strstr(err.what, "spread"));
    q.members = 0;
    assert_int_equal(swh_ensemble_run(&q, &e, NULL), SWH_ERR_INPUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_wilson), cmocka_unit_test(test_draws),
                                       cmocka_unit_test(test_reproducible_on_any_number_of_threads),
                                       cmocka_unit_test(test_member_is_a_single_run),
                                       cmocka_unit_test(test_bad_input)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
