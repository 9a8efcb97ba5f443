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
#define LATEST_DATE 1e10 /* s after the beginning of 1970: in the year 2286 */

/* lines about the device that may stand before the line of names; mistakes of one column that are told one by
 * one */
enum { LINES_ABOVE = 40, TOLD_ONE_BY_ONE = 3 };

/* mistakes of one column: what is wrong with all of it is said once */
struct complaints {
    long told, untold, last_line;
};

struct swh_table {
    struct swh_csv *csv;
    const struct swh_head_request *head;
    struct swh_mapping *mapping;
    double atmosphere;
    struct swh_columns columns;
    struct swh_csv_row row;
    bool pending; /* the row was read already */
    bool ended;   /* no row is left; what was wrong with whole columns is still to be said */
    long head_line, last_line;
    struct swh_time_style time;
    double days; /* s, added to clock times after midnight */
    bool broken;
    struct swh_table_facts facts;
    int wrong_cell;                                 /* of the row just read, -1: the row as a whole */
    struct complaints complaint[SWH_CSV_CELLS + 1]; /* the last: of rows as a whole */
};

static enum swh_status wrong(struct swh_table *t, int cell, struct swh_error *err)
{
    t->wrong_cell = cell;
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
    static const char *const words[] = {"nan",  "na",     "n/a",  "-",     "--",   "---",   "----",
                                        "null", "none",   "ol",   "o.l",   "o.l.", "err",   "error",
                                        "open", "over",   "inf",  "-inf",  "oor",  "nc",    "fault",
                                        "ffff", "0xffff", "#n/a", "-----", "?",    "noread"};
    if (c->length == 0)
        return true;
    if ((isdigit((unsigned char)c->text[0]) && c->text[0] != '0') || c->length > 6)
        return false;
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (is_word(c, words[i]))
            return true;
    return false;
}

/* Words for one and nought; whether they were one is in x. An open door is one, an open relay might be
 * either. */
static bool read_word(const struct swh_cell *c, bool door, double *x)
{
    static const char *const on[] = {"on", "true", "yes", "y", "engaged", "active"};
    static const char *const off[] = {"off",        "false",    "no",       "n",
                                      "disengaged", "inactive", "released", "not engaged"};
    for (size_t i = 0; i < sizeof on / sizeof on[0]; i++)
        if (is_word(c, on[i]) || (door && is_word(c, "open"))) {
            *x = 1;
            return true;
        }
    *x = 0;
    for (size_t i = 0; i < sizeof off / sizeof off[0]; i++)
        if (is_word(c, off[i]) || (door && (is_word(c, "shut") || is_word(c, "closed"))))
            return true;
    return false;
}

static bool is_door(const struct swh_target *t)
{
    return strcmp(t->id, "doors_open") == 0;
}

/* Numbers that a logger writes where its sensor is not there: all bits of a word set, also after scaling by
 * tens and hundreds. The first ones are dropped wherever they stand, the others where nothing so large is
 * possible. Common practice, no source. */
static bool is_all_bits(double x, bool possible)
{
    static const double always[] = {65535, 6553.5, 655.35, 4294967295.0};
    static const double outside[] = {32767, 3276.7, 327.67, -32768, -3276.8, -327.68,      9999, 999.9,
                                     -999,  -9999,  -999.9, 65534,  6553.4,  2147483647.0, 99999};
    for (size_t i = 0; i < sizeof always / sizeof always[0]; i++)
        if (x == always[i])
            return true;
    for (size_t i = 0; i < sizeof outside / sizeof outside[0] && !possible; i++)
        if (x == outside[i])
            return true;
    return false;
}

static char point_of(const struct swh_table *t, const struct swh_cell *c)
{
    return swh_csv_separator(t->csv) != ',' && memchr(c->text, ',', c->length) ? ',' : '.';
}

