/* The margin on the whole circuit: consistency of its parts. The fold finder itself is checked against closed
 * forms in test_fold.c. */
#include "solver/steady/margin.h"

#include "solver/simulate/engine.h"
#include "tests/check.h"

#include <string.h>

/* fast and hot, low-side switches defeated: losing charge starves the plate of oil (SAE 980286: superheat
 * strands oil) */
static void hot_case(struct swh_case *c)
{
    swh_case_default(c);
    c->conditions.ambient_temperature = 305.15;
    c->conditions.compressor_speed = 50;
    c->conditions.doors_open = 1;
    c->fault[SWH_FAULT_never_cycling].present = true;
    c->fault[SWH_FAULT_never_cycling].severity = 1;
}

static struct swh_margin_request request_of(const struct swh_case *c)
{
    struct swh_margin_request q = {.base = c, .lo = 0, .hi = 0.95, .limit_channel = -1, .threads = 2};
    swh_key_of_fault(SWH_FAULT_undercharge, &q.key);
    return q;
}

static enum swh_case_result outcome_at(const struct swh_case *base, double severity)
{
    struct swh_case c = *base;
    struct swh_key key;
    struct swh_steady rest;
    swh_key_of_fault(SWH_FAULT_undercharge, &key);
    swh_key_set(&c, &key, severity);
    assert_int_equal(swh_steady_run(&c, SWH_REST_HORIZON, &rest, NULL), SWH_OK);
    return rest.result;
}

static void test_edge_and_evidence(void **state)
{
    (void)state;
    struct swh_case c;
    static struct swh_margin m;
    hot_case(&c);
    struct swh_margin_request q = request_of(&c);
    q.feedbacks = true;
    struct swh_error err = {0};
    assert_int_equal(swh_margin_find(&q, &m, &err), SWH_OK);
    assert_false(m.today_lost);
    assert_true(m.kind != SWH_EDGE_NONE);
    CHECK_BETWEEN(m.lost - m.holds, 0, 0.005);
    assert_int_equal(outcome_at(&c, m.holds), SWH_CASE_SURVIVES);
    assert_int_equal(outcome_at(&c, m.lost), SWH_CASE_SHOE_SEIZED);
    /* textbook (saddle-node): the slow rate is negative while it holds and nearer to zero at the edge than
     * today */
    assert_true(m.growth_today < 0 && m.growth_edge > m.growth_today);
    for (int i = 0; i < m.beyond_count; i++)
        assert_true(m.beyond[i].lost && m.beyond[i].to_seizure > 0);
    assert_true(m.beyond_count >= 3);
    /* SAE 980286, textbook: oil that thins and oil that stays away both drive it */
    assert_true(m.feedback[SWH_FB_oil_thinning].shift > 0);
    assert_true(m.feedback[SWH_FB_starvation].shift > 0);
    double sum = 0;
    for (int k = 0; k < SWH_FEEDBACK_COUNT; k++)
        sum += isnan(m.feedback[k].share) ? 0 : fabs(m.feedback[k].share);
    CHECK_CLOSE(sum, 1, 1e-12, 0);
}

/* Holding a quantity at the value that it has at rest changes nothing at rest. A case counts as at rest when
 * it moves by less than 0.02 K in 300 s: what it would still move differs by some tenths of a kelvin. */
static void test_frozen_at_rest_is_the_same_rest(void **state)
{
    (void)state;
    struct swh_case c;
    hot_case(&c);
    struct swh_steady rest, held;
    assert_int_equal(swh_steady_run(&c, SWH_REST_HORIZON, &rest, NULL), SWH_OK);
    assert_true(rest.settled && !rest.cycling);
    const enum swh_feedback exact[] = {SWH_FB_starvation, SWH_FB_blow_by, SWH_FB_clearance,
                                       SWH_FB_lost_suction_cooling};
    for (int i = 0; i < 4; i++) {
        struct swh_case frozen = c;
        swh_feedback_freeze(&frozen, exact[i], &rest);
        assert_int_equal(swh_steady_run(&frozen, SWH_REST_HORIZON, &held, NULL), SWH_OK);
        CHECK_CLOSE(held.mean[SWH_CH_rotor_temperature], rest.mean[SWH_CH_rotor_temperature], 0, 1.0);
    }
}

