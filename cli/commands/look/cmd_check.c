/* swashheat check: what is wrong with a scenario, vehicle file, log or spot sheet,
 * and what it is good for. */
#include "cli/base/findings_file.h"
#include "cli/base/odd_readings.h"
#include "cli/base/session.h"
#include "cli/base/vehicle_words.h"
#include "cli/commands/look/good_for.h"
#include "model/base/utf8.h"
#include "solver/files/csv_log.h"
#include "solver/files/scenario.h"
#include "solver/files/schedule.h"
#include "solver/files/sheet.h"
#include "solver/files/text_file.h"
#include "solver/infer/residuals.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* A pipe can be read once: what it holds cannot be looked at first. */
static bool can_be_read_again(const char *path)
{
    struct stat st;
    return strcmp(path, "-") != 0 && (stat(path, &st) != 0 || S_ISREG(st.st_mode) || S_ISDIR(st.st_mode));
}

/* An INI file's first line of substance is a section's head. */
static enum swh_status looks_like_ini(const char *path, bool *ini, struct swh_error *err)
{
    FILE *f = NULL;
    const size_t n = strlen(path);
    *ini = n > 4 && strcmp(path + n - 4, ".ini") == 0;
    if (*ini || !can_be_read_again(path))
        return SWH_OK;
    const enum swh_status status = swh_text_open(path, &f, err);
    if (status != SWH_OK)
        return status;
    char line[512];
    while (fgets(line, sizeof line, f)) {
        const char *s = line + strspn(line, "\xEF\xBB\xBF \t");
        if (*s == '#' || *s == ';' || isspace((unsigned char)*s))
            continue;
        *ini = *s == '[';
        break;
    }
    swh_text_close(f);
    return SWH_OK;
}

static void print_notes(const struct swh_notes *n)
{
    for (int i = 0; i < n->count; i++)
        printf("  %s\n", n->text[i]);
}

/* ---- scenarios and vehicles ---- */

static int count_set(const enum swh_origin *who, int n)
{
    int count = 0;
    for (int i = 0; i < n; i++)
        count += who[i] != SWH_FROM_DEFAULT;
    return count;
}

static void print_scenario(const struct swh_scenario *s)
{
    char shown[512];
    printf("%s: good. %s", swh_utf8_clean(shown, sizeof shown, s->path), s->c.name);
    if (s->vehicle[0])
        printf(", vehicle %s", swh_utf8_clean(shown, sizeof shown, s->vehicle));
    if (s->c.schedule.rows > 0)
        printf(", schedule %s (%zu rows, %.6g s to %.6g s)", swh_utf8_clean(shown, sizeof shown, s->schedule),
               s->c.schedule.rows, s->c.schedule.time[0], s->c.schedule.time[s->c.schedule.rows - 1]);
    printf("; %d parameters and %d conditions set", count_set(s->params, SWH_PARAM_COUNT),
           count_set(s->conditions, SWH_INPUT_COUNT));
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        if (s->c.fault[i].present)
            printf("; fault %s %.3g", swh_fault_table[i].id, s->c.fault[i].severity);
    printf("\n");
}

static void check_scenario(struct swh_session *s, const char *path)
{
    static struct swh_scenario scenario;
    const char *set[SWH_OPTIONS_MAX];
    const long before = s->problems.count;
    const struct swh_scenario_request request = {path, swh_option_value(s, SWH_OPT_vehicle), set,
                                                 swh_option_values(s, SWH_OPT_set, set)};
    swh_scenario_load(&scenario, &request, s->units, &s->problems);
    if (s->problems.count == before && !swh_given(s, SWH_OPT_quiet)) {
        print_scenario(&scenario);
        swh_vehicle_print(s, &scenario, stdout);
    }
    swh_scenario_free(&scenario);
}

/* ---- findings ---- */

static void check_findings(struct swh_session *s, const char *path)
{
    struct swh_findings b;
    struct swh_case generic;
    char value[64];
    const long before = s->problems.count;
    swh_case_default(&generic);
    swh_findings_read(s, path, &generic, &b);
    swh_case_free(&generic);
    if (s->problems.count > before || swh_given(s, SWH_OPT_quiet))
        return;
    printf("%s: good. Findings on bench and vehicle, for rank --bench\n", path);
    for (int i = 0; i < SWH_FINDING_COUNT; i++)
        if (isfinite(b.value[i]))
            printf("    %-22s %-18s %s\n", swh_finding_table[i].id,
                   swh_finding_text(s, (enum swh_finding)i, b.value[i], value, sizeof value),
                   swh_finding_table[i].help);
}

/* ---- schedules ---- */

struct columns {
    bool all_inputs; /* each is an input or the time */
    bool time;
    bool pressure;   /* a pressure, as every log has it */
    bool only_input; /* something that no log holds */
};

