#include "solver/files/csv_table.h"

#include "solver/files/number.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define HALF_DAY 43200.0
#define DAY 86400.0

struct swh_table {
    struct swh_csv *csv;
    const struct swh_head_request *head;
    double atmosphere;
    struct swh_columns columns;
    struct swh_csv_row row;
    long head_line, last_line;
    double days; /* s, added to clock times after midnight */
    bool broken;
    struct swh_table_facts facts;
};

static enum swh_status wrong(const struct swh_table *t, int cell, struct swh_error *err)
{
    swh_error_at(err, t->head->path, t->row.line, cell >= 0 ? swh_csv_column(t->csv, cell) : 0);
    return SWH_ERR_INPUT;
}

/* ---- cells ---- */

static bool is_word(const struct swh_cell *c, const char *word)
{
    return strlen(word) == c->length && strncasecmp(c->text, word, c->length) == 0;
}

/* what loggers write where they have no reading */
static bool is_blank(const struct swh_cell *c)
{
    static const char *const words[] = {"nan", "na", "n/a", "-", "--"};
    if (c->length == 0)
        return true;
    if (isdigit((unsigned char)c->text[0]) || c->length > 3)
        return false;
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (is_word(c, words[i]))
            return true;
    return false;
}

/* hh:mm:ss, hh:mm:ss.s, h:mm:ss into seconds */
static bool read_clock(const struct swh_cell *c, char point, double *seconds)
{
    double part[3] = {0, 0, 0};
    const char *s = c->text, *end = s + c->length;
    for (int i = 0; i < 3; i++) {
        const char *stop = i < 2 ? memchr(s, ':', (size_t)(end - s)) : end;
        if (!stop || swh_number_read(s, stop, point, &part[i]) != stop || part[i] < 0 ||
            (i > 0 && part[i] >= 60))
            return false;
        s = stop + 1;
    }
    *seconds = part[0] * 3600 + part[1] * 60 + part[2];
    return true;
}

static bool read_word(const struct swh_cell *c, double *x)
{
    const bool on = is_word(c, "on") || is_word(c, "true") || is_word(c, "yes");
    *x = on ? 1 : 0;
    return on || is_word(c, "off") || is_word(c, "false") || is_word(c, "no");
}

static char point_of(const struct swh_table *t, const struct swh_cell *c)
{
    return swh_csv_separator(t->csv) != ',' && memchr(c->text, ',', c->length) ? ',' : '.';
}

/* text into a number in the column's own unit */
static enum swh_status read_number(const struct swh_table *t, int i, double *x, struct swh_error *err)
{
    const struct swh_cell *c = &t->row.cell[i];
    const struct swh_column *col = &t->columns.column[i];
    const char *end = c->text + c->length, *rest = swh_number_read(c->text, end, point_of(t, c), x);
    if (rest == end)
        return SWH_OK;
    if (t->head->target[col->target].quantity == SWH_Q_NONE && read_word(c, x))
        return SWH_OK;
    swh_error_set(err, SWH_ERR_INPUT, "'%.*s' is not a number, in column '%s'",
                  (int)(c->length < 60 ? c->length : 60), c->text, col->header);
    swh_error_expected(err, "a number, or nothing where there is no reading");
    return wrong(t, i, err);
}

/* a unit in which the number would have been possible; "" if there is none */
static const char *likelier_unit(const struct swh_table *t, const struct swh_target *target, double x)
{
    static const struct {
        enum swh_quantity quantity;
        const char *unit;
    } usual[] = {{SWH_Q_PRESSURE, "barg"},    {SWH_Q_PRESSURE, "psig"},    {SWH_Q_PRESSURE, "kPag"},
                 {SWH_Q_TEMPERATURE, "degC"}, {SWH_Q_TEMPERATURE, "degF"}, {SWH_Q_TEMPERATURE, "K"},
                 {SWH_Q_ROTATION, "rpm"},     {SWH_Q_SPEED, "km/h"},       {SWH_Q_NONE, "%"}};
    struct swh_unit unit;
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++) {
        if (usual[i].quantity != target->quantity ||
            swh_unit_find(t->head->units, usual[i].unit, target->quantity, &unit, NULL) != SWH_OK)
            continue;
        const double si = swh_unit_to_si(&unit, x, t->atmosphere);
        if (si >= target->lo && si <= target->hi)
            return usual[i].unit;
    }
    return "";
}

