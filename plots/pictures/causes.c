/* Causes of a log: how much each is to be believed, how severe it would be, which read alike. */
#include "plots/page/rows.h"

#include <math.h>
#include <string.h>

enum {
    PITCH = 54,
    LINE = 22,
    THICKNESS = 24,
    NAMES = 316, /* right end of the names */
    BARS = 330,
    BARS_END = 590,
    BRACKET = 664,
    SEVERITY = 800,
    SEVERITY_END = 1010,
    HEAD = 44
};

/* what is shown, from the top: causes by their index */
struct order {
    size_t at[SWH_PLOT_CAUSES_MAX], n;
    double rest;
    size_t rests;
};

static bool worth_a_row(const struct swh_plot_causes *c, size_t i)
{
    return i < 2 || c->cause[i].share >= 0.01;
}

static bool has(const struct order *o, size_t i)
{
    for (size_t k = 0; k < o->n; k++)
        if (o->at[k] == i)
            return true;
    return false;
}

/* Those that read alike follow the first of them, whatever stands between them. */
static void put_in_order(const struct swh_plot_causes *c, struct order *o)
{
    memset(o, 0, sizeof *o);
    for (size_t i = 0; i < c->causes; i++) {
        if (!worth_a_row(c, i)) {
            o->rest += c->cause[i].share;
            o->rests++;
            continue;
        }
        for (size_t k = i; k < c->causes; k++) {
            const bool same = k == i || (c->cause[i].alike != 0 && c->cause[k].alike == c->cause[i].alike);
            if (same && worth_a_row(c, k) && !has(o, k))
                o->at[o->n++] = k;
        }
    }
}

static int height_of(const struct swh_plot_cause *k)
{
    return k->second ? PITCH + LINE : PITCH;
}

/* ---- severity ---- */

static void draw_severity(struct swh_panel *n, const struct swh_plot_cause *k, double y)
{
    char text[96];
    if (isnan(k->severity)) {
        swh_page_text(n->page, SEVERITY_END + 16, y, "left", "no fault", SWH_TEXT_GREY);
        return;
    }
    int used = snprintf(text, sizeof text, "%.2f (%.2f to %.2f)", k->severity, k->low, k->high);
    if (k->second && used > 0)
        snprintf(text + used, sizeof text - (size_t)used, " and %.2f", k->second_severity);
    swh_row_interval(n, y - 12, k->low, k->high, 1.8);
    swh_row_dot(n, y - 12, k->severity, false);
    swh_row_dot(n, y - 12, k->second ? k->second_severity : NAN, true);
    swh_page_text(n->page, SEVERITY_END + 16, y - 12, "left", text, SWH_TEXT_FRONT);
    if (k->meaning)
        swh_page_text(n->page, SEVERITY + 6, y + 10, "left", k->meaning, SWH_TEXT_GREY);
    if (k->second && k->second_meaning) {
        snprintf(text, sizeof text, "+ %s", k->second_meaning);
        swh_page_text(n->page, SEVERITY + 6, y + 10 + LINE, "left", text, SWH_TEXT_GREY);
    }
}

/* ---- shares ---- */

static void draw_share(struct swh_panel *n, double share, const char *colour, double y)
{
    char text[32];
    swh_row_block(n, y - THICKNESS / 2.0, y + THICKNESS / 2.0, 0, 100 * share, colour);
    swh_page_text(n->page, swh_panel_pixel(n, 100 * share) + 10, y, "left",
                  swh_row_share(share, text, sizeof text), SWH_TEXT_FRONT);
}

/* A bracket over rows [a, b] of the order, with the sum of their shares. */
static void draw_bracket(struct swh_page *p, double top, double bottom, double sum)
{
    char text[32], share[24];
    const struct swh_style style = {"#000000", 1.4, "solid"};
    const double y = 0.5 * (top + bottom);
    swh_page_stroke(p, BRACKET, top, BRACKET, bottom, &style);
    swh_page_stroke(p, BRACKET - 8, top, BRACKET, top, &style);
    swh_page_stroke(p, BRACKET - 8, bottom, BRACKET, bottom, &style);
    snprintf(text, sizeof text, "sum %s", swh_row_share(sum, share, sizeof share));
    swh_page_text(p, BRACKET + 10, y - 11, "left", "read alike,", SWH_TEXT_FRONT);
    swh_page_text(p, BRACKET + 10, y + 11, "left", text, SWH_TEXT_FRONT);
}

