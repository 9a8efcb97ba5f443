/* A system that conserves: twenty gas volumes in a ring, mass and internal energy each, flows driven by small
 * pressure differences, a pump, heat through the walls, and the pump's work and the heat as sums that feed
 * nothing back. Made up to be stiff (0.1 ms to 100 s) with every balance exact on paper. */
#ifndef SWH_TESTS_SOLVER_ODE_RING_H
#define SWH_TESTS_SOLVER_ODE_RING_H

#include "solver/ode/ode.h"

enum {
    RING_VOLUMES = 20,
    RING_U = RING_VOLUMES,
    RING_HEAT = 2 * RING_VOLUMES, /* J given off */
    RING_WORK,                    /* J put in */
    RING_STATES,
    RING_ENTRIES = RING_STATES * 8
};

struct ring {
    int pump_on;
    double rtol[RING_STATES], atol[RING_STATES];
    int col_ptr[RING_STATES + 1], row_idx[RING_ENTRIES];
    struct swh_ode_problem problem; /* points into this struct: do not copy */
};

void ring_make(struct ring *ring, double rtol);
void ring_start(double *y);
int ring_rates(double t, const double *y, double *dydt, void *ring);
/* kg, and J of gas less work plus heat: both constant */
double ring_mass(const double *y);
double ring_energy(const double *y);
/* From the start to t_end, the pump switched and the integrator restarted every `period` seconds. Returns the
 * number of restarts, -1 on failure; tells the largest relative departure of mass and energy on the way. */
int ring_run(double rtol, double t_end, double period, double *y, double *mass_drift, double *energy_drift,
             struct swh_ode_stats *stats);

#endif
