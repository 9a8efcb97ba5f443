#include "model/layout.h"

#include <math.h>
#include <stdio.h>

struct scalar_info {
    const char *id;
    double size;
    int closed;
};
static const struct scalar_info scalars[SWH_SCALAR_COUNT] = {
#define SCALAR(id, unit, size, closed, help) {#id, size, closed},
    SWH_SCALARS(SCALAR)
#undef SCALAR
};

struct swh_layout swh_layout_make(int closed, int rear)
{
    struct swh_layout l = {0};
    l.closed = closed;
    l.rear = closed && rear;
    l.n_nodes = !closed ? 2 : l.rear ? SWH_NODE_MAX : SWH_NODE_REAR;
    l.n_walls = !closed ? 0 : l.rear ? SWH_WALL_MAX : SWH_WALL_REAR;
    for (int i = 0; i < SWH_SCALAR_COUNT; i++)
        l.n_scalars += closed || !scalars[i].closed; /* the closed circuit's scalars come last */
    l.M = 0;
    l.U = l.n_nodes;
    l.wall = 2 * l.n_nodes;
    l.scalar = l.wall + l.n_walls;
    l.sum = l.scalar + l.n_scalars;
    l.n = l.sum + SWH_SUM_COUNT;
    return l;
}

static void node_name(int node, char *out, unsigned n)
{
    if (node == SWH_NODE_CHAMBER)
        snprintf(out, n, "swash chamber");
    else if (node == SWH_NODE_PLENUM)
        snprintf(out, n, "discharge plenum");
    else if (node < SWH_NODE_RECEIVER)
        snprintf(out, n, "condenser cell %d", node - SWH_NODE_COND + 1);
    else if (node == SWH_NODE_RECEIVER)
        snprintf(out, n, "receiver");
    else if (node == SWH_NODE_SUBCOOL)
        snprintf(out, n, "subcooling pass");
    else if (node == SWH_NODE_LIQUID)
        snprintf(out, n, "liquid line");
    else if (node < SWH_NODE_ACCUMULATOR)
        snprintf(out, n, "evaporator cell %d", node - SWH_NODE_EVAP + 1);
    else if (node == SWH_NODE_ACCUMULATOR)
        snprintf(out, n, "accumulator/front of the suction line");
    else if (node == SWH_NODE_SUCTION)
        snprintf(out, n, "suction line");
    else
        snprintf(out, n, "rear evaporator cell %d", node - SWH_NODE_REAR + 1);
}

void swh_state_name(const struct swh_layout *l, int i, char *out, unsigned n)
{
    char node[48];
    if (i < l->wall) {
        node_name(i % l->n_nodes, node, sizeof node);
        snprintf(out, n, "%s of the %s", i < l->U ? "mass" : "energy", node);
    } else if (i < l->scalar)
        snprintf(out, n, "exchanger wall %d", i - l->wall + 1);
    else if (i < l->sum)
        snprintf(out, n, "%s", scalars[i - l->scalar].id);
    else
        snprintf(out, n, "ledger sum %d", i - l->sum + 1);
}

void swh_state_tolerance(const struct swh_layout *l, int i, double *rtol, double *atol)
{
    *rtol = 0;
    /* without circuit the two gas volumes only follow the prescribed ports, noise and all; nothing builds up
     * in them */
    const double gas = l->closed ? 1.5e-4 : 3e-3;
    if (i < l->U) { /* a gram in the tenth of a litre of a cell is worth about 10 kPa in vapour */
        *rtol = gas;
        *atol = 4e-6;
    } else if (i < l->wall) {
        *rtol = gas;
        *atol = 1;
    } else if (i < l->scalar)
        *atol = 5e-3;
    else if (i < l->sum) {
        *rtol = i - l->scalar <= SWH_S_clutch_face ? 0.0 : 1e-5;
        *atol = 2 * scalars[i - l->scalar].size;
        /* while the clutch grips a circuit's other states need shorter steps than its shaft; a replay's do
         * not */
        if (l->closed && i - l->scalar == SWH_S_speed_ratio)
            *atol *= 10;
    } else
        *atol = INFINITY;
}
