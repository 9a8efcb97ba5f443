/* What can be read off a machine: channels, the refrigerant's way, totals. */
#include "model/parts/parts.h"

void swh_machine_observe(const struct swh_machine *m, const struct swh_inputs *in,
                         const struct swh_modes *modes, const double *y, const struct swh_flows *f,
                         double *ch)
{
    const struct swh_view v = {m, in, modes, y, f};
    const double time = ch[SWH_CH_time];
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        ch[i] = NAN;
    ch[SWH_CH_time] = time;
    swh_ambient_channels(&v, ch);
    swh_compressor_channels(&v, ch);
    swh_film_channels(&v, ch);
    swh_oil_channels(&v, ch);
    swh_body_channels(&v, ch);
    swh_clutch_channels(&v, ch);
    swh_clamp_channels(&v, ch);
    if (!m->l.closed)
        return;
    swh_probe_channels(&v, ch);
    swh_volume_channels(&v, ch);
    swh_condenser_channels(&v, ch);
    swh_evaporator_channels(&v, ch);
    swh_cabin_channels(&v, ch);
}

int swh_machine_cycle(const struct swh_machine *m, const struct swh_flows *f, double *P, double *h)
{
    int n = 0;
    if (!m->l.closed)
        return 0;
    P[n] = f->node[SWH_NODE_CHAMBER].P;
    h[n++] = f->node[SWH_NODE_CHAMBER].h;
    P[n] = f->node[SWH_NODE_PLENUM].P;
    h[n++] = f->comp.h_2;
    for (int i = SWH_NODE_PLENUM; i <= SWH_NODE_LIQUID; i++) {
        P[n] = f->node[i].P;
        h[n++] = f->h_donor_forward[i];
    }
    P[n] = f->node[SWH_NODE_EVAP].P; /* the expansion itself: same enthalpy */
    h[n++] = f->h_donor_forward[SWH_NODE_LIQUID];
    for (int i = SWH_NODE_EVAP; i <= SWH_NODE_SUCTION; i++) {
        P[n] = f->node[i].P;
        h[n++] = f->h_donor_forward[i];
    }
    return n;
}

/* ---- totals ---- */

double swh_machine_mass(const struct swh_machine *m, const double *y)
{
    double sum = 0;
    for (int i = 0; i < m->l.n_nodes; i++)
        sum += y[m->l.M + i];
    return sum;
}

double swh_machine_energy(const struct swh_machine *m, const double *y)
{
    double sum = swh_machine_body_energy(m, y);
    for (int i = 0; i < m->l.n_nodes; i++)
        sum += y[m->l.U + i];
    for (int i = 0; i < m->l.n_walls; i++)
        sum += m->wall_capacity[i] * y[m->l.wall + i];
    return m->l.closed ? sum + swh_coil_energy(m, y) : sum;
}

static double sum_of(const struct swh_machine *m, const double *y, enum swh_channel path)
{
    return y[heat_row(m, path)];
}

double swh_machine_body_added(const struct swh_machine *m, const double *y)
{
    double sum = 0;
    for (int path = SWH_CH_heat_shoe_friction; path <= SWH_CH_heat_clutch; path++)
        sum += sum_of(m, y, (enum swh_channel)path);
    return sum;
}

double swh_machine_energy_added(const struct swh_machine *m, const double *y)
{
    static const enum swh_channel from_outside[] = {SWH_CH_heat_shoe_friction,    SWH_CH_heat_piston_friction,
                                                    SWH_CH_heat_bearing_friction, SWH_CH_heat_shell_air,
                                                    SWH_CH_heat_bracket,          SWH_CH_heat_shell_radiation,
                                                    SWH_CH_heat_clutch,           SWH_CH_heat_gas_work,
                                                    SWH_CH_heat_evaporator,       SWH_CH_heat_lines};
    double sum = -sum_of(m, y, SWH_CH_heat_condenser) - y[m->l.sum + SWH_SUM_ENERGY_OUT];
    for (unsigned i = 0; i < sizeof from_outside / sizeof from_outside[0]; i++)
        sum += sum_of(m, y, from_outside[i]);
    return sum;
}
