#include "cli/base/frame.h"

#include "cli/base/interrupt.h"
#include "cli/base/provenance.h"
#include "cli/base/result.h"
#include "model/base/utf8.h"
#include "solver/simulate/parallel.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

enum swh_status swh_frame_load(struct swh_frame *frame, struct swh_session *s, const char *path,
                               const char *vehicle)
{
    const char *set[SWH_OPTIONS_MAX];
    frame->session = s;
    const struct swh_scenario_request request = {path, vehicle, set, swh_option_values(s, SWH_OPT_set, set)};
    const enum swh_status status = swh_scenario_load(&frame->scenario, &request, s->units, &s->problems);
    const struct swh_own_refrigerant *own = frame->scenario.refrigerant;
    if (own && own->remark[0])
        swh_note(&frame->notes, "%s", own->remark);
    return status;
}

void swh_frame_folder(struct swh_frame *frame, const char *format, ...)
{
    const char *out = swh_option_value(frame->session, SWH_OPT_out);
    if (out) {
        snprintf(frame->folder, sizeof frame->folder, "%s", out);
        return;
    }
    const int n = snprintf(frame->folder, sizeof frame->folder, "results/");
    va_list rest;
    va_start(rest, format);
    vsnprintf(frame->folder + n, sizeof frame->folder - (size_t)n, format, rest);
    va_end(rest);
}

bool swh_frame_talks(const struct swh_frame *frame)
{
    return !swh_given(frame->session, SWH_OPT_json) && !swh_given(frame->session, SWH_OPT_quiet);
}

int swh_frame_threads(void)
{
    return swh_processors();
}

enum swh_status swh_frame_do(struct swh_session *s, const struct swh_frame_kind *kind)
{
    struct swh_error err = {0};
    struct swh_frame *job = calloc(1, kind->size);
    if (!job)
        return swh_no_memory(s, "the command");
    enum swh_status status = swh_frame_load(job, s, s->argument[0], swh_option_value(s, SWH_OPT_vehicle));
    if (status == SWH_OK) {
        swh_frame_folder(job, "%s-%s", job->scenario.stem, kind->suffix);
        status = kind->prepare(job, &err);
    }
    if (status == SWH_OK) {
        status = kind->work(job, &err);
        if (status != SWH_OK)
            swh_out_abort(&job->out);
    }
    if (err.status != SWH_OK)
        swh_fail(s, &err);
    if (kind->release)
        kind->release(job);
    swh_scenario_free(&job->scenario);
    free(job);
    return status;
}

/* ---- files ---- */

FILE *swh_frame_file(struct swh_frame *job, const char *name, struct swh_error *err)
{
    if (!job->out.folder[0] && swh_out_begin(&job->out, job->folder, err) != SWH_OK)
        return NULL;
    return swh_out_file(&job->out, name, err);
}

static enum swh_status put(json_t *json, FILE *f, struct swh_error *err)
{
    if (!json)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the results");
    const bool written = swh_json_write(json, f);
    json_decref(json);
    return written ? SWH_OK : swh_error_set(err, SWH_ERR_OUTPUT, "the results cannot be written");
}

enum swh_status swh_frame_put_json(struct swh_frame *frame, const char *name, json_t *json,
                                   struct swh_error *err)
{
    FILE *f = swh_frame_file(frame, name, err);
    if (!f) {
        json_decref(json);
        return SWH_ERR_OUTPUT;
    }
    struct swh_error unwritten = {0}; /* the commit finds it again, and names the first file that failed */
    const enum swh_status status = put(json, f, &unwritten);
    if (status == SWH_ERR_MEMORY && err)
        *err = unwritten;
    return status == SWH_ERR_MEMORY ? status : SWH_OK;
}

enum swh_status swh_frame_commit(struct swh_frame *frame, struct swh_error *err)
{
    const enum swh_status status = swh_provenance_add(frame, err);
    if (status == SWH_OK)
        return swh_out_commit(&frame->out, err);
    swh_out_abort(&frame->out);
    return status;
}

enum swh_status swh_frame_tell_json(json_t *json, struct swh_error *err)
{
    return put(json, stdout, err);
}

/* ---- notes ---- */

void swh_frame_notes_json(const struct swh_frame *frame, json_t *json)
{
    json_t *a = json_array();
    for (int i = 0; i < frame->notes.count; i++)
        json_array_append_new(a, swh_json_text(frame->notes.text[i]));
    json_object_set_new(json, "notes", a);
}

void swh_frame_print_notes(const struct swh_frame *frame, FILE *f)
{
    if (frame->notes.count)
        fputc('\n', f);
    for (int i = 0; i < frame->notes.count; i++)
        fprintf(f, "  Note: %s%s\n", frame->notes.text[i], swh_note_end(frame->notes.text[i]));
    char folder[512];
    fprintf(f, "\n  Results: %s\n", swh_utf8_clean(folder, sizeof folder, frame->folder));
}

/* ---- pictures ---- */

static double shown(enum swh_quantity quantity, bool trade, double si, void *user)
{
    return swh_units_show(user, trade ? SWH_SHOW_TRADE : SWH_SHOW_SI, quantity, si);
}

struct swh_plot_options swh_frame_plot_options(const struct swh_session *session, const char *folder,
                                               const struct swh_params *params)
{
    const char *format = swh_option_value(session, SWH_OPT_plot),
               *style = swh_option_value(session, SWH_OPT_plot_style);
    swh_interrupt_watch(); /* pictures in the making are removed */
    struct swh_plot_options o = {.format = format ? (enum swh_plot_format)swh_plot_format_find(format)
                                                  : SWH_PLOT_PNG,
                                 .folder = folder,
                                 .slide = style && strcmp(style, "slide") == 0,
                                 .trade = swh_session_show(session) == SWH_SHOW_TRADE,
                                 .shown = shown,
                                 .user = session->units,
                                 .stop = swh_interrupted};
    swh_plot_limits_default(&o.limits, params);
    return o;
}

enum swh_status swh_frame_no_pictures(const char *kept, struct swh_error *err)
{
    swh_error_at(err, "pictures", 0, 0);
    if (err->status == SWH_ERR_SOLVER || err->status == SWH_ERR_MEMORY) { /* interrupted, or no memory */
        swh_error_expected(err, "%s are written", kept);
        return err->status;
    }
    swh_error_expected(err, "gnuplot installed, or --plot none; written: %s", kept);
    err->status = SWH_ERR_OUTPUT;
    return SWH_ERR_OUTPUT;
}

enum swh_status swh_frame_forgive_picture(enum swh_status status, const struct swh_error *inside,
                                          struct swh_error *err)
{
    if (status == SWH_OK || status == SWH_ERR_INPUT)
        return SWH_OK;
    if (err && err->status == SWH_OK)
        *err = *inside;
    return status;
}

void swh_frame_words(const char *key, char *out, size_t size)
{
    static const char own[] = "own_", fault[] = "fault.", severity[] = ".severity",
                      conditions[] = "conditions.";
    key += strncmp(key, own, sizeof own - 1) == 0 ? sizeof own - 1 : 0;
    const size_t n = strlen(key), head = sizeof fault - 1, tail = sizeof severity - 1;
    if (strncmp(key, fault, head) == 0 && n > head + tail && strcmp(key + n - tail, severity) == 0)
        snprintf(out, size, "severity of %.*s", (int)(n - head - tail), key + head);
    else
        snprintf(out, size, "%s",
                 key + (strncmp(key, conditions, sizeof conditions - 1) == 0 ? sizeof conditions - 1 : 0));
    for (char *p = out; *p; p++)
        if (*p == '_' || *p == '.')
            *p = ' ';
}
