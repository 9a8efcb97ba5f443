/* Derivatives of the rates with respect to what the circuit's volumes hold: what the parts compute of it and
 * machine_jacobian.c joins. Private to model/. */
#ifndef SWH_MODEL_PARTS_DERIVATIVES_H
#define SWH_MODEL_PARTS_DERIVATIVES_H

#include "model/base/pair.h"
#include "model/parts/parts.h"

enum { BY_MASS, BY_ENERGY, NODE_STATES };

/* Pipes and valves bear the number of the volume they lead out of; the valve of the rear evaporator, the
 * second one out of the liquid line, comes last. */
enum { REAR_VALVE = SWH_NODE_MAX, PIPES };

/* Derivatives of their flows with the pressures and densities of both ends, a and b, and of what energy they
 * carry with the flow itself [J/kg] and with the enthalpies of what leaves either end [kg/s]. */
struct pipes {
    double P_a[PIPES], P_b[PIPES], rho_a[PIPES], rho_b[PIPES];
    double h[PIPES], forward[PIPES], backward[PIPES];
};

/* derivatives of a volume's properties with its own states */
struct volume {
    pair P, T, x, h, out, back, heat; /* heat: that its wall gives it [W] */
    double heat_m;                    /* slope of that with the flow that leaves [J/kg] */
    double lead, lead_m; /* share of it that the next volume takes; slope of what that takes with the flow */
    double per_capacity; /* of the wall [K/J], if there is one */
    int wall;            /* its row; -1: none */
};

/* what else the flow of a valve from a to b depends on: a volume (of its own ends something more), a bulb */
struct dependency {
    int pipe, a, b;
    int node;
    pair m_node;
    int bulb; /* index of its state; -1: none */
    double m_bulb;
};

struct derivatives {
    const struct swh_machine *m;
    const double *y;
    const struct swh_flows *f;
    const struct swh_entries *e;
    double *J;
    struct swh_cell_derivatives look[SWH_NODE_MAX];
    struct volume v[SWH_NODE_MAX];
    struct pipes pipe;
    struct dependency dependency[4];
    int n_dependencies;
};

/* the compressor's two volumes come first: their columns are not among the known */
enum { FIRST_KNOWN = SWH_NODE_PLENUM + 1 };

/* places of the rows in the columns of a volume's two states */
struct columns {
    const short *M, *U;
};

static inline struct columns columns_of(const struct derivatives *s, int node)
{
    return (struct columns){s->e->at[s->m->l.M + node], s->e->at[s->m->l.U + node]};
}

static inline void put(double *J, struct columns c, int row, pair value)
{
    J[c.M[row]] = value[BY_MASS];
    J[c.U[row]] = value[BY_ENERGY];
}

static inline void add(struct derivatives *s, int row, int node, pair value)
{
    const struct columns c = columns_of(s, node);
    s->J[c.M[row]] += value[BY_MASS];
    s->J[c.U[row]] += value[BY_ENERGY];
}

/* Properties of all volumes with their own states (volume.c). */
void swh_volume_derivatives(struct derivatives *s);
/* of the vapour's enthalpy, that of the volume itself in one phase; before softening */
pair swh_vapour_enthalpy_derivatives(const struct derivatives *s, int node);

/* Flow out of node a to node b; of the energy that a pipe's flow m carries; of all pipes that lead to the
 * next node (pipe.c). Of the heat of a line of UA [W/K], into the matrix. */
void swh_pipe_derivatives(struct derivatives *s, int a, int b);
void swh_pipe_energy_derivatives(struct pipes *p, int pipe, double m, double h_a, double h_b);
void swh_chain_derivatives(const struct swh_machine *m, const struct swh_flows *f, struct pipes *p);
void swh_lines_derivatives(struct derivatives *s, int node, double UA);

/* Thermostatic valve into node `to`, whose evaporator ends with node `last`; orifice tube (valve.c). */
void swh_valve_derivatives(struct derivatives *s, int pipe, int to, int last, int bulb, double size,
                           double opening);
void swh_orifice_derivatives(struct derivatives *s);

/* what a leak or a filling takes along, into the matrix (vent.c) */
void swh_vent_derivatives(struct derivatives *s, const struct swh_modes *modes);

/* q: heat that the fluid takes, at SWH_FLOW_REF and of a share of 1 (exchanger.c) */
struct heat_derivatives;
void swh_cell_derivatives(struct derivatives *s, int node, int wall, double share, double inv_size,
                          const struct heat_derivatives *q);
void swh_condenser_derivatives(struct derivatives *s, int node, int wall, double share);
void swh_evaporator_derivatives(struct derivatives *s, int node, int wall, double share, double inv_size);

/* bulbs, clamps and switches, into the matrix (probes.c) */
void swh_probe_derivatives(struct derivatives *s);

#endif
