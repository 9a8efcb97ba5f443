#include "plots/page/page.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* More points than these cannot be told apart on the page; gnuplot's time grows with every one. */
enum { LINE_BUCKETS = 1000, POINTS_MAX = 260, WINDOWS = 100 };

static double at(const struct swh_column *c, size_t i)
{
    return c->at[i * c->stride];
}

static double shown_x(const struct swh_panel *n, double x)
{
    return n->time ? x / n->unit_time : swh_page_shown(n->page, n->xq, x);
}

static double shown_y(const struct swh_panel *n, double y)
{
    return swh_page_shown(n->page, n->yq, y);
}

void swh_panel_open(struct swh_panel *n, struct swh_page *page, int top, int bottom, enum swh_quantity xq,
                    double x0, double x1, enum swh_quantity yq, const char *heading)
{
    memset(n, 0, sizeof *n);
    n->page = page;
    n->left = SWH_PAGE_LEFT;
    n->right = SWH_PAGE_RIGHT;
    n->top = top;
    n->bottom = bottom;
    n->xq = xq;
    n->yq = yq;
    n->heading = heading;
    n->time = xq == SWH_Q_TIME;
    n->unit_time = x1 - x0 > 3 * 3600 ? 3600 : x1 - x0 > 240 ? 60 : 1;
    n->x.from = shown_x(n, x0);
    n->x.to = x1 > x0 ? shown_x(n, x1) : shown_x(n, x0) + 1;
    n->y.from = n->y.to = NAN;
    n->band_opacity = 0.22;
    n->lo = INFINITY;
    n->hi = -INFINITY;
    n->clauses = open_memstream(&n->clauses_text, &n->clauses_size);
    page->failed = page->failed || !n->clauses;
}

void swh_panel_reach(struct swh_panel *n, double y)
{
    const double v = shown_y(n, y);
    if (!isfinite(v) || (n->y.log && v <= 0))
        return;
    n->lo = fmin(n->lo, v);
    n->hi = fmax(n->hi, v);
}

/* ---- data ---- */

static int begin_block(struct swh_panel *n)
{
    n->page->blocks++;
    fprintf(n->page->plots, "$d%d << EOD\n", n->page->blocks);
    return n->page->blocks;
}

static void end_block(struct swh_panel *n)
{
    fprintf(n->page->plots, "EOD\n");
}

static void put_point(struct swh_panel *n, const struct swh_xy *xy, size_t i)
{
    const double x = at(&xy->x, i), y = at(&xy->y, i);
    if (!isfinite(x) || !isfinite(y)) {
        fputc('\n', n->page->plots); /* an empty line is gnuplot's gap */
        return;
    }
    swh_panel_reach(n, y);
    fprintf(n->page->plots, "%.7g %.7g\n", shown_x(n, x), shown_y(n, y));
}

/* Least and greatest finite y of rows [a, b); false if there is none. */
static bool extremes(const struct swh_xy *xy, size_t a, size_t b, size_t *least, size_t *greatest)
{
    bool any = false;
    for (size_t i = a; i < b; i++) {
        const double y = at(&xy->y, i);
        if (!isfinite(y))
            continue;
        if (!any || y < at(&xy->y, *least))
            *least = i;
        if (!any || y > at(&xy->y, *greatest))
            *greatest = i;
        any = true;
    }
    return any;
}

/* A long line keeps the extremes of every bucket of rows, so that no peak is lost. */
static void put_line_data(struct swh_panel *n, const struct swh_xy *xy)
{
    const size_t size = xy->n > (size_t)3 * LINE_BUCKETS ? xy->n / LINE_BUCKETS + 1 : 1;
    for (size_t a = 0; a < xy->n; a += size) {
        const size_t b = a + size < xy->n ? a + size : xy->n;
        size_t least = a, greatest = a;
        if (!extremes(xy, a, b, &least, &greatest)) {
            put_point(n, xy, a);
            continue;
        }
        put_point(n, xy, least < greatest ? least : greatest);
        if (least != greatest)
            put_point(n, xy, least < greatest ? greatest : least);
    }
    if (size > 1)
        put_point(n, xy, xy->n - 1);
}

static bool last_finite(const struct swh_xy *xy, double *y)
{
    for (size_t i = xy->n; i-- > 0;) {
        *y = at(&xy->y, i);
        if (isfinite(*y))
            return true;
    }
    return false;
}

