/* Expansion: thermostatic valve, orifice tube. */
#include "model/parts/valve.h"

#include "model/parts/derivatives.h"

static struct throat orifice_of(const struct swh_machine *m)
{
    return (struct throat){m->orifice_CdA, m->p.orifice_flash_share};
}

/* thermostatic valve fully open */
static struct throat valve_of(const struct swh_machine *m, double size)
{
    return (struct throat){m->p.valve_area * size, m->p.valve_flash_share};
}

/* refrigerant's share of what flows out of the liquid line, or back out of the low side; by: P d(share)/dP,
 * over share */
static double share_of(const struct swh_flows *f, int to, double flow, double *by)
{
    const double share = flow < 0 ? swh_refrigerant_share(f->P[to], f->P_air_low)
                                  : swh_share_behind_liquid(f->P[SWH_NODE_LIQUID], f->P_air);
    *by = (flow < 0 ? 1 : 2) * (1 - share);
    return share;
}

static double flow_into(const struct swh_machine *m, const struct swh_flows *f, struct throat t, int to)
{
    double by;
    const double flow = throat_flow(m, t, &f->node[SWH_NODE_LIQUID], f->P[SWH_NODE_LIQUID] + f->P_air,
                                    f->P[to] + f->P_air_low, f->rho[SWH_NODE_LIQUID], f->rho[to]);
    return flow * share_of(f, to, flow, &by);
}

void swh_expansion_flows(const struct swh_machine *m, const double *y, struct swh_flows *f)
{
    f->opening = f->opening_rear = 1;
    struct throat front = orifice_of(m);
    if (m->c.vehicle_expansion != SWH_EXPANSION_ORIFICE) {
        f->opening = valve_opening(m, scalar(m, y, SWH_S_bulb), f->P[SWH_NODE_EVAP_LAST]);
        front = valve_of(m, 1);
    }
    f->m[SWH_NODE_LIQUID] = f->opening * flow_into(m, f, front, SWH_NODE_EVAP);
    f->m_valve_rear = 0;
    if (!m->l.rear)
        return;
    f->opening_rear = valve_opening(m, scalar(m, y, SWH_S_bulb_rear), f->P[SWH_NODE_REAR_LAST]);
    f->m_valve_rear =
        f->opening_rear * flow_into(m, f, valve_of(m, m->p.rear_evaporator_size), SWH_NODE_REAR);
}

/* ---- derivatives ---- */

/* of a flow times the share of refrigerant in it, which goes with the pressure where it comes from */
static void dilute(struct throat_derivatives *q, const struct swh_flows *f, int to)
{
    double by;
    const double share = share_of(f, to, q->m, &by), P = f->P[q->m < 0 ? to : SWH_NODE_LIQUID];
    const double by_P = P > 0 ? q->m * share * by / P : 0;
    q->up = share * q->up + (q->m < 0 ? 0 : by_P);
    q->down = share * q->down + (q->m < 0 ? by_P : 0);
    q->rho_up *= share;
    q->rho_down *= share;
    q->T *= share;
    q->m *= share;
}

/* of a throat's flow from the liquid line into node `to`, times the opening of its valve; the flow itself */
static double set_throat(struct derivatives *s, struct throat t, int pipe, int to, double opening)
{
    const struct swh_flows *f = s->f;
    const int a = SWH_NODE_LIQUID;
    struct throat_derivatives q = throat_derivatives(s->m, t, &f->node[a], f->P[a] + f->P_air,
                                                     f->P[to] + f->P_air_low, f->rho[a], f->rho[to]);
    dilute(&q, f, to);
    s->pipe.P_a[pipe] = opening * q.up;
    s->pipe.P_b[pipe] = opening * q.down;
    s->pipe.rho_a[pipe] = opening * q.rho_up;
    s->pipe.rho_b[pipe] = opening * q.rho_down;
    s->dependency[s->n_dependencies++] =
        (struct dependency){pipe, a, to, a, opening * q.T * s->v[a].T, -1, 0};
    return q.m;
}

void swh_valve_derivatives(struct derivatives *s, int pipe, int to, int last, int bulb, double size,
                           double opening)
{
    const struct opening_derivatives by = opening_derivatives(s->m, s->y[bulb], s->f->P[last]);
    const double q = set_throat(s, valve_of(s->m, size), pipe, to, opening);
    s->dependency[s->n_dependencies++] =
        (struct dependency){pipe, SWH_NODE_LIQUID, to, last, q * by.P * s->v[last].P, bulb, q * by.T};
}

void swh_orifice_derivatives(struct derivatives *s)
{
    set_throat(s, orifice_of(s->m), SWH_NODE_LIQUID, SWH_NODE_EVAP, 1);
}

/* ---- what it depends on ---- */
