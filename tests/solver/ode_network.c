#include "tests/solver/ode_network.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* carbon dioxide as an ideal gas, rounded; any gas would do */
static const double gas_R = 189.0, gas_cv = 657.0, gas_cp = 846.0;
static const double wall_C = 120.0;    /* J/K */
static const double T_around = 300.0;  /* K */
static const double sensor_time = 7.0; /* s */

static double pressure(const struct network *net, const double *y, int i)
{
    return gas_R / gas_cv * y[NET_U + i] / net->volume[i];
}

static double temperature(const double *y, int i)
{
    return y[NET_U + i] / (gas_cv * y[NET_M + i]);
}

/* orifice law, with the square root made smooth near zero: kg/s from tank i to the next */
static double flow(int i, double dP)
{
    const double wide = i == NET_THROTTLE ? 4e-5 : 1e-3;
    return wide * dP / sqrt(sqrt(dP * dP + 300.0 * 300.0));
}

static double pumped(const struct network *net, const double *y)
{
    const double swept = 1.6e-3; /* m3/s */
    return net->pump_on ? swept * y[NET_M + NET_COMPRESS] / net->volume[NET_COMPRESS] : 0;
}

static double wall_to_gas(int i)
{
    return 6.0 + 0.3 * i; /* W/K */
}

static void walls(const double *y, double *dy)
{
    for (int i = 0; i < NET_TANKS; i++) {
        const double in = wall_to_gas(i) * (temperature(y, i) - y[NET_W + i]);
        const double out = 4.0 * (y[NET_W + i] - T_around);
        dy[NET_U + i] -= in;
        dy[NET_W + i] = (in - out) / wall_C;
        dy[NET_SUM + i] = out;
    }
}

static void pump(const struct network *net, const double *y, double *dy)
{
    const double m = pumped(net, y);
    const double T = temperature(y, NET_COMPRESS);
    const double ratio = fmax(1.0, pressure(net, y, 0) / pressure(net, y, NET_COMPRESS));
    const double work = m * gas_cp * T * (pow(ratio, gas_R / gas_cp) - 1); /* isentropic, textbook */
    dy[NET_M + NET_COMPRESS] -= m;
    dy[NET_M] += m;
    dy[NET_U + NET_COMPRESS] -= m * gas_cp * T;
    dy[NET_U] += m * gas_cp * T + work;
    dy[NET_SUM + NET_SUMS - 1] = work;
}

int network_rates(double t, const double *y, double *dy, void *user)
{
    struct network *net = user;
    (void)t;
    net->rhs_calls++;
    for (int i = 0; i < 2 * NET_TANKS; i++) {
        if (!(y[i] > 0))
            return 1;
        dy[i] = 0;
    }
    for (int i = 0; i + 1 < NET_TANKS; i++) {
        const double m = flow(i, pressure(net, y, i) - pressure(net, y, i + 1));
        const double H = m * gas_cp * temperature(y, m > 0 ? i : i + 1);
        dy[NET_M + i] -= m;
        dy[NET_M + i + 1] += m;
        dy[NET_U + i] -= H;
        dy[NET_U + i + 1] += H;
    }
    pump(net, y, dy);
    walls(y, dy);
    dy[NET_SENSOR] = (pressure(net, y, NET_COMPRESS) - y[NET_SENSOR]) / sensor_time;
    return 0;
}

int network_roots(double t, const double *y, double *g, void *user)
{
    const struct network *net = user;
    (void)t;
    g[0] = net->forced ? 1.0 : (y[NET_SENSOR] - (net->pump_on ? net->P_off : net->P_on)) / 1e5;
    return 0;
}

static int touches(int row, int col)
{
    const int r = row % NET_TANKS, c = col % NET_TANKS;
    if (row == col)
        return 1;
    if (col >= NET_SENSOR)
        return 0;
    if (row == NET_SENSOR)
        return col == NET_U + NET_COMPRESS;
    if (row == NET_SUM + NET_SUMS - 1)
        return col < NET_W && (c == 0 || c == NET_COMPRESS);
    if (row >= NET_SUM)
        return col == NET_W + row - NET_SUM;
    if (row >= NET_W || col >= NET_W)
        return r == c && !(row < NET_U) && !(row >= NET_W && col >= NET_W);
    const int apart = abs(r - c);
    return apart <= 1 || apart == NET_TANKS - 1;
}

