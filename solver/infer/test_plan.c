#include "solver/infer/test_plan.h"

#include "solver/infer/rank.h"
#include "solver/simulate/parallel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const struct swh_testpoint_info swh_testpoint_table[SWH_TESTPOINT_COUNT] = {
#define TESTPOINT(id, rotation, road, fan, recirculation, doors, hold, help)                                 \
    {#id, rotation, road, fan, recirculation, doors, hold, help},
#include "solver/infer/testpoints.def"
#undef TESTPOINT
};

static void set_point(struct swh_case *c, const struct swh_testpoint_info *p)
{
    memset(&c->schedule, 0, sizeof c->schedule);
    c->conditions.compressor_speed = p->rotation;
    c->conditions.vehicle_speed = p->road;
    c->conditions.fan = p->fan;
    c->conditions.recirculation = p->recirculation;
    c->conditions.doors_open = p->doors;
    c->conditions.clutch = 1;
    c->params.run_duration = p->hold;
    c->params.run_output_interval = 2;
}

/* the readings of the last minute, averaged: a cycling clutch makes single readings worthless */
struct last_minute {
    double from, sum[SWH_COMPARED];
    double stopped; /* s, where a limit was passed first; NaN: nowhere */
    int n;
};

static enum swh_status take_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    struct last_minute *l = user;
    if (isnan(l->stopped) && (row->value[SWH_CH_discharge_pressure] > SWH_STOP_PRESSURE ||
                              row->value[SWH_CH_discharge_temperature] > SWH_STOP_DISCHARGE_TEMPERATURE))
        l->stopped = row->value[SWH_CH_time];
    if (row->value[SWH_CH_time] < l->from)
        return SWH_OK;
    for (int i = 0; i < SWH_COMPARED; i++)
        l->sum[i] += row->value[swh_compared[i]];
    l->n++;
    return SWH_OK;
}

struct tests {
    const struct swh_case *vehicle;
    const struct swh_test_cause *cause;
    int causes;
    struct swh_test_result *out;
    struct swh_summary *summary;
    double stopped[SWH_TESTPOINT_COUNT * SWH_TEST_CAUSES]; /* s, by job */
    struct swh_team team;
};

static void run_one(long job, void *user)
{
    struct tests *t = user;
    const int k = (int)(job % t->causes);
    const struct swh_test_cause *cause = &t->cause[k];
    struct swh_test_result *out = &t->out[job / t->causes];
    const struct swh_case *vehicle = t->vehicle;
    struct swh_error inside = {0};
    struct swh_case c = *vehicle;
    set_point(&c, &swh_testpoint_table[out->point]);
    swh_case_fault_always(&c, cause->fault, fmin(cause->severity, swh_severity_most(cause->fault)));
    swh_case_fault_always(&c, cause->second, fmin(cause->second_severity, swh_severity_most(cause->second)));
    struct last_minute l = {.from = c.params.run_duration - 60, .stopped = NAN};
    const struct swh_sinks sinks = {.row = take_row, .user = &l};
    const enum swh_status status = swh_run(&c, &sinks, &t->summary[job], &inside);
    if (status == SWH_ERR_MEMORY)
        swh_team_note(&t->team, status, &inside);
    out->reached[k] = status == SWH_OK && l.n > 0;
    t->stopped[job] = l.stopped;
    for (int i = 0; i < SWH_COMPARED; i++)
        out->value[k][i] = out->reached[k] ? l.sum[i] / l.n : NAN;
}

double swh_testplan_sigma(const struct swh_params *p, int i)
{
    /* what is new every half minute is halved in the mean of the last minute */
    const double lasts = sqrt(1 - 0.5 * fmin(p->uncertainty_scatter, 1 - p->uncertainty_persistent));
    const double errs = hypot(swh_channel_table[swh_compared[i]].offset_sigma, swh_level_error(p, i));
    return hypot(errs, swh_slow_error(p, i) * lasts);
}

static double apart(const struct swh_test_result *r, const struct swh_params *p, int a, int b, int i)
{
    const double d = fabs(r->value[a][i] - r->value[b][i]) / swh_testplan_sigma(p, i);
    return isfinite(d) ? d : 0;
}

