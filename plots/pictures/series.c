#include "plots/pictures/series.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

double swh_series_value(const struct swh_plot_series *s, size_t row, enum swh_channel ch)
{
    return s->value[row * SWH_CHANNEL_COUNT + (size_t)ch];
}

static struct swh_xy column(const struct swh_plot_series *s, const double *of, enum swh_channel ch)
{
    const struct swh_xy xy = {
        s->n, {s->value + SWH_CH_time, SWH_CHANNEL_COUNT}, {of + (size_t)ch, SWH_CHANNEL_COUNT}};
    return xy;
}

struct swh_xy swh_series_column(const struct swh_plot_series *s, enum swh_channel ch)
{
    return column(s, s->value, ch);
}

struct swh_xy swh_series_measured(const struct swh_plot_series *s, enum swh_channel ch)
{
    return column(s, s->measured, ch);
}

static bool any_finite(const struct swh_plot_series *s, const double *of, enum swh_channel ch)
{
    for (size_t i = 0; of && i < s->n; i++)
        if (isfinite(of[i * SWH_CHANNEL_COUNT + (size_t)ch]))
            return true;
    return false;
}

bool swh_series_has(const struct swh_plot_series *s, enum swh_channel ch)
{
    return any_finite(s, s->value, ch);
}

bool swh_series_has_measured(const struct swh_plot_series *s, enum swh_channel ch)
{
    return any_finite(s, s->measured, ch);
}

double swh_series_start(const struct swh_plot_series *s)
{
    return s->n > 0 ? swh_series_value(s, 0, SWH_CH_time) : 0;
}

double swh_series_end(const struct swh_plot_series *s)
{
    return s->n > 0 ? swh_series_value(s, s->n - 1, SWH_CH_time) : 0;
}

double swh_series_peak(const struct swh_plot_series *s, enum swh_channel ch)
{
    double peak = NAN;
    for (size_t i = 0; i < s->n; i++)
        peak = fmax(peak, swh_series_value(s, i, ch)); /* fmax ignores a NaN */
    return peak;
}

double swh_series_least(const struct swh_plot_series *s, enum swh_channel ch)
{
    double least = NAN;
    for (size_t i = 0; i < s->n; i++)
        least = fmin(least, swh_series_value(s, i, ch));
    return least;
}

double swh_series_last(const struct swh_plot_series *s, enum swh_channel ch)
{
    for (size_t i = s->n; i-- > 0;)
        if (isfinite(swh_series_value(s, i, ch)))
            return swh_series_value(s, i, ch);
    return NAN;
}

const char *swh_channel_words(enum swh_channel ch, bool bare, char *out, size_t n)
{
    const char *id = swh_channel_table[ch].id;
    if (strncmp(id, "heat_", 5) == 0 && swh_channel_table[ch].group == SWH_GROUP_LEDGER)
        id += 5;
    snprintf(out, n, "%s", id);
    char *tail = strstr(out, "_temperature");
    if (!tail)
        tail = strstr(out, "_pressure");
    if (bare && tail)
        *tail = '\0';
    for (char *c = out; *c; c++)
        if (*c == '_')
            *c = ' ';
    return out;
}

/* One digit after the point, none if it is a nought. */
static void short_number(double v, char *out, size_t n)
{
    snprintf(out, n, v < 100 ? "%.1f" : "%.0f", v);
    char *point = strstr(out, ".0");
    if (point)
        *point = '\0';
}

const char *swh_time_words(double seconds, char *out, size_t n)
{
    char number[24];
    if (seconds <= 240) { /* where the time axis changes to minutes */
        snprintf(out, n, "%.0f s", seconds);
        return out;
    }
    const bool hours = seconds >= 2 * 3600;
    short_number(seconds / (hours ? 3600 : 60), number, sizeof number);
    snprintf(out, n, "%s %s", number, hours ? "h" : "min");
    return out;
}

const struct swh_plot_event *swh_series_event(const struct swh_plot_series *s, enum swh_event event)
{
    for (size_t i = 0; i < s->event_count; i++)
        if (s->event[i].event == event)
            return &s->event[i];
    return NULL;
}

void swh_series_panel(struct swh_panel *n, struct swh_page *p, const struct swh_plot_series *s, int top,
                      int bottom, enum swh_quantity q, const char *heading)
{
    swh_panel_open(n, p, top, bottom, SWH_Q_TIME, swh_series_start(s), swh_series_end(s), q, heading);
}

size_t swh_series_count(const struct swh_plot_series *s, enum swh_event event)
{
    size_t n = 0;
    for (size_t i = 0; i < s->event_count; i++)
        n += s->event[i].event == event;
    return n;
}