struct late_mean {
    double sum;
    long n;
};

static enum swh_status add_late(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    struct late_mean *m = user;
    if (row->value[SWH_CH_time] > 13800) { /* the last ten minutes */
        m->sum += row->value[SWH_CH_rotor_temperature];
        m->n++;
    }
    return SWH_OK;
}

/* Where the clutch cycles the rest is forecast from the first windows; a run of four hours, many times the
 * time constants of the body and of the cabin's trim, arrives there. */
static void test_foreseen_rest_is_where_a_long_run_arrives(void **state)
{
    (void)state;
    struct swh_case c;
    static struct swh_summary summary;
    struct swh_steady rest;
    struct late_mean late = {0};
    swh_case_default(&c);
    c.conditions.ambient_temperature = 303.15;
    c.params.run_duration = 14400;
    c.params.run_output_interval = 10;
    const struct swh_sinks sinks = {.row = add_late, .user = &late};
    assert_int_equal(swh_steady_run(&c, SWH_REST_HORIZON, &rest, NULL), SWH_OK);
    assert_true(rest.settled && rest.cycling && rest.time < 9000);
    assert_int_equal(swh_run(&c, &sinks, &summary, NULL), SWH_OK);
    CHECK_CLOSE(rest.mean[SWH_CH_rotor_temperature], late.sum / (double)late.n, 0, 0.5);
}

/* a traffic jam with chaff before the condenser: the high-pressure switch lets the clutch in every half
 * minute */
static void cycling_case(struct swh_case *c, struct swh_margin_request *q)
{
    swh_case_default(c);
    c->conditions.ambient_temperature = 311.15;
    swh_case_fault_always(c, SWH_FAULT_condenser_blocked, 0.8);
    *q = (struct swh_margin_request){.base = c, .lo = 0, .hi = 1, .limit_channel = -1, .threads = 2};
    swh_key_of_fault(SWH_FAULT_oil_short, &q->key);
}

static void run_cycle_by_cycle(const struct swh_margin_request *q, double severity,
                               struct swh_summary *summary)
{
    struct swh_case c = *q->base;
    swh_key_set(&c, &q->key, severity);
    c.params.run_duration = SWH_REST_HORIZON;
    c.params.run_output_interval = 60;
    c.choices.controls_after_seizure = 0;
    assert_int_equal(swh_run(&c, NULL, summary, NULL), SWH_OK);
}

/* The search projections over cycles of the clutch; the integrator that follows each of them finds the same
 * edge, to the 0.5 % that were asked for, and times to seizure within a tenth, or one cycle of the clutch
 * (some 85 s here): a shoe welds while it is engaged, in this engagement or the next. */
static void test_cycling_edge_is_that_of_whole_runs(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_margin_request q;
    static struct swh_margin m;
    static struct swh_summary summary;
    cycling_case(&c, &q);
    assert_int_equal(swh_margin_find(&q, &m, NULL), SWH_OK);
    assert_true(m.kind == SWH_EDGE_FOLD && m.at_today.cycling && m.beyond_count >= 3);
    CHECK_BETWEEN(m.lost - m.holds, 0, 0.005);
    run_cycle_by_cycle(&q, m.critical - 0.008, &summary);
    assert_int_equal(summary.outcome, SWH_PROTECTED);
    run_cycle_by_cycle(&q, m.critical + 0.008, &summary);
    assert_int_equal(summary.outcome, SWH_SHOE_SEIZED);
    for (int i = 1; i < m.beyond_count; i++) {
        run_cycle_by_cycle(&q, m.beyond[i].x, &summary);
        CHECK_CLOSE(m.beyond[i].to_seizure, summary.time_to_seizure, 0.1, 90);
    }
}

/* Cold starts, followed cycle by cycle, are the check of the projections, for the faults in which oil matters
 * most: its oil is away at first and comes back within an hour. 0.8 % to either side of the edge that was
 * found they do what it says. */
