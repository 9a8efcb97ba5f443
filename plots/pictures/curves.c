/* Any curves, with marked points and limit lines: margins, sensitivities. */
#include "plots/page/page.h"

#include <math.h>

static void range_of(const struct swh_plot_curves *c, double *from, double *to)
{
    *from = INFINITY;
    *to = -INFINITY;
    for (size_t k = 0; k < c->curves; k++)
        for (size_t i = 0; i < c->curve[k].n; i++) {
            *from = fmin(*from, c->curve[k].x[i]);
            *to = fmax(*to, c->curve[k].x[i]);
        }
    for (size_t i = 0; c->below && i < c->below->n; i++) {
        *from = fmin(*from, c->below->x[i]);
        *to = fmax(*to, c->below->x[i]);
    }
    for (size_t i = 0; i < c->marks; i++) {
        *from = fmin(*from, c->mark[i].x);
        *to = fmax(*to, c->mark[i].x);
    }
    *from = isfinite(c->x.from) ? c->x.from : *from;
    *to = isfinite(c->x.to) ? c->x.to : *to;
}

static void draw_curve(struct swh_panel *n, const struct swh_plot_curve *k, size_t i)
{
    const struct swh_style style = swh_style(i);
    const struct swh_xy xy = {k->n, {k->x, 1}, {k->y, 1}};
    if (k->low && k->high) {
        const struct swh_xy low = {k->n, {k->x, 1}, {k->low, 1}};
        const struct swh_column high = {k->high, 1};
        swh_panel_band(n, &low, &high, style.colour, 0.2);
    }
    swh_panel_line(n, &xy, &style, k->label);
}

static void draw_limits(struct swh_panel *n, const struct swh_plot_curves *c)
{
    int row = 0;
    for (size_t i = 0; i < c->lines; i++) {
        const struct swh_plot_line *k = &c->line[i];
        if (isnan(k->x)) {
            swh_panel_limit(n, k->y, k->text, true);
            continue;
        }
        const double x = swh_panel_pixel(n, k->x);
        const bool left = x + swh_text_width(k->text) > SWH_PAGE_WIDTH - 20;
        const double y = n->top + 14 + SWH_LINE_HEIGHT * (row++ % 4);
        swh_panel_vertical(n, k->x, &swh_style_limit);
        swh_page_text(n->page, left ? x - 6 : x + 6, y, left ? "right" : "left", k->text, SWH_TEXT_BOXED);
    }
}

static void draw_marks(struct swh_panel *n, const struct swh_plot_curves *c)
{
    struct swh_xy xy[SWH_LABELS_MAX];
    const size_t count = c->curves < SWH_LABELS_MAX ? c->curves : SWH_LABELS_MAX;
    for (size_t i = 0; i < count; i++)
        xy[i] = (struct swh_xy){c->curve[i].n, {c->curve[i].x, 1}, {c->curve[i].y, 1}};
    swh_panel_marks(n, c->mark, c->marks, xy, count);
}

enum { PANEL = 520, PANEL_ABOVE = 330, PANEL_BELOW = 150, GAP = 46 };

static void open_panel(struct swh_panel *n, struct swh_page *page, const struct swh_plot_curves *c, int top,
                       int bottom, const struct swh_plot_axis *y)
{
    double from, to;
    range_of(c, &from, &to);
    swh_panel_open(n, page, top, bottom, c->x.quantity, from, to, y->quantity, y->label);
    n->foot_below = true;
    if (isfinite(y->from))
        n->y.from = swh_page_shown(page, y->quantity, y->from);
    if (isfinite(y->to))
        n->y.to = swh_page_shown(page, y->quantity, y->to);
}

/* the panel below: its curve with a point at each value */
static void draw_below(struct swh_page *page, const struct swh_plot_curves *c, int top)
{
    struct swh_panel n;
    const struct swh_style style = swh_style(1);
    const struct swh_xy xy = {c->below->n, {c->below->x, 1}, {c->below->y, 1}};
    open_panel(&n, page, c, top, top + PANEL_BELOW, &c->below_y);
    n.foot = c->x.label;
    n.y.nonnegative = true;
    n.label_values = true;
    swh_panel_line(&n, &xy, &style, c->below->label);
    swh_panel_points(&n, &xy, &style, NULL);
    for (size_t i = 0; i < c->lines; i++)
        if (isfinite(c->line[i].x))
            swh_panel_vertical(&n, c->line[i].x, &swh_style_limit);
    swh_panel_close(&n);
}

static void draw(struct swh_page *page, const struct swh_plot_curves *c)
{
    struct swh_panel n;
    const int top = page->top + 34, bottom = top + (c->below ? PANEL_ABOVE : PANEL);
    open_panel(&n, page, c, top, bottom, &c->y);
    n.foot = c->below ? NULL : c->x.label;
    for (size_t i = c->curves; i-- > 0;)
        draw_curve(&n, &c->curve[i], i);
    for (size_t i = 0; i < c->marks; i++)
        swh_panel_reach(&n, c->mark[i].y);
    draw_limits(&n, c);
    swh_panel_close(&n);
    draw_marks(&n, c);
    if (c->below)
        draw_below(page, c, bottom + GAP);
}

enum swh_status swh_plot_curves(const struct swh_plot_curves *c, const struct swh_plot_options *o,
                                struct swh_error *err)
{
    struct swh_page page;
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    double from, to;
    range_of(c, &from, &to);
    if (!(to > from))
        return swh_error_set(err, SWH_ERR_INPUT, "%s: nothing to draw", c->name);
    swh_page_begin(&page, o, 640, c->title, c->subtitle);
    draw(&page, c);
    return swh_page_end(&page, c->name, err);
}
