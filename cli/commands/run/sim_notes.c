/* Remarks on what a simulation was given: overridden settings, faults. */
#include "cli/commands/run/sim.h"

#include <math.h>
#include <string.h>

static void note_param(struct swh_sim *sim, int i, enum swh_show show)
{
    char value[64];
    const struct swh_param_info *info = &swh_param_table[i];
    swh_units_text(sim->frame.session->units, show, info->quantity,
                   swh_param_get(&sim->frame.scenario.c.params, i), value, sizeof value);
    swh_note(&sim->frame.notes, "%s = %s, set by %s", info->name, value,
             sim->frame.scenario.params[i] == SWH_FROM_SET ? "--set" : "the scenario");
}

static void note_fault(struct swh_sim *sim, int i)
{
    const struct swh_fault_setting *f = &sim->frame.scenario.c.fault[i];
    const struct swh_fault_info *info = &swh_fault_table[i];
    if (isinf(f->start))
        swh_note(&sim->frame.notes, "fault %s, severity %.3g (%s), from before the start", info->id,
                 f->severity, info->severity);
    else
        swh_note(&sim->frame.notes, "fault %s, severity %.3g (%s), from %.5g s", info->id, f->severity,
                 info->severity, f->start);
}

static void note_own_fault(struct swh_sim *sim, const struct swh_own_fault *f)
{
    char keys[160] = "";
    for (int k = 0; k < f->n_keys; k++) {
        const size_t n = strlen(keys);
        snprintf(keys + n, sizeof keys - n, "%s%s", k ? ", " : "", swh_param_table[f->param[k]].name);
    }
    if (isinf(f->setting.start))
        swh_note(&sim->frame.notes, "own fault %s, severity %.3g (of %s), from before the start", f->name,
                 f->setting.severity, keys);
    else
        swh_note(&sim->frame.notes, "own fault %s, severity %.3g (of %s), from %.5g s", f->name,
                 f->setting.severity, keys, f->setting.start);
}

void swh_sim_note_settings(struct swh_sim *sim)
{
    const enum swh_show show = swh_session_show(sim->frame.session);
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        if (sim->frame.scenario.c.fault[i].present)
            note_fault(sim, i);
    for (int i = 0; i < sim->frame.scenario.c.n_own_faults; i++)
        note_own_fault(sim, &sim->frame.scenario.c.own_fault[i]);
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        if (sim->frame.scenario.params[i] == SWH_FROM_SET ||
            (sim->frame.scenario.params[i] == SWH_FROM_SCENARIO && sim->frame.scenario.vehicle[0]))
            note_param(sim, i, show);
}

/* Of all laws that a life hangs on, the one by which superheat keeps oil away has least to stand on
 * (model/README.md). */
void swh_sim_note_open_life(struct swh_sim *sim)
{
    const double dry = sim->summary.mean[SWH_CH_evaporator_superheat];
    const double strands = sim->frame.scenario.c.params.oil_dry_superheat;
    char text[32];
    if (isnan(sim->summary.time_to_seizure) || !(dry > 0.7 * strands))
        return;
    swh_units_text(sim->frame.session->units, swh_session_show(sim->frame.session),
                   SWH_Q_TEMPERATURE_DIFFERENCE, dry, text, sizeof text);
    swh_note(&sim->frame.notes,
             "the evaporator's superheat was %s on average, and oil stayed out; how fast it does rests on no "
             "measurement: take the time to the seizure as open",
             text);
}
