/* Means over the clutch's cycles: what a reader sees of a compressor that goes on and off 150 times. */
#include "plots/pictures/series.h"

#include <math.h>

/* From so many engagements on a run is a cycling one. */
enum { MANY = 12 };

bool swh_series_cycling(const struct swh_plot_series *s)
{
    return swh_series_count(s, SWH_EV_clutch_on) >= MANY;
}

/* Mean time from one engagement to the next [s]. */
static double mean_cycle(const struct swh_plot_series *s)
{
    double first = NAN, last = NAN;
    for (size_t i = 0; i < s->event_count; i++) {
        if (s->event[i].event != SWH_EV_clutch_on)
            continue;
        last = s->event[i].time;
        if (isnan(first))
            first = last;
    }
    return (last - first) / (double)(swh_series_count(s, SWH_EV_clutch_on) - 1);
}

/* Adds edges from the last one to `to`: one, or several if the clutch stayed as it was for long. */
static size_t extend(double *edge, size_t n, size_t max, double to, double usual, double span)
{
    const double from = edge[n - 1], length = to - from;
    const size_t parts = length > 2.5 * usual ? (size_t)(60 * length / span) + 1 : 1;
    for (size_t k = 1; k <= parts && n <= max; k++)
        edge[n++] = k == parts ? to : from + length * (double)k / (double)parts;
    return n;
}

static size_t by_cycles(const struct swh_plot_series *s, double *edge, size_t max)
{
    const double span = swh_series_end(s) - swh_series_start(s);
    const size_t every = swh_series_count(s, SWH_EV_clutch_on) / (max / 3) + 1;
    const double usual = mean_cycle(s) * (double)every;
    size_t n = 1, seen = 0;
    for (size_t i = 0; i < s->event_count && n < max; i++) {
        const double t = s->event[i].time;
        if (s->event[i].event == SWH_EV_clutch_on && seen++ % every == 0 && t > edge[n - 1] + 0.1 * usual)
            n = extend(edge, n, max - 1, t, usual, span);
    }
    if (n > 2 && swh_series_end(s) - edge[n - 1] < 0.9 * usual) /* not a whole cycle any more */
        n--;
    return extend(edge, n, max, swh_series_end(s), usual, span) - 1;
}

size_t swh_series_windows(const struct swh_plot_series *s, double *edge, size_t max)
{
    const double start = swh_series_start(s), end = swh_series_end(s);
    edge[0] = start;
    if (swh_series_cycling(s))
        return by_cycles(s, edge, max);
    const size_t n = s->n - 1 < max ? s->n - 1 : max;
    for (size_t k = 1; k <= n; k++)
        edge[k] = start + (end - start) * (double)k / (double)n;
    return n;
}

void swh_series_middles(const double *edge, size_t n, double *x)
{
    for (size_t w = 0; w < n; w++)
        x[w] = 0.5 * (edge[w] + edge[w + 1]);
    x[0] = edge[0];
    x[n - 1] = edge[n];
}
