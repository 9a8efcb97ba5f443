/* swashheat vehicle: ten answers from label and look become a commented vehicle file. */
#include "cli/base/frame.h"
#include "cli/base/vehicle_words.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum question {
#define QUESTION(option, what, example, where) Q_##option,
#include "cli/base/questions.def"
#undef QUESTION
    QUESTIONS
};

static const struct {
    enum swh_option option;
    const char *name, *what, *example, *where;
} questions[QUESTIONS] = {
#define QUESTION(option, what, example, where) {SWH_OPT_##option, #option, what, example, where},
#include "cli/base/questions.def"
#undef QUESTION
};

struct vehicle_command {
    struct swh_frame frame; /* first; its scenario is the vehicle */
    char answer[QUESTIONS][160];
    enum question of_line[128]; /* which answer a line of the file came from */
    long lines;
    char place[640]; /* folder/name of the file */
    FILE *f;
};

/* ---- the file ---- */

static void put(struct vehicle_command *v, enum question q, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
static void put(struct vehicle_command *v, enum question q, const char *format, ...)
{
    va_list ap;
    va_start(ap, format);
    vfprintf(v->f, format, ap);
    va_end(ap);
    fputc('\n', v->f);
    if (v->lines + 1 < (long)(sizeof v->of_line / sizeof v->of_line[0]))
        v->of_line[++v->lines] = q;
}

static bool given(const struct vehicle_command *v, enum question q)
{
    return v->answer[q][0] != '\0';
}

/* key = answer, or the key left to the usual value as a comment */
static void put_key(struct vehicle_command *v, enum question q, const char *key, const char *answer)
{
    if (answer[0] != '\0')
        put(v, q, "%s = %s", key, answer);
    else
        put(v, q, "# %s = ...   not answered: the usual one holds", key);
}

static bool is_word(const char *a, const char *b)
{
    return strncmp(a, b, strlen(b)) == 0;
}

/* the file says psig where the answer said psi */
static void say_gauge(char *text, size_t size)
{
    static const char *const units[] = {"psi", "bar", "kPa", "MPa"};
    const size_t n = strlen(text);
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        const size_t m = strlen(units[i]);
        if (n >= m && strcmp(text + n - m, units[i]) == 0)
            snprintf(text + n, size - n, "g");
    }
}

/* "25/45 psi" into "25 psi" and "45 psi"; false if it is none such */
static bool split_pair(const char *text, char *first, char *second, size_t size)
{
    const char *slash = strchr(text, '/');
    if (!slash)
        return false;
    const char *unit = slash + 1;
    while (*unit && (isdigit((unsigned char)*unit) || *unit == '.' || *unit == ' '))
        unit++;
    snprintf(second, size, "%s", slash + 1 + strspn(slash + 1, " "));
    const bool own =
        strpbrk(text, "abcdefghijklmnopqrstuvwxyz") && strpbrk(text, "abcdefghijklmnopqrstuvwxyz") < slash;
    snprintf(first, size, "%.*s%s%s", (int)(slash - text), text, own ? "" : " ", own ? "" : unit);
    say_gauge(first, size);
    say_gauge(second, size);
    return true;
}

/* one switch of the answer: the text behind its word, up to a comma; "" if it is not mentioned */
static void find_switch(const char *answer, const char *word, char *out, size_t size)
{
    const char *s = strstr(answer, word);
    out[0] = '\0';
    if (!s)
        return;
    s += strlen(word);
    s += strspn(s, " :=");
    snprintf(out, size, "%.*s", (int)strcspn(s, ",;"), s);
}

static void put_switch(struct vehicle_command *v, const char *word, const char *open, const char *close)
{
    char text[80], first[80], second[80];
    find_switch(v->answer[Q_switches], word, text, sizeof text);
    if (text[0] == '\0' || is_word(text, "none"))
        return;
    if (!split_pair(text, first, second, sizeof first)) {
        say_gauge(text, sizeof text);
        put(v, Q_switches, "%s = %s", open, text);
        return;
    }
    put(v, Q_switches, "%s = %s", open, first);
    put(v, Q_switches, "%s = %s", close, second);
}

static void put_controls(struct vehicle_command *v)
{
    char low[80], high[80], fan_on[80], fan_off[80];
    const bool tube = strstr(v->answer[Q_expansion], "ube") || strstr(v->answer[Q_expansion], "rifice") ||
                      strstr(v->answer[Q_expansion], "OT");
    find_switch(v->answer[Q_switches], "low", low, sizeof low);
    find_switch(v->answer[Q_switches], "high", high, sizeof high);
    put(v, QUESTIONS,
        "\n[controls]\n# What cycles the clutch: a pressure switch on the accumulator, or a frost thermostat "
        "beside a "
        "low-pressure cut-out.");
    v->lines += 2;
    put(v, Q_switches, "cycling = %s", is_word(low, "none") ? "thermostat" : tube ? "low_pressure" : "both");
    put_switch(v, "low", "low_open", "low_close");
    if (is_word(high, "none"))
        put(v, Q_switches, "high_pressure = none");
    put_switch(v, "high", "high_open", "high_close");
    if (given(v, Q_fans) && split_pair(v->answer[Q_fans], fan_on, fan_off, sizeof fan_on)) {
        put(v, Q_fans, "fan_on = %s", fan_on);
        put(v, Q_fans, "fan_off = %s", fan_off);
    } else if (given(v, Q_fans) && !is_word(v->answer[Q_fans], "always"))
        put(v, Q_fans, "fan_on = %s", v->answer[Q_fans]);
}

