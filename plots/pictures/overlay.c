/* Several runs laid over each other. */
#include "plots/pictures/series.h"

#include <math.h>
#include <string.h>

struct part {
    enum swh_channel channel;
    bool running; /* has a meaning only while the compressor runs */
    const char *heading;
    int height; /* pixels */
    bool log;
};
static const struct part parts[] = {
    {SWH_CH_contact_temperature, false, "contact temperature, shoe on plate", 210, false},
    {SWH_CH_discharge_temperature, false, "discharge temperature", 150, false},
    {SWH_CH_discharge_pressure, false, "high side", 150, false},
    {SWH_CH_suction_pressure, false, "low side", 150, false},
    {SWH_CH_superheat, true, "superheat at the suction port, clutch engaged", 150, false},
    {SWH_CH_film_ratio, true, "film ratio, clutch engaged", 150, true},
};
/* of a slide: two that are read from the back row */
static const struct part slide_parts[] = {
    {SWH_CH_discharge_pressure, false, "high side", 210, false},
    {SWH_CH_contact_temperature, false, "shoe contact", 210, false},
};
static const double film_floor = 0.2;
enum { PARTS = (int)(sizeof parts / sizeof parts[0]), GAP = 44, NAME_LETTERS = 26 };
enum { SLIDE_PARTS = (int)(sizeof slide_parts / sizeof slide_parts[0]), SLIDE_GAP = 74 };

struct runs {
    const struct swh_plot_series *s;
    size_t count;
    double start, end;
    bool means; /* one of them cycles: all are drawn as means with the clutch engaged */
    const struct part *part;
    int parts;
};

static bool any_has(const struct runs *r, enum swh_channel ch)
{
    for (size_t i = 0; i < r->count; i++)
        if (swh_series_has(&r->s[i], ch))
            return true;
    return false;
}

static bool seized(const struct swh_plot_series *s)
{
    return swh_series_event(s, SWH_EV_shoe_seizure) || swh_series_event(s, SWH_EV_bore_seizure);
}

static double seizure_time(const struct swh_plot_series *s)
{
    const struct swh_plot_event *shoe = swh_series_event(s, SWH_EV_shoe_seizure);
    const struct swh_plot_event *bore = swh_series_event(s, SWH_EV_bore_seizure);
    return fmin(shoe ? shoe->time : INFINITY, bore ? bore->time : INFINITY);
}

/* those that a switch kept alive, and which */
static void add_saved(const struct runs *r, char *out, size_t n)
{
    for (size_t i = 0; i < r->count; i++) {
        const size_t k = strlen(out);
        if (r->s[i].saved_by)
            snprintf(out + k, n - k, "; %s is kept alive: %s", r->s[i].name, r->s[i].saved_by);
    }
}

static void compose_title(const struct runs *r, char *out, size_t n)
{
    size_t lost = 0;
    const struct swh_plot_series *first = NULL;
    for (size_t i = 0; i < r->count; i++) {
        lost += seized(&r->s[i]);
        if (seized(&r->s[i]) && (!first || seizure_time(&r->s[i]) < seizure_time(first)))
            first = &r->s[i];
    }
    char when[32];
    if (!first)
        snprintf(out, n, "All %zu compressors survive %s", r->count,
                 swh_time_words(r->end - r->start, when, sizeof when));
    else
        snprintf(out, n, "%zu of %zu compressors seize%s; first: %s, after %s", lost, r->count,
                 lost == 1 ? "s" : "", first->name, swh_time_words(seizure_time(first), when, sizeof when));
    add_saved(r, out, n);
}

/* the run's name, cut to the room that labels have, at a letter's boundary */
static void short_name(const char *name, char *out, size_t n)
{
    size_t letters = 0, k = 0;
    for (; name[k] && k + 8 < n; k++) {
        letters += ((unsigned char)name[k] & 0xC0) != 0x80;
        if (letters > NAME_LETTERS)
            break;
        out[k] = name[k];
    }
    snprintf(out + k, n - k, "%s", name[k] ? "\xe2\x80\xa6" : "");
}

