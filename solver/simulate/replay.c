/* Replay: a log's readings drive the compressor body. Rows are pulled one at a time through a short
 * look-ahead, so a log of any length needs bounded memory. */
#include "solver/simulate/engine.h"

#include "model/parts/clamp.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { AHEAD = 1024 }; /* rows held: at 100 Hz the slope of the clamp needs 600 */

const struct swh_replay_input swh_replay_inputs[SWH_REPLAY_INPUT_COUNT] = {
    {SWH_CH_suction_pressure, SWH_IN_suction_pressure},
    {SWH_CH_discharge_pressure, SWH_IN_discharge_pressure},
    {SWH_CH_suction_temperature, SWH_IN_suction_temperature},
    {SWH_CH_compressor_speed, SWH_IN_compressor_speed},
    {SWH_CH_vehicle_speed, SWH_IN_vehicle_speed},
    {SWH_CH_ambient_temperature, SWH_IN_ambient_temperature},
    {SWH_CH_underhood_temperature, SWH_IN_underhood_temperature},
    {SWH_CH_clutch, SWH_IN_clutch},
};

struct held {
    double time;
    double raw[SWH_CHANNEL_COUNT];
    double drive[SWH_REPLAY_INPUT_COUNT]; /* blanks filled */
    double T_suction;                     /* the pipe's gas, with the clamp's lag and pull taken out */
};

struct replay {
    struct swh_engine e;
    const struct swh_log_source *log;
    struct swh_case c;
    struct held row[AHEAD];
    int count; /* rows held */
    int at;    /* rows[at] .. rows[at + 1] is the present segment */
    bool more;
    bool thin;
    double t_out; /* next time a row may be handed on, when thinning */
    int next_row; /* first held row not yet emitted */
    double lag_sum2[SWH_CHANNEL_COUNT], lag_sum[SWH_CHANNEL_COUNT];
};

/* ---- pulling rows, filling blanks ---- */

static double fallback(const struct replay *r, int d)
{
    struct swh_inputs in = r->c.conditions;
    return *swh_input_at(&in, (int)swh_replay_inputs[d].input);
}

/* A blank stays what it was until the next reading comes, then the gap is bridged by a straight line (as far
 * back as the rows are still held and not yet passed). Clutch: held. */
static void fill(struct replay *r, int k)
{
    for (int d = 0; d < SWH_REPLAY_INPUT_COUNT; d++) {
        struct held *now = &r->row[k];
        const double x = now->raw[swh_replay_inputs[d].channel];
        const bool have = r->log->has[swh_replay_inputs[d].channel] && !isnan(x);
        now->drive[d] = have ? x : k > 0 ? r->row[k - 1].drive[d] : fallback(r, d);
        if (!have || swh_replay_inputs[d].input == SWH_IN_clutch)
            continue;
        int first = k;
        while (first > r->at + 1 && isnan(r->row[first - 1].raw[swh_replay_inputs[d].channel]))
            first--;
        if (first == k || first == 0)
            continue;
        const struct held *from = &r->row[first - 1];
        for (int i = first; i < k; i++) {
            const double w = (r->row[i].time - from->time) / (now->time - from->time);
            r->row[i].drive[d] = from->drive[d] + w * (x - from->drive[d]);
        }
    }
}

enum { D_SUCTION_TEMPERATURE = 2 };     /* ORDER of swh_replay_inputs */
static const double SLOPE_WINDOW = 3.0; /* half width of the slope's window [s] */

static const double FIRST_SHELL = 60.0; /* a shell reading later than this is not of the start [s] */

/* slope of the suction clamp's reading at row k [K/s], least squares over the window and at least over the
 * rows beside k: a slow logger's clamp lags as much as a fast one's */
static double clamp_slope(const struct replay *r, int k)
{
    double n = 0, st = 0, sx = 0, stt = 0, stx = 0;
    for (int way = -1; way <= 1; way += 2) {
        for (int i = way < 0 ? k : k + 1; i >= 0 && i < r->count; i += way) {
            const double t = r->row[i].time - r->row[k].time, x = r->row[i].drive[D_SUCTION_TEMPERATURE];
            if (fabs(t) > SLOPE_WINDOW && abs(i - k) > 1)
                break;
            n++;
            st += t;
            sx += x;
            stt += t * t;
            stx += t * x;
        }
    }
    const double spread = n * stt - st * st;
    return spread > 1e-9 ? (n * stx - st * sx) / spread : 0;
}

/* A clamp-on probe follows its pipe with a lag and is pulled toward the bay: T_pipe = T + lag dT/dt, pull
 * undone. The machine holds the result at saturation or above. Matters most for a cycling clutch, whose
 * suction pipe swings by tens of kelvin faster than the clamp can follow. */
static void undo_clamp(struct replay *r, int from)
{
    const struct swh_params *p = &r->c.params;
    for (int k = from; k < r->count; k++) {
        struct held *h = &r->row[k];
        const double lagged = h->drive[D_SUCTION_TEMPERATURE] + p->probe_suction_lag * clamp_slope(r, k);
        struct swh_inputs in = r->c.conditions;
        for (int d = 0; d < SWH_REPLAY_INPUT_COUNT; d++)
            *swh_input_at(&in, (int)swh_replay_inputs[d].input) = h->drive[d];
        h->T_suction = probe_pipe_temperature(p, lagged, swh_bay_temperature(p, &in));
    }
}