/* whether the text behind a number is the column's unit again ("79.9 F") */
static bool is_own_unit(const struct swh_table *t, const struct swh_column *col, const char *s,
                        const char *end)
{
    char text[32];
    struct swh_unit unit;
    while (s < end && isspace((unsigned char)*s))
        s++;
    const size_t n = (size_t)(end - s);
    if (n == 0 || n >= sizeof text)
        return n == 0;
    memcpy(text, s, n);
    text[n] = '\0';
    if (strcmp(text, col->unit_text) == 0)
        return true;
    if (swh_unit_find(t->head->units, text, t->head->target[col->target].quantity, &unit, NULL) != SWH_OK)
        return false;
    const double ratio = col->engine && t->head->pulley_ratio > 0 ? t->head->pulley_ratio : 1;
    return fabs(unit.factor * ratio - col->unit.factor) <= 1e-9 * col->unit.factor &&
           unit.offset == col->unit.offset && (col->taken_as_gauge || unit.gauge == col->unit.gauge);
}

/* text into a number in the column's own unit */
static enum swh_status read_number(struct swh_table *t, int i, double *x, struct swh_error *err)
{
    const struct swh_cell *c = &t->row.cell[i];
    const struct swh_column *col = &t->columns.column[i];
    const char *end = c->text + c->length, *rest = swh_number_read(c->text, end, point_of(t, c), x);
    if (rest == end)
        return SWH_OK;
    if (t->head->target[col->target].quantity == SWH_Q_NONE &&
        read_word(c, is_door(&t->head->target[col->target]), x))
        return SWH_OK;
    if (rest && is_own_unit(t, col, rest, end))
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

static enum swh_status out_of_range(struct swh_table *t, int i, double x, struct swh_error *err)
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

static enum swh_status read_cell(struct swh_table *t, int i, double *si, struct swh_error *err)
{
    const struct swh_column *col = &t->columns.column[i];
    const struct swh_target *target = &t->head->target[col->target];
    double x = 0;
    *si = NAN;
    if (target->words || (is_blank(&t->row.cell[i]) && !(is_door(target) && t->row.cell[i].length == 4)))
        return SWH_OK;
    if (read_number(t, i, &x, err) != SWH_OK)
        return SWH_ERR_INPUT;
    const double value = swh_unit_to_si(&col->unit, x, t->atmosphere);
    const bool possible = value >= target->lo && value <= target->hi;
    if (t->head->readings && col->target > 0 && is_all_bits(x, possible)) {
        t->facts.dropped[i]++;
        return SWH_OK;
    }
    if (!possible)
        return out_of_range(t, i, x, err);
    *si = value;
    return SWH_OK;
}

/* ---- times ---- */

static enum swh_status no_time(struct swh_table *t, int i, struct swh_error *err)
{
    const struct swh_cell *c = &t->row.cell[i];
    swh_error_set(err, SWH_ERR_INPUT, "%s%.*s%s in the time column", c->length ? "'" : "no time",
                  (int)(c->length < 60 ? c->length : 60), c->text, c->length ? "'" : "");
    swh_error_expected(err, "a time, in its unit or as hh:mm:ss, with or without a date");
    return wrong(t, i, err);
}

/* a number: seconds, or seconds since 1970 */
static enum swh_status read_count(struct swh_table *t, int i, double *time, struct swh_error *err)
{
    double x = 0;
    if (read_number(t, i, &x, err) != SWH_OK)
        return SWH_ERR_INPUT;
    *time = swh_unit_to_si(&t->columns.column[i].unit, x, t->atmosphere);
    if (t->head->readings && swh_time_since_1970(&t->time, time)) {
        t->facts.since_1970 = true;
        return SWH_OK;
    }
    const struct swh_target *target = &t->head->target[0];
    return *time >= target->lo && *time <= target->hi ? SWH_OK : out_of_range(t, i, x, err);
}

static enum swh_status read_time(struct swh_table *t, double *time, struct swh_error *err)
{
    const int i = t->columns.of_target[0];
    const struct swh_cell *c = &t->row.cell[i];
    if (!is_blank(c) && !memchr(c->text, ':', c->length))
        return read_count(t, i, time, err);
    if (is_blank(c) || !swh_time_read(c->text, c->length, point_of(t, c), &t->time, time) ||
        fabs(*time) > (t->time.dated ? LATEST_DATE : t->head->target[0].hi))
        return no_time(t, i, err);
    *time += t->days;
    if (!t->time.dated && t->facts.rows > 0 && *time < t->facts.last_time - HALF_DAY) {
        t->days += DAY;
        *time += DAY;
    }
    t->facts.clock = !t->time.minutes_first;
    t->facts.minutes_first = t->time.minutes_first;
    return SWH_OK;
}

static enum swh_status check_time(struct swh_table *t, double time, struct swh_error *err)
{
    const double last = t->facts.last_time;
    if (t->facts.rows == 0 || time > last)
        return SWH_OK;
    if (time == last)
        swh_error_set(err, SWH_ERR_INPUT, "time %.9g s a second time%s", time,
                      t->facts.clock && fmod(time, 60) == 0 ? ": do the clock's times lack their seconds?"
                                                            : "");
    else
        swh_error_set(err, SWH_ERR_INPUT, "time goes back from %.9g s to %.9g s", last, time);
    swh_error_expected(err, "a time after that of line %ld", t->last_line);
    return wrong(t, t->columns.of_target[0], err);
}

static void keep_gap(struct swh_table_facts *f, double length)
{
    if (length <= 10)
        return;
    if (f->gaps == SWH_TABLE_GAPS) {
        int shortest = 0;
        for (int i = 1; i < f->gaps; i++)
            if (f->gap[i].length < f->gap[shortest].length)
                shortest = i;
        if (length <= f->gap[shortest].length)
            return;
        memmove(&f->gap[shortest], &f->gap[shortest + 1],
                (size_t)(f->gaps - 1 - shortest) * sizeof f->gap[0]);
        f->gaps--;
    }
    f->gap[f->gaps++] = (struct swh_table_gap){f->last_time, length};
}

static void keep_facts(struct swh_table *t, double time)
{
    struct swh_table_facts *f = &t->facts;
    if (f->rows == 0)
        f->first_time = time;
    else
        keep_gap(f, time - f->last_time);
    f->last_time = time;
    f->rows++;
    t->last_line = t->row.line;
    f->cut_off = t->row.cut_off;
}

/* ---- rows ---- */

static enum swh_status check_width(struct swh_table *t, struct swh_error *err)
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
    wrong(t, have < want ? have - 1 : want, err);
    t->wrong_cell = -1;
    return SWH_ERR_INPUT;
}

