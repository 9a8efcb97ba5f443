#include "solver/infer/expect.h"

#include "solver/infer/rank.h"
#include "solver/simulate/parallel.h"

#include <math.h>
#include <string.h>

struct job {
    const struct swh_expect_request *q;
    struct swh_expect_cell *cell;
    struct swh_team team;
};

static const double LATE = 600; /* s over which a rest is looked for */

/* the rotor, ten minutes before the end and last */
struct rotor {
    double from, early, last;
};

static enum swh_status take_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    struct rotor *r = user;
    if (row->value[SWH_CH_time] <= r->from)
        r->early = row->value[SWH_CH_rotor_temperature];
    r->last = row->value[SWH_CH_rotor_temperature];
    return SWH_OK;
}

static struct swh_expect_end follow(const struct swh_case *c, double *duty, bool *opened,
                                    struct swh_error *err)
{
    struct rotor r = {c->params.run_duration - LATE, NAN, NAN};
    const struct swh_sinks sinks = {.row = take_row, .user = &r};
    struct swh_summary s;
    const enum swh_status status = swh_run(c, &sinks, &s, err);
    const bool lost = swh_outcome_is_lost(s.outcome);
    *duty = s.duty;
    *opened = s.event_count[SWH_EV_low_pressure_open] + s.event_count[SWH_EV_frost_open] +
                  s.event_count[SWH_EV_high_pressure_open] >
              0;
    return (struct swh_expect_end){status == SWH_OK || lost ? s.outcome : SWH_INCOMPLETE,
                                   !lost                         ? NAN
                                   : isfinite(s.time_to_seizure) ? s.time_to_seizure
                                                                 : s.end_time,
                                   lost ? NAN : (r.last - r.early) / (LATE / 60)};
}

static void bridge(struct swh_case *c)
{
    c->choices.controls_cycling = SWH_CYCLING_NONE;
    c->choices.controls_high_pressure = 0;
}

static void one(long k, void *user)
{
    struct job *j = user;
    const struct swh_expect_request *q = j->q;
    const struct swh_expect_point *p = &q->point[k / q->causes];
    const struct swh_expect_cause *cause = &q->cause[k % q->causes];
    struct swh_expect_cell *cell = &j->cell[k];
    struct swh_error inside = {0};
    struct swh_case c = *q->vehicle;
    memset(&c.schedule, 0, sizeof c.schedule);
    c.conditions.compressor_speed = p->compressor_speed;
    c.conditions.vehicle_speed = p->vehicle_speed;
    c.conditions.clutch = 1;
    c.params.run_output_interval = 2;
    c.params.run_duration = SWH_EXPECT_HELD;
    swh_case_fault_always(&c, cause->fault, fmin(cause->severity, swh_severity_most(cause->fault)));
    cell->reached = swh_spot_run(&c, cell->value, NULL, &inside);
    c.params.run_duration = SWH_EXPECT_HOUR;
    c.params.run_output_interval = 10;
    bool opened = false, again;
    double duty;
    cell->with = follow(&c, &cell->duty, &opened, &inside);
    bridge(&c);
    cell->bridged = opened ? follow(&c, &duty, &again, &inside) : cell->with;
    swh_team_note(&j->team, inside.status == SWH_ERR_MEMORY ? SWH_ERR_MEMORY : SWH_OK, &inside);
}

enum swh_status swh_expect(const struct swh_expect_request *q, struct swh_expect_cell *cell,
                           struct swh_error *err)
{
    struct job j = {.q = q, .cell = cell};
    swh_team_begin(&j.team);
    swh_parallel((long)q->points * q->causes, q->threads, one, &j);
    return swh_team_end(&j.team, err);
}
