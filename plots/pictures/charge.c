/* Where the refrigerant sits. */
#include "plots/pictures/series.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

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

enum { WINDOWS = 160 };

/* What each place holds, means over windows of time: with the clutch the refrigerant moves to and fro faster
 * than a page can show. */
struct stack {
    size_t n;
    double edge[WINDOWS + 1], x[WINDOWS], all[WINDOWS], held[PLACES][WINDOWS];
};

static void average(struct stack *k, size_t w, const struct swh_plot_series *s, size_t from, size_t to)
{
    for (int place = 0; place < PLACES; place++) {
        double sum = 0;
        for (size_t i = from; i < to; i++)
            sum += held(s, i, place);
        k->held[place][w] = sum / (double)(to - from);
        k->all[w] += k->held[place][w];
    }
}

static void collect(struct stack *k, const struct swh_plot_series *s)
{
    size_t from = 0;
    memset(k, 0, sizeof *k);
    k->n = swh_series_windows(s, k->edge, WINDOWS);
    swh_series_middles(k->edge, k->n, k->x);
    for (size_t w = 0; w < k->n; w++) {
        size_t to = from;
        while (to < s->n && (w + 1 == k->n || swh_series_value(s, to, SWH_CH_time) < k->edge[w + 1]))
            to++;
        average(k, w, s, to > from || to == 0 ? from : to - 1, to > 0 ? to : 1); /* none: the row before */
        from = to;
    }
}

/* The place whose content changed most since the vehicle had settled; -1 if none did by a fiftieth of the
 * charge. */
static int moved_most(const struct stack *k, size_t settled)
{
    const size_t last = k->n - 1;
    int most = -1;
    double far = 0.02 * k->all[0];
    for (int i = 0; i < PLACES; i++) {
        const double d = fabs(k->held[i][last] - k->held[i][settled]);
        if (!(d > far))
            continue;
        far = d;
        most = i;
    }
    return most;
}

/* What happened to it, in a sentence. */
static void compose_title(const struct swh_plot_series *s, const struct stack *k, const struct swh_page *u,
                          char *out, size_t n)
{
    char mass[32], was[32];
    size_t settled = 0;
    const size_t last = k->n - 1;
    const double first = swh_series_value(s, 0, SWH_CH_charge), left = swh_series_last(s, SWH_CH_charge);
    while (settled < last && k->x[settled] < k->x[0] + fmin(240, 0.2 * (k->x[last] - k->x[0])))
        settled++;
    const int place = moved_most(k, settled);
    int c = 0;
    if (place >= 0) {
        const double a = k->held[place][settled], b = k->held[place][last];
        const bool many = strchr(places[place].words, ' ') != NULL; /* several parts */
        char words[64];
        snprintf(words, sizeof words, "%s", places[place].words);
        words[0] = (char)toupper((unsigned char)words[0]);
        c = snprintf(out, n, "%s %s from %s to %s", words,
                     b > a  ? (many ? "fill" : "fills")
                     : many ? "empty"
                            : "empties",
                     swh_page_value(u, SWH_Q_MASS, a, was, sizeof was),
                     swh_page_value(u, SWH_Q_MASS, b, mass, sizeof mass));
    } else
        c = snprintf(out, n,
                     "The charge of %s stays where it was: %.0f %% in the condenser, %.0f %% in receiver "
                     "and liquid line",
                     swh_page_value(u, SWH_Q_MASS, left, mass, sizeof mass),
                     100 * k->held[0][last] / k->all[last], 100 * k->held[1][last] / k->all[last]);
    if (left < 0.995 * first && c > 0 && (size_t)c < n)
        snprintf(out + c, n - (size_t)c, "; %.0f %% of the charge of %s was lost", 100 * (1 - left / first),
                 swh_page_value(u, SWH_Q_MASS, first, was, sizeof was));
}

/* Draws place number `place` on top of `low`, which it raises. */
static void draw_place(struct swh_panel *n, const struct stack *k, int place, double *low)
{
    char text[128];
    double high[WINDOWS];
    const struct swh_style edge = {"#ffffff", 1.2, "solid"}, sample = {places[place].colour, 8, "solid"};
    const size_t last = k->n - 1;
    for (size_t i = 0; i < k->n; i++)
        high[i] = low[i] + k->held[place][i];
    const struct swh_xy under = {k->n, {k->x, 1}, {low, 1}}, over = {k->n, {k->x, 1}, {high, 1}};
    const double share = k->held[place][last] / k->all[last];
    swh_panel_band(n, &under, &over.y, places[place].colour, 1);
    swh_panel_line(n, &over, &edge, NULL);
    snprintf(text, sizeof text, "%s %.0f %%", places[place].words, 100 * share);
    if (place < PLACES - 1 || share > 0.005)
        swh_panel_label(n, 0.5 * (low[last] + high[last]), text, &sample);
    memcpy(low, high, sizeof high);
}

enum swh_status swh_plot_charge(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                struct swh_error *err)
{
    struct swh_page page;
    struct swh_panel panel;
    struct stack stack;
    char title[300], subtitle[200];
    double low[WINDOWS] = {0};
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (!swh_charge_possible(s))
        return swh_error_set(err, SWH_ERR_INPUT, "charge: the run has no circuit, so no charge to show");
    swh_page_units(&page, o);
    collect(&stack, s);
    compose_title(s, &stack, &page, title, sizeof title);
    snprintf(subtitle, sizeof subtitle, "Where the refrigerant sits; %s", s->name);
    swh_page_begin(&page, o, 36 + 480 + 50, title, subtitle);
    swh_series_panel(&panel, &page, s, page.top + 30, page.top + 510, SWH_Q_MASS, "refrigerant");
    panel.right = 890;
    panel.foot = "time";
    panel.y.from = 0;
    for (int i = 0; i < PLACES; i++)
        draw_place(&panel, &stack, i, low);
    swh_panel_close(&panel);
    return swh_page_end(&page, "charge", err);
}
