/* Hands kept rows to plots/. */
#include "cli/commands/run/sim.h"

#include "cli/base/frame.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct drawing {
    struct swh_plot_event event[SWH_KEEP_EVENTS];
    char outcome[256];
};

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

/* what a cycle condenses and evaporates at [K]; false if it has none */
static bool cycle_saturation(const struct swh_sim *sim, const struct swh_cycle *c, double *T_low,
                             double *T_high)
{
    const struct swh_fluid *fluid = swh_fluid_get(swh_case_refrigerant(&sim->frame.scenario.c));
    double low = INFINITY, high = 0;
    for (int i = 0; i < c->n; i++) {
        low = fmin(low, c->P[i]);
        high = fmax(high, c->P[i]);
    }
    return c->n > 0 && swh_Tsat(fluid, low, T_low) == 0 && swh_Tsat(fluid, high, T_high) == 0;
}

/* how condensing and evaporating went from the start to the cycle that lies farthest from it */
static void cycle_title(const struct swh_sim *sim, char *out, size_t size)
{
    static const char *const when[] = {
        [SWH_CYCLE_HIGHEST] = "at the highest head", [SWH_CYCLE_LAST] = "at the end"};
    const struct swh_summary *u = &sim->summary;
    double low[SWH_CYCLE_COUNT], high[SWH_CYCLE_COUNT];
    char hot[2][24], cold[2][24];
    bool all = true;
    for (int i = 0; i < SWH_CYCLE_COUNT; i++)
        all = all && cycle_saturation(sim, &u->cycle[i], &low[i], &high[i]);
    if (!all) {
        snprintf(out, size, "%s: the refrigerant's way round", sim->frame.scenario.c.name);
        return;
    }
    const double rise = fabs(high[SWH_CYCLE_HIGHEST] - high[SWH_CYCLE_EARLY]),
                 drift = fabs(high[SWH_CYCLE_LAST] - high[SWH_CYCLE_EARLY]) +
                         fabs(low[SWH_CYCLE_LAST] - low[SWH_CYCLE_EARLY]);
    const int other = rise > drift ? SWH_CYCLE_HIGHEST : SWH_CYCLE_LAST;
    const enum swh_show show = swh_session_show(sim->frame.session);
    for (int k = 0; k < 2; k++) {
        const int i = k == 0 ? SWH_CYCLE_EARLY : other;
        swh_units_text(sim->frame.session->units, show, SWH_Q_TEMPERATURE, high[i], hot[k], sizeof hot[k]);
        swh_units_text(sim->frame.session->units, show, SWH_Q_TEMPERATURE, low[i], cold[k], sizeof cold[k]);
    }
    snprintf(out, size, "Condenses at %s at the start, %s %s; evaporates at %s, then %s", hot[0], hot[1],
             when[other], cold[0], cold[1]);
}

/* "before the fault, 2.0 min", "highest head, 17.1 min" */
static void cycle_label(const struct swh_sim *sim, int which, char *out, size_t size)
{
    static const char *const word[] = {"start", "highest head", "end"}; /* ORDER of SWH_CYCLE_* */
    const double t = sim->summary.cycle[which].time;
    double begins = INFINITY;
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        const struct swh_fault_setting *f = &sim->frame.scenario.c.fault[i];
        if (f->present && f->severity > 0)
            begins = fmin(begins, f->start);
    }
    snprintf(out, size, "%s, %.1f min",
             which == SWH_CYCLE_EARLY && isfinite(begins) && t <= begins ? "before the fault" : word[which],
             t / 60);
}

/* the cycle early, at the highest head and late; two that are close in time are shown once */
static enum swh_status draw_cycle(const struct swh_sim *sim, const struct swh_plot_options *o,
                                  struct swh_error *err)
{
    struct swh_plot_cycle cycle[SWH_CYCLE_COUNT];
    char label[SWH_CYCLE_COUNT][48];
    size_t n = 0;
    double last = -1e9;
    for (int i = 0; i < SWH_CYCLE_COUNT; i++) {
        const struct swh_cycle *c = &sim->summary.cycle[i];
        if (c->n == 0 || fabs(c->time - last) < 60)
            continue;
        last = c->time;
        cycle_label(sim, i, label[n], sizeof label[n]);
        cycle[n] = (struct swh_plot_cycle){label[n], (size_t)c->n, c->P, c->h};
        n++;
    }
    if (n == 0)
        return SWH_OK;
    char title[400];
    cycle_title(sim, title, sizeof title);
    return swh_plot_pressure_enthalpy(swh_case_refrigerant(&sim->frame.scenario.c), cycle, n, title, o, err);
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
