/* Where the refrigerant sits. */
#include "plots/series.h"

#include <math.h>
#include <stdlib.h>

struct place {
    enum swh_channel channel; /* SWH_CH_charge: what is in none of the others */
    const char *words;
    const char *colour;
};
/* From the bottom of the stack in the order of the flow: high side dark, low side light. */
static const struct place places[] = {
    {SWH_CH_charge_condenser, "condenser and discharge line", "#D55E00"},
    {SWH_CH_charge_receiver, "receiver and liquid line", "#E69F00"},
    {SWH_CH_charge_evaporator, "evaporator", "#0072B2"},
    {SWH_CH_charge_low_side, "accumulator, suction line, swash chamber", "#8fc8ea"},
    {SWH_CH_charge, "elsewhere", "#d0d0d0"},
};
enum { PLACES = (int)(sizeof places / sizeof places[0]) };

static double held(const struct swh_plot_series *s, size_t row, int place)
{
    double sum = 0;
    for (int i = 0; i < PLACES - 1; i++) {
        const double m = swh_series_value(s, row, places[i].channel);
        sum += isfinite(m) ? m : 0;
        if (i == place)
            return isfinite(m) ? m : 0;
    }
    return fmax(swh_series_value(s, row, SWH_CH_charge) - sum, 0);
}

bool swh_charge_possible(const struct swh_plot_series *s)
{
    return s->n > 1 && swh_series_has(s, SWH_CH_charge) && swh_series_has(s, SWH_CH_charge_condenser);
}

static void compose_title(const struct swh_plot_series *s, const struct swh_page *u, char *out, size_t n)
{
    char mass[32];
    const size_t last = s->n - 1;
    const double all = swh_series_last(s, SWH_CH_charge), first = swh_series_value(s, 0, SWH_CH_charge);
    int k = snprintf(
        out, n,
        "At the end %.0f %% of the charge of %s sits in the condenser, %.0f %% in receiver and liquid line",
        100 * held(s, last, 0) / all, swh_page_value(u, SWH_Q_MASS, all, mass, sizeof mass),
        100 * held(s, last, 1) / all);
    if (all < 0.995 * first && k > 0 && (size_t)k < n)
        snprintf(out + k, n - (size_t)k, "; %.0f %% was lost", 100 * (1 - all / first));
}

/* Draws place number `place` on top of `low`, which it raises. */
static void draw_place(struct swh_panel *n, const struct swh_plot_series *s, int place, double *low,
                       double *high)
{
    char text[128];
    const struct swh_style edge = {"#ffffff", 1.2, "solid"}, sample = {places[place].colour, 8, "solid"};
    const size_t last = s->n - 1;
    for (size_t i = 0; i < s->n; i++)
        high[i] = low[i] + held(s, i, place);
    const struct swh_xy under = {s->n, {s->value + SWH_CH_time, SWH_CHANNEL_COUNT}, {low, 1}};
    const struct swh_column over = {high, 1};
    const struct swh_xy top = {s->n, under.x, over};
    const double share = (high[last] - low[last]) / swh_series_last(s, SWH_CH_charge);
    swh_panel_band(n, &under, &over, places[place].colour, 1);
    swh_panel_line(n, &top, &edge, NULL);
    snprintf(text, sizeof text, "%s %.0f %%", places[place].words, 100 * share);
    if (place < PLACES - 1 || share > 0.005)
        swh_panel_label(n, 0.5 * (low[last] + high[last]), text, &sample);
    for (size_t i = 0; i < s->n; i++)
        low[i] = high[i];
}

static enum swh_status draw(const struct swh_plot_series *s, const struct swh_plot_options *o, double *low,
                            double *high, struct swh_error *err)
{
    struct swh_page page;
    struct swh_panel panel;
    char title[300], subtitle[200];
    swh_page_units(&page, o);
    compose_title(s, &page, title, sizeof title);
    snprintf(subtitle, sizeof subtitle, "Where the refrigerant sits; %s", s->name);
    swh_page_begin(&page, o, 36 + 480 + 50, title, subtitle);
    swh_series_panel(&panel, &page, s, page.top + 30, page.top + 510, SWH_Q_MASS, "refrigerant");
    panel.right = 890;
    panel.foot = "time";
    panel.y.from = 0;
    for (int i = 0; i < PLACES; i++)
        draw_place(&panel, s, i, low, high);
    swh_panel_close(&panel);
    return swh_page_end(&page, "charge", err);
}

enum swh_status swh_plot_charge(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                struct swh_error *err)
{
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (!swh_charge_possible(s))
        return swh_error_set(err, SWH_ERR_INPUT, "charge: the run has no circuit, so no charge to show");
    double *low = calloc(s->n, sizeof *low), *high = calloc(s->n, sizeof *high);
    enum swh_status status = SWH_OK;
    if (!low || !high)
        status = swh_error_set(err, SWH_ERR_MEMORY, "no memory left for a picture");
    else
        status = draw(s, o, low, high, err);
    free(low);
    free(high);
    return status;
}