static bool any_finite(const struct swh_xy *xy)
{
    double y = 0;
    return last_finite(xy, &y);
}

static void begin_clause(struct swh_panel *n)
{
    fputs(ftell(n->clauses) > 0 ? ", \\\n     " : "plot ", n->clauses);
}

void swh_panel_label(struct swh_panel *n, double y, const char *text, const struct swh_style *style)
{
    if (n->labels == SWH_LABELS_MAX || !isfinite(y))
        return;
    struct swh_label *label = &n->label[n->labels];
    n->label_value[n->labels++] = shown_y(n, y);
    snprintf(label->text, sizeof label->text, "%s", text);
    label->style = *style;
}

static void label_end(struct swh_panel *n, const struct swh_xy *xy, const struct swh_style *style,
                      const char *label)
{
    double y = 0;
    char text[128], value[48];
    if (!label || !last_finite(xy, &y))
        return;
    snprintf(text, sizeof text, "%s", label);
    if (n->label_values)
        snprintf(text, sizeof text, "%s%s%s", label, label[0] ? " " : "",
                 swh_page_value(n->page, n->yq, y, value, sizeof value));
    swh_panel_label(n, y, text, style);
}

void swh_panel_line(struct swh_panel *n, const struct swh_xy *xy, const struct swh_style *style,
                    const char *label)
{
    if (!n->clauses || !n->page->plots || !any_finite(xy))
        return;
    const int block = begin_block(n);
    put_line_data(n, xy);
    end_block(n);
    begin_clause(n);
    fprintf(n->clauses, "$d%d using 1:2 with lines lw %g dt %s lc rgb '%s' notitle", block, style->width,
            style->dash, style->colour);
    label_end(n, xy, style, label);
}

struct windows {
    size_t n;
    double x[WINDOWS], low[WINDOWS], high[WINDOWS], mean[WINDOWS];
};

static double mean_of(const struct swh_xy *xy, size_t a, size_t b)
{
    double sum = 0;
    size_t k = 0;
    for (size_t i = a; i < b; i++)
        if (isfinite(at(&xy->y, i))) {
            sum += at(&xy->y, i);
            k++;
        }
    return k > 0 ? sum / (double)k : NAN;
}

/* Windows of rows overlap by half: a swing that is slower than one window then leaves no comb in the band. */
static void windows_of(const struct swh_xy *xy, struct windows *w)
{
    const size_t size = xy->n / WINDOWS + 1;
    w->n = (xy->n + size - 1) / size;
    for (size_t k = 0; k < w->n; k++) {
        const size_t middle = k * size + size / 2 < xy->n ? k * size + size / 2 : xy->n - 1;
        const size_t a = middle > size ? middle - size : 0, b = middle + size < xy->n ? middle + size : xy->n;
        size_t least = a, greatest = a;
        const bool any = extremes(xy, a, b, &least, &greatest);
        w->x[k] = at(&xy->x, k == 0 ? 0 : k + 1 == w->n ? xy->n - 1 : middle);
        w->low[k] = any ? at(&xy->y, least) : NAN;
        w->high[k] = any ? at(&xy->y, greatest) : NAN;
        w->mean[k] = mean_of(xy, a, b);
    }
}

/* A line swings if in many windows it goes up and down by much more than it moves on. */
static bool swinging(const struct windows *w)
{
    double lo = INFINITY, hi = -INFINITY;
    size_t swings = 0;
    for (size_t k = 0; k < w->n; k++) {
        lo = fmin(lo, w->low[k]);
        hi = fmax(hi, w->high[k]);
    }
    for (size_t k = 1; k + 1 < w->n; k++) {
        const double drift = fabs(w->mean[k + 1] - w->mean[k - 1]);
        swings += w->high[k] - w->low[k] - 1.5 * drift > 0.015 * (hi - lo);
    }
    return swings > w->n / 3;
}

static void draw_windows(struct swh_panel *n, const struct windows *w, const double *line,
                         const struct swh_style *style, const char *label)
{
    const struct swh_xy under = {w->n, {w->x, 1}, {w->low, 1}}, over = {w->n, {w->x, 1}, {line, 1}};
    const struct swh_column high = {w->high, 1};
    if (n->band_opacity > 0)
        swh_panel_band(n, &under, &high, style->colour, n->band_opacity);
    swh_panel_line(n, &over, style, label);
}

