/* Pictures of a margin. */
#include "cli/margin_result.h"

#include "plots/plots.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static double shown(enum swh_quantity quantity, bool trade, double si, void *user)
{
    return swh_units_show(user, trade ? SWH_SHOW_TRADE : SWH_SHOW_SI, quantity, si);
}

static struct swh_plot_options options_of(const char *folder, const struct swh_params *params,
                                          const struct swh_session *session)
{
    const char *format = swh_option_value(session, SWH_OPT_plot);
    struct swh_plot_options o = {.format = format ? (enum swh_plot_format)swh_plot_format_find(format)
                                                  : SWH_PLOT_PNG,
                                 .folder = folder,
                                 .trade = swh_session_show(session) == SWH_SHOW_TRADE,
                                 .shown = shown,
                                 .user = session->units};
    swh_plot_limits_default(&o.limits, params);
    return o;
}

static void words(const char *name, char *out, size_t size)
{
    const char *last = strncmp(name, "conditions.", 11) == 0 ? name + 11 : name;
    snprintf(out, size, "%s", last);
    for (char *p = out; *p; p++)
        if (*p == '_' || *p == '.')
            *p = ' ';
}

/* nothing finite to draw is no failure of the margin */
static enum swh_status forgive(enum swh_status status, const struct swh_error *inside, struct swh_error *err)
{
    if (status == SWH_OK || status == SWH_ERR_INPUT)
        return SWH_OK;
    if (err && err->status == SWH_OK)
        *err = *inside;
    return status;
}

static int by_x(const void *a, const void *b)
{
    const double x = ((const struct swh_margin_try *)a)->x, y = ((const struct swh_margin_try *)b)->x;
    return (x > y) - (x < y);
}

enum swh_status swh_margin_draw(const struct swh_margin_result *r, const struct swh_session *session,
                                struct swh_error *err)
{
    const struct swh_plot_options o = options_of(r->folder, &r->request->base->params, session);
    const struct swh_margin *m = r->margin;
    struct swh_margin_try tried[SWH_MARGIN_TRIED];
    double x[SWH_MARGIN_TRIED], y[SWH_MARGIN_TRIED];
    memcpy(tried, m->tried, sizeof tried);
    qsort(tried, (size_t)m->tried_count, sizeof tried[0], by_x);
    for (int i = 0; i < m->tried_count; i++) {
        x[i] = tried[i].x;
        y[i] = tried[i].lost ? NAN : tried[i].rotor;
    }
    char answer[320], label[64];
    swh_margin_answer(r, session->units, swh_session_show(session), answer, sizeof answer);
    words(r->request->key.name, label, sizeof label);
    const struct swh_plot_curve curve = {
        .label = "rotor at rest", .n = (size_t)m->tried_count, .x = x, .y = y};
    const struct swh_plot_line lines[2] = {{m->critical, NAN, "edge"}, {m->today, NAN, "today"}};
    const struct swh_plot_curves c = {.name = "margin",
                                      .title = answer,
                                      .subtitle = r->name,
                                      .x = {label, r->request->key.quantity, NAN, NAN},
                                      .y = {"rotor temperature at rest", SWH_Q_TEMPERATURE, NAN, NAN},
                                      .curve = &curve,
                                      .curves = 1,
                                      .line = lines + (m->kind == SWH_EDGE_NONE),
                                      .lines = m->kind == SWH_EDGE_NONE ? 1 : 2};
    struct swh_error inside = {0};
    return forgive(swh_plot_curves(&c, &o, &inside), &inside, err);
}

enum swh_status swh_margin_draw_edge(const struct swh_margin_result *r, const struct swh_key *second,
                                     const double *at, const double *critical, int n,
                                     const struct swh_session *session, struct swh_error *err)
{
    const struct swh_plot_options o = options_of(r->folder, &r->request->base->params, session);
    char x[64], y[64], title[200];
    words(second->name, x, sizeof x);
    words(r->request->key.name, y, sizeof y);
    snprintf(title, sizeof title, "Edge of %s against %s", y, x);
    const struct swh_plot_curve curve = {.label = "edge", .n = (size_t)n, .x = at, .y = critical};
    const struct swh_plot_curves c = {.name = "edge",
                                      .title = title,
                                      .subtitle = r->name,
                                      .x = {x, second->quantity, NAN, NAN},
                                      .y = {y, r->request->key.quantity, NAN, NAN},
                                      .curve = &curve,
                                      .curves = 1};
    struct swh_error inside = {0};
    return forgive(swh_plot_curves(&c, &o, &inside), &inside, err);
}

enum swh_status swh_margin_draw_heat(const struct swh_heat_curves *h, const char *name, const char *folder,
                                     const struct swh_params *params, const struct swh_session *session,
                                     struct swh_error *err)
{
    enum { MOST = 8 };
    const struct swh_plot_options o = options_of(folder, params, session);
    struct swh_crossing crossing[MOST];
    struct swh_plot_mark mark[MOST];
    const int n = swh_heat_crossings(h, crossing, MOST);
    bool stable = false;
    for (int i = 0; i < n; i++) {
        const bool holds = crossing[i].kind == SWH_CROSSING_STABLE;
        mark[i] = (struct swh_plot_mark){crossing[i].T, crossing[i].heat, holds ? "stable" : "unstable"};
        stable = stable || holds;
    }
    const struct swh_plot_curve curve[2] = {
        {.label = "heat gained", .n = (size_t)h->n, .x = h->T, .y = h->gain},
        {.label = "heat lost", .n = (size_t)h->n, .x = h->T, .y = h->loss}};
    const struct swh_plot_curves c = {
        .name = "heat_curves",
        .title = stable ? "Gain and loss of heat cross: a stable running temperature exists"
                        : "Gain and loss of heat do not cross: no stable running temperature",
        .subtitle = name,
        .x = {"rotor temperature, held", SWH_Q_TEMPERATURE, NAN, NAN},
        .y = {"heat of the compressor's metal", SWH_Q_POWER, NAN, NAN},
        .curve = curve,
        .curves = 2,
        .mark = mark,
        .marks = (size_t)n};
    struct swh_error inside = {0};
    return forgive(swh_plot_curves(&c, &o, &inside), &inside, err);
}
