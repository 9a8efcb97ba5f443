#include "solver/accept.h"

#include <math.h>
#include <string.h>

/* strong evidence by Kass and Raftery 1995: 2 ln of the Bayes factor above 6 */
static const double strong = 6;

static void judge_channels(struct swh_acceptance *a)
{
    const struct swh_cause *healthy = swh_ranking_healthy(&a->ranking);
    for (int i = 0; i < SWH_COMPARED; i++) {
        a->deviation[i] = -healthy->mean[i] / a->ranking.mean_sigma[i];
        a->channel_ok[i] = !(fabs(a->deviation[i]) > 3);
    }
}

static void judge_faults(struct swh_acceptance *a)
{
    const struct swh_cause *healthy = swh_ranking_healthy(&a->ranking), *best = &a->ranking.cause[0];
    a->fault = SWH_HEALTHY;
    a->advantage = healthy->criterion - best->criterion;
    if (best->fault != SWH_HEALTHY && a->advantage > strong)
        a->fault = best->fault;
}

static enum swh_status worst_hour(const struct swh_case *vehicle, double ambient, double speed,
                                  struct swh_acceptance *a, struct swh_error *err)
{
    struct swh_case c = *vehicle;
    swh_case_hard_hour(&c, ambient, speed, 0);
    a->worst_ambient = c.conditions.ambient_temperature;
    a->worst_speed = c.conditions.compressor_speed;
    const enum swh_status status = swh_run(&c, NULL, &a->worst, err);
    const bool seized = a->worst.outcome == SWH_SHOE_SEIZED || a->worst.outcome == SWH_BORE_SEIZED;
    a->lives = status == SWH_OK && !seized && a->worst.mean[SWH_CH_boundary_share] < 0.5;
    return status;
}

static double time_at_work(const struct swh_log_memory *log)
{
    double sum = 0;
    for (size_t i = 1; i < log->rows; i++)
        if (!log->has[SWH_CH_clutch] || log->row[i].value[SWH_CH_clutch] >= 0.5)
            sum += fmin(log->row[i].value[SWH_CH_time] - log->row[i - 1].value[SWH_CH_time], 10);
    return sum;
}

enum swh_status swh_accept(const struct swh_rank_request *q, double ambient, double speed,
                           struct swh_acceptance *out, struct swh_error *err)
{
    memset(out, 0, sizeof *out);
    enum swh_status status = swh_rank(q, &out->ranking, err);
    if (status == SWH_OK)
        status = worst_hour(q->vehicle, ambient, speed, out, err);
    if (status != SWH_OK)
        return status;
    judge_channels(out);
    judge_faults(out);
    out->enough = time_at_work(q->log) >= 600;
    out->pass = out->lives && out->enough && out->fault == SWH_HEALTHY;
    for (int i = 0; i < SWH_COMPARED; i++)
        out->pass &= out->channel_ok[i];
    return SWH_OK;
}
