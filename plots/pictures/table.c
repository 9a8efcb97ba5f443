/* A table of words and numbers, shaded where a number lies above or below what it is compared with. */
#include "plots/page/rows.h"
#include "plots/pictures/series.h"

enum { EDGE = 28, PITCH = 24, HEADING = 46, HEADS = 46, FOOT = 40, GAP = 8 };

static const char *const ABOVE = "#f6d5b8", *const BELOW = "#c8dcea";

static double place(const struct swh_plot_table *t, size_t column)
{
    double x = EDGE;
    for (size_t i = 0; i < column; i++)
        x += t->width[i];
    return x;
}

static void put(struct swh_page *p, const struct swh_plot_table *t, size_t column, double y, const char *text,
                bool bold)
{
    const double x = place(t, column);
    const char *align = t->left[column] ? "left" : "right";
    const double at = t->left[column] ? x + GAP : x + t->width[column] - GAP;
    if (text && bold)
        swh_page_bold(p, at, y, align, text, 11);
    else if (text)
        swh_page_text(p, at, y, align, text, SWH_TEXT_FRONT);
}

static void draw_heads(struct swh_page *p, const struct swh_plot_table *t, double y)
{
    const struct swh_style line = {"#000000", 1.2, "solid"};
    for (size_t i = 0; i < t->columns; i++) {
        put(p, t, i, y + 8, t->head[i], true);
        put(p, t, i, y + 28, t->unit[i], false);
    }
    swh_page_stroke(p, EDGE, y + HEADS - 4, place(t, t->columns), y + HEADS - 4, &line);
}

static void draw_row(struct swh_page *p, const struct swh_plot_table *t, const struct swh_plot_table_row *r,
                     double y)
{
    const struct swh_style line = {"#cccccc", 0.6, "solid"};
    for (size_t i = 0; i < t->columns; i++) {
        if (r->sign[i] != 0)
            swh_page_block(p, place(t, i) + 2, y - PITCH / 2 + 1, place(t, i) + t->width[i] - 2,
                           y + PITCH / 2 - 1, r->sign[i] > 0 ? ABOVE : BELOW);
        put(p, t, i, y, r->text[i], r->strong);
    }
    swh_page_stroke(p, EDGE, y + PITCH / 2, place(t, t->columns), y + PITCH / 2, &line);
}

enum swh_status swh_plot_table(const struct swh_plot_table *t, const struct swh_plot_options *o,
                               struct swh_error *err)
{
    struct swh_page page;
    int height = FOOT + 20;
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (t->rows == 0)
        return swh_error_set(err, SWH_ERR_INPUT, "%s: nothing to draw", t->name);
    for (size_t i = 0; i < t->rows; i++)
        height += t->row[i].heading ? HEADING + HEADS : PITCH;
    swh_page_begin(&page, o, height, t->title, t->subtitle);
    double y = page.top + 6;
    for (size_t i = 0; i < t->rows; i++) {
        const struct swh_plot_table_row *r = &t->row[i];
        if (r->heading) {
            swh_page_bold(&page, EDGE, y + HEADING - 14, "left", r->text[0], 13);
            draw_heads(&page, t, y + HEADING);
            y += HEADING + HEADS;
        } else {
            draw_row(&page, t, r, y + PITCH / 2);
            y += PITCH;
        }
    }
    swh_page_text(&page, EDGE, y + FOOT / 2 + 6, "left", t->foot, NULL);
    return swh_page_end(&page, t->name, err);
}
