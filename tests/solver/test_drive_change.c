/* A log's drive where the log does not say: gaps, edges of the clutch between two rows, readings that stay.
 */
#include "solver/infer/drive_change.h"
#include "solver/infer/plausible.h"
#include "tests/check.h"

#include <string.h>

enum { SPEED = SWH_CH_compressor_speed, CLUTCH = SWH_CH_clutch, TIME = SWH_CH_time };
static const bool drives[SWH_CHANNEL_COUNT] = {
    [SWH_CH_compressor_speed] = true, [SWH_CH_clutch] = true, [SWH_CH_suction_pressure] = true};

static void add(struct swh_log_memory *m, double t, double speed, double clutch)
{
    struct swh_log_row row;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        row.value[i] = NAN;
    row.value[TIME] = t;
    row.value[SPEED] = speed;
    row.value[CLUTCH] = clutch;
    row.value[SWH_CH_shell_temperature] = 300 + 0.01 * t;
    assert_int_equal(swh_log_memory_add(m, &row, 0, NULL), SWH_OK);
}

/* the speed of the drive at t, straight lines between rows, as a replay takes it */
static double speed_at(const struct swh_log_memory *m, double t)
{
    size_t k = 1;
    while (k + 1 < m->rows && m->row[k].value[TIME] < t)
        k++;
    const double *a = m->row[k - 1].value, *b = m->row[k].value;
    return a[SPEED] + (b[SPEED] - a[SPEED]) * (t - a[TIME]) / (b[TIME] - a[TIME]);
}

static void test_gap_is_no_straight_line(void **state)
{
    (void)state;
    struct swh_log_memory log = {0}, to;
    for (int t = 0; t <= 400; t++)
        if (t <= 100 || t >= 220)
            add(&log, t, t <= 100 ? 20 : 40, 1);
    CHECK_CLOSE(swh_log_gap(&log), 10, 0, 0);
    assert_int_equal(swh_drive_facts(&log).gaps, 1);
    CHECK_CLOSE(swh_drive_facts(&log).longest_gap, 120, 0, 0);
    /* in the middle of the gap, within a quarter of it: before and behind that as it was read */
    assert_int_equal(swh_drive_change(&to, &log, drives, &swh_drive_as_read, NULL), SWH_OK);
    CHECK_CLOSE(speed_at(&to, 144), 20, 1e-12, 0);
    CHECK_CLOSE(speed_at(&to, 160), 30, 0.02, 0);
    CHECK_CLOSE(speed_at(&to, 176), 40, 1e-12, 0);
    for (size_t i = 0; i < to.rows; i++) /* rows that were put in are no readings */
        if (to.row[i].value[TIME] > 100 && to.row[i].value[TIME] < 220)
            assert_true(isnan(to.row[i].value[SWH_CH_shell_temperature]));
    swh_log_memory_free(&to);
    const struct swh_drive_change late = {.gap_place = 1};
    assert_int_equal(swh_drive_change(&to, &log, drives, &late, NULL), SWH_OK);
    CHECK_CLOSE(speed_at(&to, 186), 20, 1e-12, 0);
    swh_log_memory_free(&to);
    const struct swh_drive_change usual = {.gap_place = 0.5, .gap_usual = true};
    assert_int_equal(swh_drive_change(&to, &log, drives, &usual, NULL), SWH_OK);
    const double mean = (101 * 20.0 + 181 * 40.0) / 282;
    CHECK_CLOSE(speed_at(&to, 160), mean, 1e-9, 0);
    swh_log_memory_free(&to);
    swh_log_memory_free(&log);
}

/* time from one edge to the next of the drive: edges lie in the middle between two rows */
static double time_engaged(const struct swh_log_memory *m)
{
    double sum = 0, since = NAN;
    for (size_t i = 1; i < m->rows; i++) {
        const double *a = m->row[i - 1].value, *b = m->row[i].value;
        const double middle = 0.5 * (a[TIME] + b[TIME]);
        if (a[CLUTCH] < 0.5 && b[CLUTCH] >= 0.5)
            since = middle;
        if (a[CLUTCH] >= 0.5 && b[CLUTCH] < 0.5 && isfinite(since))
            sum += middle - since;
    }
    return sum;
}

static void test_edges_between_rows(void **state)
{
    (void)state;
    struct swh_log_memory log = {0}, to;
    for (int t = 0; t <= 600; t += 5) /* 20 s on, 15 s off, a row every 5 s */
        add(&log, t, 25, t % 35 >= 15);
    const struct swh_drive_facts f = swh_drive_facts(&log);
    CHECK_CLOSE(f.shortest_on, 20, 1e-12, 0);
    CHECK_CLOSE(f.between, 5, 1e-12, 0);
    assert_int_equal(f.restarts,
                     16); /* the last one stays on; the first comes without a pause that was seen */
    const struct swh_drive_change longer = {.gap_place = 0.5, .engage_later = -2.5, .release_later = 2.5};
    assert_int_equal(swh_drive_change(&to, &log, drives, &swh_drive_as_read, NULL), SWH_OK);
    const double read = time_engaged(&to);
    swh_log_memory_free(&to);
    assert_int_equal(swh_drive_change(&to, &log, drives, &longer, NULL), SWH_OK);
    CHECK_CLOSE(time_engaged(&to), read * 25 / 20, 1e-9, 0);
    for (size_t i = 1; i < to.rows; i++)
        assert_true(to.row[i].value[TIME] > to.row[i - 1].value[TIME]);
    swh_log_memory_free(&to);
    swh_log_memory_free(&log);
}

static void test_stuck(void **state)
{
    (void)state;
    for (int kind = 0; kind < 3;
         kind++) { /* moves; stays while the speed changes; stays while nothing does */
        struct swh_log_memory log = {0};
        double from = NAN, to = NAN;
        for (int t = 0; t <= 900; t++) {
            add(&log, t, kind < 2 && t > 450 ? 40 : 20, 1);
            log.row[log.rows - 1].value[SWH_CH_shell_temperature] =
                kind > 0 && t >= 400 && t < 700 ? 320 : 300 + 0.1 * (double)(t * 7919 % 31);
        }
        const bool found = swh_log_stuck(&log, SWH_CH_shell_temperature, &from, &to);
        assert_int_equal(found, kind == 1);
        if (found) {
            CHECK_CLOSE(from, 400, 0, 0);
            CHECK_CLOSE(to, 699, 0, 0);
        }
        swh_log_memory_free(&log);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gap_is_no_straight_line),
        cmocka_unit_test(test_edges_between_rows),
        cmocka_unit_test(test_stuck),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