/* Two columns of one reading must agree; where one is blank the other counts. */
static enum swh_status read_twin(struct swh_table *t, int i, double *value, struct swh_error *err)
{
    const struct swh_column *c = &t->columns.column[i];
    double x = NAN;
    if (read_cell(t, i, &x, err) != SWH_OK)
        return SWH_ERR_INPUT;
    const double first = *value, scale = t->columns.column[c->twin].unit.factor;
    if (isnan(first))
        *value = x;
    const bool heat = t->head->target[c->target].quantity == SWH_Q_TEMPERATURE;
    if (isnan(first) || isnan(x) || fabs(x - first) <= (heat ? 1.0 : 0.02 * fabs(first) + scale))
        return SWH_OK;
    swh_error_set(err, SWH_ERR_INPUT, "a second column for %s: '%s' disagrees with '%s'",
                  t->head->target[c->target].id, c->header, t->columns.column[c->twin].header);
    swh_error_expected(err, "one; a --columns file can say which");
    return wrong(t, i, err);
}

static enum swh_status read_row(struct swh_table *t, double *value, struct swh_error *err)
{
    double time = 0;
    const bool timed = t->columns.of_target[0] >= 0 && !t->head->no_time;
    if (check_width(t, err) != SWH_OK ||
        (timed && (read_time(t, &time, err) != SWH_OK || check_time(t, time, err) != SWH_OK)))
        return SWH_ERR_INPUT;
    for (int i = 0; i < t->head->target_count; i++)
        value[i] = NAN;
    for (int i = 0; i < t->columns.count; i++) {
        const struct swh_column *c = &t->columns.column[i];
        if (c->target > 0 && (c->twin >= 0 ? read_twin(t, i, &value[c->target], err)
                                           : read_cell(t, i, &value[c->target], err)) != SWH_OK)
            return SWH_ERR_INPUT;
    }
    value[0] = timed ? time : NAN;
    keep_facts(t, time);
    return SWH_OK;
}

