#include "solver/infer/blind.h"

#include "solver/infer/rank.h"
#include "solver/simulate/parallel.h"

#include <math.h>
#include <string.h>

enum { SIZES = 4 };
static const double sizes[SIZES] = {0.2, 0.4, 0.6, 0.8};

struct blind {
    const struct swh_blind_request *q;
    double healthy[SWH_CHANNEL_COUNT];
    bool shown[SWH_FAULT_COUNT][SIZES];
    struct swh_team team;
};

static bool is_shown(const struct blind *b, const double *value)
{
    for (int i = 0; i < SWH_COMPARED; i++) {
        const enum swh_channel ch = swh_compared[i];
        if (b->q->read[i] &&
            fabs(value[ch] - b->healthy[ch]) > b->q->most * b->q->sigma[i]) /* false for a NaN */
            return true;
    }
    return false;
}

static void try_one(long k, void *user)
{
    struct blind *b = user;
    const int fault = (int)(k / SIZES), size = (int)(k % SIZES);
    struct swh_case c;
    double value[SWH_CHANNEL_COUNT];
    struct swh_error inside = {0};
    swh_spot_case(&c, b->q->vehicle, &b->q->point, true);
    swh_case_fault_always(&c, fault, fmin(sizes[size], swh_severity_most(fault)));
    const bool reached = swh_spot_run(&c, value, NULL, &inside);
    b->shown[fault][size] = !reached || is_shown(b, value); /* what does not get there is noticed */
    swh_team_note(&b->team, inside.status == SWH_ERR_MEMORY ? SWH_ERR_MEMORY : SWH_OK, &inside);
}

enum swh_status swh_blind_find(const struct swh_blind_request *q, double least[SWH_FAULT_COUNT],
                               struct swh_error *err)
{
    struct blind b = {.q = q};
    struct swh_case c;
    swh_spot_case(&c, q->vehicle, &q->point, true);
    swh_team_begin(&b.team);
    if (swh_spot_run(&c, b.healthy, NULL, err))
        swh_parallel((long)SWH_FAULT_COUNT * SIZES, q->threads, try_one, &b);
    for (int f = 0; f < SWH_FAULT_COUNT; f++) {
        least[f] = NAN;
        for (int k = SIZES; k-- > 0 && b.shown[f][k];)
            least[f] = sizes[k];
    }
    return swh_team_end(&b.team, err);
}
