/* swashheat accept: does the repaired vehicle let its new compressor live? Exit status 1: no. */
#include "cli/judge.h"
#include "solver/accept.h"

#include <math.h>
#include <stdlib.h>

static void reason(json_t *reasons, bool talks, const char *text)
{
    json_array_append_new(reasons, json_string(text));
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

static void worst_reason(const struct swh_judge *j, const struct swh_acceptance *a, json_t *reasons,
                         bool talks)
{
    char ambient[64], speed[64], text[256];
    const enum swh_show show = swh_session_show(j->session);
    const double left =
        j->scenario.c.params.friction_weld_temperature - a->worst.peak[SWH_CH_contact_temperature].value;
    snprintf(
        text, sizeof text,
        "worst hour at %s and %s: %s, film %.1f of the roughness on average, shoe contact stays %.0f K below "
        "welding",
        swh_units_text(j->session->units, show, SWH_Q_TEMPERATURE, a->worst_ambient, ambient, sizeof ambient),
        swh_units_text(j->session->units, show, SWH_Q_ROTATION, a->worst_speed, speed, sizeof speed),
        a->lives ? "the compressor lives" : "THE COMPRESSOR DOES NOT LIVE", a->worst.mean[SWH_CH_film_ratio],
        left);
    reason(reasons, talks, text);
}

static json_t *say(const struct swh_judge *j, const struct swh_acceptance *a)
{
    const bool talks = swh_judge_talks(j);
    json_t *o = json_object(), *reasons = json_array(), *channels = json_object();
    char text[256];
    if (talks)
        printf("%s\n\n",
               a->pass ? "PASS: the vehicle behaves like a healthy one." : "FAIL: not fit for the road yet.");
    if (!a->enough)
        reason(reasons, talks,
               "the log has less than 10 minutes with the clutch engaged: too short to judge");
    channel_reasons(a, reasons, talks);
    if (a->fault != SWH_HEALTHY) {
        snprintf(text, sizeof text,
                 "%s of severity %.2f (%.2f to %.2f) explains the log better than health: %s",
                 swh_fault_table[a->fault].id, a->ranking.cause[0].severity, a->ranking.cause[0].low,
                 a->ranking.cause[0].high, swh_fault_table[a->fault].repair);
        reason(reasons, talks, text);
    } else
        reason(reasons, talks, "no fault of the library explains the log clearly better than health");
    worst_reason(j, a, reasons, talks);
    for (int i = 0; i < SWH_COMPARED; i++)
        if (isfinite(a->deviation[i]))
            json_object_set_new(channels, swh_channel_table[swh_compared[i]].id, json_real(a->deviation[i]));
    json_object_set_new(o, "pass", json_boolean(a->pass));
    json_object_set_new(o, "reasons", reasons);
    json_object_set_new(o, "deviations", channels);
    json_object_set_new(o, "worst_outcome", json_string(swh_outcome_word(a->worst.outcome)));
    json_object_set_new(
        o, "worst_contact_temperature",
        swh_json_quantity(a->worst.peak[SWH_CH_contact_temperature].value, SWH_Q_TEMPERATURE));
    json_object_set_new(o, "worst_film_ratio", swh_json_number(a->worst.mean[SWH_CH_film_ratio]));
    swh_judge_notes_json(j, o);
    return o;
}

static enum swh_status accept_log(struct swh_judge *j)
{
    struct swh_error err = {0};
    struct swh_acceptance *a = calloc(1, sizeof *a);
    const struct swh_rank_request q = {.vehicle = &j->scenario.c,
                                       .doors_given = j->doors_given,
                                       .log = &j->log[0],
                                       .threads = swh_judge_threads()};
    if (!a)
        return swh_misuse(j->session, NULL, "no memory to judge a log");
    enum swh_status status = swh_accept(&q, 316.15, 50, a, &err);
    if (status != SWH_OK) {
        swh_error_at(&err, j->session->argument[0], 0, 0);
        swh_fail(j->session, &err);
    } else {
        swh_judge_folder(j, "accept");
        status = swh_judge_write(j, say(j, a), "accept.json", NULL);
        if (swh_judge_talks(j))
            swh_judge_print_notes(j, stdout);
        if (status == SWH_OK && !a->pass)
            j->session->exit_code = 1;
    }
    free(a);
    return status;
}

enum swh_status swh_cmd_accept(struct swh_session *s)
{
    struct swh_judge *j = calloc(1, sizeof *j);
    if (!j)
        return swh_misuse(s, NULL, "no memory to judge a log");
    enum swh_status status = swh_judge_vehicle(j, s);
    if (status == SWH_OK)
        status = swh_judge_logs(j, NULL);
    if (status == SWH_OK)
        status = accept_log(j);
    swh_judge_free(j);
    free(j);
    return status;
}
