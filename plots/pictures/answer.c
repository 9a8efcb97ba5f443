/* The answer of a run in one sentence, for titles. */
#include "plots/pictures/series.h"

#include <math.h>
#include <string.h>

static void shoe(const struct swh_plot_series *s, const struct swh_page *u, double time, char *out, size_t n)
{
    char when[32], contact[32];
    snprintf(out, n, "A shoe welds to the plate after %s: contact temperature reached %s",
             swh_time_words(time, when, sizeof when),
             swh_page_value(u, SWH_Q_TEMPERATURE, swh_series_peak(s, SWH_CH_contact_temperature), contact,
                            sizeof contact));
}

static void bore(const struct swh_plot_series *s, const struct swh_page *u, double time, char *out, size_t n)
{
    char when[32], gap[32];
    snprintf(out, n, "A piston seizes in its bore after %s: running clearance closed to %s",
             swh_time_words(time, when, sizeof when),
             swh_page_value(u, SWH_Q_LENGTH, swh_series_least(s, SWH_CH_running_clearance), gap, sizeof gap));
}

static void alive(const struct swh_plot_series *s, const struct swh_page *u, const struct swh_plot_limits *l,
                  char *out, size_t n)
{
    char span[32], hot[32], below[32];
    const double contact = swh_series_peak(s, SWH_CH_contact_temperature);
    const double discharge = swh_series_peak(s, SWH_CH_discharge_temperature);
    const size_t opened = swh_series_count(s, SWH_EV_high_pressure_open);
    swh_time_words(swh_series_end(s) - swh_series_start(s), span, sizeof span);
    int k = opened > 0
                ? snprintf(out, n, "Kept alive by the high-pressure switch, which opened %zu time%s in %s",
                           opened, opened == 1 ? "" : "s", span)
                : snprintf(out, n, "The compressor survives %s", span);
    if (isfinite(contact) && isfinite(l->weld_temperature) && k > 0 && (size_t)k < n)
        snprintf(out + k, n - (size_t)k, ": shoe contact peaks at %s, %s below welding",
                 swh_page_value(u, SWH_Q_TEMPERATURE, contact, hot, sizeof hot),
                 swh_page_value(u, SWH_Q_TEMPERATURE_DIFFERENCE, l->weld_temperature - contact, below,
                                sizeof below));
    else if (isfinite(discharge) && k > 0 && (size_t)k < n)
        snprintf(out + k, n - (size_t)k, ": discharge peaks at %s",
                 swh_page_value(u, SWH_Q_TEMPERATURE, discharge, hot, sizeof hot));
}

void swh_series_answer(const struct swh_plot_series *s, const struct swh_page *units,
                       const struct swh_plot_limits *l, char *out, size_t n)
{
    const struct swh_plot_event *welded = swh_series_event(s, SWH_EV_shoe_seizure);
    const struct swh_plot_event *scuffed = swh_series_event(s, SWH_EV_bore_seizure);
    if (s->outcome && s->outcome[0])
        snprintf(out, n, "%s", s->outcome);
    else if (welded && (!scuffed || welded->time <= scuffed->time))
        shoe(s, units, welded->time, out, n);
    else if (scuffed)
        bore(s, units, scuffed->time, out, n);
    else
        alive(s, units, l, out, n);
}
