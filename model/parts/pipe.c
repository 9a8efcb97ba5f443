/* Pipes between the volumes, and the heat of the lines. m mass flow, h enthalpy. */
#include "model/parts/pipe.h"

#include "model/base/wide.h"
#include "model/parts/derivatives.h"

#include <string.h>

static double between(const struct swh_machine *m, const struct swh_flows *f, int a, int b)
{
    return pipe_flow(m->K_out[a], m->linear_out[a], f->P[a], f->P[b], f->rho[a], f->rho[b]);
}

/* all pipes that lead to the next node: no branches, so that several are computed at once */
SWH_WIDE static void pipe_flows(const struct swh_machine *m, const struct swh_flows *f, double *restrict out)
{
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++)
        out[i] = between(m, f, i, i + 1);
}

/* through the port into the chamber; the gauge sits at the end of the suction line */
static void suction_flow(const struct swh_machine *m, struct swh_flows *f)
{
    f->m[SWH_NODE_SUCTION] = between(m, f, SWH_NODE_SUCTION, SWH_NODE_CHAMBER);
    f->P_low_port = f->P[SWH_NODE_SUCTION];
    f->h_port = f->h_donor_forward[SWH_NODE_SUCTION];
}

void swh_circuit_flows(const struct swh_machine *m, const struct swh_modes *modes, const double *y,
                       struct swh_flows *f)
{
    double out[SWH_NODE_MAX];
    pipe_flows(m, f, out);
    memcpy(f->m + SWH_NODE_PLENUM, out + SWH_NODE_PLENUM, (SWH_NODE_SUCTION - SWH_NODE_PLENUM) * sizeof *out);
    for (int i = SWH_NODE_REAR; i < m->l.n_nodes; i++)
        f->m[i] = between(m, f, i, after_rear(i));
    swh_expansion_flows(m, y, f);
    suction_flow(m, f);
    f->m_relief = 0;
    if (modes->relief_open)
        f->m_relief = m->p.controls_relief_area *
                      sqrt(f->rho[SWH_NODE_PLENUM] *
                           swh_smooth_pos(f->node[SWH_NODE_PLENUM].P + f->P_air - 1e5, 100.0));
}

/* the same product is taken and given, so that mass and energy are conserved to the last bit */
static void advect(const struct swh_machine *l, double *dy, double flow, int a, int b, double h_a, double h_b)
{
    const double H = energy_flow(flow, h_a, h_b);
    dy[l->l.M + a] -= flow;
    dy[l->l.M + b] += flow;
    dy[l->l.U + a] -= H;
    dy[l->l.U + b] += H;
}

/* what the pipes to the next node take along; what leaves one volume enters the next, the same number */
SWH_WIDE static void advect_pipes(const struct swh_flows *f, double *restrict dM, double *restrict dU)
{
    double H[SWH_NODE_SUCTION];
    H[0] = 0; /* the chamber's pipe is the compressor */
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++)
        H[i] = energy_flow(f->m[i], f->h_donor_forward[i], f->h_donor_reverse[i + 1]);
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++) {
        dM[i] += f->m[i - 1] - f->m[i];
        dU[i] += H[i - 1] - H[i];
    }
    dM[SWH_NODE_SUCTION] += f->m[SWH_NODE_SUCTION - 1];
    dU[SWH_NODE_SUCTION] += H[SWH_NODE_SUCTION - 1];
}

void swh_advect_circuit(const struct swh_machine *m, const struct swh_flows *f, double *dy)
{
    advect_pipes(f, dy + m->l.M, dy + m->l.U);
    advect(m, dy, f->m[SWH_NODE_SUCTION], SWH_NODE_SUCTION, SWH_NODE_CHAMBER,
           f->h_donor_forward[SWH_NODE_SUCTION], f->h_donor_forward[SWH_NODE_CHAMBER]);
    if (!m->l.rear)
        return;
    advect(m, dy, f->m_valve_rear, SWH_NODE_LIQUID, SWH_NODE_REAR, f->h_donor_forward[SWH_NODE_LIQUID],
           f->h_donor_forward[SWH_NODE_REAR]);
    for (int i = SWH_NODE_REAR; i < SWH_NODE_MAX; i++)
        advect(m, dy, f->m[i], i, after_rear(i), f->h_donor_forward[i], f->h_donor_reverse[after_rear(i)]);
}

/* heat [W] from the air under the bonnet into a volume through UA [W/K] */
static double line_heat(const struct swh_machine *m, const struct swh_flows *f, double *dy, int node,
                        double UA)
{
    const double Q = UA * (f->T_bay - f->node[node].T);
    dy[m->l.U + node] += Q;
    return Q;
}

void swh_lines_part(const struct swh_machine *m, struct swh_flows *f, double *dy)
{
    const struct swh_params *p = &m->p;
    const double discharge = line_heat(m, f, dy, SWH_NODE_PLENUM, p->discharge_line_ua);
    *heat_of(f, SWH_CH_heat_lines) = discharge;
    if (!m->l.closed) {
        *heat_of(f, SWH_CH_heat_condenser) = *heat_of(f, SWH_CH_heat_evaporator) = 0;
        return;
    }
    const double front = line_heat(m, f, dy, SWH_NODE_ACCUMULATOR, m->UA_accumulator);
    const double suction = line_heat(m, f, dy, SWH_NODE_SUCTION, p->suction_line_ua - m->UA_accumulator);
    const double liquid = line_heat(m, f, dy, SWH_NODE_LIQUID, p->liquid_line_ua);
    *heat_of(f, SWH_CH_heat_lines) = front + suction + liquid + discharge;
}

/* ---- derivatives ---- */

static inline void set_flow(const struct swh_machine *m, const struct swh_flows *f, struct pipes *p, int a,
                            int b)
{
    const struct flow_derivatives q =
        pipe_derivatives(m->K_out[a], m->linear_out[a], f->P[a], f->P[b], f->rho[a], f->rho[b]);
    p->P_a[a] = q.dP;
    p->P_b[a] = -q.dP;
    p->rho_a[a] = q.rho_a;
    p->rho_b[a] = q.rho_b;
}

void swh_pipe_energy_derivatives(struct pipes *p, int pipe, double m, double h_a, double h_b)
{
    const double root = sqrt(m * m + CARRY_ROUNDED), sign = m / root;
    p->h[pipe] = 0.5 * ((1 + sign) * h_a + (1 - sign) * h_b);
    p->forward[pipe] = 0.5 * (m + root);
    p->backward[pipe] = 0.5 * (m - root);
}

void swh_pipe_derivatives(struct derivatives *s, int a, int b)
{
    set_flow(s->m, s->f, &s->pipe, a, b);
    swh_pipe_energy_derivatives(&s->pipe, a, s->f->m[a], s->f->h_donor_forward[a], s->f->h_donor_reverse[b]);
}

/* all pipes that lead to the next node: no branches, so that several are computed at once */
void swh_chain_derivatives(const struct swh_machine *m, const struct swh_flows *f, struct pipes *p)
{
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++)
        set_flow(m, f, p, i, i + 1);
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++)
        swh_pipe_energy_derivatives(p, i, f->m[i], f->h_donor_forward[i], f->h_donor_reverse[i + 1]);
}

void swh_lines_derivatives(struct derivatives *s, int node, double UA)
{
    const pair heat = -UA * s->v[node].T;
    add(s, s->m->l.U + node, node, heat);
    add(s, heat_row(s->m, SWH_CH_heat_lines), node, heat);
}

/* ---- what it depends on ---- */
