/* swashheat plan: the test that tells the leading causes apart. */
#include "cli/commands/infer/draw.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static const char *const cautions[] = {
    "Refrigerant under pressure: eye protection and gloves, hoses checked, valves closed before uncoupling.",
    "Hot and turning parts: hands, cables and hair away from fan, belt and discharge pipe.",
    "Stop at once above 25 bar at the high side, 115 degC at the discharge pipe, with noise or smoke.",
    "Never bridge a pressure switch to see more; never vent refrigerant. Some refrigerants burn.",
    "PAG oil draws water and irritates skin. The vehicle maker's manual and local rules come first."};

/* ---- causes from rank.json ---- */

static bool read_cause(const json_t *o, struct swh_test_cause *c)
{
    const char *name = json_string_value(json_object_get(o, "fault"));
    if (!name)
        return false;
    char first[80];
    snprintf(first, sizeof first, "%s", name);
    char *plus = strchr(first, '+');
    if (plus)
        *plus = '\0';
    c->fault = strcmp(first, "healthy") == 0 ? SWH_HEALTHY : swh_fault_find(first);
    c->second = plus ? swh_fault_find(plus + 1) : SWH_HEALTHY;
    c->severity = json_number_value(json_object_get(o, "severity"));
    c->second_severity = json_number_value(json_object_get(o, "second_severity"));
    c->share = json_number_value(json_object_get(o, "share"));
    return c->fault >= 0 || strcmp(first, "healthy") == 0;
}

static enum swh_status bad_file(struct swh_session *s, const char *path, const char *what, long line)
{
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_INPUT, "%s", what);
    swh_error_expected(&err, "a rank.json that swashheat rank wrote");
    swh_error_at(&err, path, line, 0);
    return swh_fail(s, &err);
}

/* where the ranking is: `from` itself, or rank.json in it if it is a folder; cut off beyond size */
static void find_ranking(const char *from, char *out, size_t size)
{
    struct stat st;
    const bool folder = stat(from, &st) == 0 && S_ISDIR(st.st_mode);
    snprintf(out, size, "%s%s", from, folder ? "/rank.json" : "");
}

/* the two best, and what else has at least 2 %; no pairs unless they lead */
static enum swh_status read_causes(struct swh_session *s, const char *from, struct swh_test_cause *cause,
                                   int *count)
{
    char path[4096];
    find_ranking(from, path, sizeof path);
    json_error_t why;
    json_t *file = json_load_file(path, 0, &why);
    if (!file)
        return bad_file(s, path, why.text, why.line > 0 ? why.line : 0);
    const json_t *ranking = json_object_get(file, "ranking");
    *count = 0;
    for (size_t i = 0; i < json_array_size(ranking) && *count < SWH_TEST_CAUSES; i++) {
        struct swh_test_cause c;
        if (!read_cause(json_array_get(ranking, i), &c)) {
            json_decref(file);
            return bad_file(s, path, "a cause that this program does not know", 0);
        }
        if (*count < 2 || (c.share >= 0.02 && c.second == SWH_HEALTHY))
            cause[(*count)++] = c;
    }
    json_decref(file);
    return *count >= 2 ? SWH_OK : bad_file(s, path, "fewer than two causes", 0);
}

/* without a ranking: health against the commonest outside causes of a burnt compressor */
static int usual_causes(struct swh_test_cause *cause)
{
    static const struct {
        int fault;
        double severity;
    } usual[] = {{SWH_HEALTHY, 0},
                 {SWH_FAULT_undercharge, 0.5},
                 {SWH_FAULT_condenser_blocked, 0.4},
                 {SWH_FAULT_air_in_system, 0.4},
                 {SWH_FAULT_valve_starving, 0.5}};
    const int n = (int)(sizeof usual / sizeof usual[0]);
    for (int i = 0; i < n; i++)
        cause[i] = (struct swh_test_cause){usual[i].fault, SWH_HEALTHY, usual[i].severity, 0, 1.0 / n};
    return n;
}

/* ---- telling ---- */

static const char *name_of(const struct swh_test_cause *c, char *out, size_t size)
{
    const struct swh_cause full = {.fault = c->fault, .second = c->second};
    return swh_cause_name(&full, out, size);
}

