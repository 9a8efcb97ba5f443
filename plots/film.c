/* The oil film between the parts, and what it is made of. */
#include "plots/series.h"

#include <math.h>

struct part {
    enum swh_channel channel;
    const char *heading;
    size_t style;
    int height; /* pixels */
};
static const struct part parts[] = {
    {SWH_CH_film_ratio, "film ratio (film thickness over roughness)", 0, 210},
    {SWH_CH_oil_mass, "oil in the compressor", 2, 130},
    {SWH_CH_oil_viscosity, "viscosity of the oil in the film", 1, 130},
    {SWH_CH_running_clearance, "running clearance, piston in bore", 4, 130},
};
enum { PARTS = (int)(sizeof parts / sizeof parts[0]), GAP = 46 };

/* First time at which the film ratio is under the limit; NaN if never. */
static double time_below(const struct swh_plot_series *s, enum swh_channel ch, double limit)
{
    for (size_t i = 0; i < s->n; i++)
        if (swh_series_value(s, i, ch) < limit)
            return swh_series_value(s, i, SWH_CH_time);
    return NAN;
}

static void compose_title(const struct swh_plot_series *s, const struct swh_plot_limits *l, char *out,
                          size_t n)
{
    char when[32];
    const double least = swh_series_least(s, SWH_CH_film_ratio);
    const double lost = time_below(s, SWH_CH_film_ratio, l->film_ratio);
    const double oil = swh_series_last(s, SWH_CH_oil_mass) / swh_series_value(s, 0, SWH_CH_oil_mass);
    int k = isfinite(lost)
                ? snprintf(out, n, "Metal touches from %s on: the film ratio falls below %.3g, to %.2f",
                           swh_time_words(lost, when, sizeof when), l->film_ratio, least)
                : snprintf(out, n, "The oil film holds: film ratio never below %.2f", least);
    if (isfinite(oil) && k > 0 && (size_t)k < n)
        snprintf(out + k, n - (size_t)k, "; %.0f %% of the oil at the start is left in the compressor",
                 100 * oil);
}

static void draw_part(struct swh_panel *n, const struct swh_plot_series *s, const struct part *k,
                      const struct swh_plot_limits *l)
{
    char text[64];
    const struct swh_style style = swh_style(k->style);
    const struct swh_xy xy = swh_series_column(s, k->channel);
    swh_page_value(n->page, n->yq, swh_series_last(s, k->channel), text, sizeof text);
    n->y.nonnegative = true;
    swh_panel_swing(n, &xy, &style, text, true);
    if (k->channel == SWH_CH_film_ratio)
        swh_panel_limit(n, l->film_ratio, "below: metal touches", true);
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
    compose_title(s, &o->limits, title, sizeof title);
    snprintf(subtitle, sizeof subtitle, "Oil and film; %s", s->name);
    swh_marks_find(&marks, s);
    const int words = marks.rows * SWH_LINE_HEIGHT;
    swh_page_begin(&page, o, words + 36 + page_height(s) + swh_strips_height(s) + 10, title, subtitle);
    swh_marks_words(&marks, &page, page.top + words);
    draw_parts(&page, s, &marks, page.top + words + 36);
    return swh_page_end(&page, "film_oil", err);
}
