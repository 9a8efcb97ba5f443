/* A quantity over two conditions: colours and lines of equal value. */
#include "plots/page/page.h"

#include <math.h>
#include <stdlib.h>

enum { MAP_HEIGHT = 560, MAP_RIGHT = 1120, BAR_LEFT = 1160, BAR_RIGHT = 1190, BAR_STEPS = 60, ISOS_MAX = 12 };

/* Light to dark through yellow, green and blue: the lightness falls all the way, so grey shows the same
 * order. */
static const unsigned char ramp[][3] = {
    {255, 247, 205}, {228, 219, 140}, {165, 196, 122}, {98, 166, 130},
    {49, 128, 137},  {32, 87, 125},   {22, 44, 90},
};
enum { RAMP = (int)(sizeof ramp / sizeof ramp[0]) };

static void ramp_colour(double share, char *out, size_t n)
{
    const double at = fmin(fmax(share, 0), 1) * (RAMP - 1);
    const int i = at >= RAMP - 1 ? RAMP - 2 : (int)at;
    int rgb[3];
    for (int c = 0; c < 3; c++)
        rgb[c] = (int)lround(ramp[i][c] + (at - i) * (ramp[i + 1][c] - ramp[i][c]));
    snprintf(out, n, "#%02x%02x%02x", (unsigned)rgb[0], (unsigned)rgb[1], (unsigned)rgb[2]);
}

struct canvas {
    const struct swh_plot_map *m;
    struct swh_page page;
    struct swh_panel panel;
    double lo, hi; /* of z, SI */
};

static double z_at(const struct swh_plot_map *m, size_t i, size_t j)
{
    return m->z_at[j * m->nx + i];
}

static bool z_range(struct canvas *c)
{
    c->lo = INFINITY;
    c->hi = -INFINITY;
    for (size_t k = 0; k < c->m->nx * c->m->ny; k++) {
        if (!isfinite(c->m->z_at[k]))
            continue;
        c->lo = fmin(c->lo, c->m->z_at[k]);
        c->hi = fmax(c->hi, c->m->z_at[k]);
    }
    if (isfinite(c->m->z.from))
        c->lo = c->m->z.from;
    if (isfinite(c->m->z.to))
        c->hi = c->m->z.to;
    if (!(c->hi > c->lo))
        c->hi = c->lo + fmax(1e-9, 0.01 * fabs(c->lo));
    return isfinite(c->lo);
}

/* Edge number i of n cells round the given middles. */
static double edge(const double *middle, size_t n, size_t i)
{
    if (n == 1)
        return middle[0] + (i == 0 ? -0.5 : 0.5);
    if (i == 0)
        return 1.5 * middle[0] - 0.5 * middle[1];
    if (i == n)
        return 1.5 * middle[n - 1] - 0.5 * middle[n - 2];
    return 0.5 * (middle[i - 1] + middle[i]);
}

static void draw_cell(struct canvas *c, size_t i, size_t j)
{
    char colour[16];
    const struct swh_plot_map *m = c->m;
    const double z = z_at(m, i, j);
    const double x0 = swh_panel_pixel(&c->panel, edge(m->x_at, m->nx, i));
    const double x1 = swh_panel_pixel(&c->panel, edge(m->x_at, m->nx, i + 1));
    const double y0 = swh_panel_pixel_y(&c->panel, edge(m->y_at, m->ny, j + 1));
    const double y1 = swh_panel_pixel_y(&c->panel, edge(m->y_at, m->ny, j));
    ramp_colour((z - c->lo) / (c->hi - c->lo), colour, sizeof colour);
    if (isfinite(z))
        swh_page_tile(&c->page, x0, y0, x1, y1, colour);
    else
        swh_page_hatch(&c->page, x0, y0, x1, y1);
}

/* ---- lines of equal value: marching squares on the cells' middles ---- */

struct spot {
    double x, y;
};

/* Where z crosses `level` between two corners; false if it does not. */
static bool crossing(struct spot a, double za, struct spot b, double zb, double level, struct spot *out)
{
    if ((za < level) == (zb < level))
        return false;
    const double share = (level - za) / (zb - za);
    out->x = a.x + share * (b.x - a.x);
    out->y = a.y + share * (b.y - a.y);
    return true;
}

/* Up to four crossings of one square, in order round it; the saddle is cut the same way every time. */
static int crossings(const struct canvas *c, size_t i, size_t j, double level, struct spot *out)
{
    const struct swh_plot_map *m = c->m;
    static const size_t dx[] = {0, 1, 1, 0}, dy[] = {0, 0, 1, 1};
    struct spot corner[4];
    double z[4];
    int n = 0;
    for (int k = 0; k < 4; k++) {
        z[k] = z_at(m, i + dx[k], j + dy[k]);
        if (!isfinite(z[k]))
            return 0;
        corner[k].x = swh_panel_pixel(&c->panel, m->x_at[i + dx[k]]);
        corner[k].y = swh_panel_pixel_y(&c->panel, m->y_at[j + dy[k]]);
    }
    for (int k = 0; k < 4; k++)
        n += crossing(corner[k], z[k], corner[(k + 1) % 4], z[(k + 1) % 4], level, &out[n]);
    return n;
}

/* Draws one line and writes its value where it comes nearest to a diagonal of the map, so that the numbers of
 * neighbouring lines stand in a row without touching. */
