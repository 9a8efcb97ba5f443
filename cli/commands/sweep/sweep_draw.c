/* Pictures of a sweep. */
#include "cli/commands/sweep/sweep_result.h"

#include "cli/base/frame.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static bool seized(const struct swh_sweep_row *row)
{
    return row->result == SWH_CASE_SHOE_SEIZED || row->result == SWH_CASE_BORE_SEIZED ||
           row->result == SWH_CASE_OVERHEATED || row->result == SWH_CASE_BURST;
}

static long seizures(const struct swh_sweep_result *r)
{
    return r->count[SWH_CASE_SHOE_SEIZED] + r->count[SWH_CASE_BORE_SEIZED] + r->count[SWH_CASE_OVERHEATED] +
           r->count[SWH_CASE_BURST];
}

struct labels {
    char title[256], subtitle[256], x[64], y[64], z[64];
    struct swh_sweep_column column;
};

static void make_labels(const struct swh_sweep_result *r, struct labels *l)
{
    swh_sweep_column_describe(r->column, &l->column);
    swh_frame_words(l->column.name, l->z, sizeof l->z);
    swh_frame_words(r->sweep->key[0].name, l->x, sizeof l->x);
    swh_frame_words(r->sweep->plan.axes > 1 ? r->sweep->key[1].name : "", l->y, sizeof l->y);
    snprintf(l->subtitle, sizeof l->subtitle, "%.200s; what is varied differs", r->name);
    const int n = snprintf(l->title, sizeof l->title, "%ld of %ld cases seize within %.0f min", seizures(r),
                           r->sweep->plan.count, swh_sweep_result_time(r) / 60);
    if (r->count[SWH_CASE_PROTECTED] > 0)
        snprintf(l->title + n, sizeof l->title - (size_t)n, ", a switch or relief valve protects %ld",
                 r->count[SWH_CASE_PROTECTED]);
}

/* the picture shows numbers of what survived; a seizure is a gap (unless the column is about it) */
static double drawn(const struct swh_sweep_result *r, long k)
{
    const double value = swh_sweep_column_value(&r->rows[k], r->column);
    return seized(&r->rows[k]) && r->column != 0 ? NAN : value;
}

enum { MOST = 16 }; /* of marks and lines in one curve */

/* a line between neighbours of which one seizes */
static size_t lines_of(const struct swh_sweep_result *r, struct swh_plot_line line[MOST])
{
    size_t n = 0;
    for (long k = 1; k < r->sweep->plan.count && n < MOST; k++) {
        const bool here = seized(&r->rows[k]);
        if (here != seized(&r->rows[k - 1]))
            line[n++] = (struct swh_plot_line){0.5 * (r->rows[k - 1].input[0] + r->rows[k].input[0]), NAN,
                                               here ? "seizes to the right" : "seizes to the left"};
    }
    return n;
}

/* a point where a switch or valve stepped in; the first says so */
static size_t marks_of(const struct swh_sweep_result *r, const double *x, const double *y,
                       struct swh_plot_mark mark[MOST])
{
    size_t n = 0;
    for (long k = 0; k < r->sweep->plan.count && n < MOST; k++)
        if (r->rows[k].result == SWH_CASE_PROTECTED && isfinite(y[k])) {
            mark[n] = (struct swh_plot_mark){x[k], y[k], n ? "" : "protected"};
            n++;
        }
    return n;
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
    struct swh_plot_line line[MOST];
    struct swh_plot_mark mark[MOST];
    const struct swh_plot_curve curve = {.label = l->z, .n = (size_t)n, .x = x, .y = y};
    const struct swh_plot_curves c = {.name = "sweep",
                                      .title = l->title,
                                      .subtitle = l->subtitle,
                                      .x = {l->x, r->sweep->key[0].quantity, NAN, NAN},
                                      .y = {l->z, l->column.quantity, NAN, NAN},
                                      .curve = &curve,
                                      .curves = 1,
                                      .mark = mark,
                                      .marks = marks_of(r, x, y, mark),
                                      .line = line,
                                      .lines = lines_of(r, line)};
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
                                     .subtitle = l->subtitle,
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

static int longest_first(const void *a, const void *b)
{
    const double x = fabs(((const struct swh_plot_bar *)a)->value),
                 y = fabs(((const struct swh_plot_bar *)b)->value);
    return (x < y) - (x > y);
}

static enum swh_status draw_bars(const struct swh_sweep_result *r, const struct labels *l,
                                 const struct swh_plot_options *o, struct swh_error *err)
{
    const bool sobol = r->sweep->plan.design == SWH_DESIGN_SALTELLI;
    struct swh_plot_bar bar[SWH_SAMPLE_AXES];
    char label[SWH_SAMPLE_AXES][64];
    const int n = r->sweep->plan.axes;
    for (int i = 0; i < n; i++) {
        const double value = sobol ? r->sobol[i].total : r->rank[i];
        const double error = sobol ? 1.96 * r->sobol[i].total_error : NAN;
        swh_frame_words(r->sweep->key[i].name, label[i], sizeof label[i]);
        bar[i] = (struct swh_plot_bar){.label = label[i],
                                       .value = isfinite(value) ? value : 0,
                                       .low = value - error,
                                       .high = value + error};
    }
    qsort(bar, (size_t)n, sizeof bar[0], longest_first);
    bar[0].strong = true;
    char title[256];
    snprintf(title, sizeof title, "%s moves %s most", bar[0].label, l->z);
    title[0] = (char)toupper((unsigned char)title[0]);
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
    const struct swh_plot_options o = swh_frame_plot_options(session, r->folder, &r->sweep->base->params);
    if (!swh_given(session, SWH_OPT_plot) || o.format == SWH_PLOT_NONE)
        return SWH_OK; /* gnuplot may take longer than all of the cases */
    const struct swh_sampling *plan = &r->sweep->plan;
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
    return swh_frame_forgive_picture(status, &inside, err);
}
