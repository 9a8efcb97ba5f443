/* swashheat expect: what gauges, clamps and the vent would read with each cause, and how long the compressor
 * would live. */
#include "cli/commands/infer/expect_table.h"

#include "solver/files/suggest.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- what is asked ---- */

/* An engine's idle [rps]; common practice, no source. */
static const double IDLE = 750.0 / 60;

/* "idle", "1500", "2500 rpm": at the engine where its pulley ratio is known, else at the compressor */
static enum swh_status read_speed(struct swh_expect_command *e, const char *text)
{
    struct swh_session *s = e->judge.frame.session;
    struct swh_expect_name *name = &e->name[e->points];
    const double ratio = e->judge.frame.scenario.c.params.controls_pulley_ratio;
    char *end = NULL;
    double rpm = strtod(text, &end);
    const bool idle = strcmp(text, "idle") == 0;
    while (end && *end == ' ')
        end++;
    if (e->points == SWH_EXPECT_POINTS)
        return swh_misuse(s, "fewer", "more than %d speeds", SWH_EXPECT_POINTS);
    if (!idle &&
        (end == text || (strcmp(end, "") != 0 && strcmp(end, "rpm") != 0) || !(rpm >= 300 && rpm <= 8000)))
        return swh_misuse(s, "idle or a speed in rpm between 300 and 8000", "--at %s", text);
    if (idle)
        rpm = 60 * IDLE * (e->at_engine ? 1 : ratio);
    e->point[e->points] = (struct swh_expect_point){rpm / 60 * (e->at_engine ? ratio : 1),
                                                    e->judge.frame.scenario.c.conditions.vehicle_speed};
    const double compressor = 60 * e->point[e->points].compressor_speed;
    if (e->at_engine)
        snprintf(name->text, sizeof name->text, "%sengine %.0f rpm (compressor %.0f)", idle ? "idle: " : "",
                 rpm, compressor);
    else
        snprintf(name->text, sizeof name->text, "%scompressor %.0f rpm", idle ? "idle: " : "", compressor);
    e->points++;
    return SWH_OK;
}

static enum swh_status read_points(struct swh_expect_command *e)
{
    const char *at = swh_option_value(e->judge.frame.session, SWH_OPT_at);
    char text[256], *rest = NULL;
    e->at_engine = e->judge.frame.scenario.params[SWH_P_controls_pulley_ratio] != SWH_FROM_DEFAULT;
    snprintf(text, sizeof text, "%s", at ? at : "idle,1500,2500");
    for (char *word = strtok_r(text, ",", &rest); word; word = strtok_r(NULL, ",", &rest))
        if (read_speed(e, word + strspn(word, " ")) != SWH_OK)
            return swh_problems_status(&e->judge.frame.session->problems);
    return e->points > 0 ? SWH_OK : swh_misuse(e->judge.frame.session, "--at idle,1500,2500", "no speed");
}

static void add_cause(struct swh_expect_command *e, int fault, double severity)
{
    if (e->causes < SWH_EXPECT_CAUSES)
        e->cause[e->causes++] = (struct swh_expect_cause){fault, fmin(severity, swh_severity_most(fault))};
}

/* what is there wholly or not at all; all else half */
static double usual_severity(int fault)
{
    static const enum swh_fault whole[] = {SWH_FAULT_fan_dead, SWH_FAULT_never_cycling,
                                           SWH_FAULT_high_switch_bridged, SWH_FAULT_relief_blocked};
    for (size_t i = 0; i < sizeof whole / sizeof whole[0]; i++)
        if (fault == (int)whole[i])
            return 1;
    return 0.5;
}

static enum swh_status named_cause(struct swh_expect_command *e, const char *name, double severity)
{
    const int fault = swh_fault_find(name);
    if (fault < 0 && strcmp(name, "healthy") == 0)
        return SWH_OK;
    if (fault < 0) {
        struct swh_nearest near = {name, NULL, 0};
        for (int i = 0; i < SWH_FAULT_COUNT; i++)
            swh_nearest_offer(&near, swh_fault_table[i].id);
        return swh_misuse(e->judge.frame.session,
                          swh_nearest_is_near(&near) ? near.best : "a cause of swashheat list faults",
                          "unknown cause '%s'", name);
    }
    for (int i = 1; i < 4 && isnan(severity); i++)
        add_cause(e, fault, 0.25 * i);
    if (!isnan(severity))
        add_cause(e, fault, severity);
    return SWH_OK;
}

