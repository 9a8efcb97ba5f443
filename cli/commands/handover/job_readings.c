#include "cli/commands/handover/job_readings.h"

#include "solver/files/csv_log.h"
#include "solver/files/scenario.h"
#include "solver/files/sheet.h"
#include "solver/infer/residuals.h"
#include "solver/infer/spot.h"

#include <stdlib.h>
#include <string.h>

enum { MEAN_OF = 600 }; /* s, at the end of a log */

/* ---- which file ---- */

struct file {
    char path[800], name[256]; /* as opened; as job.ini or the folder has it */
};

static const char *base(const struct swh_repair_paper *p)
{
    return p->name + p->folder + (p->folder > 0);
}

static bool is_meant(const struct swh_repair_paper *p, const char *key)
{
    return strcmp(key, "vehicle") == 0
               ? strcmp(base(p), "vehicle.ini") == 0
               : p->kind == SWH_PAPER_READINGS && strncmp(base(p), key, strlen(key)) == 0;
}

/* The file that [readings] of job.ini names, as seen from the folder, or the one whose name says it. */
static bool find(const struct swh_repair_folder *j, const char *key, struct file *out)
{
    const char *name = swh_repair_value(j, "readings", key);
    for (size_t i = 0; i < j->papers && !name; i++)
        if (is_meant(&j->paper[i], key))
            name = j->paper[i].name;
    if (!name)
        return false;
    snprintf(out->name, sizeof out->name, "%s", name);
    snprintf(out->path, sizeof out->path, "%s%s%.255s", name[0] == '/' ? "" : j->root,
             name[0] == '/' ? "" : "/", name);
    return true;
}

/* ---- problems as words ---- */

static void keep_problem(const struct swh_problems *p, const struct swh_error *err, char *out, size_t size)
{
    const struct swh_error *e = p->kept > 0 ? &p->item[0] : err;
    const char *file = strrchr(e->where, '/') ? strrchr(e->where, '/') + 1 : e->where;
    if (e->line > 0)
        snprintf(out, size, "%s, line %ld: %s", file, e->line, e->what);
    else
        snprintf(out, size, "%s%s%s", file, file[0] ? ": " : "", e->what);
}

/* ---- a log ---- */

static bool read_log(const char *path, const struct swh_session *s, struct swh_log_memory *m, char *problem,
                     size_t size)
{
    struct swh_problems problems = {0};
    struct swh_error err = {0};
    const struct swh_log_request request = {
        .path = path, .units = s->units, .atmosphere = SWH_STANDARD_ATMOSPHERE};
    struct swh_log *log = swh_log_open(&request, &problems);
    bool more = log && problems.count == 0;
    while (more && err.status == SWH_OK) {
        struct swh_log_row row;
        if (swh_log_next(log, &row, &more, &err) == SWH_OK && more)
            swh_log_memory_add(m, &row, 0.45, &err);
    }
    swh_log_close(log);
    if (problems.count == 0 && err.status == SWH_OK && m->rows >= 2)
        return true;
    if (problems.count == 0 && err.status == SWH_OK)
        swh_error_set(&err, SWH_ERR_INPUT, "fewer than two rows");
    keep_problem(&problems, &err, problem, size);
    return false;
}

static bool at_work(const struct swh_log_row *row, double from)
{
    const double clutch = row->value[SWH_CH_clutch], speed = row->value[SWH_CH_compressor_speed];
    return row->value[SWH_CH_time] >= from && !(clutch < 0.5) && !(speed < 1);
}

/* Means over the rows at work of channel values that `get` finds, blanks left out. */
static void take_means(struct swh_repair_reading *r, const struct swh_log_memory *m, const double *trace)
{
    double from = m->row[m->rows - 1].value[SWH_CH_time] - MEAN_OF, sum[SWH_CHANNEL_COUNT] = {0};
    double *out = trace ? r->healthy : r->read;
    long n[SWH_CHANNEL_COUNT] = {0};
    r->rows = 0;
    for (size_t i = 0; i < m->rows; i++) {
        if (!at_work(&m->row[i], from))
            continue;
        r->rows++;
        for (int c = 0; c < (trace ? SWH_COMPARED : SWH_CHANNEL_COUNT); c++) {
            const double x = trace ? trace[i * SWH_COMPARED + (size_t)c] : m->row[i].value[c];
            const int ch = trace ? (int)swh_compared[c] : c;
            sum[ch] += isnan(x) ? 0 : x;
            n[ch] += !isnan(x);
        }
    }
    for (int c = 0; c < SWH_CHANNEL_COUNT; c++)
        out[c] = n[c] ? sum[c] / (double)n[c] : NAN;
}

static void run_healthy(struct swh_repair_reading *r, const struct swh_log_memory *m,
                        const struct swh_scenario *vehicle)
{
    struct swh_error err = {0};
    struct swh_case driven;
    struct swh_schedule_facts facts;
    struct swh_residuals *residuals = calloc(1, sizeof *residuals);
    double *trace = malloc(m->rows * SWH_COMPARED * sizeof *trace);
    const bool doors_given = vehicle->conditions[SWH_IN_doors_open] != SWH_FROM_DEFAULT;
    if (residuals && trace &&
        swh_schedule_from_log(&driven, &vehicle->c, m, doors_given, &facts, &err) == SWH_OK) {
        for (int i = 0; i < SWH_FAULT_COUNT; i++)
            driven.fault[i].present = false;
        r->has_healthy =
            swh_residuals_trace(&driven, NULL, m, trace, residuals, &err) == SWH_OK && residuals->complete;
        swh_case_free(&driven);
    }
    if (r->has_healthy)
        take_means(r, m, trace);
    free(residuals);
    free(trace);
}

