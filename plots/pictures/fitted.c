/* A fit: the readings of a log, the model with the fitted parameters and before them, and the part of the log
 * that the fit did not see. */
#include "plots/pictures/series.h"

#include <math.h>
#include <string.h>

enum { GAP = 64, ESTIMATE_LINE = 24, MEANS = 64 };

static const struct swh_style style_fitted = {"#D55E00", 2.6, "solid"};
static const struct swh_style style_before = {"#0072B2", 1.8, "(10,5)"};
static const struct swh_style style_read = {"#777777", 1.2, "solid"};

static bool shown(const struct swh_plot_series *s, enum swh_channel ch)
{
    return s->fit && s->measured && isfinite(s->fit->rms[ch]) && swh_series_has_measured(s, ch) &&
           swh_series_has(s, ch);
}

static int count_shown(const struct swh_plot_series *s)
{
    int n = 0;
    for (int i = 0; i < SWH_COMPARE_WANTED; i++)
        n += shown(s, swh_compare_wanted[i]);
    return n;
}

bool swh_fitted_possible(const struct swh_plot_series *s)
{
    return count_shown(s) > 0;
}

static const char *difference_text(const struct swh_page *u, enum swh_channel ch, double v, char *out,
                                   size_t n)
{
    const bool pressure = swh_channel_table[ch].quantity == SWH_Q_PRESSURE;
    return swh_page_value(u, pressure ? SWH_Q_PRESSURE_DIFFERENCE : SWH_Q_TEMPERATURE_DIFFERENCE, v, out, n);
}

/* The compressor's own temperatures first: they are what the program is about. */
static void compose_title(const struct swh_plot_series *s, const struct swh_page *u, char *out, size_t n)
{
    const struct swh_plot_fit *f = s->fit;
    int said = 0, k = snprintf(out, n, "%s fitted: ", f->what);
    for (int i = 0; i < SWH_COMPARE_WANTED && said < 2 && k >= 0 && (size_t)k < n; i++) {
        char words[64], rms[32], hidden[32];
        const enum swh_channel ch = swh_compare_wanted[i];
        if (!shown(s, ch))
            continue;
        swh_channel_words(ch, false, words, sizeof words);
        difference_text(u, ch, f->rms[ch], rms, sizeof rms);
        k += snprintf(out + k, n - (size_t)k, said ? ", %s within %s" : "%s within %s rms of the readings",
                      words, rms);
        if (isfinite(f->hidden_rms[ch]) && k >= 0 && (size_t)k < n)
            k += snprintf(out + k, n - (size_t)k, " (unseen part %s)",
                          difference_text(u, ch, f->hidden_rms[ch], hidden, sizeof hidden));
        said++;
    }
}

/* ---- panels ---- */

/* The range of what the fit looked at or was kept from; the start, where refrigerant sorts itself out, may
 * run off the panel. */
static void reach(const struct swh_plot_fit *f, const struct swh_xy *xy, double *lo, double *hi)
{
    for (size_t i = 0; i < xy->n; i++) {
        if (xy->x.at[i * xy->x.stride] < f->seen_from)
            continue;
        *lo = fmin(*lo, xy->y.at[i * xy->y.stride]); /* fmin and fmax ignore a NaN */
        *hi = fmax(*hi, xy->y.at[i * xy->y.stride]);
    }
}

/* a part that the fit did not look at, grey from the bottom to the top of the panel */
static void draw_hidden(struct swh_panel *n, double from, double to, double lo, double hi)
{
    const double x[2] = {from, to}, low[2] = {lo, lo}, high[2] = {hi, hi};
    const struct swh_xy under = {2, {x, 1}, {low, 1}};
    const struct swh_column over = {high, 1};
    if (!(x[1] > x[0]))
        return;
    swh_panel_band(n, &under, &over, "#000000", 0.08);
}