void swh_panel_swing(struct swh_panel *n, const struct swh_xy *xy, const struct swh_style *style,
                     const char *label, bool troughs)
{
    struct windows w;
    if (xy->n >= (size_t)4 * WINDOWS)
        windows_of(xy, &w);
    if (xy->n < (size_t)4 * WINDOWS || !swinging(&w)) {
        swh_panel_line(n, xy, style, label);
        return;
    }
    draw_windows(n, &w, troughs ? w.low : w.high, style, label);
    n->page->bands = n->page->bands || n->band_opacity > 0;
}

void swh_panel_noise(struct swh_panel *n, const struct swh_xy *xy, const struct swh_style *style,
                     const char *label)
{
    struct windows w;
    if (xy->n < (size_t)4 * WINDOWS) {
        swh_panel_line(n, xy, style, label);
        return;
    }
    windows_of(xy, &w);
    draw_windows(n, &w, w.mean, style, label);
}

void swh_panel_points(struct swh_panel *n, const struct swh_xy *xy, const struct swh_style *style,
                      const char *label)
{
    if (!n->clauses || !n->page->plots || !any_finite(xy))
        return;
    size_t finite = 0, seen = 0;
    for (size_t i = 0; i < xy->n; i++)
        finite += isfinite(at(&xy->y, i)) != 0;
    const size_t every = finite / POINTS_MAX + 1;
    const int block = begin_block(n);
    for (size_t i = 0; i < xy->n; i++) {
        if (!isfinite(at(&xy->y, i)))
            continue;
        /* one of every so many, each time another one: even steps would beat with the clutch's cycle */
        if (seen % every == (seen / every * 7919) % every)
            put_point(n, xy, i);
        seen++;
    }
    end_block(n);
    begin_clause(n);
    fprintf(n->clauses, "$d%d using 1:2 with points pt 6 ps %g lw 1.2 lc rgb '%s' notitle", block,
            swh_page_point(n->page, 0.7), style->colour);
    label_end(n, xy, style, label);
}

static void put_pair(struct swh_panel *n, const struct swh_xy *low, const struct swh_column *high, size_t i)
{
    const double a = at(&low->y, i), b = at(high, i);
    if (!isfinite(a) || !isfinite(b)) {
        fputc('\n', n->page->plots);
        return;
    }
    swh_panel_reach(n, a);
    swh_panel_reach(n, b);
    fprintf(n->page->plots, "%.7g %.7g %.7g\n", shown_x(n, at(&low->x, i)), shown_y(n, a), shown_y(n, b));
}

void swh_panel_band(struct swh_panel *n, const struct swh_xy *low, const struct swh_column *high,
                    const char *colour, double opacity)
{
    if (!n->clauses || !n->page->plots)
        return;
    const int block = begin_block(n);
    const size_t every = low->n / ((size_t)2 * LINE_BUCKETS) + 1;
    for (size_t i = 0; i < low->n; i = i + every < low->n || i + 1 == low->n ? i + every : low->n - 1)
        put_pair(n, low, high, i);
    end_block(n);
    begin_clause(n);
    fprintf(n->clauses,
            "$d%d using 1:2:3 with filledcurves fs transparent solid %g noborder fc rgb '%s' notitle", block,
            opacity, colour);
}

void swh_panel_limit(struct swh_panel *n, double y, const char *label, bool show)
{
    if (!isfinite(y) || !n->clauses)
        return;
    if (show)
        swh_panel_reach(n, y);
    const double v = shown_y(n, y);
    begin_clause(n);
    fprintf(n->clauses, "%.9g with lines lw %g dt %s lc rgb '%s' notitle", v, swh_style_limit.width,
            swh_style_limit.dash, swh_style_limit.colour);
    if (label)
        swh_panel_label(n, y, label, &swh_style_limit);
}

