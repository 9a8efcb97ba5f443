/* Pictures of a margin. */
#include "cli/commands/margin/margin_result.h"

#include "cli/base/frame.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static int by_x(const void *a, const void *b)
{
    const double x = ((const struct swh_margin_try *)a)->x, y = ((const struct swh_margin_try *)b)->x;
    return (x > y) - (x < y);
}

/* the answer with the axis' words in the place of the key */
static void title_of(const struct swh_margin_result *r, const char *label, const struct swh_session *session,
                     char *out, size_t size)
{
    char answer[512];
    swh_margin_answer(r, session->units, swh_session_show(session), answer, sizeof answer);
    snprintf(out, size, "%s%s", label, answer + strlen(r->request->key.name));
    *out = (char)toupper((unsigned char)*out);
}

struct beyond {
    double x[SWH_MARGIN_TRIED + SWH_MARGIN_BEYOND], time[SWH_MARGIN_TRIED + SWH_MARGIN_BEYOND];
    size_t n;
};

/* Inserts a value past the edge by its size, unless it is there already. */
static void add_beyond(struct beyond *b, const struct swh_margin_try *t)
{
    size_t at = b->n;
    if (!isfinite(t->to_seizure))
        return;
    while (at > 0 && b->x[at - 1] >= t->x)
        at--;
    if (at < b->n && b->x[at] == t->x)
        return;
    memmove(b->x + at + 1, b->x + at, (b->n - at) * sizeof *b->x);
    memmove(b->time + at + 1, b->time + at, (b->n - at) * sizeof *b->time);
    b->x[at] = t->x;
    b->time[at] = t->to_seizure;
    b->n++;
}

/* how long the compressor lasts at values past the edge */
static void find_beyond(const struct swh_margin *m, struct beyond *b)
{
    b->n = 0;
    for (int i = 0; i < m->tried_count; i++)
        add_beyond(b, &m->tried[i]);
    for (int i = 0; i < m->beyond_count; i++)
        add_beyond(b, &m->beyond[i]);
}

enum swh_status swh_margin_draw(const struct swh_margin_result *r, const struct swh_session *session,
                                struct swh_error *err)
{
    const struct swh_plot_options o = swh_frame_plot_options(session, r->folder, &r->request->base->params);
    const struct swh_margin *m = r->margin;
    struct swh_margin_try tried[SWH_MARGIN_TRIED];
    double x[SWH_MARGIN_TRIED], y[SWH_MARGIN_TRIED];
    memcpy(tried, m->tried, sizeof tried);
    qsort(tried, (size_t)m->tried_count, sizeof tried[0], by_x);
    for (int i = 0; i < m->tried_count; i++) {
        x[i] = tried[i].x;
        y[i] = tried[i].lost ? NAN : tried[i].rotor;
    }
    char title[512], label[64];
    swh_frame_words(r->request->key.name, label, sizeof label);
    title_of(r, label, session, title, sizeof title);
    struct beyond beyond;
    find_beyond(m, &beyond);
    const struct swh_plot_curve times = {
        .label = "seized after", .n = beyond.n, .x = beyond.x, .y = beyond.time};
    const struct swh_plot_curve curve = {
        .label = "rotor at rest", .n = (size_t)m->tried_count, .x = x, .y = y};
    const struct swh_plot_line lines[4] = {
        {m->band.low, NAN, "edge, at the least"},
        {m->band.high, NAN, "edge, at the most"},
        {m->critical, NAN, m->lost > m->holds ? "edge: lost to the right" : "edge: lost to the left"},
        {m->today, NAN, "today"}};
    const size_t first = m->kind == SWH_EDGE_NONE ? 3 : m->band.known ? 0 : 2;
    /* room on both sides, so that no line and no word stands on the frame */
    const bool band = m->band.known && m->kind != SWH_EDGE_NONE;
    double lo = fmin(fmin(tried[0].x, m->today), band ? m->band.low : m->today);
    double hi = fmax(fmax(tried[m->tried_count - 1].x, m->today), band ? m->band.high : m->today);
    for (size_t i = 0; i < beyond.n; i++) {
        lo = fmin(lo, beyond.x[i]);
        hi = fmax(hi, beyond.x[i]);
    }
    const double room = 0.04 * (hi - lo);
    const struct swh_plot_curves c = {
        .name = "margin",
        .title = title,
        .subtitle = r->name,
        .x = {label, r->request->key.quantity, lo - room, hi + (band ? 6 : 1) * room},
        .y = {"rotor temperature at rest", SWH_Q_TEMPERATURE, NAN, NAN},
        .curve = &curve,
        .curves = 1,
        .below = beyond.n > 0 ? &times : NULL,
        .below_y = {"time to seizure past the edge", SWH_Q_TIME, NAN, NAN},
        .line = lines + first,
        .lines = 4 - first};
    struct swh_error inside = {0};
    return swh_frame_forgive_picture(swh_plot_curves(&c, &o, &inside), &inside, err);
}

