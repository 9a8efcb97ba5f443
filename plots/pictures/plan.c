/* The next test: what each cause predicts for its readings, and at which reading to believe which cause. */
#include "plots/page/rows.h"
#include "plots/pictures/series.h"

#include <math.h>
#include <string.h>

enum { PITCH = 50, NAMES = 316, LEFT = 330, RIGHT = 1010, WORDS = 1030, HEAD = 44, FOOT = 92, END = 26 };

/* a cause that only so narrow a range of readings singles out is not told by them */
static const double NARROW = 0.25;
static const double P95 = 1.96; /* standard deviations of a 95 % interval of the normal distribution */

static void range_of(const struct swh_plot_plan *p, const struct swh_plot_prediction *r, double *lo,
                     double *hi)
{
    *lo = INFINITY;
    *hi = -INFINITY;
    for (size_t k = 0; k < p->causes; k++) {
        *lo = fmin(*lo, r->value[k] - 2.6 * r->sigma); /* fmin and fmax ignore a NaN */
        *hi = fmax(*hi, r->value[k] + 2.6 * r->sigma);
    }
}

/* whether a limit is so near that it belongs into the picture; it then widens the axis */
static bool near_limit(const struct swh_plot_prediction *r, double lo, double *hi)
{
    if (!(r->limit > lo && r->limit < *hi + 0.5 * (*hi - lo)))
        return false;
    *hi = fmax(*hi, r->limit + 0.04 * (*hi - lo));
    return true;
}

/* Readings at which cause k is `factor` times as likely as any other, all normal with one standard deviation:
 * ln of the ratio of two densities is linear in the reading. false if there are none within [lo, hi]. */
static bool singled_out(const struct swh_plot_plan *p, const struct swh_plot_prediction *r, size_t k,
                        double *lo, double *hi)
{
    const double from = *lo, to = *hi, at = r->value[k], step = r->sigma * r->sigma * log(p->factor);
    for (size_t i = 0; i < p->causes; i++) {
        const double apart = r->value[i] - at, middle = 0.5 * (r->value[i] + at);
        if (i == k || isnan(apart))
            continue;
        if (apart == 0)
            return false;
        if (apart > 0)
            *hi = fmin(*hi, middle - step / apart);
        else
            *lo = fmax(*lo, middle - step / apart);
    }
    const bool ends_open = *lo == from || *hi == to; /* no other cause lies further out */
    return isfinite(at) && *hi - *lo > NARROW * r->sigma && (ends_open || (at > *lo && at < *hi));
}

/* "believe below 14.2 unit", "believe 12.1 to 13 unit" */
static void believe_text(const struct swh_page *p, enum swh_quantity q, double lo, double hi, bool from_below,
                         bool to_above, char *out, size_t n)
{
    char a[40], b[40];
    swh_page_value(p, q, lo, a, sizeof a);
    swh_page_value(p, q, hi, b, sizeof b);
    char *unit = strchr(a, ' ');
    if (from_below && to_above)
        snprintf(out, n, "believe");
    else if (from_below)
        snprintf(out, n, "believe it below %s", b);
    else if (to_above)
        snprintf(out, n, "believe it above %s", a);
    else {
        if (unit)
            *unit = '\0';
        snprintf(out, n, "believe it from %s to %s", a, b);
    }
}

/* ---- rows ---- */

static void draw_belief(struct swh_panel *n, const struct swh_plot_plan *p,
                        const struct swh_plot_prediction *r, size_t k, double y, double from, double to)
{
    char text[128] = "not told by this reading alone";
    double lo = from, hi = to;
    if (singled_out(p, r, k, &lo, &hi)) {
        swh_row_block(n, y - 19, y + 19, lo, hi, "#c8dcea");
        believe_text(n->page, n->xq, lo, hi, lo == from, hi == to, text, sizeof text);
    }
    swh_page_text(n->page, WORDS, y + 11, "left", text, SWH_TEXT_GREY);
}

