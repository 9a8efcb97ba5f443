/* swashheat run: what-if scenarios. */
#include "cli/commands/run/ensemble.h"
#include "cli/commands/run/sim.h"

#include <stdlib.h>
#include <string.h>

static enum swh_status load_all(struct swh_session *s, struct swh_sim *sim)
{
    for (int i = 0; i < s->arguments; i++)
        swh_frame_load(&sim[i].frame, s, s->argument[i], swh_option_value(s, SWH_OPT_vehicle));
    for (int i = 0; i < s->arguments; i++)
        for (int k = 0; k < i; k++)
            if (s->problems.count == 0 && strcmp(sim[i].frame.scenario.stem, sim[k].frame.scenario.stem) == 0)
                swh_misuse(s, "scenarios with different file names", "two scenarios named '%s'",
                           sim[i].frame.scenario.stem);
    return swh_problems_status(&s->problems);
}

static enum swh_status run_one(struct swh_session *s, struct swh_sim *sim)
{
    struct swh_error err = {0};
    swh_sim_choose_folder(sim, s->arguments > 1);
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

static int run_all(struct swh_session *s, struct swh_sim *sim)
{
    const bool list = s->arguments > 1 && swh_given(s, SWH_OPT_json);
    enum swh_status status = SWH_OK;
    int done = 0;
    for (; done < s->arguments && has_results(status); done++) {
        if (list)
            puts(done ? "," : "[");
        status = run_one(s, &sim[done]);
    }
    if (list)
        puts("]");
    return has_results(status) ? done : 0;
}

enum swh_status swh_cmd_run(struct swh_session *s)
{
    if (swh_given(s, SWH_OPT_ensemble))
        return swh_run_ensemble(s);
    struct swh_error err = {0};
    struct swh_sim *sim = calloc((size_t)s->arguments, sizeof *sim);
    if (!sim)
        return swh_no_memory(s, "the runs");
    if (load_all(s, sim) == SWH_OK && swh_sim_draw(sim, run_all(s, sim), &err) != SWH_OK)
        swh_fail(s, &err);
    for (int i = 0; i < s->arguments; i++)
        swh_sim_free(&sim[i]);
    free(sim);
    return swh_problems_status(&s->problems);
}
