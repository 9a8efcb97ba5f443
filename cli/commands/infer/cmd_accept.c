/* swashheat accept: does the repaired vehicle let its new compressor live? Exit status 1: no. */
#include "cli/base/shop_words.h"
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

static enum swh_quantity difference_of(enum swh_channel ch)
{
    return swh_channel_table[ch].quantity == SWH_Q_PRESSURE ? SWH_Q_PRESSURE_DIFFERENCE
                                                            : SWH_Q_TEMPERATURE_DIFFERENCE;
}

static void channel_reasons(const struct swh_log_command *j, const struct swh_acceptance *a, json_t *reasons,
                            bool talks)
{
    const struct swh_cause *healthy = swh_ranking_healthy(&a->ranking);
    for (int i = 0; i < SWH_COMPARED; i++) {
        char text[256], off[48], most[48];
        const enum swh_quantity q = difference_of(swh_compared[i]);
        if (a->channel_ok[i])
            continue;
        snprintf(
            text, sizeof text,
            "%s lies %s %s what a healthy vehicle gives; up to %s would be nothing unusual",
            swh_channel_table[swh_compared[i]].id,
            swh_log_command_text(j, q, fabs(healthy->mean[i]), off, sizeof off),
            a->deviation[i] > 0 ? "above" : "below",
            swh_log_command_text(j, q, SWH_ACCEPT_DEVIATIONS * a->ranking.mean_sigma[i], most, sizeof most));
        reason(reasons, talks, text);
    }
}

/* how the worst hour ends; a switch that kept the compressor alive is never hidden */
static void worst_end(const struct swh_acceptance *a, char *out, size_t size)
{
    const struct swh_summary *s = &a->worst;
    if (!a->lives)
        snprintf(out, size, "THE COMPRESSOR IS LOST OR RUNS ON METAL (%s)", swh_outcome_word(s->outcome));
    else if (s->outcome == SWH_PROTECTED)
        snprintf(out, size, "the compressor is KEPT ALIVE BY A SWITCH only: %s %ld times",
                 swh_event_table[s->protected_by].help, s->event_count[s->protected_by]);
    else
        snprintf(out, size, "the compressor comes through");
}

static void worst_reason(const struct swh_log_command *j, const struct swh_acceptance *a, json_t *reasons,
                         bool talks)
{
    char ambient[64], speed[64], left[64], end[160], with[200], text[600];
    const double below = j->frame.scenario.c.params.friction_weld_temperature -
                         a->worst.peak[SWH_CH_contact_temperature].value;
    if (a->fault == SWH_HEALTHY)
        snprintf(with, sizeof with, "a sound vehicle of this file");
    else
        swh_severity_words(a->fault, a->severity, with, sizeof with);
    worst_end(a, end, sizeof end);
    snprintf(text, sizeof text,
             "worst hour, computed at %s and %s with %s: %s; film %.1f of the roughness on average, shoe "
             "contact %s %s welding",
             swh_log_command_text(j, SWH_Q_TEMPERATURE, a->worst_ambient, ambient, sizeof ambient),
             swh_log_command_text(j, SWH_Q_ROTATION, a->worst_speed, speed, sizeof speed), with, end,
             a->worst.mean[SWH_CH_film_ratio],
             swh_log_command_text(j, SWH_Q_TEMPERATURE_DIFFERENCE, fabs(below), left, sizeof left),
             below >= 0 ? "below" : "ABOVE");
    reason(reasons, talks, text);
}

/* ---- what these readings could not have shown ---- */

static void add_words(char *out, size_t size, const char *text)
{
    const size_t used = strlen(out);
    snprintf(out + used, size - used, "%s%s", used ? "; " : "", text);
}

static void blind_reasons(const struct swh_acceptance *a, json_t *reasons, bool talks)
{
    char never[500] = "", small[900] = "", text[1600], words[160], name[80];
    for (int f = 0; f < SWH_FAULT_COUNT; f++) {
        if (isnan(a->blind[f])) {
            const struct swh_cause c = {.fault = f, .second = SWH_HEALTHY};
            add_words(never, sizeof never, swh_cause_name(&c, name, sizeof name));
        } else if (a->blind[f] > 0.2)
            add_words(small, sizeof small, swh_severity_words(f, a->blind[f], words, sizeof words));
    }
    if (never[0]) {
        snprintf(text, sizeof text, "these readings could not have shown, at any size: %s", never);
        reason(reasons, talks, text);
    }
    if (small[0]) {
        snprintf(text, sizeof text, "nor anything smaller than: %s", small);
        reason(reasons, talks, text);
    }
}

