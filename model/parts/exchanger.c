/* Cells of the exchangers: what condenser and evaporators have in common. */
#include "model/parts/exchanger.h"

#include "model/base/wide.h"
#include "model/parts/derivatives.h"

#include <string.h>

/* as pipe_flows; the plenum is there only to fill a register */
SWH_WIDE static void cell_flow_corrections(const struct swh_flows *f, double *restrict flow_correction)
{
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_ACCUMULATOR; i++)
        flow_correction[i] = conductance_of_flow(f->m[i]);
}

/* a cell's flow is what leaves it */
void swh_flow_corrections(const struct swh_machine *m, struct swh_flows *f)
{
    double flow_correction[SWH_NODE_MAX];
    cell_flow_corrections(f, flow_correction);
    memcpy(f->flow_correction + SWH_NODE_COND, flow_correction + SWH_NODE_COND,
           (SWH_NODE_ACCUMULATOR - SWH_NODE_COND) * sizeof *flow_correction);
    for (int i = SWH_NODE_REAR; i < m->l.n_nodes; i++)
        f->flow_correction[i] = conductance_of_flow(f->m[i] / m->p.rear_evaporator_size);
}

/* ---- derivatives ---- */

/* q: heat that the fluid takes, at SWH_FLOW_REF and of a share of 1 */
void swh_cell_derivatives(struct derivatives *s, int node, int wall, double share, double inv_size,
                          const struct heat_derivatives *q)
{
    struct volume *v = &s->v[node];
    const double m = s->f->m[node], flow = m * inv_size,
                 flow_correction = share * s->f->flow_correction[node];
    /* all of it goes like (flow^2 + STILL_FLOW)^(3/8) */
    v->heat_m = flow_correction * q->heat * 0.75 * inv_size * flow / (flow * flow + STILL_FLOW);
    if (leads_to(node) >= 0) {
        v->lead = lead_share(node, m);
        v->lead_m = v->lead * v->heat_m + lead_share_slope(node, m) * flow_correction * q->heat;
    }
    v->heat = flow_correction * (q->T * v->T + q->P * v->P + q->x * v->x);
    v->wall = s->m->l.wall + wall;
    v->per_capacity = s->m->wall_inverse[wall];
}

/* ---- what it depends on ---- */
