/* The entries of a page for the bench: a spot sheet is typed in, causes are ranked on the vehicle that the
 * page has set up, and what each would read is told. */
#include "solver/infer/expect.h"
#include "solver/infer/plausible.h"
#include "solver/infer/rank.h"
#include "solver/web/page_case.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define ENTRY SWH_WEB_ENTRY

enum { CAUSE_NUMBERS = 7, EXPECTED = 24 };

static struct {
    struct swh_spot_sheet sheet;
    struct swh_ranking ranking;
    double cause[CAUSE_NUMBERS * SWH_RANK_MAX];
    struct swh_expect_cause asked[EXPECTED];
    int n_asked;
    struct swh_expect_cell cell[SWH_EXPECT_POINTS * EXPECTED];
    double expected[EXPECTED * SWH_CHANNEL_COUNT];
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
        const double number[CAUSE_NUMBERS] = {c->fault, c->second, c->share, c->severity,
                                              c->low,   c->high,   c->chi2};
        memcpy(bench.cause + CAUSE_NUMBERS * i, number, sizeof number);
    }
    return bench.ranking.causes;
}
/* fault (-1: healthy), second (-1), share, severity, its 95 % from and to, chi2; of each cause */
ENTRY const double *swh_web_causes(void)
{
    return bench.cause;
}
ENTRY int swh_web_cannot_tell(void)
{
    return bench.ranking.cannot_tell;
}
/* The channel that the best cause leaves farthest off, and by how many standard deviations: beyond two of a
 * pressure no cause of the list explains the readings. */
ENTRY int swh_web_farthest_channel(void)
{
    int worst = 0;
    for (int i = 1; i < SWH_COMPARED; i++)
        if (fabs(bench.ranking.cause[0].off[i]) > fabs(bench.ranking.cause[0].off[worst]) ||
            isnan(bench.ranking.cause[0].off[worst]))
            worst = i;
    return (int)swh_compared[worst];
}
ENTRY double swh_web_farthest(void)
{
    double worst = 0;
    for (int i = 0; i < SWH_COMPARED; i++)
        worst = fmax(worst, fabs(bench.ranking.cause[0].off[i]));
    return worst;
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