static void put_pulley(struct vehicle_command *v)
{
    double a = 0, b = 0;
    char rest[8];
    const char *text = v->answer[Q_pulley];
    put(v, QUESTIONS,
        "# Compressor revolutions per engine revolution: crankshaft pulley over compressor pulley.");
    if (sscanf(text, "%lf / %lf %7s", &a, &b, rest) >= 2 && a > 0 && b > 0)
        put(v, Q_pulley, "pulley_ratio = %.4g   # %s", a / b, text);
    else
        put_key(v, Q_pulley, "pulley_ratio", text);
}

static void put_compressor(struct vehicle_command *v)
{
    put(v, QUESTIONS, "\n[compressor]");
    v->lines++;
    const char *text = v->answer[Q_displacement];
    const bool number = isdigit((unsigned char)text[0]);
    char size[sizeof v->answer[0]];
    snprintf(size, sizeof size, "%s", text);
    char *per = strstr(size, " per");
    if (per)
        *per = '\0';
    put_key(v, Q_displacement, number || !text[0] ? "displacement" : "model", size);
}

static void put_evaporators(struct vehicle_command *v)
{
    const char *text = v->answer[Q_evaporators];
    put(v, QUESTIONS, "\n[rear_evaporator]");
    v->lines++;
    put(v, QUESTIONS, "# Size of a second evaporator with its own valve over the front one; 0: none.");
    put(v, Q_evaporators, "size = %s",
        strcmp(text, "2") == 0 || is_word(text, "two")               ? "0.7"
        : !text[0] || strcmp(text, "1") == 0 || is_word(text, "one") ? "0"
                                                                     : text);
}

static void put_head(struct vehicle_command *v)
{
    put(v, QUESTIONS,
        "# A vehicle from its label, written by `swashheat vehicle`. It was never set to readings of the "
        "vehicle: what is");
    put(v, QUESTIONS,
        "# concluded with it is worth less than with one that `swashheat fit` has set. Three to six rows of "
        "the manual's");
    put(v, QUESTIONS,
        "# gauge table, or of the twin in the yard, do: write them into a spot sheet and run, for example,");
    put(v, QUESTIONS,
        "#   swashheat fit table.csv --vehicle THIS.ini --free condenser.ua_air,evaporator.air,valve.area");
    put(v, QUESTIONS,
        "# What is not set here keeps the value that `swashheat list parameters` shows; most of those are "
        "best left alone.");
    put(v, QUESTIONS, "# A pressure in psi, bar or kPa counts above the air outside, as on a gauge.");
}

static void write_file(struct vehicle_command *v)
{
    v->lines = 0;
    put_head(v);
    put(v, QUESTIONS, "\n# ---- from the label ----\n[vehicle]");
    v->lines += 2;
    put_key(v, Q_refrigerant, "refrigerant", v->answer[Q_refrigerant]);
    put_key(v, Q_expansion, "expansion", v->answer[Q_expansion]);
    put(v, QUESTIONS, "\n[charge]");
    v->lines++;
    put_key(v, Q_charge, "nominal", v->answer[Q_charge]);
    put(v, QUESTIONS, "\n[oil]");
    v->lines++;
    put_key(v, Q_oil, "grade", v->answer[Q_oil]);
    put_key(v, Q_oil_amount, "total", v->answer[Q_oil_amount]);
    put_compressor(v);
    put(v, QUESTIONS, "\n# ---- to look at and to measure ----");
    v->lines++;
    put_evaporators(v);
    put_controls(v);
    put_pulley(v);
}

/* ---- understanding it ---- */

/* a mistake in a line is one in the answer that it came from */
static void name_answers(struct vehicle_command *v, struct swh_problems *p)
{
    for (int i = 0; i < p->kept; i++) {
        struct swh_error *e = &p->item[i];
        const long line = e->line;
        if (line < 1 || line > v->lines || v->of_line[line] >= QUESTIONS)
            continue;
        const enum question q = v->of_line[line];
        char where[200];
        snprintf(where, sizeof where, "--%s", questions[q].name);
        for (char *s = where; *s; s++)
            *s = *s == '_' ? '-' : *s;
        snprintf(e->where, sizeof e->where, "%s", where);
        e->line = e->column = 0;
    }
}

