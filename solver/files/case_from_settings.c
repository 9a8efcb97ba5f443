#include "solver/files/case_from_settings.h"

#include "solver/files/number.h"
#include "solver/files/suggest.h"
#include "solver/files/trade_words.h"
#include "solver/simulate/moving_params.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const scenario_keys[] = {"title", "vehicle", "schedule"};
static const char *const fault_keys[] = {"severity", "start", "ramp", "end"};

#define COUNT(a) ((int)(sizeof(a) / sizeof(a)[0]))

static bool is(const char *a, const char *b)
{
    return strcmp(a, b) == 0;
}

static void wrong(const struct swh_apply *a, const struct swh_setting *s, bool in_value,
                  struct swh_error *err)
{
    swh_setting_problem(s, in_value, err, a->problems);
}

/* ---- unknown names ---- */

static void offer_keys_of(struct swh_nearest *n, const char *section)
{
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        if (is(swh_param_table[i].section, section))
            swh_nearest_offer(n, swh_param_table[i].key);
    for (int i = 0; i < SWH_CHOICE_COUNT; i++)
        if (is(swh_choice_table[i].section, section))
            swh_nearest_offer(n, swh_choice_table[i].key);
    for (int i = 0; i < SWH_INPUT_COUNT && is(section, "conditions"); i++)
        swh_nearest_offer(n, swh_input_table[i].id);
    for (int i = 0; i < COUNT(scenario_keys) && is(section, "scenario"); i++)
        swh_nearest_offer(n, scenario_keys[i]);
    for (int i = 0; i < COUNT(fault_keys) && strncmp(section, "fault ", 6) == 0; i++)
        swh_nearest_offer(n, fault_keys[i]);
    if (is(section, "oil"))
        swh_nearest_offer(n, "grade");
    if (is(section, "compressor"))
        swh_nearest_offer(n, "model");
}

/* the section of a key that was written into the wrong one; NULL if none has it */
static const char *other_section(const char *key)
{
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        if (is(swh_param_table[i].key, key))
            return swh_param_table[i].section;
    for (int i = 0; i < SWH_CHOICE_COUNT; i++)
        if (is(swh_choice_table[i].key, key))
            return swh_choice_table[i].section;
    return swh_input_find(key) >= 0 ? "conditions" : NULL;
}

static void unknown_key(const struct swh_apply *a, const struct swh_setting *s)
{
    struct swh_error err = {0};
    struct swh_nearest near = {s->key, NULL, 0};
    offer_keys_of(&near, s->section);
    const char *elsewhere = other_section(s->key);
    swh_error_set(&err, SWH_ERR_INPUT, "unknown key '%s' in [%s]", s->key, s->section);
    if (elsewhere && near.distance > 2 && !swh_nearest_is_near(&near))
        swh_error_expected(&err, "'%s' belongs to [%s]", s->key, elsewhere);
    else if (near.best)
        swh_error_expected(&err, "a known key%s", swh_nearest_said(&near).text);
    wrong(a, s, false, &err);
}

static bool is_section(const char *section)
{
    bool found = is("scenario", section) || is("conditions", section) || is("assumed", section) ||
                 is("correlation", section);
    for (int i = 0; i < SWH_PARAM_COUNT && !found; i++)
        found = is(swh_param_table[i].section, section);
    for (int i = 0; i < SWH_CHOICE_COUNT && !found; i++)
        found = is(swh_choice_table[i].section, section);
    return found;
}

static void offer_sections(struct swh_nearest *near)
{
    swh_nearest_offer(near, "scenario");
    swh_nearest_offer(near, "conditions");
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        swh_nearest_offer(near, swh_param_table[i].section);
    for (int i = 0; i < SWH_CHOICE_COUNT; i++)
        swh_nearest_offer(near, swh_choice_table[i].section);
}

static bool check_section(const struct swh_apply *a, const struct swh_setting *s)
{
    struct swh_error err = {0};
    struct swh_nearest near = {s->section, NULL, 0};
    if (s->section[0] == '\0') {
        swh_error_set(&err, SWH_ERR_INPUT, "'%s' stands before the first section", s->key);
        swh_error_expected(&err, "a section's head above it, for example [conditions]");
        wrong(a, s, false, &err);
        return false;
    }
    if (is_section(s->section))
        return true;
    offer_sections(&near);
    swh_nearest_offer(&near, "fault NAME");
    if (s->key[0] == '\0' || s->origin == SWH_FROM_SET) {
        swh_error_set(&err, SWH_ERR_INPUT, "unknown section [%s]", s->section);
        swh_error_expected(
            &err, "a known section%s%s%s", swh_nearest_is_near(&near) ? "; the nearest is [" : "",
            swh_nearest_is_near(&near) ? near.best : "", swh_nearest_is_near(&near) ? "]" : "");
        wrong(a, s, false, &err);
    }
    return false;
}

