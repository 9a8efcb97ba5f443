/* Pressures with their saturation temperatures, superheat and subcooling. */
#include "plots/pictures/series.h"

#include <math.h>
#include <string.h>

enum { PRESSURE_HEIGHT = 400, DEGREES_HEIGHT = 210, AXIS_WIDTH = 64 };

/* Appends ", high-pressure switch opens 48 times", of the switch that opens most. */
static void add_switch(const struct swh_plot_series *s, char *out, size_t n)
{
    static const enum swh_event switches[] = {SWH_EV_high_pressure_open, SWH_EV_low_pressure_open,
                                              SWH_EV_frost_open, SWH_EV_relief_open};
    size_t most = 0, often = 0;
    for (size_t i = 0; i < sizeof switches / sizeof switches[0]; i++)
        if (swh_series_count(s, switches[i]) > often) {
            often = swh_series_count(s, switches[i]);
            most = i;
        }
    const size_t k = strlen(out);
    if (often == 1)
        snprintf(out + k, n - k, "; %s once", swh_event_table[switches[most]].help);
    else if (often > 1)
        snprintf(out + k, n - k, "; %s %zu times", swh_event_table[switches[most]].help, often);
}

/* What happened, in a sentence; numbers are those of the lines. */
static void compose_title(const struct swh_plot_series *s, const struct swh_page *u, char *out, size_t n)
{
    char low[120];
    swh_series_course(s, u, SWH_CH_discharge_pressure, "Head", out, n);
    swh_series_course(s, u, SWH_CH_suction_pressure, "low side", low, sizeof low);
    const size_t k = strlen(out);
    snprintf(out + k, n - k, "%s%s", k > 0 && low[0] ? "; " : "", low);
    add_switch(s, out, n);
}

/* Numbers of the saturation temperature on the right of a closed pressure panel, as a gauge has them on its
 * dial. */
static void saturation_axis(struct swh_panel *n, const struct swh_fluid *fluid)
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
        if (swh_sat_T(fluid, (shown - zero) / per, &sat) != 0)
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
    swh_series_swing(n, s, ch, &how, words, false);
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
    snprintf(subtitle, sizeof subtitle, "Pressures of %s%s; %s",
             swh_refrigerant_name(swh_fluid_eos(s->refrigerant)),
             swh_series_cycling(s) ? ", means with the clutch engaged" : "", s->name);
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
