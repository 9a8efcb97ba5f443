/* Rows of a spot sheet: the state at the end of a hold, and what rank and fit make of them. Readings here are
 * the program's own predictions, so these are checks of the machinery, not of the physics. */
#include "tests/check.h"

#include "solver/infer/fit.h"
#include "solver/infer/rank.h"
#include "solver/infer/spot.h"
#include "tests/solver/cases.h"

#include <stdlib.h>

/* ---- the mean at the end ---- */

/* An orifice-tube van short of charge cycles at idle: the mean is over whole cycles, and so hardly depends on
 * where in a cycle the hold ends. A mean of the last minute would: it is taken too, to show that the check
 * can fail. */
struct minute {
    double from, sum;
    int n;
};
static enum swh_status last_minute(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    struct minute *m = user;
    if (row->value[SWH_CH_time] < m->from)
        return SWH_OK;
    m->sum += row->value[SWH_CH_suction_pressure];
    m->n++;
    return SWH_OK;
}

static void test_whole_cycles(void **state)
{
    (void)state;
    double lowest = INFINITY, highest = 0, low_minute = INFINITY, high_minute = 0;
    for (int k = 0; k < 8; k++) {
        struct swh_case c;
        double value[SWH_CHANNEL_COUNT];
        struct swh_summary s;
        swh_case_orifice(&c, 25);
        c.conditions.compressor_speed = 40;
        swh_case_fault(&c, SWH_FAULT_undercharge, 0.45);
        c.params.run_duration = 400 + 6 * k;
        c.params.run_output_interval = 0.25; /* its cycles last some ten seconds */
        assert_true(swh_spot_run(&c, value, &s, NULL));
        assert_true(s.event_count[SWH_EV_clutch_on] > 4);
        lowest = fmin(lowest, value[SWH_CH_suction_pressure]);
        highest = fmax(highest, value[SWH_CH_suction_pressure]);
        struct minute m = {.from = c.params.run_duration - 60};
        const struct swh_sinks sinks = {.row = last_minute, .user = &m};
        assert_int_equal(swh_run(&c, &sinks, &s, NULL), SWH_OK);
        low_minute = fmin(low_minute, m.sum / m.n);
        high_minute = fmax(high_minute, m.sum / m.n);
    }
    CHECK_BETWEEN(highest - lowest, 0, 0.8 * (high_minute - low_minute));
    CHECK_BETWEEN(highest - lowest, 0, 0.05e5);
}

static void test_steady_end_is_the_last_minute(void **state)
{
    (void)state;
    struct swh_case c;
    double value[SWH_CHANNEL_COUNT];
    swh_case_valve(&c, 32);
    c.params.run_duration = 400;
    c.params.run_output_interval = 2;
    struct minute m = {.from = 340};
    struct swh_summary s;
    const struct swh_sinks sinks = {.row = last_minute, .user = &m};
    assert_int_equal(swh_run(&c, &sinks, &s, NULL), SWH_OK);
    assert_true(swh_spot_run(&c, value, NULL, NULL));
    CHECK_CLOSE(value[SWH_CH_suction_pressure], m.sum / m.n, 1e-3, 0);
}

/* ---- the case of a row ---- */

static void test_row_sets_conditions(void **state)
{
    (void)state;
    struct swh_case base, c;
    struct swh_spot_row row;
    swh_case_valve(&base, 30);
    base.conditions.doors_open = 0;
    swh_spot_row_empty(&row);
    CHECK_CLOSE(row.held, 300, 0, 0);
    assert_true(swh_spot_doors_unknown(&row));
    row.value[SWH_CH_compressor_speed] = 41;
    row.value[SWH_CH_ambient_temperature] = 310;
    row.value[SWH_CH_clutch] = 0.6; /* a share of the time is no command */
    swh_spot_case(&c, &base, &row, false);
    CHECK_CLOSE(c.conditions.compressor_speed, 41, 0, 0);
    CHECK_CLOSE(c.conditions.ambient_temperature, 310, 0, 0);
    CHECK_CLOSE(c.conditions.clutch, 1, 0, 0);
    CHECK_CLOSE(c.conditions.doors_open, 0, 0, 0);
    row.value[SWH_CH_cabin_temperature] = 312;
    swh_spot_case(&c, &base, &row, false);
    CHECK_CLOSE(c.conditions.doors_open, 1, 0, 0); /* the cabin is as warm as outside */
    assert_false(swh_spot_doors_unknown(&row));
    row.doors_open = 0;
    row.value[SWH_CH_clutch] = 0;
    swh_spot_case(&c, &base, &row, false);
    CHECK_CLOSE(c.conditions.doors_open, 0, 0, 0);
    CHECK_CLOSE(c.conditions.clutch, 0, 0, 0);
}