/* Mistakes in rows one after the other are the column's: they are counted, not told. */
static bool is_told(struct swh_table *t)
{
    struct complaints *c = &t->complaint[t->wrong_cell >= 0 ? t->wrong_cell : SWH_CSV_CELLS];
    const bool follows = c->told + c->untold > 0 && t->row.line == c->last_line + 1;
    const bool told = c->told == 0 || (!follows && c->untold == 0 && c->told < TOLD_ONE_BY_ONE);
    *(told ? &c->told : &c->untold) += 1;
    c->last_line = t->row.line;
    return told;
}

/* the next column whose mistakes were only counted; false if there is none */
static bool sum_up(struct swh_table *t, struct swh_error *err)
{
    for (int i = 0; i <= SWH_CSV_CELLS; i++) {
        struct complaints *c = &t->complaint[i];
        if (c->untold == 0)
            continue;
        if (i < SWH_CSV_CELLS)
            swh_error_set(err, SWH_ERR_INPUT, "column '%s' is wrong in %ld more row%s",
                          t->columns.column[i].header, c->untold, c->untold == 1 ? "" : "s");
        else
            swh_error_set(err, SWH_ERR_INPUT, "%ld more row%s of a wrong width", c->untold,
                          c->untold == 1 ? "" : "s");
        swh_error_expected(err, "as in the row above");
        swh_error_at(err, t->head->path, c->last_line, 0);
        c->untold = 0;
        return true;
    }
    return false;
}

static enum swh_status take_row(struct swh_table *t, bool *more, struct swh_error *err)
{
    *more = true;
    if (t->pending) {
        t->pending = false;
        return SWH_OK;
    }
    *more = false;
    const enum swh_status s = t->ended ? SWH_OK : swh_csv_next(t->csv, &t->row, more, err);
    t->broken = s != SWH_OK;
    return s;
}

enum swh_status swh_table_next(struct swh_table *t, double *value, bool *more, struct swh_error *err)
{
    for (;;) {
        const enum swh_status s = take_row(t, more, err);
        if (s != SWH_OK)
            return s;
        if (*more && t->row.cut_off && strcmp(t->head->path, "-") == 0) {
            /* a live log often ends in the middle of a line, because its writer was stopped there: no
             * mistake, but its last number may have lost digits */
            t->facts.half_line = true;
            *more = false;
        }
        if (!*more) {
            t->ended = true;
            *more = sum_up(t, err);
            return *more ? SWH_ERR_INPUT : SWH_OK;
        }
        struct swh_error one = {0};
        if (read_row(t, value, &one) == SWH_OK)
            return SWH_OK;
        if (is_told(t)) {
            *err = one;
            return SWH_ERR_INPUT;
        }
    }
}

/* ---- opening ---- */

static void add(struct swh_problems *problems, const struct swh_error *err)
{
    swh_problems_add(problems, err);
}

static void need_time(const struct swh_table *t, struct swh_problems *problems)
{
    struct swh_error err = {0};
    if (t->columns.of_target[0] >= 0 || t->head->no_time)
        return;
    swh_error_set(&err, SWH_ERR_INPUT, "no column of times");
    swh_error_at(&err, t->head->path, t->head_line, 1);
    swh_error_expected(&err, "a column 'time[s]', or 'Time' with hh:mm:ss");
    add(problems, &err);
}

