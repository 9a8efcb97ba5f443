/* The oil film between the parts, and what it is made of. */
#include "plots/pictures/series.h"

#include <math.h>

struct part {
    enum swh_channel channel;
    bool running; /* has a meaning only while the compressor runs */
    const char *heading;
    size_t style;
    int height; /* pixels */
};
static const struct part parts[] = {
    {SWH_CH_film_ratio, true, "film ratio (film thickness over roughness) while the clutch is engaged", 0,
     210},
    {SWH_CH_oil_mass, false, "oil in the compressor", 2, 130},
    {SWH_CH_oil_viscosity, true, "viscosity of the oil in the film, while the clutch is engaged", 1, 130},
    {SWH_CH_running_clearance, false, "running clearance, piston in bore", 4, 130},
};
enum { PARTS = (int)(sizeof parts / sizeof parts[0]), GAP = 46 };

enum { SPANS = 60 };
static const double CLEAR = 3; /* film ratio above which roughness no longer touches (textbook) */

/* Does the shaft turn in this row as in both beside it, the clutch engaged? */
static bool runs_on(const struct swh_plot_series *s, size_t i)
{
    for (size_t k = i > 0 ? i - 1 : 0; k <= i + 1 && k < s->n; k++)
        if (swh_series_value(s, k, SWH_CH_clutch) < 0.5 ||
            swh_series_value(s, k, SWH_CH_compressor_speed) < 5)
            return false;
    return true;
}

static double mean_at_speed(const struct swh_plot_series *s, double from, double to)
{
    double sum = 0;
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++) {
        const double v = swh_series_value(s, i, SWH_CH_film_ratio), t = swh_series_value(s, i, SWH_CH_time);
        if (!isfinite(v) || t < from || t > to || !runs_on(s, i))
            continue;
        sum += v;
        n++;
    }
    return n > 0 ? sum / (double)n : NAN;
}

/* Least of the means over sixtieths of the run with the clutch engaged: a shaft that starts has no film for
 * an instant, which is not what the title is about. NaN if it never ran. */
static double least_running(const struct swh_plot_series *s, double *when)
{
    const double start = swh_series_start(s), part = (swh_series_end(s) - start) / SPANS;
    double least = NAN;
    for (int k = 0; k < SPANS; k++) {
        const double mean = mean_at_speed(s, start + k * part, start + (k + 1) * part);
        if (!isfinite(mean) || mean >= least)
            continue;
        least = mean;
        *when = start + (k + 0.5) * part;
    }
    return least;
}

static void compose_title(const struct swh_plot_series *s, char *out, size_t n)
{
    char at[32];
    double when = 0;
    const struct swh_plot_event *lost = swh_series_event(s, SWH_EV_film_lost);
    const double least = least_running(s, &when);
    const double oil = swh_series_last(s, SWH_CH_oil_mass) / swh_series_value(s, 0, SWH_CH_oil_mass);
    const bool welded = swh_series_event(s, SWH_EV_shoe_seizure);
    int k = 0;
    if (welded && !lost)
        k = snprintf(out, n, "The oil film thins until a shoe welds: film ratio down to %.2g", least);
    else if (lost)
        k = snprintf(out, n, "The oil film is lost after %s: film ratio down to %.2g",
                     swh_time_words(lost->time, at, sizeof at), least);
    else
        k = snprintf(out, n, "%s: film ratio at least %.2g, at %s",
                     least >= CLEAR ? "A clear oil film throughout"
                     : least >= 1   ? "The oil film carries, metal touches at its peaks"
                                    : "Metal touches",
                     least, swh_time_words(when, at, sizeof at));
    if (isfinite(oil) && k > 0 && (size_t)k < n)
        snprintf(out + k, n - (size_t)k, "; %.0f %% of the oil at the start is in the compressor at the end",
                 100 * oil);
}

/* touching, mixed; what is above is clear (film thickness over roughness 1 and 3: textbook) */
static void zones(struct swh_panel *n, const struct swh_plot_series *s)
{
    const double x[2] = {swh_series_start(s), swh_series_end(s)}, y[3][2] = {{0, 0}, {1, 1}, {CLEAR, CLEAR}};
    for (int k = 0; k < 2; k++) {
        const struct swh_xy low = {2, {x, 1}, {y[k], 1}};
        const struct swh_column high = {y[k + 1], 1};
        swh_panel_band(n, &low, &high, k == 0 ? "#D55E00" : "#F0E442", k == 0 ? 0.20 : 0.22);
    }
}

static void draw_part(struct swh_panel *n, const struct swh_plot_series *s, const struct part *k,
                      const struct swh_plot_limits *l)
{
    const struct swh_style style = swh_style(k->style);
    const struct swh_xy xy = swh_series_column(s, k->channel);
    n->y.nonnegative = true;
    n->label_values = true;
    if (k->channel == SWH_CH_film_ratio)
        zones(n, s);
    if (k->running)
        swh_series_running(n, s, k->channel, &style, "");
    else
        swh_panel_swing(n, &xy, &style, "", true);
    if (k->channel == SWH_CH_film_ratio) {
        swh_panel_limit(n, CLEAR, "above: clear film", true);
        swh_panel_limit(n, l->film_ratio, "below: metal touches", true);
    }
    if (k->channel == SWH_CH_running_clearance)
        swh_panel_limit(n, l->clearance, "the bore seizes", true);
}

static int page_height(const struct swh_plot_series *s)
{
    int height = 0;
    for (int i = 0; i < PARTS; i++)
        height += swh_series_has(s, parts[i].channel) ? parts[i].height + GAP : 0;
    return height;
}

bool swh_film_possible(const struct swh_plot_series *s)
{
    return swh_series_has(s, SWH_CH_film_ratio);
}

static void draw_parts(struct swh_page *page, const struct swh_plot_series *s, const struct swh_marks *marks,
                       int top)
{
    int last = PARTS - 1;
    while (!swh_series_has(s, parts[last].channel))
        last--;
    for (int i = 0; i <= last; i++) {
        struct swh_panel panel;
        if (!swh_series_has(s, parts[i].channel))
            continue;
        swh_series_panel(&panel, page, s, top, top + parts[i].height,
                         swh_channel_table[parts[i].channel].quantity, parts[i].heading);
        panel.foot = i == last ? "time" : NULL;
        draw_part(&panel, s, &parts[i], &page->o->limits);
        swh_marks_lines(marks, &panel);
        swh_panel_close(&panel);
        top += parts[i].height + GAP;
    }
    swh_strips(page, s, top);
}

enum swh_status swh_plot_film_oil(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                  struct swh_error *err)
{
    struct swh_page page;
    struct swh_marks marks;
    char title[300], subtitle[200];
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (!swh_film_possible(s))
        return swh_error_set(err, SWH_ERR_INPUT, "film_oil: the run has no film ratio");
    compose_title(s, title, sizeof title);
    snprintf(subtitle, sizeof subtitle, "Oil and film; %s", s->name);
    swh_marks_find(&marks, s);
    const int words = marks.rows * SWH_LINE_HEIGHT;
    swh_page_begin(&page, o, words + 36 + page_height(s) + swh_strips_height(s) + 10, title, subtitle);
    swh_marks_words(&marks, &page, page.top + words);
    draw_parts(&page, s, &marks, page.top + words + 36);
    return swh_page_end(&page, "film_oil", err);
}
