/* Expansion: thermostatic valve, orifice tube. */
#include "model/parts/valve.h"

#include "model/parts/derivatives.h"
#include "model/parts/pattern.h"

void swh_expansion_flows(const struct swh_machine *m, const double *y, struct swh_flows *f)
{
    const struct swh_cell_props *n = f->node;
    const double P_up = n[SWH_NODE_LIQUID].P + f->P_air;
    const double P_front = n[SWH_NODE_EVAP].P + f->P_air_low, rho_up = f->rho[SWH_NODE_LIQUID];
    f->opening = f->opening_rear = 1;
    if (m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE)
        f->m[SWH_NODE_LIQUID] =
            orifice_flow(m, &n[SWH_NODE_LIQUID], P_up, P_front, rho_up, f->rho[SWH_NODE_EVAP]);
    else {
        f->opening = valve_opening(m, scalar(m, y, SWH_S_bulb), n[SWH_NODE_EVAP_LAST].P);
        f->m[SWH_NODE_LIQUID] =
            valve_flow(m->p.valve_area * f->opening, P_up, P_front, rho_up, f->rho[SWH_NODE_EVAP]);
    }
    f->m_valve_rear = 0;
    if (!m->l.rear)
        return;
    f->opening_rear = valve_opening(m, scalar(m, y, SWH_S_bulb_rear), n[SWH_NODE_REAR_LAST].P);
    f->m_valve_rear = valve_flow(m->p.valve_area * m->p.rear_evaporator_size * f->opening_rear, P_up,
                                 n[SWH_NODE_REAR].P + f->P_air_low, rho_up, f->rho[SWH_NODE_REAR]);
}

/* ---- derivatives ---- */

void swh_valve_derivatives(struct derivatives *s, int pipe, int to, int last, int bulb, double area,
                           double opening)
{
    const struct swh_flows *f = s->f;
    const double P_up = f->P[SWH_NODE_LIQUID] + f->P_air, P_down = f->P[to] + f->P_air_low;
    const struct flow_derivatives q =
        pipe_derivatives(area * ROOT_2, PIPE_LINEAR, P_up, P_down, f->rho[SWH_NODE_LIQUID], f->rho[to]);
    const struct opening_derivatives by = opening_derivatives(s->m, s->y[bulb], f->P[last]);
    s->pipe.P_a[pipe] = opening * q.dP;
    s->pipe.P_b[pipe] = -opening * q.dP;
    s->pipe.rho_a[pipe] = opening * q.rho_a;
    s->pipe.rho_b[pipe] = opening * q.rho_b;
    s->dependency[s->n_dependencies++] =
        (struct dependency){pipe, SWH_NODE_LIQUID, to, last, q.m * by.P * s->v[last].P, bulb, q.m * by.T};
}

void swh_orifice_derivatives(struct derivatives *s)
{
    const struct swh_flows *f = s->f;
    const int a = SWH_NODE_LIQUID, b = SWH_NODE_EVAP;
    const struct orifice_derivatives q = orifice_derivatives(s->m, &f->node[a], f->P[a] + f->P_air,
                                                             f->P[b] + f->P_air_low, f->rho[a], f->rho[b]);
    s->pipe.P_a[a] = q.up;
    s->pipe.P_b[a] = q.down;
    s->pipe.rho_a[a] = q.rho_up;
    s->pipe.rho_b[a] = q.rho_down;
    s->dependency[s->n_dependencies++] = (struct dependency){a, a, b, a, q.T * s->v[a].T, -1, 0};
}

/* ---- what it depends on ---- */

void swh_pattern_expansion(const struct swh_machine *m, struct pattern *p)
{
    const int s = m->l.scalar, last = SWH_NODE_EVAP_LAST;
    const int rows[2] = {SWH_NODE_LIQUID, SWH_NODE_EVAP};
    for (int i = 0; i < 2; i++) {
        couple_node(m, p, rows[i], s + SWH_S_ncg);
        couple_node(m, p, rows[i], s + SWH_S_bulb);
        couple_nodes(m, p, rows[i], last);
    }
    if (!m->l.rear)
        return;
    const int rear_rows[2] = {SWH_NODE_LIQUID, SWH_NODE_REAR};
    for (int i = 0; i < 2; i++) {
        couple_node(m, p, rear_rows[i], s + SWH_S_bulb_rear);
        couple_node(m, p, rear_rows[i], s + SWH_S_ncg);
        couple_nodes(m, p, rear_rows[i], SWH_NODE_REAR_LAST);
    }
}
