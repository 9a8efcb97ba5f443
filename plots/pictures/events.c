/* Events in pictures: marks with words for what ends a compressor, strips for what switches on and off. */
#include "plots/pictures/series.h"

#include <math.h>
#include <string.h>

/* ---- marks ---- */

static const enum swh_event marked[] = {SWH_EV_film_lost, SWH_EV_shoe_seizure, SWH_EV_bore_seizure,
                                        SWH_EV_fuse_open};

static double pixel_of_time(const struct swh_plot_series *s, double time)
{
    const double a = swh_series_start(s), b = swh_series_end(s);
    return SWH_PAGE_LEFT +
           (SWH_PAGE_RIGHT - SWH_PAGE_LEFT) * (b > a ? fmin(fmax((time - a) / (b - a), 0), 1) : 0);
}

static void sort_by_time(struct swh_marks *m)
{
    for (int i = 1; i < m->count; i++)
        for (int j = i; j > 0 && m->mark[j].time < m->mark[j - 1].time; j--) {
            const struct swh_mark swap = m->mark[j];
            m->mark[j] = m->mark[j - 1];
            m->mark[j - 1] = swap;
        }
}

static void extent(const struct swh_mark *k, double *from, double *to)
{
    const double width = swh_text_width(k->text) + 16;
    *from = k->to_left ? k->x - width : k->x;
    *to = k->to_left ? k->x : k->x + width;
}

static double room_right(const struct swh_mark *k)
{
    return SWH_PAGE_WIDTH - 20 - k->x - swh_text_width(k->text) - 16;
}

/* Words stand right of their line unless they would leave the page or meet the next mark, whose words stand
 * left. */
static void choose_sides(struct swh_marks *m)
{
    for (int i = m->count - 1; i >= 0; i--) {
        struct swh_mark *k = &m->mark[i];
        const struct swh_mark *next = i + 1 < m->count ? k + 1 : NULL;
        const bool meets = next && next->to_left && k->x + swh_text_width(k->text) + 16 > next->x;
        k->to_left = room_right(k) < 0 || meets;
    }
}

/* The lowest row in which k's words meet none of the words already placed. Every line begins at its words and
 * runs down, so words that would lie across a line must stand higher than where it begins. */
static int free_row(const struct swh_marks *m, const struct swh_mark *k)
{
    double from, to, a, b;
    int row = 0;
    extent(k, &from, &to);
    for (const struct swh_mark *j = m->mark; j < m->mark + m->count; j++) {
        if (j == k || j->row < row)
            continue;
        extent(j, &a, &b);
        if (from < b && a < to)
            row = j->row + 1;
    }
    return row;
}

/* Rows count upwards. Words left of their line: the earliest lowest; right of it: the latest lowest. */
static void place(struct swh_marks *m)
{
    choose_sides(m);
    for (int i = 0; i < m->count; i++)
        m->mark[i].row = -1;
    for (int i = 0; i < m->count; i++)
        if (m->mark[i].to_left)
            m->mark[i].row = free_row(m, &m->mark[i]);
    for (int i = m->count - 1; i >= 0; i--)
        if (!m->mark[i].to_left)
            m->mark[i].row = free_row(m, &m->mark[i]);
    for (int i = 0; i < m->count; i++)
        m->rows = m->mark[i].row + 1 > m->rows ? m->mark[i].row + 1 : m->rows;
}

void swh_marks_find(struct swh_marks *m, const struct swh_plot_series *s)
{
    memset(m, 0, sizeof *m);
    for (size_t i = 0; i < sizeof marked / sizeof marked[0]; i++) {
        const struct swh_plot_event *e = swh_series_event(s, marked[i]);
        if (!e || m->count == SWH_MARKS_MAX)
            continue;
        struct swh_mark *k = &m->mark[m->count++];
        char when[32];
        k->time = e->time;
        k->x = pixel_of_time(s, e->time);
        snprintf(k->text, sizeof k->text, "%s: %s", swh_time_words(e->time, when, sizeof when),
                 e->text && e->text[0] ? e->text : swh_event_table[e->event].help);
    }
    sort_by_time(m);
    place(m);
}

static const struct swh_style mark_style = {"#7a1f00", 1.4, "(2,3)"};

void swh_marks_words(const struct swh_marks *m, struct swh_page *p, int bottom)
{
    for (int i = 0; i < m->count; i++) {
        const struct swh_mark *k = &m->mark[i];
        const double y = bottom - k->row * SWH_LINE_HEIGHT;
        swh_page_text(p, k->to_left ? k->x - 6 : k->x + 6, y, k->to_left ? "right" : "left", k->text,
                      "textcolor rgb '#7a1f00'");
        swh_page_stroke(p, k->x, y - 8, k->x, bottom + 36, &mark_style);
    }
}

void swh_marks_lines(const struct swh_marks *m, struct swh_panel *n)
{
    for (int i = 0; i < m->count; i++)
        swh_panel_vertical(n, m->mark[i].time, &mark_style);
}

/* ---- strips ---- */

enum { STRIP_HEIGHT = 13, STRIP_PITCH = 22 };

