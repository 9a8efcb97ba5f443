/* Pressures with their saturation temperatures, superheat and subcooling. */
#include "plots/pictures/series.h"

#include <math.h>
#include <string.h>

enum { PRESSURE_HEIGHT = 400, DEGREES_HEIGHT = 210, AXIS_WIDTH = 64 };

/* Appends "low side 1.8 barg (-2 degC)" to a title. */
static void add_words(const struct swh_plot_series *s, const struct swh_page *u, enum swh_channel ch,
                      const char *before, char *out, size_t n)
{
    char value[32], degrees[32], bracket[40] = "";
    struct swh_saturation sat;
    const double mean = swh_series_running_mean(s, ch, -INFINITY, INFINITY);
    const enum swh_quantity q = swh_channel_table[ch].quantity;
    const size_t k = strlen(out);
    if (!isfinite(mean))
        return;
    if (q == SWH_Q_PRESSURE && swh_sat_P(swh_fluid_get(s->refrigerant), mean, &sat) == 0)
        snprintf(bracket, sizeof bracket, " (%s)",
                 swh_page_value(u, SWH_Q_TEMPERATURE, sat.T, degrees, sizeof degrees));
    snprintf(out + k, n - k, "%s%s %s%s", k > 0 ? ", " : "", before,
             swh_page_value(u, q, mean, value, sizeof value), bracket);
}

static void compose_title(const struct swh_plot_series *s, const struct swh_page *u, char *out, size_t n)
{
    out[0] = '\0';
    add_words(s, u, SWH_CH_discharge_pressure, "High side", out, n);
    add_words(s, u, SWH_CH_suction_pressure, "low side", out, n);
    add_words(s, u, SWH_CH_superheat, "superheat", out, n);
    add_words(s, u, SWH_CH_subcooling, "subcooling", out, n);
}

/* Numbers of the saturation temperature on the right of a closed pressure panel, as a gauge has them on its
 * dial. */
static void saturation_axis(struct swh_panel *n, enum swh_refrigerant r)
{
    const struct swh_page *u = n->page;
    const struct swh_style tick = {"#555555", 1, "solid"};
    const double step = u->o->trade ? 20 : 10, zero = u->offset[SWH_Q_TEMPERATURE],
                 per = u->scale[SWH_Q_TEMPERATURE];
    double last = n->bottom + 14;
    char text[48], unit[24];
    const double coldest = ceil(swh_page_shown(u, SWH_Q_TEMPERATURE, 213.15) / step) * step;
    for (int k = 0; k < 40; k++) {
        struct swh_saturation sat;
        const double shown = coldest + k * step;
        if (swh_sat_T(swh_fluid_get(r), (shown - zero) / per, &sat) != 0)
            continue;
        const double y = swh_panel_pixel_y(n, sat.P);
        if (!(y >= n->top && y <= n->bottom + 1) || last - y < 17)
            continue;
        last = y;
        swh_page_stroke(n->page, n->right, y, n->right + 6, y, &tick);
        snprintf(text, sizeof text, "%.0f", shown);
        swh_page_text(n->page, n->right + 12, y, "left", text, "textcolor rgb '#333333'");
    }
    snprintf(text, sizeof text, "saturation, %s", swh_page_unit(u, SWH_Q_TEMPERATURE, unit, sizeof unit));
    swh_page_stroke(n->page, n->right, n->top, n->right, n->bottom, &tick);
    swh_page_text(n->page, n->right - 4, n->top - 16, "left", text, NULL);
}

static void line(struct swh_panel *n, const struct swh_plot_series *s, enum swh_channel ch, size_t style,
                 const char *words)
{
    const struct swh_style how = swh_style(style);
    const struct swh_xy xy = swh_series_column(s, ch);
    swh_panel_swing(n, &xy, &how, words, false);
}