static enum swh_status out_of_range(const struct swh_table *t, int i, double x, struct swh_error *err)
{
    const struct swh_column *col = &t->columns.column[i];
    const struct swh_target *target = &t->head->target[col->target];
    const char *likelier = likelier_unit(t, target, x);
    const double lo = swh_unit_from_si(&col->unit, target->lo, t->atmosphere);
    const double hi = swh_unit_from_si(&col->unit, target->hi, t->atmosphere);
    swh_error_set(err, SWH_ERR_INPUT, "%.9g %s is out of range, in column '%s'", x, col->unit_text,
                  col->header);
    if (likelier[0] != '\0')
        swh_error_expected(err, "%.4g to %.4g %s; is it in %s?", lo, hi, col->unit_text, likelier);
    else
        swh_error_expected(err, "%.4g to %.4g %s", lo, hi, col->unit_text);
    return wrong(t, i, err);
}

static enum swh_status read_cell(const struct swh_table *t, int i, double *si, struct swh_error *err)
{
    const struct swh_column *col = &t->columns.column[i];
    const struct swh_target *target = &t->head->target[col->target];
    double x = 0;
    *si = NAN;
    if (is_blank(&t->row.cell[i]))
        return SWH_OK;
    if (read_number(t, i, &x, err) != SWH_OK)
        return SWH_ERR_INPUT;
    const double value = swh_unit_to_si(&col->unit, x, t->atmosphere);
    if (!(value >= target->lo && value <= target->hi))
        return out_of_range(t, i, x, err);
    *si = value;
    return SWH_OK;
}

/* ---- times ---- */

static enum swh_status read_time(struct swh_table *t, double *time, struct swh_error *err)
{
    const int i = t->columns.of_target[0];
    const struct swh_cell *c = &t->row.cell[i];
    if (!is_blank(c) && !memchr(c->text, ':', c->length))
        return read_cell(t, i, time, err);
    if (is_blank(c) || !read_clock(c, point_of(t, c), time)) {
        swh_error_set(err, SWH_ERR_INPUT, "%s%.*s%s in the time column", c->length ? "'" : "no time",
                      (int)(c->length < 60 ? c->length : 60), c->text, c->length ? "'" : "");
        swh_error_expected(err, "a time, in its unit or as hh:mm:ss");
        return wrong(t, i, err);
    }
    *time += t->days;
    if (t->facts.rows > 0 && *time < t->facts.last_time - HALF_DAY) {
        t->days += DAY;
        *time += DAY;
    }
    t->facts.clock = true;
    return SWH_OK;
}

static enum swh_status check_time(const struct swh_table *t, double time, struct swh_error *err)
{
    const double last = t->facts.last_time;
    if (t->facts.rows == 0 || time > last)
        return SWH_OK;
    if (time == last)
        swh_error_set(err, SWH_ERR_INPUT, "time %.9g s a second time", time);
    else
        swh_error_set(err, SWH_ERR_INPUT, "time goes back from %.9g s to %.9g s", last, time);
    swh_error_expected(err, "a time after that of line %ld", t->last_line);
    return wrong(t, t->columns.of_target[0], err);
}

static void keep_facts(struct swh_table *t, double time)
{
    struct swh_table_facts *f = &t->facts;
    if (f->rows == 0)
        f->first_time = time;
    else if (time - f->last_time > f->longest_gap) {
        f->longest_gap = time - f->last_time;
        f->gap_from = f->last_time;
    }
    f->last_time = time;
    f->rows++;
    t->last_line = t->row.line;
    f->cut_off = t->row.cut_off;
}

/* ---- rows ---- */