static void label(struct swh_panel *n, const struct swh_xy *xy, const char *word, enum swh_channel ch,
                  double rms, const struct swh_style *style)
{
    char value[32], text[64];
    double y = NAN;
    for (size_t i = xy->n; i-- > 0 && !isfinite(y);)
        y = xy->y.at[i * xy->y.stride];
    if (!isfinite(rms))
        return;
    snprintf(text, sizeof text, "%s %s", word, difference_text(n->page, ch, rms, value, sizeof value));
    swh_panel_label(n, y, text, style);
}

/* Whether the clutch goes on so often that single readings would only be a cloud. */
static bool by_means(const struct swh_plot_series *s)
{
    enum { MANY = 12 };
    int rises = 0;
    double before = NAN;
    for (size_t i = 0; i < s->n; i++) {
        const double clutch = s->measured[i * SWH_CHANNEL_COUNT + SWH_CH_clutch];
        rises += before < 0.5 && clutch >= 0.5;
        before = isnan(clutch) ? before : clutch;
    }
    return rises >= MANY && s->fit->window > 0;
}

/* What the fit compares: means over its windows, of the moments that were read. Drawn where the clutch goes
 * on and off, and single readings are only a cloud. */
struct means {
    double x[MEANS], read[MEANS], model[MEANS], before[MEANS];
    size_t n;
};

static void take_means(const struct swh_plot_series *s, enum swh_channel ch, struct means *m)
{
    const struct swh_plot_fit *f = s->fit;
    int count[MEANS] = {0};
    memset(m, 0, sizeof *m);
    for (size_t i = 0; i < s->n; i++) {
        const size_t at = i * SWH_CHANNEL_COUNT + (size_t)ch;
        const double t = swh_series_value(s, i, SWH_CH_time) - f->seen_from;
        const double read = s->measured[at], model = s->value[at];
        const double k = floor(t / f->window);
        if (!(k >= 0 && k < MEANS) || !isfinite(read) || !isfinite(model))
            continue;
        count[(int)k]++;
        m->read[(int)k] += read;
        m->model[(int)k] += model;
        m->before[(int)k] += f->before ? f->before[at] : NAN;
        m->n = (size_t)k + 1;
    }
    for (size_t k = 0; k < m->n; k++) {
        m->x[k] = f->seen_from + ((double)k + 0.5) * f->window;
        m->read[k] /= count[k]; /* none: NaN, a gap */
        m->model[k] /= count[k];
        m->before[k] /= count[k];
    }
}

/* The curves of one channel: readings, model, model before the fit (n = 0: none). */
struct curves {
    struct swh_xy read, model, before;
};

static struct curves curves_of(const struct swh_plot_series *s, enum swh_channel ch, struct means *m)
{
    struct curves c = {swh_series_measured(s, ch), swh_series_column(s, ch), swh_series_column(s, ch)};
    if (by_means(s)) {
        take_means(s, ch, m);
        c.read = (struct swh_xy){m->n, {m->x, 1}, {m->read, 1}};
        c.model = (struct swh_xy){m->n, {m->x, 1}, {m->model, 1}};
        c.before = (struct swh_xy){m->n, {m->x, 1}, {m->before, 1}};
    } else if (s->fit->before)
        c.before.y.at = s->fit->before + (size_t)ch;
    if (!s->fit->before)
        c.before.n = 0;
    return c;
}

static void draw_curves(struct swh_panel *n, const struct swh_plot_series *s, enum swh_channel ch,
                        const struct curves *c)
{
    const struct swh_plot_fit *f = s->fit;
    swh_panel_points(n, &c->read, &style_read, NULL);
    swh_panel_swing(n, &c->before, &style_before, NULL, false);
    swh_panel_swing(n, &c->model, &style_fitted, NULL, false);
    label(n, &c->before, "before", ch, f->before_rms[ch], &style_before);
    label(n, &c->model, "fitted", ch, f->rms[ch], &style_fitted);
    label(n, &c->model, "not seen", ch, f->hidden_rms[ch], &style_fitted);
}