static json_t *test_json(const struct swh_test_result *t, const struct swh_test_cause *cause, int causes)
{
    const struct swh_testpoint_info *p = &swh_testpoint_table[t->point];
    json_t *o = json_pack("{s:s, s:s, s:f, s:o, s:s, s:b}", "test", p->id, "how", p->help, "hold_s", p->hold,
                          "separation", swh_json_number(t->total), "best_reading",
                          swh_channel_table[swh_compared[t->best]].id, "careful", t->careful);
    json_t *expected = json_object();
    for (int k = 0; k < causes; k++) {
        char name[80];
        json_t *values = json_object();
        for (int i = 0; i < SWH_COMPARED; i++)
            json_object_set_new(
                values, swh_channel_table[swh_compared[i]].id,
                swh_json_quantity(t->value[k][i], swh_channel_table[swh_compared[i]].quantity));
        json_object_set_new(expected, name_of(&cause[k], name, sizeof name), values);
    }
    json_object_set_new(o, "expected", expected);
    return o;
}

static json_t *plan_json(const struct swh_log_command *j, const struct swh_test_result *t,
                         const struct swh_test_cause *cause, int causes)
{
    json_t *o = json_object(), *tests = json_array(), *warn = json_array();
    for (int i = 0; i < SWH_TESTPOINT_COUNT; i++)
        json_array_append_new(tests, test_json(&t[i], cause, causes));
    for (size_t i = 0; i < sizeof cautions / sizeof cautions[0]; i++)
        json_array_append_new(warn, json_string(cautions[i]));
    json_object_set_new(o, "tests", tests);
    json_object_set_new(o, "cautions", warn);
    swh_frame_notes_json(&j->frame, o);
    return o;
}

static void print_test(const struct swh_log_command *j, int number, const struct swh_test_result *t,
                       const struct swh_test_cause *cause, int causes)
{
    const struct swh_testpoint_info *p = &swh_testpoint_table[t->point];
    printf("%d. %s\n   Hold %.0f min and read through the last of them.%s\n", number, p->help, p->hold / 60,
           t->careful ? " CAREFUL: one of the causes comes near a limit here." : "");
    for (int i = 0; i < SWH_COMPARED; i++) {
        const struct swh_channel_info *ch = &swh_channel_table[swh_compared[i]];
        if (i != t->best && t->separation[i] < 2)
            continue;
        printf("   %s%s (%s), apart by %.1f deviations\n", i == t->best ? "First of all " : "", ch->id,
               ch->help, t->separation[i]);
        for (int k = 0; k < causes; k++) {
            char name[80], value[64];
            printf("      %-40s %s\n", name_of(&cause[k], name, sizeof name),
                   swh_units_text(j->frame.session->units, swh_session_show(j->frame.session), ch->quantity,
                                  t->value[k][i], value, sizeof value));
        }
    }
    fputc('\n', stdout);
}

static void print_plan(const struct swh_log_command *j, const struct swh_test_result *t,
                       const struct swh_test_cause *cause, int causes)
{
    printf("Tests that tell the leading causes apart, best first\n\n");
    for (size_t i = 0; i < sizeof cautions / sizeof cautions[0]; i++)
        printf("  ! %s\n", cautions[i]);
    fputc('\n', stdout);
    for (int i = 0; i < 3; i++)
        print_test(j, i + 1, &t[i], cause, causes);
    swh_frame_print_notes(&j->frame, stdout);
}

static enum swh_status make_plan(struct swh_log_command *j)
{
    struct swh_error err = {0};
    struct swh_test_cause cause[SWH_TEST_CAUSES];
    struct swh_test_result tests[SWH_TESTPOINT_COUNT];
    const char *from = swh_option_value(j->frame.session, SWH_OPT_from);
    int causes = 0;
    if (from && read_causes(j->frame.session, from, cause, &causes) != SWH_OK)
        return swh_problems_status(&j->frame.session->problems);
    if (!from)
        causes = usual_causes(cause);
    if (swh_testplan(&j->frame.scenario.c, cause, causes, swh_frame_threads(), tests, &err) != SWH_OK)
        return swh_fail(j->frame.session, &err);
    swh_log_command_folder(j, "plan");
    enum swh_status status = swh_log_command_write(j, plan_json(j, tests, cause, causes), "plan.json", NULL);
    if (status == SWH_OK && swh_frame_talks(&j->frame))
        print_plan(j, tests, cause, causes);
    if (status == SWH_OK && swh_plan_draw(j, &tests[0], cause, causes, &err) != SWH_OK)
        status = swh_fail(j->frame.session, &err);
    return status;
}

enum swh_status swh_cmd_plan(struct swh_session *s)
{
    struct swh_log_command *j = calloc(1, sizeof *j);
    if (!j)
        return swh_no_memory(s, "a plan");
    enum swh_status status = swh_log_command_vehicle(j, s);
    if (status == SWH_OK)
        status = make_plan(j);
    swh_log_command_free(j);
    free(j);
    return status;
}
