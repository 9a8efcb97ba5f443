/* The weights that an answer rests on, each held by a figure: how likely health and severities are before
 * anything was read, what a window costs that a run did not reach, where a residual stops to count as a
 * square. They are judgements (common practice, no source); these tests keep them from changing unseen. */
#include "tests/check.h"

#include "solver/infer/fit.h"
#include "solver/infer/rank.h"
#include "solver/infer/spot.h"
#include "tests/solver/cases.h"

#include <stdlib.h>

/* Nothing was read and nothing found: what is left is what was thought before. */
static struct swh_ranking *before_anything(void)
{
    struct swh_case c;
    struct swh_findings nothing;
    struct swh_ranking *r = malloc(sizeof *r);
    struct swh_error err = {0};
    swh_case_valve(&c, 30);
    c.params.uncertainty_papers_severity = 0; /* the prior itself, not smeared by the model's error */
    for (int i = 0; i < SWH_FINDING_COUNT; i++)
        nothing.value[i] = NAN;
    const struct swh_rank_request q = {.vehicle = &c, .bench = &nothing, .threads = 2};
    assert_int_equal(swh_rank(&q, r, &err), SWH_OK);
    return r;
}

static const struct swh_cause *cause_of(const struct swh_ranking *r, int fault)
{
    for (int i = 0; i < r->causes; i++)
        if (r->cause[i].fault == fault)
            return &r->cause[i];
    return NULL;
}

/* health counts as four common faults; a fault as often as its table says */
static void test_prior_of_causes(void **state)
{
    (void)state;
    struct swh_ranking *r = before_anything();
    const double one = cause_of(r, SWH_FAULT_overcharge)->share / swh_fault_table[SWH_FAULT_overcharge].often;
    CHECK_CLOSE(swh_ranking_healthy(r)->share / one, 4, 1e-6, 0);
    for (int f = 0; f < SWH_FAULT_COUNT; f++)
        CHECK_CLOSE(cause_of(r, f)->share / one / swh_fault_table[f].often, 1, 1e-6, 0);
    free(r);
}

/* Over that of a slipping clutch, by their frequencies: of a wrong pulley, from gauges read while the
 * compressor stands, which tell neither. */
static double wrong_pulley(bool stated)
{
    struct swh_case vehicle, c;
    struct swh_ranking *r = malloc(sizeof *r);
    struct swh_spot_sheet *sheet = calloc(1, sizeof *sheet);
    double value[SWH_CHANNEL_COUNT];
    struct swh_spot_row *row = &sheet->row[sheet->rows++];
    swh_case_valve(&vehicle, 30);
    swh_spot_row_empty(row);
    row->doors_open = 1;
    row->value[SWH_CH_clutch] = 0;
    sheet->has[SWH_CH_compressor_speed] = stated;
    if (stated)
        row->value[SWH_CH_compressor_speed] = 25;
    swh_spot_case(&c, &vehicle, row, false);
    assert_true(swh_spot_run(&c, value, NULL, NULL));
    row->value[SWH_CH_suction_pressure] = value[SWH_CH_suction_pressure];
    row->value[SWH_CH_discharge_pressure] = value[SWH_CH_discharge_pressure];
    const struct swh_rank_request q = {.vehicle = &vehicle, .sheet = sheet, .threads = 2};
    assert_int_equal(swh_rank(&q, r, NULL), SWH_OK);
    const double share[2] = {cause_of(r, SWH_FAULT_overspeed)->share,
                             cause_of(r, SWH_FAULT_clutch_slipping)->share};
    free(sheet);
    free(r);
    return share[0] / share[1] * swh_fault_table[SWH_FAULT_clutch_slipping].often /
           swh_fault_table[SWH_FAULT_overspeed].often;
}

