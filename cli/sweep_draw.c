/* Pictures of a sweep. */
#include "cli/sweep_result.h"

#include "plots/plots.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static double shown(enum swh_quantity quantity, bool trade, double si, void *user)
{
    return swh_units_show(user, trade ? SWH_SHOW_TRADE : SWH_SHOW_SI, quantity, si);
}

static struct swh_plot_options options_of(const struct swh_sweep_result *r, const struct swh_session *session)
{
    const char *format = swh_option_value(session, SWH_OPT_plot);
    struct swh_plot_options o = {.format = format ? (enum swh_plot_format)swh_plot_format_find(format)
                                                  : SWH_PLOT_PNG,
                                 .folder = r->folder,
                                 .trade = swh_session_show(session) == SWH_SHOW_TRADE,
                                 .shown = shown,
                                 .user = session->units};
    swh_plot_limits_default(&o.limits, &r->sweep->base->params);
    return o;
}

static bool seized(const struct swh_sweep_row *row)
{
    return row->result == SWH_CASE_SHOE_SEIZED || row->result == SWH_CASE_BORE_SEIZED;
}

static long seizures(const struct swh_sweep_result *r)
{
    return r->count[SWH_CASE_SHOE_SEIZED] + r->count[SWH_CASE_BORE_SEIZED];
}

static void words(const char *name, char *out, size_t size)
{
    snprintf(out, size, "%s", name);
    for (char *p = out; *p; p++)
        if (*p == '_' || *p == '.')
            *p = ' ';
}

struct labels {
    char title[256], x[64], y[64], z[64];
    struct swh_sweep_column column;
};

static void make_labels(const struct swh_sweep_result *r, struct labels *l)
{
    swh_sweep_column_describe(r->column, &l->column);
    words(l->column.name, l->z, sizeof l->z);
    words(r->sweep->key[0].name, l->x, sizeof l->x);
    words(r->sweep->plan.axes > 1 ? r->sweep->key[1].name : "", l->y, sizeof l->y);
    snprintf(l->title, sizeof l->title, "%.120s: %ld of %ld cases seize", r->name, seizures(r),
             r->sweep->plan.count);
}

/* the picture shows numbers of what survived; a seizure is a gap (unless the column is about it) */
static double drawn(const struct swh_sweep_result *r, long k)
{
    const double value = swh_sweep_column_value(&r->rows[k], r->column);
    return seized(&r->rows[k]) && r->column != 0 ? NAN : value;
}

static enum swh_status draw_curve(const struct swh_sweep_result *r, const struct labels *l,
                                  const struct swh_plot_options *o, struct swh_error *err)
{
    const long n = r->sweep->plan.count;
    double *x = malloc(2 * (size_t)n * sizeof *x);
    if (!x)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a picture");
    double *y = x + n;
    for (long k = 0; k < n; k++) {
        x[k] = r->rows[k].input[0];
        y[k] = drawn(r, k);
    }
    const struct swh_plot_curve curve = {.label = l->z, .n = (size_t)n, .x = x, .y = y};
    const struct swh_plot_curves c = {.name = "sweep",
                                      .title = l->title,
                                      .subtitle = "cases that seize are left out",
                                      .x = {l->x, r->sweep->key[0].quantity, NAN, NAN},
                                      .y = {l->z, l->column.quantity, NAN, NAN},
                                      .curve = &curve,
                                      .curves = 1};
    const enum swh_status status = swh_plot_curves(&c, o, err);
    free(x);
    return status;
}

static enum swh_status draw_map(const struct swh_sweep_result *r, const struct labels *l,
                                const struct swh_plot_options *o, struct swh_error *err)
{
    const long nx = r->sweep->plan.range[0].n, ny = r->sweep->plan.range[1].n;
    double *memory = malloc((size_t)(nx + ny + nx * ny) * sizeof *memory);
    if (!memory)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a picture");
    double *x = memory, *y = x + nx, *z = y + ny;
    for (long i = 0; i < nx; i++)
        for (long j = 0; j < ny; j++) {
            const long k = i * ny + j; /* the last axis runs fastest */
            x[i] = r->rows[k].input[0];
            y[j] = r->rows[k].input[1];
            z[j * nx + i] = drawn(r, k);
        }
    const struct swh_plot_map map = {.name = "sweep",
                                     .title = l->title,
                                     .x = {l->x, r->sweep->key[0].quantity, NAN, NAN},
                                     .y = {l->y, r->sweep->key[1].quantity, NAN, NAN},
                                     .z = {l->z, l->column.quantity, NAN, NAN},
                                     .nx = (size_t)nx,
                                     .ny = (size_t)ny,
                                     .x_at = x,
                                     .y_at = y,
                                     .z_at = z,
                                     .missing = r->column == 0 ? "does not seize" : "seizes"};
    const enum swh_status status = swh_plot_map(&map, o, err);
    free(memory);
    return status;
}

static enum swh_status draw_bars(const struct swh_sweep_result *r, const struct labels *l,
                                 const struct swh_plot_options *o, struct swh_error *err)
{
    const bool sobol = r->sweep->plan.design == SWH_DESIGN_SALTELLI;
    struct swh_plot_bar bar[SWH_SAMPLE_AXES];
    const int n = r->sweep->plan.axes;
    int best = 0;
    for (int i = 0; i < n; i++) {
        const double value = sobol ? r->sobol[i].total : r->rank[i];
        const double error = sobol ? 1.96 * r->sobol[i].total_error : NAN;
        bar[i] = (struct swh_plot_bar){.label = r->sweep->key[i].name,
                                       .value = isfinite(value) ? value : 0,
                                       .low = value - error,
                                       .high = value + error};
        best = fabs(bar[i].value) > fabs(bar[best].value) ? i : best;
    }
    bar[best].strong = true;
    char title[256];
    snprintf(title, sizeof title, "%s moves %s most", r->sweep->key[best].name, l->z);
    const struct swh_plot_bars bars = {
        .name = "sensitivities",
        .title = title,
        .subtitle = l->title,
        .x = {sobol ? "share of the variance (total Sobol index)" : "rank correlation (Spearman)", SWH_Q_NONE,
              NAN, NAN},
        .bar = bar,
        .bars = (size_t)n};
    return swh_plot_bars(&bars, o, err);
}

enum swh_status swh_sweep_result_draw(const struct swh_sweep_result *r, const struct swh_session *session,
                                      struct swh_error *err)
{
    const struct swh_plot_options o = options_of(r, session);
    if (o.format == SWH_PLOT_NONE)
        return SWH_OK;
    const struct swh_plan *plan = &r->sweep->plan;
    struct labels l;
    make_labels(r, &l);
    const bool grid = plan->design == SWH_DESIGN_GRID;
    enum swh_status status = SWH_OK;
    struct swh_error inside = {0};
    if (grid && plan->axes == 1 && plan->count > 1)
        status = draw_curve(r, &l, &o, &inside);
    else if (grid && plan->axes == 2 && plan->range[0].n > 1 && plan->range[1].n > 1)
        status = draw_map(r, &l, &o, &inside);
    else if (!grid || plan->axes > 2)
        status = draw_bars(r, &l, &o, &inside);
    if (status == SWH_OK || status == SWH_ERR_INPUT) /* nothing finite to draw is no failure of the sweep */
        return SWH_OK;
    if (err && err->status == SWH_OK)
        *err = inside;
    return status;
}
