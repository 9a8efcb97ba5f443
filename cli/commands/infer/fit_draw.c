/* Pictures of a fit, one for each log. */
#include "cli/commands/infer/fit_draw.h"

#include "cli/base/frame.h"
#include "solver/infer/drive_change.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LINES = 12 };

struct drawing {
    double *trace, *value, *before, *measured; /* rows x SWH_COMPARED; rows x SWH_CHANNEL_COUNT */
    char text[LINES][128], what[200], stem[96];
    const char *line[LINES];
    struct swh_plot_fit fit;
};

static void drawing_free(struct drawing *d)
{
    free(d->trace);
    free(d->value);
    free(d->before);
    free(d->measured);
    free(d);
}

static struct drawing *drawing_new(size_t rows)
{
    const size_t cells = rows * SWH_CHANNEL_COUNT;
    struct drawing *d = calloc(1, sizeof *d);
    if (!d)
        return NULL;
    d->trace = malloc(rows * SWH_COMPARED * sizeof(double));
    d->value = malloc(cells * sizeof(double));
    d->before = malloc(cells * sizeof(double));
    d->measured = malloc(cells * sizeof(double));
    if (d->trace && d->value && d->before && d->measured)
        return d;
    drawing_free(d);
    return NULL;
}

/* A gap parts the line: the model ran through it, but nobody knows on what. */
static void lay_trace(const struct swh_log_memory *log, const double *trace, double *value)
{
    const double gap = swh_log_gap(log);
    double last = INFINITY;
    for (size_t i = 0; i < log->rows; i++) {
        double *v = value + i * SWH_CHANNEL_COUNT;
        for (int ch = 0; ch < SWH_CHANNEL_COUNT; ch++)
            v[ch] = NAN;
        v[SWH_CH_time] = log->row[i].value[SWH_CH_time];
        for (int k = 0; k < SWH_COMPARED && v[SWH_CH_time] - last <= gap; k++)
            v[swh_compared[k]] = trace[i * SWH_COMPARED + (size_t)k];
        last = v[SWH_CH_time];
    }
}

static enum swh_status run_both(const struct swh_fit_drawing *q, int log, struct drawing *d,
                                struct swh_error *err)
{
    const struct swh_log_memory *m = &q->request->log[log];
    enum swh_status status = swh_fit_trace(q->request, &q->result->params, log, d->trace, err);
    if (status != SWH_OK)
        return status;
    lay_trace(m, d->trace, d->value);
    status = swh_fit_trace(q->request, &q->request->vehicle->params, log, d->trace, err);
    if (status != SWH_OK)
        return status;
    lay_trace(m, d->trace, d->before);
    for (size_t i = 0; i < m->rows; i++)
        memcpy(d->measured + i * SWH_CHANNEL_COUNT, m->row[i].value, sizeof m->row[i].value);
    return SWH_OK;
}

/* ---- words ---- */

/* "valve.area, condenser.ua_air and evaporator.air", or their number if they are many */
static void say_what(const struct swh_fit_result *r, struct drawing *d)
{
    if (r->estimates > 3) {
        snprintf(d->what, sizeof d->what, "%d parameters", r->estimates);
        return;
    }
    for (int i = 0; i < r->estimates; i++) {
        const size_t used = strlen(d->what);
        snprintf(d->what + used, sizeof d->what - used, "%s%s",
                 i == 0                  ? ""
                 : i + 1 == r->estimates ? " and "
                                         : ", ",
                 swh_param_table[r->estimate[i].param].name);
    }
}

