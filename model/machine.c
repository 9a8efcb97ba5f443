/* Rates of the whole machine: the parts (parts/parts.h) put together. Symbols: m mass flow, h enthalpy, P
 * pressure, T temperature, rho density, UA conductance, x quality. */
#include "model/machine.h"

#include "model/parts/parts.h"

#include <string.h>

static void superheats(const struct swh_machine *m, struct swh_flows *f)
{
    double T_sat = 0;
    f->T_port = f->node[SWH_NODE_CHAMBER].T;
    if (!m->l.closed) {
        swh_Tsat(m->fluid, f->P_low_port, &T_sat);
        struct swh_ph_props port;
        swh_P_h(m->fluid, f->P_low_port, f->h_port, &port);
        f->T_port = port.T;
        f->superheat_evap = port.T - T_sat;
        return;
    }
    f->T_port = f->node[SWH_NODE_SUCTION].T;
    swh_Tsat(m->fluid, f->node[SWH_NODE_EVAP_LAST].P, &T_sat);
    f->superheat_evap = f->node[SWH_NODE_EVAP_LAST].T - T_sat;
}

/* Brings the memory in step with machine, inputs and fan. */
static void remember(const struct swh_machine *m, const struct swh_inputs *in, const struct swh_modes *modes,
                     struct swh_memo *memo)
{
    const int same = memo->stamp == m->stamp;
    if (!same) {
        memset(memo, 0, sizeof *memo);
        memo->stamp = m->stamp;
    }
    if (same && memo->fan_on == modes->fan_on && memcmp(&memo->in, in, sizeof *in) == 0)
        return;
    memo->in = *in;
    memo->fan_on = modes->fan_on;
    swh_ambient_set(m, in, modes->fan_on, &memo->ambient);
}

int swh_machine_rates(const struct swh_machine *m, const struct swh_inputs *in, const struct swh_modes *modes,
                      const double *y, double *dy, struct swh_flows *f)
{
    memset(dy, 0, (size_t)m->l.n * sizeof *dy);
    remember(m, in, modes, &f->memo);
    if (swh_node_states(m, y, f))
        return 1;
    swh_outlet_enthalpies(m, f);
    f->N = swh_shaft_speed(m, in, modes, y);
    f->P_air = m->l.closed ? swh_max(scalar(m, y, SWH_S_ncg), 0) : 0;
    f->P_air_low = m->l.closed ? swh_ncg_low(m, f->P_air, in->ambient_temperature) : 0;
    f->T_bay =
        m->l.closed && isnan(in->underhood_temperature) ? scalar(m, y, SWH_S_bay) : f->memo.ambient.T_bay;
    if (m->l.closed)
        swh_circuit_flows(m, modes, y, f);
    else
        swh_port_flows(m, in, f);
    superheats(m, f);
    if (swh_compressor_part(m, y, f) || f->out_of_range)
        return 1;
    swh_advect_compressor(m, f, dy);
    swh_advect_vent(m, modes, f, dy);
    swh_oil_part(m, y, f, dy);
    if (m->l.closed) {
        swh_advect_circuit(m, f, dy);
        swh_flow_corrections(m, f);
        swh_condenser_part(m, in, f, y, dy);
        swh_evaporator_part(m, in, f, y, dy);
        swh_probe_states(m, y, f, dy);
        dy[m->l.scalar + SWH_S_bay] = swh_bay_rate(m, in, f, scalar(m, y, SWH_S_bay));
        dy[m->l.scalar + SWH_S_ncg] = swh_ncg_rate(m, f, scalar(m, y, SWH_S_ncg), in->ambient_temperature);
    }
    swh_lines_part(m, f, dy);
    swh_body_part(m, in, modes, y, f, dy);
    swh_clutch_states(m, in, modes, y, f, dy);
    swh_film_states(m, y, f, dy);
    swh_clamp_states(m, y, f, dy);
    memcpy(dy + m->l.sum + SWH_SUM_HEAT, f->heat, sizeof f->heat);
    return 0;
}

int swh_machine_event_values(const struct swh_machine *m, const struct swh_inputs *in,
                             const struct swh_modes *modes, const double *y, struct swh_event_values *out)
{
    /* every shaft starts and stops on bare metal: only a turning one counts as having lost its film */
    const double N = swh_shaft_speed(m, in, modes, y), counts = swh_smooth_step((N - 5) / 5);
    const int n = counts > 0 ? 2 : 1; /* plenum; chamber */
    double rho[2], u[2];
    struct swh_cell_props plenum, chamber, *const node[2] = {&plenum, &chamber};
    for (int k = 0; k < n; k++) {
        const int i = SWH_NODE_PLENUM - k;
        const double M = swh_max(y[m->l.M + i], 1e-9);
        rho[k] = M * m->volume_inverse[i];
        u[k] = y[m->l.U + i] / M;
    }
    const int bad = swh_rho_u_all(m->fluid, n, rho, u, node) != 0;
    const double P_air = m->l.closed ? swh_max(scalar(m, y, SWH_S_ncg), 0) : 0;
    out->P_d = plenum.P + P_air;
    out->T_discharge = plenum.T;
    out->T_clutch_face = scalar(m, y, SWH_S_clutch_face);
    out->T_rotor = scalar(m, y, SWH_S_rotor);
    out->T_piston = scalar(m, y, SWH_S_piston);
    for (int k = 0; k < 3; k++)
        out->scuffing[k] = scalar(m, y, SWH_S_scuff_film + (enum swh_scalar)k);
    struct swh_coil_state coil = {.open = 1};
    if (m->l.closed)
        swh_coil_state(&m->p, 1, scalar(m, y, SWH_S_coil_water), scalar(m, y, SWH_S_coil_ice), SWH_N_EVAP,
                       y + m->l.wall + SWH_WALL_EVAP, &coil);
    out->coil_open = coil.open;
    if (counts > 0) {
        struct swh_film film;
        swh_machine_film(m, y, N, chamber.P, out->P_d, &film);
        out->T_contact = film.T_contact;
        out->share = film.share * counts;
        out->clearance = film.clearance;
        return bad;
    }
    out->T_contact = scalar(m, y, SWH_S_rotor);
    out->share = 0;
    out->clearance = swh_film_clearance(&m->p, scalar(m, y, SWH_S_block), scalar(m, y, SWH_S_piston));
    return bad;
}
