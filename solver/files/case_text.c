#include "solver/files/case_text.h"

#include "solver/files/number.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- growing text ---- */

struct text {
    char *at;
    size_t used, room;
    bool failed;
    const char *refrigerant; /* name of the fluid file, where the case has one */
};

static void add(struct text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void add(struct text *t, const char *format, ...)
{
    char piece[512];
    va_list rest;
    va_start(rest, format);
    const int n = vsnprintf(piece, sizeof piece, format, rest);
    va_end(rest);
    const size_t length = n < 0 ? 0 : (size_t)n < sizeof piece ? (size_t)n : sizeof piece - 1;
    if (t->used + length + 1 > t->room) {
        const size_t room = 2 * t->room + length + 16384;
        char *bigger = t->failed ? NULL : realloc(t->at, room);
        t->failed |= !bigger;
        if (!bigger)
            return;
        t->at = bigger;
        t->room = room;
    }
    memcpy(t->at + t->used, piece, length + 1);
    t->used += length;
}

static char *finish(struct text *t, struct swh_error *err)
{
    if (!t->failed)
        return t->at;
    free(t->at);
    swh_error_set(err, SWH_ERR_MEMORY, "no memory for the text of a case");
    return NULL;
}

/* The shortest text that is read as the same number, whatever the locale's decimal sign. */
static const char *exact(double x, char out[32])
{
    for (int digits = 15; digits <= 17; digits++) {
        double again = NAN;
        const int n = snprintf(out, 32, "%.*g", digits, x);
        char *comma = strchr(out, ',');
        if (comma)
            *comma = '.';
        if (swh_number_read(out, out + n, '.', &again) && again == x)
            break;
    }
    return out;
}

static void add_number(struct text *t, double x, enum swh_quantity q)
{
    char number[32];
    add(t, "%s%s%s", exact(x, number), q == SWH_Q_NONE ? "" : " ",
        q == SWH_Q_NONE ? "" : swh_quantities[q].si);
}

/* ---- sections ---- */

static void add_choices(struct text *t, const struct swh_scenario *s, const char *section)
{
    for (int i = 0; i < SWH_CHOICE_COUNT; i++) {
        char word[64];
        if (strcmp(swh_choice_table[i].section, section) != 0)
            continue;
        swh_choice_word(i, swh_choice_get(&s->c.choices, i), word, sizeof word);
        add(t, "%s = %s\n", swh_choice_table[i].key,
            i == SWH_C_vehicle_refrigerant && s->refrigerant ? t->refrigerant : word);
    }
}

static void add_param(struct text *t, const struct swh_scenario *s, int i)
{
    const struct swh_param_info *info = &swh_param_table[i];
    const double x = swh_param_get(&s->c.params, i), spread = swh_param_get(&s->c.spread, i);
    add(t, "%s =%s", info->key, isnan(x) && !(spread > 0) ? "" : " ");
    if (!isnan(x))
        add_number(t, x, info->quantity);
    if (spread > 0) {
        add(t, " +- ");
        add_number(t, spread, info->quantity);
    }
    add(t, "\n");
}

static bool has_params(const char *section)
{
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        if (strcmp(swh_param_table[i].section, section) == 0)
            return true;
    return false;
}

/* A section's parameters may stand in several places of the table: each section is written where it comes
 * first. */
static bool comes_first(int param)
{
    for (int i = 0; i < param; i++)
        if (strcmp(swh_param_table[i].section, swh_param_table[param].section) == 0)
            return false;
    return true;
}

static void add_params(struct text *t, const struct swh_scenario *s)
{
    for (int i = 0; i < SWH_CHOICE_COUNT; i++) /* sections of words alone */
        if (!has_params(swh_choice_table[i].section) &&
            (i == 0 || strcmp(swh_choice_table[i - 1].section, swh_choice_table[i].section) != 0)) {
            add(t, "\n[%s]\n", swh_choice_table[i].section);
            add_choices(t, s, swh_choice_table[i].section);
        }
    for (int i = 0; i < SWH_PARAM_COUNT; i++) {
        if (!comes_first(i))
            continue;
        add(t, "\n[%s]\n", swh_param_table[i].section);
        add_choices(t, s, swh_param_table[i].section);
        for (int k = i; k < SWH_PARAM_COUNT; k++)
            if (strcmp(swh_param_table[k].section, swh_param_table[i].section) == 0)
                add_param(t, s, k);
    }
}

static void add_correlations(struct text *t, const struct swh_joint *j)
{
    char number[32];
    if (j->n > 0)
        add(t, "\n[correlation]\n");
    for (int i = 0; i < j->n; i++)
        for (int k = 0; k < i; k++)
            add(t, "%s with %s = %s\n", swh_param_table[j->param[i]].name, swh_param_table[j->param[k]].name,
                exact(j->r[i][k], number));
}

static void add_conditions(struct text *t, const struct swh_scenario *s)
{
    struct swh_inputs in = s->c.conditions;
    add(t, "\n[conditions]\n");
    for (int i = 0; i < SWH_INPUT_COUNT; i++) {
        const double x = *swh_input_at(&in, i);
        add(t, "%s =%s", swh_input_table[i].id, isnan(x) ? "" : " ");
        if (!isnan(x))
            add_number(t, x, swh_input_table[i].quantity);
        add(t, "\n");
    }
}

static void add_time(struct text *t, const char *key, double x, double absent)
{
    if (x == absent)
        return;
    add(t, "%s = ", key);
    add_number(t, x, SWH_Q_TIME);
    add(t, "\n");
}

static void add_own_faults(struct text *t, const struct swh_case *c)
{
    for (int i = 0; i < c->n_own_faults; i++) {
        const struct swh_own_fault *f = &c->own_fault[i];
        add(t, "\n[own_fault %s]\nseverity = ", f->name);
        add_number(t, f->setting.severity, SWH_Q_NONE);
        add(t, "\n");
        add_time(t, "start", f->setting.start, -INFINITY);
        add_time(t, "ramp", f->setting.ramp, 0);
        add_time(t, "end", f->setting.end, INFINITY);
        for (int k = 0; k < f->n_keys; k++) {
            add(t, "%s = ", swh_param_table[f->param[k]].name);
            add_number(t, f->full[k], swh_param_table[f->param[k]].quantity);
            add(t, "\n");
        }
    }
}

static void add_faults(struct text *t, const struct swh_case *c)
{
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        const struct swh_fault_setting *f = &c->fault[i];
        if (!f->present)
            continue;
        add(t, "\n[fault %s]\nseverity = ", swh_fault_table[i].id);
        add_number(t, f->severity, SWH_Q_NONE);
        add(t, "\n");
        add_time(t, "start", f->start, -INFINITY);
        add_time(t, "ramp", f->ramp, 0);
        add_time(t, "end", f->end, INFINITY);
    }
}