/* writes all answers into the file in the making and reads it back */
static enum swh_status understand(struct vehicle_command *v, struct swh_problems *problems)
{
    struct swh_error err = {0};
    struct swh_out *out = &v->frame.out;
    char folder[sizeof v->place], name[sizeof v->place];
    const char *slash = strrchr(v->place, '/');
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - v->place) : 1, slash ? v->place : ".");
    snprintf(name, sizeof name, "%s", slash ? slash + 1 : v->place);
    enum swh_status s = swh_out_begin_shared(out, slash == v->place ? "/" : folder, SWH_OUT_TOGETHER, &err);
    v->f = s == SWH_OK ? swh_out_file(out, name, &err) : NULL;
    if (!v->f)
        return swh_problems_add(problems, &err);
    write_file(v);
    if (fflush(v->f) != 0) { /* it is read back */
        swh_error_set(&err, SWH_ERR_OUTPUT, "cannot be written");
        swh_error_at(&err, v->place, 0, 0);
        swh_error_expected(&err, "room on the device");
        return swh_problems_add(problems, &err);
    }
    swh_scenario_free(&v->frame.scenario);
    const struct swh_scenario_request request = {.path = out->item[0].beside};
    s = swh_scenario_load(&v->frame.scenario, &request, v->frame.session->units, problems);
    name_answers(v, problems);
    return s;
}

/* ---- asking ---- */

static bool ask(struct vehicle_command *v, enum question q)
{
    char line[sizeof v->answer[0]];
    fprintf(stderr, "%2d. %s (%s)\n    %s: ", (int)q + 1, questions[q].what, questions[q].where,
            questions[q].example);
    fflush(stderr);
    if (!fgets(line, sizeof line, stdin))
        return false;
    line[strcspn(line, "\r\n")] = '\0';
    snprintf(v->answer[q], sizeof v->answer[q], "%s", line + strspn(line, " \t"));
    return true;
}

/* asks until the answer is understood; an empty one is the usual */
static enum swh_status ask_all(struct vehicle_command *v)
{
    for (int q = 0; q < QUESTIONS; q++) {
        if (given(v, (enum question)q))
            continue;
        for (bool understood = false; !understood;) {
            struct swh_problems problems = {.count = 0};
            if (!ask(v, (enum question)q))
                return swh_misuse(v->frame.session, "ten answers, empty ones for what is not known",
                                  "the answers end early");
            understood = understand(v, &problems) == SWH_OK;
            swh_out_abort(&v->frame.out);
            if (!understood)
                swh_tell_problems(&problems, stderr);
        }
    }
    return SWH_OK;
}

static void take_options(struct vehicle_command *v)
{
    for (int q = 0; q < QUESTIONS; q++) {
        const char *text = swh_option_value(v->frame.session, questions[q].option);
        snprintf(v->answer[q], sizeof v->answer[q], "%s", text ? text : "");
    }
}

/* ---- the command ---- */

static enum swh_status make(struct vehicle_command *v)
{
    struct swh_session *s = v->frame.session;
    struct swh_error err = {0};
    const char *out = swh_option_value(s, SWH_OPT_out);
    if (snprintf(v->place, sizeof v->place, "%s", out ? out : "vehicle.ini") >= (int)sizeof v->place)
        return swh_misuse(s, "a shorter name with -o", "'%.40s...' as the name of a file", v->place);
    if (access(v->place, F_OK) == 0)
        return swh_misuse(s, "a new name with -o, or the old file moved away", "%s is there already",
                          v->place);
    take_options(v);
    const bool asks = isatty(STDIN_FILENO);
    if (!asks && (!given(v, Q_refrigerant) || !given(v, Q_charge)))
        return swh_misuse(s, "--refrigerant and --charge at least, or a terminal to ask on",
                          "too little is known of the vehicle");
    if (asks && ask_all(v) != SWH_OK)
        return swh_problems_status(&s->problems);
    const enum swh_status status = understand(v, &s->problems);
    if (status != SWH_OK || swh_out_commit(&v->frame.out, &err) != SWH_OK) {
        swh_out_abort(&v->frame.out);
        return status != SWH_OK ? status : swh_fail(s, &err);
    }
    if (!swh_given(s, SWH_OPT_quiet)) {
        printf("%s is written. It was never set to readings of the vehicle.\n\n", v->place);
        swh_vehicle_print(s, &v->frame.scenario, stdout);
    }
    return SWH_OK;
}

enum swh_status swh_cmd_vehicle(struct swh_session *s)
{
    struct vehicle_command *v = calloc(1, sizeof *v);
    if (!v)
        return swh_no_memory(s, "a vehicle");
    v->frame.session = s;
    const enum swh_status status = make(v);
    swh_scenario_free(&v->frame.scenario);
    free(v);
    return status;
}
