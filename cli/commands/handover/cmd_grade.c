/* swashheat grade: is the cause that a student names right, does it read alike, or is it wrong? */
#include "cli/base/frame.h"
#include "cli/base/range_option.h"
#include "cli/base/result.h"
#include "cli/commands/handover/class_car.h"
#include "solver/files/suggest.h"
#include "solver/infer/rank.h"
#include "solver/infer/test_plan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum grade { RIGHT, ALIKE, WRONG };
static const char *const grade_word[] = {"right", "reads alike", "wrong"};
static const double grade_points[] = {1, 0.5, 0};

struct grading {
    struct swh_session *session;
    struct swh_scenario vehicle;
    int fault, named; /* of the car; by the student */
    double severity, said,
        fitting; /* of the car; by the student (NaN: not said); of the named cause, fitting best */
    enum grade grade;
    double apart;             /* standard deviations between the two in the readings of the class */
    int point;                /* where */
    enum swh_channel channel; /* and in what */
    bool told;                /* a test of the catalogue tells them apart */
    struct swh_test_result test;
};

/* ---- what the student says ---- */

static enum swh_status read_cause(struct swh_session *s, int *out)
{
    const char *name = swh_option_value(s, SWH_OPT_cause);
    struct swh_nearest near = {name ? name : "", NULL, 0};
    if (!name)
        return swh_misuse(s, "--cause NAME, one of swashheat list faults, or healthy", "no cause to grade");
    *out = strcmp(name, "healthy") == 0 ? SWH_HEALTHY : swh_fault_find(name);
    if (*out >= 0 || strcmp(name, "healthy") == 0)
        return SWH_OK;
    swh_nearest_offer(&near, "healthy");
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        swh_nearest_offer(&near, swh_fault_table[i].id);
    char expected[160];
    snprintf(expected, sizeof expected, "a cause of swashheat list faults, or healthy%s",
             swh_nearest_said(&near).text);
    return swh_misuse(s, expected, "unknown cause '%s'", name);
}

static enum swh_status read_severity(struct grading *g)
{
    const char *text = swh_option_value(g->session, SWH_OPT_severity);
    struct swh_error err = {0};
    g->said = NAN;
    if (!text)
        return SWH_OK;
    if (swh_units_read(g->session->units, text, SWH_Q_NONE, &g->said, &err) == SWH_OK && g->said >= 0 &&
        g->said <= 1)
        return SWH_OK;
    return swh_misuse(g->session, "a severity from 0 to 1, or in %", "'%s' as a severity", text);
}

/* ---- the car ---- */

static enum swh_status no_answer(struct swh_session *s, const char *path, const char *what)
{
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_INPUT, "%s", what);
    swh_error_expected(&err, "the folder of a car that swashheat exercise made, its answers beside it");
    swh_error_at(&err, path, 0, 0);
    return swh_fail(s, &err);
}

/* answers.json beside the car's folder; its name is the last part of the path */
static enum swh_status read_answer(struct grading *g, json_t **all, const json_t **answer)
{
    char folder[400], path[600], *slash;
    struct stat st;
    snprintf(folder, sizeof folder, "%s", g->session->argument[0]);
    for (size_t n = strlen(folder); n > 1 && folder[n - 1] == '/'; n--)
        folder[n - 1] = '\0';
    if (stat(folder, &st) != 0 || !S_ISDIR(st.st_mode))
        return no_answer(g->session, folder, "there is no such folder");
    slash = strrchr(folder, '/');
    if (slash)
        snprintf(path, sizeof path, "%.*s/answers/answers.json", (int)(slash - folder), folder);
    else
        snprintf(path, sizeof path, "answers/answers.json");
    *all = json_load_file(path, 0, NULL);
    if (!*all)
        return no_answer(g->session, path, "no answers can be read here");
    *answer = json_object_get(*all, slash ? slash + 1 : folder);
    const char *name = json_string_value(json_object_get(*answer, "fault"));
    g->fault = name ? swh_fault_find(name) : SWH_HEALTHY;
    if (!name || (g->fault < 0 && strcmp(name, "healthy") != 0))
        return no_answer(g->session, path, "no answer for this car");
    g->severity = json_number_value(json_object_get(*answer, "severity"));
    return SWH_OK;
}

