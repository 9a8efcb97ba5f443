/* Logs behind the public calls: replayed, or driving the circuit. */
#include "solver/api/handles.h"

#include "solver/files/csv_log.h"
#include "solver/simulate/schedule_from_log.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* opens a log for the vehicle of `s`; NULL with err set */
static struct swh_log *open_log(const struct swh_setup *s, struct swh_log_request *request,
                                struct swh_error *err)
{
    struct swh_problems *problems = calloc(1, sizeof *problems);
    if (!problems) {
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for the log");
        return NULL;
    }
    request->units = s->units;
    request->atmosphere = s->scenario.c.conditions.ambient_pressure;
    struct swh_log *log = swh_log_open(request, problems);
    if (problems->count > 0) {
        *err = problems->item[0];
        swh_log_close(log);
        log = NULL;
    }
    free(problems);
    return log;
}

/* What drives a replay and has no sensible default must be in the log. */
static void require_drives(const struct swh_setup *s, struct swh_log_request *request)
{
    struct swh_inputs in = s->scenario.c.conditions;
    for (int i = 0; i < SWH_REPLAY_INPUT_COUNT; i++)
        request->required[swh_replay_inputs[i].channel] =
            swh_replay_inputs[i].input != SWH_IN_underhood_temperature &&
            isnan(*swh_input_at(&in, (int)swh_replay_inputs[i].input));
}

enum swh_status swh_setup_replay(const struct swh_setup *setup, const char *path, const char *columns,
                                 struct swh_record **record, struct swh_error *err)
{
    struct swh_error inside = {0};
    struct swh_log_request request = {.path = path, .columns = columns};
    *record = NULL;
    require_drives(setup, &request);
    struct swh_log *log = open_log(setup, &request, &inside);
    struct swh_record *r = log ? swh_record_new(true, &inside) : NULL;
    if (r) {
        const struct swh_log_source source = swh_log_as_source(log);
        const struct swh_sinks sinks = swh_record_sinks(r);
        swh_record_give(r, swh_replay(&setup->scenario.c, &source, false, &sinks, &r->summary, &inside),
                        record);
    }
    swh_log_close(log);
    if (err)
        *err = inside;
    return inside.status;
}

static enum swh_status read_all(struct swh_log *log, struct swh_log_memory *m, struct swh_error *err)
{
    for (;;) {
        struct swh_log_row row;
        bool more = true;
        enum swh_status status = swh_log_next(log, &row, &more, err);
        if (status == SWH_OK && more)
            status = swh_log_memory_add(m, &row, 0.45, err);
        if (status != SWH_OK || !more)
            return status;
    }
}

enum swh_status swh_setup_drive(struct swh_setup *setup, const char *path, const char *columns,
                                struct swh_error *err)
{
    struct swh_error inside = {0};
    struct swh_log_request request = {.path = path, .columns = columns};
    struct swh_log_memory memory = {0};
    struct swh_case driven;
    struct swh_schedule_facts facts;
    struct swh_log *log = open_log(setup, &request, &inside);
    const bool doors_given = setup->scenario.conditions[SWH_IN_doors_open] != SWH_FROM_DEFAULT;
    if (log && read_all(log, &memory, &inside) == SWH_OK &&
        swh_schedule_from_log(&driven, &setup->scenario.c, &memory, doors_given, &facts, &inside) == SWH_OK) {
        swh_case_free(&setup->scenario.c);
        setup->scenario.c = driven;
    }
    swh_log_close(log);
    swh_log_memory_free(&memory);
    if (err)
        *err = inside;
    return inside.status;
}
