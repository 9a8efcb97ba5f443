#include "solver/files/csv_head.h"

#include "model/base/utf8.h"
#include "solver/files/csv_mapping.h"
#include "solver/files/csv_names.h"
#include "solver/files/number.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

/* ---- words of a header ---- */

/* "name[unit]" or "name (unit)" into its two parts; unit "" if there is none */
static void split_header(const char *header, char *name, size_t name_size, char *unit, size_t unit_size)
{
    const size_t n = strlen(header);
    const char close = n > 0 ? header[n - 1] : '\0';
    const char *open = NULL;
    int depth = 0;
    if (close == ']')
        open = strchr(header, '[');
    for (size_t i = n; close == ')' && i-- > 0;) {
        depth += (header[i] == ')') - (header[i] == '(');
        if (depth == 0) {
            open = header + i;
            break;
        }
    }
    swh_copy_trimmed(name, name_size, header, open ? (size_t)(open - header) : n);
    swh_copy_trimmed(unit, unit_size, open ? open + 1 : "", open ? (size_t)(header + n - 1 - (open + 1)) : 0);
}

bool swh_cell_is_number(const struct swh_cell *cell, char *unit, size_t size)
{
    double x;
    const char *end = cell->text + cell->length;
    const char *comma = memchr(cell->text, ',', cell->length);
    const char *rest = cell->length ? swh_number_read(cell->text, end, comma ? ',' : '.', &x) : NULL;
    if (!rest)
        return false;
    if (rest < end && isalpha((unsigned char)*rest) && end - rest > 1)
        return false; /* "2nd clamp"; but "79F" */
    if (unit)
        swh_copy_trimmed(unit, size, rest, (size_t)(end - rest));
    return true;
}

/* ---- finding the target ---- */

static bool fits(const struct swh_head_request *r, int target, const char *unit)
{
    struct swh_unit found;
    return target >= 0 && swh_unit_find(r->units, unit, r->target[target].quantity, &found, NULL) == SWH_OK;
}

static int target_of(const struct swh_head_request *r, const struct swh_spelling *s)
{
    return swh_target_called(r, strcmp(s->id, "engine_speed") == 0 ? "compressor_speed" : s->id);
}

/* the meaning of a name whose quantity the unit fits, else the first */
static const struct swh_spelling *spelling_for(const struct swh_head_request *r, const char *name,
                                               const char *unit)
{
    const struct swh_spelling *s;
    for (int n = 0; unit[0] != '\0' && (s = swh_spelling_of(name, n)); n++)
        if (fits(r, target_of(r, s), unit))
            return s;
    return swh_spelling_of(name, 0);
}

static void take_spelling(const struct swh_head_request *r, struct swh_column *c,
                          const struct swh_spelling *s)
{
    c->target = target_of(r, s);
    c->engine = strcmp(s->id, "engine_speed") == 0;
    c->spelled = s->words;
    c->foreign = true;
    if (c->unit_text[0] == '\0')
        snprintf(c->unit_text, sizeof c->unit_text, "%s", s->unit);
}

/* "Suction temp C": the last word may be the unit */
static bool try_last_word(const struct swh_head_request *r, struct swh_column *c, const char *name)
{
    char first[96];
    const char *space = strrchr(name, ' ');
    if (!space || c->unit_text[0] != '\0')
        return false;
    swh_copy_trimmed(first, sizeof first, name, (size_t)(space - name));
    const struct swh_spelling *s = spelling_for(r, first, space + 1);
    if (!s || !fits(r, target_of(r, s), space + 1))
        return false;
    snprintf(c->unit_text, sizeof c->unit_text, "%.31s", space + 1);
    take_spelling(r, c, s);
    return true;
}

static bool find_mapped(const struct swh_mapping *m, struct swh_column *c, const char *header,
                        const char *name)
{
    const struct swh_mapped *mapped = swh_mapped_as(m, header);
    if (!mapped)
        mapped = swh_mapped_as(m, name);
    if (!mapped)
        return false;
    c->target = mapped->target;
    c->engine = mapped->engine;
    c->foreign = true;
    if (mapped->unit[0] != '\0')
        snprintf(c->unit_text, sizeof c->unit_text, "%s", mapped->unit);
    return true;
}

static void find_target(const struct swh_mapping *m, struct swh_column *c, const char *header)
{
    const struct swh_head_request *r = m->request;
    char name[96];
    split_header(header, name, sizeof name, c->unit_text, sizeof c->unit_text);
    if (find_mapped(m, c, header, name))
        return;
    c->engine = strcmp(name, "engine_speed") == 0;
    c->target = swh_target_called(r, c->engine ? "compressor_speed" : name);
    if (c->target >= 0 || !r->readings)
        return;
    const struct swh_spelling *s = spelling_for(r, name, c->unit_text);
    if (s)
        take_spelling(r, c, s);
    else
        try_last_word(r, c, name);
}