static void make_pattern(struct network *net)
{
    int count = 0;
    for (int j = 0; j < NET_STATES; j++) {
        for (int i = 0; i < NET_STATES; i++)
            if (touches(i, j))
                net->row_idx[count++] = i;
        net->col_ptr[j + 1] = count;
    }
}

static void make_start(struct network *net)
{
    for (int i = 0; i < NET_TANKS; i++) {
        net->volume[i] = i % 5 == 3 ? 2e-5 : 2e-4 + 1e-5 * i;
        const double P = 6e5;
        net->y0[NET_M + i] = P * net->volume[i] / (gas_R * T_around);
        net->y0[NET_U + i] = net->y0[NET_M + i] * gas_cv * T_around;
        net->y0[NET_W + i] = T_around;
    }
    net->y0[NET_SENSOR] = 6e5;
}

static void make_tolerances(struct network *net, double rtol)
{
    for (int i = 0; i < NET_STATES; i++) {
        net->rtol[i] = rtol;
        net->atol[i] = i < NET_U        ? rtol * 1e-4
                       : i < NET_W      ? rtol * 10
                       : i < NET_SENSOR ? rtol * 10
                                        : rtol * 1e4;
        if (i >= NET_SUM)
            net->atol[i] = INFINITY;
    }
}

void network_make(struct network *net, double rtol, struct swh_ode_problem *problem)
{
    static const char *const kind[] = {"mass", "energy", "wall"};
    memset(net, 0, sizeof *net);
    net->pump_on = 1;
    net->P_off = 5.5e5;
    net->P_on = 5.9e5;
    for (int i = 0; i < NET_STATES; i++) {
        snprintf(net->name[i], sizeof net->name[i], "%s_%d", i < NET_SENSOR ? kind[i / NET_TANKS] : "sum",
                 i < NET_SENSOR ? i % NET_TANKS : i - NET_SUM);
        net->names[i] = net->name[i];
    }
    snprintf(net->name[NET_SENSOR], sizeof net->name[0], "sensor");
    make_pattern(net);
    make_start(net);
    make_tolerances(net, rtol);
    *problem = (struct swh_ode_problem){.n = NET_STATES,
                                        .names = net->names,
                                        .rhs = network_rates,
                                        .n_roots = 1,
                                        .roots = network_roots,
                                        .root_direction = net->direction,
                                        .rtol = net->rtol,
                                        .atol = net->atol,
                                        .col_ptr = net->col_ptr,
                                        .row_idx = net->row_idx,
                                        .user = net};
}

double network_mass(const double *y)
{
    double m = 0;
    for (int i = 0; i < NET_TANKS; i++)
        m += y[NET_M + i];
    return m;
}

double network_energy(const double *y)
{
    double E = 0;
    for (int i = 0; i < NET_TANKS; i++)
        E += y[NET_U + i] + wall_C * y[NET_W + i];
    return E;
}

double network_energy_out(const double *y)
{
    double out = -y[NET_SUM + NET_TANKS];
    for (int i = 0; i < NET_TANKS; i++)
        out += y[NET_SUM + i];
    return out;
}

int network_run(const struct swh_ode_problem *problem, struct network *net, double t_end, double *y,
                struct swh_ode_stats *stats, struct swh_error *err)
{
    struct swh_ode *o = swh_ode_create(problem, 0, net->y0, err);
    int events = o ? 0 : -1;
    while (events >= 0 && swh_ode_time(o) < t_end) {
        const double edge = net->forced ? 12.0 * (events + 1) : t_end;
        const enum swh_ode_result r = swh_ode_step(o, fmin(edge, t_end), err);
        memcpy(y, swh_ode_state(o), NET_STATES * sizeof *y);
        if (r == SWH_ODE_FAILED)
            events = -1;
        if (r == SWH_ODE_STEP || events < 0 || swh_ode_time(o) >= t_end)
            continue;
        events++;
        net->pump_on = !net->pump_on;
        if (swh_ode_restart(o, swh_ode_time(o), y, err) != SWH_OK)
            events = -1;
    }
    if (o && stats)
        swh_ode_get_stats(o, stats);
    swh_ode_free(o);
    return events;
}
