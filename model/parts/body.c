/* The metal of the compressor: heat between its nodes, oil, gas and the outside. */
#include "model/parts/parts.h"

static const double SIGMA = 5.670374419e-8; /* Stefan-Boltzmann constant, CODATA */

struct body_rates {
    double rotor, piston, block, head, shell, oil; /* W */
};

static void conduct(double G, double T_a, double T_b, double *Q_a, double *Q_b)
{
    const double Q = G * (T_a - T_b);
    *Q_a -= Q;
    *Q_b += Q;
}

static void body_network(const struct swh_machine *m, const double *y, const struct swh_flows *f,
                         struct body_rates *q)
{
    const struct swh_params *p = &m->p;
    const double rotor = scalar(m, y, SWH_S_rotor), piston = scalar(m, y, SWH_S_piston);
    const double block = scalar(m, y, SWH_S_block), head = scalar(m, y, SWH_S_head);
    const double shell = scalar(m, y, SWH_S_shell), oil = scalar(m, y, SWH_S_oil);
    const double turning = f->N / (f->N + 3.0);
    /* splashing oil reaches rotor and block only while there is some and while it turns */
    const double splash =
        (0.1 + 0.9 * turning) * swh_smooth_min(scalar(m, y, SWH_S_oil_comp) * m->inv_sump, 1.2, 0.1);
    conduct(p->body_rotor_block, rotor, block, &q->rotor, &q->block);
    conduct(p->body_rotor_oil * splash, rotor, oil, &q->rotor, &q->oil);
    conduct(p->body_piston_block, piston, block, &q->piston, &q->block);
    conduct(p->body_piston_rotor, piston, rotor, &q->piston, &q->rotor);
    conduct(p->body_block_heads, block, head, &q->block, &q->head);
    conduct(p->body_block_shell, block, shell, &q->block, &q->shell);
    conduct(p->body_heads_shell, head, shell, &q->head, &q->shell);
    conduct(p->body_oil_block * (0.2 + 0.8 * splash), oil, block, &q->oil, &q->block);
}

static void body_friction(struct swh_flows *f, struct body_rates *q)
{
    q->rotor += f->film.shoe + 0.5 * f->film.bearing;
    q->block += 0.5 * f->film.bearing + 0.5 * f->film.piston;
    q->piston += 0.5 * f->film.piston;
    *heat_of(f, SWH_CH_heat_shoe_friction) = f->film.shoe;
    *heat_of(f, SWH_CH_heat_piston_friction) = f->film.piston;
    *heat_of(f, SWH_CH_heat_bearing_friction) = f->film.bearing;
}

static void body_gas(struct swh_flows *f, struct body_rates *q)
{
    const struct swh_compressor_flows *c = &f->comp;
    q->block += 0.6 * c->Q_bore + c->Q_block;
    q->piston += 0.4 * c->Q_bore;
    q->head += c->Q_heads + c->Q_discharge;
    q->rotor += c->Q_rotor;
    *heat_of(f, SWH_CH_heat_bore_gas) = c->Q_bore;
    *heat_of(f, SWH_CH_heat_discharge_gas) = c->Q_discharge;
    *heat_of(f, SWH_CH_heat_suction_block) = c->Q_block;
    *heat_of(f, SWH_CH_heat_suction_heads) = c->Q_heads;
    *heat_of(f, SWH_CH_heat_suction_rotor) = c->Q_rotor;
    *heat_of(f, SWH_CH_heat_gas_work) = c->work;
}

/* The circulating oil leaves as hot as the sump and comes back as cold as the suction gas; the discharge gas
 * takes what it brings. */
static void body_oil(const struct swh_machine *m, const double *y, struct swh_flows *f, struct body_rates *q,
                     double *dy)
{
    const double Q =
        f->oil.out * m->p.oil_specific_heat * (scalar(m, y, SWH_S_oil) - f->node[SWH_NODE_CHAMBER].T);
    q->oil -= Q;
    dy[m->l.U + SWH_NODE_PLENUM] += Q;
    *heat_of(f, SWH_CH_heat_oil_carry) = -Q;
}

static void shell_exchange(const struct swh_machine *m, const double *y, struct swh_flows *f,
                           struct body_rates *q)
{
    const struct swh_params *p = &m->p;
    const double T = scalar(m, y, SWH_S_shell), T_bay = f->T_bay;
    const double air = f->memo.ambient.shell_film * p->body_shell_area * (T_bay - T);
    const double radiation =
        p->body_emissivity * SIGMA * p->body_shell_area * (T_bay * T_bay * T_bay * T_bay - T * T * T * T);
    const double bracket = p->body_bracket * (p->body_engine_temperature - T);
    q->shell += air + radiation + bracket;
    *heat_of(f, SWH_CH_heat_shell_air) = air;
    *heat_of(f, SWH_CH_heat_shell_radiation) = radiation;
    *heat_of(f, SWH_CH_heat_bracket) = bracket;
}

void swh_body_part(const struct swh_machine *m, const struct swh_inputs *in, const struct swh_modes *modes,
                   const double *y, struct swh_flows *f, double *dy)
{
    struct body_rates q = {0};
    body_network(m, y, f, &q);
    body_friction(f, &q);
    body_gas(f, &q);
    body_oil(m, y, f, &q, dy);
    shell_exchange(m, y, f, &q);
    double *d = dy + m->l.scalar;
    d[SWH_S_clutch_face] = swh_clutch_part(m, in, modes, y, f, &q.shell) * m->inv[SWH_S_clutch_face];
    d[SWH_S_rotor] = q.rotor * m->inv[SWH_S_rotor];
    d[SWH_S_piston] = q.piston * m->inv[SWH_S_piston];
    d[SWH_S_block] = q.block * m->inv[SWH_S_block];
    d[SWH_S_head] = q.head * m->inv[SWH_S_head];
    d[SWH_S_shell] = q.shell * m->inv[SWH_S_shell];
    d[SWH_S_oil] = q.oil * m->inv[SWH_S_oil];
}

/* ---- totals ---- */

double swh_machine_body_energy(const struct swh_machine *m, const double *y)
{
    const struct swh_params *p = &m->p;
    return p->body_rotor_capacity * scalar(m, y, SWH_S_rotor) +
           p->body_piston_capacity * scalar(m, y, SWH_S_piston) +
           p->body_block_capacity * scalar(m, y, SWH_S_block) +
           p->body_head_capacity * scalar(m, y, SWH_S_head) +
           p->body_shell_capacity * scalar(m, y, SWH_S_shell) +
           p->body_oil_capacity * scalar(m, y, SWH_S_oil);
}

/* ---- what it depends on ---- */

/* ---- channels ---- */

void swh_body_channels(const struct swh_view *v, double *ch)
{
    const struct swh_machine *m = v->m;
    const double *y = v->y;
    ch[SWH_CH_shell_temperature] = scalar(m, y, SWH_S_shell);
    ch[SWH_CH_rotor_temperature] = scalar(m, y, SWH_S_rotor);
    ch[SWH_CH_piston_temperature] = scalar(m, y, SWH_S_piston);
    ch[SWH_CH_block_temperature] = scalar(m, y, SWH_S_block);
    ch[SWH_CH_head_temperature] = scalar(m, y, SWH_S_head);
    ch[SWH_CH_oil_temperature] = scalar(m, y, SWH_S_oil);
    for (int i = 0; i < SWH_SUM_HEAT_COUNT; i++)
        ch[SWH_CH_heat_shoe_friction + i] = v->f->heat[i];
}