/* Copies a channel where the clutch is engaged, NaN elsewhere; NULL if memory ran out. */
static double *engaged_only(const struct swh_plot_series *s, enum swh_channel ch)
{
    double *y = malloc((s->n > 0 ? s->n : 1) * sizeof *y);
    for (size_t i = 0; y && i < s->n; i++)
        y[i] = swh_series_value(s, i, SWH_CH_clutch) < 0.5 ? NAN : swh_series_value(s, i, ch);
    return y;
}

/* Where a line of means ends: what an instrument shows at the end, as the summary says it. */
static void end_as_told(const struct swh_plot_series *s, enum swh_channel ch, double *last)
{
    if (s->gauge && isfinite(s->gauge[ch]) && isfinite(*last))
        *last = s->gauge[ch];
}

static void cycle_means(struct swh_panel *n, const struct swh_plot_series *s, enum swh_channel ch,
                        const struct swh_style *style, const char *label)
{
    enum { WINDOWS = 100 };
    double edge[WINDOWS + 1], x[WINDOWS], y[WINDOWS];
    const size_t windows = swh_series_windows(s, edge, WINDOWS);
    swh_series_middles(edge, windows, x);
    for (size_t w = 0; w < windows; w++)
        y[w] = swh_series_running_mean(s, ch, edge[w], edge[w + 1]);
    end_as_told(s, ch, &y[windows - 1]);
    const struct swh_xy xy = {windows, {x, 1}, {y, 1}};
    swh_panel_line(n, &xy, style, label);
}

void swh_series_running(struct swh_panel *n, const struct swh_plot_series *s, enum swh_channel ch,
                        const struct swh_style *style, const char *label)
{
    if (swh_series_cycling(s) && s->n > 1) {
        cycle_means(n, s, ch, style, label);
        return;
    }
    double *y = engaged_only(s, ch);
    if (!y) {
        n->page->failed = true;
        return;
    }
    const struct swh_xy xy = {s->n, {s->value + SWH_CH_time, SWH_CHANNEL_COUNT}, {y, 1}};
    swh_panel_line(n, &xy, style, label);
    free(y);
}

double swh_series_running_mean(const struct swh_plot_series *s, enum swh_channel ch, double from, double to)
{
    double sum = 0;
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++) {
        const double v = swh_series_value(s, i, ch), t = swh_series_value(s, i, SWH_CH_time);
        if (!isfinite(v) || t < from || t > to || swh_series_value(s, i, SWH_CH_clutch) < 0.5)
            continue;
        sum += v;
        n++;
    }
    return n > 0 ? sum / (double)n : NAN;
}

/* ---- lines of a cycling run ---- */

enum { LINE_WINDOWS = 100 };
struct line {
    size_t n;
    double edge[LINE_WINDOWS + 1], x[LINE_WINDOWS], y[LINE_WINDOWS], low[LINE_WINDOWS], high[LINE_WINDOWS];
};

/* least, greatest and mean of all finite rows between two times, whatever the clutch does */
static double swing_of(const struct swh_plot_series *s, enum swh_channel ch, double from, double to,
                       double *low, double *high)
{
    double sum = 0;
    size_t n = 0;
    *low = *high = NAN;
    for (size_t i = 0; i < s->n; i++) {
        const double v = swh_series_value(s, i, ch), t = swh_series_value(s, i, SWH_CH_time);
        if (!isfinite(v) || t < from || t > to)
            continue;
        *low = fmin(*low, v);
        *high = fmax(*high, v);
        sum += v;
        n++;
    }
    return n > 0 ? sum / (double)n : NAN;
}

static void line_of(const struct swh_plot_series *s, enum swh_channel ch, struct line *l)
{
    l->n = swh_series_windows(s, l->edge, LINE_WINDOWS);
    swh_series_middles(l->edge, l->n, l->x);
    for (size_t w = 0; w < l->n; w++) {
        const double all = swing_of(s, ch, l->edge[w], l->edge[w + 1], &l->low[w], &l->high[w]);
        const double engaged = swh_series_running_mean(s, ch, l->edge[w], l->edge[w + 1]);
        l->y[w] = isfinite(engaged) ? engaged : all;
    }
    if (swh_series_cycling(s))
        end_as_told(s, ch, &l->y[l->n - 1]);
}