/* A speed that was read makes a wrong pulley a hundredth as likely as one that was not. */
static void test_prior_of_a_stated_speed(void **state)
{
    (void)state;
    CHECK_CLOSE(wrong_pulley(true), 0.01, 1e-3, 0);
    CHECK_CLOSE(wrong_pulley(false), 1, 1e-3, 0);
}

/* A fan stands or runs: a tenth of the weight below 0.8, so that the median is 0.86. A face loses seldom more
 * than 0.8 of its air: 0.15 of the weight there, median 0.415. Others: any severity. */
static void test_prior_of_severities(void **state)
{
    (void)state;
    struct swh_ranking *r = before_anything();
    CHECK_CLOSE(cause_of(r, SWH_FAULT_fan_dead)->severity, 0.86, 0, 0.01);
    CHECK_CLOSE(cause_of(r, SWH_FAULT_condenser_blocked)->severity, 0.415, 0, 0.01);
    CHECK_CLOSE(cause_of(r, SWH_FAULT_undercharge)->severity, 0.5, 0, 0.01);
    free(r);
}

/* A window that a run did not reach counts as ten standard deviations. */
static void test_windows_not_reached(void **state)
{
    (void)state;
    struct swh_residuals *r = calloc(1, sizeof *r);
    struct swh_error_covariance w;
    struct swh_error err = {0};
    r->windows = 4;
    r->length = 30;
    for (int k = 0; k < 4; k++)
        r->count[0][k] = r->count[1][k] = 10;
    assert_int_equal(swh_error_covariance_make_plain(&w, r, NULL, 0, 1, 0, 4, &err), SWH_OK);
    CHECK_CLOSE(swh_error_covariance_chi2(&w, r), 0, 0, 1e-12);
    r->count[0][3] = r->count[1][3] = 0;
    CHECK_CLOSE(swh_error_covariance_chi2(&w, r), 200, 1e-9, 0);
    swh_error_covariance_free(&w);
    free(r);
}

/* ---- a fault's changes may be computed wrongly ---- */

enum { CHANNELS = 2, WINDOWS = 4, POINTS = CHANNELS * WINDOWS };

/* lower Cholesky factor in place, and x' S^-1 x + ln det S */
static double dense_deviance(double s[POINTS][POINTS], const double *x)
{
    double sum = 0, y[POINTS];
    for (int i = 0; i < POINTS; i++) {
        for (int j = 0; j <= i; j++) {
            for (int k = 0; k < j; k++)
                s[i][j] -= s[i][k] * s[j][k];
            s[i][j] = i == j ? sqrt(s[i][i]) : s[i][j] / s[j][j];
        }
        y[i] = x[i];
        for (int k = 0; k < i; k++)
            y[i] -= s[i][k] * y[k];
        y[i] /= s[i][i];
        sum += y[i] * y[i] + 2 * log(s[i][i]);
    }
    return sum;
}

/* C + U U' written out: every change wrong by a share of itself, as a whole and in each stretch */
static double written_out(const struct swh_error_covariance *w, const struct swh_residuals *r,
                          const struct swh_residuals *healthy, double whole, double stretch)
{
    double s[POINTS][POINTS] = {{0}}, x[POINTS];
    for (int a = 0; a < POINTS; a++) {
        x[a] = r->mean[w->channel[a]][w->window[a]];
        for (int b = 0; b <= a; b++) {
            const double change = (x[a] - healthy->mean[w->channel[a]][w->window[a]]) *
                                  (x[b] - healthy->mean[w->channel[b]][w->window[b]]);
            for (int k = 0; k <= b; k++)
                s[a][b] += w->covariance[a * POINTS + k] * w->covariance[b * POINTS + k];
            if (r != healthy && w->channel[a] == w->channel[b])
                s[a][b] += change * (whole * whole + (a == b ? stretch * stretch : 0));
        }
    }
    return dense_deviance(s, x);
}