/* Up to here the clamp's slope is known from both sides; while rows are to come,
 * later rows can still change. */
static double known_until(const struct replay *r)
{
    int k = r->count - 1;
    while (r->more && k >= 0 && r->row[k].time > r->row[r->count - 1].time - SLOPE_WINDOW)
        k--;
    return k >= 0 ? r->row[k].time : -INFINITY;
}

/* Takes in rows until the buffer is full; of a live log as many as let the replay go beyond t. */
static enum swh_status pull(struct replay *r, double t, struct swh_error *err)
{
    struct swh_log_row row;
    int fresh = r->count;
    while (fresh > 0 && r->row[fresh - 1].time > r->row[r->count - 1].time - SLOPE_WINDOW)
        fresh--; /* these saw only one side of their window */
    enum swh_status status = SWH_OK;
    while (r->more && r->count < AHEAD && !(r->log->live && known_until(r) > t + 1e-9)) {
        status = r->log->next(r->log->user, &row, &r->more, err);
        if (status != SWH_OK || !r->more)
            break;
        struct held *h = &r->row[r->count];
        h->time = row.value[SWH_CH_time];
        memcpy(h->raw, row.value, sizeof h->raw);
        fill(r, r->count++);
    }
    undo_clamp(r, fresh > r->at ? fresh : r->at);
    return status;
}

/* forgets rows that are passed, one kept before the present segment */
static void forget(struct replay *r)
{
    const int drop = r->at < r->next_row ? r->at : r->next_row;
    if (drop < AHEAD / 2)
        return;
    memmove(r->row, r->row + drop, (size_t)(r->count - drop) * sizeof r->row[0]);
    r->count -= drop;
    r->at -= drop;
    r->next_row -= drop;
}

/* ---- inputs ---- */

static void inputs_at(double t, struct swh_inputs *in, void *user)
{
    const struct replay *r = user;
    *in = r->c.conditions;
    int k = r->at;
    while (k + 2 < r->count && r->row[k + 1].time <= t)
        k++;
    while (k > 0 && r->row[k].time > t)
        k--;
    const struct held *a = &r->row[k], *b = &r->row[k + 1 < r->count ? k + 1 : k];
    const double span = b->time - a->time;
    const double w = span > 0 ? fmin(fmax((t - a->time) / span, 0.0), 1.0) : 0;
    for (int d = 0; d < SWH_REPLAY_INPUT_COUNT; d++) {
        double *x = swh_input_at(in, (int)swh_replay_inputs[d].input);
        if (swh_replay_inputs[d].input ==
            SWH_IN_clutch) /* the edge lies somewhere between two rows: half way */
            *x = w < 0.5 ? a->drive[d] : b->drive[d];
        else
            *x = a->drive[d] + w * (b->drive[d] - a->drive[d]);
    }
    in->suction_temperature = a->T_suction + w * (b->T_suction - a->T_suction);
}

/* ---- rows out, comparison ---- */

static void compare(struct replay *r, const double *predicted, const double *measured)
{
    static const enum swh_channel compared[] = {SWH_CH_discharge_temperature, SWH_CH_shell_temperature};
    struct swh_summary *s = r->e.summary;
    for (unsigned i = 0; i < sizeof compared / sizeof compared[0]; i++) {
        const enum swh_channel ch = compared[i];
        const double d = predicted[ch] - measured[ch];
        if (!isfinite(d))
            continue;
        r->lag_sum[ch] += d;
        r->lag_sum2[ch] += d * d;
        s->compared[ch]++;
    }
}

static enum swh_status emit(struct swh_engine *e, double t, void *user, struct swh_error *err)
{
    struct replay *r = user;
    while (r->next_row < r->count && r->row[r->next_row].time <= t + 1e-9) {
        const struct held *h = &r->row[r->next_row++];
        const double when = fmin(h->time, t);
        double predicted[SWH_CHANNEL_COUNT];
        enum swh_status status = SWH_OK;
        const bool hand_on = !r->thin || when >= r->t_out - 1e-9;
        const bool needed = hand_on || !isnan(h->raw[SWH_CH_discharge_temperature]) ||
                            !isnan(h->raw[SWH_CH_shell_temperature]);
        if (needed)
            status = swh_engine_observe(e, when, predicted, err);
        if (status == SWH_OK && needed)
            compare(r, predicted, h->raw);
        if (status == SWH_OK && hand_on) {
            r->t_out = when + r->c.params.run_output_interval;
            status = swh_engine_row(e, when, h->raw, err);
        }
        if (status != SWH_OK)
            return status;
    }
    while (r->at + 2 < r->count && r->row[r->at + 1].time <= t + 1e-9)
        r->at++;
    return SWH_OK;
}

/* ---- going through the log ---- */

