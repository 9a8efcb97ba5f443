/* Hands kept rows to plots/. */
#include "cli/commands/run/sim.h"

#include "cli/base/frame.h"
#include "cli/base/shop_words.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct drawing {
    struct swh_plot_event event[SWH_KEEP_EVENTS];
    char outcome[256], grows[80];
    struct swh_plot_story story;
};

/* A single fault that grows through at least a third of the run is what the run is about. */
static const struct swh_plot_story *story_of(const struct swh_sim *sim, struct drawing *d)
{
    const struct swh_case *c = &sim->frame.scenario.c;
    int fault = -1;
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        if (c->fault[i].present && c->fault[i].severity > 0) {
            if (fault >= 0)
                return NULL;
            fault = i;
        }
    if (fault < 0 || !(c->fault[fault].ramp > sim->summary.end_time / 3))
        return NULL;
    const struct swh_fault_setting *f = &c->fault[fault];
    d->story.most = swh_severity_number(fault, f->severity, d->grows, sizeof d->grows);
    d->story.words = d->grows;
    d->story.begins = f->start;
    d->story.grows = f->ramp;
    return &d->story;
}

/* limits of the machine, and its switches if the circuit is computed with them */
static struct swh_plot_options options_of(const struct swh_sim *sim, const char *folder)
{
    const struct swh_case *c = &sim->frame.scenario.c;
    struct swh_plot_options o = swh_frame_plot_options(sim->frame.session, folder, &c->params);
    if (c->choices.vehicle_circuit != SWH_CIRCUIT_CLOSED)
        return o;
    if (c->choices.controls_high_pressure)
        o.limits.high_switch = c->params.controls_high_open;
    if (c->choices.controls_cycling == SWH_CYCLING_LOW || c->choices.controls_cycling == SWH_CYCLING_BOTH)
        o.limits.low_switch = c->params.controls_low_open;
    return o;
}

static struct swh_plot_series series_of(const struct swh_sim *sim, struct drawing *d)
{
    const struct swh_keep *k = &sim->keep;
    const struct swh_result result = swh_sim_result(sim);
    swh_result_answer(&result, sim->frame.session->units, swh_session_show(sim->frame.session), d->outcome,
                      sizeof d->outcome);
    for (int i = 0; i < k->events; i++)
        d->event[i] = (struct swh_plot_event){k->event[i].time, k->event[i].event, k->event[i].text};
    return (struct swh_plot_series){.name = sim->frame.scenario.c.name,
                                    .refrigerant = swh_case_refrigerant(&sim->frame.scenario.c),
                                    .n = (size_t)k->rows,
                                    .value = k->value,
                                    .measured = k->measured,
                                    .event_count = (size_t)k->events,
                                    .event = d->event,
                                    .saved_by = sim->summary.outcome == SWH_PROTECTED
                                                    ? swh_event_table[sim->summary.protected_by].help
                                                    : NULL,
                                    .outcome = d->outcome,
                                    .story = story_of(sim, d),
                                    .gauge = sim->summary.gauge,
                                    .ledger = sim->summary.ledger,
                                    .compared = sim->summary.compared};
}

/* the folder above the runs' own ones */
static void common_folder(const struct swh_sim *sim, char *out, size_t size)
{
    const char *slash = strrchr(sim->frame.folder, '/');
    snprintf(out, size, "%.*s", slash ? (int)(slash - sim->frame.folder) : 1,
             slash ? sim->frame.folder : ".");
}

static double head_of(const struct swh_cycle *c)
{
    double high = 0;
    for (int i = 0; i < c->n; i++)
        high = fmax(high, c->P[i]);
    return high;
}

/* what a cycle condenses at, and evaporates at behind the expansion device [K]; false if it has none */
static bool cycle_saturation(const struct swh_sim *sim, const struct swh_cycle *c, double *T_low,
                             double *T_high)
{
    const struct swh_fluid *fluid = swh_case_refrigerant(&sim->frame.scenario.c);
    const size_t liquid = swh_plot_cycle_liquid(c->P, (size_t)c->n);
    return liquid > 0 && swh_Tsat(fluid, c->P[liquid + 1], T_low) == 0 &&
           swh_Tsat(fluid, head_of(c), T_high) == 0;
}

