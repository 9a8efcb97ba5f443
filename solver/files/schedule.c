#include "solver/files/schedule.h"

#include "solver/files/csv_table.h"
#include "solver/files/suggest.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_ROWS = 2000000 };

struct loading {
    struct swh_table *table;
    const struct swh_head_request *head;
    struct swh_schedule *out;
    size_t room;
};

static void fill_targets(struct swh_target *t)
{
    t[0] = (struct swh_target){.id = "time", .quantity = SWH_Q_TIME, .lo = -1e9, .hi = 1e9};
    for (int i = 0; i < SWH_INPUT_COUNT; i++)
        t[i + 1] = (struct swh_target){.id = swh_input_table[i].id,
                                       .quantity = swh_input_table[i].quantity,
                                       .lo = swh_input_table[i].lo,
                                       .hi = swh_input_table[i].hi,
                                       .absolute = i == SWH_IN_ambient_pressure};
}

/* a schedule is written for this program: a column with an unknown name is a mistake */
static void refuse_unknown(const struct loading *l, struct swh_problems *problems)
{
    const struct swh_columns *c = swh_table_columns(l->table);
    for (int i = 0; i < c->count; i++) {
        struct swh_error err = {0};
        struct swh_nearest near = {c->column[i].header, NULL, 0};
        if (c->column[i].target >= 0 || c->column[i].header[0] == '\0')
            continue;
        for (int k = 0; k < l->head->target_count; k++)
            swh_nearest_offer(&near, l->head->target[k].id);
        swh_error_set(&err, SWH_ERR_INPUT, "unknown input '%s'", c->column[i].header);
        swh_error_expected(&err, "name[unit] of a known input; the nearest is '%s'", near.best);
        swh_error_at(&err, l->head->path, swh_table_head_line(l->table), 0);
        swh_problems_add(problems, &err);
    }
}

static enum swh_status widen(double **column, size_t room, struct swh_error *err)
{
    double *bigger = realloc(*column, room * sizeof **column);
    if (!bigger)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the schedule");
    *column = bigger;
    return SWH_OK;
}

static enum swh_status make_room(struct loading *l, struct swh_error *err)
{
    struct swh_schedule *out = l->out;
    if (out->rows < l->room)
        return SWH_OK;
    if (out->rows >= MOST_ROWS) {
        swh_error_set(err, SWH_ERR_INPUT, "too many rows in the schedule");
        swh_error_expected(err, "at most %d", MOST_ROWS);
        return SWH_ERR_INPUT;
    }
    l->room = l->room ? 2 * l->room : 256;
    enum swh_status s = widen(&out->time, l->room, err);
    for (int i = 0; i < SWH_INPUT_COUNT && s == SWH_OK; i++)
        if (out->given[i])
            s = widen(&out->column[i], l->room, err);
    return s;
}

/* a blank cell holds the value before it; the first row must be whole */
static enum swh_status append(struct loading *l, const double *value, struct swh_error *err)
{
    struct swh_schedule *out = l->out;
    const enum swh_status s = make_room(l, err);
    if (s != SWH_OK)
        return s;
    for (int i = 0; i < SWH_INPUT_COUNT; i++) {
        if (!out->given[i])
            continue;
        const double last = out->rows > 0 ? out->column[i][out->rows - 1] : NAN;
        out->column[i][out->rows] = isnan(value[i + 1]) ? last : value[i + 1];
        if (isnan(out->column[i][out->rows])) {
            swh_error_set(err, SWH_ERR_INPUT, "no value of %s in the first row", swh_input_table[i].id);
            swh_error_expected(err, "a number; a blank cell later on holds the value before it");
            return SWH_ERR_INPUT;
        }
    }
    out->time[out->rows++] = value[0];
    return SWH_OK;
}

static void read_rows(struct loading *l, struct swh_problems *problems)
{
    double value[SWH_TARGETS_MAX];
    bool more = true;
    while (!swh_table_broken(l->table) && problems->count < SWH_PROBLEMS_KEPT) {
        struct swh_error err = {0};
        enum swh_status s = swh_table_next(l->table, value, &more, &err);
        if (s == SWH_OK && !more)
            break;
        if (s == SWH_OK)
            s = append(l, value, &err);
        swh_error_at(&err, l->head->path, 0, 0);
        swh_problems_add(problems, &err);
        if (s != SWH_OK && s != SWH_ERR_INPUT)
            return;
    }
    if (l->out->rows == 0 && problems->count == 0) {
        struct swh_error err = {0};
        swh_error_set(&err, SWH_ERR_INPUT, "no rows after the line of names");
        swh_error_at(&err, l->head->path, swh_table_head_line(l->table), 0);
        swh_error_expected(&err, "one row at least");
        swh_problems_add(problems, &err);
    }
}

enum swh_status swh_schedule_read(const char *path, const struct swh_units *units, double atmosphere,
                                  struct swh_schedule *out, struct swh_problems *problems)
{
    struct swh_target target[SWH_TARGETS_MAX];
    const long before = problems->count;
    fill_targets(target);
    const struct swh_head_request head = {
        .target = target, .target_count = SWH_INPUT_COUNT + 1, .path = path, .units = units};
    struct loading l = {swh_table_open(&head, atmosphere, problems), &head, out, 0};
    if (!l.table)
        return swh_problems_status(problems);
    refuse_unknown(&l, problems);
    for (int i = 0; i < SWH_INPUT_COUNT; i++)
        out->given[i] = swh_table_columns(l.table)->of_target[i + 1] >= 0;
    read_rows(&l, problems);
    swh_table_close(l.table);
    return problems->count > before ? swh_problems_status(problems) : SWH_OK;
}