/* A switch's setting, where the axis comes near it. */
static void switch_line(struct swh_panel *n, double setting, double peak, const char *words)
{
    char value[32], label[80];
    if (!(setting < 1.5 * peak))
        return;
    snprintf(label, sizeof label, "%s %s", words,
             swh_page_value(n->page, SWH_Q_PRESSURE, setting, value, sizeof value));
    swh_panel_limit(n, setting, label, true);
}

static void draw_pressures(struct swh_page *page, const struct swh_plot_series *s,
                           const struct swh_marks *marks, int top)
{
    struct swh_panel n;
    swh_series_panel(&n, page, s, top, top + PRESSURE_HEIGHT, SWH_Q_PRESSURE, "pressure");
    n.label_gap = AXIS_WIDTH;
    n.label_values = true;
    n.y.nonnegative = true;
    line(&n, s, SWH_CH_discharge_pressure, 0, "high side");
    line(&n, s, SWH_CH_suction_pressure, 1, "low side");
    const double peak = swh_series_peak(s, SWH_CH_discharge_pressure);
    switch_line(&n, page->o->limits.high_switch, peak, "switch opens");
    switch_line(&n, page->o->limits.low_switch, peak, "switch opens");
    swh_marks_lines(marks, &n);
    swh_panel_close(&n);
    saturation_axis(&n, s->refrigerant);
}

static void running(struct swh_panel *n, const struct swh_plot_series *s, enum swh_channel ch, size_t style,
                    const char *words)
{
    const struct swh_style how = swh_style(style);
    swh_series_running(n, s, ch, &how, words);
}

static void draw_degrees(struct swh_page *page, const struct swh_plot_series *s,
                         const struct swh_marks *marks, int top)
{
    struct swh_panel n;
    swh_series_panel(&n, page, s, top, top + DEGREES_HEIGHT, SWH_Q_TEMPERATURE_DIFFERENCE,
                     "superheat and subcooling while the clutch is engaged");
    n.foot = "time";
    n.label_values = true;
    running(&n, s, SWH_CH_superheat, 3, "superheat, suction");
    running(&n, s, SWH_CH_evaporator_superheat, 6, "superheat, evaporator");
    running(&n, s, SWH_CH_subcooling, 2, "subcooling");
    swh_panel_limit(&n, 0, NULL, true);
    swh_marks_lines(marks, &n);
    swh_panel_close(&n);
}

bool swh_pressures_possible(const struct swh_plot_series *s)
{
    return swh_series_has(s, SWH_CH_discharge_pressure) && swh_series_has(s, SWH_CH_suction_pressure);
}

enum swh_status swh_plot_pressures(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                   struct swh_error *err)
{
    struct swh_page page;
    struct swh_marks marks;
    char title[300], subtitle[200];
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (!swh_pressures_possible(s))
        return swh_error_set(err, SWH_ERR_INPUT, "pressures: the run has no pressures");
    const bool degrees = swh_series_has(s, SWH_CH_superheat);
    swh_page_units(&page, o);
    compose_title(s, &page, title, sizeof title);
    snprintf(subtitle, sizeof subtitle, "Pressures of %s (title: means, clutch engaged); %s",
             swh_refrigerant_name(s->refrigerant), s->name);
    swh_marks_find(&marks, s);
    const int words = marks.rows * SWH_LINE_HEIGHT;
    swh_page_begin(&page, o,
                   words + 36 + PRESSURE_HEIGHT + (degrees ? 46 + DEGREES_HEIGHT : 0) + 44 +
                       swh_strips_height(s) + 8,
                   title, subtitle);
    int top = page.top + words + 36;
    swh_marks_words(&marks, &page, page.top + words);
    draw_pressures(&page, s, &marks, top);
    top += PRESSURE_HEIGHT + 46;
    if (degrees) {
        draw_degrees(&page, s, &marks, top);
        top += DEGREES_HEIGHT + 44;
    }
    swh_strips(&page, s, top);
    return swh_page_end(&page, "pressures", err);
}