/* ---- what is made of a sheet ---- */

/* readings that a vehicle gives at three speeds, as hands write them down */
static void write_sheet(const struct swh_case *vehicle, const enum swh_channel *read, int reads,
                        struct swh_spot_sheet *sheet)
{
    static const double speed[] = {17.5, 25, 41.7}, ambient[] = {300, 303, 307};
    memset(sheet, 0, sizeof *sheet);
    for (size_t k = 0; k < 3; k++) {
        struct swh_spot_row *row = &sheet->row[sheet->rows++];
        struct swh_case c;
        double value[SWH_CHANNEL_COUNT];
        swh_spot_row_empty(row);
        row->doors_open = 1;
        row->value[SWH_CH_compressor_speed] = speed[k];
        row->value[SWH_CH_ambient_temperature] = ambient[k];
        sheet->has[SWH_CH_compressor_speed] = sheet->has[SWH_CH_ambient_temperature] = true;
        swh_spot_case(&c, vehicle, row, false);
        assert_true(swh_spot_run(&c, value, NULL, NULL));
        for (int i = 0; i < reads; i++) {
            row->value[read[i]] = value[read[i]];
            sheet->has[read[i]] = true;
        }
    }
}
static const enum swh_channel gauges[] = {SWH_CH_suction_pressure, SWH_CH_discharge_pressure,
                                          SWH_CH_vent_temperature};

static void test_rank_takes_a_sheet(void **state)
{
    (void)state;
    struct swh_case vehicle, faulty;
    struct swh_spot_sheet *sheet = malloc(sizeof *sheet);
    struct swh_ranking *r = malloc(sizeof *r);
    struct swh_error err = {0};
    swh_case_valve(&vehicle, 30);
    faulty = vehicle;
    swh_case_fault_always(&faulty, SWH_FAULT_undercharge, 0.6);
    write_sheet(&faulty, gauges, 3, sheet);
    static const double left[SWH_COMPARED] = {[0] = 1e4, [1] = 3e4};
    swh_mark_fitted(&vehicle.params, 2, 0, left);
    const struct swh_rank_request q = {.vehicle = &vehicle, .sheet = sheet, .threads = 2};
    assert_int_equal(swh_rank(&q, r, &err), SWH_OK);
    assert_int_equal(r->points, 9);
    assert_int_equal(r->cause[0].fault, SWH_FAULT_undercharge);
    CHECK_BETWEEN(r->cause[0].severity, 0.45, 0.75);
    const double share = r->cause[0].share;
    assert_false(r->none_fits);
    /* the same vehicle file, never fitted: nobody knows whether the vehicle is like its model */
    vehicle.params.fitted_logs = 0;
    assert_int_equal(swh_rank(&q, r, &err), SWH_OK);
    assert_int_equal(r->knowledge, SWH_KNOWN_BY_PAPERS);
    CHECK_BETWEEN(r->cause[0].share, 0, fmin(share, 1 - 0.75 * vehicle.params.uncertainty_papers_unlike));
    /* air from the vents far colder than the refrigerant that cools it (saturation at 2 bar: -10 degC) */
    for (size_t k = 0; k < sheet->rows; k++)
        sheet->row[k].value[SWH_CH_vent_temperature] = 250;
    assert_int_equal(swh_rank(&q, r, &err), SWH_OK);
    assert_true(r->none_fits);
    assert_int_equal(swh_compared[r->farthest], SWH_CH_vent_temperature);
    sheet->rows = 0;
    assert_int_equal(swh_rank(&q, r, &err), SWH_ERR_INPUT);
    free(r);
    free(sheet);
}