void swh_series_swing(struct swh_panel *n, const struct swh_plot_series *s, enum swh_channel ch,
                      const struct swh_style *style, const char *label, bool means)
{
    struct line l;
    const struct swh_xy raw = swh_series_column(s, ch);
    if (s->n < 2 || !(means || swh_series_cycling(s))) {
        swh_panel_swing(n, &raw, style, label, false);
        return;
    }
    line_of(s, ch, &l);
    const struct swh_xy under = {l.n, {l.x, 1}, {l.low, 1}}, line = {l.n, {l.x, 1}, {l.y, 1}};
    const struct swh_column high = {l.high, 1};
    if (n->band_opacity > 0)
        swh_panel_band(n, &under, &high, style->colour, n->band_opacity);
    n->page->bands = n->page->bands || n->band_opacity > 0;
    swh_panel_line(n, &line, style, label);
}

/* ---- its course in words ---- */

static double nearest_row(const struct swh_plot_series *s, enum swh_channel ch, double t)
{
    double best = NAN, away = INFINITY;
    for (size_t i = 0; i < s->n; i++) {
        const double d = fabs(swh_series_value(s, i, SWH_CH_time) - t);
        if (d < away && isfinite(swh_series_value(s, i, ch))) {
            away = d;
            best = swh_series_value(s, i, ch);
        }
    }
    return best;
}

double swh_series_line_at(const struct swh_plot_series *s, enum swh_channel ch, double t)
{
    struct line l;
    if (s->n < 2 || !swh_series_cycling(s))
        return nearest_row(s, ch, t);
    line_of(s, ch, &l);
    size_t w = 0;
    while (w + 1 < l.n && l.edge[w + 1] < t)
        w++;
    return l.y[w];
}

/* The value of the line farthest from `from` after the first minutes, in which a vehicle settles. */
static double farthest(const struct swh_plot_series *s, enum swh_channel ch, double from, double settled,
                       double end)
{
    struct line l;
    double best = from;
    line_of(s, ch, &l);
    for (size_t w = 0; w < l.n; w++)
        if (l.x[w] >= settled && l.edge[w + 1] <= end && isfinite(l.y[w]) &&
            fabs(l.y[w] - from) > fabs(best - from))
            best = l.y[w];
    return best;
}

/* the row at which an engine that is switched off begins to run down, at most a quarter of a minute before */
static size_t before_it_runs_down(const struct swh_plot_series *s, size_t last)
{
    const double end = swh_series_value(s, last, SWH_CH_time);
    size_t i = last;
    while (i > 0 && end - swh_series_value(s, i - 1, SWH_CH_time) < 15 &&
           swh_series_value(s, i - 1, SWH_CH_compressor_speed) >
               1.01 * swh_series_value(s, i, SWH_CH_compressor_speed))
        i--;
    return i;
}

/* When the clutch was last engaged: a switch may have opened for good. The end of a run that does not say. */
static double last_engaged(const struct swh_plot_series *s)
{
    for (size_t i = s->n; i-- > 0;)
        if (!(swh_series_value(s, i, SWH_CH_clutch) < 0.5))
            return swh_series_value(s, before_it_runs_down(s, i), SWH_CH_time);
    return swh_series_end(s);
}

/* Until when a run is told: what gauges do after the shaft stands is another story. */
static double told_until(const struct swh_plot_series *s)
{
    static const enum swh_event ends[] = {SWH_EV_shoe_seizure, SWH_EV_bore_seizure, SWH_EV_fuse_open};
    double end = swh_series_end(s);
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        const struct swh_plot_event *e = swh_series_event(s, ends[i]);
        if (e)
            end = fmin(end, e->time - 2);
    }
    return fmin(end, last_engaged(s));
}

const char *swh_series_course(const struct swh_plot_series *s, const struct swh_page *units,
                              enum swh_channel ch, const char *name, char *out, size_t n)
{
    const double start = swh_series_start(s), end = told_until(s),
                 settled = start + fmin(240, 0.2 * (end - start));
    const enum swh_quantity q = swh_channel_table[ch].quantity;
    const double a = swh_series_line_at(s, ch, settled), c = swh_series_line_at(s, ch, end);
    char from[32], to[32], last[32];
    out[0] = '\0';
    if (s->n < 2 || !isfinite(a) || !isfinite(c))
        return out;
    const double b = farthest(s, ch, a, settled, end + 1);
    swh_page_value(units, q, a, from, sizeof from);
    swh_page_value(units, q, b, to, sizeof to);
    swh_page_value(units, q, c, last, sizeof last);
    const double far = fabs(b - a), stays = 0.08 * fabs(a); /* pressures are absolute inside */
    if (far < stays)
        snprintf(out, n, "%s stands at %s", name, last);
    else if (fabs(c - a) > 0.7 * far)
        snprintf(out, n, "%s %s from %s to %s", name, c > a ? "climbs" : "falls", from, last);
    else
        snprintf(out, n, "%s %s from %s to %s, %s at the end", name, b > a ? "climbs" : "falls", from, to,
                 last);
    return out;
}
