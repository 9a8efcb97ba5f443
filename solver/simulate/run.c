/* A what-if run: inputs from constants and schedule, rows at fixed intervals. */
#include "solver/simulate/engine.h"
#include "solver/simulate/schedule_segment.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct run {
    struct swh_engine e;
    const struct swh_run_hooks *watch; /* NULL: none */
    struct swh_schedule_segment segment;
    double t_next; /* next output time */
    double interval, end;
};

static void inputs_at(double t, struct swh_inputs *in, void *user)
{
    const struct run *r = user;
    swh_schedule_inputs(&r->segment, t, in);
}

/* ---- outputs ---- */

static enum swh_status emit(struct swh_engine *e, double t, void *user, struct swh_error *err)
{
    struct run *r = user;
    while (r->t_next <= t + 1e-9 * r->interval && r->t_next <= r->end + 1e-9) {
        const enum swh_status status = swh_engine_row(e, fmin(r->t_next, t), NULL, err);
        if (status != SWH_OK)
            return status;
        r->t_next += r->interval;
        if (e->sinks && e->sinks->progress)
            e->sinks->progress(t, r->end, e->sinks->user);
    }
    return r->watch && r->watch->step ? r->watch->step(e, t, r->watch->user, err) : SWH_OK;
}

static enum swh_status go(struct run *r, struct swh_error *err)
{
    bool ended = false;
    enum swh_status status = swh_engine_row(&r->e, 0, NULL, err);
    r->t_next = r->interval;
    while (status == SWH_OK && !ended && swh_ode_time(r->e.ode) < r->end - 1e-9) {
        const double stop = fmin(r->end, swh_schedule_next(&r->segment));
        status = swh_engine_advance(&r->e, stop, emit, r, &ended, err);
        if (status == SWH_OK && !ended && stop < r->end)
            status = swh_engine_settle(&r->e, swh_schedule_move(&r->segment, stop), err);
    }
    if (status == SWH_OK && ended)
        status = swh_engine_row(&r->e, swh_ode_time(r->e.ode), NULL, err);
    return status;
}

enum swh_status swh_run(const struct swh_case *c, const struct swh_sinks *sinks, struct swh_summary *summary,
                        struct swh_error *err)
{
    return swh_run_with_hooks(c, sinks, NULL, summary, err);
}

enum swh_status swh_run_with_hooks(const struct swh_case *c, const struct swh_sinks *sinks,
                                   const struct swh_run_hooks *watch, struct swh_summary *summary,
                                   struct swh_error *err)
{
    memset(summary, 0, sizeof *summary);
    enum swh_status status = swh_case_check(c, err);
    if (status != SWH_OK)
        return status;
    struct run *r = calloc(1, sizeof *r);
    if (!r)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a run");
    r->segment.c = c;
    r->watch = watch;
    r->interval = c->params.run_output_interval;
    r->end = c->params.run_duration;
    r->e.inputs = inputs_at;
    r->e.inputs_user = r;
    status = swh_engine_start(&r->e, c, 0, sinks, summary, err);
    swh_schedule_move(&r->segment, 0);
    if (status == SWH_OK && watch && watch->ready)
        status = watch->ready(&r->e, watch->user, err);
    if (status == SWH_OK)
        status = go(r, err);
    summary->complete = status == SWH_OK;
    r->e.by_caller = status != SWH_OK && err && err->status == SWH_OK; /* who fails says why */
    swh_engine_finish(&r->e);
    swh_engine_free(&r->e);
    free(r);
    return status;
}
