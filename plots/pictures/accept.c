/* A repaired vehicle beside a healthy one: its channels' means in the band, and what else is asked of it. */
#include "plots/page/rows.h"
#include "plots/pictures/series.h"

#include <math.h>
#include <string.h>

enum { PITCH = 44, NAMES = 316, LEFT = 330, RIGHT = 860, MARK = 884, WORDS = 960, HEAD = 44, FOOT = 92 };

/* ---- channels ---- */

/* % of what a sound vehicle may be off */
static double off(const struct swh_plot_acceptance *a, const struct swh_plot_judged *k)
{
    return 100 * (k->read - k->healthy) / (a->most * k->sigma);
}

static double reach_of(const struct swh_plot_acceptance *a)
{
    double most = 150;
    for (size_t i = 0; i < a->channels; i++)
        most = fmax(most, fabs(off(a, &a->channel[i])) + 15); /* fmax ignores a NaN */
    return fmin(50 * ceil(most / 50), 400);
}

/* "14.2 unit (healthy 13.1 to 15.9)" */
static void numbers(const struct swh_page *p, const struct swh_plot_judged *k, double most, char *out,
                    size_t n)
{
    char read[40], low[40], high[40];
    const enum swh_quantity q = swh_channel_table[k->channel].quantity;
    swh_page_value(p, q, k->read, read, sizeof read);
    swh_page_value(p, q, k->healthy - most * k->sigma, low, sizeof low);
    swh_page_value(p, q, k->healthy + most * k->sigma, high, sizeof high);
    low[strcspn(low, " ")] = high[strcspn(high, " ")] = '\0';
    snprintf(out, n, "%s (healthy: %s to %s)", read, low, high);
}

static void mark(struct swh_page *p, double y, bool ok)
{
    if (ok)
        swh_page_text(p, MARK, y, "left", "ok", SWH_TEXT_FRONT);
    else
        swh_page_bold(p, MARK, y, "left", "FAIL", 12);
}

static void draw_channel(struct swh_panel *n, const struct swh_plot_acceptance *a,
                         const struct swh_plot_judged *k, double y)
{
    char text[160];
    swh_channel_words(k->channel, false, text, sizeof text);
    if (k->judged && !k->ok)
        swh_page_bold(n->page, NAMES, y, "right", text, 13);
    else
        swh_page_text(n->page, NAMES, y, "right", text, k->judged ? NULL : SWH_TEXT_GREY);
    swh_row_dot(n, y, off(a, k), !k->judged);
    if (isfinite(off(a, k)) && (k->judged || !k->ok)) {
        numbers(n->page, k, a->most, text, sizeof text);
        swh_page_text(n->page, WORDS, y, "left", text, SWH_TEXT_FRONT);
        mark(n->page, y, k->ok);
    } else
        swh_page_text(n->page, MARK, y, "left", k->why_not ? k->why_not : "not judged", SWH_TEXT_GREY);
}

static int draw_channels(struct swh_page *p, const struct swh_plot_acceptance *a, int top)
{
    struct swh_panel n;
    const double reach = reach_of(a);
    const int bottom = top + HEAD + (int)a->channels * PITCH + 4;
    swh_page_bold(p, 28, top + 10, "left",
                  "Mean of each reading beside a healthy vehicle's on the same drive", 13);
    swh_rows_open(&n, p,
                  &(struct swh_rows){LEFT, RIGHT, top + HEAD, bottom, SWH_Q_NONE, -reach, reach,
                                     "off a sound vehicle's, of what may be, % (grey: passes)", -100, 100});
    swh_panel_vertical(&n, 0, &swh_style_limit);
    for (size_t i = 0; i < a->channels; i++)
        draw_channel(&n, a, &a->channel[i], top + HEAD + 2 + PITCH * ((double)i + 0.5));
    return bottom + FOOT;
}

/* ---- other demands ---- */

static void draw_demand(struct swh_panel *n, const struct swh_plot_demand *k, double y)
{
    swh_row_name(n->page, NAMES, y, k->label, NULL, !k->ok);
    if (isfinite(k->share))
        swh_row_block(n, y - 10, y + 10, 0, 100 * fmax(k->share, 0), k->ok ? SWH_ROW_PALE : SWH_ROW_STRONG);
    swh_row_dot(n, y, k->share > 1.5 ? 100 * k->share : NAN, false);
    mark(n->page, y, k->ok);
    swh_page_text(n->page, WORDS, y, "left", k->text, SWH_TEXT_FRONT);
}

static void draw_demands(struct swh_page *p, const struct swh_plot_acceptance *a, int top)
{
    struct swh_panel n;
    const struct swh_style limit = {"#000000", 2.2, "(7,5)"};
    const int bottom = top + HEAD + (int)a->demands * PITCH + 4;
    swh_page_bold(p, 28, top + 10, "left", a->demands_title, 13);
    swh_rows_open(&n, p,
                  &(struct swh_rows){LEFT, RIGHT, top + HEAD, bottom, SWH_Q_NONE, 0, 150,
                                     "of what is allowed, %", NAN, NAN});
    for (size_t i = 0; i < a->demands; i++)
        draw_demand(&n, &a->demand[i], top + HEAD + 2 + PITCH * ((double)i + 0.5));
    swh_panel_vertical(&n, 100, &limit);
}

enum swh_status swh_plot_acceptance(const struct swh_plot_acceptance *a, const struct swh_plot_options *o,
                                    struct swh_error *err)
{
    struct swh_page page;
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (a->channels == 0)
        return swh_error_set(err, SWH_ERR_INPUT, "accept: no channel to judge");
    const int rows = (int)(a->channels + a->demands), blocks = a->demands > 0 ? 2 : 1;
    swh_page_begin(&page, o, rows * PITCH + blocks * (HEAD + FOOT + 4) + 4, a->title, a->subtitle);
    const int next = draw_channels(&page, a, page.top + 10);
    if (a->demands > 0)
        draw_demands(&page, a, next);
    return swh_page_end(&page, "accept", err);
}
