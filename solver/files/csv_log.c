#include "solver/files/csv_log.h"

#include "solver/files/suggest.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* behind the channels: what a log may say besides */
enum { DOORS = SWH_CHANNEL_COUNT, SWH_LOG_TARGETS };

struct swh_log {
    struct swh_table *table;
    struct swh_target target[SWH_LOG_TARGETS]; /* ORDER of channels.def, whose first is the time */
    struct swh_head_request head;
    bool rejected;             /* a row with a mistake was met */
    double doors, doors_least; /* the most and the least that the log says of open doors; NaN: nothing */
    double highest[SWH_CHANNEL_COUNT], lowest[SWH_CHANNEL_COUNT], sum[SWH_CHANNEL_COUNT];
    long readings[SWH_CHANNEL_COUNT];
};

static void fill_targets(struct swh_target *t)
{
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        t[i] = (struct swh_target){.id = swh_channel_table[i].id,
                                   .quantity = swh_channel_table[i].quantity,
                                   .lo = swh_channel_table[i].lo,
                                   .hi = swh_channel_table[i].hi};
    t[DOORS] = (struct swh_target){.id = "doors_open", .quantity = SWH_Q_NONE, .lo = 0, .hi = 1};
}

/* the unused header nearest to a channel's name, NULL if none is near */
static const char *similar_header(const struct swh_log *log, const char *id)
{
    const struct swh_columns *c = swh_table_columns(log->table);
    char name[64];
    for (int i = 0; i < c->count; i++) {
        snprintf(name, sizeof name, "%.*s", (int)strcspn(c->column[i].header, "[("), c->column[i].header);
        if (c->column[i].target < 0 && name[0] != '\0' && swh_edit_distance(name, id) <= 4 &&
            2 * swh_edit_distance(name, id) < (int)strlen(name))
            return c->column[i].header;
    }
    return NULL;
}

static void check_required(const struct swh_log *log, const struct swh_log_request *r,
                           struct swh_problems *problems)
{
    for (int i = 1; i < SWH_CHANNEL_COUNT; i++) {
        if ((!r->required[i] && !r->wanted[i]) || swh_log_has(log, (enum swh_channel)i))
            continue;
        struct swh_error err = {0};
        const struct swh_channel_info *info = &swh_channel_table[i];
        const char *similar = similar_header(log, info->id);
        if (!r->required[i] && !similar)
            continue;
        const char *unit = swh_quantities[info->quantity].show_si;
        swh_error_set(&err, SWH_ERR_INPUT, "no column of %s", info->id);
        if (similar)
            swh_error_expected(&err, "a column '%s[%s]'; is it '%s'?", info->id, unit, similar);
        else
            swh_error_expected(&err, "a column '%s[%s]', or its foreign name in a --columns file", info->id,
                               unit);
        swh_error_at(&err, r->path, swh_table_head_line(log->table), 1);
        swh_problems_add(problems, &err);
    }
}

struct swh_log *swh_log_open(const struct swh_log_request *request, struct swh_problems *problems)
{
    struct swh_log *log = calloc(1, sizeof *log);
    if (!log) {
        swh_problems_memory(problems, request->path);
        return NULL;
    }
    fill_targets(log->target);
    log->head = (struct swh_head_request){.target = log->target,
                                          .target_count = SWH_LOG_TARGETS,
                                          .readings = true,
                                          .map = request->columns,
                                          .path = request->path,
                                          .units = request->units,
                                          .interrupted = request->interrupted,
                                          .pulley_ratio = request->pulley_ratio};
    log->doors = log->doors_least = NAN;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        log->highest[i] = -INFINITY;
        log->lowest[i] = INFINITY;
    }
    log->table = swh_table_open(&log->head, request->atmosphere, problems);
    if (!log->table) {
        free(log);
        return NULL;
    }
    check_required(log, request, problems);
    return log;
}

void swh_log_close(struct swh_log *log)
{
    if (!log)
        return;
    swh_table_close(log->table);
    free(log);
}

bool swh_log_has(const struct swh_log *log, enum swh_channel channel)
{
    return swh_table_columns(log->table)->of_target[channel] >= 0;
}

bool swh_log_broken(const struct swh_log *log)
{
    return swh_table_broken(log->table);
}

long swh_log_readings(const struct swh_log *log, enum swh_channel channel)
{
    return log->readings[channel];
}

double swh_log_highest(const struct swh_log *log, enum swh_channel channel)
{
    return log->highest[channel];
}

long swh_log_head_line(const struct swh_log *log)
{
    return swh_table_head_line(log->table);
}

double swh_log_doors(const struct swh_log *log)
{
    return log->doors == log->doors_least ? log->doors : NAN;
}

const struct swh_table_facts *swh_log_facts(const struct swh_log *log)
{
    return swh_table_get_facts(log->table);
}