static enum swh_status load_car(struct grading *g)
{
    json_t *all = NULL;
    const json_t *answer = NULL;
    char path[600];
    enum swh_status status = read_answer(g, &all, &answer);
    if (status == SWH_OK) {
        snprintf(path, sizeof path, "%s/vehicle.ini", g->session->argument[0]);
        const struct swh_scenario_request request = {.path = path};
        status = swh_scenario_load(&g->vehicle, &request, g->session->units, &g->session->problems);
    }
    if (status == SWH_OK) {
        struct swh_inputs *in = &g->vehicle.c.conditions;
        in->ambient_temperature =
            json_number_value(json_object_get(json_object_get(answer, "ambient_temperature"), "value"));
        in->ambient_humidity = json_number_value(json_object_get(answer, "ambient_humidity"));
        in->doors_open = 1;
    }
    json_decref(all);
    return status;
}

/* ---- comparing ---- */

static enum swh_status read_with(const struct grading *g, int fault, double severity,
                                 struct swh_class_readings *out, struct swh_error *err)
{
    struct swh_case c = g->vehicle.c; /* shares the schedule, which stays as it is */
    swh_case_fault_always(&c, fault, severity);
    return swh_class_read(&c, out, err);
}

/* The severity of the named cause whose readings are nearest to the car's. */
static enum swh_status find_fitting(struct grading *g, struct swh_error *err)
{
    enum { STEPS = 10 };
    struct swh_class_readings truth, tried;
    enum swh_status status = read_with(g, g->fault, g->severity, &truth, err);
    g->apart = INFINITY;
    for (int i = g->named < 0 ? STEPS : 1; i <= STEPS && status == SWH_OK; i++) {
        const double severity = g->named < 0 ? 0 : fmin(i / (double)STEPS, swh_severity_most(g->named));
        int point = 0;
        enum swh_channel channel = SWH_CH_time;
        status = read_with(g, g->named, severity, &tried, err);
        const double apart = swh_class_apart(&g->vehicle.c.params, &truth, &tried, &point, &channel);
        if (status != SWH_OK || !(apart < g->apart))
            continue;
        g->apart = apart;
        g->fitting = severity;
        g->point = point;
        g->channel = channel;
    }
    return status;
}

static enum swh_status find_test(struct grading *g, struct swh_error *err)
{
    struct swh_test_result tests[SWH_TESTPOINT_COUNT];
    const struct swh_test_cause two[2] = {{g->fault, SWH_HEALTHY, g->severity, 0, 0.5},
                                          {g->named, SWH_HEALTHY, g->fitting, 0, 0.5}};
    const enum swh_status status = swh_testplan(&g->vehicle.c, two, 2, swh_frame_threads(), tests, err);
    double most = 0;
    for (int i = 0; i < SWH_TESTPOINT_COUNT && status == SWH_OK; i++) {
        const double s = tests[i].separation[tests[i].best];
        if (!(s > most) || (tests[i].careful && most >= SWH_CLASS_TELLS))
            continue;
        most = s;
        g->test = tests[i];
    }
    g->told = most >= SWH_CLASS_TELLS;
    return status;
}

static enum swh_status compare(struct grading *g, struct swh_error *err)
{
    g->grade = RIGHT;
    if (g->named == g->fault)
        return SWH_OK;
    enum swh_status status = find_fitting(g, err);
    g->grade = g->apart < SWH_CLASS_TELLS ? ALIKE : WRONG;
    return status == SWH_OK ? find_test(g, err) : status;
}

/* ---- words ---- */

static void name_of(int fault, char *out, size_t size)
{
    swh_frame_words(fault < 0 ? "healthy" : swh_fault_table[fault].id, out, size);
}