static void look_at(const struct swh_cell *cell, struct columns *c)
{
    char name[64];
    snprintf(name, sizeof name, "%.*s", (int)(cell->length < 63 ? cell->length : 63), cell->text);
    name[strcspn(name, "[ ")] = '\0';
    const int input = swh_input_find(name);
    c->time = c->time || strcmp(name, "time") == 0;
    c->all_inputs = c->all_inputs && (input >= 0 || strcmp(name, "time") == 0);
    c->pressure = c->pressure || input == SWH_IN_suction_pressure || input == SWH_IN_discharge_pressure;
    c->only_input = c->only_input || (input >= 0 && swh_channel_find(name) < 0);
}

/* A schedule has columns of inputs only, and no pressures unless it also has what is no reading. */
static bool looks_like_schedule(const char *path)
{
    struct swh_csv_row row = {NULL, 0, 0, false};
    struct columns c = {true, false, false, false};
    bool more = false;
    struct swh_csv *csv = can_be_read_again(path) ? swh_csv_open(path, NULL, NULL) : NULL;
    if (!csv)
        return false;
    const bool read = swh_csv_next(csv, &row, &more, NULL) == SWH_OK && more;
    for (int i = 0; read && i < row.count; i++)
        look_at(&row.cell[i], &c);
    swh_csv_close(csv);
    return read && c.all_inputs && c.time && (c.only_input || !c.pressure);
}

static void check_schedule(struct swh_session *s, const char *path)
{
    char shown[512];
    struct swh_case c;
    swh_case_default(&c);
    if (swh_schedule_read(path, s->units, SWH_STANDARD_ATMOSPHERE, &c.schedule, &s->problems) == SWH_OK &&
        !swh_given(s, SWH_OPT_quiet))
        printf("%s: good. A schedule of %zu rows, %.6g s to %.6g s\n",
               swh_utf8_clean(shown, sizeof shown, path), c.schedule.rows, c.schedule.time[0],
               c.schedule.time[c.schedule.rows - 1]);
    swh_case_free(&c);
}

/* ---- logs ---- */

/* of a log that is looked through: a day at a row every ten seconds */
enum { ROWS_KEPT = 8640 };

/* Reads all rows, noting what is wrong with each; into m, so many that memory does not grow with the log. */
static void read_through(struct swh_session *s, const char *path, struct swh_log *log,
                         struct swh_log_memory *m)
{
    struct swh_log_row row;
    double spacing = 0.45;
    bool more = true;
    while (more && !swh_log_broken(log)) {
        struct swh_error err = {0};
        enum swh_status status = swh_log_next(log, &row, &more, &err);
        if (status == SWH_OK && more)
            status = swh_log_memory_add(m, &row, spacing, &err);
        if (m->rows == ROWS_KEPT)
            spacing = swh_log_memory_thin(m);
        if (status == SWH_OK)
            continue;
        swh_error_at(&err, path, 0, 0);
        swh_fail(s, &err);
        more = more && status == SWH_ERR_INPUT;
    }
}

/* the pulley ratio of --vehicle, or the usual one; doors if it says so */
struct vehicle {
    double pulley_ratio;
    bool doors;
    const struct swh_fluid *fluid; /* NULL: from a file of the user's own */
};

static struct vehicle vehicle_of(struct swh_session *s)
{
    struct vehicle v = {swh_param_table[SWH_P_controls_pulley_ratio].value, false, swh_fluid_get(SWH_R134A)};
    const char *path = swh_option_value(s, SWH_OPT_vehicle), *set[SWH_OPTIONS_MAX];
    struct swh_scenario *scenario = path ? calloc(1, sizeof *scenario) : NULL;
    if (!scenario)
        return v;
    const struct swh_scenario_request request = {path, NULL, set, swh_option_values(s, SWH_OPT_set, set)};
    if (swh_scenario_load(scenario, &request, s->units, &s->problems) == SWH_OK)
        v = (struct vehicle){scenario->c.params.controls_pulley_ratio,
                             scenario->conditions[SWH_IN_doors_open] != SWH_FROM_DEFAULT,
                             scenario->refrigerant ? NULL : swh_case_refrigerant(&scenario->c)};
    swh_scenario_free(scenario);
    free(scenario);
    return v;
}

static void print_use(const struct swh_good_for *g)
{
    char words[2048];
    swh_good_for_words(g, words, sizeof words);
    words[0] = (char)toupper((unsigned char)words[0]);
    printf("  %s.\n", words);
}

/* What no vehicle can have read, and what stays where it is while others move. */
static void note_odd_readings(const struct swh_session *s, const char *path, const struct swh_log_memory *m,
                              const struct vehicle *v, struct swh_notes *notes)
{
    struct swh_implausible found[SWH_IMPLAUSIBLE_MAX];
    const struct swh_readings read = {.log = m};
    const int n = v->fluid ? swh_implausible_find(&read, v->fluid, found) : 0;
    for (int i = 0; i < n; i++)
        swh_note_implausible(notes, s, &found[i]);
    for (int i = 0; i < SWH_COMPARED; i++) {
        double from = NAN, to = NAN;
        if (swh_log_stuck(m, swh_compared[i], &from, &to))
            swh_note_stuck(notes, path, swh_compared[i], from, to, "probe off, or logger stuck?");
    }
}