/* the next clutch edge before `end`, else the end */
static double next_stop(const struct replay *r, double t, double end, bool *edge)
{
    const int clutch = SWH_REPLAY_INPUT_COUNT - 1;
    for (int k = r->at; k + 1 < r->count; k++) {
        const double when = 0.5 * (r->row[k].time + r->row[k + 1].time);
        if (when > end)
            break;
        if (when <= t + 1e-9 || r->row[k].drive[clutch] == r->row[k + 1].drive[clutch])
            continue;
        *edge = true;
        return when;
    }
    *edge = false;
    return end;
}

static enum swh_status go(struct replay *r, struct swh_error *err)
{
    bool ended = false;
    enum swh_status status = emit(&r->e, swh_ode_time(r->e.ode), r, err);
    while (status == SWH_OK && !ended) {
        forget(r);
        const double t = swh_ode_time(r->e.ode);
        status = pull(r, t, err);
        double end = known_until(r);
        if (end <= t + 1e-9)
            end = r->row[r->count - 1].time; /* rows closer than the buffer reaches */
        if (status != SWH_OK || end <= t + 1e-9)
            break;
        bool edge = false;
        const double stop = next_stop(r, t, end, &edge);
        status = swh_engine_advance(&r->e, stop, emit, r, &ended, err);
        if (status == SWH_OK && !ended && edge)
            status = swh_engine_settle(&r->e, true, err);
    }
    return status;
}

/* The first shell reading is the best guess of the body's temperature at the start. */
static void set_start(struct replay *r)
{
    struct swh_params *p = &r->c.params;
    const double ambient = r->row[0].drive[5];
    if (isnan(p->run_start_temperature))
        p->run_start_temperature = ambient;
    for (int k = 0; k < r->count && isnan(p->run_start_body_temperature); k++)
        if (r->row[k].time <= r->row[0].time + FIRST_SHELL)
            p->run_start_body_temperature = r->row[k].raw[SWH_CH_shell_temperature];
    if (isnan(p->run_start_body_temperature))
        p->run_start_body_temperature = ambient;
    r->c.choices.vehicle_circuit = SWH_CIRCUIT_PORTS;
}

static void start_probes(struct replay *r)
{
    double *s = r->e.y + r->e.machine.l.scalar;
    const double *raw = r->row[0].raw;
    if (!isnan(raw[SWH_CH_discharge_temperature]))
        s[SWH_S_probe_discharge] = raw[SWH_CH_discharge_temperature];
    if (!isnan(raw[SWH_CH_suction_temperature]))
        s[SWH_S_probe_suction] = raw[SWH_CH_suction_temperature];
}

static enum swh_status start(struct replay *r, const struct swh_sinks *sinks, struct swh_summary *summary,
                             struct swh_error *err)
{
    enum swh_status status = pull(r, -INFINITY, err);
    if (status == SWH_OK && r->log->has[SWH_CH_shell_temperature] && r->count > 0 &&
        isnan(r->row[0].raw[SWH_CH_shell_temperature]))
        status =
            pull(r, r->row[0].time + FIRST_SHELL, err); /* a live log's gun reads every half minute or so */
    if (status != SWH_OK)
        return status;
    if (r->count < 2) {
        swh_error_set(err, SWH_ERR_INPUT, "the log has %d row%s", r->count, r->count == 1 ? "" : "s");
        swh_error_expected(err, "at least 2 rows with time, pressures and suction temperature");
        return SWH_ERR_INPUT;
    }
    set_start(r);
    r->e.inputs = inputs_at;
    r->e.inputs_user = r;
    r->e.clutch_from_inputs = true;
    r->t_out = -INFINITY;
    status = swh_engine_start(&r->e, &r->c, r->row[0].time, sinks, summary, err);
    if (status != SWH_OK)
        return status;
    memcpy(r->e.y, swh_ode_state(r->e.ode), (size_t)r->e.machine.l.n * sizeof r->e.y[0]);
    start_probes(r);
    return swh_ode_restart(r->e.ode, r->row[0].time, r->e.y, err);
}

static void finish_comparison(struct replay *r)
{
    struct swh_summary *s = r->e.summary;
    if (!s)
        return; /* the log's first rows were bad: nothing was begun */
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        const double n = (double)s->compared[i];
        s->rms[i] = n > 0 ? sqrt(r->lag_sum2[i] / n) : NAN;
        s->bias[i] = n > 0 ? r->lag_sum[i] / n : NAN;
    }
}

enum swh_status swh_replay(const struct swh_case *c, const struct swh_log_source *log, bool thin,
                           const struct swh_sinks *sinks, struct swh_summary *summary, struct swh_error *err)
{
    memset(summary, 0, sizeof *summary);
    struct replay *r = calloc(1, sizeof *r);
    if (!r)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a replay");
    r->c = *c;
    memset(&r->c.schedule, 0, sizeof r->c.schedule);
    r->log = log;
    r->more = true;
    r->thin = thin;
    enum swh_status status = start(r, sinks, summary, err);
    if (status == SWH_OK)
        status = go(r, err);
    summary->complete = status == SWH_OK;
    swh_engine_finish(&r->e);
    finish_comparison(r);
    swh_engine_free(&r->e);
    free(r);
    return status;
}
