#include "tests/solver/ode_ring.h"

#include <math.h>
#include <string.h>

static const double R = 80, CV_GAS = 700, V_PUMP = 1e-4;

static double volume(int i)
{
    return 1e-4 * (1 + i % 4);
}

static double temperature(const double *y, int i)
{
    return y[RING_U + i] / (CV_GAS * y[i]);
}

/* ideal gas that stiffens with density */
static double pressure(const double *y, int i)
{
    const double rho = y[i] / volume(i), dense = rho / 200;
    return R * rho * temperature(y, i) * (1 + dense * dense);
}

static void move(double *dy, int from, int to, double m, double h)
{
    dy[from] -= m;
    dy[to] += m;
    dy[RING_U + from] -= m * h;
    dy[RING_U + to] += m * h;
}

static double enthalpy(const double *y, int i)
{
    return (y[RING_U + i] + pressure(y, i) * volume(i)) / y[i];
}

/* orifice law made linear near zero, enthalpy blended from the upstream side */
static void passage(const double *y, double *dy, int a, int b)
{
    const double wide = a == 9 ? 3e-5 : 8e-4;
    const double dP = pressure(y, a) - pressure(y, b);
    const double m = wide * dP / sqrt(sqrt(dP * dP + 1e6));
    const double up = 0.5 + 0.5 * dP / sqrt(dP * dP + 1e4);
    move(dy, a, b, m, up * enthalpy(y, a) + (1 - up) * enthalpy(y, b));
}

static void pump(const struct ring *ring, const double *y, double *dy)
{
    const int from = RING_VOLUMES - 1, to = 0;
    const double m = ring->pump_on ? V_PUMP * y[from] / volume(from) : 0;
    const double work = 4e4 * m;
    move(dy, from, to, m, enthalpy(y, from));
    dy[RING_U + to] += work;
    dy[RING_WORK] = work;
}

int ring_rates(double t, const double *y, double *dy, void *user)
{
    (void)t;
    memset(dy, 0, RING_STATES * sizeof *dy);
    for (int i = 0; i < 2 * RING_VOLUMES; i++)
        if (!(y[i] > 0))
            return 1;
    for (int i = 0; i + 1 < RING_VOLUMES; i++)
        passage(y, dy, i, i + 1);
    pump(user, y, dy);
    for (int i = 0; i < RING_VOLUMES; i++) {
        const double out = 3 * (temperature(y, i) - (i < 10 ? 310 : 290));
        dy[RING_U + i] -= out;
        dy[RING_HEAT] += out;
    }
    return 0;
}

static int touches(int row, int col)
{
    if (row == col || col >= RING_HEAT)
        return row == col;
    const int last = RING_VOLUMES - 1, c = col % RING_VOLUMES, r = row % RING_VOLUMES;
    if (row == RING_HEAT)
        return 1;
    if (row == RING_WORK)
        return c == last;
    const int apart = r > c ? r - c : c - r;
    return apart <= 1 || (c == last && r == 0);
}

void ring_make(struct ring *ring, double rtol)
{
    memset(ring, 0, sizeof *ring);
    ring->pump_on = 1;
    int count = 0;
    for (int j = 0; j < RING_STATES; j++) {
        for (int i = 0; i < RING_STATES; i++)
            if (touches(i, j))
                ring->row_idx[count++] = i;
        ring->col_ptr[j + 1] = count;
        ring->rtol[j] = rtol;
        ring->atol[j] = j < RING_U ? rtol * 1e-4 : j < RING_HEAT ? rtol * 10 : INFINITY;
    }
    ring->problem = (struct swh_ode_problem){.n = RING_STATES,
                                             .rhs = ring_rates,
                                             .rtol = ring->rtol,
                                             .atol = ring->atol,
                                             .col_ptr = ring->col_ptr,
                                             .row_idx = ring->row_idx,
                                             .user = ring};
}

void ring_start(double *y)
{
    memset(y, 0, RING_STATES * sizeof *y);
    for (int i = 0; i < RING_VOLUMES; i++) {
        y[i] = 60 * volume(i);
        y[RING_U + i] = y[i] * CV_GAS * 300;
    }
}

double ring_mass(const double *y)
{
    double sum = 0;
    for (int i = 0; i < RING_VOLUMES; i++)
        sum += y[i];
    return sum;
}

double ring_energy(const double *y)
{
    double sum = y[RING_HEAT] - y[RING_WORK];
    for (int i = 0; i < RING_VOLUMES; i++)
        sum += y[RING_U + i];
    return sum;
}

static void widen(double *most, double now, double start)
{
    *most = fmax(*most, fabs(now / start - 1));
}

int ring_run(double rtol, double t_end, double period, double *y, double *mass_drift, double *energy_drift,
             struct swh_ode_stats *stats)
{
    struct ring ring;
    ring_make(&ring, rtol);
    ring_start(y);
    const double mass = ring_mass(y), energy = ring_energy(y);
    *mass_drift = *energy_drift = 0;
    struct swh_ode *o = swh_ode_create(&ring.problem, 0, y, 0);
    int restarts = 0, fine = o != NULL;
    for (int k = 1; fine && k * period <= t_end * (1 + 1e-12); k++) {
        enum swh_ode_result r = SWH_ODE_STEP;
        while (r == SWH_ODE_STEP) {
            r = swh_ode_step(o, k * period, 0);
            widen(mass_drift, ring_mass(swh_ode_state(o)), mass);
            widen(energy_drift, ring_energy(swh_ode_state(o)), energy);
        }
        memcpy(y, swh_ode_state(o), RING_STATES * sizeof *y);
        ring.pump_on = !ring.pump_on;
        fine = r == SWH_ODE_STOP && swh_ode_restart(o, k * period, y, 0) == SWH_OK;
        restarts++;
    }
    if (o)
        swh_ode_get_stats(o, stats);
    swh_ode_free(o);
    return fine ? restarts : -1;
}
