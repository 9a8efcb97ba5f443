#include "solver/files/scenario.h"

#include "model/base/utf8.h"
#include "solver/files/case_from_settings.h"
#include "solver/files/schedule.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

void swh_stem(const char *path, char *out, size_t size)
{
    const char *slash = strrchr(path, '/');
    const char *name = slash ? slash + 1 : path;
    const char *dot = strrchr(name, '.');
    const size_t n = dot ? (size_t)(dot - name) : strlen(name);
    if (strcmp(path, "-") == 0 || strspn(name, ".") >= n) {
        snprintf(out, size, "log");
        return;
    }
    snprintf(out, size, "%.*s", (int)n, name);
    swh_utf8_clean(out, size, out);
}

void swh_path_relative_to(const char *from, const char *file, char *out, size_t size)
{
    const char *slash = strrchr(from, '/');
    if (file[0] == '/' || !slash)
        snprintf(out, size, "%s", file);
    else
        snprintf(out, size, "%.*s/%s", (int)(slash - from), from, file);
}

/* reads the vehicle file that option or scenario name */
static void read_vehicle(struct swh_scenario *s, const struct swh_scenario_request *request,
                         struct swh_settings *settings, struct swh_problems *problems)
{
    const struct swh_setting *named = swh_settings_find(settings, "scenario", "vehicle");
    if (request->vehicle)
        snprintf(s->vehicle, sizeof s->vehicle, "%s", request->vehicle);
    else if (named && named->origin == SWH_FROM_SET)
        snprintf(s->vehicle, sizeof s->vehicle, "%s", named->value);
    else if (named)
        swh_path_relative_to(request->path, named->value, s->vehicle, sizeof s->vehicle);
    if (s->vehicle[0] != '\0')
        swh_settings_read(settings, s->vehicle, SWH_FROM_VEHICLE, problems);
}

/* what a vehicle of this refrigerant usually has, before its own settings */
static void apply_usual(const struct swh_apply *a, const struct swh_settings *settings)
{
    const struct swh_setting *s = swh_settings_find(settings, "vehicle", "refrigerant");
    if (s) /* an unknown word is told where it is applied */
        swh_usual_set(&a->scenario->c.params, s->value);
}

/* Reads the file that an oil's grade or a compressor's model names; it may hold that section only. */
static void read_group(struct swh_settings *settings, const char *section, const char *key,
                       struct swh_problems *problems)
{
    const struct swh_setting *named = swh_settings_find(settings, section, key);
    if (!named || !swh_setting_names_file(named))
        return;
    char path[512];
    const enum swh_origin origin = named->origin;
    const size_t first = settings->count;
    if (origin == SWH_FROM_SET)
        snprintf(path, sizeof path, "%s", named->value);
    else
        swh_path_relative_to(named->where, named->value, path, sizeof path);
    swh_settings_read(settings, path, origin,
                      problems); /* moves the list: `named` is not to be used any more */
    for (size_t i = first; i < settings->count; i++) {
        struct swh_setting *s = &settings->item[i];
        struct swh_error err = {0};
        s->of_group = true;
        if (strcmp(s->section, section) == 0 && !swh_setting_is_group(s))
            continue;
        swh_error_set(&err, SWH_ERR_INPUT, "[%s] %s in the file of %s.%s", s->section, s->key, section, key);
        swh_error_expected(&err, "settings of [%s]", section);
        swh_setting_problem(s, false, &err, problems);
    }
}

static void apply_all(const struct swh_apply *a, const struct swh_settings *settings)
{
    for (int origin = SWH_FROM_VEHICLE; origin <= SWH_FROM_SET; origin++)
        for (int group = 1; group >= 0; group--)
            for (size_t i = 0; i < settings->count; i++) {
                const struct swh_setting *s = &settings->item[i];
                const bool first = s->of_group || swh_setting_is_group(s);
                if ((int)s->origin == origin && first == (group == 1))
                    swh_apply(a, s);
            }
}