int swh_head_names(const struct swh_mapping *m, const struct swh_csv *csv, const struct swh_csv_row *row,
                   struct swh_columns *out)
{
    int known = 0;
    for (int i = 0; i < SWH_TARGETS_MAX; i++)
        out->of_target[i] = -1;
    out->count = row->count;
    for (int i = 0; i < row->count; i++) {
        struct swh_column *c = &out->column[i];
        char header[96];
        memset(c, 0, sizeof *c);
        c->target = c->twin = -1;
        c->place = swh_csv_column(csv, i);
        swh_copy_trimmed(header, sizeof header, row->cell[i].text, row->cell[i].length);
        swh_utf8_clean(c->header, sizeof c->header, header);
        if (header[0] != '\0' && !swh_cell_is_number(&row->cell[i], NULL, 0))
            find_target(m, c, header);
        if (c->target < 0)
            continue;
        known++;
        if (out->of_target[c->target] >= 0)
            c->twin = out->of_target[c->target];
        else
            out->of_target[c->target] = i;
    }
    return known;
}

/* ---- units ---- */

static bool is_clock(const char *unit)
{
    static const char *const words[] = {"hh:mm", "h:mm", "mm:ss", "m:ss"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strncasecmp(unit, words[i], strlen(words[i])) == 0)
            return true;
    return false;
}

/* words that stand below a name in a row of units without being a unit */
static bool says_nothing(const char *text)
{
    static const char *const words[] = {"",       "-",   "--",   "1",      "n/a",   "[-]",  "text",
                                        "on/off", "0/1", "bool", "yes/no", "state", "date", "time"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcasecmp(text, words[i]) == 0)
            return true;
    return is_clock(text);
}

/* the text of a cell without the brackets that units are put in */
static void unit_cell(const struct swh_csv_row *row, int i, char *out, size_t size)
{
    out[0] = '\0';
    if (!row || i >= row->count)
        return;
    const char *s = row->cell[i].text;
    size_t n = row->cell[i].length;
    if (n >= 2 && (s[0] == '[' || s[0] == '(') && (s[n - 1] == ']' || s[n - 1] == ')')) {
        s++;
        n -= 2;
    }
    swh_copy_trimmed(out, size, s, n);
}

bool swh_head_is_units(const struct swh_mapping *m, const struct swh_columns *c,
                       const struct swh_csv_row *row)
{
    int units = 0;
    for (int i = 0; i < row->count && i < c->count; i++) {
        char text[32];
        unit_cell(row, i, text, sizeof text);
        if (swh_cell_is_number(&row->cell[i], NULL, 0) && strcmp(text, "1") != 0)
            return false;
        if (c->column[i].target < 0 || says_nothing(text))
            continue;
        struct swh_unit found;
        bool unit = false;
        for (int q = 0; q < SWH_QUANTITY_COUNT && !unit; q++)
            unit = swh_unit_find(m->request->units, text, (enum swh_quantity)q, &found, NULL) == SWH_OK;
        if (!unit)
            return false;
        units++;
    }
    return units > 0;
}

/* The unit that stands below the name, or behind the number in the first cell. The name may mean something
 * else with it. */
static void unit_from_rows(const struct swh_head_request *r, struct swh_column *c, int i,
                           const struct swh_csv_row *units, const struct swh_csv_row *first)
{
    char text[32];
    unit_cell(units, i, text, sizeof text);
    if (!units && first && i < first->count && swh_cell_is_number(&first->cell[i], text, sizeof text) &&
        text[0] != '\0' && !fits(r, c->target, text) && !c->spelled)
        text[0] = '\0'; /* "12 kg" where degC belongs: the cell's own mistake */
    if (says_nothing(text) && !is_clock(text))
        return;
    snprintf(c->unit_text, sizeof c->unit_text, "%s", text);
    c->unit_from_cells = true;
    const struct swh_spelling *s = c->spelled ? spelling_for(r, c->spelled, text) : NULL;
    if (s && !fits(r, c->target, text))
        take_spelling(r, c, s);
}

static bool on_a_gauge(const struct swh_target *t, const struct swh_column *c)
{
    return t->quantity == SWH_Q_PRESSURE && !t->absolute && !c->unit.gauge && !c->unit.absolute &&
           strcmp(c->unit_text, "Pa") != 0;
}