static void test_fit_takes_a_sheet(void **state)
{
    (void)state;
    struct swh_case vehicle, other;
    struct swh_spot_sheet *sheet = malloc(sizeof *sheet);
    struct swh_fit_result *r = malloc(sizeof *r);
    struct swh_error err = {0};
    swh_case_valve(&vehicle, 30);
    other = vehicle;
    other.params.condenser_ua_air *= 0.7;
    other.params.evaporator_air *= 1.25;
    write_sheet(&other, gauges, 3, sheet);
    const struct swh_fit_request q = {.vehicle = &vehicle,
                                      .sheet = sheet,
                                      .sheets = 1,
                                      .param = {SWH_P_condenser_ua_air, SWH_P_evaporator_air},
                                      .params = 2,
                                      .with = SWH_FIT_CIRCUIT,
                                      .holdout = 0.2,
                                      .starts = 1,
                                      .threads = 2,
                                      .robust = true};
    assert_int_equal(swh_fit(&q, r, &err), SWH_OK);
    assert_int_equal(r->points, 9); /* nothing of a sheet is kept back */
    /* a weak prior pulls towards the start */
    CHECK_CLOSE(r->estimate[0].value, other.params.condenser_ua_air, 0.06, 0);
    CHECK_CLOSE(r->estimate[1].value, other.params.evaporator_air, 0.06, 0);
    /* the mark: what rank trusts each reading by */
    assert_int_equal(swh_knowledge_of(&vehicle.params), SWH_KNOWN_BY_PAPERS);
    assert_int_equal(swh_knowledge_of(&r->params), SWH_KNOWN_BY_ROWS);
    CHECK_CLOSE(r->params.fitted_rows, 3, 0, 0);
    assert_true(swh_fit_has_seen(&r->params, 0) && !swh_fit_has_seen(&r->params, 3));
    CHECK_CLOSE(r->params.fitted_suction_pressure, r->channel[0].rms, 1e-12, 0);
    assert_true(swh_slow_error(&r->params, 3) > 2 * swh_slow_error(&vehicle.params, 3));
    CHECK_CLOSE(swh_slow_error(&r->params, 0), swh_slow_error(&vehicle.params, 0), 1e-12, 0);
    CHECK_CLOSE(swh_level_error(&r->params, 0), 0, 0, 0);
    assert_true(swh_level_error(&vehicle.params, 0) > 0);
    /* nobody says what to free: what gauges and vent tell of a vehicle with a valve */
    struct swh_fit_request by_itself = {.sheet = sheet, .sheets = 1};
    assert_int_equal(swh_fit_usual(&by_itself, &other), 11);
    assert_true(other.spread.condenser_ua_air > 0);
    CHECK_CLOSE(other.spread.orifice_coefficient, 0, 0, 0);
    CHECK_CLOSE(other.spread.discharge_line_ua, 0, 0, 0); /* no pipe was read */
    double trace[3 * SWH_COMPARED];
    assert_int_equal(swh_fit_trace(&q, &r->params, 0, trace, &err), SWH_OK);
    for (size_t k = 0; k < 3; k++)
        CHECK_CLOSE(trace[k * SWH_COMPARED + 1], sheet->row[k].value[SWH_CH_discharge_pressure], 0.02, 0);
    free(r);
    free(sheet);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_whole_cycles),        cmocka_unit_test(test_steady_end_is_the_last_minute),
        cmocka_unit_test(test_row_sets_conditions), cmocka_unit_test(test_rank_takes_a_sheet),
        cmocka_unit_test(test_fit_takes_a_sheet),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