/* ---- values ---- */

/* Text of a value in the unit of its table row */
static const char *value_text(const struct swh_apply *a, double si, enum swh_quantity q, const char *word,
                              char *out, size_t size)
{
    struct swh_unit unit = {1, 0, false, false};
    swh_unit_find(a->units, word, q, &unit, NULL);
    snprintf(out, size, "%.6g%s%s", swh_unit_from_si(&unit, si, SWH_STANDARD_ATMOSPHERE),
             q == SWH_Q_NONE ? "" : " ", q == SWH_Q_NONE ? "" : word);
    return out;
}

struct limits {
    enum swh_quantity quantity;
    const char *unit;
    double lo, hi;
    bool absolute;  /* a pressure that no gauge shows */
    double density; /* kg/m3 of what a mass may also be given by volume of; 0: by mass only */
};

/* Is it the limit, as `list parameters` prints it? "58.987 barg" is a quarter of a millibar above 60 bar. */
static bool is_shown(const struct swh_apply *a, const struct limits *lim, double x, double limit)
{
    char one[32], two[32];
    struct swh_unit unit = {1, 0, false, false};
    if (!isfinite(x) || swh_unit_find(a->units, lim->unit, lim->quantity, &unit, NULL) != SWH_OK)
        return false;
    snprintf(one, sizeof one, "%.5g", swh_unit_from_si(&unit, x, SWH_STANDARD_ATMOSPHERE));
    snprintf(two, sizeof two, "%.5g", swh_unit_from_si(&unit, limit, SWH_STANDARD_ATMOSPHERE));
    return strcmp(one, two) == 0;
}

/* also where rounding alone put it outside: then *x becomes the limit */
static bool inside(const struct swh_apply *a, const struct limits *lim, double *x)
{
    const double slack =
        1e-9 * (fabs(lim->lo) + fabs(lim->hi)); /* "14 um" need not be 14e-6 to the last bit */
    if (*x >= lim->lo - slack && *x <= lim->hi + slack)
        return true;
    const double limit = *x < lim->lo ? lim->lo : lim->hi;
    if (!is_shown(a, lim, *x, limit))
        return false;
    *x = limit;
    return true;
}

/* a mass by volume: oil is measured in cm3, ml or fluid ounces */
static bool read_volume(const struct swh_apply *a, const char *text, const struct limits *lim, double *x)
{
    struct swh_error err = {0};
    if (!(lim->density > 0) || swh_units_read(a->units, text, SWH_Q_VOLUME, x, &err) != SWH_OK)
        return false;
    *x *= lim->density;
    return true;
}

/* reads `text` as a quantity within limits; false after noting a problem */
static bool read_value(const struct swh_apply *a, const struct swh_setting *s, const char *text,
                       const struct limits *lim, double *x)
{
    struct swh_error err = {0};
    char lo[64], hi[64];
    bool gauge = false;
    enum swh_status status = SWH_OK;
    if (!read_volume(a, text, lim, x))
        status = lim->absolute ? swh_units_read(a->units, text, lim->quantity, x, &err)
                               : swh_units_read_gauge(a->units, text, lim->quantity, &gauge, x, &err);
    if (gauge)
        swh_note(&a->scenario->notes, "%s.%s = %s counts above the air outside (gauge)", s->section, s->key,
                 text);
    if (status == SWH_OK && !inside(a, lim, x)) {
        swh_error_set(&err, SWH_ERR_INPUT, "%s = %s is out of range", s->key, text);
        swh_error_expected(&err, "%s to %s", value_text(a, lim->lo, lim->quantity, lim->unit, lo, sizeof lo),
                           value_text(a, lim->hi, lim->quantity, lim->unit, hi, sizeof hi));
    }
    if (err.status == SWH_OK)
        return true;
    wrong(a, s, true, &err);
    return false;
}

