/* The machine's right-hand side and our integrator as plain C functions, for a driver that knows neither
 * (SciPy through ctypes). One problem at a time: this is a test, not the library. */
#include "model/machine.h"
#include "solver/ode/ode.h"
#include "solver/simulate/run.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { DRIVES = 6 }; /* suction and discharge pressure, suction temperature, speed, ambient, vehicle speed */

static struct {
    struct swh_machine machine;
    struct swh_modes modes;
    struct swh_inputs in;
    struct swh_flows flows;
    struct swh_entries entries;
    int rows, at;
    bool steady;                /* inputs as they were set */
    const double *time, *drive; /* rows; rows x DRIVES */
    long calls, outside;
} b;

/* inputs at t: from the log by straight lines, or for the closed circuit a speed that swings smoothly */
static void inputs_at(double t)
{
    if (b.steady)
        return;
    if (b.rows == 0) {
        b.in.compressor_speed = (1500 + 400 * sin(2 * 3.14159265358979 * t / 300)) / 60;
        return;
    }
    while (b.at + 2 < b.rows && b.time[b.at + 1] <= t)
        b.at++;
    while (b.at > 0 && b.time[b.at] > t)
        b.at--;
    const double w = (t - b.time[b.at]) / (b.time[b.at + 1] - b.time[b.at]);
    double x[DRIVES];
    for (int i = 0; i < DRIVES; i++) {
        const double *d = b.drive + (size_t)b.at * DRIVES + i;
        x[i] = d[0] + w * (d[DRIVES] - d[0]);
    }
    b.in.suction_pressure = x[0];
    b.in.discharge_pressure = x[1];
    b.in.suction_temperature = x[2];
    b.in.compressor_speed = x[3];
    b.in.ambient_temperature = x[4];
    b.in.vehicle_speed = x[5];
}

/* Sets the problem: rows = 0 the closed circuit of the default vehicle at 32 degC with doors open, else the
 * body driven by rows of a log, which stay the caller's. Returns the number of states without the ledger's
 * sums, or -1. */
int bench_set(int rows, const double *time, const double *drive)
{
    struct swh_params p;
    struct swh_choices c;
    memset(&b, 0, sizeof b);
    swh_params_default(&p);
    swh_choices_default(&c);
    swh_inputs_default(&b.in);
    c.vehicle_circuit = rows > 0 ? SWH_CIRCUIT_PORTS : SWH_CIRCUIT_CLOSED;
    b.rows = rows;
    b.time = time;
    b.drive = drive;
    b.in.ambient_temperature = 305.15;
    b.in.doors_open = 1;
    b.modes.engaged = b.modes.fan_on = 1;
    p.run_start_temperature = p.run_start_body_temperature = 305.15;
    swh_machine_set(&b.machine, swh_fluid_get(SWH_R134A), &p, &c);
    return b.machine.l.sum;
}

/* Start state with sums (bench_states() values). Returns 0, or -1. */
int bench_start(double t, double *y)
{
    struct swh_error err = {0};
    inputs_at(t);
    return swh_machine_start(&b.machine, &b.in, b.machine.p.charge_nominal, y, &err) == SWH_OK ? 0 : -1;
}

int bench_states(void)
{
    return b.machine.l.n;
}

/* first index of the metal temperatures; how many stand in a row (rotor, piston, block, head, shell, oil) */
int bench_metal(void)
{
    return b.machine.l.scalar + SWH_S_rotor;
}

static int rates(double t, const double *y, double *dy, void *user)
{
    (void)user;
    b.calls++;
    inputs_at(t);
    const int bad = swh_machine_rates(&b.machine, &b.in, &b.modes, y, dy, &b.flows);
    b.outside += bad != 0;
    return bad;
}

static int derivatives(double t, const double *y, double *values, void *user)
{
    (void)t;
    (void)user;
    return swh_machine_jacobian(&b.machine, &b.modes, y, &b.flows, &b.entries, values);
}

