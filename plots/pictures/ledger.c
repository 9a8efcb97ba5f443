/* The heat ledger: what heats the metal of the compressor and what cools it. */
#include "plots/pictures/series.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Paths of the ledger that do not end in the metal: kept for the first law of the whole circuit. */
static bool outside_the_metal(enum swh_channel ch)
{
    return ch == SWH_CH_heat_gas_work || ch == SWH_CH_heat_condenser || ch == SWH_CH_heat_evaporator ||
           ch == SWH_CH_heat_lines;
}

/* From dark to light: what differs in colour differs in grey. Warm heats, cold cools. */
static const char *const warm[] = {"#7a2500", "#b34400", "#ea7a26", "#E69F00",
                                   "#f7cf7a", "#fbe8c3", "#c79a6b", "#efd9c0"};
static const char *const cold[] = {"#08306b", "#0072B2", "#4a9fd0", "#8fc8ea",
                                   "#009E73", "#c9e6f5", "#5b7f95", "#a8d8c8"};
enum { SHADES = 8, WINDOWS = 110, PATHS_MAX = 24 };
static const char *const rest_colour = "#d0d0d0";
static const char *const stored_colour = "#9a9a9a";

struct path {
    enum swh_channel channel; /* SWH_CHANNEL_COUNT: all the small ones together */
    double energy;            /* J over the run */
    const char *colour;
    double mean[WINDOWS]; /* W */
};

struct balance {
    struct path path[PATHS_MAX];
    int count;
    size_t windows;
    double edge[WINDOWS + 1]; /* s */
    double x[WINDOWS];        /* s, middle of each window; first and last at the ends of the run */
    double span;              /* s */
    double in, out;           /* J, both positive, sums over the paths' net energies */
};

/* ---- sums ---- */

/* Trapezoids of one path into its windows; returns the whole energy. */
static double add_up(const struct balance *b, const struct swh_plot_series *s, enum swh_channel ch,
                     double *mean)
{
    double time[WINDOWS] = {0}, sum = 0;
    size_t w = 0;
    for (size_t i = 1; i < s->n; i++) {
        const double t0 = swh_series_value(s, i - 1, SWH_CH_time), t1 = swh_series_value(s, i, SWH_CH_time);
        const double e = 0.5 * (t1 - t0) * (swh_series_value(s, i - 1, ch) + swh_series_value(s, i, ch));
        if (!isfinite(e))
            continue;
        while (w + 1 < b->windows && 0.5 * (t0 + t1) > b->edge[w + 1])
            w++;
        mean[w] += e;
        time[w] += t1 - t0;
        sum += e;
    }
    for (w = 0; w < b->windows; w++)
        mean[w] = time[w] > 0 ? mean[w] / time[w] : NAN;
    return sum;
}

static int by_energy(const void *a, const void *b)
{
    const double x = fabs(((const struct path *)a)->energy), y = fabs(((const struct path *)b)->energy);
    return (x < y) - (x > y);
}

static void collect(struct balance *b, const struct swh_plot_series *s)
{
    memset(b, 0, sizeof *b);
    b->span = swh_series_end(s) - swh_series_start(s);
    b->windows = swh_series_windows(s, b->edge, WINDOWS);
    swh_series_middles(b->edge, b->windows, b->x);
    for (int ch = 0; ch < SWH_CHANNEL_COUNT && b->count < PATHS_MAX; ch++) {
        const enum swh_channel channel = (enum swh_channel)ch;
        if (swh_channel_table[ch].group != SWH_GROUP_LEDGER || outside_the_metal(channel) ||
            !swh_series_has(s, channel))
            continue;
        struct path *p = &b->path[b->count++];
        p->channel = channel;
        p->energy = add_up(b, s, channel, p->mean);
        if (s->ledger && isfinite(s->ledger[ch]))
            p->energy = s->ledger[ch];
    }
    qsort(b->path, (size_t)b->count, sizeof b->path[0], by_energy);
    for (int i = 0; i < b->count; i++) {
        b->in += fmax(b->path[i].energy, 0);
        b->out += fmax(-b->path[i].energy, 0);
    }
}

/* What goes through a path in both directions over the run [J]. */
static double traffic(const struct balance *b, const struct path *p)
{
    double both = 0;
    for (size_t w = 0; w < b->windows; w++)
        both += isfinite(p->mean[w]) ? fabs(p->mean[w]) * (b->edge[w + 1] - b->edge[w]) : 0;
    return fmax(fabs(p->energy), both);
}

static void add_to_rest(struct path *rest, const struct path *p, size_t windows)
{
    rest->energy += p->energy;
    for (size_t w = 0; w < windows; w++)
        rest->mean[w] += p->mean[w];
}

/* Paths that carry under 2 % become one grey rest, so that every area that is left can be labelled. */
static void merge_small(struct balance *b)
{
    const double small = 0.02 * fmax(b->in, b->out);
    struct path rest;
    int kept = 0;
    bool merged = false;
    memset(&rest, 0, sizeof rest);
    rest.channel = SWH_CHANNEL_COUNT;
    for (int i = 0; i < b->count; i++) {
        if (traffic(b, &b->path[i]) >= small) {
            b->path[kept++] = b->path[i];
            continue;
        }
        merged = true;
        add_to_rest(&rest, &b->path[i], b->windows);
    }
    if (merged)
        b->path[kept++] = rest;
    b->count = kept;
}

