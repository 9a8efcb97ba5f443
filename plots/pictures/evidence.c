/* What causes leave over of a log, channel by channel: which reading speaks for a cause, which against it. */
#include "plots/page/rows.h"
#include "plots/pictures/series.h"

#include <math.h>

enum { PITCH = 58, LINE = 30, HEADS = 84, NAMES = 316, FIRST = 330, LAST = 1384, GAP = 22, RESTS_MAX = 4 };

static bool compared(const struct swh_plot_evidence *e, size_t channel)
{
    for (size_t k = 0; k < e->rests; k++)
        if (isfinite(e->rest[k].off[channel]))
            return true;
    return false;
}

static size_t rows_of(const struct swh_plot_evidence *e)
{
    size_t n = 0;
    for (size_t i = 0; i < e->channels; i++)
        n += compared(e, i);
    return n;
}

/* standard deviations to both sides: whole, not so many that the small ones cannot be seen */
static double reach_of(const struct swh_plot_evidence *e)
{
    double most = 3;
    for (size_t k = 0; k < e->rests; k++)
        for (size_t i = 0; i < e->channels; i++)
            most = fmax(most, fabs(e->rest[k].off[i]) + e->rest[k].scatter[i]); /* fmax ignores a NaN */
    return fmin(ceil(most), 8) + 0.5; /* no number at the very edge, where the next panel's begins */
}

/* "+2.1 unit" */
static const char *difference_text(const struct swh_page *p, enum swh_channel ch, double si, char *out,
                                   size_t n)
{
    char unit[24];
    const bool pressure = swh_channel_table[ch].quantity == SWH_Q_PRESSURE;
    const enum swh_quantity q = pressure ? SWH_Q_PRESSURE_DIFFERENCE : SWH_Q_TEMPERATURE_DIFFERENCE;
    const double v = swh_page_shown(p, q, si);
    const int digits = fabs(v) >= 10 || !pressure ? 1 : 2;
    const bool nothing = fabs(v) < 0.5 * pow(10, -digits);
    snprintf(out, n, nothing ? "%.*f %s" : "%+.*f %s", digits, nothing ? 0 : v,
             swh_page_unit(p, q, unit, sizeof unit));
    return out;
}

static void draw_row(struct swh_panel *n, const struct swh_plot_evidence *e, const struct swh_plot_steady *r,
                     size_t i, double y)
{
    char text[48];
    if (!isfinite(r->off[i]))
        return;
    swh_row_interval(n, y + 9, r->off[i] - r->scatter[i], r->off[i] + r->scatter[i], 1.8);
    swh_row_dot(n, y + 9, r->off[i], false);
    swh_page_text(n->page, n->right - 4, y - 13, "right",
                  difference_text(n->page, e->channel[i], r->difference[i], text, sizeof text),
                  SWH_TEXT_FRONT);
    if (r->speaks[i] != SWH_PLOT_SPEAKS_NOT)
        swh_page_bold(n->page, n->left + 6, y - 13, "left",
                      r->speaks[i] == SWH_PLOT_SPEAKS_FOR ? "for" : "against", 11);
}

static void head_of(struct swh_page *p, const struct swh_plot_steady *r, double x, double y)
{
    char text[96], share[24];
    snprintf(text, sizeof text, "%s%s", r->label, r->second ? " and" : "");
    swh_page_bold(p, x, y - (r->second ? 44 : 22), "left", text, 12);
    if (r->second)
        swh_page_bold(p, x, y - 22, "left", r->second, 12);
    snprintf(text, sizeof text, "share %s", swh_row_share(r->share, share, sizeof share));
    swh_page_text(p, x, y, "left", text, SWH_TEXT_GREY);
}