static void draw_brackets(struct swh_page *p, const struct swh_plot_causes *c, const struct order *o,
                          const double *y)
{
    for (size_t i = 0; i < o->n;) {
        size_t end = i + 1;
        double sum = c->cause[o->at[i]].share;
        for (; end < o->n && c->cause[o->at[i]].alike != 0 &&
               c->cause[o->at[end]].alike == c->cause[o->at[i]].alike;
             end++)
            sum += c->cause[o->at[end]].share;
        if (end > i + 1)
            draw_bracket(p, y[i] - 12, y[end - 1] + 12, sum);
        i = end;
    }
}

/* ---- page ---- */

static void draw_rest(struct swh_panel *n, const struct swh_plot_causes *c, const struct order *o, double y)
{
    const char *word[SWH_PLOT_CAUSES_MAX];
    char text[64], list[200];
    size_t words = 0;
    for (size_t i = 0; i < c->causes; i++)
        if (!worth_a_row(c, i) && !c->cause[i].second)
            word[words++] = c->cause[i].label;
    snprintf(text, sizeof text, o->rests == 1 ? "one other" : "%zu others together", o->rests);
    swh_page_text(n->page, NAMES, y, "right", text, SWH_TEXT_GREY);
    draw_share(n, o->rest, "#cccccc", y);
    swh_page_text(n->page, SEVERITY + 6, y, "left",
                  swh_row_list(word, words, SWH_PAGE_WIDTH - SEVERITY - 10, list, sizeof list),
                  SWH_TEXT_GREY);
}

static double most_shown(const struct swh_plot_causes *c, const struct order *o)
{
    double most = o->rest;
    for (size_t i = 0; i < o->n; i++)
        most = fmax(most, c->cause[o->at[i]].share);
    return 100 * most;
}

static void draw(struct swh_page *page, const struct swh_plot_causes *c, const struct order *o, int bottom)
{
    struct swh_panel bars, severity;
    double y[SWH_PLOT_CAUSES_MAX], at = page->top + HEAD;
    swh_page_bold(page, BARS, page->top + 14, "left", "share", 12);
    swh_page_bold(page, SEVERITY, page->top + 14, "left", "severity with its 95 % interval", 12);
    swh_rows_open(&bars, page,
                  &(struct swh_rows){BARS, BARS_END, page->top + HEAD - 6, bottom, SWH_Q_NONE, 0,
                                     most_shown(c, o), "posterior share, %", NAN, NAN});
    swh_rows_open(&severity, page,
                  &(struct swh_rows){SEVERITY, SEVERITY_END, page->top + HEAD - 6, bottom, SWH_Q_NONE, 0, 1,
                                     "severity", NAN, NAN});
    for (size_t i = 0; i < o->n; i++) {
        const struct swh_plot_cause *k = &c->cause[o->at[i]];
        y[i] = at + 0.5 * PITCH;
        swh_row_name(page, NAMES, y[i], k->label, k->second, k->strong);
        draw_share(&bars, k->share, k->strong ? SWH_ROW_STRONG : SWH_ROW_PALE, y[i]);
        draw_severity(&severity, k, y[i]);
        at += height_of(k);
    }
    draw_brackets(page, c, o, y);
    if (o->rests > 0)
        draw_rest(&bars, c, o, at + 0.5 * PITCH);
}

enum swh_status swh_plot_causes(const struct swh_plot_causes *c, const struct swh_plot_options *o,
                                struct swh_error *err)
{
    struct swh_page page;
    struct order order;
    int height = 0;
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (c->causes == 0 || c->causes > SWH_PLOT_CAUSES_MAX || !isfinite(c->cause[0].share))
        return swh_error_set(err, SWH_ERR_INPUT, "causes: nothing to draw");
    put_in_order(c, &order);
    for (size_t i = 0; i < order.n; i++)
        height += height_of(&c->cause[order.at[i]]);
    height += order.rests > 0 ? PITCH : 0;
    swh_page_begin(&page, o, height + HEAD + 86, c->title, c->subtitle);
    draw(&page, c, &order, page.top + HEAD + 6 + height);
    return swh_page_end(&page, "causes", err);
}
