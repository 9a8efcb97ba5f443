#include "solver/files/csv_mapping.h"

#include "solver/files/csv_names.h"
#include "solver/files/ini.h"
#include "solver/files/suggest.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

void swh_copy_trimmed(char *out, size_t size, const char *s, size_t n)
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

int swh_target_called(const struct swh_head_request *r, const char *name)
{
    for (int i = 0; i < r->target_count; i++)
        if (strcmp(r->target[i].id, name) == 0)
            return i;
    return -1;
}

const struct swh_mapped *swh_mapped_as(const struct swh_mapping *m, const char *header)
{
    char a[96], b[96];
    swh_plain_words(header, a, sizeof a);
    for (int i = 0; i < m->count; i++) {
        swh_plain_words(m->item[i].header, b, sizeof b);
        if (strcmp(m->item[i].header, header) == 0 || (a[0] != '\0' && strcmp(a, b) == 0))
            return &m->item[i];
    }
    return NULL;
}

/* ---- reading ---- */

struct reading {
    struct swh_mapping *m;
    struct swh_problems *problems;
};

static void map_problem(const struct reading *r, const struct swh_ini_entry *e, long column,
                        struct swh_error *err)
{
    swh_error_at(err, e->file, e->line, column);
    swh_problems_add(r->problems, err);
}

static void unknown_target(const struct reading *r, const struct swh_ini_entry *e)
{
    struct swh_error err = {0};
    struct swh_nearest near = {e->key, NULL, 0};
    for (int i = 0; i < r->m->request->target_count; i++)
        swh_nearest_offer(&near, r->m->request->target[i].id);
    swh_error_set(&err, SWH_ERR_INPUT, "unknown channel '%s'", e->key);
    swh_error_expected(&err, "a known channel%s", swh_nearest_said(&near).text);
    map_problem(r, e, e->column, &err);
}

static bool room_for_one(struct swh_mapping *m)
{
    if (m->count < m->room)
        return true;
    const int room = m->room ? 2 * m->room : 32;
    struct swh_mapped *bigger = realloc(m->item, (size_t)room * sizeof *bigger);
    if (!bigger)
        return false;
    m->item = bigger;
    m->room = room;
    return true;
}

static void take_mapped(const struct swh_ini_entry *e, void *user)
{
    struct reading *r = user;
    struct swh_error err = {0};
    if (strcmp(e->section, "columns") != 0) {
        swh_error_set(&err, SWH_ERR_INPUT, "unknown section [%s]", e->section);
        swh_error_expected(&err, "[columns]");
        map_problem(r, e, e->column, &err);
        return;
    }
    if (!e->key)
        return;
    const bool engine = strcmp(e->key, "engine_speed") == 0;
    const int target = swh_target_called(r->m->request, engine ? "compressor_speed" : e->key);
    if (target < 0) {
        unknown_target(r, e);
        return;
    }
    if (!room_for_one(r->m)) {
        swh_error_set(&err, SWH_ERR_MEMORY, "no memory for a file of columns");
        map_problem(r, e, e->column, &err);
        return;
    }
    struct swh_mapped *item = &r->m->item[r->m->count++];
    const char *comma = strrchr(e->value, ',');
    item->target = target;
    item->engine = engine;
    item->line = e->line;
    item->column = e->value_column;
    swh_copy_trimmed(item->header, sizeof item->header, e->value,
                     comma ? (size_t)(comma - e->value) : strlen(e->value));
    swh_copy_trimmed(item->unit, sizeof item->unit, comma ? comma + 1 : "", comma ? strlen(comma + 1) : 0);
}

struct swh_mapping *swh_mapping_read(const struct swh_head_request *request, struct swh_problems *problems)
{
    struct swh_mapping *m = calloc(1, sizeof *m);
    if (!m)
        return NULL;
    m->request = request;
    struct reading r = {m, problems};
    if (request->map)
        swh_ini_read(request->map, take_mapped, &r, problems);
    return m;
}

void swh_mapping_free(struct swh_mapping *m)
{
    if (!m)
        return;
    free(m->item);
    free(m);
}