static void trim_end(char *s)
{
    size_t n = strlen(s);
    while (n > 0 && isspace((unsigned char)s[n - 1]))
        s[--n] = '\0';
}

/* splits "12 um +- 2 um"; returns the spread's text, NULL if there is none */
static const char *split_spread(char *text)
{
    static const char *const marks[] = {"+-", "+/-", "\xC2\xB1"};
    for (int i = 0; i < COUNT(marks); i++) {
        char *at = strstr(text, marks[i]);
        if (!at)
            continue;
        *at = '\0';
        trim_end(text);
        at += strlen(marks[i]);
        return at + strspn(at, " \t");
    }
    return NULL;
}

static void apply_param(const struct swh_apply *a, const struct swh_setting *s, int param)
{
    const struct swh_param_info *info = &swh_param_table[param];
    const bool oil = is(info->section, "oil") && info->quantity == SWH_Q_MASS;
    struct limits lim = {info->quantity, info->unit, info->lo,
                         info->hi,       false,      oil ? a->scenario->c.params.oil_density : 0};
    double value = NAN, spread = 0;
    char text[sizeof s->value];
    snprintf(text, sizeof text, "%s", s->value);
    const char *spread_text = split_spread(text);
    const bool blank = text[0] == '\0' && isnan(info->value);
    if (!blank && !read_value(a, s, text, &lim, &value))
        return;
    lim.quantity = swh_units_difference(info->quantity);
    lim.unit = swh_quantities[lim.quantity].show_si;
    lim.lo = 0;
    if (spread_text && !read_value(a, s, spread_text, &lim, &spread))
        return;
    swh_param_set(&a->scenario->c.params, param, value);
    swh_param_set(&a->scenario->c.spread, param, spread);
    a->scenario->params[param] = s->origin;
}

/* the option that a word stands for, in the table's words or the trade's; -1 if it is none */
static int option_of(int choice, const char *word)
{
    char option[32];
    const char *meant = swh_trade_word(swh_choice_table[choice].name, word);
    for (int i = 0; swh_choice_word(choice, i, option, sizeof option) == 0; i++)
        if (swh_same_word(option, meant ? meant : word))
            return i;
    return -1;
}

/* The refrigerant of a fluid file; NULL: one of the program's own. */
static void take_refrigerant(const struct swh_apply *a, struct swh_own_refrigerant *r)
{
    swh_own_refrigerant_leave(a->scenario->refrigerant);
    a->scenario->refrigerant = r;
    a->scenario->c.own_refrigerant = r ? r->tables : NULL;
    if (r && r->remark[0])
        swh_note(&a->scenario->notes, "%s", r->remark);
}

static void apply_fluid_file(const struct swh_apply *a, const struct swh_setting *s)
{
    struct swh_error err = {0};
    char path[512];
    if (s->origin == SWH_FROM_SET)
        snprintf(path, sizeof path, "%s", s->value);
    else
        swh_path_relative_to(s->where, s->value, path, sizeof path);
    struct swh_own_refrigerant *r = swh_own_refrigerant_read(path, &err);
    if (r)
        take_refrigerant(a, r);
    else
        swh_problems_add(a->problems, &err);
}

static void apply_choice(const struct swh_apply *a, const struct swh_setting *s, int choice)
{
    struct swh_error err = {0};
    if (choice == SWH_C_vehicle_refrigerant && swh_refrigerant_names_file(s->value)) {
        apply_fluid_file(a, s);
        return;
    }
    const int option = option_of(choice, s->value);
    if (option >= 0 && choice == SWH_C_vehicle_refrigerant)
        take_refrigerant(a, NULL);
    if (option >= 0) {
        swh_choice_set(&a->scenario->c.choices, choice, option);
        return;
    }
    struct swh_nearest near = {s->value, NULL, 0};
    static _Thread_local char words[16][32];
    for (int i = 0; i < 16 && swh_choice_word(choice, i, words[i], sizeof words[i]) == 0; i++)
        swh_nearest_offer(&near, words[i]);
    swh_error_set(&err, SWH_ERR_INPUT, "unknown word '%s' for %s", s->value, s->key);
    swh_error_expected(&err, "one of %s%s", swh_choice_table[choice].options, swh_nearest_said(&near).text);
    wrong(a, s, true, &err);
}