/* what nobody gave, so that answers from this file go on saying so */
static void add_assumed(struct text *t, const struct swh_scenario *s)
{
    add(t, "\n# not given but assumed: the program's own values\n[assumed]\n");
    for (int i = 0; i < SWH_INPUT_COUNT; i++)
        if (s->conditions[i] == SWH_FROM_DEFAULT)
            add(t, "conditions.%s = yes\n", swh_input_table[i].id);
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        if (s->params[i] == SWH_FROM_DEFAULT && swh_param_get(&s->c.params, i) == swh_param_table[i].value)
            add(t, "%s = yes\n", swh_param_table[i].name);
}

/* A title in one line that no reader takes for a comment. */
static void add_title(struct text *t, const char *title)
{
    char clean[192];
    snprintf(clean, sizeof clean, "%.*s", (int)sizeof clean - 1, title);
    for (char *p = clean; *p; p++)
        if (*p == ';' || *p == '#' || *p == '\n')
            *p = ',';
    add(t, "[scenario]\ntitle = %s\n", clean);
}

char *swh_case_text(const struct swh_scenario *s, const char *schedule, const char *refrigerant,
                    struct swh_error *err)
{
    struct text t = {.refrigerant = refrigerant};
    add(&t, "# The case as it was computed, complete, in SI units: `swashheat run` on this file computes it "
            "again.\n\n");
    add_title(&t, s->c.name);
    if (s->c.schedule.rows > 0)
        add(&t, "schedule = %s\n", schedule);
    add_params(&t, s);
    add_correlations(&t, &s->c.joint);
    add_conditions(&t, s);
    add_faults(&t, &s->c);
    add_own_faults(&t, &s->c);
    add_assumed(&t, s);
    return finish(&t, err);
}

/* ---- schedule ---- */

char *swh_schedule_text(const struct swh_schedule *s, struct swh_error *err)
{
    struct text t = {0};
    char number[32];
    add(&t, "time[s]");
    for (int i = 0; i < SWH_INPUT_COUNT; i++) {
        const enum swh_quantity q = swh_input_table[i].quantity; /* a bare Pa is what a gauge shows */
        if (s->given[i])
            add(&t, ",%s[%s]", swh_input_table[i].id, q == SWH_Q_PRESSURE ? "Pa(a)" : swh_quantities[q].si);
    }
    for (int i = 0; i < s->n_params; i++) {
        const struct swh_param_info *p = &swh_param_table[s->param[i]];
        add(&t, ",%s[%s]", p->name, p->quantity == SWH_Q_PRESSURE ? "Pa(a)" : swh_quantities[p->quantity].si);
    }
    add(&t, "\n");
    for (size_t k = 0; k < s->rows; k++) {
        add(&t, "%s", exact(s->time[k], number));
        for (int i = 0; i < SWH_INPUT_COUNT; i++)
            if (s->given[i])
                add(&t, ",%s", exact(s->column[i][k], number));
        for (int i = 0; i < s->n_params; i++)
            add(&t, ",%s", exact(s->param_column[i][k], number));
        add(&t, "\n");
    }
    return finish(&t, err);
}