static void colour(struct balance *b)
{
    int heats = 0, cools = 0;
    for (int i = 0; i < b->count; i++) {
        struct path *p = &b->path[i];
        if (p->channel == SWH_CHANNEL_COUNT)
            p->colour = rest_colour;
        else
            p->colour = p->energy >= 0 ? warm[heats++ % SHADES] : cold[cools++ % SHADES];
    }
}

/* ---- words ---- */

/* The help of the channel without "from" and without what stands in brackets. */
static const char *path_words(const struct path *p, char *out, size_t n)
{
    if (p->channel == SWH_CHANNEL_COUNT) {
        snprintf(out, n, "all else");
        return out;
    }
    const char *help = swh_channel_table[p->channel].help;
    if (strncmp(help, "from ", 5) == 0)
        help += 5;
    if (strncmp(help, "the ", 4) == 0)
        help += 4;
    snprintf(out, n, "%s", help);
    char *bracket = strstr(out, " (");
    if (bracket)
        *bracket = '\0';
    return out;
}

static bool by_suction_gas(const struct path *p)
{
    return p->channel == SWH_CH_heat_suction_block || p->channel == SWH_CH_heat_suction_heads ||
           p->channel == SWH_CH_heat_suction_rotor;
}

/* mean power of friction in a window of the run */
static double friction_of(const struct balance *b, size_t window)
{
    double sum = 0;
    for (int i = 0; i < b->count; i++)
        if (b->path[i].channel == SWH_CH_heat_shoe_friction && isfinite(b->path[i].mean[window]))
            sum += b->path[i].mean[window];
    return sum;
}

/* "shoe friction climbs from 90 to 620 W": of a run that ends in it; nothing where it does not double */
static int add_friction(const struct balance *b, char *out, size_t n)
{
    const double first = friction_of(b, b->windows / 5);
    double most = 0;
    for (size_t w = b->windows / 5; w < b->windows; w++)
        most = fmax(most, friction_of(b, w));
    if (!(most > 2 * first && most > 100))
        return 0;
    return snprintf(out, n, "Shoe friction climbs from %.0f to %.0f W; ", first, most);
}

/* What happened to the metal, in a sentence: where its heat came from, where it went. */
static void compose_title(const struct balance *b, char *out, size_t n)
{
    double suction = 0;
    const struct path *most = NULL;
    char words[128] = "";
    for (int i = 0; i < b->count; i++) {
        if (by_suction_gas(&b->path[i]))
            suction += fmax(-b->path[i].energy, 0);
        if (b->path[i].energy > 0 && b->path[i].channel != SWH_CHANNEL_COUNT && !most)
            most = &b->path[i];
    }
    int k = add_friction(b, out, n);
    const double stays = b->in > 0 ? 1 - b->out / b->in : 0;
    if (stays > 0.5)
        k += snprintf(out + k, n - (size_t)k, "%.0f %% of the heat stays in the metal", 100 * stays);
    else
        k += snprintf(out + k, n - (size_t)k, "Suction gas took %.0f %% of the heat that left the metal",
                      b->out > 0 ? 100 * suction / b->out : 0);
    if (most && (size_t)k < n)
        snprintf(out + k, n - (size_t)k, "; %s brought %.0f %%", path_words(most, words, sizeof words),
                 100 * most->energy / b->in);
}

/* ---- drawing ---- */

enum { LEDGER_RIGHT = 850, BAR_LEFT = 876, BAR_RIGHT = 934 };

/* Stacks the parts of one sign: path i lies between low and high. */
static void draw_stack(struct swh_panel *n, const struct balance *b, double sign)
{
    double low[WINDOWS] = {0}, high[WINDOWS];
    for (int i = 0; i < b->count; i++) {
        const struct path *p = &b->path[i];
        bool any = false;
        for (size_t w = 0; w < b->windows; w++) {
            const double part = isfinite(p->mean[w]) ? fmax(sign * p->mean[w], 0) : 0;
            any = any || part > 0;
            high[w] = low[w] + sign * part;
        }
        const struct swh_xy under = {b->windows, {b->x, 1}, {low, 1}},
                            over = {b->windows, {b->x, 1}, {high, 1}};
        if (any) {
            swh_panel_band(n, &under, &over.y, p->colour, 1);
            const struct swh_style edge = {"#ffffff", 1, "solid"};
            swh_panel_line(n, &over, &edge, NULL);
        }
        memcpy(low, high, sizeof low);
    }
}

struct segment {
    double from, to; /* W */
    const char *colour;
    char text[128];
};

static int by_middle(const void *a, const void *b)
{
    const struct segment *x = a, *y = b;
    const double p = x->from + x->to, q = y->from + y->to;
    return (p < q) - (p > q); /* the highest first: pixels run downwards */
}