void swh_panel_cross(struct swh_panel *n, double x, const struct swh_xy *xy, const struct swh_style *style,
                     bool trough)
{
    const double near = 0.01 * (n->x.to - n->x.from) * (n->time ? n->unit_time : 1 / n->page->scale[n->xq]);
    size_t a = 0, least = 0, greatest = 0;
    while (a < xy->n && at(&xy->x, a) < x - near)
        a++;
    size_t b = a;
    while (b < xy->n && at(&xy->x, b) <= x + near)
        b++;
    if (!n->clauses || !n->page->plots || !extremes(xy, a, b, &least, &greatest))
        return;
    const double y = at(&xy->y, trough ? least : greatest);
    const struct swh_xy spot = {1, {&x, 1}, {&y, 1}};
    const int block = begin_block(n);
    put_point(n, &spot, 0);
    end_block(n);
    begin_clause(n);
    fprintf(n->clauses, "$d%d using 1:2 with points pt 2 ps %g lw 3 lc rgb '%s' notitle", block,
            swh_page_point(n->page, 2), style->colour);
}

void swh_panel_vertical(struct swh_panel *n, double x, const struct swh_style *style)
{
    const double pixel = swh_panel_pixel(n, x);
    if (pixel >= n->left && pixel <= n->right)
        swh_page_stroke(n->page, pixel, n->top, pixel, n->bottom, style);
}

/* ---- geometry ---- */

double swh_panel_pixel(const struct swh_panel *n, double x)
{
    return n->left + (n->right - n->left) * (shown_x(n, x) - n->x.from) / (n->x.to - n->x.from);
}

static double pixel_of(const struct swh_panel *n, double v)
{
    double share = (v - n->y.from) / (n->y.to - n->y.from);
    if (n->y.log)
        share = log(v / n->y.from) / log(n->y.to / n->y.from);
    return n->bottom - (n->bottom - n->top) * share;
}

double swh_panel_pixel_y(const struct swh_panel *n, double y)
{
    return pixel_of(n, shown_y(n, y));
}

static void choose_range(struct swh_panel *n)
{
    if (!(n->hi >= n->lo))
        n->lo = 0, n->hi = 1;
    if (n->y.log) {
        n->y.from = isfinite(n->y.from) ? n->y.from : n->lo / 1.15;
        n->y.to = isfinite(n->y.to) ? n->y.to : n->hi * 1.15;
        return;
    }
    const double size = fmax(n->hi - n->lo, fmax(1e-9, 0.02 * fabs(n->hi)));
    const double room = (n->y.wide ? 0.12 : 0.05) * size;
    const bool floor_at_zero = n->y.nonnegative && n->lo >= 0 && n->lo < 0.4 * n->hi;
    if (!isfinite(n->y.from))
        n->y.from = floor_at_zero ? 0 : n->lo - room;
    if (!isfinite(n->y.to))
        n->y.to = fmax(n->hi, n->lo + size) + room;
}

/* ---- drawing ---- */

static const char *time_unit(const struct swh_panel *n)
{
    return n->unit_time == 3600 ? "h" : n->unit_time == 60 ? "min" : "s";
}

static void put_heading(struct swh_panel *n)
{
    char unit[24], text[160];
    if (!n->heading)
        return;
    swh_page_unit(n->page, n->yq, unit, sizeof unit);
    snprintf(text, sizeof text, "%s%s%s", n->heading, unit[0] ? ", " : "", unit);
    swh_page_text(n->page, n->left - 62 * n->page->letters, n->top - 16 * n->page->letters, "left", text,
                  NULL);
}

static void put_foot(struct swh_panel *n)
{
    char unit[24], text[160];
    if (!n->foot)
        return;
    if (n->time)
        snprintf(unit, sizeof unit, "%s", time_unit(n));
    else
        swh_page_unit(n->page, n->xq, unit, sizeof unit);
    snprintf(text, sizeof text, "%s%s%s", n->foot, unit[0] ? ", " : "", unit);
    if (n->foot_below)
        swh_page_text(n->page, 0.5 * (n->left + n->right), n->bottom + 54, "center", text, NULL);
    else
        swh_page_text(n->page, n->right + 30, n->bottom + 26 * n->page->letters, "left", text, NULL);
}

static int by_place(const void *a, const void *b)
{
    const double x = ((const struct swh_label *)a)->at, y = ((const struct swh_label *)b)->at;
    return (x > y) - (x < y);
}

/* Labels in the column right of the panel, moved apart, each with a sample of its line that leads to the
 * line's end. */
