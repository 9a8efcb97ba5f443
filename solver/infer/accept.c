#include "solver/infer/accept.h"

#include "solver/infer/blind.h"

#include <math.h>
#include <string.h>

const struct swh_least_reading swh_accept_least[SWH_ACCEPT_LEAST] = {
    {SWH_CH_suction_pressure, "whether the low side is fed"},
    {SWH_CH_discharge_pressure, "whether the condenser gets rid of the heat"},
    {SWH_CH_suction_temperature, "whether cold gas comes back to the compressor"},
    {SWH_CH_discharge_temperature, "how hot the compressor runs"},
    {SWH_CH_vent_temperature, "whether the evaporator cools"}};

static void judge_channels(struct swh_acceptance *a)
{
    const struct swh_cause *healthy = swh_ranking_healthy(&a->ranking);
    for (int i = 0; i < SWH_COMPARED; i++) {
        a->deviation[i] = -healthy->mean[i] / a->ranking.mean_sigma[i];
        a->channel_ok[i] = !(fabs(a->deviation[i]) > SWH_ACCEPT_DEVIATIONS);
    }
}

static void judge_faults(struct swh_acceptance *a)
{
    const struct swh_cause *healthy = swh_ranking_healthy(&a->ranking), *best = &a->ranking.cause[0];
    a->fault = SWH_HEALTHY;
    a->advantage = healthy->criterion - best->criterion;
    if (best->fault != SWH_HEALTHY && a->advantage > SWH_ACCEPT_ADVANTAGE)
        a->fault = best->fault;
    a->severity = best->severity;
}

static enum swh_status worst_hour(const struct swh_case *vehicle, double ambient, double speed,
                                  struct swh_acceptance *a, struct swh_error *err)
{
    struct swh_case c = *vehicle;
    swh_case_hard_hour(&c, ambient, speed, 0);
    swh_case_fault_always(&c, a->fault, a->severity);
    a->worst_ambient = c.conditions.ambient_temperature;
    a->worst_speed = c.conditions.compressor_speed;
    const enum swh_status status = swh_run(&c, NULL, &a->worst, err);
    a->lives = status == SWH_OK && !swh_outcome_is_lost(a->worst.outcome) &&
               a->worst.mean[SWH_CH_boundary_share] < SWH_ACCEPT_METAL;
    return status;
}

static bool is_judged(const struct swh_acceptance *a, enum swh_channel ch)
{
    for (int i = 0; i < SWH_COMPARED; i++)
        if (swh_compared[i] == ch)
            return a->judged[i];
    return false;
}

/* A probe that dropped out early tells of the start only. */
static void look_for_readings(const struct swh_readings *read, struct swh_acceptance *a)
{
    for (int i = 0; i < SWH_COMPARED; i++)
        a->judged[i] = swh_readings_covered(read, swh_compared[i]) >= 0.5;
    for (int i = 0; i < SWH_ACCEPT_LEAST; i++)
        a->missing[i] = !is_judged(a, swh_accept_least[i].channel);
    a->at_work = swh_readings_at_work(read);
    a->enough = a->at_work >= SWH_FAIR_AT_WORK;
}

/* at the mean of what drove the vehicle */
static enum swh_status look_for_the_blind(const struct swh_rank_request *q, const struct swh_readings *read,
                                          struct swh_acceptance *a, struct swh_error *err)
{
    static const enum swh_channel drives[] = {SWH_CH_compressor_speed, SWH_CH_vehicle_speed,
                                              SWH_CH_ambient_temperature, SWH_CH_ambient_humidity};
    struct swh_blind_request b = {
        .vehicle = q->vehicle, .most = SWH_ACCEPT_DEVIATIONS, .threads = q->threads};
    swh_spot_row_empty(&b.point);
    for (size_t i = 0; i < sizeof drives / sizeof drives[0]; i++)
        b.point.value[drives[i]] = swh_readings_mean(read, drives[i]);
    b.point.doors_open = a->ranking.drive.doors_open;
    b.point.held = 480;
    for (int i = 0; i < SWH_COMPARED; i++) {
        b.read[i] = a->judged[i] && isfinite(a->deviation[i]);
        b.sigma[i] = a->ranking.mean_sigma[i];
    }
    return swh_blind_find(&b, a->blind, err);
}

static void conclude(struct swh_acceptance *a)
{
    bool against = !a->lives || a->fault != SWH_HEALTHY;
    for (int i = 0; i < SWH_COMPARED; i++)
        against |= !a->channel_ok[i];
    a->found = against && a->at_work >= SWH_LEAST_AT_WORK;
    a->pass = a->enough && !against;
    for (int i = 0; i < SWH_ACCEPT_LEAST; i++)
        a->pass &= !a->missing[i];
}

enum swh_status swh_accept(const struct swh_rank_request *q, double ambient, double speed,
                           struct swh_acceptance *out, struct swh_error *err)
{
    memset(out, 0, sizeof *out);
    const struct swh_readings read = {q->log, q->sheet, q->doors_given};
    enum swh_status status = swh_rank(q, &out->ranking, err);
    if (status != SWH_OK)
        return status;
    judge_channels(out);
    judge_faults(out);
    look_for_readings(&read, out);
    status = worst_hour(q->vehicle, ambient, speed, out, err);
    if (status == SWH_OK)
        status = look_for_the_blind(q, &read, out, err);
    conclude(out);
    return status;
}
