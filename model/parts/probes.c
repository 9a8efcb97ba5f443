/* Probes, bulbs and what the switches feel. */
#include "model/parts/derivatives.h"

void swh_clamp_states(const struct swh_machine *m, const double *y, const struct swh_flows *f, double *dy)
{
    const struct swh_params *p = &m->p;
    double *d = dy + m->l.scalar;
    const double pulled = probe_equilibrium(p, f->node[SWH_NODE_PLENUM].T, f->T_bay);
    /* the pipe under the clamp follows its gas while that flows; standing gas hardly warms or cools it */
    const double flow = swh_smooth_pos(f->comp.m_net, 1e-5);
    const double grip = 0.12 + 0.88 * flow / (flow + 0.004);
    d[SWH_S_probe_discharge] =
        grip * (pulled - scalar(m, y, SWH_S_probe_discharge)) * m->inv[SWH_S_probe_discharge];
    const double pulled_s = probe_equilibrium(p, f->T_port, f->T_bay);
    d[SWH_S_probe_suction] = (pulled_s - scalar(m, y, SWH_S_probe_suction)) * m->inv[SWH_S_probe_suction];
}

/* where the liquid line's clamp sits */
static int liquid_place(const struct swh_machine *m)
{
    return m->c.probe_liquid_line_place == SWH_LIQUID_AT_CONDENSER ? SWH_NODE_SUBCOOL : SWH_NODE_LIQUID;
}

/* fins where the frost thermostat's bulb usually sits: the colder half of the coil, from a sixth on */
enum { FIN_FIRST = SWH_N_EVAP / 6, FIN_END = 4 * SWH_N_EVAP / 6 };

void swh_probe_states(const struct swh_machine *m, const double *y, struct swh_flows *f, double *dy)
{
    double *d = dy + m->l.scalar;
    const double pulled = probe_equilibrium(&m->p, f->node[liquid_place(m)].T, f->T_bay);
    d[SWH_S_probe_liquid] = (pulled - scalar(m, y, SWH_S_probe_liquid)) * m->inv[SWH_S_probe_liquid];
    const double T_e = f->node[SWH_NODE_EVAP_LAST].T;
    d[SWH_S_bulb] = (T_e - scalar(m, y, SWH_S_bulb)) * m->inv[SWH_S_bulb];
    const double T_r = m->l.rear ? f->node[SWH_NODE_REAR_LAST].T : T_e;
    d[SWH_S_bulb_rear] = (T_r - scalar(m, y, SWH_S_bulb_rear)) * m->inv[SWH_S_bulb_rear];
    d[SWH_S_sensor_low] =
        (f->P_low_port + f->P_air_low - scalar(m, y, SWH_S_sensor_low)) * m->inv[SWH_S_sensor_low];
    f->T_fin = 0;
    for (int i = FIN_FIRST; i < FIN_END; i++)
        f->T_fin += y[m->l.wall + SWH_WALL_EVAP + i] * (1.0 / (FIN_END - FIN_FIRST));
    d[SWH_S_sensor_frost] = (f->T_fin - scalar(m, y, SWH_S_sensor_frost)) * m->inv[SWH_S_sensor_frost];
}

/* ---- derivatives ---- */

static void follow(struct derivatives *s, enum swh_scalar what, int node, double per_kelvin)
{
    add(s, s->m->l.scalar + (int)what, node, per_kelvin * s->v[node].T);
}

void swh_probe_derivatives(struct derivatives *s)
{
    const struct swh_params *p = &s->m->p;
    const double pull = 1 - p->probe_discharge_pull, lag = s->m->inv[SWH_S_bulb];
    const int last = SWH_NODE_EVAP_LAST, row = s->m->l.scalar;
    const int bulb = row + SWH_S_bulb, bulb_rear = row + SWH_S_bulb_rear;
    follow(s, SWH_S_bulb, last, lag);
    follow(s, SWH_S_bulb_rear, s->m->l.rear ? SWH_NODE_REAR_LAST : last, lag);
    s->J[s->e->at[bulb][bulb]] -= lag;
    s->J[s->e->at[bulb_rear][bulb_rear]] -= lag;
    follow(s, SWH_S_probe_suction, SWH_NODE_SUCTION, pull * s->m->inv[SWH_S_probe_suction]);
    follow(s, SWH_S_probe_liquid, liquid_place(s->m), pull * s->m->inv[SWH_S_probe_liquid]);
    add(s, row + SWH_S_sensor_low, SWH_NODE_SUCTION,
        1 / p->controls_low_sensor_time * s->v[SWH_NODE_SUCTION].P);
}

/* ---- what it depends on ---- */

/* ---- channels ---- */

void swh_clamp_channels(const struct swh_view *v, double *ch)
{
    ch[SWH_CH_suction_temperature] = scalar(v->m, v->y, SWH_S_probe_suction);
    ch[SWH_CH_discharge_temperature] = scalar(v->m, v->y, SWH_S_probe_discharge);
}

void swh_probe_channels(const struct swh_view *v, double *ch)
{
    const struct swh_flows *f = v->f;
    ch[SWH_CH_liquid_line_temperature] = scalar(v->m, v->y, SWH_S_probe_liquid);
    /* Its lag is left out: it would cost a state, and readings are compared by means over half a minute. */
    ch[SWH_CH_valve_inlet_temperature] = probe_equilibrium(&v->m->p, f->node[SWH_NODE_LIQUID].T, f->T_bay);
}
