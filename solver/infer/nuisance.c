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
/* K: a soaked body is not quite of one temperature, and liquid that came back at the start cooled it before
 * anything was read: the metal by 2 K, the rotor by 4 K in the closed circuit's first half minute */
static const double START = 4;
/* s: a restart brings liquid for so long, of which a clamp on the pipe shows nothing; the gas that is to heat
 * cools instead (in the closed circuit 8 to 12 s after each restart) */
static const double WET = 10;
static const double UNIFORM = 0.5774; /* standard deviation of what is uniform between -1 and 1 */
static const double average_span =
    6; /* s; shorter than a valve's hunting, which the clamp's undoing needs to see */

enum {
    READINGS = (int)(sizeof readings / sizeof readings[0]),
    CLAMPS = (int)(sizeof clamps / sizeof clamps[0]),
    BAY = READINGS + CLAMPS,
    BODY, /* its temperature at the start */
    RESTARTS,
    EDGES,
    GAPS,
    LONG_GAPS,
    KINDS
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

/* ---- the drive as it may have been ---- */

enum swh_status swh_replay_drive(struct swh_log_memory *to, const struct swh_log_memory *log,
                                 const struct swh_drive_change *change, struct swh_error *err)
{
    bool drives[SWH_CHANNEL_COUNT] = {false};
    struct swh_log_memory parted;
    for (int i = 0; i < SWH_REPLAY_INPUT_COUNT; i++)
        drives[swh_replay_inputs[i].channel] = true;
    enum swh_status status = swh_drive_change(&parted, log, drives, change, err);
    if (status == SWH_OK)
        status = swh_log_memory_average(to, &parted, average_span, err);
    swh_log_memory_free(&parted);
    return status;
}

bool swh_drive_doubt(enum swh_drive_doubt which, const struct swh_drive_facts *facts,
                     struct swh_drive_change *change, double *share)
{
    *change = swh_drive_as_read;
    *share = UNIFORM;
    switch (which) {
    case SWH_DOUBT_RESTARTS:
        change->engage_later = WET;
        *share = 1;
        return facts->restarts > 0;
    case SWH_DOUBT_EDGES: /* as if all edges erred one way: on times are too short, or too long */
        change->engage_later = -0.5 * facts->between;
        change->release_later = 0.5 * facts->between;
        return isfinite(facts->shortest_on);
    case SWH_DOUBT_GAPS:
        change->gap_place = 1;
        return facts->gaps > 0;
    default:
        change->gap_usual = true;
        *share = 1;
        return facts->long_gaps > 0;
    }
}

/* ---- what moves ---- */

static double first_within(const struct swh_log_memory *log, enum swh_channel ch, double within)
{
    for (size_t i = 0;
         i < log->rows && log->row[i].value[SWH_CH_time] <= log->row[0].value[SWH_CH_time] + within; i++)
        if (!isnan(log->row[i].value[ch]))
            return log->row[i].value[ch];
    return NAN;
}

/* colder than a replay takes the body at its start */
static bool move_body(const struct swh_nuisance_request *q, struct swh_case *c)
{
    double start = c->params.run_start_body_temperature;
    if (isnan(start))
        start = first_within(q->log, SWH_CH_shell_temperature, 60);
    if (isnan(start))
        start = first_within(q->log, SWH_CH_ambient_temperature, 60);
    c->params.run_start_body_temperature = start - START;
    return !isnan(start);
}

static bool move_drive(const struct swh_nuisance_request *q, int which, struct swh_log_memory *drive,
                       double *share)
{
    struct swh_drive_change change;
    const struct swh_drive_facts facts = swh_drive_facts(q->log);
    if (!swh_drive_doubt((enum swh_drive_doubt)(which - RESTARTS), &facts, &change, share))
        return false;
    swh_log_memory_free(drive);
    if (swh_replay_drive(drive, q->log, &change, NULL) == SWH_OK)
        return true;
    swh_team_note_memory(q->team);
    return false;
}

static bool move(const struct swh_nuisance_request *q, int which, struct swh_case *c,
                 struct swh_log_memory *drive, double *share)
{
    if (which == BODY)
        return move_body(q, c);
    if (which > BODY)
        return move_drive(q, which, drive, share);
    if (which < READINGS)
        return move_reading(drive, readings[which]);
    if (which < BAY)
        return move_param(q, c, clamps[which - READINGS].param, clamps[which - READINGS].sigma);
    return !drive->has[SWH_CH_underhood_temperature] &&
           move_param(q, c, SWH_P_bay_rise_at_rest, c->params.uncertainty_bay_rise);
}

/* what a drive that may be wrong makes of the readings, times its standard deviation */
static void take_change(struct swh_nuisance *out, const struct swh_residuals *r,
                        const struct swh_residuals *at, double share)
{
    for (int i = 0; i < SWH_COMPARED; i++)
        for (int k = 0; k < r->windows; k++)
            out->change[i][k] = share * (r->mean[i][k] - at->mean[i][k]);
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
    double share = 1;
    if (good) {
        memcpy(drive.row, q->drive->row, drive.rows * sizeof *drive.row);
        good = move(q, which, &c, &drive, &share);
        if (good)
            status = swh_residuals_replay(&c, &drive, q->log, r, NULL);
    }
    if (!r || !drive.row || status == SWH_ERR_MEMORY)
        swh_team_note_memory(q->team);
    good = good && status == SWH_OK && r->complete;
    if (good)
        take_change(&n->out[which], r, q->at, share);
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

/* ---- a circuit's drive ---- */

enum swh_status swh_circuit_drive(struct swh_case *to, const struct swh_case *vehicle,
                                  const struct swh_readings *read, const struct swh_drive_change *change,
                                  struct swh_error *err)
{
    bool drives[SWH_CHANNEL_COUNT];
    struct swh_schedule_facts facts;
    struct swh_log_memory parted;
    struct swh_readings changed = *read;
    if (read->sheet || !read->log)
        return swh_readings_drive(to, vehicle, read, &facts, err);
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        drives[i] = swh_schedule_follows((enum swh_channel)i);
    enum swh_status status = swh_drive_change(&parted, read->log, drives, change, err);
    changed.log = &parted;
    if (status == SWH_OK)
        status = swh_readings_drive(to, vehicle, &changed, &facts, err);
    swh_log_memory_free(&parted);
    return status;
}

enum { CIRCUIT_DOUBTS = 3 };
struct circuit_doubts {
    const struct swh_case *vehicle;
    const struct swh_readings *read;
    const struct swh_residuals *at;
    struct swh_drive_facts facts;
    struct swh_nuisance *out;
    struct swh_team *team;
    bool good[CIRCUIT_DOUBTS];
};

static void circuit_doubt(long job, void *user)
{
    struct circuit_doubts *n = user;
    const enum swh_drive_doubt which = (enum swh_drive_doubt)(SWH_DOUBT_EDGES + job);
    struct swh_drive_change change;
    struct swh_case driven = {.n_own_faults = 0};
    double share = 0;
    if (!swh_drive_doubt(which, &n->facts, &change, &share))
        return;
    struct swh_residuals *r = malloc(sizeof *r);
    enum swh_status status =
        r ? swh_circuit_drive(&driven, n->vehicle, n->read, &change, NULL) : SWH_ERR_MEMORY;
    if (status == SWH_OK)
        status = swh_residuals_run(&driven, n->read, r, NULL);
    if (status == SWH_ERR_MEMORY)
        swh_team_note_memory(n->team);
    const bool good = status == SWH_OK && r->complete;
    if (good)
        take_change(&n->out[job], r, n->at, share);
    n->good[job] = good;
    free(r);
    swh_case_free(&driven);
}

int swh_circuit_drive_nuisances(const struct swh_case *vehicle, const struct swh_readings *read,
                                const struct swh_residuals *at, int threads, struct swh_nuisance out[3],
                                struct swh_team *team)
{
    struct circuit_doubts n = {.vehicle = vehicle, .read = read, .at = at, .out = out, .team = team};
    int found = 0;
    if (!read->log || read->sheet)
        return 0;
    n.facts = swh_drive_facts(read->log);
    swh_parallel(CIRCUIT_DOUBTS, threads, circuit_doubt, &n);
    for (int i = 0; i < CIRCUIT_DOUBTS; i++)
        if (n.good[i])
            out[found++] = out[i];
    return found;
}