/* A moment's cycle and what it is called. */
struct moment {
    const struct swh_cycle *cycle;
    bool healthy;
    char label[48];
};
/* Those that are drawn, the one to compare with first, and room for one that was run for it. */
struct moments {
    struct moment at[SWH_CYCLE_COUNT];
    size_t count;
    struct swh_summary healthy;
};

/* From when on a fault works [s]; -INFINITY: from the start, INFINITY: there is none. */
static double fault_begins(const struct swh_case *c)
{
    double begins = INFINITY;
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        if (c->fault[i].present && c->fault[i].severity > 0)
            begins = fmin(begins, c->fault[i].start);
    return begins;
}

static void add_moment(struct moments *m, const struct swh_cycle *c, bool healthy, const char *what)
{
    if (c->n == 0)
        return;
    struct moment *k = &m->at[m->count++];
    *k = (struct moment){.cycle = c, .healthy = healthy};
    if (healthy)
        snprintf(k->label, sizeof k->label, "%s", what);
    else
        snprintf(k->label, sizeof k->label, c->time < 14400 ? "%s, %.1f min" : "%s, %.1f h", what,
                 c->time / (c->time < 14400 ? 60 : 3600));
}

/* What a sound machine does in the first ten minutes of the same story; false if it cannot be had. */
static bool run_healthy(const struct swh_sim *sim, struct swh_summary *out)
{
    struct swh_case c = sim->frame.scenario.c; /* shares the schedule */
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        c.fault[i].present = false;
    c.params.run_duration = fmin(600, c.params.run_duration);
    return swh_run(&c, NULL, out, NULL) == SWH_OK;
}

static void choose_moments(const struct swh_sim *sim, struct moments *m)
{
    const struct swh_cycle *kept = sim->summary.cycle;
    const double begins = fault_begins(&sim->frame.scenario.c);
    m->count = 0;
    if (kept[SWH_CYCLE_EARLY].n > 0 && kept[SWH_CYCLE_EARLY].time <= begins && begins < INFINITY)
        add_moment(m, &kept[SWH_CYCLE_EARLY], true, "before the fault");
    else if (begins < INFINITY && run_healthy(sim, &m->healthy))
        add_moment(m, &m->healthy.cycle[SWH_CYCLE_LAST], true, "healthy");
    else
        add_moment(m, &kept[SWH_CYCLE_EARLY], false, "start");
    if (kept[SWH_CYCLE_HIGHEST].time > fmin(begins, 120) &&
        head_of(&kept[SWH_CYCLE_HIGHEST]) > 1.05 * head_of(&kept[SWH_CYCLE_LAST]))
        add_moment(m, &kept[SWH_CYCLE_HIGHEST], false, "worst: highest head");
    if (m->count == 0 || m->at[m->count - 1].healthy ||
        fabs(kept[SWH_CYCLE_LAST].time - m->at[m->count - 1].cycle->time) > 60)
        add_moment(m, &kept[SWH_CYCLE_LAST], false, "end");
}

/* "condensing climbs from 66 to 77 degC" */
static void course_words(const struct swh_sim *sim, const char *what, double from, double to, char *out,
                         size_t size)
{
    const struct swh_session *s = sim->frame.session;
    const enum swh_show show = swh_session_show(s);
    char a[24], b[24];
    swh_units_text(s->units, show, SWH_Q_TEMPERATURE, from, a, sizeof a);
    swh_units_text(s->units, show, SWH_Q_TEMPERATURE, to, b, sizeof b);
    if (fabs(to - from) < 1)
        snprintf(out, size, "%s stays at %s", what, b);
    else
        snprintf(out, size, "%s %s from %s to %s", what, to > from ? "climbs" : "falls", a, b);
}

/* How condensing and evaporating went, from the first cycle drawn to the one whose head lies farthest from
 * it. */