static void apply_condition(const struct swh_apply *a, const struct swh_setting *s)
{
    const int i = swh_input_find(s->key);
    if (i < 0) {
        unknown_key(a, s);
        return;
    }
    const struct swh_input_info *info = &swh_input_table[i];
    const char *unit = i == SWH_IN_ambient_pressure ? "bar" : swh_quantities[info->quantity].show_si;
    const struct limits lim = {info->quantity, unit, info->lo, info->hi, i == SWH_IN_ambient_pressure, 0};
    double value = NAN;
    const bool blank = s->value[0] == '\0' && isnan(info->value);
    if (!blank && !read_value(a, s, s->value, &lim, &value))
        return;
    *swh_input_at(&a->scenario->c.conditions, i) = value;
    a->scenario->conditions[i] = s->origin;
}

/* ---- sections ---- */

/* severity, start, ramp or end of a fault; false if it is none of these */
static bool set_when(const struct swh_apply *a, const struct swh_setting *s, struct swh_fault_setting *fault)
{
    static const struct limits severity = {SWH_Q_NONE, "1", 0, 1, false, 0},
                               when = {SWH_Q_TIME, "s", -1e9, 1e9, false, 0},
                               how_long = {SWH_Q_TIME, "s", 0, 1e9, false, 0};
    if (is(s->key, "severity"))
        read_value(a, s, s->value, &severity, &fault->severity);
    else if (is(s->key, "start"))
        read_value(a, s, s->value, &when, &fault->start);
    else if (is(s->key, "ramp"))
        read_value(a, s, s->value, &how_long, &fault->ramp);
    else if (is(s->key, "end"))
        read_value(a, s, s->value, &when, &fault->end);
    else
        return false;
    return true;
}

static void apply_fault(const struct swh_apply *a, const struct swh_setting *s)
{
    struct swh_error err = {0};
    const char *name = s->section + 6;
    const int f = swh_fault_find(name);
    if (f < 0) {
        struct swh_nearest near = {name, NULL, 0};
        for (int i = 0; i < SWH_FAULT_COUNT; i++)
            swh_nearest_offer(&near, swh_fault_table[i].id);
        if (s->key[0] != '\0' && s->origin != SWH_FROM_SET)
            return; /* said at the section's head */
        swh_error_set(&err, SWH_ERR_INPUT, "unknown fault '%s'", name);
        swh_error_expected(&err, "a fault of `swashheat list faults`%s", swh_nearest_said(&near).text);
        wrong(a, s, false, &err);
        return;
    }
    struct swh_fault_setting *fault = &a->scenario->c.fault[f];
    if (!fault->present)
        *fault = (struct swh_fault_setting){true, 0, -INFINITY, 0, INFINITY};
    if (s->key[0] != '\0' && !set_when(a, s, fault))
        unknown_key(a, s);
}

/* ---- faults of the user's own ---- */

static const char own_prefix[] = "own_fault ";

/* the one of that name, made if it is new; NULL after noting a problem */
static struct swh_own_fault *own_fault_of(const struct swh_apply *a, const struct swh_setting *s)
{
    struct swh_error err = {0};
    struct swh_case *c = &a->scenario->c;
    const char *name = s->section + sizeof own_prefix - 1;
    for (int i = 0; i < c->n_own_faults; i++)
        if (is(c->own_fault[i].name, name))
            return &c->own_fault[i];
    if (c->n_own_faults == SWH_OWN_FAULTS || swh_fault_find(name) >= 0 || name[0] == '\0' ||
        strlen(name) >= sizeof c->own_fault[0].name) {
        swh_error_set(&err, SWH_ERR_INPUT, "a fault of your own called '%.60s'", name);
        swh_error_expected(&err, "at most %d, each with a name that no known fault has", (int)SWH_OWN_FAULTS);
        if (s->key[0] == '\0' || s->origin == SWH_FROM_SET)
            wrong(a, s, false, &err);
        return NULL;
    }
    struct swh_own_fault *f = &c->own_fault[c->n_own_faults++];
    f->setting = (struct swh_fault_setting){true, NAN, -INFINITY, 0, INFINITY};
    snprintf(f->name, sizeof f->name, "%s", name);
    return f;
}