static enum swh_status check_width(const struct swh_table *t, struct swh_error *err)
{
    const int have = t->row.count, want = t->columns.count;
    int used = have;
    while (used > want && t->row.cell[used - 1].length == 0)
        used--;
    if (have >= want && used == want)
        return SWH_OK;
    if (have < want && t->row.cut_off)
        swh_error_set(err, SWH_ERR_INPUT, "the file is cut off in its last line: %d of %d cells", have, want);
    else
        swh_error_set(err, SWH_ERR_INPUT, "%d cells in the row", have);
    if (have >= 2 * want - 2 && swh_csv_separator(t->csv) == ',')
        swh_error_expected(err, "%d as in the first line; decimal commas need semicolons between the cells",
                           want);
    else
        swh_error_expected(err, "%d cells, as in the first line", want);
    return wrong(t, have < want ? have - 1 : want, err);
}

static enum swh_status read_row(struct swh_table *t, double *value, struct swh_error *err)
{
    double time = 0;
    if (check_width(t, err) != SWH_OK || read_time(t, &time, err) != SWH_OK ||
        check_time(t, time, err) != SWH_OK)
        return SWH_ERR_INPUT;
    for (int i = 0; i < t->head->target_count; i++)
        value[i] = NAN;
    for (int i = 0; i < t->columns.count; i++) {
        const int target = t->columns.column[i].target;
        if (target > 0 && read_cell(t, i, &value[target], err) != SWH_OK)
            return SWH_ERR_INPUT;
    }
    value[0] = time;
    keep_facts(t, time);
    return SWH_OK;
}

enum swh_status swh_table_next(struct swh_table *t, double *value, bool *more, struct swh_error *err)
{
    const enum swh_status s = swh_csv_next(t->csv, &t->row, more, err);
    t->broken = s != SWH_OK;
    if (s != SWH_OK || !*more)
        return s;
    if (t->row.cut_off && strcmp(t->head->path, "-") == 0) {
        /* a live log often ends in the middle of a line, because its writer was stopped there: no mistake,
         * but its last number may have lost digits */
        t->facts.half_line = true;
        *more = false;
        return SWH_OK;
    }
    return read_row(t, value, err);
}

/* ---- opening ---- */

static void add(struct swh_problems *problems, const struct swh_error *err)
{
    swh_problems_add(problems, err);
}

static void need_time(const struct swh_table *t, struct swh_problems *problems)
{
    struct swh_error err = {0};
    if (t->columns.of_target[0] >= 0)
        return;
    swh_error_set(&err, SWH_ERR_INPUT, "no column of times");
    swh_error_at(&err, t->head->path, t->row.line, 1);
    swh_error_expected(&err, "a column 'time[s]', or 'Time' with hh:mm:ss");
    add(problems, &err);
}

struct swh_table *swh_table_open(const struct swh_head_request *head, double atmosphere,
                                 struct swh_problems *problems)
{
    struct swh_error err = {0};
    bool more = false;
    struct swh_table *t = calloc(1, sizeof *t);
    if (!t)
        return NULL;
    t->head = head;
    t->atmosphere = atmosphere;
    t->csv = swh_csv_open(head->path, head->interrupted, &err);
    if (!t->csv || swh_csv_next(t->csv, &t->row, &more, &err) != SWH_OK) {
        add(problems, &err);
        swh_table_close(t);
        return NULL;
    }
    t->head_line = t->row.line;
    swh_head_map(head, t->csv, &t->row, &t->columns, problems);
    need_time(t, problems);
    t->broken = t->columns.of_target[0] < 0;
    return t;
}

void swh_table_close(struct swh_table *t)
{
    if (!t)
        return;
    swh_csv_close(t->csv);
    free(t);
}

const struct swh_columns *swh_table_columns(const struct swh_table *t)
{
    return &t->columns;
}

char swh_table_separator(const struct swh_table *t)
{
    return swh_csv_separator(t->csv);
}

bool swh_table_broken(const struct swh_table *t)
{
    return t->broken;
}

const struct swh_table_facts *swh_table_get_facts(const struct swh_table *t)
{
    return &t->facts;
}

long swh_table_head_line(const struct swh_table *t)
{
    return t->head_line;
}