static void say_estimates(const struct swh_fit_drawing *q, struct drawing *d)
{
    const struct swh_fit_result *r = q->result;
    const struct swh_units *u = q->judge->frame.session->units;
    for (int i = 0; i < r->estimates && d->fit.lines < LINES; i++) {
        const struct swh_fit_estimate *e = &r->estimate[i];
        const struct swh_param_info *p = &swh_param_table[e->param];
        const size_t k = d->fit.lines++;
        const double x[3] = {swh_param_shown(u, e->param, e->value), swh_param_shown(u, e->param, e->low),
                             swh_param_shown(u, e->param, e->high)};
        snprintf(d->text[k], sizeof d->text[k], "%s  %.4g%s%s  (%.3g to %.3g)%s", p->name, x[0],
                 p->quantity == SWH_Q_NONE ? "" : " ", p->quantity == SWH_Q_NONE ? "" : p->unit, x[1], x[2],
                 e->held                      ? "  not told: as it was"
                 : e->at_lower || e->at_upper ? "  at its limit"
                                              : "");
        if (k + 1 == LINES && i + 1 < r->estimates)
            snprintf(d->text[k], sizeof d->text[k], "and %d more, in fit.json", r->estimates - i);
        d->line[k] = d->text[k];
    }
    d->fit.line = d->line;
}

static void say_rms(const struct swh_fit_log *log, struct swh_plot_fit *fit)
{
    for (int ch = 0; ch < SWH_CHANNEL_COUNT; ch++)
        fit->rms[ch] = fit->hidden_rms[ch] = fit->before_rms[ch] = NAN;
    for (int k = 0; k < SWH_COMPARED; k++) {
        fit->rms[swh_compared[k]] = log->rms[k];
        fit->hidden_rms[swh_compared[k]] = log->holdout_rms[k];
        fit->before_rms[swh_compared[k]] = log->before[k];
    }
    fit->seen_from = log->seen_from;
    fit->window = log->window;
    fit->hidden_from = log->hidden_from;
}

/* Several logs have a picture each, called after the log, and after its number where two are called alike. */
static void name_picture(const struct swh_fit_drawing *q, int log, struct drawing *d)
{
    const struct swh_log_command *judge = q->judge;
    bool twice = false;
    char other[96];
    swh_stem(judge->log_name[log], d->stem, sizeof d->stem - 8);
    for (int i = 0; i < judge->logs; i++) {
        swh_stem(judge->log_name[i], other, sizeof other - 8);
        twice |= i != log && strcmp(other, d->stem) == 0;
    }
    const size_t used = strlen(d->stem);
    if (twice)
        snprintf(d->stem + used, sizeof d->stem - used, "-%d", log + 1);
    d->fit.suffix = q->request->logs > 1 ? d->stem : NULL;
}

/* ---- drawing ---- */

static enum swh_status draw_log(const struct swh_fit_drawing *q, int log, struct drawing *d,
                                const struct swh_plot_options *o, struct swh_error *err)
{
    const struct swh_log_memory *m = &q->request->log[log];
    const enum swh_status status = run_both(q, log, d, err);
    if (status != SWH_OK)
        return status;
    say_what(q->result, d);
    say_estimates(q, d);
    say_rms(&q->result->log[log], &d->fit);
    name_picture(q, log, d);
    d->fit.what = d->what;
    d->fit.before = d->before;
    const struct swh_plot_series series = {.name = d->stem,
                                           .refrigerant = swh_case_refrigerant(q->request->vehicle),
                                           .n = m->rows,
                                           .value = d->value,
                                           .measured = d->measured,
                                           .fit = &d->fit};
    return swh_plot_fitted(&series, o, err);
}

enum swh_status swh_fit_draw(const struct swh_fit_drawing *q, struct swh_error *err)
{
    const struct swh_plot_options o =
        swh_frame_plot_options(q->judge->frame.session, q->judge->frame.folder, &q->result->params);
    enum swh_status status = SWH_OK;
    for (int log = 0; log < q->request->logs && status == SWH_OK && o.format != SWH_PLOT_NONE; log++) {
        struct drawing *d = drawing_new(q->request->log[log].rows);
        if (!d)
            return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the pictures");
        status = draw_log(q, log, d, &o, err);
        drawing_free(d);
    }
    return status == SWH_OK ? SWH_OK : swh_frame_no_pictures("fit.json and vehicle.ini", err);
}
