#include "solver/api/handles.h"

#include "solver/files/case_from_settings.h"
#include "solver/files/case_text.h"
#include "solver/simulate/key.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- making ---- */

static struct swh_setup *new_setup(struct swh_error *err)
{
    struct swh_setup *s = calloc(1, sizeof *s);
    if (!s) {
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for a setup");
        return NULL;
    }
    s->units = swh_units_create(err);
    if (s->units)
        return s;
    free(s);
    return NULL;
}

static enum swh_status status_of(const struct swh_error *err)
{
    return err->status == SWH_OK ? SWH_ERR_MEMORY : err->status;
}

/* The caller's error, which may be absent, from one that is there. */
static enum swh_status give(const struct swh_error *inside, struct swh_error *err)
{
    if (err)
        *err = *inside;
    return inside->status;
}

enum swh_status swh_setup_new(struct swh_setup **setup, struct swh_error *err)
{
    struct swh_error inside = {0};
    *setup = new_setup(&inside);
    if (!*setup) {
        give(&inside, err);
        return status_of(&inside);
    }
    swh_case_default(&(*setup)->scenario.c);
    return give(&inside, err);
}

enum swh_status swh_setup_load(struct swh_setup **setup, const char *scenario, const char *vehicle,
                               struct swh_error *err)
{
    struct swh_error inside = {0};
    struct swh_problems *problems = calloc(1, sizeof *problems);
    struct swh_setup *s = problems ? new_setup(&inside) : NULL;
    *setup = NULL;
    if (s) {
        const struct swh_scenario_request request = {.path = scenario, .vehicle = vehicle};
        if (swh_scenario_load(&s->scenario, &request, s->units, problems) == SWH_OK)
            *setup = s;
        else
            inside = problems->item[0];
    }
    if (!*setup)
        swh_setup_free(s);
    free(problems);
    give(&inside, err);
    return *setup ? SWH_OK : status_of(&inside);
}

enum swh_status swh_setup_copy(struct swh_setup **setup, const struct swh_setup *from, struct swh_error *err)
{
    struct swh_error inside = {0};
    struct swh_setup *s = new_setup(&inside);
    *setup = NULL;
    if (s) {
        s->scenario = from->scenario;
        swh_own_refrigerant_keep(s->scenario.refrigerant);
        if (swh_case_copy(&s->scenario.c, &from->scenario.c, &inside) == SWH_OK)
            *setup = s;
        else
            swh_setup_free(s);
    }
    give(&inside, err);
    return *setup ? SWH_OK : status_of(&inside);
}

void swh_setup_free(struct swh_setup *setup)
{
    if (!setup)
        return;
    swh_scenario_free(&setup->scenario);
    swh_units_free(setup->units);
    free(setup);
}

const char *swh_setup_title(const struct swh_setup *setup)
{
    return setup->scenario.c.name;
}

/* ---- numbers ---- */

/* finds key and unit; unit NULL: SI */
static enum swh_status find(const struct swh_setup *s, const char *name, const char *unit_text,
                            struct swh_key *key, struct swh_unit *unit, struct swh_error *err)
{
    *unit = (struct swh_unit){1, 0, false, false};
    const enum swh_status status = swh_key_find_in(&s->scenario.c, name, key, err);
    if (status != SWH_OK || !unit_text)
        return status;
    return swh_unit_find(s->units, unit_text, key->quantity, unit, err);
}

/* may the model compute it? */
static bool may_be_blank(const struct swh_key *key)
{
    if (key->kind == SWH_KEY_PARAM)
        return isnan(swh_param_table[key->index].value);
    return key->kind == SWH_KEY_CONDITION && isnan(swh_input_table[key->index].value);
}

static enum swh_status judge(const struct swh_setup *s, const struct swh_key *key, double si,
                             struct swh_error *err)
{
    const double slack = 1e-9 * (fabs(key->lo) + fabs(key->hi)); /* 14 um need not be 14e-6 to the last bit */
    const char *unit = swh_quantities[key->quantity].si;
    if (isnan(si) && may_be_blank(key))
        return SWH_OK;
    if (!(si >= key->lo - slack && si <= key->hi + slack)) {
        swh_error_set(err, SWH_ERR_INPUT, "%s = %.9g %s is out of range", key->name, si, unit);
        swh_error_expected(err, "%.9g to %.9g %s", key->lo, key->hi, unit);
        return SWH_ERR_INPUT;
    }
    return swh_key_check(&s->scenario.c, key, err);
}

enum swh_status swh_setup_set(struct swh_setup *setup, const char *name, double value, const char *unit_text,
                              struct swh_error *err)
{
    struct swh_error inside = {0};
    struct swh_key key;
    struct swh_unit unit;
    enum swh_status status = find(setup, name, unit_text, &key, &unit, &inside);
    const double si = status == SWH_OK ? swh_unit_to_si(&unit, value, SWH_STANDARD_ATMOSPHERE) : NAN;
    if (status == SWH_OK)
        status = judge(setup, &key, si, &inside);
    if (status == SWH_OK)
        swh_key_set(&setup->scenario.c, &key, si);
    if (status == SWH_OK && key.kind == SWH_KEY_PARAM)
        setup->scenario.params[key.index] = SWH_FROM_SET;
    if (status == SWH_OK && key.kind == SWH_KEY_CONDITION)
        setup->scenario.conditions[key.index] = SWH_FROM_SET;
    swh_scenario_swept_volume(&setup->scenario);
    return give(&inside, err);
}