static bool is_mercury(const char *unit)
{
    return strcasecmp(unit, "inHg") == 0 || strcasecmp(unit, "in Hg") == 0 ||
           strcasecmp(unit, "in.Hg") == 0 || strcasecmp(unit, "\"Hg") == 0;
}

static void find_unit(const struct swh_head_request *r, struct swh_column *c, struct swh_error *err)
{
    const struct swh_target *t = &r->target[c->target];
    c->unit = (struct swh_unit){1.0, 0.0, false, false};
    if (t->words)
        return;
    if (c->unit_text[0] == '\0' && (t->quantity == SWH_Q_NONE || t->quantity == SWH_Q_TIME))
        snprintf(c->unit_text, sizeof c->unit_text, "%s", t->quantity == SWH_Q_TIME ? "s" : "1");
    if (t->quantity == SWH_Q_TIME && is_clock(c->unit_text))
        return; /* its cells say so themselves */
    if (c->unit_text[0] == '\0') {
        swh_error_set(err, SWH_ERR_INPUT, "column '%s' has no unit", c->header);
        swh_error_expected(err, "%s, for example '%s[%s]'", swh_quantities[t->quantity].help, t->id,
                           swh_quantities[t->quantity].show_si);
        return;
    }
    if (t->quantity == SWH_Q_PRESSURE && is_mercury(c->unit_text)) {
        swh_error_set(err, SWH_ERR_INPUT, "column '%s' is in %s, which on a gauge counts vacuum", c->header,
                      c->unit_text);
        swh_error_expected(err, "psi, bar or kPa above the air outside (a vacuum with a minus sign)");
        return;
    }
    if (swh_unit_find(r->units, c->unit_text, t->quantity, &c->unit, err) == SWH_OK && on_a_gauge(t, c))
        c->unit.gauge = c->taken_as_gauge = true;
    if (c->engine && r->pulley_ratio > 0)
        c->unit.factor *= r->pulley_ratio;
}

/* every header that MAP.ini names must be there */
static void check_used(const struct swh_mapping *m, const struct swh_columns *out,
                       struct swh_problems *problems)
{
    for (int i = 0; i < m->count; i++) {
        const struct swh_mapped *item = &m->item[i];
        if (out->of_target[item->target] >= 0)
            continue;
        struct swh_error err = {0};
        swh_error_set(&err, SWH_ERR_INPUT, "no column '%s' in %s", item->header, m->request->path);
        swh_error_expected(&err, "one of the log's own headers");
        swh_error_at(&err, m->request->map, item->line, item->column);
        swh_problems_add(problems, &err);
    }
}

/* An engine's speed is no use without the pulley ratio, and none beside the compressor's own. */
static void drop_engine(const struct swh_head_request *r, struct swh_columns *c)
{
    for (int i = 0; i < c->count; i++) {
        struct swh_column *e = &c->column[i];
        if (!e->engine || e->target < 0)
            continue;
        int other = -1;
        for (int k = 0; k < c->count; k++)
            if (k != i && c->column[k].target == e->target && !c->column[k].engine)
                other = k;
        if (other < 0 && r->pulley_ratio > 0)
            continue;
        if (c->of_target[e->target] == i)
            c->of_target[e->target] = other;
        if (other >= 0)
            c->column[other].twin = -1;
        e->target = e->twin = -1;
    }
}

void swh_head_units(const struct swh_mapping *m, struct swh_columns *c, const struct swh_csv_row *units,
                    const struct swh_csv_row *first, long line, struct swh_problems *problems)
{
    const struct swh_head_request *r = m->request;
    check_used(m, c, problems);
    for (int i = 0; i < c->count; i++)
        if (c->column[i].target >= 0 && (units || c->column[i].unit_text[0] == '\0'))
            unit_from_rows(r, &c->column[i], i, units, first);
    for (int t = 0; t < SWH_TARGETS_MAX; t++)
        c->of_target[t] = -1;
    for (int i = 0; i < c->count; i++) { /* anew: units may have changed what a name means */
        const int t = c->column[i].target;
        c->column[i].twin = t >= 0 ? c->of_target[t] : -1;
        if (t >= 0 && c->of_target[t] < 0)
            c->of_target[t] = i;
    }
    drop_engine(r, c);
    for (int i = 0; i < c->count; i++) {
        struct swh_error err = {0};
        struct swh_column *column = &c->column[i];
        if (column->target < 0)
            continue;
        find_unit(r, column, &err);
        if (err.status == SWH_OK)
            continue;
        swh_error_at(&err, r->path, line, column->place);
        swh_problems_add(problems, &err);
        column->target = column->twin =
            -1; /* its cells are not read; of_target goes on to say that it is there */
    }
}