static enum swh_status too_short(const struct swh_log *log, struct swh_error *err)
{
    const long rows = swh_log_facts(log)->rows;
    swh_error_set(err, SWH_ERR_INPUT, rows == 0 ? "a log without rows" : "a log of one row");
    swh_error_at(err, log->head.path, swh_table_head_line(log->table) + rows, 1);
    swh_error_expected(err, "two rows at least, after the line of names%s",
                       rows ? "; without its column of times it is a spot sheet, which one row is enough for"
                            : "");
    return SWH_ERR_INPUT;
}

enum swh_status swh_log_next(struct swh_log *log, struct swh_log_row *row, bool *more, struct swh_error *err)
{
    double value[SWH_LOG_TARGETS];
    const enum swh_status s = swh_table_next(log->table, value, more, err);
    const bool sound = !log->rejected;
    if (s != SWH_OK) {
        log->rejected = true;
        return s;
    }
    log->rejected |= !*more && swh_log_facts(log)->rows < 2; /* said once, however often it is asked */
    if (!*more)
        return log->rejected && sound ? too_short(log, err) : SWH_OK;
    memcpy(row->value, value, sizeof row->value);
    log->doors = fmax(log->doors, value[DOORS]);
    log->doors_least = fmin(log->doors_least, value[DOORS]);
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        const double x = row->value[i];
        if (isnan(x))
            continue;
        log->highest[i] = fmax(log->highest[i], x);
        log->lowest[i] = fmin(log->lowest[i], x);
        log->sum[i] += x;
        log->readings[i]++;
    }
    return SWH_OK;
}

static enum swh_status next_of(void *user, struct swh_log_row *row, bool *more, struct swh_error *err)
{
    return swh_log_next(user, row, more, err);
}

struct swh_log_source swh_log_as_source(struct swh_log *log)
{
    struct swh_log_source source = {.next = next_of, .user = log, .live = strcmp(log->head.path, "-") == 0};
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        source.has[i] = swh_log_has(log, (enum swh_channel)i);
    return source;
}

/* ---- remarks ---- */

static void note_column(const struct swh_log *log, int i, struct swh_notes *notes)
{
    const struct swh_column *all = swh_table_columns(log->table)->column, *c = &all[i];
    const struct swh_table_facts *f = swh_log_facts(log);
    if (c->engine && c->target < 0 && !swh_log_has(log, SWH_CH_compressor_speed))
        swh_note(notes,
                 "column '%s' is the engine's speed, and the pulley ratio is not known: "
                 "set controls.pulley_ratio",
                 c->header);
    else if (c->target < 0)
        swh_note(notes, "column '%s' is not used", c->header);
    else if (c->twin >= 0)
        swh_note(notes, "column '%s' says the same as '%s'", c->header, all[c->twin].header);
    else if (c->engine && log->head.pulley_ratio == swh_param_table[SWH_P_controls_pulley_ratio].value)
        swh_note(notes,
                 "column '%s' is read as the engine's speed in %s: the compressor turns %.4g times as fast, "
                 "the usual ratio; "
                 "set controls.pulley_ratio to this vehicle's",
                 c->header, c->unit_text, log->head.pulley_ratio);
    else if (c->engine)
        swh_note(notes,
                 "column '%s' is read as the engine's speed in %s: the compressor turns %.4g times as fast "
                 "(controls.pulley_ratio)",
                 c->header, c->unit_text, log->head.pulley_ratio);
    else if (c->foreign || c->taken_as_gauge || c->unit_from_cells) {
        const bool clock = c->target == 0 && (f->clock || f->minutes_first);
        swh_note(notes, "column '%s' is read as %s in %s%s", c->header, log->target[c->target].id,
                 !clock     ? c->unit_text
                 : f->clock ? "hh:mm:ss"
                            : "minutes and seconds (not hours and minutes)",
                 c->taken_as_gauge ? " above the air outside (gauge)" : "");
    }
    if (f->dropped[i] > 0)
        swh_note(notes,
                 "column '%s': %ld cell%s without a reading (a number that stands for no sensor) %s left out",
                 c->header, f->dropped[i], f->dropped[i] == 1 ? "" : "s", f->dropped[i] == 1 ? "is" : "are");
}

static void note_lines(const struct swh_log *log, struct swh_notes *notes)
{
    const struct swh_table_facts *f = swh_log_facts(log);
    if (f->lines_above > 0)
        swh_note(notes, "%ld line%s before the line of names (line %ld) %s passed over", f->lines_above,
                 f->lines_above == 1 ? "" : "s", swh_table_head_line(log->table),
                 f->lines_above == 1 ? "is" : "are");
    if (f->units_row)
        swh_note(notes, "the units are read from the row below the names");
    if (f->since_1970)
        swh_note(notes, "times are counted since 1970; they are shown from midnight (UTC) before the first");
}