enum swh_status swh_setup_get(const struct swh_setup *setup, const char *name, const char *unit_text,
                              double *value, struct swh_error *err)
{
    struct swh_error inside = {0};
    struct swh_key key;
    struct swh_unit unit;
    *value = NAN;
    if (find(setup, name, unit_text, &key, &unit, &inside) == SWH_OK)
        *value = swh_unit_from_si(&unit, swh_key_get(&setup->scenario.c, &key), SWH_STANDARD_ATMOSPHERE);
    return give(&inside, err);
}

/* ---- words ---- */

enum swh_status swh_setup_set_text(struct swh_setup *setup, const char *key, const char *text,
                                   struct swh_error *err)
{
    struct swh_error inside = {0};
    struct swh_settings settings = {0};
    char line[400];
    struct swh_problems *problems = calloc(1, sizeof *problems);
    if (!problems) {
        swh_error_set(&inside, SWH_ERR_MEMORY, "no memory to set %s", key);
        return give(&inside, err);
    }
    snprintf(line, sizeof line, "%s=%s", key, text);
    swh_settings_add_option(&settings, line, problems);
    const struct swh_apply apply = {&setup->scenario, setup->units, problems};
    if (problems->count == 0 && settings.count > 0)
        swh_apply(&apply, &settings.item[0]);
    swh_scenario_swept_volume(&setup->scenario);
    if (problems->count > 0) {
        inside = problems->item[0];
        inside.status = inside.status == SWH_ERR_USAGE ? SWH_ERR_INPUT : inside.status;
        if (strncmp(inside.where, "--set", 5) == 0) /* no option of a command line */
            inside.where[0] = '\0';
    }
    swh_settings_free(&settings);
    free(problems);
    return give(&inside, err);
}

enum swh_status swh_setup_get_text(const struct swh_setup *setup, const char *key, char *text, size_t size,
                                   struct swh_error *err)
{
    struct swh_error inside = {0};
    const int choice = swh_choice_find(key);
    if (size > 0)
        text[0] = '\0';
    if (choice < 0) {
        swh_error_set(&inside, SWH_ERR_INPUT, "there is no word called '%.100s'", key);
        swh_error_expected(&inside, "vehicle.refrigerant, for example");
    } else if (size > 0) {
        swh_choice_word(choice, swh_choice_get(&setup->scenario.c.choices, choice), text, (unsigned)size);
    }
    return give(&inside, err);
}

enum swh_status swh_setup_check(const struct swh_setup *setup, struct swh_error *err)
{
    struct swh_error inside = {0};
    swh_case_check(&setup->scenario.c, &inside);
    return give(&inside, err);
}

/* A fluid file is named from the root on, so that the text may be read anywhere on this machine. */
static void absolute(const struct swh_own_refrigerant *r, char *out, size_t size)
{
    char here[512] = "";
    if (!r)
        return;
    const bool rooted = r->path[0] == '/' || !getcwd(here, sizeof here);
    snprintf(out, size, "%s%s%s", rooted ? "" : here, rooted ? "" : "/", r->path);
}

enum swh_status swh_setup_text(const struct swh_setup *setup, const char *schedule, char **text,
                               struct swh_error *err)
{
    struct swh_error inside = {0};
    char refrigerant[1024] = "";
    absolute(setup->scenario.refrigerant, refrigerant, sizeof refrigerant);
    *text = swh_case_text(&setup->scenario, schedule, refrigerant, &inside);
    return give(&inside, err);
}

enum swh_status swh_setup_schedule(const struct swh_setup *setup, char **text, struct swh_error *err)
{
    struct swh_error inside = {0};
    const struct swh_schedule *s = &setup->scenario.c.schedule;
    *text = s->rows > 0 ? swh_schedule_text(s, &inside) : NULL;
    return give(&inside, err);
}

void swh_text_free(char *text)
{
    free(text);
}

/* ---- running ---- */

enum swh_status swh_setup_run(const struct swh_setup *setup, struct swh_record **record,
                              struct swh_error *err)
{
    struct swh_error inside = {0};
    *record = NULL;
    struct swh_record *r = swh_record_new(false, &inside);
    if (!r)
        return give(&inside, err);
    const struct swh_sinks sinks = swh_record_sinks(r);
    const enum swh_status status = swh_run(&setup->scenario.c, &sinks, &r->summary, &inside);
    swh_record_give(r, status, record);
    give(&inside, err);
    return status;
}

/* ---- errors ---- */

const char *swh_error_text(const struct swh_error *err, char *text, size_t size)
{
    char place[64] = "";
    if (size == 0)
        return text;
    text[0] = '\0';
    if (err->status == SWH_OK)
        return text;
    if (err->line > 0 && err->column > 0)
        snprintf(place, sizeof place, ":%ld:%ld", err->line, err->column);
    else if (err->line > 0)
        snprintf(place, sizeof place, ":%ld", err->line);
    snprintf(text, size, "%s%s%s%s%s%s%s", err->where, place, err->where[0] ? ": " : "", err->what,
             err->expected[0] ? " (expected " : "", err->expected, err->expected[0] ? ")" : "");
    return text;
}