/* more than half of what stands in a row is numbers */
static bool is_of_numbers(const struct swh_csv_row *row)
{
    int numbers = 0, cells = 0;
    for (int i = 0; i < row->count; i++) {
        cells += row->cell[i].length > 0;
        numbers += swh_cell_is_number(&row->cell[i], NULL, 0);
    }
    return 2 * numbers > cells;
}

/* The line of names: the first with two known names and no number, within the first lines; else the first
 * line of all. */
static enum swh_status find_names(struct swh_table *t, struct swh_columns *candidate, struct swh_error *err)
{
    int best = -1;
    bool more = true;
    for (int line = 0; line < LINES_ABOVE && best < 2; line++) {
        const enum swh_status s = swh_csv_next(t->csv, &t->row, &more, err);
        if (s != SWH_OK)
            return s;
        if (!more)
            return SWH_OK;
        t->pending = best >= 1 && is_of_numbers(&t->row);
        if (t->pending)
            return SWH_OK;
        const int known = swh_head_names(t->mapping, t->csv, &t->row, candidate);
        if (known <= best)
            continue;
        best = known;
        t->columns = *candidate;
        t->head_line = t->row.line;
        t->facts.lines_above = line;
    }
    return SWH_OK;
}

/* the row below the names may hold units; else it is the first of the rows */
static enum swh_status find_units(struct swh_table *t, struct swh_problems *problems, struct swh_error *err)
{
    bool more = t->pending;
    enum swh_status s = SWH_OK;
    if (!t->pending)
        s = swh_csv_next(t->csv, &t->row, &more, err);
    t->pending = s == SWH_OK && more;
    t->ended = s == SWH_OK && !more;
    t->facts.units_row =
        t->pending && t->head->readings && swh_head_is_units(t->mapping, &t->columns, &t->row);
    const struct swh_csv_row *row = t->pending ? &t->row : NULL;
    swh_head_units(t->mapping, &t->columns, t->facts.units_row ? row : NULL, t->facts.units_row ? NULL : row,
                   t->head_line, problems);
    if (t->facts.units_row)
        t->pending = false;
    return s;
}

static enum swh_status begin(struct swh_table *t, struct swh_problems *problems, struct swh_error *err)
{
    struct swh_columns *candidate = malloc(sizeof *candidate);
    t->mapping = swh_mapping_read(t->head, problems);
    if (!candidate || !t->mapping) {
        free(candidate);
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for reading %s", t->head->path);
    }
    t->csv = swh_csv_open(t->head->path, t->head->interrupted, err);
    const enum swh_status s = t->csv ? find_names(t, candidate, err) : err->status;
    free(candidate);
    return s == SWH_OK ? find_units(t, problems, err) : s;
}

struct swh_table *swh_table_open(const struct swh_head_request *head, double atmosphere,
                                 struct swh_problems *problems)
{
    struct swh_error err = {0};
    struct swh_table *t = calloc(1, sizeof *t);
    if (!t) {
        swh_problems_memory(problems, head->path);
        return NULL;
    }
    t->head = head;
    t->atmosphere = atmosphere;
    if (begin(t, problems, &err) != SWH_OK) {
        add(problems, &err);
        swh_table_close(t);
        return NULL;
    }
    need_time(t, problems);
    const int time = t->columns.of_target[0];
    t->broken = !head->no_time && (time < 0 || t->columns.column[time].target != 0);
    return t;
}

void swh_table_close(struct swh_table *t)
{
    if (!t)
        return;
    swh_csv_close(t->csv);
    swh_mapping_free(t->mapping);
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

long swh_table_line(const struct swh_table *t)
{
    return t->row.line;
}

long swh_table_place(const struct swh_table *t, int target)
{
    const int i = t->columns.of_target[target];
    return i >= 0 && i < t->row.count ? swh_csv_column(t->csv, i) : 1;
}

const char *swh_table_words(const struct swh_table *t, int target, char *out, size_t size)
{
    const int i = t->columns.of_target[target];
    out[0] = '\0';
    if (i >= 0 && i < t->row.count)
        snprintf(out, size, "%.*s", (int)t->row.cell[i].length, t->row.cell[i].text);
    return out;
}