struct strip {
    enum swh_event on, off;
    const char *words;
    const char *colour;
};
static const struct strip strips[] = {
    {SWH_EV_clutch_on, SWH_EV_clutch_off, "clutch engaged", "#444444"},
    {SWH_EV_high_pressure_open, SWH_EV_high_pressure_close, "high-pressure switch open", "#D55E00"},
    {SWH_EV_low_pressure_open, SWH_EV_low_pressure_close, "low-pressure switch open", "#0072B2"},
    {SWH_EV_frost_open, SWH_EV_frost_close, "frost thermostat open", "#56B4E9"},
    {SWH_EV_relief_open, SWH_EV_relief_close, "relief valve open", "#000000"},
    {SWH_EV_fan_on, SWH_EV_fan_off, "fan on", "#009E73"},
};
enum { RULER_HEIGHT = 24 };
enum { STRIP_COUNT = (int)(sizeof strips / sizeof strips[0]) };

static bool by_events(const struct swh_plot_series *s, const struct strip *k)
{
    return swh_series_event(s, k->on) || swh_series_event(s, k->off);
}

static bool by_channel(const struct swh_plot_series *s, const struct strip *k)
{
    return k->on == SWH_EV_clutch_on && swh_series_has(s, SWH_CH_clutch);
}

int swh_strips_height(const struct swh_plot_series *s)
{
    int rows = 0;
    for (int i = 0; i < STRIP_COUNT; i++)
        rows += by_events(s, &strips[i]) || by_channel(s, &strips[i]);
    return rows * STRIP_PITCH + (rows > 0 ? 6 : 0) + (s->story ? RULER_HEIGHT : 0);
}

/* The story's own axis: how far the fault has grown, where it stands. */
static void draw_ruler(struct swh_page *p, const struct swh_plot_series *s, int top)
{
    const struct swh_plot_story *k = s->story;
    const struct swh_style line = {"#7a1f00", 1.6, "solid"};
    const double step = swh_nice_step(k->most, 8), end = swh_series_end(s);
    char text[32];
    swh_page_stroke(p, pixel_of_time(s, k->begins), top, pixel_of_time(s, k->begins + k->grows), top, &line);
    for (int i = 0; i * step <= k->most * (1 + 1e-9); i++) {
        const double t = k->begins + k->grows * i * step / k->most, x = pixel_of_time(s, t);
        if (t > end * (1 + 1e-9))
            break;
        swh_page_stroke(p, x, top - 4, x, top + 4, &line);
        snprintf(text, sizeof text, "%g", i * step);
        swh_page_text(p, x, top + 14, "center", text, "textcolor rgb '#7a1f00'");
    }
    swh_page_text(p, SWH_PAGE_RIGHT + 30, top + 8, "left", k->words, "textcolor rgb '#7a1f00'");
}

struct strip_pen {
    struct swh_page *page;
    const struct swh_plot_series *s;
    const struct strip *strip;
    int top;
    double on_since; /* NaN: off */
    double on_time;
};

static void switch_to(struct strip_pen *pen, double time, bool on)
{
    if (on && isnan(pen->on_since))
        pen->on_since = time;
    if (on || isnan(pen->on_since))
        return;
    const double x0 = pixel_of_time(pen->s, pen->on_since), x1 = pixel_of_time(pen->s, time);
    swh_page_block(pen->page, x0, pen->top, fmax(x1, x0 + 1.2), pen->top + STRIP_HEIGHT, pen->strip->colour);
    pen->on_time += time - pen->on_since;
    pen->on_since = NAN;
}

static void draw_events(struct strip_pen *pen)
{
    bool first = true;
    for (size_t i = 0; i < pen->s->event_count; i++) {
        const struct swh_plot_event *e = &pen->s->event[i];
        if (e->event != pen->strip->on && e->event != pen->strip->off)
            continue;
        if (first && e->event == pen->strip->off) /* it was on from the start */
            pen->on_since = swh_series_start(pen->s);
        first = false;
        switch_to(pen, e->time, e->event == pen->strip->on);
    }
}

static void draw_channel(struct strip_pen *pen)
{
    for (size_t i = 0; i < pen->s->n; i++) {
        const double clutch = swh_series_value(pen->s, i, SWH_CH_clutch);
        if (isfinite(clutch))
            switch_to(pen, swh_series_value(pen->s, i, SWH_CH_time), clutch > 0.5);
    }
}

static void draw_strip(struct swh_page *p, const struct swh_plot_series *s, const struct strip *k, int top)
{
    struct strip_pen pen = {p, s, k, top, NAN, 0};
    char text[80];
    const double span = swh_series_end(s) - swh_series_start(s);
    swh_page_block(p, SWH_PAGE_LEFT, top, SWH_PAGE_RIGHT, top + STRIP_HEIGHT, "#eeeeee");
    if (by_events(s, k))
        draw_events(&pen);
    else
        draw_channel(&pen);
    switch_to(&pen, swh_series_end(s), false);
    snprintf(text, sizeof text, "%s, %.0f %%", k->words, span > 0 ? 100 * pen.on_time / span : 0);
    swh_page_text(p, SWH_PAGE_RIGHT + 30, top + STRIP_HEIGHT / 2.0, "left", text, NULL);
}

void swh_strips(struct swh_page *p, const struct swh_plot_series *s, int top)
{
    if (s->story) {
        draw_ruler(p, s, top);
        top += RULER_HEIGHT;
    }
    for (int i = 0; i < STRIP_COUNT; i++) {
        if (!by_events(s, &strips[i]) && !by_channel(s, &strips[i]))
            continue;
        draw_strip(p, s, &strips[i], top);
        top += STRIP_PITCH;
    }
}
