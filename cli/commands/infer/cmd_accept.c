/* swashheat accept: does the repaired vehicle let its new compressor live? Exit status 1: no. */
#include "cli/commands/infer/draw.h"
#include "cli/commands/infer/trust_words.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void reason(json_t *reasons, bool talks, const char *text)
{
    json_array_append_new(reasons, swh_json_text(text));
    if (talks)
        printf("  - %s\n", text);
}

static void channel_reasons(const struct swh_acceptance *a, json_t *reasons, bool talks)
{
    for (int i = 0; i < SWH_COMPARED; i++) {
        char text[256];
        if (a->channel_ok[i])
            continue;
        snprintf(text, sizeof text, "%s lies %.1f standard deviations %s what a healthy vehicle gives",
                 swh_channel_table[swh_compared[i]].id, fabs(a->deviation[i]),
                 a->deviation[i] > 0 ? "above" : "below");
        reason(reasons, talks, text);
    }
}

static void worst_reason(const struct swh_log_command *j, const struct swh_acceptance *a, json_t *reasons,
                         bool talks)
{
    char ambient[64], speed[64], text[256];
    const enum swh_show show = swh_session_show(j->frame.session);
    const double left = j->frame.scenario.c.params.friction_weld_temperature -
                        a->worst.peak[SWH_CH_contact_temperature].value;
    snprintf(
        text, sizeof text,
        "worst hour at %s and %s: %s, film %.1f of the roughness on average, shoe contact stays %.0f K below "
        "welding",
        swh_units_text(j->frame.session->units, show, SWH_Q_TEMPERATURE, a->worst_ambient, ambient,
                       sizeof ambient),
        swh_units_text(j->frame.session->units, show, SWH_Q_ROTATION, a->worst_speed, speed, sizeof speed),
        a->lives ? "the compressor lives" : "THE COMPRESSOR DOES NOT LIVE", a->worst.mean[SWH_CH_film_ratio],
        left);
    reason(reasons, talks, text);
}

/* ---- what could not be judged ---- */

/* the readings without which no vehicle is accepted and that the log lacks; returns their number */
static int list_missing(const struct swh_acceptance *a, enum swh_channel out[SWH_ACCEPT_LEAST])
{
    int n = 0;
    for (int i = 0; i < SWH_ACCEPT_LEAST; i++)
        if (a->missing[i])
            out[n++] = swh_accept_least[i].channel;
    return n;
}

static void join(const enum swh_channel *ch, int n, char *out, size_t size)
{
    out[0] = '\0';
    for (int i = 0; i < n; i++) {
        const size_t used = strlen(out);
        snprintf(out + used, size - used, "%s%s", used ? ", " : "", swh_channel_table[ch[i]].id);
    }
}

static void missing_reasons(const struct swh_log_command *j, const struct swh_acceptance *a, json_t *reasons,
                            bool talks)
{
    char text[256];
    const struct swh_readings read = swh_log_command_readings(j);
    for (int i = 0; i < SWH_ACCEPT_LEAST; i++) {
        if (!a->missing[i])
            continue;
        const enum swh_channel ch = swh_accept_least[i].channel;
        const double covered = swh_readings_covered(&read, ch);
        snprintf(text, sizeof text, "no reading of %s: it alone tells %s", swh_channel_table[ch].id,
                 swh_accept_least[i].tells);
        if (covered > 0)
            snprintf(text, sizeof text, "%s was read for %.0f %% of the %s only: it alone tells %s",
                     swh_channel_table[ch].id, 100 * covered, swh_log_command_kind(j),
                     swh_accept_least[i].tells);
        reason(reasons, talks, text);
    }
}

/* other readings that the log lacks: the judgement stands without them, but says so */
static int list_not_judged(const struct swh_acceptance *a, enum swh_channel out[SWH_COMPARED])
{
    int n = 0;
    for (int i = 0; i < SWH_USUAL; i++) {
        bool needed = false;
        for (int k = 0; k < SWH_ACCEPT_LEAST; k++)
            needed |= swh_accept_least[k].channel == swh_compared[i];
        if (!needed && !a->judged[i])
            out[n++] = swh_compared[i];
    }
    return n;
}

static json_t *ids(const enum swh_channel *ch, int n)
{
    json_t *o = json_array();
    for (int i = 0; i < n; i++)
        json_array_append_new(o, json_string(swh_channel_table[ch[i]].id));
    return o;
}

/* ---- the judgement ---- */

struct verdict {
    bool pass;
    const char *word; /* in JSON */
    char text[400];   /* one sentence */
    enum swh_channel missing[SWH_ACCEPT_LEAST], not_judged[SWH_COMPARED];
    int n_missing, n_not_judged;
};

static struct verdict judge(const struct swh_log_command *j, const struct swh_acceptance *a)
{
    struct verdict v = {.word = "cannot_judge"};
    char names[256];
    v.n_missing = list_missing(a, v.missing);
    v.n_not_judged = list_not_judged(a, v.not_judged);
    v.pass = a->pass && !j->impossible;
    join(v.missing, v.n_missing, names, sizeof names);
    if (v.pass || (a->found && !j->impossible)) {
        v.word = v.pass ? "pass" : "fail";
        snprintf(v.text, sizeof v.text, "%s",
                 v.pass ? "PASS: the vehicle behaves like a healthy one" : "FAIL: not fit for the road yet");
    } else if (j->impossible)
        snprintf(v.text, sizeof v.text,
                 "FAIL: cannot be accepted: no vehicle can have given these readings, see the notes");
    else if (v.n_missing > 0)
        snprintf(v.text, sizeof v.text, "FAIL: cannot be accepted: no reading of %s", names);
    else
        snprintf(v.text, sizeof v.text, "FAIL: cannot be accepted: too short a log");
    return v;
}