static void test_edges_are_those_of_cold_starts(void **state)
{
    (void)state;
    const enum swh_fault faults[] = {SWH_FAULT_oil_short, SWH_FAULT_oil_return_lost, SWH_FAULT_piston_worn};
    struct swh_case c;
    struct swh_margin_request q;
    static struct swh_margin m;
    static struct swh_summary summary;
    int edges = 0;
    cycling_case(&c, &q);
    c.conditions.compressor_speed = 800.0 / 60; /* thin films: here a way past the edge has a bottleneck */
    for (int i = 0; i < 3; i++) {
        swh_key_of_fault(faults[i], &q.key);
        assert_int_equal(swh_margin_find(&q, &m, NULL), SWH_OK);
        if (m.kind == SWH_EDGE_NONE)
            continue;
        edges++;
        CHECK_BETWEEN(m.lost - m.holds, 0, 0.005);
        run_cycle_by_cycle(&q, m.critical - 0.008, &summary);
        assert_int_equal(summary.outcome, SWH_PROTECTED);
        run_cycle_by_cycle(&q, m.critical + 0.008, &summary);
        assert_true(summary.outcome == SWH_SHOE_SEIZED || summary.outcome == SWH_BORE_SEIZED);
    }
    assert_true(edges > 0); /* else nothing of this was tested */
}

/* On a cool day, closed, the frost thermostat gives pauses until the condenser is nearly shut; then none, and
 * what runs through welds. That is a switch's edge: it names the switch and shares out no feedback. */
static void test_a_switch_gives_no_more_pauses(void **state)
{
    (void)state;
    struct swh_case c;
    static struct swh_margin m;
    swh_case_default(&c);
    c.conditions.ambient_temperature = 298.15;
    c.conditions.compressor_speed = 25;
    c.conditions.sun = 0;
    swh_case_fault_always(&c, SWH_FAULT_high_switch_bridged, 1);
    struct swh_margin_request q = request_of(&c);
    q.hi = 1;
    q.feedbacks = true;
    swh_key_of_fault(SWH_FAULT_condenser_blocked, &q.key);
    assert_int_equal(swh_margin_find(&q, &m, NULL), SWH_OK);
    assert_int_equal(m.kind, SWH_EDGE_SWITCH);
    assert_int_equal(m.pauses, SWH_EV_frost_open);
    assert_false(m.has_feedbacks);
    assert_true(m.at_holds.cycling);
}

/* The band: a thinner film moves the edge toward today, a thicker one away; it holds the edge, and each end
 * by itself. Without spread there is no band. */
static void test_band(void **state)
{
    (void)state;
    struct swh_case c;
    static struct swh_margin m;
    hot_case(&c);
    struct swh_margin_request q = request_of(&c);
    q.band = true;
    assert_int_equal(swh_margin_find(&q, &m, NULL), SWH_OK);
    assert_true(m.kind != SWH_EDGE_NONE && m.band.known);
    assert_true(m.band.low <= m.critical && m.critical <= m.band.high && m.band.high - m.band.low > 0.01);
    assert_true(m.band.reach[SWH_SPREAD_film][0] <= m.critical &&
                m.band.reach[SWH_SPREAD_film][1] >= m.critical);
    assert_true(m.band.reach[SWH_SPREAD_oil_return][0] < m.band.reach[SWH_SPREAD_oil_return][1]);
    for (int k = 0; k < SWH_SPREAD_COUNT; k++)
        for (int i = 0; i < 2; i++)
            CHECK_BETWEEN(m.band.reach[k][i], m.band.low - 1e-9, m.band.high + 1e-9);
    for (int i = 1; i < m.beyond_count; i++)
        assert_true(m.beyond[i].x > m.beyond[i - 1].x); /* each value once */
    c.params.uncertainty_film_scale = c.params.uncertainty_plate_supply = 0;
    c.params.uncertainty_oil_return = c.params.uncertainty_charge_share = 0;
    assert_int_equal(swh_margin_find(&q, &m, NULL), SWH_OK);
    CHECK_CLOSE(m.band.low, m.critical, 0, 1e-12);
    CHECK_CLOSE(m.band.high, m.critical, 0, 1e-12);
}

