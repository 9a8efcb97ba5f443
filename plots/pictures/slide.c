/* One run for the back row of a class: the gauges above, below them what gets hot, large letters, and the
 * answer. */
#include "plots/pictures/series.h"

#include <math.h>
#include <string.h>

enum { GAP = 74, FOOT = 62 };

static void line(struct swh_panel *n, const struct swh_plot_series *s, enum swh_channel ch, size_t style,
                 const char *words)
{
    struct swh_style how = swh_style(style);
    how.width *= 1.5;
    if (swh_series_has(s, ch))
        swh_series_swing(n, s, ch, &how, words, false);
}

static void open_panel(struct swh_panel *n, struct swh_page *page, const struct swh_plot_series *s, int top,
                       int height, enum swh_quantity q, const char *heading)
{
    swh_series_panel(n, page, s, top, top + height, q, heading);
    n->left = SWH_SLIDE_LEFT;
    n->right = SWH_SLIDE_RIGHT;
    n->label_values = true;
}

/* What ended the compressor, if anything did; NULL if nothing. */
static const struct swh_plot_event *end_of(const struct swh_plot_series *s, const char **word)
{
    static const struct {
        enum swh_event event;
        const char *word;
    } ends[] = {{SWH_EV_shoe_seizure, "a shoe welds"}, {SWH_EV_bore_seizure, "a piston seizes"}};
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        *word = ends[i].word;
        if (swh_series_event(s, ends[i].event))
            return swh_series_event(s, ends[i].event);
    }
    return NULL;
}

/* The run up to its end: what gauges do once the shaft stands is another story. */
static struct swh_plot_series until_end(const struct swh_plot_series *s)
{
    const char *word;
    const struct swh_plot_event *end = end_of(s, &word);
    struct swh_plot_series part = *s;
    while (end && part.n > 2 && swh_series_value(s, part.n - 1, SWH_CH_time) >= end->time)
        part.n--;
    if (end)
        part.gauge = NULL;
    return part;
}

/* What happens at the right edge, in words. */
static void end_word(struct swh_panel *n, const struct swh_plot_series *s)
{
    const char *word;
    if (end_of(s, &word))
        swh_page_text(n->page, n->right - 10, n->bottom - 20, "right", word, "textcolor rgb '#7a1f00'");
}

static void pressures(struct swh_page *page, const struct swh_plot_series *s, int top, int height)
{
    struct swh_panel n;
    open_panel(&n, page, s, top, height, SWH_Q_PRESSURE, "what the gauges show");
    n.y.nonnegative = true;
    line(&n, s, SWH_CH_discharge_pressure, 0, "high side");
    line(&n, s, SWH_CH_suction_pressure, 1, "low side");
    swh_panel_close(&n);
}

static void temperatures(struct swh_page *page, const struct swh_plot_series *s, int top, int height)
{
    struct swh_panel n;
    open_panel(&n, page, s, top, height, SWH_Q_TEMPERATURE, "what gets hot");
    n.foot = "time";
    line(&n, s, SWH_CH_contact_temperature, 0, "shoe contact");
    line(&n, s, SWH_CH_discharge_temperature, 6, "discharge pipe");
    if (swh_series_peak(s, SWH_CH_contact_temperature) > page->o->limits.weld_temperature - 40)
        swh_panel_limit(&n, page->o->limits.weld_temperature, "metal welds", true);
    end_word(&n, s);
    swh_panel_close(&n);
}

enum swh_status swh_plot_slide(const struct swh_plot_series *s, const struct swh_plot_options *o,
                               struct swh_error *err)
{
    struct swh_page page;
    char title[400];
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (!swh_pressures_possible(s) || !swh_body_possible(s))
        return swh_error_set(err, SWH_ERR_INPUT, "slide: the run has no pressures or no body temperatures");
    swh_page_units(&page, o);
    swh_series_answer(s, &page, &o->limits, title, sizeof title);
    swh_page_begin(&page, o, 0, title, s->name);
    const int top = page.top + 30, height = (SWH_SLIDE_HEIGHT - top - GAP - FOOT) / 2;
    const struct swh_plot_series part = until_end(s);
    pressures(&page, &part, top, height);
    temperatures(&page, &part, top + height + GAP, height);
    return swh_page_end(&page, "slide", err);
}
