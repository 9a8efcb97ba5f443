/* The bounded store of rows for pictures. */
#include "tests/check.h"

#include "cli/commands/run/decimated_series.h"

#include <stdlib.h>

static void fill(double *v, long i)
{
    for (int c = 0; c < SWH_CHANNEL_COUNT; c++)
        v[c] = sin(0.001 * (double)i * (c + 1));
    v[SWH_CH_time] = 0.1 * (double)i;
    if (i == 34567)
        v[SWH_CH_block_temperature] = 1000; /* one spike */
    if (i == 45678)
        v[SWH_CH_oil_temperature] = -1000;
    if (i % 300 != 0)
        v[SWH_CH_shell_temperature] = NAN; /* read now and then */
}

static void keep_rows(struct swh_keep *k, long n)
{
    double value[SWH_CHANNEL_COUNT];
    const struct swh_row row = {value, value, NULL};
    assert_int_equal(swh_keep_begin(k, true, NULL), SWH_OK);
    for (long i = 0; i < n; i++) {
        fill(value, i);
        swh_keep_row(k, &row);
    }
    swh_keep_end(k);
}

static double extreme(const struct swh_keep *k, const double *table, int channel, double sign)
{
    double best = -INFINITY;
    for (int i = 0; i < k->rows; i++)
        best = fmax(best, sign * table[(size_t)i * SWH_CHANNEL_COUNT + (size_t)channel]);
    return sign * best;
}

static void test_few_rows_stay_as_they_are(void **state)
{
    (void)state;
    struct swh_keep k;
    double value[SWH_CHANNEL_COUNT];
    keep_rows(&k, SWH_KEEP_ROWS);
    assert_int_equal(k.rows, SWH_KEEP_ROWS);
    for (int i = 0; i < k.rows; i++) {
        fill(value, i);
        assert_true(k.value[(size_t)i * SWH_CHANNEL_COUNT + SWH_CH_block_temperature] ==
                    value[SWH_CH_block_temperature]);
    }
    swh_keep_free(&k);
}

static void test_many_rows_keep_extremes(void **state)
{
    (void)state;
    static const long counts[] = {4001, 4005, 17999, 100000, 100001, 99998};
    for (size_t c = 0; c < sizeof counts / sizeof counts[0]; c++) {
        struct swh_keep k;
        keep_rows(&k, counts[c]);
        assert_true(k.rows <= SWH_KEEP_ROWS && k.rows >= SWH_KEEP_ROWS / 2 - 4);
        for (int i = 1; i < k.rows; i++)
            assert_true(k.value[(size_t)i * SWH_CHANNEL_COUNT] >
                        k.value[(size_t)(i - 1) * SWH_CHANNEL_COUNT]);
        CHECK_CLOSE(k.value[(size_t)(k.rows - 1) * SWH_CHANNEL_COUNT], 0.1 * (double)(counts[c] - 1), 1e-12,
                    0);
        if (counts[c] > 50000) {
            CHECK_CLOSE(extreme(&k, k.value, SWH_CH_block_temperature, 1), 1000, 0, 0);
            CHECK_CLOSE(extreme(&k, k.measured, SWH_CH_oil_temperature, -1), -1000, 0, 0);
        }
        swh_keep_free(&k);
    }
}

static void test_rare_readings_stay(void **state)
{
    (void)state;
    struct swh_keep k;
    int seen = 0;
    keep_rows(&k, 20000);
    for (int i = 0; i < k.rows; i++)
        seen += !isnan(k.measured[(size_t)i * SWH_CHANNEL_COUNT + SWH_CH_shell_temperature]);
    assert_true(seen >= 20000 / 300);
    swh_keep_free(&k);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_few_rows_stay_as_they_are),
        cmocka_unit_test(test_many_rows_keep_extremes),
        cmocka_unit_test(test_rare_readings_stay),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