static void draw_channel(struct swh_page *p, const struct swh_plot_series *s, enum swh_channel ch, int top,
                         int height, bool first, bool last)
{
    struct swh_panel n;
    struct means means;
    char words[64];
    double lo = INFINITY, hi = -INFINITY;
    const struct swh_plot_fit *f = s->fit;
    const enum swh_quantity q = swh_channel_table[ch].quantity;
    const struct curves c = curves_of(s, ch, &means);
    reach(f, &c.read, &lo, &hi);
    reach(f, &c.model, &lo, &hi);
    reach(f, &c.before, &lo, &hi);
    const double room = 0.06 * (hi - lo) + 1e-9 * fabs(hi);
    swh_channel_words(ch, false, words, sizeof words);
    swh_series_panel(&n, p, s, top, top + height, q, words);
    n.y.from = swh_page_shown(p, q, lo - room);
    n.y.to = swh_page_shown(p, q, hi + room);
    n.foot = last ? "time" : NULL;
    n.foot_below = true; /* labels may reach down to the axis */
    draw_hidden(&n, swh_series_start(s), f->seen_from, lo - room, hi + room);
    draw_hidden(&n, f->hidden_from, swh_series_end(s), lo - room, hi + room);
    draw_curves(&n, s, ch, &c);
    if (isfinite(f->hidden_from))
        swh_panel_vertical(&n, f->hidden_from, &swh_style_limit);
    swh_panel_close(&n);
    if (first && swh_series_end(s) > f->hidden_from)
        swh_page_text(p, swh_panel_pixel(&n, f->hidden_from) + 6, top - 14, "left",
                      "grey: not seen by the fit", "textcolor rgb '#333333'");
}

/* ---- page ---- */

static void put_estimates(struct swh_page *p, const struct swh_plot_fit *f, int top)
{
    if (f->lines == 0)
        return;
    swh_page_bold(p, 28, top, "left", "Fitted, with 95 % intervals", 12);
    for (size_t i = 0; i < f->lines; i++)
        swh_page_text(p, i % 2 ? 720 : 28, top + 28 + ESTIMATE_LINE * (double)(i / 2), "left", f->line[i],
                      NULL);
}

static enum swh_status draw(const struct swh_plot_series *s, const struct swh_plot_options *o,
                            struct swh_error *err)
{
    struct swh_page page;
    char title[400], subtitle[240], name[160] = "fitted";
    const struct swh_plot_fit *f = s->fit;
    const int panels = count_shown(s), height = panels <= 2 ? 280 : panels <= 4 ? 190 : 130;
    const int below = f->lines > 0 ? 60 + ESTIMATE_LINE * (int)((f->lines + 1) / 2) : 0;
    swh_page_units(&page, o);
    compose_title(s, &page, title, sizeof title);
    snprintf(subtitle, sizeof subtitle, "%s; circles: read, line: fitted%s%s; numbers: rms of window means",
             s->name, f->before ? ", dashed: before the fit" : "",
             by_means(s) ? "; drawn as window means, because the clutch cycles" : "");
    swh_page_begin(&page, o, 40 + panels * (height + GAP) + below, title, subtitle);
    int top = page.top + 34, left = panels;
    for (int i = 0; i < SWH_COMPARE_WANTED; i++) {
        if (!shown(s, swh_compare_wanted[i]))
            continue;
        draw_channel(&page, s, swh_compare_wanted[i], top, height, left == panels, left == 1);
        left--;
        top += height + GAP;
    }
    put_estimates(&page, f, top + 20);
    if (f->suffix)
        snprintf(name, sizeof name, "fitted-%s", f->suffix);
    return swh_page_end(&page, name, err);
}

enum swh_status swh_plot_fitted(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                struct swh_error *err)
{
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (!swh_fitted_possible(s))
        return swh_error_set(err, SWH_ERR_INPUT, "fitted: no fit, or no reading that it compared");
    return draw(s, o, err);
}
