#include "solver/files/settings.h"

#include "solver/files/ini.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct reading {
    struct swh_settings *list;
    size_t first; /* of this file */
    enum swh_origin origin;
    struct swh_problems *problems;
};

void swh_settings_free(struct swh_settings *s)
{
    free(s->item);
    *s = (struct swh_settings){0};
}

static void note(struct swh_problems *problems, enum swh_status status, const char *what)
{
    struct swh_error err = {0};
    swh_error_set(&err, status, "%s", what);
    swh_problems_add(problems, &err);
}

static struct swh_setting *append(struct swh_settings *s, struct swh_problems *problems)
{
    if (s->count == s->room) {
        const size_t room = s->room ? 2 * s->room : 64;
        struct swh_setting *bigger = realloc(s->item, room * sizeof *bigger);
        if (!bigger) {
            note(problems, SWH_ERR_MEMORY, "no memory for the settings");
            return NULL;
        }
        s->item = bigger;
        s->room = room;
    }
    struct swh_setting *item = &s->item[s->count++];
    memset(item, 0, sizeof *item);
    return item;
}

void swh_setting_problem(const struct swh_setting *s, bool in_value, struct swh_error *err,
                         struct swh_problems *problems)
{
    swh_error_at(err, s->where, s->line, in_value ? s->value_column : s->column);
    if (s->origin == SWH_FROM_SET && err->status == SWH_ERR_INPUT)
        err->status = SWH_ERR_USAGE;
    swh_problems_add(problems, err);
    swh_error_clear(err);
}

static void check_twice(const struct reading *r, const struct swh_setting *s)
{
    for (size_t i = r->first; i + 1 < r->list->count; i++) {
        const struct swh_setting *t = &r->list->item[i];
        if (s->key[0] == '\0' || strcmp(s->section, t->section) != 0 || strcmp(s->key, t->key) != 0)
            continue;
        struct swh_error err = {0};
        swh_error_set(&err, SWH_ERR_INPUT, "'%s' is set a second time", s->key);
        swh_error_expected(&err, "once; line %ld has it", t->line);
        swh_setting_problem(s, false, &err, r->problems);
        return;
    }
}

static void take(const struct swh_ini_entry *e, void *user)
{
    const struct reading *r = user;
    struct swh_setting *s = append(r->list, r->problems);
    if (!s)
        return;
    s->origin = r->origin;
    snprintf(s->where, sizeof s->where, "%s", e->file);
    snprintf(s->section, sizeof s->section, "%s", e->section);
    snprintf(s->key, sizeof s->key, "%s", e->key ? e->key : "");
    snprintf(s->value, sizeof s->value, "%s", e->value ? e->value : "");
    s->line = e->line;
    s->column = e->column;
    s->value_column = e->value_column;
    check_twice(r, s);
}

void swh_settings_read(struct swh_settings *s, const char *path, enum swh_origin origin,
                       struct swh_problems *problems)
{
    struct reading r = {s, s->count, origin, problems};
    swh_ini_read(path, take, &r, problems);
}

/* "fault.undercharge" stands for the section "fault undercharge", "own_fault.NAME" for "own_fault NAME" */
static void name_section(char *section)
{
    if (strncmp(section, "own_fault.", 10) == 0)
        section[9] = ' ';
    if (strncmp(section, "fault.", 6) == 0)
        section[5] = ' ';
}

void swh_settings_add_option(struct swh_settings *s, const char *text, struct swh_problems *problems)
{
    const char *equals = strchr(text, '=');
    const char *dot = NULL;
    for (const char *p = text; equals && p < equals; p++)
        if (*p == '.')
            dot = p;
    struct swh_setting *item = append(s, problems);
    if (!item)
        return;
    item->origin = SWH_FROM_SET;
    snprintf(item->where, sizeof item->where, "--set %s", text);
    if (!dot) {
        struct swh_error err = {0};
        swh_error_set(&err, SWH_ERR_USAGE, "cannot be read");
        swh_error_expected(&err, "section.key=value, for example charge.fraction=0.4");
        swh_setting_problem(item, false, &err, problems);
        s->count--;
        return;
    }
    snprintf(item->section, sizeof item->section, "%.*s", (int)(dot - text), text);
    snprintf(item->key, sizeof item->key, "%.*s", (int)(equals - dot - 1), dot + 1);
    snprintf(item->value, sizeof item->value, "%s", equals + 1 + strspn(equals + 1, " \t"));
    name_section(item->section);
}

const struct swh_setting *swh_settings_find(const struct swh_settings *s, const char *section,
                                            const char *key)
{
    const struct swh_setting *best = NULL;
    for (size_t i = 0; i < s->count; i++) {
        const struct swh_setting *t = &s->item[i];
        if (strcmp(t->section, section) == 0 && strcmp(t->key, key) == 0 &&
            (!best || t->origin >= best->origin))
            best = t;
    }
    return best;
}