static void draw_rest(struct swh_page *p, const struct swh_plot_evidence *e, size_t k, int top, int bottom)
{
    struct swh_panel n;
    const double reach = reach_of(e);
    const int pitch = (LAST - FIRST + GAP) / (int)e->rests, left = FIRST + (int)k * pitch;
    swh_rows_open(
        &n, p,
        &(struct swh_rows){left, left + pitch - GAP, top, bottom, SWH_Q_NONE, -reach, reach, "", -2, 2});
    swh_panel_vertical(&n, 0, &swh_style_limit);
    head_of(p, &e->rest[k], left, top - 22);
    double y = top + 0.5 * PITCH;
    for (size_t i = 0; i < e->channels; i++) {
        if (!compared(e, i))
            continue;
        draw_row(&n, e, &e->rest[k], i, y);
        y += PITCH;
    }
}

/* "for", "strongly for": twice and seven times as likely as with the causes in the middle */
static const char *said(double says)
{
    return says >= 2       ? "strongly for"
           : says >= 0.69  ? "for"
           : says <= -2    ? "strongly against"
           : says <= -0.69 ? "against"
                           : "says nothing";
}

static void draw_findings(struct swh_page *p, const struct swh_plot_evidence *e, double y)
{
    const struct swh_style line = {"#cccccc", 0.6, "solid"};
    const int pitch = (LAST - FIRST + GAP) / (int)e->rests;
    swh_page_bold(p, 28, y, "left", "found on bench and vehicle", 12);
    for (size_t i = 0; i < e->findings; i++) {
        y += LINE;
        swh_row_name(p, NAMES, y, e->finding[i], NULL, false);
        for (size_t k = 0; k < e->rests; k++) {
            const double says = e->rest[k].says[i];
            if (fabs(says) >= 0.69)
                swh_page_bold(p, FIRST + (double)k * pitch + 6, y, "left", said(says), 11);
            else
                swh_page_text(p, FIRST + (double)k * pitch + 6, y, "left", said(says), SWH_TEXT_GREY);
        }
        swh_page_stroke(p, 28, y + LINE / 2, LAST, y + LINE / 2, &line);
    }
}

static int heads(const struct swh_plot_evidence *e, struct swh_page *p)
{
    const int pitch = (LAST - FIRST + GAP) / (int)e->rests;
    for (size_t k = 0; k < e->rests; k++)
        head_of(p, &e->rest[k], FIRST + (double)k * pitch, p->top + 68);
    return p->top + 100;
}

static void draw(struct swh_page *p, const struct swh_plot_evidence *e)
{
    if (rows_of(e) == 0) {
        draw_findings(p, e, heads(e, p));
        return;
    }
    const int top = p->top + 90, bottom = top + (int)rows_of(e) * PITCH + 6;
    double y = top + 0.5 * PITCH;
    for (size_t k = 0; k < e->rests; k++)
        draw_rest(p, e, k, top, bottom);
    for (size_t i = 0; i < e->channels; i++) {
        char words[64];
        if (!compared(e, i))
            continue;
        swh_channel_words(e->channel[i], false, words, sizeof words);
        swh_row_name(p, NAMES, y, words, NULL, (int)i == e->parting);
        y += PITCH;
    }
    swh_page_text(p, 0.5 * (FIRST + LAST), bottom + 54, "center",
                  "reading less prediction, in standard deviations of a window's mean (grey: within two)",
                  NULL);
    if (e->findings > 0)
        draw_findings(p, e, bottom + 60 + HEADS / 2);
}

static int height_of(const struct swh_plot_evidence *e)
{
    const int readings = (int)rows_of(e), found = e->findings > 0 ? (int)e->findings * LINE + HEADS : 0;
    return (readings > 0 ? readings * PITCH + 180 : 80) + found;
}

enum swh_status swh_plot_evidence(const struct swh_plot_evidence *e, const struct swh_plot_options *o,
                                  struct swh_error *err)
{
    struct swh_page page;
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (e->rests == 0 || e->rests > RESTS_MAX || e->channels > SWH_PLOT_CHANNELS_MAX ||
        (rows_of(e) == 0 && e->findings == 0))
        return swh_error_set(err, SWH_ERR_INPUT, "evidence: no reading to compare a prediction with");
    swh_page_begin(&page, o, height_of(e), e->title, e->subtitle);
    draw(&page, e);
    return swh_page_end(&page, "evidence", err);
}
