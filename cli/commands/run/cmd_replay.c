/* swashheat replay: a log drives the compressor body. */
#include "cli/base/interrupt.h"
#include "cli/base/live_monitor.h"
#include "cli/commands/run/sim.h"
#include "solver/files/csv_log.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static double constant_of(const struct swh_sim *sim, enum swh_input input)
{
    struct swh_inputs in = sim->frame.scenario.c.conditions;
    return *swh_input_at(&in, (int)input);
}

/* A channel that has no sensible default must be in the log, or among the vehicle's conditions. */
static void require(const struct swh_sim *sim, struct swh_log_request *request)
{
    for (int i = 0; i < SWH_REPLAY_INPUT_COUNT; i++)
        request->required[swh_replay_inputs[i].channel] =
            swh_replay_inputs[i].input != SWH_IN_underhood_temperature &&
            isnan(constant_of(sim, swh_replay_inputs[i].input));
}

static void note_constants(struct swh_sim *sim, const struct swh_log *log)
{
    static const char *const sources[] = {"the program's default", "the vehicle file", "the vehicle file",
                                          "--set"};
    char value[64];
    for (int i = 0; i < SWH_REPLAY_INPUT_COUNT; i++) {
        const double x = constant_of(sim, swh_replay_inputs[i].input);
        const struct swh_input_info *info = &swh_input_table[swh_replay_inputs[i].input];
        if (swh_log_has(log, swh_replay_inputs[i].channel))
            continue;
        if (isnan(x))
            swh_note(&sim->frame.notes, "the log has no %s: computed from ambient and speed", info->id);
        else
            swh_note(&sim->frame.notes, "the log has no %s: taken from %s, %s", info->id,
                     sources[sim->frame.scenario.conditions[swh_replay_inputs[i].input]],
                     swh_units_text(sim->frame.session->units, swh_session_show(sim->frame.session),
                                    info->quantity, x, value, sizeof value));
    }
}

/* ---- live ---- */

struct live {
    struct swh_sinks to;
    struct swh_live_monitor beside;
};

static enum swh_status live_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    static const enum swh_channel compared[] = {SWH_CH_discharge_temperature, SWH_CH_shell_temperature};
    struct live *l = user;
    for (int i = 0; i < 2; i++)
        swh_live_monitor_take(&l->beside, row->value[SWH_CH_time], compared[i],
                              row->measured[compared[i]] - row->value[compared[i]]);
    return l->to.row(row, l->to.user, err);
}

static enum swh_status live_event(const struct swh_event_record *event, void *user, struct swh_error *err)
{
    struct live *l = user;
    return l->to.event(event, l->to.user, err);
}

static bool is_live(const struct swh_session *s)
{
    return strcmp(s->argument[0], "-") == 0 && !swh_given(s, SWH_OPT_quiet);
}

static enum swh_status replay_log(struct swh_session *s, struct swh_sim *sim, struct swh_log *log)
{
    struct swh_error err = {0};
    const struct swh_log_source source = swh_log_as_source(log);
    enum swh_status status = swh_sim_begin(sim, source.has, &err);
    if (status == SWH_OK) {
        struct live live = {swh_sim_sinks(sim), {.session = s, .params = &sim->frame.scenario.c.params}};
        struct swh_sinks sinks = live.to;
        if (is_live(s))
            sinks = (struct swh_sinks){live_row, live_event, NULL, &live};
        status = swh_replay(&sim->frame.scenario.c, &source, false, &sinks, &sim->summary, &err);
        swh_log_note_columns(log, &sim->frame.notes);
        note_constants(sim, log);
        swh_log_note_oddities(log, &sim->frame.notes);
        if (status == SWH_ERR_INPUT)
            swh_error_at(&err, s->argument[0], 0, 0);
        status = swh_sim_end(sim, status, &err);
    }
    swh_fail(s, &err);
    if ((status == SWH_OK || status == SWH_ERR_SOLVER || status == SWH_ERR_RANGE) &&
        swh_sim_draw(sim, 1, &err) != SWH_OK)
        status = swh_fail(s, &err);
    return status;
}

static enum swh_status replay_with(struct swh_session *s, struct swh_sim *sim, const char *vehicle)
{
    if (swh_frame_load(&sim->frame, s, vehicle, NULL) != SWH_OK)
        return swh_problems_status(&s->problems);
    struct swh_log_request request = {.path = s->argument[0],
                                      .columns = swh_option_value(s, SWH_OPT_columns),
                                      .units = s->units,
                                      .interrupted = swh_interrupted,
                                      .atmosphere = sim->frame.scenario.c.conditions.ambient_pressure,
                                      .pulley_ratio = sim->frame.scenario.c.params.controls_pulley_ratio};
    require(sim, &request);
    swh_stem(request.path, sim->frame.scenario.stem, sizeof sim->frame.scenario.stem);
    snprintf(sim->frame.scenario.vehicle, sizeof sim->frame.scenario.vehicle, "%s", vehicle);
    snprintf(sim->frame.scenario.path, sizeof sim->frame.scenario.path, "%s", request.path);
    snprintf(sim->frame.scenario.c.name, sizeof sim->frame.scenario.c.name, "%s", sim->frame.scenario.stem);
    swh_sim_choose_folder(sim, false);
    sim->replay = true;
    sim->end = NAN;
    struct swh_log *log = swh_log_open(&request, &s->problems);
    enum swh_status status = swh_problems_status(&s->problems);
    if (status == SWH_OK)
        status = replay_log(s, sim, log);
    swh_log_close(log);
    return status;
}

enum swh_status swh_cmd_replay(struct swh_session *s)
{
    const char *vehicle = swh_option_value(s, SWH_OPT_vehicle);
    if (!vehicle)
        return swh_misuse(s, "--vehicle FILE, the vehicle that the log was taken on",
                          "replay without a vehicle");
    struct swh_sim *sim = calloc(1, sizeof *sim);
    if (!sim)
        return swh_no_memory(s, "the replay");
    const enum swh_status status = replay_with(s, sim, vehicle);
    swh_sim_free(sim);
    free(sim);
    return status;
}
