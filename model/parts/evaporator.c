/* Evaporators, front and rear, and their air. */
#include "model/parts/exchanger.h"

#include "model/parts/air.h"
#include "model/parts/derivatives.h"
#include "model/parts/pattern.h"

#include <string.h>

static double wall_to_fluid(const struct swh_flows *f, double UA, int node, double T_wall)
{
    return UA * (T_wall - f->node[node].T);
}

struct evaporator_air {
    double m_air; /* of the whole coil */
    struct swh_air_in cell;
    double T_out, water; /* sums over cells: outlet temperature share by share, condensed kg/s */
};

_Static_assert((int)SWH_N_EVAP <= (int)SWH_AIR_WALLS && (int)SWH_N_REAR <= (int)SWH_AIR_WALLS,
               "a coil's walls at once");

static const struct swh_air_side *air_to_walls(struct swh_flows *f, int wall, const struct swh_air_in *in,
                                               int n, const double *T_wall)
{
    struct swh_air_in *seen = &f->memo.air[wall];
    const int same = are_same(f->memo.air_wall + wall, T_wall, (size_t)n) && seen->T == in->T &&
                     seen->W == in->W && seen->m_air == in->m_air && seen->P == in->P &&
                     seen->effectiveness == in->effectiveness;
    if (!same) {
        swh_air_to_walls(n, in, T_wall, f->memo.air_side + wall);
        memcpy(f->memo.air_wall + wall, T_wall, (size_t)n * sizeof *T_wall);
        *seen = *in;
    }
    return f->memo.air_side + wall;
}

static void evaporator_cells(const struct swh_machine *m, struct swh_flows *f, const double *y, double *dy,
                             int node, int wall, int n, double size, struct evaporator_air *air)
{
    const struct swh_params *p = &m->p;
    const double *T_wall = y + m->l.wall + wall;
    const double part = 1.0 / n;
    air->cell.m_air = air->m_air * part;
    const struct swh_air_side *a = air_to_walls(f, wall, &air->cell, n, T_wall);
    const double share = size * part;
    for (int i = 0; i < n; i++) {
        const double UA = share *
                          inside_UA(p->evaporator_ua_two_phase, p->evaporator_ua_vapour, f->node[node + i].x,
                                    p->evaporator_dry_out) *
                          f->flow_correction[node + i];
        const double Q = wall_to_fluid(f, UA, node + i, T_wall[i]);
        heat_cell(m, f, dy, node + i, Q);
        dy[m->l.wall + wall + i] = (a[i].Q - Q) * m->wall_inverse[wall + i];
        f->Q_evap += a[i].Q;
        air->T_out += a[i].T_out;
        air->water += a[i].water;
    }
    air->T_out *= part;
}

void swh_evaporator_part(const struct swh_machine *m, const struct swh_inputs *in, struct swh_flows *f,
                         const double *y, double *dy)
{
    const struct swh_ambient *o = &f->memo.ambient;
    const double T_cabin = scalar(m, y, SWH_S_cabin), W_cabin = scalar(m, y, SWH_S_cabin_water);
    const double r = in->recirculation;
    struct evaporator_air air = {.m_air = o->air_evap,
                                 .cell = {.T = r * T_cabin + (1 - r) * in->ambient_temperature,
                                          .W = r * W_cabin + (1 - r) * o->W,
                                          .P = in->ambient_pressure,
                                          .effectiveness = o->evap_effectiveness}};
    f->Q_evap = 0;
    evaporator_cells(m, f, y, dy, SWH_NODE_EVAP, SWH_WALL_EVAP, SWH_N_EVAP, 1.0, &air);
    f->T_vent = air.T_out;
    double Q_air = air.m_air * SWH_CP_AIR * (T_cabin - air.T_out);
    double water = air.water;
    const double fresh_water = air.m_air * (1 - r) * (o->W - W_cabin);
    if (m->l.rear) {
        struct evaporator_air rear = {
            .m_air = o->air_rear,
            .cell = {.T = T_cabin, .W = W_cabin, .P = air.cell.P, .effectiveness = o->rear_effectiveness}};
        evaporator_cells(m, f, y, dy, SWH_NODE_REAR, SWH_WALL_REAR, SWH_N_REAR, m->p.rear_evaporator_size,
                         &rear);
        Q_air += rear.m_air * SWH_CP_AIR * (T_cabin - rear.T_out);
        water += rear.water;
    }
    swh_cabin_part(m, in, y, dy, o->W, Q_air, water - fresh_water);
    *heat_of(f, SWH_CH_heat_evaporator) = f->Q_evap;
}

/* ---- derivatives ---- */

void swh_evaporator_derivatives(struct derivatives *s, int node, int wall, double share, double inv_size)
{
    const struct heat_derivatives q =
        evaporating_derivatives(&s->m->p, &s->f->node[node], s->y[s->m->l.wall + wall]);
    swh_cell_derivatives(s, node, wall, share, inv_size, &q);
}

/* ---- what it depends on ---- */

static void pattern_coil(const struct swh_machine *m, struct pattern *p, int node, int wall, int n)
{
    for (int i = 0; i < n; i++)
        swh_pattern_wall(m, p, node + i, wall + i, i + 1 < n ? node + i + 1 : SWH_NODE_ACCUMULATOR);
}

void swh_pattern_evaporator(const struct swh_machine *m, struct pattern *p)
{
    pattern_coil(m, p, SWH_NODE_EVAP, SWH_WALL_EVAP, SWH_N_EVAP);
    if (m->l.rear)
        pattern_coil(m, p, SWH_NODE_REAR, SWH_WALL_REAR, SWH_N_REAR);
    for (int i = SWH_WALL_EVAP; i < m->l.n_walls; i++)
        couple(p, heat_row(m, SWH_CH_heat_evaporator), m->l.wall + i);
    couple(p, heat_row(m, SWH_CH_heat_evaporator), m->l.scalar + SWH_S_cabin);
    couple(p, heat_row(m, SWH_CH_heat_evaporator), m->l.scalar + SWH_S_cabin_water);
}

/* ---- channels ---- */

void swh_evaporator_channels(const struct swh_view *v, double *ch)
{
    const struct swh_flows *f = v->f;
    ch[SWH_CH_vent_temperature] = f->T_vent;
    ch[SWH_CH_evaporator_superheat] = f->superheat_evap;
    swh_Tsat(v->m->fluid, f->node[SWH_NODE_EVAP_LAST].P, &ch[SWH_CH_evaporating_temperature]);
    ch[SWH_CH_cooling_capacity] = f->Q_evap;
    ch[SWH_CH_valve_opening] = f->opening;
    ch[SWH_CH_fin_temperature] = f->T_fin;
}