static void put_labels(struct swh_panel *n)
{
    double place[SWH_LABELS_MAX];
    const double gap = n->label_gap;
    for (size_t i = 0; i < n->labels; i++)
        n->label[i].at = fmin(fmax(pixel_of(n, n->label_value[i]), n->top), n->bottom);
    qsort(n->label, n->labels, sizeof n->label[0], by_place);
    for (size_t i = 0; i < n->labels; i++)
        place[i] = n->label[i].at;
    swh_spread(place, n->labels, SWH_LINE_HEIGHT * n->page->letters, n->top - 4, n->bottom + 6);
    for (size_t i = 0; i < n->labels; i++) {
        const struct swh_label *label = &n->label[i];
        swh_page_stroke(n->page, n->right + gap + 3, label->at, n->right + gap + 14, place[i], &label->style);
        swh_page_stroke(n->page, n->right + gap + 14, place[i], n->right + gap + 46, place[i], &label->style);
        swh_page_text(n->page, n->right + gap + 53, place[i], "left", label->text, NULL);
    }
}

/* 1, 2 and 5 times the powers of ten that lie on a logarithmic axis */
static void put_log_tics(FILE *f, const struct swh_scale *y)
{
    static const double digits[] = {1, 2, 5};
    const char *comma = "";
    fprintf(f, "set logscale y\nset ytics (");
    for (int decade = (int)floor(log10(y->from)); decade <= (int)floor(log10(y->to)); decade++)
        for (int i = 0; i < 3; i++) {
            const double v = pow(10, decade) * digits[i];
            if (v < y->from || v > y->to)
                continue;
            fprintf(f, "%s%.9g", comma, v);
            comma = ", ";
        }
    fprintf(f, ")\n");
}

static void put_y_axis(struct swh_panel *n, FILE *f)
{
    fprintf(f, "set yrange [%.9g:%.9g]\n", n->y.from, n->y.to);
    fprintf(f, "set tics nomirror out scale 0.6 textcolor rgb '#333333'\n");
    fprintf(f, n->y_numbers_off ? "unset grid\n" : "set grid ytics lt 1 lw 1 lc rgb '#e4e4e4'\n");
    if (n->x_grid)
        fprintf(f, "set grid xtics lt 1 lw 1 lc rgb '#e4e4e4'\n");
    if (n->y_numbers_off)
        fprintf(f, "unset ytics\n");
    else if (n->y.log)
        put_log_tics(f, &n->y);
    else
        fprintf(
            f, "set ytics %.9g\n",
            swh_nice_step(n->y.to - n->y.from, (int)((n->bottom - n->top) / (48 * n->page->letters)) + 1));
}

/* numbers of a narrow panel stand as far apart as those of a wide one */
static int x_steps(const struct swh_panel *n)
{
    enum { STEPS = 10, ROOM = 50 };
    const int room = (int)((n->right - n->left) / (ROOM * n->page->letters));
    return room < 1 ? 1 : room < STEPS ? room : STEPS;
}

static void put_axes(struct swh_panel *n)
{
    FILE *f = n->page->plots;
    const double h = n->page->height;
    fprintf(f,
            "set lmargin at screen %.6f\nset rmargin at screen %.6f\nset tmargin at screen %.6f\n"
            "set bmargin at screen %.6f\nunset logscale\n",
            (double)n->left / SWH_PAGE_WIDTH, (double)n->right / SWH_PAGE_WIDTH, 1 - n->top / h,
            1 - n->bottom / h);
    put_y_axis(n, f);
    fprintf(f, "set xrange [%.9g:%.9g]\nset xtics %.9g\nset format x '%s'\n", n->x.from, n->x.to,
            swh_nice_step(n->x.to - n->x.from, x_steps(n)), n->foot ? "%g" : "");
}

void swh_panel_close(struct swh_panel *n)
{
    if (!n->clauses || !n->page->plots || !n->page->words) {
        if (n->clauses)
            fclose(n->clauses);
        free(n->clauses_text);
        return;
    }
    choose_range(n);
    put_axes(n);
    put_heading(n);
    put_foot(n);
    put_labels(n);
    n->page->failed = fclose(n->clauses) != 0 || n->page->failed;
    n->clauses = NULL;
    fprintf(n->page->plots, "%s\n", n->clauses_size > 0 ? n->clauses_text : "plot NaN notitle");
    free(n->clauses_text);
}
