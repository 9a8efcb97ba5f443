/* Evaporators, front and rear, and their air. */
#include "model/parts/exchanger.h"

#include "model/parts/air.h"
#include "model/parts/coil.h"
#include "model/parts/derivatives.h"

#include <string.h>

static double wall_to_fluid(const struct swh_flows *f, double UA, int node, double T_wall)
{
    return UA * (T_wall - f->node[node].T);
}

struct evaporator_air {
    double m_air; /* what the blower moves [kg/s], a part of it past the coil */
    struct swh_air_in cell;
    double T_core; /* sum over cells share by share: air that left the fins [K] */
    double water;  /* condensed [kg/s] */
};

/* one of the two evaporators */
struct coil {
    int node, wall, n;
    enum swh_scalar water, ice;
    double size;
    struct swh_coil_state *state;
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

/* Water that condenses spreads over all fins, freezes where they are frozen, and runs off where they are
 * full. */
static void coil_water(const struct swh_machine *m, const double *y, double *dy, const struct coil *c,
                       const struct swh_air_side *a)
{
    double water = 0, liquid = 0;
    for (int i = 0; i < c->n; i++) {
        const int row = m->l.wall + c->wall + i;
        water += a[i].water;
        liquid += a[i].water * (1 - swh_ice_share(y[row]));
        dy[row] = (dy[row] + c->state->heat[i]) * m->wall_inverse[c->wall + i];
    }
    dy[m->l.scalar + (int)c->water] = water - c->state->runs_off * liquid - c->state->thaws;
    dy[m->l.scalar + (int)c->ice] = c->state->freezes;
}

static void evaporator_cells(const struct swh_machine *m, struct swh_flows *f, const double *y, double *dy,
                             const struct coil *c, struct evaporator_air *air)
{
    const struct swh_params *p = &m->p;
    const double *T_wall = y + m->l.wall + c->wall;
    const double part = 1.0 / c->n, share = c->size * part;
    swh_coil_state(p, c->size, scalar(m, y, c->water), scalar(m, y, c->ice), c->n, T_wall, c->state);
    air->cell.m_air = air->m_air * (1 - p->evaporator_bypass) * c->state->open * part;
    const struct swh_air_side *a = air_to_walls(f, c->wall, &air->cell, c->n, T_wall);
    for (int i = 0; i < c->n; i++) {
        const int node = c->node + i;
        const double UA = share *
                          inside_UA(p->evaporator_ua_two_phase, p->evaporator_ua_vapour, f->node[node].x,
                                    p->evaporator_dry_out) *
                          f->flow_correction[node];
        const double Q = wall_to_fluid(f, UA, node, T_wall[i]);
        heat_cell(m, f, dy, node, Q);
        dy[m->l.wall + c->wall + i] = a[i].Q - Q;
        f->Q_evap += a[i].Q;
        air->T_core += a[i].T_out;
        air->water += a[i].water;
    }
    air->T_core *= part;
    coil_water(m, y, dy, c, a);
}

/* Air to the vents [kg/s] and its temperature: what the fins cooled, and what passed them by. */
static double vent_air(const struct swh_params *p, const struct coil *c, const struct evaporator_air *air,
                       double *T)
{
    const double past = air->m_air * p->evaporator_bypass;
    const double core = air->m_air * (1 - p->evaporator_bypass) * c->state->open;
    *T = (core * air->T_core + past * air->cell.T) / (core + past);
    return core + past;
}

void swh_evaporator_part(const struct swh_machine *m, const struct swh_inputs *in, struct swh_flows *f,
                         const double *y, double *dy)
{
    const struct swh_ambient *o = &f->memo.ambient;
    const double T_cabin = scalar(m, y, SWH_S_cabin), W_cabin = scalar(m, y, SWH_S_cabin_water);
    const double r = in->recirculation;
    const struct coil front = {SWH_NODE_EVAP, SWH_WALL_EVAP, SWH_N_EVAP, SWH_S_coil_water, SWH_S_coil_ice, 1,
                               &f->coil[0]};
    struct evaporator_air air = {
        .m_air = o->air_evap,
        .cell = {.T = r * T_cabin + (1 - r) * in->ambient_temperature + o->blower_rise,
                 .W = r * W_cabin + (1 - r) * o->W,
                 .P = in->ambient_pressure,
                 .effectiveness = o->evap_effectiveness}};
    f->Q_evap = 0;
    evaporator_cells(m, f, y, dy, &front, &air);
    const double m_vent = vent_air(&m->p, &front, &air, &f->T_vent);
    double Q_air = m_vent * SWH_CP_AIR * (T_cabin - f->T_vent);
    double water = air.water - m_vent * (1 - r) * (o->W - W_cabin);
    if (m->l.rear) {
        const struct coil back = {SWH_NODE_REAR,       SWH_WALL_REAR,
                                  SWH_N_REAR,          SWH_S_coil_water_rear,
                                  SWH_S_coil_ice_rear, m->p.rear_evaporator_size,
                                  &f->coil[1]};
        struct evaporator_air rear = {
            .m_air = o->air_rear,
            .cell = {.T = T_cabin, .W = W_cabin, .P = air.cell.P, .effectiveness = o->rear_effectiveness}};
        double T_rear;
        evaporator_cells(m, f, y, dy, &back, &rear);
        const double m_rear = vent_air(&m->p, &back, &rear, &T_rear);
        Q_air += m_rear * SWH_CP_AIR * (T_cabin - T_rear);
        water += rear.water;
    }
    swh_cabin_part(m, in, y, dy, o->W, Q_air, water);
    *heat_of(f, SWH_CH_heat_evaporator) = f->Q_evap;
}

double swh_coil_energy(const struct swh_machine *m, const double *y)
{
    return -SWH_H_SF_WATER * (scalar(m, y, SWH_S_coil_ice) + scalar(m, y, SWH_S_coil_ice_rear));
}

/* ---- derivatives ---- */

void swh_evaporator_derivatives(struct derivatives *s, int node, int wall, double share, double inv_size)
{
    const struct heat_derivatives q =
        evaporating_derivatives(&s->m->p, &s->f->node[node], s->y[s->m->l.wall + wall]);
    swh_cell_derivatives(s, node, wall, share, inv_size, &q);
}

/* ---- what it depends on ---- */

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
    ch[SWH_CH_evaporator_ice] = f->coil[0].ice + (v->m->l.rear ? f->coil[1].ice : 0);
}
