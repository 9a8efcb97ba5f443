/* Predicted against measured: the readings of a log over the model's lines, the differences below. */
#include "plots/pictures/series.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>

/* In the order in which they are wanted; the first two make the title. */
const enum swh_channel swh_compare_wanted[SWH_COMPARE_WANTED] = {SWH_CH_discharge_temperature,
                                                                 SWH_CH_shell_temperature,
                                                                 SWH_CH_vent_temperature,
                                                                 SWH_CH_suction_temperature,
                                                                 SWH_CH_cabin_temperature,
                                                                 SWH_CH_liquid_line_temperature,
                                                                 SWH_CH_discharge_pressure,
                                                                 SWH_CH_suction_pressure,
                                                                 SWH_CH_condenser_air_in_temperature,
                                                                 SWH_CH_condenser_air_out_temperature,
                                                                 SWH_CH_valve_inlet_temperature};

struct difference {
    enum swh_channel channel;
    double rms, bias; /* SI, predicted less measured */
    size_t n;
    double *time, *value; /* the differences, with a NaN where readings are missing for long */
    size_t points;
};

static double measured_at(const struct swh_plot_series *s, size_t row, enum swh_channel ch)
{
    return s->measured[row * SWH_CHANNEL_COUNT + (size_t)ch];
}

static double rms_of(const struct swh_plot_series *s, enum swh_channel ch)
{
    double squares = 0;
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++) {
        const double v = measured_at(s, i, ch) - swh_series_value(s, i, ch);
        if (!isfinite(v))
            continue;
        squares += v * v;
        n++;
    }
    return n > 0 ? sqrt(squares / (double)n) : 0;
}

/* What drives a replay is both read and computed with, and all but equal: nothing to compare. */
static bool compared(const struct swh_plot_series *s, enum swh_channel ch)
{
    if (!s->measured)
        return false;
    if (s->compared)
        return s->compared[ch] > 0 && rms_of(s, ch) > 0;
    if (ch == SWH_CH_suction_temperature)
        return false;
    return rms_of(s, ch) >
           (swh_channel_table[ch].quantity == SWH_Q_PRESSURE ? 0.5 * swh_channel_table[ch].sigma : 0);
}

static void summarise(struct difference *d)
{
    double sum = 0, squares = 0;
    for (size_t i = 0; i < d->points; i++) {
        if (isnan(d->value[i]))
            continue;
        sum += d->value[i];
        squares += d->value[i] * d->value[i];
        d->n++;
    }
    d->bias = sum / (double)d->n;
    d->rms = sqrt(squares / (double)d->n);
}

/* Mean time between two readings [s]. */
static double usual_spacing(const struct swh_plot_series *s, enum swh_channel ch)
{
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++)
        n += isfinite(measured_at(s, i, ch)) != 0;
    return (swh_series_end(s) - swh_series_start(s)) / (double)(n > 1 ? n - 1 : 1);
}

/* Collects the differences where both are known; false if memory ran out. */
static bool subtract(const struct swh_plot_series *s, enum swh_channel ch, struct difference *d)
{
    d->channel = ch;
    d->points = d->n = 0;
    d->time = malloc(2 * s->n * sizeof *d->time);
    d->value = malloc(2 * s->n * sizeof *d->value);
    if (!d->time || !d->value)
        return false;
    const double long_time = 8 * usual_spacing(s, ch);
    for (size_t i = 0; i < s->n; i++) {
        const double v = swh_series_value(s, i, ch) - measured_at(s, i, ch);
        const double t = swh_series_value(s, i, SWH_CH_time);
        if (!isfinite(v))
            continue;
        if (d->points > 0 && t - d->time[d->points - 1] > long_time) {
            d->time[d->points] = t;
            d->value[d->points++] = NAN;
        }
        d->time[d->points] = t;
        d->value[d->points++] = v;
    }
    summarise(d);
    return true;
}

struct comparison {
    struct difference d[SWH_COMPARE_WANTED];
    int count, temperatures;
};

static void forget(struct comparison *c)
{
    for (int i = 0; i < c->count; i++) {
        free(c->d[i].time);
        free(c->d[i].value);
    }
}

static bool collect(const struct swh_plot_series *s, struct comparison *c)
{
    c->count = c->temperatures = 0;
    for (int i = 0; i < SWH_COMPARE_WANTED; i++) {
        if (!compared(s, swh_compare_wanted[i]))
            continue;
        const bool good = subtract(s, swh_compare_wanted[i], &c->d[c->count++]);
        c->temperatures += swh_channel_table[swh_compare_wanted[i]].quantity == SWH_Q_TEMPERATURE;
        if (!good)
            return false;
    }
    return true;
}

bool swh_compare_possible(const struct swh_plot_series *s)
{
    for (int i = 0; i < SWH_COMPARE_WANTED; i++)
        if (compared(s, swh_compare_wanted[i]))
            return true;
    return false;
}

/* the quantity in which a difference of q is shown */
static enum swh_quantity difference_of(enum swh_quantity q)
{
    return q == SWH_Q_PRESSURE ? SWH_Q_PRESSURE_DIFFERENCE : SWH_Q_TEMPERATURE_DIFFERENCE;
}