static void say_test(const struct grading *g)
{
    char named[64], truth[64], a[64], b[64];
    const enum swh_channel ch = swh_compared[g->test.best];
    const enum swh_quantity q = swh_channel_table[ch].quantity;
    const enum swh_show show = swh_session_show(g->session);
    name_of(g->named, named, sizeof named);
    name_of(g->fault, truth, sizeof truth);
    if (!g->told) {
        printf("  No reading of the catalogue of tests tells them apart: look at the parts themselves.\n");
        return;
    }
    printf("  What would have told: %s, %s: %s with %s, %s with %s.\n", swh_channel_table[ch].help,
           swh_testpoint_table[g->test.point].help,
           swh_units_text(g->session->units, show, q, g->test.value[0][g->test.best], a, sizeof a), truth,
           swh_units_text(g->session->units, show, q, g->test.value[1][g->test.best], b, sizeof b), named);
}

static void say(const struct grading *g)
{
    char truth[64], where[64];
    name_of(g->fault, truth, sizeof truth);
    printf("%s: %.1f of 1 point. The car: %s", grade_word[g->grade], grade_points[g->grade], truth);
    if (g->fault >= 0)
        printf(", severity %.2f (%s)", g->severity, swh_fault_table[g->fault].severity);
    printf(".\n");
    if (g->grade == RIGHT && isfinite(g->said) && g->fault >= 0)
        printf("  Severity %.2f: %s.\n", g->said,
               fabs(g->said - g->severity) <= 0.15 ? "right within 0.15" : "off by more than 0.15");
    if (g->grade == RIGHT)
        return;
    swh_frame_words(swh_channel_table[g->channel].id, where, sizeof where);
    printf(
        g->grade == ALIKE
            ? "  In the readings of the class the two differ by %.1f standard deviations at most (%s, %s).\n"
            : "  The readings spoke against it: they differ by %.1f standard deviations (%s, %s).\n",
        g->apart, where, swh_class_point[g->point]);
    say_test(g);
}

static json_t *as_json(const struct grading *g)
{
    json_t *o = json_pack(
        "{s:s, s:f, s:s, s:o, s:s}", "grade", g->grade == ALIKE ? "reads_alike" : grade_word[g->grade],
        "points", grade_points[g->grade], "fault", g->fault < 0 ? "healthy" : swh_fault_table[g->fault].id,
        "severity", swh_json_number(g->severity), "named",
        g->named < 0 ? "healthy" : swh_fault_table[g->named].id);
    if (isfinite(g->said))
        json_object_set_new(o, "severity_right",
                            json_boolean(g->grade == RIGHT && fabs(g->said - g->severity) <= 0.15));
    if (g->grade == RIGHT)
        return o;
    json_object_set_new(o, "deviations", swh_json_number(g->apart));
    json_object_set_new(o, "reading", json_string(swh_channel_table[g->channel].id));
    json_object_set_new(o, "would_have_told",
                        g->told ? json_pack("{s:s, s:s}", "test", swh_testpoint_table[g->test.point].id,
                                            "reading", swh_channel_table[swh_compared[g->test.best]].id)
                                : json_null());
    return o;
}

enum swh_status swh_cmd_grade(struct swh_session *s)
{
    struct grading *g = calloc(1, sizeof *g);
    struct swh_error err = {0};
    if (!g)
        return swh_no_memory(s, "a grade");
    g->session = s;
    enum swh_status status = read_cause(s, &g->named);
    if (status == SWH_OK)
        status = read_severity(g);
    if (status == SWH_OK)
        status = load_car(g);
    if (status == SWH_OK && compare(g, &err) != SWH_OK)
        status = swh_fail(s, &err);
    if (status == SWH_OK && swh_given(s, SWH_OPT_json)) {
        json_t *o = as_json(g);
        swh_json_write(o, stdout);
        json_decref(o);
    } else if (status == SWH_OK)
        say(g);
    swh_scenario_free(&g->vehicle);
    free(g);
    return status;
}