/* "Severity of undercharge is lost above 0.74 at 32 degC, above 0.36 at 45 degC" */
static void edge_title(const struct swh_margin_result *r, const struct swh_key *second, const char *label,
                       const double *at, const double *critical, int n, const struct swh_session *session,
                       char *out, size_t size)
{
    int first = 0, last = n - 1;
    while (first < n && !isfinite(critical[first]))
        first++;
    while (last >= 0 && !isfinite(critical[last]))
        last--;
    const bool above = !(r->margin->lost < r->margin->holds);
    const enum swh_show show = swh_session_show(session);
    char text[4][48];
    if (last < first) {
        snprintf(out, size, "%s has no edge in the range", label);
        return;
    }
    swh_units_text(session->units, show, r->request->key.quantity, critical[first], text[0], sizeof text[0]);
    swh_units_text(session->units, show, second->quantity, at[first], text[1], sizeof text[1]);
    swh_units_text(session->units, show, r->request->key.quantity, critical[last], text[2], sizeof text[2]);
    swh_units_text(session->units, show, second->quantity, at[last], text[3], sizeof text[3]);
    snprintf(out, size, "Lost %s a %s of %s at %s, of %s at %s", above ? "above" : "below", label, text[0],
             text[1], text[2], text[3]);
}

enum swh_status swh_margin_draw_edge(const struct swh_margin_result *r, const struct swh_key *second,
                                     const double *at, const double *critical, int n,
                                     const struct swh_session *session, struct swh_error *err)
{
    const struct swh_plot_options o = swh_frame_plot_options(session, r->folder, &r->request->base->params);
    char x[64], y[64], title[384];
    swh_frame_words(second->name, x, sizeof x);
    swh_frame_words(r->request->key.name, y, sizeof y);
    edge_title(r, second, y, at, critical, n, session, title, sizeof title);
    const struct swh_plot_curve curve = {.label = "edge", .n = (size_t)n, .x = at, .y = critical};
    const double here = swh_key_get(r->request->base, second), edge = r->margin->critical;
    const struct swh_plot_mark mark[2] = {{here, edge, "edge of this story"},
                                          {here, r->margin->today, "today"}};
    const struct swh_plot_curves c = {
        .name = "edge",
        .title = title,
        .subtitle = r->name,
        .x = {x, second->quantity, NAN, NAN},
        .y = {y, r->request->key.quantity, NAN, NAN},
        .curve = &curve,
        .curves = 1,
        .mark = mark + !isfinite(edge),
        .marks = here >= at[0] && here <= at[n - 1] ? 2 - (size_t)!isfinite(edge) : 0};
    struct swh_error inside = {0};
    return swh_frame_forgive_picture(swh_plot_curves(&c, &o, &inside), &inside, err);
}

enum swh_status swh_margin_draw_heat(const struct swh_heat_curves *h, const char *name, const char *folder,
                                     const struct swh_params *params, const struct swh_session *session,
                                     struct swh_error *err)
{
    enum { MOST = 8 };
    const struct swh_plot_options o = swh_frame_plot_options(session, folder, params);
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
    return swh_frame_forgive_picture(swh_plot_curves(&c, &o, &inside), &inside, err);
}