/* Gain and loss cross where the machine comes to rest by itself. */
static void test_curves_cross_at_rest(void **state)
{
    (void)state;
    struct swh_case c;
    hot_case(&c);
    struct swh_steady rest;
    struct swh_heat_curves h;
    struct swh_crossing x[4];
    assert_int_equal(swh_steady_run(&c, SWH_REST_HORIZON, &rest, NULL), SWH_OK);
    const double T = rest.mean[SWH_CH_rotor_temperature];
    assert_int_equal(swh_heat_curves_compute(&c, T - 9, T + 11, 5, 2, &h, NULL), SWH_OK);
    const int n = swh_heat_crossings(&h, x, 4);
    assert_int_equal(n, 1);
    assert_int_equal(x[0].kind, SWH_CROSSING_STABLE);
    CHECK_CLOSE(x[0].T, T, 0, 1.0);
    swh_heat_curves_free(&h);
}

/* Following the edge agrees with a fresh search at the end point. */
static void test_following_agrees_with_bisection(void **state)
{
    (void)state;
    struct swh_case c;
    static struct swh_margin m;
    hot_case(&c);
    struct swh_margin_request q = request_of(&c);
    struct swh_key second;
    double at[4], critical[4];
    assert_int_equal(swh_key_find("conditions.compressor_speed", &second, NULL), SWH_OK);
    assert_int_equal(swh_margin_follow(&q, &second, 50, 56, 4, at, critical, NULL), SWH_OK);
    struct swh_case end = c;
    end.conditions.compressor_speed = 56;
    q.base = &end;
    assert_int_equal(swh_margin_find(&q, &m, NULL), SWH_OK);
    CHECK_CLOSE(critical[3], m.critical, 0, 0.01);
}

static void test_no_edge_says_both_ends(void **state)
{
    (void)state;
    struct swh_case c;
    static struct swh_margin m;
    hot_case(&c);
    struct swh_margin_request q = request_of(&c);
    q.hi = 0.3;
    assert_int_equal(swh_margin_find(&q, &m, NULL), SWH_OK);
    assert_int_equal(m.kind, SWH_EDGE_NONE);
    assert_true(isnan(m.critical));
    assert_true(m.end_lo.x == 0 && m.end_hi.x == 0.3);
    assert_false(m.end_lo.lost || m.end_hi.lost);
}

static void test_stated_limit_comes_first(void **state)
{
    (void)state;
    struct swh_case c;
    static struct swh_margin m, free_of_limit;
    hot_case(&c);
    struct swh_margin_request q = request_of(&c);
    assert_int_equal(swh_margin_find(&q, &free_of_limit, NULL), SWH_OK);
    q.limit_channel = SWH_CH_rotor_temperature;
    q.limit = free_of_limit.at_holds.mean[SWH_CH_rotor_temperature] - 5;
    assert_int_equal(swh_margin_find(&q, &m, NULL), SWH_OK);
    assert_int_equal(m.kind, SWH_EDGE_LIMIT);
    assert_true(m.critical < free_of_limit.critical);
}

static void refused(struct swh_margin_request q, const char *word)
{
    static struct swh_margin m;
    struct swh_error err = {0};
    assert_int_equal(swh_margin_find(&q, &m, &err), SWH_ERR_INPUT);
    assert_non_null(strstr(err.what, word));
}

static void test_bad_input(void **state)
{
    (void)state;
    struct swh_case c;
    hot_case(&c);
    struct swh_margin_request q = request_of(&c);
    q.lo = 0.5;
    q.hi = 0.2;
    refused(q, "reversed");
    q.hi = 0.5;
    refused(q, "empty");
    q.hi = 1.5;
    refused(q, "limits");
    q.hi = 0.9;
    refused(q, "outside the range");
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_edge_and_evidence),
                                       cmocka_unit_test(test_frozen_at_rest_is_the_same_rest),
                                       cmocka_unit_test(test_foreseen_rest_is_where_a_long_run_arrives),
                                       cmocka_unit_test(test_cycling_edge_is_that_of_whole_runs),
                                       cmocka_unit_test(test_a_switch_gives_no_more_pauses),
                                       cmocka_unit_test(test_band),
                                       cmocka_unit_test(test_edges_are_those_of_cold_starts),
                                       cmocka_unit_test(test_curves_cross_at_rest),
                                       cmocka_unit_test(test_following_agrees_with_bisection),
                                       cmocka_unit_test(test_no_edge_says_both_ends),
                                       cmocka_unit_test(test_stated_limit_comes_first),
                                       cmocka_unit_test(test_bad_input)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
