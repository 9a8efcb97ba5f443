#include "solver/files/sheet.h"

#include "solver/files/csv_table.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { HELD = SWH_CHANNEL_COUNT, DOORS, POINT, TARGETS };

struct reader {
    const struct swh_sheet_request *request;
    struct swh_target target[TARGETS];
    struct swh_head_request head;
};

/* A slowest logger's pace: rows further apart are points of a sheet. Common practice, no source. */
static const double PACE = 90; /* s */

static void prepare(struct reader *r, const struct swh_sheet_request *request, bool no_time)
{
    memset(r, 0, sizeof *r);
    r->request = request;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        r->target[i] = (struct swh_target){.id = swh_channel_table[i].id,
                                           .quantity = swh_channel_table[i].quantity,
                                           .lo = swh_channel_table[i].lo,
                                           .hi = swh_channel_table[i].hi};
    r->target[HELD] = (struct swh_target){.id = "held", .quantity = SWH_Q_TIME, .lo = 1, .hi = 36000};
    r->target[DOORS] = (struct swh_target){.id = "doors_open", .quantity = SWH_Q_NONE, .lo = 0, .hi = 1};
    r->target[POINT] = (struct swh_target){.id = "point", .quantity = SWH_Q_NONE, .words = true};
    r->head = (struct swh_head_request){.target = r->target,
                                        .target_count = TARGETS,
                                        .readings = true,
                                        .map = request->columns,
                                        .path = request->path,
                                        .units = request->units,
                                        .pulley_ratio = request->pulley_ratio,
                                        .no_time = no_time};
}

static struct swh_table *open_table(struct reader *r, struct swh_problems *problems)
{
    return swh_table_open(&r->head, r->request->atmosphere, problems);
}

/* ---- what is it? ---- */

/* conditions alone are no reading */
static bool is_reading(int target)
{
    if (target == SWH_CH_ambient_temperature || target == SWH_CH_ambient_humidity ||
        target == SWH_CH_compressor_speed || target == SWH_CH_vehicle_speed || target == SWH_CH_clutch ||
        target == SWH_CH_underhood_temperature)
        return false;
    return target > 0 && target < SWH_CHANNEL_COUNT && swh_channel_table[target].group == SWH_GROUP_READING;
}

static bool has_readings(const struct swh_table *t)
{
    const struct swh_columns *c = swh_table_columns(t);
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        if (is_reading(i) && c->of_target[i] >= 0)
            return true;
    return false;
}

/* reads up to one row more than a sheet may have */
static long count_rows(struct swh_table *t)
{
    double value[TARGETS];
    bool more = true;
    while (more && !swh_table_broken(t) && swh_table_get_facts(t)->rows <= SWH_SPOT_ROWS) {
        struct swh_error err = {0};
        swh_table_next(t, value, &more, &err);
    }
    return swh_table_get_facts(t)->rows;
}

/* a file with times: a sheet if it has points, or rows far apart */
static bool is_timed_sheet(const struct swh_sheet_request *request)
{
    struct swh_problems ignored = {.count = 0};
    struct reader r;
    prepare(&r, request, false);
    struct swh_table *t = open_table(&r, &ignored);
    if (!t)
        return false;
    const long rows = count_rows(t);
    const struct swh_table_facts *f = swh_table_get_facts(t);
    const bool points = swh_table_columns(t)->of_target[POINT] >= 0;
    const bool sheet = rows > 0 && rows <= SWH_SPOT_ROWS &&
                       (points || (rows > 1 && f->last_time - f->first_time > PACE * (double)(rows - 1)));
    swh_table_close(t);
    return sheet;
}

bool swh_sheet_looks_like(const struct swh_sheet_request *request)
{
    struct swh_problems ignored = {.count = 0};
    struct reader r;
    if (strcmp(request->path, "-") == 0)
        return false;
    prepare(&r, request, true);
    struct swh_table *t = open_table(&r, &ignored);
    if (!t)
        return false;
    const bool readings = has_readings(t), timed = swh_table_columns(t)->of_target[0] >= 0;
    swh_table_close(t);
    return readings && (!timed || is_timed_sheet(request));
}

/* ---- reading ---- */

static bool take_values(const double *value, struct swh_spot_row *row)
{
    bool any = false;
    for (int i = 1; i < SWH_CHANNEL_COUNT; i++) {
        row->value[i] = value[i];
        any |= is_reading(i) && isfinite(value[i]);
    }
    if (isfinite(value[HELD]))
        row->held = value[HELD];
    if (isfinite(value[DOORS]))
        row->doors_open = value[DOORS] >= 0.5;
    return any;
}