/* The deviance by Woodbury's identity against the matrix written out. */
static void test_deviance_of_wrong_changes(void **state)
{
    (void)state;
    struct swh_residuals *r = calloc(2, sizeof *r), *healthy = r + 1;
    struct swh_error_covariance w;
    struct swh_case c;
    swh_case_valve(&c, 30);
    c.params.uncertainty_fault_most = 100;
    for (int m = 0; m < 2; m++) {
        r[m].windows = WINDOWS;
        r[m].length = 240; /* a stretch each */
        for (int i = 0; i < CHANNELS; i++)
            for (int k = 0; k < WINDOWS; k++) {
                r[m].count[i][k] = 10;
                r[m].mean[i][k] = (1 + i) * 1e5 * (m == 0 ? 3 - k : 0.3 * k - 0.5);
            }
    }
    assert_int_equal(swh_error_covariance_make(&w, healthy, &c.params, NULL, 0, 0, WINDOWS, NULL), SWH_OK);
    assert_int_equal(w.points, POINTS);
    const double whole = c.params.uncertainty_fault_share, stretch = c.params.uncertainty_fault_stretch;
    const double wrong = written_out(&w, r, healthy, whole, stretch),
                 right = written_out(&w, healthy, healthy, whole, stretch);
    const double log_det = right - swh_error_covariance_chi2(&w, healthy); /* ln det C */
    CHECK_CLOSE(swh_error_covariance_deviance(&w, r, healthy, &c.params), wrong - log_det, 1e-9, 0);
    CHECK_CLOSE(swh_error_covariance_deviance(&w, healthy, healthy, &c.params), right - log_det, 1e-9, 0);
    assert_true(fabs(swh_error_covariance_chi2(&w, r) - (wrong - log_det)) > 1); /* it does matter */
    swh_error_covariance_free(&w);
    free(r);
}

/* One reading of a sheet is wild by 6 bar; a robust fit bends to it less than half as far as squares do. */
static void test_wild_reading(void **state)
{
    (void)state;
    struct swh_case vehicle;
    struct swh_spot_sheet *sheet = calloc(1, sizeof *sheet);
    struct swh_error err = {0};
    swh_case_valve(&vehicle, 30);
    for (size_t k = 0; k < 4; k++) {
        struct swh_spot_row *row = &sheet->row[sheet->rows++];
        struct swh_case c;
        double value[SWH_CHANNEL_COUNT];
        swh_spot_row_empty(row);
        row->doors_open = 1;
        row->value[SWH_CH_compressor_speed] = 20 + 6 * (double)k;
        swh_spot_case(&c, &vehicle, row, false);
        assert_true(swh_spot_run(&c, value, NULL, NULL));
        row->value[SWH_CH_discharge_pressure] = value[SWH_CH_discharge_pressure];
    }
    sheet->row[2].value[SWH_CH_discharge_pressure] += 6e5;
    double off[2];
    for (int robust = 0; robust < 2; robust++) {
        struct swh_fit_result *r = malloc(sizeof *r);
        const struct swh_fit_request q = {.vehicle = &vehicle,
                                          .sheet = sheet,
                                          .sheets = 1,
                                          .param = {SWH_P_condenser_ua_air},
                                          .params = 1,
                                          .with = SWH_FIT_CIRCUIT,
                                          .starts = 1,
                                          .threads = 2,
                                          .keep_unknown = true,
                                          .robust = robust};
        assert_int_equal(swh_fit(&q, r, &err), SWH_OK);
        off[robust] = fabs(log(r->estimate[0].value / vehicle.params.condenser_ua_air));
        free(r);
    }
    assert_true(off[0] > 0.05);
    CHECK_BETWEEN(off[1], 0, 0.5 * off[0]);
    free(sheet);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_prior_of_causes),           cmocka_unit_test(test_prior_of_a_stated_speed),
        cmocka_unit_test(test_prior_of_severities),       cmocka_unit_test(test_windows_not_reached),
        cmocka_unit_test(test_deviance_of_wrong_changes), cmocka_unit_test(test_wild_reading),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
