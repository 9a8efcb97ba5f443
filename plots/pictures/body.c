/* Temperatures of the body, and the film that keeps its parts apart. */
#include "plots/pictures/series.h"

#include <math.h>
#include <stdlib.h>

/* Which channel is drawn how: the hot parts warm and solid, the cold ones blue and dashed. */
struct drawn {
    enum swh_channel channel;
    size_t style;
};
static const struct drawn body[] = {
    {SWH_CH_contact_temperature, 0},       {SWH_CH_rotor_temperature, 6}, {SWH_CH_piston_temperature, 3},
    {SWH_CH_head_temperature, 4},          {SWH_CH_block_temperature, 1}, {SWH_CH_oil_temperature, 2},
    {SWH_CH_discharge_gas_temperature, 7}, {SWH_CH_shell_temperature, 5},
};
enum { BODY_COUNT = (int)(sizeof body / sizeof body[0]) };

void swh_plot_limits_default(struct swh_plot_limits *limits, const struct swh_params *params)
{
    limits->discharge_temperature = 273.15 + 130;
    limits->oil_temperature = params->oil_life_temperature;
    limits->weld_temperature = params->friction_weld_temperature;
    limits->film_ratio = 1;
    limits->clearance = params->compressor_clearance_floor;
    limits->high_switch = limits->low_switch = NAN;
}

static void limit_label(const struct swh_page *p, const char *words, double value, char *out, size_t n)
{
    char shown[32];
    snprintf(out, n, "%s %s", words, swh_page_value(p, SWH_Q_TEMPERATURE, value, shown, sizeof shown));
}

static void temperature_limit(struct swh_panel *n, const char *words, double value)
{
    char text[96];
    if (!isfinite(value))
        return;
    limit_label(n->page, words, value, text, sizeof text);
    swh_panel_limit(n, value, text, true);
}

static double hottest(const struct swh_plot_series *s)
{
    double peak = NAN;
    for (int i = 0; i < BODY_COUNT; i++)
        peak = fmax(peak, swh_series_peak(s, body[i].channel));
    return peak;
}

/* A survivor's temperatures have a scale of their own: limits far above them are not drawn. */
static void near_limit(struct swh_panel *n, const struct swh_plot_series *s, const char *words, double value)
{
    const double peak = hottest(s), coldest = swh_series_least(s, SWH_CH_shell_temperature);
    if (value < peak + fmax(10, 0.15 * (peak - coldest)))
        temperature_limit(n, words, value);
}

/* Where shoes weld: a contact hotter than bare metal stands for some seconds. */
static void welding_zone(struct swh_panel *n, const struct swh_plot_series *s,
                         const struct swh_plot_limits *l)
{
    double *high = malloc(2 * (s->n > 0 ? s->n : 1) * sizeof *high), *low = high + s->n;
    bool any = false;
    for (size_t i = 0; high && i < s->n; i++) {
        const double contact = swh_series_value(s, i, SWH_CH_contact_temperature);
        const bool welds = contact >= l->weld_temperature;
        low[i] = welds ? l->weld_temperature : NAN;
        high[i] = welds ? contact : NAN;
        any |= welds;
    }
    if (any) {
        const struct swh_xy under = {s->n, {s->value + SWH_CH_time, SWH_CHANNEL_COUNT}, {low, 1}};
        const struct swh_column over = {high, 1};
        swh_panel_band(n, &under, &over, "#D55E00", 0.35);
    }
    free(high);
}

static void body_panel(struct swh_panel *n, const struct swh_plot_series *s, const struct swh_plot_limits *l)
{
    char text[64];
    n->label_values = true;
    for (int i = BODY_COUNT - 1; i >= 0; i--) {
        const struct swh_style style = swh_style(body[i].style);
        swh_channel_words(body[i].channel, true, text, sizeof text);
        if (body[i].channel == SWH_CH_discharge_gas_temperature)
            swh_series_running(n, s, body[i].channel, &style, text); /* at rest it is only the metal's */
        else
            swh_series_swing(n, s, body[i].channel, &style, text, false);
    }
    welding_zone(n, s, l);
    near_limit(n, s, "discharge gas limit", l->discharge_temperature);
    near_limit(n, s, "oil breaks down", l->oil_temperature);
    near_limit(n, s, "bare metal welds", l->weld_temperature);
}

bool swh_body_possible(const struct swh_plot_series *s)
{
    return s->n > 1 && swh_series_has(s, SWH_CH_rotor_temperature);
}

enum swh_status swh_plot_body_temperatures(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                           struct swh_error *err)
{
    struct swh_page page;
    struct swh_panel panel;
    struct swh_marks marks;
    char title[400], subtitle[200];
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (!swh_body_possible(s))
        return swh_error_set(err, SWH_ERR_INPUT, "body_temperatures: the run has no body temperatures");
    swh_page_units(&page, o);
    swh_series_answer(s, &page, &o->limits, title, sizeof title);
    const bool welds = hottest(s) > o->limits.weld_temperature;
    snprintf(subtitle, sizeof subtitle, "Temperatures of the compressor's parts%s; %s",
             welds ? " (shaded: a contact that bare metal stands for some seconds only)" : "", s->name);
    swh_marks_find(&marks, s);
    const int strips = swh_strips_height(s), words = marks.rows * SWH_LINE_HEIGHT;
    swh_page_begin(&page, o, words + 40 + 520 + 44 + strips + 14, title, subtitle);
    const int top = page.top + words + 40;
    swh_series_panel(&panel, &page, s, top, top + 520, SWH_Q_TEMPERATURE, "temperature");
    panel.foot = "time";
    body_panel(&panel, s, &o->limits);
    swh_marks_words(&marks, &page, top - 36);
    swh_marks_lines(&marks, &panel);
    swh_panel_close(&panel);
    swh_strips(&page, s, top + 564);
    return swh_page_end(&page, "body_temperatures", err);
}