/* The share first: words too long for the room are cut at the end. */
static void label(struct segment *k, const char *words, double share)
{
    const double room = SWH_PAGE_WIDTH - 12 - (BAR_RIGHT + 23);
    snprintf(k->text, sizeof k->text, "%.0f %%  %s", 100 * share, words);
    if (swh_text_width(k->text) <= room)
        return;
    char *end = k->text + strlen(k->text);
    while (end > k->text && swh_text_width(k->text) > room - 20)
        *--end = '\0';
    while (end > k->text + 1 && end[-1] != ' ')
        end--;
    snprintf(end - 1, 4, "\xe2\x80\xa6");
}

static int segments_of(const struct balance *b, struct segment *seg)
{
    double up = 0, down = 0;
    int count = 0;
    char words[128];
    for (int i = 0; i < b->count; i++) {
        const struct path *p = &b->path[i];
        double *edge = p->energy >= 0 ? &up : &down;
        struct segment *k = &seg[count++];
        k->from = *edge;
        k->to = *edge += p->energy / b->span;
        k->colour = p->colour;
        label(k, path_words(p, words, sizeof words), fabs(p->energy) / fmax(b->in, b->out));
    }
    const double stored = up + down; /* positive: the metal got hotter */
    struct segment *k = &seg[count++];
    k->from = stored >= 0 ? down : up;
    k->to = k->from - stored;
    k->colour = stored_colour;
    label(k, stored >= 0 ? "kept: the metal got hotter" : "given back: the metal cooled",
          fabs(stored) * b->span / fmax(b->in, b->out));
    qsort(seg, (size_t)count, sizeof *seg, by_middle);
    return count;
}

static void draw_bar(struct swh_panel *n, const struct balance *b)
{
    struct segment seg[PATHS_MAX + 1];
    double place[PATHS_MAX + 1];
    const struct swh_style leader = {"#777777", 1, "solid"}, white = {"#ffffff", 1.5, "solid"};
    const int count = segments_of(b, seg);
    for (int i = 0; i < count; i++)
        place[i] = swh_panel_pixel_y(n, 0.5 * (seg[i].from + seg[i].to));
    swh_spread(place, (size_t)count, SWH_LINE_HEIGHT, n->top, n->bottom);
    for (int i = 0; i < count; i++) {
        const double a = swh_panel_pixel_y(n, fmax(seg[i].from, seg[i].to));
        const double c = swh_panel_pixel_y(n, fmin(seg[i].from, seg[i].to));
        swh_page_block(n->page, BAR_LEFT, a, BAR_RIGHT, c, seg[i].colour);
        swh_page_stroke(n->page, BAR_LEFT, c, BAR_RIGHT, c, &white);
        swh_page_stroke(n->page, BAR_RIGHT + 3, 0.5 * (a + c), BAR_RIGHT + 18, place[i], &leader);
        swh_page_text(n->page, BAR_RIGHT + 23, place[i], "left", seg[i].text, NULL);
    }
    swh_page_text(n->page, 0.5 * (BAR_LEFT + BAR_RIGHT), n->top - 16, "center", "whole run", NULL);
}

static void draw_panel(struct swh_page *page, const struct balance *b, const struct swh_plot_series *s)
{
    struct swh_panel panel;
    swh_series_panel(&panel, page, s, page->top + 36, page->top + 596, SWH_Q_POWER, "heat into the metal");
    panel.right = LEDGER_RIGHT;
    panel.foot = "time";
    draw_stack(&panel, b, 1);
    draw_stack(&panel, b, -1);
    swh_panel_limit(&panel, 0, NULL, true);
    swh_panel_reach(&panel, b->in / b->span);
    swh_panel_reach(&panel, -fmax(b->in, b->out) / b->span);
    swh_panel_close(&panel);
    draw_bar(&panel, b);
    swh_page_text(page, panel.left + 12, panel.top + 14, "left", "heats", "font ',15'");
    swh_page_text(page, panel.left + 12, panel.bottom - 16, "left", "cools", "font ',15'");
}

bool swh_ledger_possible(const struct swh_plot_series *s)
{
    return s->n > 2 && swh_series_end(s) > swh_series_start(s) &&
           swh_series_has(s, SWH_CH_heat_shoe_friction);
}

enum swh_status swh_plot_heat_ledger(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                     struct swh_error *err)
{
    struct swh_page page;
    struct balance b;
    char title[300] = "Heat ledger", subtitle[240];
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (!swh_ledger_possible(s))
        return swh_error_set(err, SWH_ERR_INPUT, "heat_ledger: the run has no heat ledger");
    collect(&b, s);
    merge_small(&b);
    colour(&b);
    compose_title(&b, title, sizeof title);
    snprintf(subtitle, sizeof subtitle, "Heat ledger of the compressor's metal%s; bar: shares of %.0f kJ; %s",
             swh_series_cycling(s) ? ", means over clutch cycles" : "", fmax(b.in, b.out) / 1e3, s->name);
    swh_page_begin(&page, o, 650, title, subtitle);
    draw_panel(&page, &b, s);
    return swh_page_end(&page, "heat_ledger", err);
}