void swh_log_note_columns(const struct swh_log *log, struct swh_notes *notes)
{
    static const char *const names[] = {"commas", "semicolons", "tabs"};
    const char separator = swh_table_separator(log->table);
    const struct swh_columns *c = swh_table_columns(log->table);
    note_lines(log, notes);
    if (separator != ',')
        swh_note(notes, "cells are separated by %s", names[separator == ';' ? 1 : 2]);
    for (int i = 0; i < c->count; i++)
        if (c->column[i].header[0] != '\0')
            note_column(log, i, notes);
}

/* A running system has more than 3.5 bar on its high side, and never the same on both: the pressures of
 * saturation at 10 degC are 4.1 (R-134a), 4.4 (R-1234yf) and 4.2 bar. */
static bool note_pressures(const struct swh_log *log, struct swh_notes *notes)
{
    const double high = log->highest[SWH_CH_discharge_pressure];
    const int i = swh_table_columns(log->table)->of_target[SWH_CH_discharge_pressure];
    const bool weak = i >= 0 && isfinite(high) && high < 3.5e5;
    if (weak)
        swh_note(notes, "the high side never rises above %.3g bar absolute: is '%s' really in %s?",
                 high / 1e5, swh_table_columns(log->table)->column[i].header,
                 swh_table_columns(log->table)->column[i].unit_text);
    const int l = SWH_CH_suction_pressure, h = SWH_CH_discharge_pressure;
    const bool exchanged = log->readings[l] > 0 && log->readings[h] > 0 &&
                           log->sum[l] / (double)log->readings[l] > log->sum[h] / (double)log->readings[h];
    if (exchanged)
        swh_note(notes, "the low side stands above the high side: are the two columns exchanged?");
    return !weak && !exchanged;
}

static void note_readings(const struct swh_log *log, struct swh_notes *notes)
{
    static const enum swh_channel moving[] = {SWH_CH_suction_pressure,    SWH_CH_discharge_pressure,
                                              SWH_CH_suction_temperature, SWH_CH_discharge_temperature,
                                              SWH_CH_shell_temperature,   SWH_CH_liquid_line_temperature,
                                              SWH_CH_vent_temperature,    SWH_CH_cabin_temperature};
    const struct swh_table_facts *f = swh_log_facts(log);
    for (size_t i = 0; i < sizeof moving / sizeof moving[0]; i++) {
        const enum swh_channel ch = moving[i];
        if (swh_log_has(log, ch) && log->readings[ch] == 0)
            swh_note(notes, "%s is blank in every row: logger not connected?", swh_channel_table[ch].id);
        else if (log->readings[ch] > 20 && log->highest[ch] == log->lowest[ch])
            swh_note(notes, "%s never changes: probe loose, or a constant was logged",
                     swh_channel_table[ch].id);
    }
    if (log->readings[SWH_CH_clutch] > 0 && log->highest[SWH_CH_clutch] < 0.5)
        swh_note(notes, "the clutch is never on: nothing can be said about a machine at work");
    if (f->rows > 1 && f->last_time - f->first_time < 300)
        swh_note(notes, "the log lasts %.0f s: too short to tell much; 10 minutes are a fair minimum",
                 f->last_time - f->first_time);
}

/* "the log has gaps: 120 s after 295 s, 45 s after 900 s" */
static void note_gaps(const struct swh_table_facts *f, double usual, struct swh_notes *notes)
{
    char text[300] = "";
    int found = 0;
    for (int i = 0; i < f->gaps; i++) {
        if (f->gap[i].length <= 3 * usual)
            continue;
        const size_t used = strlen(text);
        snprintf(text + used, sizeof text - used, "%s%.4g s after %.6g s", found++ ? ", " : "",
                 f->gap[i].length, f->gap[i].from);
    }
    if (found > 0)
        swh_note(notes, "the log has %s %s", found == 1 ? "a gap of" : "gaps:", text);
}

bool swh_log_note_oddities(const struct swh_log *log, struct swh_notes *notes)
{
    const struct swh_table_facts *f = swh_log_facts(log);
    const double usual = f->rows > 1 ? (f->last_time - f->first_time) / (double)(f->rows - 1) : 0;
    note_gaps(f, usual, notes);
    if (usual >= 60)
        swh_note(notes,
                 "its rows are %.3g min apart and are joined by straight lines; a file without a column of "
                 "times is read as a spot sheet, each row a test point by itself",
                 usual / 60);
    if (f->half_line)
        swh_note(notes, "the log ends in the middle of a line, which is left out");
    else if (f->cut_off)
        swh_note(notes, "the last line has no end: the log may be cut off");
    const bool believable = note_pressures(log, notes);
    note_readings(log, notes);
    return believable;
}
