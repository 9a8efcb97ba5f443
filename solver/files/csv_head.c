#include "solver/files/csv_head.h"

#include "solver/files/ini.h"
#include "solver/files/suggest.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct spelling {
    const char *words;
    enum swh_channel channel;
    const char *unit;
} spellings[] = {
#define HEADER(words, channel, unit) {words, SWH_CH_##channel, unit},
#include "solver/files/headers.def"
#undef HEADER
};

/* one line of a MAP.ini: the user's word for a column */
struct mapped {
    char header[96], unit[32];
    int target;
    long line, column;
};

struct mapping {
    const struct swh_head_request *request;
    struct swh_problems *problems;
    struct mapped *item;
    int count, room;
};

/* ---- words of a header ---- */

static void copy_trimmed(char *out, size_t size, const char *s, size_t n)
{
    while (n > 0 && isspace((unsigned char)s[0])) {
        s++;
        n--;
    }
    while (n > 0 && isspace((unsigned char)s[n - 1]))
        n--;
    if (n >= size)
        n = size - 1;
    memcpy(out, s, n);
    out[n] = '\0';
}

/* lower case; everything else than letters and digits becomes one space */
static void plain_words(const char *s, char *out, size_t size)
{
    size_t n = 0;
    for (; *s && n + 2 < size; s++) {
        const unsigned char c = (unsigned char)*s;
        if (c < 128 && isalnum(c))
            out[n++] = (char)tolower(c);
        else if (n > 0 && out[n - 1] != ' ' && c < 128)
            out[n++] = ' ';
    }
    while (n > 0 && out[n - 1] == ' ')
        n--;
    out[n] = '\0';
}

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
    copy_trimmed(name, name_size, header, open ? (size_t)(open - header) : n);
    copy_trimmed(unit, unit_size, open ? open + 1 : "", open ? (size_t)(header + n - 1 - (open + 1)) : 0);
}

/* ---- finding the target ---- */

static int target_called(const struct swh_head_request *r, const char *name)
{
    for (int i = 0; i < r->target_count; i++)
        if (strcmp(r->target[i].id, name) == 0)
            return i;
    return -1;
}

static const struct spelling *spelling_of(const char *words)
{
    for (size_t i = 0; i < sizeof spellings / sizeof spellings[0]; i++)
        if (strcmp(spellings[i].words, words) == 0)
            return &spellings[i];
    return NULL;
}

static void set_foreign(const struct swh_head_request *r, struct swh_column *c, const struct spelling *s)
{
    c->target = target_called(r, swh_channel_table[s->channel].id);
    c->foreign = true;
    if (c->unit_text[0] == '\0')
        snprintf(c->unit_text, sizeof c->unit_text, "%s", s->unit);
}

/* "Suction temp C": the last word may be the unit */
static void try_last_word(const struct swh_head_request *r, struct swh_column *c, const char *name)
{
    char words[96];
    const char *space = strrchr(name, ' ');
    if (!space || c->unit_text[0] != '\0')
        return;
    char first[96];
    copy_trimmed(first, sizeof first, name, (size_t)(space - name));
    plain_words(first, words, sizeof words);
    const struct spelling *s = spelling_of(words);
    if (!s)
        return;
    snprintf(c->unit_text, sizeof c->unit_text, "%.31s", space + 1);
    set_foreign(r, c, s);
}

static const struct mapped *mapped_as(const struct mapping *m, const char *header)
{
    char a[96], b[96];
    plain_words(header, a, sizeof a);
    for (int i = 0; i < m->count; i++) {
        plain_words(m->item[i].header, b, sizeof b);
        if (strcmp(m->item[i].header, header) == 0 || (a[0] != '\0' && strcmp(a, b) == 0))
            return &m->item[i];
    }
    return NULL;
}

static void find_target(const struct mapping *m, struct swh_column *c, const char *header)
{
    const struct swh_head_request *r = m->request;
    char name[96], words[96];
    split_header(header, name, sizeof name, c->unit_text, sizeof c->unit_text);
    const struct mapped *mapped = mapped_as(m, header);
    if (!mapped)
        mapped = mapped_as(m, name);
    if (mapped) {
        c->target = mapped->target;
        c->foreign = true;
        if (mapped->unit[0] != '\0')
            snprintf(c->unit_text, sizeof c->unit_text, "%s", mapped->unit);
        return;
    }
    c->target = target_called(r, name);
    if (c->target >= 0 || !r->readings)
        return;
    plain_words(name, words, sizeof words);
    const struct spelling *s = spelling_of(words);
    if (s)
        set_foreign(r, c, s);
    else
        try_last_word(r, c, name);
}

/* ---- units ---- */

static bool is_clock(const char *unit)
{
    return strncmp(unit, "hh:mm", 5) == 0 || strncmp(unit, "h:mm", 4) == 0;
}