static void short_reason(const struct swh_acceptance *a, json_t *reasons, bool talks)
{
    char text[128];
    if (a->enough)
        return;
    snprintf(text, sizeof text,
             "%.0f s with the clutch engaged: too short to judge, 10 minutes are the least", a->at_work);
    reason(reasons, talks, text);
}

static void fault_reason(const struct swh_acceptance *a, json_t *reasons, bool talks)
{
    char text[256] = "no fault of the library explains the log clearly better than health";
    if (a->fault != SWH_HEALTHY)
        snprintf(text, sizeof text,
                 "%s of severity %.2f (%.2f to %.2f) explains the log better than health: %s",
                 swh_fault_table[a->fault].id, a->ranking.cause[0].severity, a->ranking.cause[0].low,
                 a->ranking.cause[0].high, swh_fault_table[a->fault].repair);
    reason(reasons, talks, text);
}

static void not_judged_reason(const struct verdict *v, json_t *reasons, bool talks)
{
    char names[200], text[256];
    if (v->n_not_judged == 0)
        return;
    join(v->not_judged, v->n_not_judged, names, sizeof names);
    snprintf(text, sizeof text, "not judged for want of readings: %s", names);
    reason(reasons, talks, text);
}

static json_t *say(const struct swh_log_command *j, const struct swh_acceptance *a, const struct verdict *v)
{
    const bool talks = swh_frame_talks(&j->frame);
    json_t *o = json_object(), *reasons = json_array(), *channels = json_object();
    if (talks)
        printf("%s.\n\n", v->text);
    missing_reasons(j, a, reasons, talks);
    short_reason(a, reasons, talks);
    channel_reasons(a, reasons, talks);
    fault_reason(a, reasons, talks);
    worst_reason(j, a, reasons, talks);
    not_judged_reason(v, reasons, talks);
    for (int i = 0; i < SWH_COMPARED; i++)
        if (isfinite(a->deviation[i]))
            json_object_set_new(channels, swh_channel_table[swh_compared[i]].id, json_real(a->deviation[i]));
    json_object_set_new(o, "pass", json_boolean(v->pass));
    json_object_set_new(o, "verdict", json_string(v->word));
    json_object_set_new(o, "answer", swh_json_text(v->text));
    json_object_set_new(o, "missing", ids(v->missing, v->n_missing));
    json_object_set_new(o, "not_judged", ids(v->not_judged, v->n_not_judged));
    json_object_set_new(o, "time_at_work_s", swh_json_number(a->at_work));
    json_object_set_new(o, "reasons", reasons);
    json_object_set_new(o, "deviations", channels);
    json_object_set_new(o, "worst_outcome", json_string(swh_outcome_word(a->worst.outcome)));
    json_object_set_new(o, "worst_cause", json_string(swh_cause_word(a->worst.cause)));
    json_object_set_new(
        o, "worst_contact_temperature",
        swh_json_quantity(a->worst.peak[SWH_CH_contact_temperature].value, SWH_Q_TEMPERATURE));
    json_object_set_new(o, "worst_film_ratio", swh_json_number(a->worst.mean[SWH_CH_film_ratio]));
    swh_frame_notes_json(&j->frame, o);
    return o;
}

/* ---- the command ---- */

static enum swh_status accept_log(struct swh_log_command *j)
{
    struct swh_error err = {0};
    struct swh_acceptance *a = calloc(1, sizeof *a);
    const struct swh_readings read = swh_log_command_readings(j);
    const struct swh_rank_request q = {.vehicle = &j->frame.scenario.c,
                                       .doors_given = j->doors_given,
                                       .log = read.log,
                                       .sheet = read.sheet,
                                       .threads = swh_frame_threads()};
    if (!a)
        return swh_no_memory(j->frame.session, "a judgement");
    enum swh_status status = swh_accept(&q, 316.15, 50, a, &err);
    if (status != SWH_OK) {
        swh_error_at(&err, j->frame.session->argument[0], 0, 0);
        swh_fail(j->frame.session, &err);
    } else {
        swh_log_command_folder(j, "accept");
        const struct verdict v = judge(j, a);
        status = swh_log_command_write(j, say(j, a, &v), "accept.json", NULL);
        if (swh_frame_talks(&j->frame))
            swh_frame_print_notes(&j->frame, stdout);
        if (status == SWH_OK && !v.pass)
            j->frame.session->exit_code = 1;
        const bool judged = strcmp(v.word, "cannot_judge") != 0;
        if (status == SWH_OK && swh_accept_draw(j, a, v.text, judged, &err) != SWH_OK)
            status = swh_fail(j->frame.session, &err);
    }
    free(a);
    return status;
}

enum swh_status swh_cmd_accept(struct swh_session *s)
{
    struct swh_log_command *j = calloc(1, sizeof *j);
    if (!j)
        return swh_no_memory(s, "a judgement");
    enum swh_status status = swh_log_command_vehicle(j, s);
    if (status == SWH_OK)
        status = swh_log_command_logs(j, NULL);
    if (status == SWH_OK)
        status = swh_log_command_ask(j);
    if (status == SWH_OK)
        status = accept_log(j);
    swh_log_command_free(j);
    free(j);
    return status;
}