static void cycle_title(const struct swh_sim *sim, const struct moments *m, char *out, size_t size)
{
    double low[SWH_CYCLE_COUNT], high[SWH_CYCLE_COUNT];
    size_t far = m->count - 1;
    char cold[96];
    snprintf(out, size, "%s: the refrigerant's way round", sim->frame.scenario.c.name);
    for (size_t i = 0; i < m->count; i++)
        if (!cycle_saturation(sim, m->at[i].cycle, &low[i], &high[i]))
            return;
    for (size_t i = 1; i < m->count; i++)
        if (fabs(high[i] - high[0]) > fabs(high[far] - high[0]) + 1)
            far = i;
    course_words(sim, "Condensing", high[0], high[far], out, size);
    course_words(sim, "evaporating", low[0], low[far], cold, sizeof cold);
    const size_t used = strlen(out);
    snprintf(out + used, size - used, "; %s", cold);
}

/* the cycle before the fault (of a fault from the start: of a sound machine), at its worst, and at the end */
static enum swh_status draw_cycle(const struct swh_sim *sim, const struct swh_plot_options *o,
                                  struct swh_error *err)
{
    struct swh_plot_cycle cycle[SWH_CYCLE_COUNT];
    struct moments m;
    char title[400];
    if (o->format == SWH_PLOT_NONE || o->slide)
        return SWH_OK;
    choose_moments(sim, &m);
    for (size_t i = 0; i < m.count; i++) {
        const struct moment *k = &m.at[i];
        cycle[i] =
            (struct swh_plot_cycle){k->label, (size_t)k->cycle->n, k->cycle->P, k->cycle->h, k->healthy};
    }
    if (m.count == 0)
        return SWH_OK;
    cycle_title(sim, &m, title, sizeof title);
    return swh_plot_pressure_enthalpy(swh_case_refrigerant(&sim->frame.scenario.c), cycle, m.count, title, o,
                                      err);
}

static enum swh_status draw_all(struct swh_sim *sim, int count, struct drawing *drawing,
                                struct swh_error *err)
{
    struct swh_plot_series series[SWH_PLOT_OVERLAY_MAX];
    enum swh_status status = SWH_OK;
    for (int i = 0; i < count && status == SWH_OK; i++) {
        const struct swh_plot_options o = options_of(&sim[i], sim[i].frame.folder);
        const struct swh_plot_series one = series_of(&sim[i], &drawing[i]);
        if (!swh_given(sim[i].frame.session, SWH_OPT_overlay) || count < 2)
            status = swh_plot_run(&one, &o, err);
        if (status == SWH_OK && (!swh_given(sim[i].frame.session, SWH_OPT_overlay) || count < 2))
            status = draw_cycle(&sim[i], &o, err);
        if (i < SWH_PLOT_OVERLAY_MAX)
            series[i] = one;
    }
    count = count < SWH_PLOT_OVERLAY_MAX ? count : SWH_PLOT_OVERLAY_MAX;
    if (count < 2 || status != SWH_OK)
        return status;
    for (int i = 0; i < count; i++)
        /* titles are too long for labels */
        series[i].name = sim[i].label[0] ? sim[i].label : sim[i].frame.scenario.stem;
    char folder[sizeof sim->frame.folder];
    common_folder(sim, folder, sizeof folder);
    const struct swh_plot_options o =
        swh_frame_plot_options(sim->frame.session, folder, &sim->frame.scenario.c.params);
    return swh_plot_overlay(series, (size_t)count, swh_option_value(sim->frame.session, SWH_OPT_title), &o,
                            err);
}

enum swh_status swh_sim_draw(struct swh_sim *sim, int count, struct swh_error *err)
{
    if (count == 0 || !sim->keep.value)
        return SWH_OK;
    struct drawing *drawing = malloc((size_t)count * sizeof *drawing);
    if (!drawing)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the pictures");
    const enum swh_status status = draw_all(sim, count, drawing, err);
    free(drawing);
    return status == SWH_OK ? SWH_OK : swh_frame_no_pictures("series.csv and summary.json", err);
}
