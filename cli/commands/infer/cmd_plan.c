/* swashheat plan: the test that tells the leading causes apart. */
#include "cli/commands/infer/plan_sheet.h"
#include "cli/commands/infer/trust_words.h"
#include "solver/infer/rank.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static const char *const cautions[] = {
    "Refrigerant under pressure: eye protection and gloves, hoses checked, valves closed before uncoupling.",
    "Hot and turning parts: hands, cables and hair away from fan, belt and discharge pipe.",
    NULL, /* where to stop, in the reader's units */
    "Never bridge a pressure switch to see more; never vent refrigerant. Some refrigerants burn.",
    "PAG oil draws water and irritates skin. The vehicle maker's manual and local rules come first."};
enum { CAUTIONS = sizeof cautions / sizeof cautions[0] };

static const char *caution(const struct swh_log_command *j, int i, char *out, size_t size)
{
    char stop[160];
    if (cautions[i])
        snprintf(out, size, "%s", cautions[i]);
    else
        snprintf(out, size, "Stop at once above %s, with noise or smoke.",
                 swh_stop_words(j, stop, sizeof stop));
    return out;
}

/* ---- causes from rank.json ---- */

/* a number between 0 and 1; absent ones are allowed where `needed` is not set */
static bool read_share(const json_t *o, const char *key, bool needed, double *out)
{
    const json_t *x = json_object_get(o, key);
    *out = 0;
    if (!x || json_is_null(x))
        return !needed;
    *out = json_number_value(x);
    return json_is_number(x) && *out >= 0 && *out <= 1;
}