static void draw_run(struct swh_panel *n, const struct swh_plot_series *s, size_t i, const struct part *k,
                     bool means)
{
    char name[128];
    const struct swh_style style = swh_style(i);
    const struct swh_xy xy = swh_series_column(s, k->channel);
    const double t = seizure_time(s);
    short_name(s->name, name, sizeof name);
    if (k->running)
        swh_series_running(n, s, k->channel, &style, name);
    else
        swh_series_swing(n, s, k->channel, &style, name, means);
    if (isfinite(t))
        swh_panel_cross(n, t, &xy, &style, k->running);
}

/* survivors have a scale of their own: a limit far above them would press them flat */
static double hottest(const struct runs *r, enum swh_channel ch)
{
    double peak = NAN;
    for (size_t i = 0; i < r->count; i++)
        peak = fmax(peak, swh_series_peak(&r->s[i], ch));
    return peak;
}

static void draw_part(struct swh_page *page, const struct runs *r, const struct part *k, int top, bool last)
{
    struct swh_panel n;
    swh_panel_open(&n, page, top, top + k->height, SWH_Q_TIME, r->start, r->end,
                   swh_channel_table[k->channel].quantity, k->heading);
    n.foot = last ? "time" : NULL;
    n.y.log = k->log;
    if (page->o->slide) {
        n.left = SWH_SLIDE_LEFT;
        n.right = SWH_SLIDE_RIGHT;
    }
    n.band_opacity = r->count <= 3 ? 0.13 : 0; /* the bands of more runs would only be mud */
    for (size_t i = r->count; i-- > 0;)
        draw_run(&n, &r->s[i], i, k, r->means);
    if (k->channel == SWH_CH_contact_temperature &&
        hottest(r, k->channel) > page->o->limits.weld_temperature - 40)
        swh_panel_limit(&n, page->o->limits.weld_temperature, "bare metal welds", true);
    if (k->log && n.lo < film_floor)
        n.y.from = film_floor; /* no film is no film, however little of it */
    if (k->channel == SWH_CH_film_ratio)
        swh_panel_limit(&n, page->o->limits.film_ratio, "below: metal touches", true);
    swh_panel_close(&n);
}

static int last_part(const struct runs *r)
{
    int last = r->parts - 1;
    while (last >= 0 && !any_has(r, r->part[last].channel))
        last--;
    return last;
}

static int page_height(const struct runs *r, int gap)
{
    int height = 0;
    for (int i = 0; i < r->parts; i++)
        height += any_has(r, r->part[i].channel) ? r->part[i].height + gap : 0;
    return height;
}

static enum swh_status draw(const struct runs *r, const char *title, const struct swh_plot_options *o,
                            struct swh_error *err)
{
    struct swh_page page;
    char composed[300];
    compose_title(r, composed, sizeof composed);
    const int gap = o->slide ? SLIDE_GAP : GAP;
    swh_page_begin(&page, o, 30 + page_height(r, gap) + 6, title ? title : composed,
                   o->slide ? (r->means ? "Means with the clutch engaged" : NULL)
                   : r->means
                       ? "Runs laid over each other: means with the clutch engaged; a cross marks a seizure"
                       : "Runs laid over each other; a cross marks a seizure");
    int top = page.top + 30;
    const int last = last_part(r);
    for (int i = 0; i <= last; i++) {
        if (!any_has(r, r->part[i].channel))
            continue;
        draw_part(&page, r, &r->part[i], top, i == last);
        top += r->part[i].height + gap;
    }
    return swh_page_end(&page, "overlay", err);
}

enum swh_status swh_plot_overlay(const struct swh_plot_series *s, size_t count, const char *title,
                                 const struct swh_plot_options *o, struct swh_error *err)
{
    struct runs r = {s,
                     count < SWH_PLOT_OVERLAY_MAX ? count : SWH_PLOT_OVERLAY_MAX,
                     INFINITY,
                     -INFINITY,
                     false,
                     o->slide ? slide_parts : parts,
                     o->slide ? SLIDE_PARTS : PARTS};
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    for (size_t i = 0; i < r.count; i++) {
        r.start = fmin(r.start, swh_series_start(&s[i]));
        r.end = fmax(r.end, swh_series_end(&s[i]));
        r.means |= swh_series_cycling(&s[i]);
    }
    if (r.count == 0 || last_part(&r) < 0)
        return swh_error_set(err, SWH_ERR_INPUT, "overlay: no run to draw");
    return draw(&r, title, o, err);
}
