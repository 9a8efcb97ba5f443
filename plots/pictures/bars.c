/* Ranked bars with intervals. */
#include "plots/page/page.h"

#include <math.h>

enum { PITCH = 40, THICKNESS = 24, NOTE_WIDTH = 300 };

static void range_of(const struct swh_plot_bars *b, double *from, double *to)
{
    *from = 0;
    *to = 0;
    for (size_t i = 0; i < b->bars; i++) {
        const struct swh_plot_bar *k = &b->bar[i];
        *from = fmin(*from, fmin(k->value, isfinite(k->low) ? k->low : k->value));
        *to = fmax(*to, fmax(k->value, isfinite(k->high) ? k->high : k->value));
    }
    *from = isfinite(b->x.from) ? b->x.from : *from;
    *to = isfinite(b->x.to) ? b->x.to : *to;
}

static int label_width(const struct swh_plot_bars *b)
{
    double widest = 60;
    for (size_t i = 0; i < b->bars; i++)
        widest = fmax(widest, swh_text_width(b->bar[i].label));
    return (int)fmin(widest, 480) + 40;
}

static void draw_interval(struct swh_panel *n, const struct swh_plot_bar *k, double y)
{
    const struct swh_style over = {"#000000", 2, "solid"};
    const double a = swh_panel_pixel(n, k->low), b = swh_panel_pixel(n, k->high);
    swh_page_stroke(n->page, a, y, b, y, &over);
    swh_page_stroke(n->page, a, y - 6, a, y + 6, &over);
    swh_page_stroke(n->page, b, y - 6, b, y + 6, &over);
}

static void draw_bar(struct swh_panel *n, const struct swh_plot_bar *k, double y)
{
    char value[48];
    const double zero = swh_panel_pixel(n, 0), x = swh_panel_pixel(n, k->value);
    const bool interval = isfinite(k->low) && isfinite(k->high);
    swh_page_block(n->page, fmin(zero, x), y - THICKNESS / 2.0, fmax(zero, x), y + THICKNESS / 2.0,
                   k->strong ? "#D55E00" : "#8fb8d4");
    if (interval)
        draw_interval(n, k, y);
    const double end = fmax(fmax(zero, x), interval ? swh_panel_pixel(n, k->high) : x);
    if (k->strong)
        swh_page_bold(n->page, n->left - 14, y, "right", k->label, 13);
    else
        swh_page_text(n->page, n->left - 14, y, "right", k->label, NULL);
    swh_page_text(n->page, end + 12, y, "left",
                  k->note ? k->note : swh_page_value(n->page, n->xq, k->value, value, sizeof value), NULL);
}

static void draw(struct swh_page *page, const struct swh_plot_bars *b, double from, double to)
{
    struct swh_panel n;
    const int top = page->top + 10, bottom = top + (int)b->bars * PITCH + 10;
    swh_panel_open(&n, page, top, bottom, b->x.quantity, from, to, SWH_Q_NONE, NULL);
    n.left = label_width(b);
    n.right = SWH_PAGE_WIDTH - NOTE_WIDTH;
    n.time = false;
    n.y_numbers_off = true;
    n.foot = b->x.label;
    n.foot_below = true;
    n.y.from = 0;
    n.y.to = 1;
    swh_panel_close(&n);
    for (size_t i = 0; i < b->bars; i++)
        draw_bar(&n, &b->bar[i], top + 5 + PITCH * ((double)i + 0.5));
}

enum swh_status swh_plot_bars(const struct swh_plot_bars *b, const struct swh_plot_options *o,
                              struct swh_error *err)
{
    struct swh_page page;
    double from, to;
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    range_of(b, &from, &to);
    if (b->bars == 0 || !(to > from))
        return swh_error_set(err, SWH_ERR_INPUT, "%s: nothing to draw", b->name);
    swh_page_begin(&page, o, (int)b->bars * PITCH + 100, b->title, b->subtitle);
    draw(&page, b, from, to);
    return swh_page_end(&page, b->name, err);
}
