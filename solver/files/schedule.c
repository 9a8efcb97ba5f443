#include "solver/files/schedule.h"

#include "solver/files/csv_table.h"
#include "solver/files/suggest.h"
#include "solver/files/text_file.h"
#include "solver/simulate/moving_params.h"

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

static void fill_targets(struct swh_target *t, const struct swh_schedule *out)
{
    for (int i = 0; i < out->n_params; i++) {
        const struct swh_param_info *p = &swh_param_table[out->param[i]];
        t[SWH_INPUT_COUNT + 1 + i] =
            (struct swh_target){.id = p->name, .quantity = p->quantity, .lo = p->lo, .hi = p->hi};
    }
    t[0] = (struct swh_target){.id = "time", .quantity = SWH_Q_TIME, .lo = -1e9, .hi = 1e9};
    for (int i = 0; i < SWH_INPUT_COUNT; i++)
        t[i + 1] = (struct swh_target){.id = swh_input_table[i].id,
                                       .quantity = swh_input_table[i].quantity,
                                       .lo = swh_input_table[i].lo,
                                       .hi = swh_input_table[i].hi,
                                       .absolute = i == SWH_IN_ambient_pressure};
}

/* ---- columns named for parameters ---- */

/* Notes the parameters that a line names: "section.key[unit]" between separators. */
static void note_params(const char *line, struct swh_schedule *out)
{
    while (*line) {
        char name[96];
        line += strspn(line, " \t,;\"\r\n");
        const size_t n = strcspn(line, " \t,;\"[\r\n");
        snprintf(name, sizeof name, "%.*s", (int)(n < sizeof name ? n : 0), line);
        const int param = swh_param_find(name);
        bool known = param < 0 || out->n_params == SWH_SCHEDULE_PARAMS;
        for (int i = 0; i < out->n_params; i++)
            known |= out->param[i] == param;
        if (!known)
            out->param[out->n_params++] = param;
        line += strcspn(line, ",;\t\n");
    }
}

/* Which parameters the first lines name, up to the first that names any. */
static void find_params(const char *path, struct swh_schedule *out)
{
    char line[8192];
    FILE *f = NULL;
    if (strcmp(path, "-") == 0 || swh_text_open(path, &f, NULL) != SWH_OK)
        return; /* what is wrong with it is told by the reader of the table */
    for (int i = 0; i < 20 && out->n_params == 0 && fgets(line, sizeof line, f); i++)
        if (line[strspn(line, " \t")] != '#')
            note_params(line, out);
    swh_text_close(f);
}

static bool may_move(const struct swh_schedule *out, const char *path, struct swh_problems *problems)
{
    bool ok = true;
    for (int i = 0; i < out->n_params; i++) {
        struct swh_error err = {0};
        if (swh_param_may_move(out->param[i]))
            continue;
        swh_error_set(&err, SWH_ERR_INPUT, "column '%s' of a schedule", swh_param_table[out->param[i]].name);
        swh_error_expected(
            &err,
            "parameters that may change while a machine runs: no volumes, no heat capacities, no charge");
        swh_error_at(&err, path, 0, 0);
        swh_problems_add(problems, &err);
        ok = false;
    }
    return ok;
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
        for (int k = 0; k < SWH_PARAM_COUNT && strchr(near.word, '.'); k++)
            if (swh_param_may_move(k))
                swh_nearest_offer(&near, swh_param_table[k].name);
        swh_error_set(&err, SWH_ERR_INPUT, "unknown input '%s'", c->column[i].header);
        swh_error_expected(&err, "name[unit] of a known input or parameter%s", swh_nearest_said(&near).text);
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
    for (int i = 0; i < out->n_params && s == SWH_OK; i++)
        s = widen(&out->param_column[i], l->room, err);
    return s;
}

/* a blank cell holds the value before it */
static enum swh_status put_cell(double *column, size_t row, double value, const char *id,
                                struct swh_error *err)
{
    column[row] = isnan(value) && row > 0 ? column[row - 1] : value;
    if (!isnan(column[row]))
        return SWH_OK;
    swh_error_set(err, SWH_ERR_INPUT, "no value of %s in the first row", id);
    swh_error_expected(err, "a number; a blank cell later on holds the value before it");
    return SWH_ERR_INPUT;
}

/* the first row must be whole */
static enum swh_status append(struct loading *l, const double *value, struct swh_error *err)
{
    struct swh_schedule *out = l->out;
    const enum swh_status s = make_room(l, err);
    if (s != SWH_OK)
        return s;
    enum swh_status status = SWH_OK;
    for (int i = 0; i < SWH_INPUT_COUNT && status == SWH_OK; i++)
        if (out->given[i])
            status = put_cell(out->column[i], out->rows, value[i + 1], swh_input_table[i].id, err);
    for (int i = 0; i < out->n_params && status == SWH_OK; i++)
        status = put_cell(out->param_column[i], out->rows, value[SWH_INPUT_COUNT + 1 + i],
                          swh_param_table[out->param[i]].name, err);
    if (status != SWH_OK)
        return status;
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
    find_params(path, out);
    if (!may_move(out, path, problems)) {
        out->n_params = 0;
        return swh_problems_status(problems);
    }
    fill_targets(target, out);
    const struct swh_head_request head = {
        .target = target, .target_count = SWH_INPUT_COUNT + 1 + out->n_params, .path = path, .units = units};
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
