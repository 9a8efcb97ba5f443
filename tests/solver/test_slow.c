/* Forecasts of slow quantities and projections along them, against closed forms: the exponential; the normal
 * form of a fold dx/dt = mu + x^2, whose solution is x = sqrt(mu) tan(sqrt(mu) t + phase) for mu > 0 and
 * rests at -sqrt(-mu) for mu < 0 (textbook: Strogatz, Nonlinear Dynamics and Chaos, section 4.3, from
 * memory). */
#include "solver/steady/slow.h"
#include "tests/check.h"

static void begin(struct swh_slow *s)
{
    *s = (struct swh_slow){.n = 1, .near = {1}, .still = {1e-9}};
}

static void add(struct swh_slow *s, double time, double mean, double rate)
{
    swh_slow_add(s, time, &mean, &rate);
}

/* 68 - 30 exp(-t/450): one exponential is forecast exactly, at whatever times it is read (Aitken 1926) */
static void test_one_exponential(void **state)
{
    (void)state;
    struct swh_slow s;
    begin(&s);
    const double t[] = {100, 190, 420, 460};
    for (int i = 0; i < 4; i++)
        add(&s, t[i], 68 - 30 * exp(-t[i] / 450), 30 / 450.0 * exp(-t[i] / 450));
    for (int k = 1; k <= 3; k++) {
        CHECK_CLOSE(swh_slow_growth(&s, 0, k), -1 / 450.0, 1e-9, 0);
        CHECK_CLOSE(swh_slow_limit(&s, 0, k, 1000), 68, 1e-9, 0);
        assert_true(isnan(swh_slow_limit(&s, 0, k, 400)));
    }
    assert_true(swh_slow_foreseen(&s, 3, 200, 0.1, 1000, 30));
    assert_false(swh_slow_foreseen(&s, 3, 200, 0.1, 1000, 5)); /* 10.8 are left */
    assert_false(swh_slow_foreseen(&s, 3, 400, 0.1, 1000, 30));
    assert_false(swh_slow_foreseen(&s, 4, 0, 0.1, 1000, 30));
}

/* Beside a fold the forecast creeps: what the crawl has left behind is no exponential. */
static void test_crawl_is_not_foreseen(void **state)
{
    (void)state;
    struct swh_slow s;
    begin(&s);
    const double mu = 0.05, w = sqrt(mu);
    for (double x = -3, t = 0; x < -0.3; t += 0.5) {
        add(&s, t, x, mu + x * x);
        assert_false(swh_slow_foreseen(&s, 2, 1, 0.05, 1e9, 100));
        x = w * tan(atan(x / w) + 0.5 * w);
    }
    assert_true(s.entries > 4);
}

/* Follows dx/dt = mu + x^2 exactly for `look`, then projections, and so on, until x passes `end` or it rests.
 */
static double project_along(double mu, double x, double end, double *time)
{
    static const int lead[] = {0};
    struct swh_slow s;
    begin(&s);
    const double look = 0.05, most = 0.5, w = sqrt(fabs(mu));
    *time = 0;
    for (int i = 0; i < 2000 && x < end; i++) {
        double way = 0;
        add(&s, *time, x, mu + x * x);
        const double project = swh_slow_project(&s, lead, 1, 1, 1e3, &most, &way);
        x += isnan(project) ? 0 : way;
        *time += isnan(project) ? 0 : project;
        if (mu > 0)
            x = w * tan(atan(x / w) + look * w);
        else { /* partial fractions */
            const double e = (x - w) / (x + w) * exp(2 * w * look);
            x = w * (1 + e) / (1 - e);
        }
        *time += look;
    }
    return x;
}

static void test_leaps_keep_rest_and_time(void **state)
{
    (void)state;
    double time;
    /* short of the fold it comes to the very rest, from far below, and never beyond */
    for (double mu = -1e-3; mu > -2; mu *= 4)
        CHECK_CLOSE(project_along(mu, -3, 3, &time), -sqrt(-mu), 1e-5, 0);
    /* past the fold it goes through the bottleneck in the time that the closed form
     * takes, to some per cent */
    for (double mu = 0.03; mu < 2; mu *= 2) {
        const double w = sqrt(mu), x = project_along(mu, -3, 3, &time);
        CHECK_CLOSE(time, (atan(x / w) - atan(-3 / w)) / w, 0.15, 0);
    }
}

/* No component goes farther than it may, and the time is that of the shorter way. */
static void test_project_is_bounded(void **state)
{
    (void)state;
    static const int lead[] = {0};
    struct swh_slow s = {.n = 2, .near = {1, 1}, .still = {1e-9, 1e-9}};
    const double most[] = {100, 2}, times[] = {0, 100};
    double way[2];
    for (int i = 0; i < 2; i++) {
        const double left = exp(-times[i] / 500);
        swh_slow_add(&s, times[i], (const double[]){-50 * left, -10 * left},
                     (const double[]){0.1 * left, 0.02 * left});
    }
    const double time = swh_slow_project(&s, lead, 1, 1, 1e9, most, way);
    CHECK_CLOSE(way[1], 2, 1e-12, 0);
    CHECK_CLOSE(way[0], 10, 1e-9, 0);
    /* 10 exp(-100/500) (1 - exp(-time/500)) = 2 */
    CHECK_CLOSE(time, -500 * log(1 - 0.2 * exp(0.2)), 1e-9, 0);
    swh_slow_add(&s, 200, (const double[]){0, 0}, (const double[]){-0.1, 0.02});
    assert_true(isnan(swh_slow_project(&s, lead, 1, 1, 1e9, most, way))); /* to and fro */
    swh_slow_clear(&s);
    CHECK_CLOSE(swh_slow_project(&s, lead, 1, 1, 1e9, most, way), 0, 0, 0);
}

/* What goes to and fro about one level is still; what drifts is not. */
static void test_still(void **state)
{
    (void)state;
    struct swh_slow even, drifts;
    begin(&even);
    begin(&drifts);
    for (int i = 0; i < 14; i++) {
        const double wobble = i % 2 ? 3 : -3;
        add(&even, 200.0 * i, 70 + wobble, 0);
        add(&drifts, 200.0 * i, 70 + wobble + 0.4 * i, 0);
    }
    assert_true(swh_slow_still(&even, 1200, 0.3));
    assert_false(swh_slow_still(&drifts, 1200, 0.3));
    assert_false(swh_slow_still(&even, 2000, 0.3)); /* not long enough for that */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_exponential), cmocka_unit_test(test_crawl_is_not_foreseen),
        cmocka_unit_test(test_leaps_keep_rest_and_time), cmocka_unit_test(test_project_is_bounded),
        cmocka_unit_test(test_still)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