static enum swh_status append(const struct swh_table *t, const double *value, struct swh_spot_sheet *out,
                              long *empty, struct swh_error *err)
{
    struct swh_spot_row row;
    swh_spot_row_empty(&row);
    swh_table_words(t, POINT, row.point, sizeof row.point);
    if (!take_values(value, &row)) {
        ++*empty;
        return SWH_OK;
    }
    if (out->rows == SWH_SPOT_ROWS) {
        swh_error_set(err, SWH_ERR_INPUT, "more than %d rows without a column of times", SWH_SPOT_ROWS);
        swh_error_expected(
            err, "a column 'time[s]', or 'Time' with hh:mm:ss, for a log; a spot sheet has at most %d points",
            SWH_SPOT_ROWS);
        swh_error_at(err, out->name, swh_table_line(t), 1);
        return SWH_ERR_INPUT;
    }
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        out->has[i] |= isfinite(row.value[i]);
    out->row[out->rows++] = row;
    return SWH_OK;
}

static void read_rows(struct swh_table *t, struct swh_spot_sheet *out, struct swh_notes *notes,
                      struct swh_problems *problems)
{
    const long before = problems->count;
    long empty = 0;
    bool more = true;
    while (!swh_table_broken(t)) {
        double value[TARGETS];
        struct swh_error err = {0};
        enum swh_status s = swh_table_next(t, value, &more, &err);
        if (s == SWH_OK && !more)
            break;
        const bool read = s == SWH_OK;
        if (read)
            s = append(t, value, out, &empty, &err);
        swh_problems_add(problems, &err);
        if (s != SWH_OK && read)
            return;
    }
    if (empty > 0)
        swh_note(notes, "%ld row%s of the sheet %s no reading yet and %s passed over", empty,
                 empty == 1 ? "" : "s", empty == 1 ? "has" : "have", empty == 1 ? "is" : "are");
    if (out->rows > 0 || problems->count > before)
        return;
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_INPUT, "a spot sheet without a reading");
    swh_error_expected(&err, "one row at least with gauge or pipe readings in it");
    swh_error_at(&err, out->name, swh_table_head_line(t), 1);
    swh_problems_add(problems, &err);
}

static void note_columns(const struct reader *r, const struct swh_table *t, struct swh_notes *notes)
{
    const struct swh_columns *all = swh_table_columns(t);
    const struct swh_table_facts *f = swh_table_get_facts(t);
    if (all->of_target[0] >= 0)
        swh_note(notes,
                 "rows minutes apart are read as test points, each by itself; their times are not used");
    for (int i = 0; i < all->count; i++) {
        const struct swh_column *c = &all->column[i];
        if (c->engine && c->target < 0 && all->of_target[SWH_CH_compressor_speed] < 0)
            swh_note(notes,
                     "column '%s' is the engine's speed, and the pulley ratio is not known: set "
                     "controls.pulley_ratio",
                     c->header);
        else if (c->target < 0 && c->header[0] != '\0')
            swh_note(notes, "column '%s' is not used", c->header);
        else if (c->engine && c->target >= 0)
            swh_note(notes,
                     "column '%s' is read as the engine's speed: the compressor turns %.4g times as fast "
                     "(controls.pulley_ratio)",
                     c->header, r->head.pulley_ratio);
        else if (c->target > 0 && c->twin < 0 && (c->foreign || c->taken_as_gauge || c->unit_from_cells))
            swh_note(notes, "column '%s' is read as %s%s%s%s", c->header, r->target[c->target].id,
                     r->target[c->target].words ? "" : " in ", r->target[c->target].words ? "" : c->unit_text,
                     c->taken_as_gauge ? " above the air outside (gauge)" : "");
        if (f->dropped[i] > 0)
            swh_note(notes, "column '%s': %ld cells without a reading are left out", c->header,
                     f->dropped[i]);
    }
}

enum swh_status swh_sheet_read(const struct swh_sheet_request *request, struct swh_spot_sheet *out,
                               struct swh_notes *notes, struct swh_problems *problems)
{
    struct reader r;
    const long before = problems->count;
    memset(out, 0, sizeof *out);
    snprintf(out->name, sizeof out->name, "%s", request->path);
    prepare(&r, request, true);
    struct swh_table *t = open_table(&r, problems);
    if (!t)
        return swh_problems_status(problems);
    read_rows(t, out, notes, problems);
    note_columns(&r, t, notes);
    swh_table_close(t);
    return problems->count > before ? swh_problems_status(problems) : SWH_OK;
}