static void draw_cause(struct swh_panel *n, const struct swh_plot_plan *p,
                       const struct swh_plot_prediction *r, size_t k, double y, double from, double to)
{
    char text[64];
    const double x = r->value[k];
    swh_row_name(n->page, NAMES, y, p->cause[k].label, p->cause[k].second, false);
    if (isnan(x)) {
        swh_page_text(n->page, WORDS, y, "left", "does not get through this test", SWH_TEXT_GREY);
        return;
    }
    draw_belief(n, p, r, k, y, from, to);
    swh_row_interval(n, y, x - P95 * r->sigma, x + P95 * r->sigma, 1.8);
    swh_row_block(n, y - 5, y + 5, x - P95 * r->instrument, x + P95 * r->instrument, "#000000");
    swh_row_dot(n, y, x, true);
    swh_page_text(n->page, WORDS, y - 11, "left", swh_page_value(n->page, n->xq, x, text, sizeof text),
                  SWH_TEXT_FRONT);
}

static void draw_limit(struct swh_panel *n, double limit)
{
    char text[80], value[40];
    const double x = swh_panel_pixel(n, limit);
    const struct swh_style style = {"#000000", 2.2, "(7,5)"};
    swh_panel_vertical(n, limit, &style);
    snprintf(text, sizeof text, "stop at once above %s",
             swh_page_value(n->page, n->xq, limit, value, sizeof value));
    swh_page_text(n->page, fmin(x + 20, RIGHT), n->top - 12, "right", text, SWH_TEXT_FRONT);
}

/* ---- panels ---- */

static int draw_reading(struct swh_page *page, const struct swh_plot_plan *p,
                        const struct swh_plot_prediction *r, bool first, int top)
{
    struct swh_panel n;
    char words[64], text[240];
    double lo, hi;
    const struct swh_channel_info *ch = &swh_channel_table[r->channel];
    const int bottom = top + HEAD + (int)p->causes * PITCH + 6;
    range_of(p, r, &lo, &hi);
    const bool near = near_limit(r, lo, &hi);
    swh_channel_words(r->channel, false, words, sizeof words);
    snprintf(text, sizeof text, first ? "%s" : "also read %s", words);
    swh_page_bold(page, 28, top + 12, "left", text, 13);
    swh_rows_open(&n, page,
                  &(struct swh_rows){LEFT, RIGHT, top + HEAD, bottom, ch->quantity, lo, hi, words, NAN, NAN});
    for (size_t k = 0; k < p->causes; k++)
        draw_cause(&n, p, r, k, top + HEAD + 3 + PITCH * ((double)k + 0.5), lo, hi);
    if (near)
        draw_limit(&n, r->limit);
    return bottom + FOOT;
}

static bool drawable(const struct swh_plot_plan *p, const struct swh_plot_prediction *r)
{
    bool any = false;
    for (size_t k = 0; k < p->causes; k++)
        any |= isfinite(r->value[k]) != 0;
    return any && r->sigma > 0;
}

enum swh_status swh_plot_plan(const struct swh_plot_plan *p, const struct swh_plot_options *o,
                              struct swh_error *err)
{
    struct swh_page page;
    int panels = 0;
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    for (size_t i = 0; i < p->readings; i++)
        panels += drawable(p, &p->reading[i]);
    if (panels == 0 || !drawable(p, &p->reading[0]))
        return swh_error_set(err, SWH_ERR_INPUT, "plan: nothing to draw");
    swh_page_begin(&page, o, panels * (HEAD + (int)p->causes * PITCH + 6 + FOOT) + END, p->title,
                   p->subtitle);
    int top = page.top + 10;
    for (size_t i = 0; i < p->readings; i++)
        if (drawable(p, &p->reading[i]))
            top = draw_reading(&page, p, &p->reading[i], i == 0, top);
    if (p->careful)
        swh_page_bold(&page, 28, top, "left", p->foot, 12);
    else
        swh_page_text(&page, 28, top, "left", p->foot, NULL);
    return swh_page_end(&page, "plan", err);
}