static void unknown_own_key(const struct swh_apply *a, const struct swh_setting *s)
{
    struct swh_error err = {0};
    struct swh_nearest near = {s->key, NULL, 0};
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        swh_nearest_offer(&near, swh_param_table[i].name);
    for (int i = 0; i < COUNT(fault_keys); i++)
        swh_nearest_offer(&near, fault_keys[i]);
    swh_error_set(&err, SWH_ERR_INPUT, "unknown key '%s' in [%s]", s->key, s->section);
    swh_error_expected(&err, "severity, start, ramp, end or section.key of a parameter%s%s",
                       swh_nearest_is_near(&near) ? "; the nearest is " : "",
                       swh_nearest_is_near(&near) ? near.best : "");
    wrong(a, s, false, &err);
}

/* one of its parameters, with the value that it has at full severity */
static void apply_own_key(const struct swh_apply *a, const struct swh_setting *s, struct swh_own_fault *f)
{
    struct swh_error err = {0};
    const int param = swh_param_find(s->key);
    if (param < 0) {
        unknown_own_key(a, s);
        return;
    }
    const struct swh_param_info *info = &swh_param_table[param];
    const struct limits lim = {info->quantity, info->unit, info->lo, info->hi, true, param};
    int k = 0;
    while (k < f->n_keys && f->param[k] != param)
        k++;
    if (!swh_param_may_move(param) || isnan(swh_param_get(&a->scenario->c.params, param)) ||
        k == SWH_OWN_KEYS) {
        swh_error_set(&err, SWH_ERR_INPUT, "%s in a fault of your own", s->key);
        swh_error_expected(&err,
                           "at most %d parameters that may change while a machine runs: no volumes, no heat "
                           "capacities, no charge",
                           (int)SWH_OWN_KEYS);
        wrong(a, s, false, &err);
    } else if (read_value(a, s, s->value, &lim, &f->full[k])) {
        f->param[k] = param;
        f->n_keys = k == f->n_keys ? k + 1 : f->n_keys;
    }
}

static void apply_own_fault(const struct swh_apply *a, const struct swh_setting *s)
{
    struct swh_own_fault *f = own_fault_of(a, s);
    if (!f || s->key[0] == '\0')
        return;
    if (!set_when(a, s, &f->setting))
        apply_own_key(a, s, f);
}

/* [assumed] section.key = yes: the value above is the program's own, nobody gave it; answers say so. */
static void apply_assumed(const struct swh_apply *a, const struct swh_setting *s)
{
    struct swh_error err = {0};
    const int param = swh_param_find(s->key);
    const int input = strncmp(s->key, "conditions.", 11) == 0 ? swh_input_find(s->key + 11) : -1;
    if (!is(s->value, "yes")) {
        swh_error_set(&err, SWH_ERR_INPUT, "'%s' for %s in [assumed]", s->value, s->key);
        swh_error_expected(&err, "yes");
        wrong(a, s, true, &err);
    } else if (param >= 0) {
        a->scenario->params[param] = SWH_FROM_DEFAULT;
    } else if (input >= 0) {
        a->scenario->conditions[input] = SWH_FROM_DEFAULT;
    } else {
        swh_error_set(&err, SWH_ERR_INPUT, "unknown key '%s' in [assumed]", s->key);
        swh_error_expected(&err, "section.key of a parameter or conditions.NAME");
        wrong(a, s, false, &err);
    }
}

static const char with[] = " with ";

/* [correlation] section.key with section.key = r: how two parameters with a spread err together */
static void apply_correlation(const struct swh_apply *a, const struct swh_setting *s)
{
    struct swh_error err = {0};
    char first[sizeof s->key];
    snprintf(first, sizeof first, "%s", s->key);
    char *second = strstr(first, with);
    if (second)
        *second = '\0';
    const int one = swh_param_find(first), other = second ? swh_param_find(second + sizeof with - 1) : -1;
    const char *end = s->value + strlen(s->value);
    double r = NAN;
    if (one < 0 || other < 0 || one == other) {
        swh_error_set(&err, SWH_ERR_INPUT, "unknown key '%s' in [correlation]", s->key);
        swh_error_expected(&err, "section.key with section.key, two parameters");
    } else if (swh_number_read(s->value, end, '.', &r) != end || !(r >= -1 && r <= 1)) {
        swh_error_set(&err, SWH_ERR_INPUT, "a correlation of '%s'", s->value);
        swh_error_expected(&err, "a number from -1 to 1");
    } else if (!swh_joint_set(&a->scenario->c.joint, one, other, r)) {
        swh_error_set(&err, SWH_ERR_INPUT, "a correlation of too many parameters");
        swh_error_expected(&err, "at most %d parameters in [correlation]", (int)SWH_JOINT_MAX);
    }
    if (err.status != SWH_OK)
        wrong(a, s, false, &err);
}

