/* A stiff network to try the integrator on: a loop of twenty small gas volumes joined by flows driven by
 * small pressure differences, a pump that a pressure switch turns on and off, pipe walls, and sums that feed
 * nothing back. Ideal gas with constant heat capacities, so that every closed form is at hand. It resembles
 * no machine; it has the time constants (about 10 us to 500 s), the sparsity and the events of one. */
#ifndef SWH_TESTS_SOLVER_ODE_NETWORK_H
#define SWH_TESTS_SOLVER_ODE_NETWORK_H

#include "solver/ode/ode.h"

enum {
    NET_TANKS = 20,
    NET_SUMS = NET_TANKS + 1,
    NET_M = 0,                  /* masses [kg] */
    NET_U = NET_TANKS,          /* internal energies [J] */
    NET_W = 2 * NET_TANKS,      /* wall temperatures [K] */
    NET_SENSOR = 3 * NET_TANKS, /* lagged low pressure [Pa] */
    NET_SUM = NET_SENSOR + 1,   /* heats given off by the walls, then the work of the pump [J] */
    NET_STATES = NET_SUM + NET_SUMS,
    NET_ENTRIES = NET_STATES * 12,
    NET_COMPRESS = NET_TANKS - 1, /* the pump moves gas from this tank to tank 0 */
    NET_THROTTLE = 9              /* the narrow passage is behind this tank */
};

struct network {
    int pump_on;
    int forced;         /* 1: the pump follows the clock, 0: the switch on the sensor */
    double P_off, P_on; /* switch levels [Pa] */
    long rhs_calls;
    double volume[NET_TANKS]; /* m3 */
    double rtol[NET_STATES], atol[NET_STATES];
    int col_ptr[NET_STATES + 1], row_idx[NET_ENTRIES];
    int direction[1];
    char name[NET_STATES][16];
    const char *names[NET_STATES];
    double y0[NET_STATES];
};

/* Fills everything for a relative tolerance; the problem points into `net`. */
void network_make(struct network *net, double rtol, struct swh_ode_problem *problem);
int network_rates(double t, const double *y, double *dy, void *user);
int network_roots(double t, const double *y, double *g, void *user);
double network_mass(const double *y);
double network_energy(const double *y); /* gas and walls [J] */
/* what the walls gave off less the work of the pump, since the start [J] */
double network_energy_out(const double *y);
/* Runs to t_end [s], switching the pump at each root (or every 12 s if forced) and restarting.
 * Returns the number of events, -1 on failure; y gets the end state. */
int network_run(const struct swh_ode_problem *problem, struct network *net, double t_end, double *y,
                struct swh_ode_stats *stats, struct swh_error *err);

#endif
