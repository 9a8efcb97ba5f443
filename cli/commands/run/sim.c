#include "cli/commands/run/sim.h"

#include "cli/base/interrupt.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { BAR = 40 };
static const double LATE = 600; /* s before the end, over which a rest is looked for */

/* ---- progress ---- */

static double seconds_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static bool wants_bar(const struct swh_sim *sim)
{
    return !swh_given(sim->frame.session, SWH_OPT_quiet) && isatty(STDERR_FILENO);
}

static void show_progress(struct swh_sim *sim, double time)
{
    const double now = seconds_now();
    if (now < sim->said + 0.1)
        return;
    sim->said = now;
    if (!(sim->end > 0)) {
        fprintf(stderr, "\r%s: %.0f s ", sim->frame.scenario.c.name, time);
        return;
    }
    const int done = (int)(BAR * fmin(time / sim->end, 1.0));
    fprintf(stderr, "\r%s [%.*s%*s] %3.0f %% ", sim->frame.scenario.c.name, done,
            "########################################", BAR - done, "", 100 * time / sim->end);
}

static void clear_progress(const struct swh_sim *sim)
{
    if (sim->said > 0)
        fprintf(stderr, "\r%80s\r", "");
}

/* ---- sinks ---- */

static enum swh_status take_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    struct swh_sim *sim = user;
    const double rotor = row->value[SWH_CH_rotor_temperature];
    if (row->value[SWH_CH_time] <= sim->end - LATE || sim->rows == 0)
        sim->rotor_early = rotor;
    sim->rotor_last = rotor;
    swh_rowfile_row(sim->series, row);
    if (sim->keep.value)
        swh_keep_row(&sim->keep, row);
    if (++sim->rows % 64 == 0 && wants_bar(sim))
        show_progress(sim, row->value[SWH_CH_time]);
    if (sim->rows % 64 == 0 && ferror(sim->series->file)) {
        swh_error_set(err, SWH_ERR_OUTPUT, "series.csv cannot be written");
        swh_error_at(err, sim->frame.folder, 0, 0);
        swh_error_expected(err, "room on the device");
        return SWH_ERR_OUTPUT;
    }
    if (swh_interrupted())
        return swh_error_set(err, SWH_ERR_SOLVER, "interrupted after %.6g s", row->value[SWH_CH_time]);
    return SWH_OK;
}

static enum swh_status take_event(const struct swh_event_record *event, void *user, struct swh_error *err)
{
    struct swh_sim *sim = user;
    (void)err;
    swh_events_row(sim->events, event);
    if (sim->keep.value)
        swh_keep_event(&sim->keep, event);
    return SWH_OK;
}

struct swh_sinks swh_sim_sinks(struct swh_sim *sim)
{
    return (struct swh_sinks){take_row, take_event, NULL, sim};
}

/* ---- beginning ---- */

void swh_sim_choose_folder(struct swh_sim *sim, bool several)
{
    const char *out = swh_option_value(sim->frame.session, SWH_OPT_out);
    if (out && several)
        snprintf(sim->frame.folder, sizeof sim->frame.folder, "%s/%s", out, sim->frame.scenario.stem);
    else
        swh_frame_folder(&sim->frame, "%s", sim->frame.scenario.stem);
}

static bool wants_pictures(const struct swh_session *session)
{
    const char *format = swh_option_value(session, SWH_OPT_plot);
    return !format || strcmp(format, "none") != 0;
}

enum swh_status swh_sim_begin(struct swh_sim *sim, const bool *measured, struct swh_error *err)
{
    swh_interrupt_watch();
    sim->series = malloc(sizeof *sim->series);
    if (!sim->series)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the results");
    enum swh_status status = SWH_OK;
    FILE *series = swh_frame_file(&sim->frame, "series.csv", err);
    sim->events = series ? swh_frame_file(&sim->frame, "events.csv", err) : NULL;
    if (!sim->events) {
        swh_out_abort(&sim->frame.out);
        return SWH_ERR_OUTPUT;
    }
    swh_rowfile_begin(sim->series, series, measured);
    swh_events_begin(sim->events);
    if (wants_pictures(sim->frame.session))
        status = swh_keep_begin(&sim->keep, measured != NULL, err);
    if (status != SWH_OK)
        swh_out_abort(&sim->frame.out);
    return status;
}

/* ---- ending ---- */

static void tell(struct swh_sim *sim, const struct swh_result *result)
{
    if (swh_given(sim->frame.session, SWH_OPT_json)) {
        json_t *json = swh_result_json(result);
        swh_json_write(json, stdout);
        json_decref(json);
    } else if (!swh_given(sim->frame.session, SWH_OPT_quiet)) {
        swh_result_print(result, sim->frame.session->units, swh_session_show(sim->frame.session), stdout);
        if (swh_given(sim->frame.session, SWH_OPT_verbose))
            swh_result_print_channels(result, sim->frame.session->units, swh_session_show(sim->frame.session),
                                      stdout);
    }
}

struct swh_result swh_sim_result(const struct swh_sim *sim)
{
    const bool rests = sim->summary.complete && sim->summary.end_time > 2 * LATE && !sim->replay;
    return (struct swh_result){&sim->frame.scenario,
                               &sim->summary,
                               &sim->frame.notes,
                               &sim->stopped,
                               sim->frame.folder,
                               sim->replay,
                               rests ? (sim->rotor_last - sim->rotor_early) / (LATE / 60) : NAN};
}

enum swh_status swh_sim_end(struct swh_sim *sim, enum swh_status status, struct swh_error *err)
{
    clear_progress(sim);
    const bool stopped = status == SWH_ERR_RANGE || status == SWH_ERR_SOLVER;
    if ((status != SWH_OK && !stopped) || !sim->series->begun) {
        swh_out_abort(&sim->frame.out);
        return status;
    }
    if (stopped)
        sim->stopped = *err;
    swh_rowfile_end(sim->series);
    swh_keep_end(&sim->keep);
    swh_sim_note_open_life(sim);
    const struct swh_result result = swh_sim_result(sim);
    struct swh_error trouble = {0};
    enum swh_status written =
        swh_frame_put_json(&sim->frame, "summary.json", swh_result_json(&result), &trouble);
    if (written == SWH_OK)
        written = swh_frame_commit(&sim->frame, &trouble);
    else
        swh_out_abort(&sim->frame.out);
    if (written == SWH_OK) {
        tell(sim, &result);
        return status;
    }
    *err = trouble;
    return written;
}

void swh_sim_free(struct swh_sim *sim)
{
    free(sim->series);
    swh_keep_free(&sim->keep);
    swh_scenario_free(&sim->frame.scenario);
}
