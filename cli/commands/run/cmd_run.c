/* swashheat run: what-if scenarios. */
#include "cli/commands/run/ensemble.h"
#include "cli/commands/run/sim.h"

#include <stdlib.h>
#include <string.h>

/* ---- one run for each value of --vary ---- */

enum { VALUES_MAX = SWH_PLOT_OVERLAY_MAX };
struct values {
    char key[128], value[VALUES_MAX][64];
    int n;
};

static enum swh_status bad_values(struct swh_session *s, const char *text, const char *what)
{
    return swh_misuse(s, "KEY=VALUE,VALUE..., up to 8 of them, for example fault.fan_dead.severity=0,0.5,1",
                      "--vary %s: %s", text, what);
}

static enum swh_status read_values(struct swh_session *s, struct values *v)
{
    const char *text = swh_option_value(s, SWH_OPT_vary), *equals = text ? strchr(text, '=') : NULL;
    const char *list[SWH_OPTIONS_MAX];
    v->n = 0;
    if (!text)
        return SWH_OK;
    if (swh_option_values(s, SWH_OPT_vary, list) > 1)
        return bad_values(s, text, "one number at a time can be varied here");
    if (!equals || equals == text || (size_t)(equals - text) >= sizeof v->key)
        return bad_values(s, text, "no values");
    snprintf(v->key, sizeof v->key, "%.*s", (int)(equals - text), text);
    for (const char *from = equals + 1; from; v->n++) {
        const size_t length = strcspn(from, ",");
        if (v->n == VALUES_MAX || length == 0 || length >= sizeof v->value[0])
            return bad_values(s, text,
                              v->n == VALUES_MAX ? "too many values" : "a value is missing or too long");
        snprintf(v->value[v->n], sizeof v->value[0], "%.*s", (int)length, from);
        from = from[length] ? from + length + 1 : NULL;
    }
    return SWH_OK;
}

/* a value as part of a folder's name and as the run's label */
static void name_after(struct swh_sim *sim, const struct values *v, int i)
{
    char *stem = sim->frame.scenario.stem, safe[64];
    size_t n = 0;
    for (const char *c = v->value[i]; *c && n + 1 < sizeof safe; c++)
        if (*c != ' ')
            safe[n++] = *c == '/' || *c == '%' ? '-' : *c;
    safe[n] = '\0';
    const size_t used = strnlen(stem, sizeof sim->frame.scenario.stem - 1);
    snprintf(stem + used, sizeof sim->frame.scenario.stem - used, "-%s", safe);
    snprintf(sim->label, sizeof sim->label, "%s", v->value[i]);
}

static void load_one(struct swh_session *s, struct swh_sim *sim, const char *path, const struct values *v,
                     int i)
{
    char set[256];
    const int given = s->given;
    if (v->n > 0 && s->given < SWH_OPTIONS_MAX) { /* as if it had been the last --set */
        snprintf(set, sizeof set, "%s=%s", v->key, v->value[i]);
        s->option[s->given].option = SWH_OPT_set;
        s->option[s->given++].value = set;
    }
    swh_frame_load(&sim->frame, s, path, swh_option_value(s, SWH_OPT_vehicle));
    s->given = given;
    if (v->n > 0)
        name_after(sim, v, i);
}

static enum swh_status load_all(struct swh_session *s, struct swh_sim *sim, const struct values *v)
{
    const int each = v->n > 0 ? v->n : 1, all = each * s->arguments;
    const char *title = swh_option_value(s, SWH_OPT_title);
    for (int i = 0; i < all; i++)
        load_one(s, &sim[i], s->argument[i / each], v, i % each);
    for (int i = 0; i < all; i++)
        for (int k = 0; k < i; k++)
            if (s->problems.count == 0 && strcmp(sim[i].frame.scenario.stem, sim[k].frame.scenario.stem) == 0)
                swh_misuse(s, "scenarios with different file names, values that differ",
                           "two runs named '%s'", sim[i].frame.scenario.stem);
    if (title && all == 1)
        snprintf(sim[0].frame.scenario.c.name, sizeof sim[0].frame.scenario.c.name, "%s", title);
    return swh_problems_status(&s->problems);
}

/* ---- the runs ---- */

static enum swh_status run_one(struct swh_session *s, struct swh_sim *sim, bool several)
{
    struct swh_error err = {0};
    swh_sim_choose_folder(sim, several);
    sim->end = sim->frame.scenario.c.params.run_duration;
    swh_sim_note_settings(sim);
    enum swh_status status = swh_sim_begin(sim, NULL, &err);
    if (status != SWH_OK)
        return swh_fail(s, &err);
    const struct swh_sinks sinks = swh_sim_sinks(sim);
    status = swh_run(&sim->frame.scenario.c, &sinks, &sim->summary, &err);
    if (status == SWH_ERR_INPUT)
        swh_error_at(&err, sim->frame.scenario.path, 0, 0);
    status = swh_sim_end(sim, status, &err);
    return status == SWH_OK ? SWH_OK : swh_fail(s, &err);
}

/* a run that the integrator could not finish has results too, marked incomplete */
static bool has_results(enum swh_status status)
{
    return status == SWH_OK || status == SWH_ERR_SOLVER || status == SWH_ERR_RANGE;
}

static int run_all(struct swh_session *s, struct swh_sim *sim, int all)
{
    const bool list = all > 1 && swh_given(s, SWH_OPT_json);
    enum swh_status status = SWH_OK;
    int done = 0;
    for (; done < all && has_results(status); done++) {
        if (list)
            puts(done ? "," : "[");
        status = run_one(s, &sim[done], all > 1);
    }
    if (list)
        puts("]");
    return has_results(status) ? done : 0;
}

/* several end in a table, so that they can be laid beside each other */
static void print_table(const struct swh_session *s, const struct swh_sim *sim, int count)
{
    struct swh_result result[SWH_ARGUMENTS_MAX];
    if (count < 2 || swh_given(s, SWH_OPT_quiet) || swh_given(s, SWH_OPT_json))
        return;
    for (int i = 0; i < count; i++)
        result[i] = swh_sim_result(&sim[i]);
    swh_result_print_table(result, count, s->units, swh_session_show(s), stdout);
}

enum swh_status swh_cmd_run(struct swh_session *s)
{
    if (swh_given(s, SWH_OPT_ensemble))
        return swh_run_ensemble(s);
    if (swh_given(s, SWH_OPT_from))
        return swh_misuse(s, "--ensemble N --from fit.json", "--from without --ensemble");
    struct swh_error err = {0};
    struct values values;
    if (read_values(s, &values) != SWH_OK)
        return swh_problems_status(&s->problems);
    const int all = s->arguments * (values.n > 0 ? values.n : 1);
    struct swh_sim *sim = calloc((size_t)all, sizeof *sim);
    if (!sim)
        return swh_no_memory(s, "the runs");
    if (load_all(s, sim, &values) == SWH_OK) {
        const int done = run_all(s, sim, all);
        print_table(s, sim, done);
        if (swh_sim_draw(sim, done, &err) != SWH_OK)
            swh_fail(s, &err);
    }
    for (int i = 0; i < all; i++)
        swh_sim_free(&sim[i]);
    free(sim);
    return swh_problems_status(&s->problems);
}