/* The healthy van of bench_run: 30 degC in the sun, doors closed, whose frost thermostat changes the clutch.
 * Runs it and keeps the times of those changes, at most `room`; sets the closed problem at the same
 * conditions. Returns how many. */
struct edges {
    double *time;
    int n, room;
};

static enum swh_status keep_edge(const struct swh_event_record *r, void *user, struct swh_error *err)
{
    struct edges *e = user;
    (void)err;
    if ((r->event == SWH_EV_clutch_on || r->event == SWH_EV_clutch_off) && r->time > 0 && e->n < e->room)
        e->time[e->n++] = r->time;
    return SWH_OK;
}

int bench_set_cycling(double *time, int room)
{
    static struct swh_summary summary;
    struct swh_case c;
    struct swh_error err = {0};
    struct edges edges = {time, 0, room};
    const struct swh_sinks sinks = {.event = keep_edge, .user = &edges};
    swh_case_default(&c);
    c.conditions.ambient_temperature = 303.15;
    if (swh_run(&c, &sinks, &summary, &err) != SWH_OK)
        return -1;
    memset(&b, 0, sizeof b);
    b.in = c.conditions;
    b.modes.engaged = b.modes.fan_on = 1;
    b.steady = true;
    swh_machine_set(&b.machine, swh_fluid_get(SWH_R134A), &c.params, &c.choices);
    swh_case_free(&c);
    return edges.n;
}

/* The clutch as after `edge` of its changes (0: in). */
void bench_clutch(int edge)
{
    b.modes.engaged = edge % 2 == 0;
}

/* Rates for a driver that does not know the sums. Outside the property tables: not a number. */
void bench_rates(double t, const double *y, double *dy)
{
    double full[SWH_STATE_MAX] = {0}, rate[SWH_STATE_MAX];
    const size_t n = (size_t)b.machine.l.sum;
    memcpy(full, y, n * sizeof *y);
    if (rates(t, full, rate, NULL))
        rate[0] = NAN;
    memcpy(dy, rate, n * sizeof *dy);
}

/* Dense Jacobian of bench_rates by forward differences, row-major, with steps of `step` sizes per state:
 * SciPy's own choice of steps leaves the property tables. */
void bench_jacobian(double t, const double *y, const double *step, double *J)
{
    const int n = b.machine.l.sum;
    double z[SWH_STATE_MAX], f0[SWH_STATE_MAX], f1[SWH_STATE_MAX];
    memcpy(z, y, (size_t)n * sizeof *y);
    bench_rates(t, z, f0);
    for (int j = 0; j < n; j++) {
        z[j] = y[j] + step[j];
        bench_rates(t, z, f1);
        z[j] = y[j];
        for (int i = 0; i < n; i++)
            J[i * n + j] = (f1[i] - f0[i]) / step[j];
    }
}

/* How often the rates were evaluated since the problem was set, and how often outside the tables. */
void bench_calls(long *calls, long *outside)
{
    *calls = b.calls;
    *outside = b.outside;
}

/* Error weights of our integrator: relative and absolute part, all states without sums. */
void bench_tolerance(double *rtol, double *atol)
{
    for (int i = 0; i < b.machine.l.sum; i++)
        swh_state_tolerance(&b.machine.l, i, &rtol[i], &atol[i]);
}

/* `tight` > 0: relative tolerance of every state, with absolute parts shrunk likewise, stopping at every row
 * of the log; 0: as the program runs. */
