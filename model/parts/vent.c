/* What enters and leaves the system: the ports of a compressor without circuit,
 * relief valve, leak, filling. */
#include "model/parts/pipe.h"

#include "model/parts/derivatives.h"

/* without circuit: the ports' pressures are prescribed */
void swh_port_flows(const struct swh_machine *m, const struct swh_inputs *in, struct swh_flows *f)
{
    double rho_port = 0, T_sat = 0;
    f->out_of_range += swh_Tsat(m->fluid, in->suction_pressure, &T_sat);
    const double T = T_sat + swh_smooth_pos(in->suction_temperature - T_sat, 0.2);
    f->out_of_range += swh_P_T_vapour(m->fluid, in->suction_pressure, T, &f->h_port, &rho_port);
    f->P_low_port = in->suction_pressure;
    f->m_port = pipe_flow(m->K_port, PIPE_LINEAR, in->suction_pressure, f->node[SWH_NODE_CHAMBER].P, rho_port,
                          f->rho[SWH_NODE_CHAMBER]);
    f->m_out_port = pipe_flow(4 * m->K_discharge, PIPE_LINEAR, f->node[SWH_NODE_PLENUM].P,
                              in->discharge_pressure, f->rho[SWH_NODE_PLENUM], f->rho[SWH_NODE_PLENUM]);
}

/* mass and energy that leave the system, booked in the sums */
static void carry_out(const struct swh_machine *m, double *dy, double flow, int from, double h)
{
    dy[m->l.M + from] -= flow;
    dy[m->l.U + from] -= flow * h;
    dy[m->l.sum + SWH_SUM_MASS_OUT] += flow;
    dy[m->l.sum + SWH_SUM_ENERGY_OUT] += flow * h;
}

/* A leak falls silent as what is behind it comes down to the air outside: over the last tenth of a bar. */
static const double LEAK_FADES = 1e4; /* Pa; common practice, no source */

/* and with the last of the refrigerant, where air is what presses; its derivative with the pressure [1/Pa] */
static double leak_share(const struct swh_flows *f, double *by_P)
{
    const double P = f->P[SWH_NODE_LIQUID];
    const double over = (P + f->P_air - f->memo.in.ambient_pressure) / LEAK_FADES;
    const double share = swh_share_behind_liquid(P, f->P_air);
    *by_P = swh_step_slope(over) / LEAK_FADES * share +
            (P > 0 ? swh_smooth_step(over) * 2 * share * (1 - share) / P : 0);
    return swh_smooth_step(over) * share;
}

void swh_advect_vent(const struct swh_machine *m, const struct swh_modes *modes, const struct swh_flows *f,
                     double *dy)
{
    if (!m->l.closed) {
        const double h_in = f->m_port > 0 ? f->h_port : f->node[SWH_NODE_CHAMBER].h;
        carry_out(m, dy, -f->m_port, SWH_NODE_CHAMBER, h_in);
        carry_out(m, dy, f->m_out_port, SWH_NODE_PLENUM, f->node[SWH_NODE_PLENUM].h);
        return;
    }
    if (f->m_relief > 0)
        carry_out(m, dy, f->m_relief, SWH_NODE_PLENUM, f->node[SWH_NODE_PLENUM].h);
    double by_P;
    if (modes->leak > 0)
        carry_out(m, dy, modes->leak * leak_share(f, &by_P), SWH_NODE_LIQUID, f->node[SWH_NODE_LIQUID].h);
    else if (modes->leak < 0) /* filled in at the low side as vapour */
        carry_out(m, dy, modes->leak, SWH_NODE_SUCTION, f->node[SWH_NODE_SUCTION].h_g);
}

/* ---- derivatives ---- */

/* a flow out of node whose derivatives with its states are m_z, and H_z of the energy it takes along */
static void add_vent(struct derivatives *s, int node, pair m_z, pair H_z)
{
    add(s, s->m->l.M + node, node, -m_z);
    add(s, s->m->l.sum + SWH_SUM_MASS_OUT, node, m_z);
    add(s, s->m->l.U + node, node, -H_z);
    add(s, s->m->l.sum + SWH_SUM_ENERGY_OUT, node, H_z);
}

/* what a leak or a filling takes along */
void swh_vent_derivatives(struct derivatives *s, const struct swh_modes *modes)
{
    const struct swh_flows *f = s->f;
    if (modes->leak > 0) {
        const int node = SWH_NODE_LIQUID;
        double by_P;
        const double share = leak_share(f, &by_P);
        const pair m_z = modes->leak * by_P * s->v[node].P;
        add_vent(s, node, m_z, modes->leak * share * s->v[node].h + f->node[node].h * m_z);
    } else if (modes->leak < 0)
        add_vent(s, SWH_NODE_SUCTION, (pair){0, 0},
                 modes->leak * swh_vapour_enthalpy_derivatives(s, SWH_NODE_SUCTION));
}

/* ---- what it depends on ---- */
