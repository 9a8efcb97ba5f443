#include "solver/infer/nuisance.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* readings that drive, moved by the channel table's offset */
static const enum swh_channel readings[] = {SWH_CH_suction_pressure,    SWH_CH_discharge_pressure,
                                            SWH_CH_suction_temperature, SWH_CH_ambient_temperature,
                                            SWH_CH_compressor_speed,    SWH_CH_underhood_temperature};
/* properties of the clamps; sigma: common practice, no source (pulled 2 to 6 %, lags of 8 to 25 s) */
static const struct clamp {
    enum swh_param param;
    double sigma;
} clamps[] = {
    {SWH_P_probe_discharge_pull, 0.01}, {SWH_P_probe_suction_lag, 4}, {SWH_P_probe_discharge_lag, 4}};
enum {
    READINGS = (int)(sizeof readings / sizeof readings[0]),
    CLAMPS = (int)(sizeof clamps / sizeof clamps[0]),
    BAY = READINGS + CLAMPS,
    KINDS = BAY + 1
};
_Static_assert((int)KINDS <= (int)SWH_GAUGE_NUISANCES, "room for every doubt");

static bool is_free(const struct swh_nuisance_request *q, enum swh_param param)
{
    for (int i = 0; i < q->n_free; i++)
        if (q->free[i] == (int)param)
            return true;
    return false;
}

/* moves a parameter up by sigma, or down where its limit is in the way; the sign does not matter */
static bool move_param(const struct swh_nuisance_request *q, struct swh_case *c, enum swh_param param,
                       double sigma)
{
    const double x = swh_param_get(&c->params, (int)param), hi = swh_param_table[param].hi;
    if (is_free(q, param) || !(sigma > 0))
        return false;
    swh_param_set(&c->params, (int)param, x + sigma <= hi ? x + sigma : x - sigma);
    return true;
}

static bool move_reading(struct swh_log_memory *log, enum swh_channel ch)
{
    const double by = swh_channel_table[ch].offset_sigma;
    if (!log->has[ch] || !(by > 0))
        return false;
    for (size_t i = 0; i < log->rows; i++)
        log->row[i].value[ch] += by; /* blanks stay NaN */
    return true;
}

static bool move(const struct swh_nuisance_request *q, int which, struct swh_case *c,
                 struct swh_log_memory *drive)
{
    if (which < READINGS)
        return move_reading(drive, readings[which]);
    if (which < BAY)
        return move_param(q, c, clamps[which - READINGS].param, clamps[which - READINGS].sigma);
    return !drive->has[SWH_CH_underhood_temperature] &&
           move_param(q, c, SWH_P_bay_rise_at_rest, c->params.uncertainty_bay_rise);
}

struct changes {
    const struct swh_nuisance_request *q;
    struct swh_nuisance *out;
    bool good[KINDS];
};

static void change_by(long kind, void *user)
{
    struct changes *n = user;
    const struct swh_nuisance_request *q = n->q;
    const int which = (int)kind;
    enum swh_status status = SWH_OK;
    struct swh_case c = *q->vehicle;
    struct swh_log_memory drive = *q->drive;
    struct swh_residuals *r = malloc(sizeof *r);
    drive.row = malloc(drive.rows * sizeof *drive.row);
    bool good = r && drive.row;
    if (good) {
        memcpy(drive.row, q->drive->row, drive.rows * sizeof *drive.row);
        good = move(q, which, &c, &drive);
        if (good)
            status = swh_residuals_replay(&c, &drive, q->log, r, NULL);
    }
    if (!r || !drive.row || status == SWH_ERR_MEMORY)
        swh_team_note_memory(q->team);
    good = good && status == SWH_OK && r->complete;
    for (int i = 0; i < SWH_COMPARED && good; i++)
        for (int k = 0; k < r->windows; k++)
            n->out[which].change[i][k] = r->mean[i][k] - q->at->mean[i][k];
    n->good[which] = good;
    free(drive.row);
    free(r);
}

int swh_gauge_nuisances(const struct swh_nuisance_request *q, struct swh_nuisance *out)
{
    struct changes n = {q, out, {false}};
    swh_parallel(KINDS, q->threads, change_by, &n);
    int found = 0;
    for (int i = 0; i < KINDS; i++)
        if (n.good[i])
            out[found++] = out[i];
    return found;
}
