/* What was found with the engine off, and what it makes of causes and severities without a log. The numbers
 * asked for are arithmetic on the finding (a weighed charge is a severity), not physics. */
#include "tests/check.h"

#include "solver/infer/rank.h"
#include "tests/solver/cases.h"

#include <stdlib.h>

static void nothing_found(struct swh_findings *b)
{
    for (int i = 0; i < SWH_FINDING_COUNT; i++)
        b->value[i] = NAN;
}

static struct swh_ranking *rank_bench(const struct swh_case *vehicle, const struct swh_findings *b)
{
    struct swh_ranking *r = malloc(sizeof *r);
    struct swh_error err = {0};
    const struct swh_rank_request q = {.vehicle = vehicle, .bench = b, .threads = 2};
    assert_int_equal(swh_rank(&q, r, &err), SWH_OK);
    double sum = 0;
    for (int i = 0; i < r->causes; i++)
        sum += r->cause[i].share;
    CHECK_CLOSE(sum, 1, 1e-9, 0);
    return r;
}

static const struct swh_cause *cause_of(const struct swh_ranking *r, int fault)
{
    for (int i = 0; i < r->causes; i++)
        if (r->cause[i].fault == fault)
            return &r->cause[i];
    return NULL;
}

/* 300 of 740 g came out: 59 % are missing */
static void test_weighed_charge(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_findings b;
    swh_case_valve(&c, 30);
    nothing_found(&b);
    b.value[SWH_FINDING_refrigerant_recovered] = 0.41 * c.params.charge_nominal;
    struct swh_ranking *r = rank_bench(&c, &b);
    assert_int_equal(r->cause[0].fault, SWH_FAULT_undercharge);
    CHECK_BETWEEN(r->cause[0].severity, 0.55, 0.63);
    CHECK_BETWEEN(r->cause[0].high - r->cause[0].low, 0.1, 0.6);
    const struct swh_cause *healthy = cause_of(r, SWH_HEALTHY);
    CHECK_CLOSE(healthy->said[SWH_FINDING_refrigerant_recovered], log(0.004), 0, 0.05);
    assert_true(r->cause[0].said[SWH_FINDING_refrigerant_recovered] > -0.2);
    assert_true(isnan(healthy->said[SWH_FINDING_fan_runs]));
    free(r);
    b.value[SWH_FINDING_refrigerant_recovered] = 1.4 * c.params.charge_nominal;
    r = rank_bench(&c, &b);
    assert_int_equal(r->cause[0].fault, SWH_FAULT_overcharge);
    CHECK_BETWEEN(r->cause[0].severity, 0.35, 0.45);
    free(r);
    b.value[SWH_FINDING_refrigerant_recovered] = c.params.charge_nominal;
    r = rank_bench(&c, &b);
    assert_true(cause_of(r, SWH_FAULT_undercharge)->share < 0.05);
    free(r);
}

static void test_looks(void **state)
{
    (void)state;
    static const struct {
        enum swh_finding finding;
        double value;
        enum swh_fault fault;
    } rows[] = {{SWH_FINDING_fan_runs, 0, SWH_FAULT_fan_dead},
                {SWH_FINDING_condenser_face, 0.6, SWH_FAULT_condenser_blocked},
                {SWH_FINDING_switch_bridged, 1, SWH_FAULT_never_cycling},
                {SWH_FINDING_bulb_loose, 1, SWH_FAULT_valve_flooding},
                {SWH_FINDING_air_filter_blocked, 1, SWH_FAULT_evaporator_blocked},
                {SWH_FINDING_belt_slipped, 1, SWH_FAULT_clutch_slipping},
                {SWH_FINDING_pulley_ratio, 1.4, SWH_FAULT_overspeed},
                {SWH_FINDING_oil_drained, 0.05, SWH_FAULT_oil_short}};
    struct swh_case c;
    struct swh_findings b;
    swh_case_valve(&c, 30);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        nothing_found(&b);
        struct swh_ranking *r = rank_bench(&c, &b);
        const double before = cause_of(r, (int)rows[i].fault)->share;
        free(r);
        b.value[rows[i].finding] = rows[i].value;
        r = rank_bench(&c, &b);
        /* the fault that it is a sign of gains more than any other */
        for (int k = 0; k < r->causes; k++)
            assert_true(r->cause[k].said[rows[i].finding] <=
                        cause_of(r, (int)rows[i].fault)->said[rows[i].finding]);
        assert_true(cause_of(r, (int)rows[i].fault)->share > 2 * before);
        free(r);
    }
}

/* At 30 degC R-134a rests at 7.70 bar (saturation table of other_vehicle.py: CoolProp 8.0.0); 1.5 bar more
 * are foreign gas, 3 bar less no liquid at all. */
static void test_standing_pressure(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_findings b;
    swh_case_valve(&c, 30);
    nothing_found(&b);
    b.value[SWH_FINDING_standing_ambient] = 303.15;
    CHECK_CLOSE(swh_finding_air(7.702e5, &b, &c), 0, 0, 1e-3);
    CHECK_CLOSE(swh_finding_air(9.202e5, &b, &c), 1.5 / 4 * 323.15 / 303.15, 1e-3, 0);
    b.value[SWH_FINDING_standing_pressure] = 9.2e5;
    struct swh_ranking *r = rank_bench(&c, &b);
    assert_int_equal(r->cause[0].fault, SWH_FAULT_air_in_system);
    CHECK_BETWEEN(r->cause[0].severity, 0.33, 0.47);
    free(r);
    b.value[SWH_FINDING_standing_pressure] = 4.7e5;
    r = rank_bench(&c, &b);
    assert_int_equal(r->cause[0].fault, SWH_FAULT_undercharge);
    CHECK_BETWEEN(r->cause[0].severity, 0.8, 1);
    free(r);
    b.value[SWH_FINDING_standing_ambient] = NAN;
    struct swh_error err = {0};
    assert_int_equal(swh_findings_check(&b, &c, &err), SWH_ERR_INPUT);
    assert_true(strstr(err.what, "standing_pressure without standing_ambient") != NULL);
}

/* What a hard hour leaves behind moves severities too: less oil drained from the compressor, more of it
 * short. */
static void test_drained_oil_moves_the_severity(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_findings b;
    swh_case_valve(&c, 30);
    nothing_found(&b);
    b.value[SWH_FINDING_oil_amount] = 0.010;
    struct swh_ranking *r = rank_bench(&c, &b);
    const double little = cause_of(r, SWH_FAULT_oil_short)->severity;
    free(r);
    b.value[SWH_FINDING_oil_amount] = 0.040;
    r = rank_bench(&c, &b);
    assert_true(little > cause_of(r, SWH_FAULT_oil_short)->severity + 0.1);
    free(r);
}

static void test_nothing_at_all_is_refused(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_error err = {0};
    struct swh_ranking *r = malloc(sizeof *r);
    swh_case_valve(&c, 30);
    const struct swh_rank_request q = {.vehicle = &c, .threads = 1};
    assert_int_equal(swh_rank(&q, r, &err), SWH_ERR_INPUT);
    free(r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_weighed_charge),
        cmocka_unit_test(test_looks),
        cmocka_unit_test(test_standing_pressure),
        cmocka_unit_test(test_drained_oil_moves_the_severity),
        cmocka_unit_test(test_nothing_at_all_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