static void print_log(const struct swh_session *s, const char *path, const struct swh_log *log,
                      const struct swh_log_memory *m, const struct vehicle *v)
{
    char shown[512];
    const struct swh_table_facts *f = swh_log_facts(log);
    struct swh_notes notes = {.count = 0};
    struct swh_good_for g = {.doors_known = v->doors || isfinite(swh_log_doors(log)),
                             .seconds = f->last_time - f->first_time};
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        g.has[i] = swh_log_readings(log, (enum swh_channel)i) > 0;
    g.doors_known |= g.has[SWH_CH_cabin_temperature] || swh_log_highest(log, SWH_CH_vehicle_speed) > 1.5;
    printf("%s: good. A log of %ld rows, %.6g s to %.6g s\n", swh_utf8_clean(shown, sizeof shown, path),
           f->rows, f->first_time, f->last_time);
    print_use(&g);
    swh_log_note_columns(log, &notes);
    swh_log_note_oddities(log, &notes);
    note_odd_readings(s, path, m, v, &notes);
    print_notes(&notes);
}

static void no_use(struct swh_session *s, const char *path, long line)
{
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_INPUT, "no column of readings that any command could use");
    swh_error_expected(
        &err, "gauge readings at least, under names like 'Low side (psi)', 'suction_pressure[barg]'");
    swh_error_at(&err, path, line, 1);
    swh_fail(s, &err);
}

static void check_log(struct swh_session *s, const char *path, const struct vehicle *v)
{
    const long before = s->problems.count;
    struct swh_log_request request = {.path = path,
                                      .columns = swh_option_value(s, SWH_OPT_columns),
                                      .units = s->units,
                                      .atmosphere = SWH_STANDARD_ATMOSPHERE,
                                      .pulley_ratio = v->pulley_ratio};
    for (int i = 1; i < SWH_CHANNEL_COUNT; i++)
        request.wanted[i] = swh_channel_table[i].group == SWH_GROUP_READING;
    struct swh_log *log = swh_log_open(&request, &s->problems);
    if (!log)
        return;
    if (!swh_log_has(log, SWH_CH_suction_pressure) && !swh_log_has(log, SWH_CH_discharge_pressure))
        no_use(s, path, swh_log_head_line(log));
    struct swh_log_memory m = {0};
    read_through(s, path, log, &m);
    if (s->problems.count == before && !swh_given(s, SWH_OPT_quiet))
        print_log(s, path, log, &m, v);
    swh_log_memory_free(&m);
    swh_log_close(log);
}

/* ---- spot sheets ---- */

static void check_sheet(struct swh_session *s, const struct swh_sheet_request *request,
                        const struct vehicle *v)
{
    char shown[512];
    struct swh_notes notes = {.count = 0};
    struct swh_spot_sheet *sheet = calloc(1, sizeof *sheet);
    struct swh_good_for g = {.sheet = true, .doors_known = v->doors};
    if (!sheet)
        return;
    if (swh_sheet_read(request, sheet, &notes, &s->problems) == SWH_OK && !swh_given(s, SWH_OPT_quiet)) {
        memcpy(g.has, sheet->has, sizeof g.has);
        for (size_t i = 0; i < sheet->rows; i++)
            g.doors_known |= sheet->row[i].doors_open >= 0;
        printf("%s: good. A spot sheet of %zu point%s\n", swh_utf8_clean(shown, sizeof shown, request->path),
               sheet->rows, sheet->rows == 1 ? "" : "s");
        print_use(&g);
        print_notes(&notes);
    }
    free(sheet);
}

static void check_readings(struct swh_session *s, const char *path)
{
    const struct vehicle v = vehicle_of(s);
    const struct swh_sheet_request request = {path, swh_option_value(s, SWH_OPT_columns), s->units,
                                              SWH_STANDARD_ATMOSPHERE, v.pulley_ratio};
    if (can_be_read_again(path) && swh_sheet_looks_like(&request))
        check_sheet(s, &request, &v);
    else
        check_log(s, path, &v);
}

enum swh_status swh_cmd_check(struct swh_session *s)
{
    for (int i = 0; i < s->arguments; i++) {
        struct swh_error err = {0};
        bool ini = false;
        if (looks_like_ini(s->argument[i], &ini, &err) != SWH_OK)
            swh_fail(s, &err);
        else if (ini && swh_findings_look_like(s->argument[i]))
            check_findings(s, s->argument[i]);
        else if (ini)
            check_scenario(s, s->argument[i]);
        else if (looks_like_schedule(s->argument[i]))
            check_schedule(s, s->argument[i]);
        else
            check_readings(s, s->argument[i]);
    }
    return swh_problems_status(&s->problems);
}