static void weigh(struct swh_test_result *r, const struct swh_params *p, const struct swh_test_cause *cause,
                  int causes)
{
    double total = 0;
    for (int a = 0; a < causes; a++)
        for (int b = 0; b < a; b++) {
            double sum = 0;
            for (int i = 0; i < SWH_COMPARED; i++)
                sum += pow(apart(r, p, a, b, i), 2);
            total += cause[a].share * cause[b].share * fmin(sum, 100);
        }
    r->total = sqrt(total);
    for (int i = 0; i < SWH_COMPARED; i++) {
        r->separation[i] = apart(r, p, 0, 1, i);
        if (r->separation[i] > r->separation[r->best])
            r->best = i;
    }
}

/* ---- which may be done ---- */

static const double ENOUGH = 3; /* standard deviations by which a harmless test tells enough */

static bool is_of_condenser(int fault)
{
    return fault == SWH_FAULT_condenser_blocked || fault == SWH_FAULT_fan_dead ||
           fault == SWH_FAULT_hot_air_recirculation || fault == SWH_FAULT_overcharge ||
           fault == SWH_FAULT_air_in_system;
}

/* The fan is not unplugged where the head is high already; a limit is not passed where a harmless test tells
 * as much. */
static void bar(struct swh_test_result *out, const struct swh_test_cause *cause)
{
    double harmless = 0;
    for (int i = 0; i < SWH_TESTPOINT_COUNT; i++)
        if (!out[i].careful)
            harmless = fmax(harmless, out[i].separation[out[i].best]);
    for (int i = 0; i < SWH_TESTPOINT_COUNT; i++) {
        const bool fan = swh_testpoint_table[out[i].point].fan < 0.5;
        const double tells = out[i].separation[out[i].best];
        out[i].barred = (fan && (is_of_condenser(cause[0].fault) || is_of_condenser(cause[1].fault))) ||
                        (out[i].careful && (harmless >= ENOUGH || harmless >= tells || tells < 1));
    }
}

static double worth(const struct swh_test_result *r)
{
    return r->total + (r->barred ? -1e6 : !r->careful && r->separation[r->best] >= ENOUGH ? 1e6 : 0);
}

static int by_worth(const void *a, const void *b)
{
    const double x = worth(a), y = worth(b);
    return (x < y) - (x > y);
}

static void watch_limits(struct swh_test_result *r, const struct swh_summary *s, double stopped)
{
    r->stop_time = fmin(r->stop_time, stopped); /* which ignores a NaN */
    r->highest_pressure = fmax(r->highest_pressure, s->peak[SWH_CH_discharge_pressure].value);
    r->highest_discharge_temperature =
        fmax(r->highest_discharge_temperature, s->peak[SWH_CH_discharge_temperature].value);
    r->careful = r->highest_pressure > SWH_STOP_PRESSURE ||
                 r->highest_discharge_temperature > SWH_STOP_DISCHARGE_TEMPERATURE;
}

enum swh_status swh_testplan(const struct swh_case *vehicle, const struct swh_test_cause *cause, int causes,
                             int threads, struct swh_test_result *out, struct swh_error *err)
{
    if (causes < 2 || causes > SWH_TEST_CAUSES)
        return swh_error_set(err, SWH_ERR_USAGE, "%d causes to tell apart: between 2 and %d are possible",
                             causes, SWH_TEST_CAUSES);
    const int jobs = SWH_TESTPOINT_COUNT * causes;
    struct swh_summary *s = calloc((size_t)jobs, sizeof *s);
    if (!s)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a test plan");
    memset(out, 0, SWH_TESTPOINT_COUNT * sizeof *out);
    for (int i = 0; i < SWH_TESTPOINT_COUNT; i++)
        out[i] = (struct swh_test_result){.point = (enum swh_testpoint)i, .stop_time = NAN};
    struct tests t = {.vehicle = vehicle, .cause = cause, .causes = causes, .out = out, .summary = s};
    swh_team_begin(&t.team);
    swh_parallel(jobs, threads, run_one, &t);
    const enum swh_status status = swh_team_end(&t.team, err);
    for (int job = 0; job < jobs; job++)
        watch_limits(&out[job / causes], &s[job], t.stopped[job]);
    free(s);
    for (int i = 0; i < SWH_TESTPOINT_COUNT; i++)
        weigh(&out[i], &vehicle->params, cause, causes);
    bar(out, cause);
    qsort(out, SWH_TESTPOINT_COUNT, sizeof out[0], by_worth);
    return status;
}