/* ---- a spot sheet ---- */

/* Adds a row's values to sums; blanks do not count. */
static void add(const double *value, double *sum, double *n)
{
    for (int c = 0; c < SWH_CHANNEL_COUNT; c++) {
        sum[c] += isnan(value[c]) ? 0 : value[c];
        n[c] += !isnan(value[c]);
    }
}

static void divide(double *out, const double *sum, const double *n)
{
    for (int c = 0; c < SWH_CHANNEL_COUNT; c++)
        out[c] = n[c] > 0 ? sum[c] / n[c] : NAN;
}

/* Means over the points at which the clutch was engaged, of readings and of a healthy vehicle held there. */
static void take_points(struct swh_repair_reading *r, const struct swh_spot_sheet *sheet,
                        const struct swh_scenario *vehicle)
{
    double sum[2][SWH_CHANNEL_COUNT] = {{0}}, n[2][SWH_CHANNEL_COUNT] = {{0}}, value[SWH_CHANNEL_COUNT];
    struct swh_case healthy, held;
    r->has_healthy = vehicle != NULL;
    if (vehicle)
        healthy = vehicle->c;
    for (int i = 0; i < SWH_FAULT_COUNT && vehicle; i++)
        healthy.fault[i].present = false;
    for (size_t i = 0; i < sheet->rows; i++) {
        if (sheet->row[i].value[SWH_CH_clutch] < 0.5)
            continue;
        r->rows++;
        add(sheet->row[i].value, sum[0], n[0]);
        if (!vehicle)
            continue;
        swh_spot_case(&held, &healthy, &sheet->row[i],
                      vehicle->conditions[SWH_IN_doors_open] != SWH_FROM_DEFAULT);
        r->has_healthy &= swh_spot_run(&held, value, NULL, NULL);
        add(value, sum[1], n[1]);
    }
    divide(r->read, sum[0], n[0]);
    divide(r->healthy, sum[1], n[1]);
}

static bool take_sheet(struct swh_repair_reading *r, const struct swh_sheet_request *request,
                       const struct swh_scenario *vehicle)
{
    struct swh_problems problems = {0};
    struct swh_notes notes = {0};
    struct swh_spot_sheet *sheet = calloc(1, sizeof *sheet);
    r->there = sheet && swh_sheet_read(request, sheet, &notes, &problems) == SWH_OK;
    if (r->there)
        take_points(r, sheet, vehicle);
    else
        keep_problem(&problems, &problems.item[0], r->problem, sizeof r->problem);
    free(sheet);
    return r->there;
}

/* ---- both ---- */

static bool take_log(struct swh_repair_reading *r, const char *path, const struct swh_scenario *vehicle,
                     const struct swh_session *s)
{
    struct swh_log_memory m = {0};
    r->there = read_log(path, s, &m, r->problem, sizeof r->problem);
    if (r->there)
        take_means(r, &m, NULL);
    if (r->there && r->rows > 0 && vehicle)
        run_healthy(r, &m, vehicle);
    swh_log_memory_free(&m);
    return r->there;
}

static void take(struct swh_repair_reading *r, const struct swh_repair_folder *j, const char *when,
                 const struct swh_scenario *vehicle, const struct swh_session *s)
{
    struct file file;
    if (!find(j, when, &file))
        return;
    snprintf(r->name, sizeof r->name, "%s", file.name);
    const struct swh_sheet_request request = {
        .path = file.path, .units = s->units, .atmosphere = SWH_STANDARD_ATMOSPHERE};
    const bool read = swh_sheet_looks_like(&request) ? take_sheet(r, &request, vehicle)
                                                     : take_log(r, file.path, vehicle, s);
    if (read && r->rows == 0) {
        r->there = false;
        snprintf(r->problem, sizeof r->problem, "%s: the clutch is never engaged in what counts of it",
                 file.name);
    }
}

void swh_repair_readings_take(struct swh_repair_readings *out, const struct swh_repair_folder *j,
                              const struct swh_session *s)
{
    memset(out, 0, sizeof *out);
    struct swh_problems problems = {0};
    struct swh_scenario vehicle;
    struct file file;
    const bool named = find(j, "vehicle", &file);
    bool loaded = false;
    if (named) {
        const struct swh_scenario_request request = {.path = file.path};
        loaded = swh_scenario_load(&vehicle, &request, s->units, &problems) == SWH_OK;
        snprintf(out->vehicle, sizeof out->vehicle, "%s", file.name);
        if (!loaded)
            keep_problem(&problems, &problems.item[0], out->vehicle_problem, sizeof out->vehicle_problem);
    }
    take(&out->before, j, "before", loaded ? &vehicle : NULL, s);
    take(&out->after, j, "after", loaded ? &vehicle : NULL, s);
    if (named)
        swh_scenario_free(&vehicle);
}