static void check_fault(const struct swh_settings *settings, int f, const struct swh_fault_setting *fault,
                        struct swh_problems *problems)
{
    struct swh_error err = {0};
    char section[64];
    snprintf(section, sizeof section, "fault %s", swh_fault_table[f].id);
    const struct swh_setting *ramp = swh_settings_find(settings, section, "ramp");
    const struct swh_setting *end = swh_settings_find(settings, section, "end");
    const struct swh_setting *head = swh_settings_find(settings, section, "");
    if (!swh_settings_find(settings, section, "severity")) {
        swh_error_set(&err, SWH_ERR_INPUT, "fault '%s' has no severity", swh_fault_table[f].id);
        swh_error_expected(&err, "severity = 0 to 1: %s", swh_fault_table[f].severity);
        swh_setting_problem(head ? head : ramp ? ramp : &settings->item[0], false, &err, problems);
    } else if (ramp && isinf(fault->start)) {
        swh_error_set(&err, SWH_ERR_INPUT, "fault '%s' has a ramp and no start", swh_fault_table[f].id);
        swh_error_expected(&err, "start = the time at which it begins");
        swh_setting_problem(ramp, false, &err, problems);
    } else if (end && fault->end <= fault->start) {
        swh_error_set(&err, SWH_ERR_INPUT, "fault '%s' ends before it starts", swh_fault_table[f].id);
        swh_error_expected(&err, "an end after %g s", fault->start);
        swh_setting_problem(end, true, &err, problems);
    }
}

/* A fault of the user's own needs a severity and something to act on, and times that fit. */
static void check_own_fault(const struct swh_settings *settings, const struct swh_own_fault *f,
                            struct swh_problems *problems)
{
    struct swh_error err = {0};
    char section[80];
    const struct swh_fault_setting *w = &f->setting;
    snprintf(section, sizeof section, "own_fault %s", f->name);
    const struct swh_setting *place = swh_settings_find(settings, section, "");
    if (isnan(w->severity) || f->n_keys == 0) {
        swh_error_set(&err, SWH_ERR_INPUT, "fault '%s' has no %s", f->name,
                      isnan(w->severity) ? "severity" : "parameters");
        swh_error_expected(&err, isnan(w->severity) ? "severity = 0 to 1"
                                                    : "section.key = the value at full severity");
    } else if ((w->ramp > 0 && isinf(w->start)) || w->end <= w->start) {
        swh_error_set(&err, SWH_ERR_INPUT, "fault '%s' %s", f->name,
                      w->end <= w->start ? "ends before it starts" : "has a ramp and no start");
        swh_error_expected(&err, "start = the time at which it begins, and an end after it");
    }
    if (err.status != SWH_OK)
        swh_setting_problem(place ? place : &settings->item[0], false, &err, problems);
}

/* ---- swept volume ---- */

void swh_scenario_swept_volume(struct swh_scenario *s)
{
    struct swh_params *p = &s->c.params;
    const bool shape = s->params[SWH_P_compressor_cylinders] != SWH_FROM_DEFAULT ||
                       s->params[SWH_P_compressor_bore] != SWH_FROM_DEFAULT ||
                       s->params[SWH_P_compressor_stroke] != SWH_FROM_DEFAULT;
    if (shape && s->params[SWH_P_compressor_displacement] == SWH_FROM_DEFAULT)
        p->compressor_displacement = swh_swept_volume(p);
}

static const struct swh_setting *setting_of(const struct swh_settings *settings, int param)
{
    return swh_settings_find(settings, swh_param_table[param].section, swh_param_table[param].key);
}

/* What was said of the cylinders one by one must make up the swept volume that was said. */
static void check_swept_volume(const struct swh_scenario *s, const struct swh_settings *settings,
                               struct swh_problems *problems)
{
    static const int shapes[] = {SWH_P_compressor_cylinders, SWH_P_compressor_bore, SWH_P_compressor_stroke};
    struct swh_error err = {0};
    const struct swh_params *p = &s->c.params;
    const double said = p->compressor_displacement, made = swh_swept_volume(p);
    const struct swh_setting *shape = NULL;
    for (int i = 0; i < 3 && !shape; i++)
        shape = s->params[shapes[i]] == SWH_FROM_DEFAULT ? NULL : setting_of(settings, shapes[i]);
    if (shape && fmod(p->compressor_cylinders, 2) != 0) {
        swh_error_set(&err, SWH_ERR_INPUT, "%.6g cylinders", p->compressor_cylinders);
        swh_error_expected(&err, "an even number: two a piston");
        swh_setting_problem(shape, true, &err, problems);
    } else if (shape && fabs(made - said) > 0.03 * said) {
        swh_error_set(&err, SWH_ERR_INPUT,
                      "%.0f cylinders of %.4g mm bore and %.4g mm stroke make %.4g cm3, and the displacement "
                      "is %.4g cm3",
                      p->compressor_cylinders, 1e3 * p->compressor_bore, 1e3 * p->compressor_stroke,
                      1e6 * made, 1e6 * said);
        swh_error_expected(&err, "the same within 3 %%, or no displacement: it is computed then");
        swh_setting_problem(shape, true, &err, problems);
    }
}