static struct swh_ode *create(double tight, double t0, const double *y0)
{
    static char names[SWH_STATE_MAX][48];
    static const char *name[SWH_STATE_MAX];
    static double rtol[SWH_STATE_MAX], atol[SWH_STATE_MAX];
    static int col_ptr[SWH_STATE_MAX + 1], row_idx[SWH_STATE_MAX * 40];
    const struct swh_layout *l = &b.machine.l;
    for (int i = 0; i < l->n; i++) {
        swh_state_name(l, i, names[i], sizeof names[i]);
        name[i] = names[i];
        swh_state_tolerance(l, i, &rtol[i], &atol[i]);
        if (tight > 0) {
            rtol[i] = tight;
            atol[i] *= tight * 1e3;
        }
    }
    if (swh_machine_sparsity(&b.machine, col_ptr, row_idx, SWH_STATE_MAX * 40) < 0)
        return NULL;
    unsigned char slow[SWH_STATE_MAX], sloped[SWH_STATE_MAX];
    swh_machine_slow_states(&b.machine, slow);
    swh_machine_slope_columns(&b.machine, sloped);
    swh_entries_set(&b.entries, l->n, col_ptr, row_idx);
    const struct swh_ode_problem problem = {.n = l->n,
                                            .names = name,
                                            .rhs = rates,
                                            .rtol = rtol,
                                            .atol = atol,
                                            .col_ptr = col_ptr,
                                            .row_idx = row_idx,
                                            .slow = slow,
                                            .slow_time = SWH_SLOW_TIME,
                                            .derivatives = l->closed ? derivatives : NULL,
                                            .sloped = sloped,
                                            .kinked = tight <= 0};
    struct swh_error err = {0};
    return swh_ode_create(&problem, t0, y0, &err);
}

/* Our integrator from y0 (with sums) at t0 to the times t_out; out: n_out x bench_states(). Returns steps, or
 * -1. */
long bench_ours(double tight, double t0, const double *y0, int n_out, const double *t_out, double *out)
{
    struct swh_error err = {0};
    struct swh_ode_stats stats = {0};
    struct swh_ode *ode = create(tight, t0, y0);
    const int n = b.machine.l.n;
    int row = 0, k = 0;
    bool good = ode != NULL;
    while (good && k < n_out) {
        double stop = t_out[n_out - 1];
        while (tight > 0 && row < b.rows && b.time[row] <= swh_ode_time(ode) + 1e-9)
            row++;
        if (tight > 0 && row < b.rows)
            stop = fmin(stop, b.time[row]);
        good = swh_ode_step(ode, stop, &err) != SWH_ODE_FAILED;
        for (; good && k < n_out && t_out[k] <= swh_ode_time(ode) + 1e-9; k++)
            good = swh_ode_interpolate(ode, fmin(t_out[k], swh_ode_time(ode)), out + (size_t)k * (size_t)n,
                                       &err) == SWH_OK;
    }
    if (ode)
        swh_ode_get_stats(ode, &stats);
    swh_ode_free(ode);
    return good ? stats.steps : -1;
}

/* As bench_ours, with the clutch changed at each of the edges (ascending), where the integrator restarts as
 * the program's does. */
long bench_ours_cycling(double tight, double t0, const double *y0, int n_edges, const double *edge, int n_out,
                        const double *t_out, double *out)
{
    struct swh_error err = {0};
    struct swh_ode_stats stats = {0};
    bench_clutch(0);
    struct swh_ode *ode = create(tight, t0, y0);
    const size_t n = (size_t)b.machine.l.n;
    double y[SWH_STATE_MAX];
    int at = 0, k = 0;
    bool good = ode != NULL;
    while (good && k < n_out) {
        const double stop = at < n_edges ? fmin(edge[at], t_out[n_out - 1]) : t_out[n_out - 1];
        const enum swh_ode_result result = swh_ode_step(ode, stop, &err);
        good = result != SWH_ODE_FAILED;
        for (; good && k < n_out && t_out[k] <= swh_ode_time(ode) + 1e-9; k++)
            good = swh_ode_interpolate(ode, fmin(t_out[k], swh_ode_time(ode)), out + (size_t)k * n, &err) ==
                   SWH_OK;
        if (good && result == SWH_ODE_STOP && at < n_edges && stop == edge[at]) {
            bench_clutch(++at);
            memcpy(y, swh_ode_state(ode), n * sizeof *y);
            good = swh_ode_restart(ode, swh_ode_time(ode), y, &err) == SWH_OK;
        }
    }
    if (ode)
        swh_ode_get_stats(ode, &stats);
    swh_ode_free(ode);
    return good ? stats.steps : -1;
}