/* The cause of one entry; else what is wrong with it. */
static const char *read_cause(const json_t *o, struct swh_test_cause *c)
{
    const char *name = json_string_value(json_object_get(o, "fault"));
    if (!name)
        return "a cause without a name";
    char first[80];
    snprintf(first, sizeof first, "%s", name);
    char *plus = strchr(first, '+');
    if (plus)
        *plus = '\0';
    const bool healthy = strcmp(first, "healthy") == 0;
    c->fault = healthy ? SWH_HEALTHY : swh_fault_find(first);
    c->second = plus ? swh_fault_find(plus + 1) : SWH_HEALTHY;
    if ((c->fault < 0 && !healthy) || (plus && (c->second < 0 || healthy)))
        return "a cause that this program does not know";
    if (plus && !swh_rank_may_pair(c->fault, c->second))
        return "a pair of causes that undo or repeat each other";
    if (!read_share(o, "severity", !healthy, &c->severity) ||
        !read_share(o, "second_severity", plus != NULL, &c->second_severity))
        return "a severity that is no number from 0 to 1";
    return read_share(o, "share", true, &c->share) ? NULL : "a share that is no number from 0 to 1";
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

/* ambient and humidity of what was read, as kept with the ranking */
static void take_conditions(struct swh_log_command *j, const json_t *file)
{
    const json_t *o = json_object_get(file, "conditions");
    const json_t *T = json_object_get(json_object_get(o, "ambient_temperature"), "value");
    const json_t *humidity = json_object_get(o, "ambient_humidity");
    const struct swh_input_info *info = &swh_input_table[SWH_IN_ambient_temperature];
    const double x = json_is_number(T) ? json_number_value(T) : NAN;
    const double rh = json_is_number(humidity) ? json_number_value(humidity) : NAN;
    swh_steps_conditions(j, x >= info->lo && x <= info->hi ? x : NAN, rh >= 0 && rh <= 1 ? rh : NAN);
}

static enum swh_status read_ranking(struct swh_log_command *j, const char *from, struct swh_steps *s)
{
    char path[4096];
    struct swh_session *session = j->frame.session;
    find_ranking(from, path, sizeof path);
    json_error_t why;
    json_t *file = json_load_file(path, 0, &why);
    if (!file)
        return bad_file(session, path, why.text, why.line > 0 ? why.line : 0);
    const json_t *ranking = json_object_get(file, "ranking");
    const char *wrong = NULL;
    for (size_t i = 0; i < json_array_size(ranking) && !wrong; i++) {
        struct swh_test_cause c;
        wrong = read_cause(json_array_get(ranking, i), &c);
        if (!wrong)
            swh_steps_take(s, &c);
    }
    const char *readings = json_string_value(json_object_get(file, "readings"));
    s->locked = readings && strcmp(readings, "findings") == 0;
    take_conditions(j, file);
    json_decref(file);
    if (wrong)
        return bad_file(session, path, wrong, 0);
    return s->causes >= 2 ? SWH_OK : bad_file(session, path, "fewer than two causes", 0);
}

/* without a ranking: health against the commonest outside causes of a burnt compressor */
static void usual_causes(struct swh_steps *s)
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
    for (int i = 0; i < n; i++) {
        const struct swh_test_cause c = {usual[i].fault, SWH_HEALTHY, usual[i].severity, 0, 1.0 / n};
        swh_steps_take(s, &c);
    }
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
    json_object_set_new(o, "barred", json_boolean(t->barred));
    json_object_set_new(o, "stop_time_s", swh_json_number(t->stop_time));
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

static json_t *cause_json(const struct swh_test_cause *c)
{
    char text[240];
    json_t *o = json_object();
    json_object_set_new(o, "fault", json_string(name_of(c, text, sizeof text)));
    json_object_set_new(o, "severity", swh_json_number(c->severity));
    json_object_set_new(o, "share", swh_json_number(c->share));
    json_object_set_new(o, "words", json_string(swh_steps_cause(c, text, sizeof text)));
    return o;
}

static json_t *plan_json(const struct swh_log_command *j, const struct swh_steps *s)
{
    char text[256];
    json_t *o = json_object(), *tests = json_array(), *warn = json_array(), *causes = json_array();
    for (int i = 0; i < SWH_TESTPOINT_COUNT; i++)
        json_array_append_new(tests, test_json(&s->test[i], s->cause, s->causes));
    for (int i = 0; i < CAUTIONS; i++)
        json_array_append_new(warn, json_string(caution(j, i, text, sizeof text)));
    for (int i = 0; i < s->causes; i++)
        json_array_append_new(causes, cause_json(&s->cause[i]));
    json_object_set_new(o, "tests", tests);
    json_object_set_new(o, "direct", swh_steps_direct_json(j, s));
    json_object_set_new(o, "next_reading", swh_steps_next_json(s));
    json_object_set_new(o, "told_apart", json_boolean(s->told));
    json_object_set_new(o, "causes", causes);
    json_object_set_new(o, "conditions", json_string(swh_steps_conditions_words(j, text, sizeof text)));
    json_object_set_new(o, "stop", swh_stop_json(j));
    json_object_set_new(o, "fitted",
                        json_string(swh_knowledge_word(swh_knowledge_of(&j->frame.scenario.c.params))));
    json_object_set_new(o, "cautions", warn);
    swh_frame_notes_json(&j->frame, o);
    return o;
}

static void print_reading(const struct swh_log_command *j, const struct swh_test_result *t,
                          const struct swh_steps *s, int i)
{
    const struct swh_channel_info *ch = &swh_channel_table[swh_compared[i]];
    printf("   %s%s (%s), %s told\n", i == t->best ? "Read first: " : "", ch->id, ch->help,
           swh_apart_word(t->separation[i]));
    for (int k = 0; k < s->causes; k++) {
        char name[240], value[64];
        printf("      %-70s %s\n", swh_steps_cause(&s->cause[k], name, sizeof name),
               swh_log_command_text(j, ch->quantity, t->value[k][i], value, sizeof value));
    }
}

static void print_test(const struct swh_log_command *j, int number, const struct swh_test_result *t,
                       const struct swh_steps *s)
{
    const struct swh_testpoint_info *p = &swh_testpoint_table[t->point];
    char highest[48];
    printf("%d. %s\n   Hold %.0f min and read through the last of them.\n", number, p->help, p->hold / 60);
    if (t->careful)
        printf("   CAREFUL: expected to stop you after about %.0f s, on the way to %s.\n", t->stop_time,
               swh_log_command_text(j, SWH_Q_PRESSURE, t->highest_pressure, highest, sizeof highest));
    for (int i = 0; i < SWH_COMPARED; i++)
        if (i == t->best || t->separation[i] >= 2)
            print_reading(j, t, s, i);
    putchar('\n');
}

static void print_direct(const struct swh_log_command *j, const struct swh_steps *s)
{
    for (int i = 0; i < s->directs; i++) {
        const struct swh_direct_info *d = &swh_direct_table[s->direct[i]];
        printf("%c. %s\n   About %.0f min; tells %s.\n", 'a' + i, d->how, d->minutes,
               swh_apart_word(s->apart[i]));
        for (int k = 0; k < s->causes; k++) {
            char name[240], value[64];
            printf("      %-70s %s\n", swh_steps_cause(&s->cause[k], name, sizeof name),
                   swh_direct_words(j, s->direct[i], &s->cause[k], value, sizeof value));
        }
    }
    if (s->directs > 0)
        putchar('\n');
}

static void print_head(const struct swh_log_command *j, const struct swh_steps *s)
{
    char text[256];
    if (s->told)
        printf("%s is told apart already; what confirms it, harmless tests first\n\n",
               swh_steps_cause(&s->cause[0], text, sizeof text));
    else
        printf("Tests that tell the leading causes apart, harmless ones first\n\n");
    for (int i = 0; i < CAUTIONS; i++)
        printf("  ! %s\n", caution(j, i, text, sizeof text));
    printf("\n  Computed for %s.\n  The vehicle file is %s.\n\n",
           swh_steps_conditions_words(j, text, sizeof text),
           swh_log_command_fitted(j)
               ? "fitted"
               : "from papers, never fitted: expect readings to lie off by more than the causes do");
}

static void print_plan(const struct swh_log_command *j, const struct swh_steps *s)
{
    int shown = 0;
    print_head(j, s);
    print_direct(j, s);
    for (int i = 0; i < SWH_TESTPOINT_COUNT && shown < 3 && !s->locked; i++) {
        const struct swh_test_result *t = &s->test[i];
        if (!t->barred && t->separation[t->best] >= SWH_WORTH_DOING)
            print_test(j, ++shown, t, s);
    }
    if (s->locked)
        printf("Nothing was read with the compressor at work; bay and road tests wait until one runs.\n");
    else if (shown == 0)
        printf("No bay or road test of the list would tell the first two apart%s.\n",
               s->directs ? "" : "; do not test further");
    if (!s->locked)
        printf("  Write readings into sheet.csv of the results; rank, accept and fit take it back.\n");
    swh_frame_print_notes(&j->frame, stdout);
}

static enum swh_status write_plan(struct swh_log_command *j, const struct swh_steps *s)
{
    struct swh_error err = {0};
    FILE *f = swh_frame_file(&j->frame, "sheet.csv", &err);
    if (!f) {
        swh_out_abort(&j->frame.out);
        return swh_fail(j->frame.session, &err);
    }
    swh_plan_sheet(j, s, f);
    return swh_log_command_write(j, plan_json(j, s), "plan.json", NULL);
}

static enum swh_status make_plan(struct swh_log_command *j, struct swh_steps *s)
{
    struct swh_error err = {0};
    const char *from = swh_option_value(j->frame.session, SWH_OPT_from);
    if (from && read_ranking(j, from, s) != SWH_OK)
        return swh_problems_status(&j->frame.session->problems);
    if (!from)
        usual_causes(s);
    if (swh_steps_make(j, s, &err) != SWH_OK)
        return swh_fail(j->frame.session, &err);
    swh_log_command_folder(j, "plan");
    enum swh_status status = write_plan(j, s);
    if (status == SWH_OK && swh_frame_talks(&j->frame))
        print_plan(j, s);
    if (status == SWH_OK && swh_plan_draw(j, &s->test[0], s->cause, s->causes, &err) != SWH_OK)
        status = swh_fail(j->frame.session, &err);
    return status;
}

enum swh_status swh_cmd_plan(struct swh_session *s)
{
    struct swh_log_command *j = calloc(1, sizeof *j);
    if (!j)
        return swh_no_memory(s, "a plan");
    enum swh_status status = swh_log_command_vehicle(j, s);
    struct swh_steps *steps = status == SWH_OK ? calloc(1, sizeof *steps) : NULL;
    if (status == SWH_OK)
        status = steps ? make_plan(j, steps) : swh_no_memory(s, "a plan");
    free(steps);
    swh_log_command_free(j);
    free(j);
    return status;
}