/* all causes at one severity, or those named at three; with --severity at that one */
static enum swh_status read_causes(struct swh_expect_command *e)
{
    struct swh_session *s = e->judge.frame.session;
    struct swh_error err = {0};
    const char *text = swh_option_value(s, SWH_OPT_severity), *name[SWH_OPTIONS_MAX];
    const int names = swh_option_values(s, SWH_OPT_cause, name);
    double severity = NAN;
    if (text && (swh_units_read(s->units, text, SWH_Q_NONE, &severity, &err) != SWH_OK ||
                 !(severity >= 0 && severity <= 1)))
        return swh_misuse(s, "0 to 1, or 0 to 100 %", "--severity %s", text);
    add_cause(e, SWH_HEALTHY, 0);
    for (int i = 0; i < names; i++)
        if (named_cause(e, name[i], severity) != SWH_OK)
            return swh_problems_status(&s->problems);
    for (int i = 0; i < SWH_FAULT_COUNT && names == 0; i++)
        add_cause(e, i, isnan(severity) ? usual_severity(i) : severity);
    return SWH_OK;
}

/* Bay readings are taken with the doors open, unless something else is said. */
static enum swh_status read_conditions(struct swh_expect_command *e)
{
    struct swh_session *s = e->judge.frame.session;
    struct swh_scenario *v = &e->judge.frame.scenario;
    struct swh_error err = {0};
    const char *ambient = swh_option_value(s, SWH_OPT_ambient);
    double T = v->c.conditions.ambient_temperature;
    if (ambient && swh_units_read(s->units, ambient, SWH_Q_TEMPERATURE, &T, &err) != SWH_OK) {
        swh_error_at(&err, "--ambient", 0, 0);
        err.status = SWH_ERR_USAGE;
        return swh_fail(s, &err);
    }
    const struct swh_input_info *info = &swh_input_table[SWH_IN_ambient_temperature];
    if (!(T >= info->lo && T <= info->hi))
        return swh_misuse(s, "outside air between -40 and 65 degC", "--ambient %s", ambient);
    v->c.conditions.ambient_temperature = T;
    e->ambient_given = ambient || v->conditions[SWH_IN_ambient_temperature] != SWH_FROM_DEFAULT;
    if (!e->judge.doors_given)
        v->c.conditions.doors_open = v->c.conditions.vehicle_speed > 1.5 ? 0 : 1;
    return SWH_OK;
}

/* ---- results ---- */

static enum swh_status write_results(struct swh_expect_command *e)
{
    struct swh_error err = {0};
    json_t *json = swh_expect_json(e);
    struct swh_frame *frame = &e->judge.frame;
    FILE *csv = swh_frame_file(frame, "expect.csv", &err);
    if (csv)
        swh_expect_csv(e, csv);
    if (swh_given(frame->session, SWH_OPT_json))
        swh_json_write(json, stdout);
    enum swh_status status = csv ? swh_frame_put_json(frame, "expect.json", json, &err) : SWH_ERR_OUTPUT;
    if (!csv)
        json_decref(json);
    if (status == SWH_OK)
        status = swh_frame_commit(frame, &err);
    else
        swh_out_abort(&frame->out);
    return status == SWH_OK ? SWH_OK : swh_fail(frame->session, &err);
}

static enum swh_status tell(struct swh_expect_command *e)
{
    struct swh_error err = {0};
    swh_frame_folder(&e->judge.frame, "expect");
    const enum swh_status status = write_results(e);
    if (status != SWH_OK)
        return status;
    if (swh_frame_talks(&e->judge.frame)) {
        swh_expect_print(e, stdout);
        swh_frame_print_notes(&e->judge.frame, stdout);
    }
    return swh_expect_draw(e, &err) == SWH_OK ? SWH_OK : swh_fail(e->judge.frame.session, &err);
}

static enum swh_status expect(struct swh_expect_command *e)
{
    struct swh_error err = {0};
    if (read_points(e) != SWH_OK || read_causes(e) != SWH_OK || read_conditions(e) != SWH_OK)
        return swh_problems_status(&e->judge.frame.session->problems);
    e->cell = calloc((size_t)(e->points * e->causes), sizeof *e->cell);
    if (!e->cell)
        return swh_no_memory(e->judge.frame.session, "a table of readings");
    const struct swh_expect_request q = {.vehicle = &e->judge.frame.scenario.c,
                                         .point = e->point,
                                         .points = e->points,
                                         .cause = e->cause,
                                         .causes = e->causes,
                                         .threads = swh_frame_threads()};
    if (swh_expect(&q, e->cell, &err) != SWH_OK)
        return swh_fail(e->judge.frame.session, &err);
    return tell(e);
}

enum swh_status swh_cmd_expect(struct swh_session *s)
{
    struct swh_expect_command *e = calloc(1, sizeof *e);
    if (!e)
        return swh_no_memory(s, "a table of readings");
    enum swh_status status = swh_log_command_vehicle(&e->judge, s);
    if (status == SWH_OK)
        status = expect(e);
    free(e->cell);
    swh_log_command_free(&e->judge);
    free(e);
    return status;
}
