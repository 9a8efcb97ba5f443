/* swashheat check: what is wrong with a scenario, vehicle file or log. */
#include "cli/base/session.h"
#include "solver/files/csv_log.h"
#include "solver/files/scenario.h"
#include "solver/files/schedule.h"
#include "solver/files/text_file.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

/* An INI file's first line of substance is a section's head. */
static enum swh_status looks_like_ini(const char *path, bool *ini, struct swh_error *err)
{
    FILE *f = NULL;
    const size_t n = strlen(path);
    *ini = n > 4 && strcmp(path + n - 4, ".ini") == 0;
    if (*ini || strcmp(path, "-") == 0)
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
    printf("%s: good. %s", s->path, s->c.name);
    if (s->vehicle[0])
        printf(", vehicle %s", s->vehicle);
    if (s->c.schedule.rows > 0)
        printf(", schedule %s (%zu rows, %.6g s to %.6g s)", s->schedule, s->c.schedule.rows,
               s->c.schedule.time[0], s->c.schedule.time[s->c.schedule.rows - 1]);
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
    if (s->problems.count == before && !swh_given(s, SWH_OPT_quiet))
        print_scenario(&scenario);
    swh_scenario_free(&scenario);
}

/* ---- schedules ---- */

struct columns {
    bool all_inputs; /* each is an input or the time */
    bool pressure;   /* a pressure, as every log has it */
    bool only_input; /* something that no log holds */
};

static void look_at(const struct swh_cell *cell, struct columns *c)
{
    char name[64];
    snprintf(name, sizeof name, "%.*s", (int)(cell->length < 63 ? cell->length : 63), cell->text);
    name[strcspn(name, "[ ")] = '\0';
    const int input = swh_input_find(name);
    c->all_inputs = c->all_inputs && (input >= 0 || strcmp(name, "time") == 0);
    c->pressure = c->pressure || input == SWH_IN_suction_pressure || input == SWH_IN_discharge_pressure;
    c->only_input = c->only_input || (input >= 0 && swh_channel_find(name) < 0);
}

/* A schedule has columns of inputs only, and no pressures unless it also has what is no reading. */
static bool looks_like_schedule(const char *path)
{
    struct swh_csv_row row = {NULL, 0, 0, false};
    struct columns c = {true, false, false};
    bool more = false;
    struct swh_csv *csv = strcmp(path, "-") == 0 ? NULL : swh_csv_open(path, NULL, NULL);
    if (!csv)
        return false;
    const bool read = swh_csv_next(csv, &row, &more, NULL) == SWH_OK && more;
    for (int i = 0; read && i < row.count; i++)
        look_at(&row.cell[i], &c);
    swh_csv_close(csv);
    return read && c.all_inputs && (c.only_input || !c.pressure);
}

static void check_schedule(struct swh_session *s, const char *path)
{
    struct swh_case c;
    swh_case_default(&c);
    if (swh_schedule_read(path, s->units, SWH_STANDARD_ATMOSPHERE, &c.schedule, &s->problems) == SWH_OK &&
        !swh_given(s, SWH_OPT_quiet))
        printf("%s: good. A schedule of %zu rows, %.6g s to %.6g s\n", path, c.schedule.rows,
               c.schedule.time[0], c.schedule.time[c.schedule.rows - 1]);
    swh_case_free(&c);
}

/* ---- logs ---- */

/* reads all rows, noting what is wrong with each */
static void read_through(struct swh_session *s, const char *path, struct swh_log *log)
{
    struct swh_log_row row;
    bool more = true;
    while (more && !swh_log_broken(log)) {
        struct swh_error err = {0};
        const enum swh_status status = swh_log_next(log, &row, &more, &err);
        if (status == SWH_OK)
            continue;
        swh_error_at(&err, path, 0, 0);
        swh_fail(s, &err);
        more = more && status == SWH_ERR_INPUT;
    }
}

static void print_log(const char *path, const struct swh_log *log)
{
    const struct swh_table_facts *f = swh_log_facts(log);
    struct swh_notes notes = {.count = 0};
    printf("%s: good. A log of %ld rows, %.6g s to %.6g s\n", path, f->rows, f->first_time, f->last_time);
    swh_log_note_columns(log, &notes);
    swh_log_note_oddities(log, &notes);
    print_notes(&notes);
}

static void check_log(struct swh_session *s, const char *path)
{
    const long before = s->problems.count;
    struct swh_log_request request = {.path = path,
                                      .columns = swh_option_value(s, SWH_OPT_columns),
                                      .units = s->units,
                                      .atmosphere = SWH_STANDARD_ATMOSPHERE};
    request.required[SWH_CH_suction_pressure] = true;
    request.required[SWH_CH_discharge_pressure] = true;
    request.required[SWH_CH_suction_temperature] = true;
    struct swh_log *log = swh_log_open(&request, &s->problems);
    if (!log)
        return;
    read_through(s, path, log);
    if (s->problems.count == before && !swh_given(s, SWH_OPT_quiet))
        print_log(path, log);
    swh_log_close(log);
}

enum swh_status swh_cmd_check(struct swh_session *s)
{
    for (int i = 0; i < s->arguments; i++) {
        struct swh_error err = {0};
        bool ini = false;
        if (looks_like_ini(s->argument[i], &ini, &err) != SWH_OK)
            swh_fail(s, &err);
        else if (ini)
            check_scenario(s, s->argument[i]);
        else if (looks_like_schedule(s->argument[i]))
            check_schedule(s, s->argument[i]);
        else
            check_log(s, s->argument[i]);
    }
    return swh_problems_status(&s->problems);
}
