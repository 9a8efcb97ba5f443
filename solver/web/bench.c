/* The entries of a page for the bench: a spot sheet is typed in, causes are ranked on the vehicle that the
 * page has set up, and what each would read is told. */
#include "solver/infer/expect.h"
#include "solver/infer/fit.h"
#include "solver/infer/plausible.h"
#include "solver/infer/rank.h"
#include "solver/web/page_case.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define ENTRY SWH_WEB_ENTRY

enum { CAUSE_NUMBERS = 8, EXPECTED = 24 };

static struct {
    struct swh_spot_sheet sheet;
    struct swh_ranking ranking;
    double cause[CAUSE_NUMBERS * SWH_RANK_MAX];
    struct swh_expect_cause asked[EXPECTED];
    int n_asked;
    struct swh_expect_cell cell[SWH_EXPECT_POINTS * EXPECTED];
    double expected[EXPECTED * SWH_CHANNEL_COUNT];
    double spread, param[SWH_PARAM_COUNT];
} bench;

/* An empty sheet of n rows (at most SWH_SPOT_ROWS). */
ENTRY void swh_web_sheet(int n)
{
    memset(&bench.sheet, 0, sizeof bench.sheet);
    bench.sheet.rows = (size_t)(n < SWH_SPOT_ROWS ? n : SWH_SPOT_ROWS);
    for (size_t i = 0; i < bench.sheet.rows; i++)
        swh_spot_row_empty(&bench.sheet.row[i]);
}

/* Writes a reading [SI] into a row; the text buffer names the channel, or "held" [s] or "doors_open". 0, or
 * -1 for an unknown name. */
ENTRY int swh_web_sheet_put(int row, double value)
{
    const char *name = swh_web_text();
    const int ch = swh_channel_find(name);
    struct swh_spot_row *r = &bench.sheet.row[row];
    if (row < 0 || row >= (int)bench.sheet.rows)
        return -1;
    if (strcmp(name, "held") == 0)
        r->held = value;
    else if (strcmp(name, "doors_open") == 0)
        r->doors_open = value > 0.5;
    else if (ch < 0)
        return -1;
    else {
        r->value[ch] = value;
        bench.sheet.has[ch] = true;
    }
    return 0;
}

/* Ranks the causes of the sheet on the page's vehicle: how many there are, best first, or -1, what was wrong
 * in the text buffer. */
ENTRY int swh_web_rank(void)
{
    struct swh_error err = {0};
    const struct swh_rank_request q = {
        .vehicle = swh_web_case(), .doors_given = true, .sheet = &bench.sheet, .threads = 1, .pairs = true};
    const enum swh_status status = swh_rank(&q, &bench.ranking, &err);
    snprintf(swh_web_text(), (size_t)swh_web_text_size(), "%s", err.what);
    if (status != SWH_OK)
        return -1;
    for (int i = 0; i < bench.ranking.causes; i++) {
        const struct swh_cause *c = &bench.ranking.cause[i];
        const double number[CAUSE_NUMBERS] = {c->fault, c->second, c->share,           c->severity,
                                              c->low,   c->high,   c->second_severity, c->chi2};
        memcpy(bench.cause + CAUSE_NUMBERS * i, number, sizeof number);
    }
    return bench.ranking.causes;
}
/* fault (-1: healthy), second (-1), share, severity, its 95 % from and to, severity of the second, chi2; of
 * each cause */
ENTRY const double *swh_web_causes(void)
{
    return bench.cause;
}
ENTRY int swh_web_cannot_tell(void)
{
    return bench.ranking.cannot_tell;
}
/* Whether no cause of the list explains the readings; the channel that the best of them leaves farthest off,
 * and by how many standard deviations. */
ENTRY int swh_web_none_fits(void)
{
    return bench.ranking.none_fits;
}
ENTRY int swh_web_farthest_channel(void)
{
    return (int)swh_compared[bench.ranking.farthest];
}
ENTRY double swh_web_misfit(void)
{
    return bench.ranking.misfit;
}
/* enum swh_knowledge: what the vehicle that was ranked with is worth */
ENTRY int swh_web_knowledge(void)
{
    return (int)bench.ranking.knowledge;
}

/* Fits what a gauge table usually tells to the rows of the sheet, on the page's vehicle, as `fit` does; the
 * vehicle then has the parameters found. starts 0: as many as `fit` usually makes. Returns how many, or -1,
 * what was wrong in the text buffer. */
ENTRY int swh_web_fit(int starts)
{
    static struct swh_fit_result result;
    struct swh_error err = {0};
    struct swh_case vehicle = *swh_web_case();
    struct swh_fit_request q = {.vehicle = &vehicle,
                                .doors_given = true,
                                .sheet = &bench.sheet,
                                .sheets = 1,
                                .with = SWH_FIT_CIRCUIT,
                                .starts = starts > 0 ? starts : SWH_FIT_STARTS,
                                .threads = 1,
                                .robust = true};
    enum swh_status status = SWH_OK;
    if (swh_fit_usual(&q, &vehicle) == 0)
        status = swh_error_set(&err, SWH_ERR_INPUT, "there is no reading that a fit could use");
    if (status == SWH_OK)
        status = swh_fit(&q, &result, &err);
    snprintf(swh_web_text(), (size_t)swh_web_text_size(), "%s", err.what);
    if (status != SWH_OK)
        return -1;
    swh_web_case()->params = result.params;
    bench.spread = result.spread;
    return result.estimates;
}
/* What the fit left over, in what was allowed for. */
ENTRY double swh_web_fit_spread(void)
{
    return bench.spread;
}
/* All parameters of the page's vehicle, in the order of their table [SI]. */
ENTRY const double *swh_web_params(void)
{
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        bench.param[i] = swh_param_get(&swh_web_case()->params, i);
    return bench.param;
}

/* Which of what no vehicle can read the sheet has, as bits of enum swh_implausible_kind. */
ENTRY int swh_web_implausible(void)
{
    const struct swh_readings r = {.sheet = &bench.sheet};
    struct swh_implausible found[SWH_IMPLAUSIBLE_MAX];
    const int n = swh_implausible_find(&r, swh_case_refrigerant(swh_web_case()), found);
    int bits = 0;
    for (int i = 0; i < n; i++)
        bits |= 1 << found[i].kind;
    return bits;
}

/* Asks for what a cause of this severity would read; fault -1:
 * none. Forgets the ones before with fault < -1. */
ENTRY void swh_web_expect_cause(int fault, double severity)
{
    if (fault < -1)
        bench.n_asked = 0;
    else if (bench.n_asked < EXPECTED)
        bench.asked[bench.n_asked++] = (struct swh_expect_cause){fault, severity};
}
/* Readings [SI] of the causes asked for at this shaft speed [rps], standing; SWH_CHANNEL_COUNT each, NaN
 * where a cause does not get there. NULL if memory is short. */
ENTRY const double *swh_web_expect(double speed)
{
    struct swh_error err = {0};
    const struct swh_expect_point point = {speed, 0};
    const struct swh_expect_request q = {.vehicle = swh_web_case(),
                                         .point = &point,
                                         .points = 1,
                                         .cause = bench.asked,
                                         .causes = bench.n_asked,
                                         .threads = 1};
    if (swh_expect(&q, bench.cell, &err) != SWH_OK)
        return NULL;
    for (int i = 0; i < bench.n_asked; i++)
        for (int ch = 0; ch < SWH_CHANNEL_COUNT; ch++)
            bench.expected[i * SWH_CHANNEL_COUNT + ch] =
                bench.cell[i].reached ? bench.cell[i].value[ch] : NAN;
    return bench.expected;
}