static json_t *blind_json(const struct swh_acceptance *a)
{
    json_t *o = json_array();
    for (int f = 0; f < SWH_FAULT_COUNT; f++)
        json_array_append_new(o, json_pack("{s:s, s:o}", "fault", swh_fault_table[f].id,
                                           "shown_from_severity", swh_json_number(a->blind[f])));
    return o;
}

/* ---- the table ---- */

static void print_table(const struct swh_log_command *j, const struct swh_acceptance *a)
{
    const struct swh_cause *healthy = swh_ranking_healthy(&a->ranking);
    const struct swh_readings read = swh_log_command_readings(j);
    printf("\n  %-26s %12s %12s   %s\n", "mean of", "read", "healthy", "a healthy vehicle gives");
    for (int i = 0; i < SWH_COMPARED; i++) {
        const enum swh_channel ch = swh_compared[i];
        const enum swh_quantity q = swh_channel_table[ch].quantity;
        const double x = swh_readings_mean(&read, ch), y = x + healthy->mean[i];
        const double most = SWH_ACCEPT_DEVIATIONS * a->ranking.mean_sigma[i];
        char read_text[48], healthy_text[48], low[48], high[48];
        if (!isfinite(a->deviation[i]))
            continue;
        printf("  %-26s %12s %12s   %s to %s%s\n", swh_channel_table[ch].id,
               swh_log_command_text(j, q, x, read_text, sizeof read_text),
               swh_log_command_text(j, q, y, healthy_text, sizeof healthy_text),
               swh_log_command_text(j, q, y - most, low, sizeof low),
               swh_log_command_text(j, q, y + most, high, sizeof high), a->channel_ok[i] ? "" : "   OUTSIDE");
    }
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
                 v.pass ? "PASS: nothing in these readings speaks against the vehicle"
                        : "FAIL: not fit for the road yet");
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

static void fault_reason(const struct swh_log_command *j, const struct swh_acceptance *a, json_t *reasons,
                         bool talks)
{
    char text[500], words[200];
    const struct swh_cause *best = &a->ranking.cause[0];
    snprintf(text, sizeof text, "no fault of the list fits the %s clearly better than a healthy vehicle does",
             swh_log_command_kind(j));
    if (a->fault != SWH_HEALTHY)
        snprintf(
            text, sizeof text, "%s fits the %s clearly better than a healthy vehicle does: %s; %s",
            swh_fault_table[a->fault].id, swh_log_command_kind(j),
            swh_severity_range_words(a->fault, best->severity, best->low, best->high, words, sizeof words),
            swh_fault_table[a->fault].repair);
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

/* the verdict, then what it rests on */
static void print_head(const struct swh_log_command *j, const struct swh_acceptance *a,
                       const struct verdict *v)
{
    char text[512];
    printf("%s.\n", v->text);
    if (swh_knowledge_text(&j->frame.scenario.c.params, text, sizeof text)[0])
        printf("%s.\n", text);
    if (swh_assumed_text(j, &a->ranking, text, sizeof text)[0])
        printf("Assumed: %s.\n", text);
    putchar('\n');
}

static json_t *say(const struct swh_log_command *j, const struct swh_acceptance *a, const struct verdict *v)
{
    const bool talks = swh_frame_talks(&j->frame);
    json_t *o = json_object(), *reasons = json_array(), *channels = json_object();
    if (talks)
        print_head(j, a, v);
    missing_reasons(j, a, reasons, talks);
    short_reason(a, reasons, talks);
    channel_reasons(j, a, reasons, talks);
    fault_reason(j, a, reasons, talks);
    worst_reason(j, a, reasons, talks);
    not_judged_reason(v, reasons, talks);
    blind_reasons(a, reasons, talks);
    if (talks)
        print_table(j, a);
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
    json_object_set_new(o, "fitted", json_string(swh_knowledge_word(a->ranking.knowledge)));
    json_object_set_new(o, "could_not_show", blind_json(a));
    json_object_set_new(o, "worst_fault",
                        json_string(a->fault == SWH_HEALTHY ? "healthy" : swh_fault_table[a->fault].id));
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
    enum swh_status status = swh_accept(&q, SWH_ACCEPT_AMBIENT, SWH_ACCEPT_SPEED, a, &err);
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