static void check_whole(struct swh_scenario *s, const struct swh_settings *settings,
                        struct swh_problems *problems)
{
    struct swh_error err = {0};
    for (int f = 0; f < SWH_FAULT_COUNT; f++)
        if (s->c.fault[f].present)
            check_fault(settings, f, &s->c.fault[f], problems);
    for (int i = 0; i < s->c.n_own_faults; i++)
        check_own_fault(settings, &s->c.own_fault[i], problems);
    if (problems->count == 0)
        check_swept_volume(s, settings, problems);
    if (problems->count == 0 && swh_case_check(&s->c, &err) != SWH_OK) {
        swh_error_at(&err, s->path, 0, 0);
        swh_problems_add(problems, &err);
    }
}

/* A title that the file gave says nothing of what the command line changed: "Healthy van, 32 degC, with
 * conditions.ambient_temperature=43 degC". */
static void tell_changes(struct swh_scenario *s, const struct swh_settings *settings)
{
    const char *joint = ", with ";
    for (size_t i = 0; i < settings->count; i++) {
        const struct swh_setting *set = &settings->item[i];
        const bool told = strcmp(set->section, "scenario") == 0 || strcmp(set->section, "run") == 0;
        if (set->origin != SWH_FROM_SET || told)
            continue;
        const size_t used = strlen(s->c.name), room = sizeof s->c.name - used;
        const char *more = ", and more";
        char change[400];
        const int n =
            snprintf(change, sizeof change, "%s%s.%s=%s", joint, set->section, set->key, set->value);
        char *space = strncmp(set->section, "fault ", 6) == 0 || strncmp(set->section, "own_fault ", 10) == 0
                          ? strchr(change + strlen(joint), ' ')
                          : NULL;
        if (space)
            *space = '.'; /* as it was typed */
        const bool fits = n >= 0 && (size_t)n + strlen(more) < room;
        if (fits || strlen(more) < room)
            snprintf(s->c.name + used, room, "%s", fits ? change : more);
        if (!fits)
            return;
        joint = ", ";
    }
}

enum swh_status swh_scenario_load(struct swh_scenario *s, const struct swh_scenario_request *request,
                                  const struct swh_units *units, struct swh_problems *problems)
{
    struct swh_settings settings = {0};
    memset(s, 0, sizeof *s);
    swh_case_default(&s->c);
    snprintf(s->path, sizeof s->path, "%s", request->path);
    swh_stem(request->path, s->stem, sizeof s->stem);
    snprintf(s->c.name, sizeof s->c.name, "%s", s->stem);
    swh_settings_read(&settings, request->path, SWH_FROM_SCENARIO, problems);
    for (int i = 0; i < request->set_count; i++)
        swh_settings_add_option(&settings, request->set[i], problems);
    read_vehicle(s, request, &settings, problems);
    read_group(&settings, "oil", "grade", problems);
    read_group(&settings, "compressor", "model", problems);
    const struct swh_apply a = {s, units, problems};
    apply_usual(&a, &settings);
    apply_all(&a, &settings);
    swh_scenario_swept_volume(s);
    tell_changes(s, &settings);
    swh_utf8_clean(s->c.name, sizeof s->c.name, s->c.name);
    if (s->schedule[0] != '\0')
        swh_schedule_read(s->schedule, units, s->c.conditions.ambient_pressure, &s->c.schedule, problems);
    check_whole(s, &settings, problems);
    swh_settings_free(&settings);
    return swh_problems_status(problems);
}

void swh_scenario_free(struct swh_scenario *s)
{
    swh_case_free(&s->c);
    swh_own_refrigerant_leave(s->refrigerant);
    s->refrigerant = NULL;
    s->c.own_refrigerant = NULL;
}