static void find_unit(const struct swh_head_request *r, struct swh_column *c, struct swh_error *err)
{
    const struct swh_target *t = &r->target[c->target];
    c->unit = (struct swh_unit){1.0, 0.0, false, false};
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
    if (swh_unit_find(r->units, c->unit_text, t->quantity, &c->unit, err) != SWH_OK)
        return;
    if (c->foreign && t->quantity == SWH_Q_PRESSURE && !c->unit.gauge && !c->unit.absolute)
        c->unit.gauge = c->taken_as_gauge = true;
}

/* ---- MAP.ini ---- */

static void map_problem(const struct mapping *m, const struct swh_ini_entry *e, long column,
                        struct swh_error *err)
{
    swh_error_at(err, e->file, e->line, column);
    swh_problems_add(m->problems, err);
}

static void unknown_target(const struct mapping *m, const struct swh_ini_entry *e)
{
    struct swh_error err = {0};
    struct swh_nearest near = {e->key, NULL, 0};
    for (int i = 0; i < m->request->target_count; i++)
        swh_nearest_offer(&near, m->request->target[i].id);
    swh_error_set(&err, SWH_ERR_INPUT, "unknown channel '%s'", e->key);
    swh_error_expected(&err, "a known channel; the nearest is '%s'", near.best);
    map_problem(m, e, e->column, &err);
}

static bool room_for_one(struct mapping *m)
{
    if (m->count < m->room)
        return true;
    const int room = m->room ? 2 * m->room : 32;
    struct mapped *bigger = realloc(m->item, (size_t)room * sizeof *bigger);
    if (!bigger)
        return false;
    m->item = bigger;
    m->room = room;
    return true;
}

static void take_mapped(const struct swh_ini_entry *e, void *user)
{
    struct mapping *m = user;
    struct swh_error err = {0};
    if (strcmp(e->section, "columns") != 0) {
        swh_error_set(&err, SWH_ERR_INPUT, "unknown section [%s]", e->section);
        swh_error_expected(&err, "[columns]");
        map_problem(m, e, e->column, &err);
        return;
    }
    if (!e->key)
        return;
    const int target = target_called(m->request, e->key);
    if (target < 0) {
        unknown_target(m, e);
        return;
    }
    if (!room_for_one(m))
        return;
    struct mapped *item = &m->item[m->count++];
    const char *comma = strrchr(e->value, ',');
    item->target = target;
    item->line = e->line;
    item->column = e->value_column;
    copy_trimmed(item->header, sizeof item->header, e->value,
                 comma ? (size_t)(comma - e->value) : strlen(e->value));
    copy_trimmed(item->unit, sizeof item->unit, comma ? comma + 1 : "", comma ? strlen(comma + 1) : 0);
}

/* every header that MAP.ini names must be there */
static void check_used(const struct mapping *m, const struct swh_columns *out)
{
    for (int i = 0; i < m->count; i++) {
        const struct mapped *item = &m->item[i];
        if (out->of_target[item->target] >= 0)
            continue;
        struct swh_error err = {0};
        swh_error_set(&err, SWH_ERR_INPUT, "no column '%s' in %s", item->header, m->request->path);
        swh_error_expected(&err, "one of the log's own headers");
        swh_error_at(&err, m->request->map, item->line, item->column);
        swh_problems_add(m->problems, &err);
    }
}

/* ---- the whole line ---- */

static void map_one(const struct mapping *m, const struct swh_cell *cell, struct swh_columns *out, int i,
                    struct swh_error *err)
{
    struct swh_column *c = &out->column[i];
    char header[96];
    memset(c, 0, sizeof *c);
    c->target = -1;
    copy_trimmed(header, sizeof header, cell->text, cell->length);
    snprintf(c->header, sizeof c->header, "%.63s", header);
    if (header[0] == '\0')
        return;
    find_target(m, c, header);
    if (c->target < 0)
        return;
    if (out->of_target[c->target] >= 0) {
        swh_error_set(err, SWH_ERR_INPUT, "a second column for %s: '%s'", m->request->target[c->target].id,
                      c->header);
        swh_error_expected(err, "one; '%s' is it already", out->column[out->of_target[c->target]].header);
        return;
    }
    out->of_target[c->target] = i;
    find_unit(m->request, c, err);
}

void swh_head_map(const struct swh_head_request *request, const struct swh_csv *csv,
                  const struct swh_csv_row *row, struct swh_columns *out, struct swh_problems *problems)
{
    struct mapping m = {request, problems, NULL, 0, 0};
    if (request->map)
        swh_ini_read(request->map, take_mapped, &m, problems);
    for (int i = 0; i < SWH_TARGETS_MAX; i++)
        out->of_target[i] = -1;
    out->count = row->count;
    for (int i = 0; i < row->count; i++) {
        struct swh_error err = {0};
        map_one(&m, &row->cell[i], out, i, &err);
        swh_error_at(&err, request->path, row->line, swh_csv_column(csv, i));
        swh_problems_add(problems, &err);
    }
    check_used(&m, out);
    free(m.item);
}
