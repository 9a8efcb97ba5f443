/* Condenser with its subcooling pass, and its air. */
#include "model/parts/exchanger.h"

#include "model/parts/air.h"
#include "model/parts/derivatives.h"

/* temperatures of the condenser's air from those of its walls */
static void condenser_air(const struct swh_machine *m, const struct swh_inputs *in, const double *y,
                          struct swh_flows *f)
{
    const double sub = m->p.condenser_subcool_share, share = (1 - sub) * (1.0 / SWH_N_COND);
    const double e = f->memo.ambient.cond_effectiveness, k = f->memo.ambient.back_flow;
    f->air_cond = f->memo.ambient.air_cond;
    double T_wall = 0;
    for (int i = 0; i < SWH_N_COND; i++)
        T_wall += y[m->l.wall + SWH_WALL_COND + i];
    T_wall = T_wall * share + y[m->l.wall + SWH_WALL_SUBCOOL] * sub;
    f->T_cond_in = (in->ambient_temperature + k * T_wall) / (1 + k);
    f->T_cond_out = f->T_cond_in + e * (T_wall - f->T_cond_in);
}

static void condenser_cell(const struct swh_machine *m, struct swh_flows *f, const double *y, double *dy,
                           int node, int wall, double share, double effectiveness)
{
    const double T_wall = y[m->l.wall + wall];
    const double Q_in = share * condensing_heat(m, &f->node[node], T_wall) * f->flow_correction[node];
    const double air = share * f->air_cond * SWH_CP_AIR;
    const double Q_out = air * effectiveness * (T_wall - f->T_cond_in);
    heat_cell(m, f, dy, node, -Q_in);
    dy[m->l.wall + wall] = (Q_in - Q_out) * m->wall_inverse[wall];
    f->Q_cond += Q_out;
}

void swh_condenser_part(const struct swh_machine *m, const struct swh_inputs *in, struct swh_flows *f,
                        const double *y, double *dy)
{
    const double effectiveness = f->memo.ambient.cond_effectiveness;
    condenser_air(m, in, y, f);
    const double sub = m->p.condenser_subcool_share;
    f->Q_cond = 0;
    for (int i = 0; i < SWH_N_COND; i++)
        condenser_cell(m, f, y, dy, SWH_NODE_COND + i, SWH_WALL_COND + i, (1 - sub) / SWH_N_COND,
                       effectiveness);
    condenser_cell(m, f, y, dy, SWH_NODE_SUBCOOL, SWH_WALL_SUBCOOL, sub, effectiveness);
    *heat_of(f, SWH_CH_heat_condenser) = f->Q_cond;
}

/* ---- derivatives ---- */

void swh_condenser_derivatives(struct derivatives *s, int node, int wall, double share)
{
    const struct heat_derivatives q =
        condensing_derivatives(s->m, &s->f->node[node], s->y[s->m->l.wall + wall]);
    swh_cell_derivatives(s, node, wall, -share, 1, &q);
}

/* ---- what it depends on ---- */

/* ---- channels ---- */

void swh_condenser_channels(const struct swh_view *v, double *ch)
{
    const struct swh_flows *f = v->f;
    ch[SWH_CH_condenser_air_in_temperature] = f->T_cond_in;
    ch[SWH_CH_condenser_air_out_temperature] = f->T_cond_out;
    double T_sat = 0;
    swh_Tsat(v->m->fluid, f->node[SWH_NODE_SUBCOOL].P + f->P_air, &T_sat);
    ch[SWH_CH_subcooling] = T_sat - f->node[SWH_NODE_LIQUID].T;
}