/* What happened: on which side of its readings the prediction ran, of the two channels wanted most. */
static void compose_title(const struct comparison *c, const struct swh_page *u, char *out, size_t n)
{
    size_t k = 0;
    for (int i = 0; i < c->count && i < 2 && k < n; i++) {
        const struct difference *d = &c->d[i];
        const enum swh_quantity q = difference_of(swh_channel_table[d->channel].quantity);
        char words[64], rms[32], bias[32];
        swh_channel_words(d->channel, false, words, sizeof words);
        words[0] = (char)(i == 0 ? toupper((unsigned char)words[0]) : words[0]);
        swh_page_value(u, q, d->rms, rms, sizeof rms);
        swh_page_value(u, q, fabs(d->bias), bias, sizeof bias);
        const bool aside = fabs(d->bias) > 0.5 * d->rms;
        const int more = aside ? snprintf(out + k, n - k, "%s%s is predicted %s too %s (%s rms)",
                                          i ? "; " : "", words, bias, d->bias > 0 ? "high" : "low", rms)
                               : snprintf(out + k, n - k, "%s%s is predicted to %s rms, to neither side",
                                          i ? "; " : "", words, rms);
        k += more > 0 ? (size_t)more : 0;
    }
}

/* predicted lines over measured points */
static void draw_both(struct swh_panel *n, const struct swh_plot_series *s, const struct comparison *c,
                      enum swh_quantity q)
{
    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i < c->count; i++) {
            const enum swh_channel ch = c->d[i].channel;
            const struct swh_style style = swh_style((size_t)i);
            if (swh_channel_table[ch].quantity != q)
                continue;
            char words[64];
            swh_channel_words(ch, true, words, sizeof words);
            const struct swh_xy xy = pass == 0 ? swh_series_measured(s, ch) : swh_series_column(s, ch);
            if (pass == 0)
                swh_panel_points(n, &xy, &style, NULL);
            else
                swh_panel_swing(n, &xy, &style, words, false);
        }
}

static void draw_differences(struct swh_panel *n, const struct comparison *c, enum swh_quantity q)
{
    for (int i = c->count - 1; i >= 0; i--) {
        const struct difference *d = &c->d[i];
        if (swh_channel_table[d->channel].quantity != q)
            continue;
        char words[64], text[128];
        const double scale = n->page->scale[difference_of(q)], rms = scale * d->rms;
        const int digits = rms >= 10 ? 0 : rms >= 1 ? 1 : rms >= 0.1 ? 2 : 3;
        const struct swh_style style = swh_style((size_t)i);
        const struct swh_xy xy = {d->points, {d->time, 1}, {d->value, 1}};
        swh_channel_words(d->channel, true, words, sizeof words);
        snprintf(text, sizeof text, "%s %.*f, %+.*f", words, digits, rms, digits, scale * d->bias);
        swh_panel_noise(n, &xy, &style, text);
    }
    swh_panel_limit(n, 0, NULL, true);
}

/* One pair of panels from `top`; returns where the next may begin. */
static int draw_pair(struct swh_page *p, const struct swh_plot_series *s, const struct comparison *c,
                     enum swh_quantity q, int top, bool last)
{
    struct swh_panel panel;
    swh_series_panel(&panel, p, s, top, top + 330, q,
                     q == SWH_Q_PRESSURE ? "pressure (points: read, lines: predicted)"
                                         : "temperature (points: read, lines: predicted)");
    draw_both(&panel, s, c, q);
    swh_panel_close(&panel);
    swh_series_panel(&panel, p, s, top + 380, top + 530, difference_of(q),
                     "predicted less read (labels: rms, mean)");
    panel.foot = last ? "time" : NULL;
    draw_differences(&panel, c, q);
    swh_panel_close(&panel);
    return top + 590;
}

static enum swh_status draw(const struct swh_plot_series *s, const struct comparison *c,
                            const struct swh_plot_options *o, struct swh_error *err)
{
    struct swh_page page;
    char title[300], subtitle[200];
    const bool both = c->temperatures > 0 && c->temperatures < c->count;
    swh_page_units(&page, o);
    compose_title(c, &page, title, sizeof title);
    snprintf(subtitle, sizeof subtitle, "Predicted against measured; %s", s->name);
    const int strips = swh_strips_height(s);
    swh_page_begin(&page, o, 40 + (both ? 1180 : 590) + strips, title, subtitle);
    int top = page.top + 30;
    if (c->temperatures > 0)
        top = draw_pair(&page, s, c, SWH_Q_TEMPERATURE, top, !both);
    if (c->temperatures < c->count)
        top = draw_pair(&page, s, c, SWH_Q_PRESSURE, top, true);
    swh_strips(&page, s, top - 16);
    return swh_page_end(&page, "predicted_measured", err);
}

enum swh_status swh_plot_predicted_measured(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                            struct swh_error *err)
{
    struct comparison c;
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    enum swh_status status = SWH_OK;
    if (!collect(s, &c))
        status = swh_error_set(err, SWH_ERR_MEMORY, "no memory left for a picture");
    else if (c.count == 0)
        status =
            swh_error_set(err, SWH_ERR_INPUT, "predicted_measured: no reading to compare a prediction with");
    else
        status = draw(s, &c, o, err);
    forget(&c);
    return status;
}