static void draw_iso(struct canvas *c, double level)
{
    const struct swh_style style = {"#000000", 1.4, "solid"};
    struct spot cut[4], best = {0, 0};
    double nearest = INFINITY;
    char text[32];
    for (size_t j = 0; j + 1 < c->m->ny; j++)
        for (size_t i = 0; i + 1 < c->m->nx; i++) {
            const int n = crossings(c, i, j, level, cut);
            for (int k = 0; k + 1 < n; k += 2) {
                swh_page_stroke(&c->page, cut[k].x, cut[k].y, cut[k + 1].x, cut[k + 1].y, &style);
                const double u = (cut[k].x - c->panel.left) / (c->panel.right - c->panel.left);
                const double v = (cut[k].y - c->panel.top) / (c->panel.bottom - c->panel.top);
                const double away = fabs(u - v) + 0.05 * fabs(u - 0.5);
                if (away < nearest && u > 0.04 && u < 0.96 && v > 0.04 && v < 0.96) {
                    nearest = away;
                    best = cut[k];
                }
            }
        }
    if (isfinite(nearest))
        swh_page_text(&c->page, best.x, best.y, "center",
                      swh_page_round(&c->page, c->m->z.quantity, level, text, sizeof text), SWH_TEXT_BOXED);
}

static void draw_isos(struct canvas *c)
{
    const struct swh_plot_map *m = c->m;
    for (size_t k = 0; k < m->isos; k++)
        draw_iso(c, m->iso[k]);
    if (m->isos > 0)
        return;
    const double scale = c->page.scale[m->z.quantity], offset = c->page.offset[m->z.quantity];
    const double from = scale * c->lo + offset, to = scale * c->hi + offset;
    const double step = swh_nice_step(to - from, 6);
    int n = 0;
    for (double shown = ceil(from / step) * step; shown < to && n < ISOS_MAX; shown += step, n++)
        draw_iso(c, (shown - offset) / scale);
}

/* ---- the bar of colours ---- */

static void draw_colour_bar(struct canvas *c)
{
    const int top = c->panel.top, bottom = c->panel.bottom;
    const double height = (double)(bottom - top) / BAR_STEPS;
    char colour[16], text[64];
    for (int k = 0; k < BAR_STEPS; k++) {
        ramp_colour((k + 0.5) / BAR_STEPS, colour, sizeof colour);
        swh_page_tile(&c->page, BAR_LEFT, bottom - (k + 1) * height, BAR_RIGHT, bottom - k * height, colour);
    }
    const double scale = c->page.scale[c->m->z.quantity], offset = c->page.offset[c->m->z.quantity];
    const double from = scale * c->lo + offset, to = scale * c->hi + offset,
                 step = swh_nice_step(to - from, 8);
    for (int k = 0; ceil(from / step) * step + k * step <= to; k++) {
        const double shown = ceil(from / step) * step + k * step;
        swh_page_text(&c->page, BAR_RIGHT + 8, bottom - (bottom - top) * (shown - from) / (to - from), "left",
                      swh_page_round(&c->page, c->m->z.quantity, (shown - offset) / scale, text, sizeof text),
                      NULL);
    }
    swh_page_text(&c->page, SWH_PAGE_WIDTH - 20, top - 16, "right", c->m->z.label, NULL);
}

static bool any_missing(const struct swh_plot_map *m)
{
    for (size_t k = 0; k < m->nx * m->ny; k++)
        if (!isfinite(m->z_at[k]))
            return true;
    return false;
}

static void explain_missing(struct canvas *c)
{
    const double y = c->panel.bottom + 54;
    if (!any_missing(c->m))
        return;
    swh_page_hatch(&c->page, BAR_LEFT, y - 9, BAR_RIGHT, y + 9);
    swh_page_text(&c->page, BAR_RIGHT + 8, y, "left", c->m->missing ? c->m->missing : "no result", NULL);
}

static void draw(struct canvas *c)
{
    const struct swh_plot_map *m = c->m;
    struct swh_panel *n = &c->panel;
    swh_panel_open(n, &c->page, c->page.top + 34, c->page.top + 34 + MAP_HEIGHT, m->x.quantity,
                   edge(m->x_at, m->nx, 0), edge(m->x_at, m->nx, m->nx), m->y.quantity, m->y.label);
    n->right = MAP_RIGHT;
    n->foot = m->x.label;
    n->foot_below = true;
    n->y.from = swh_page_shown(&c->page, m->y.quantity, edge(m->y_at, m->ny, 0));
    n->y.to = swh_page_shown(&c->page, m->y.quantity, edge(m->y_at, m->ny, m->ny));
    swh_panel_close(n);
    for (size_t j = 0; j < m->ny; j++)
        for (size_t i = 0; i < m->nx; i++)
            draw_cell(c, i, j);
    draw_isos(c);
    draw_colour_bar(c);
    explain_missing(c);
    swh_panel_marks(n, m->mark, m->marks, NULL, 0);
}

enum swh_status swh_plot_map(const struct swh_plot_map *m, const struct swh_plot_options *o,
                             struct swh_error *err)
{
    struct canvas c;
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    c.m = m;
    if (m->nx == 0 || m->ny == 0 || !z_range(&c))
        return swh_error_set(err, SWH_ERR_INPUT, "%s: nothing to draw", m->name);
    swh_page_begin(&c.page, o, MAP_HEIGHT + 34 + 80, m->title, m->subtitle);
    draw(&c);
    return swh_page_end(&c.page, m->name, err);
}
