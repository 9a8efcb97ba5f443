/* Laws of the expansion device: thermostatic valve, orifice tube. Private to model/. */
#ifndef SWH_MODEL_PARTS_VALVE_H
#define SWH_MODEL_PARTS_VALVE_H

#include "model/parts/pipe.h"

/* Opening of a thermostatic valve: bulb pressure (limited) over evaporator
 * pressure and spring, 0 shut .. 1 */
static inline double valve_opening(const struct swh_machine *m, double T_bulb, double P_evap)
{
    const struct swh_params *p = &m->p;
    double P_bulb = 0;
    swh_Psat(m->fluid, T_bulb, &P_bulb);
    P_bulb = swh_smooth_min(P_bulb, p->valve_limit, 5e3);
    const double x = (P_bulb - P_evap - p->valve_spring) / p->valve_range;
    return swh_smooth_clip(x, p->valve_least_open, p->valve_most_open + 1e-6, 0.02) +
           p->valve_leak * p->valve_most_open;
}

/* its derivatives: with the bulb's temperature [1/K], with the evaporator's pressure [1/Pa] */
struct opening_derivatives {
    double T, P;
};

static inline struct opening_derivatives opening_derivatives(const struct swh_machine *m, double T_bulb,
                                                             double P_evap)
{
    const struct swh_params *p = &m->p;
    const double per_range = 1 / p->valve_range;
    double P_bulb = 0, bulb_T = 0;
    swh_Psat_slope(m->fluid, T_bulb, &P_bulb, &bulb_T);
    bulb_T *= 1 - swh_plus_slope(P_bulb - p->valve_limit, 5e3);
    P_bulb = swh_smooth_min(P_bulb, p->valve_limit, 5e3);
    const double x = (P_bulb - P_evap - p->valve_spring) * per_range;
    const double slope = swh_clip_slope(x, p->valve_least_open, p->valve_most_open + 1e-6, 0.02) * per_range;
    return (struct opening_derivatives){slope * bulb_T, -slope};
}

static const double ROOT_2 = 1.4142135623730951;

/* A narrow place of discharge coefficient times area CdA [m2]. Liquid that enters it flashes inside and
 * chokes at flash_share of the saturation pressure of what enters (form of Kim and O'Neal 1994 for short
 * tubes; a valve's port is one): the flow depends on upstream pressure and subcooling, hardly on the
 * evaporator. */
struct throat {
    double CdA, flash_share;
};

static inline double throat_flow(const struct swh_machine *m, struct throat t, const struct swh_cell_props *c,
                                 double P_up, double P_down, double rho_up, double rho_down)
{
    double P_sat = c->P;
    if (c->x <= 0)
        swh_Psat(m->fluid, c->T, &P_sat);
    const double choke = t.flash_share * P_sat;
    const double P_eff = P_down + swh_smooth_pos(choke - P_down, 5e3);
    /* below choking the upstream pressure may even fall under P_eff: no flow backward against P_down */
    const double P_back = P_up < P_down ? P_down : swh_min(P_eff, P_up);
    return pipe_flow(t.CdA * ROOT_2, PIPE_LINEAR, P_up, P_back, rho_up, rho_down);
}

/* Its derivatives: with the pressures before and behind it, with the temperature before it (subcooled liquid
 * only), with the densities; and the flow. P_up and P_down as in throat_flow. */
struct throat_derivatives {
    double m, up, down, T, rho_up, rho_down;
};

static inline struct throat_derivatives throat_derivatives(const struct swh_machine *m, struct throat t,
                                                           const struct swh_cell_props *c, double P_up,
                                                           double P_down, double rho_up, double rho_down)
{
    const double share = t.flash_share;
    double P_sat = c->P, sat_P = 1, sat_T = 0, back = P_down, back_down = 1, back_sat = 0, back_up = 0;
    if (c->x <= 0) {
        swh_Psat_slope(m->fluid, c->T, &P_sat, &sat_T);
        sat_P = 0;
    }
    if (P_up >= P_down) {
        const double P_eff = P_down + swh_smooth_pos(share * P_sat - P_down, 5e3);
        const double choked = swh_plus_slope(share * P_sat - P_down, 5e3);
        back = swh_min(P_eff, P_up);
        back_up = P_eff < P_up ? 0 : 1;
        back_down = (1 - back_up) * (1 - choked);
        back_sat = (1 - back_up) * choked * share;
    }
    const struct flow_derivatives q =
        pipe_derivatives(t.CdA * ROOT_2, PIPE_LINEAR, P_up, back, rho_up, rho_down);
    return (struct throat_derivatives){
        q.m,    q.dP * (1 - back_up - back_sat * sat_P), -q.dP * back_down, -q.dP * back_sat * sat_T, q.rho_a,
        q.rho_b};
}

#endif