static void apply_scenario(const struct swh_apply *a, const struct swh_setting *s)
{
    struct swh_error err = {0};
    struct swh_scenario *sc = a->scenario;
    if (s->origin == SWH_FROM_VEHICLE && !is(s->key, "title")) {
        swh_error_set(&err, SWH_ERR_INPUT, "'%s' in a vehicle file", s->key);
        swh_error_expected(&err, "it only in a scenario file");
        wrong(a, s, false, &err);
    } else if (is(s->key, "title")) {
        snprintf(sc->c.name, sizeof sc->c.name, "%.*s", (int)sizeof sc->c.name - 1, s->value);
    } else if (is(s->key, "schedule")) {
        if (s->origin == SWH_FROM_SET)
            snprintf(sc->schedule, sizeof sc->schedule, "%s", s->value);
        else
            swh_path_relative_to(s->where, s->value, sc->schedule, sizeof sc->schedule);
    } else if (!is(s->key, "vehicle")) {
        unknown_key(a, s);
    }
}

bool swh_setting_is_group(const struct swh_setting *s)
{
    return (is(s->section, "oil") && is(s->key, "grade")) ||
           (is(s->section, "compressor") && is(s->key, "model"));
}

bool swh_setting_names_file(const struct swh_setting *s)
{
    const size_t n = strlen(s->value);
    return swh_setting_is_group(s) && n > 4 && is(s->value + n - 4, ".ini");
}

/* sets what an oil's grade or a compressor's size says, in the table's words or the trade's */
static bool take_group(struct swh_params *p, bool oil, const char *word)
{
    const char *meant = swh_trade_word(oil ? "oil.grade" : "compressor.model", word);
    for (int i = 0; i < (oil ? swh_oil_count : swh_compressor_count); i++) {
        const char *name = oil ? swh_oils[i].name : swh_compressors[i].name;
        if (swh_same_word(name, meant ? meant : word))
            return (oil ? swh_oil_set(p, name) : swh_compressor_set(p, name)) == 0;
    }
    return false;
}

static void apply_group(const struct swh_apply *a, const struct swh_setting *s)
{
    struct swh_error err = {0};
    struct swh_params *p = &a->scenario->c.params;
    const bool oil = is(s->section, "oil");
    if (swh_setting_names_file(s)) /* its settings are in the list already */
        return;
    if (take_group(p, oil, s->value)) {
        a->scenario->params[oil ? SWH_P_oil_viscosity_40 : SWH_P_compressor_displacement] = s->origin;
        return;
    }
    struct swh_nearest near = {s->value, NULL, 0};
    for (int i = 0; i < (oil ? swh_oil_count : swh_compressor_count); i++)
        swh_nearest_offer(&near, oil ? swh_oils[i].name : swh_compressors[i].name);
    swh_error_set(&err, SWH_ERR_INPUT, "unknown %s '%s'", oil ? "oil grade" : "compressor model", s->value);
    swh_error_expected(&err, "a known one%s", swh_nearest_said(&near).text);
    wrong(a, s, true, &err);
}

static void apply_named(const struct swh_apply *a, const struct swh_setting *s)
{
    char name[400];
    snprintf(name, sizeof name, "%s.%s", s->section, s->key);
    const int param = swh_param_find(name), choice = swh_choice_find(name);
    if (param >= 0)
        apply_param(a, s, param);
    else if (choice >= 0)
        apply_choice(a, s, choice);
    else
        unknown_key(a, s);
}

void swh_apply(const struct swh_apply *a, const struct swh_setting *s)
{
    if (strncmp(s->section, "fault ", 6) == 0)
        apply_fault(a, s);
    else if (strncmp(s->section, own_prefix, sizeof own_prefix - 1) == 0)
        apply_own_fault(a, s);
    else if (!check_section(a, s) || s->key[0] == '\0')
        return;
    else if (is(s->section, "scenario"))
        apply_scenario(a, s);
    else if (is(s->section, "conditions"))
        apply_condition(a, s);
    else if (is(s->section, "assumed"))
        apply_assumed(a, s);
    else if (is(s->section, "correlation"))
        apply_correlation(a, s);
    else if (swh_setting_is_group(s))
        apply_group(a, s);
    else
        apply_named(a, s);
}
