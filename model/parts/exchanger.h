/* Laws of one cell of an exchanger. Private to model/. */
#ifndef SWH_MODEL_PARTS_EXCHANGER_H
#define SWH_MODEL_PARTS_EXCHANGER_H

#include "model/parts/parts.h"

/* (5 g/s)2: what natural convection in a standing cell is worth */
static const double STILL_FLOW = 2.5e-5;

/* conductance over that at SWH_FLOW_REF, by the flow [kg/s] */
static inline double conductance_of_flow(double flow)
{
    return swh_pow_three_quarters(sqrt(flow * flow + STILL_FLOW) * (1 / SWH_FLOW_REF));
}

/* A cell's state is that of its inside: of the heat that its wall gives, about half is taken up behind the
 * point at which it stands for its content, on the way out. So this part of it goes to what it flows into, as
 * if h_out = h + Q/(2 m) (second order in the length of the cells; with all of the heat before the outlet a
 * cell would hold what is at its outlet, and a condenser of six cells a third too much). Density falls ever
 * more slowly with quality, so its mean over a cell is met a little to the wet side of the middle: in a
 * condenser nearer the outlet, in an evaporator nearer the inlet (between the arithmetic and the logarithmic
 * mean of the ends' volumes). The part fades where hardly anything flows, and is none when the flow is
 * reversed. */
static const double LEAD_CONDENSER = 0.47, LEAD_EVAPORATOR = 0.53;
static const double LEAD_FLOW = 3e-3; /* kg/s; of the order of what natural convection moves */

static inline double lead_most(int node)
{
    return node < SWH_NODE_LIQUID ? LEAD_CONDENSER : LEAD_EVAPORATOR;
}

static inline double lead_share(int node, double flow)
{
    return flow > 0 ? lead_most(node) * flow * flow / (flow * flow + LEAD_FLOW * LEAD_FLOW) : 0;
}

static inline double lead_share_slope(int node, double flow)
{
    const double sum = flow * flow + LEAD_FLOW * LEAD_FLOW;
    return flow > 0 ? 2 * lead_most(node) * flow * LEAD_FLOW * LEAD_FLOW / (sum * sum) : 0;
}

/* The next volume of a cell that leads, -1: what an evaporator's last cell holds is what leaves it, as bulb
 * and superheat have it. */
static inline int leads_to(int node)
{
    return node == SWH_NODE_EVAP_LAST || node == SWH_NODE_REAR_LAST ? -1 : node + 1;
}

/* heat Q [W] that the wall gives to the fluid of a cell */
static inline void heat_cell(const struct swh_machine *m, const struct swh_flows *f, double *dy, int node,
                             double Q)
{
    const int next = leads_to(node);
    const double lead = next < 0 ? 0 : lead_share(node, f->m[node]) * Q;
    dy[m->l.U + node] += Q - lead;
    if (next >= 0)
        dy[m->l.U + next] += lead;
}

/* inside conductance of one cell [W/K] at SWH_FLOW_REF: two-phase inside the dome, single-phase outside,
 * joined smoothly */
static inline double inside_UA(double two_phase, double single_phase, double x, double dry_out)
{
    const double wet = swh_smooth_step(x * (1 / 0.03)) * swh_smooth_step((1 - x) * (1 / (1 - dry_out)));
    return single_phase + wet * (two_phase - single_phase);
}

static inline double inside_UA_slope(double two_phase, double single_phase, double x, double dry_out)
{
    const double per_dry = 1 / (1 - dry_out), wetted = x / 0.03, dry = (1 - x) * per_dry;
    const double wet_x = swh_step_slope(wetted) / 0.03 * swh_smooth_step(dry) -
                         swh_smooth_step(wetted) * swh_step_slope(dry) * per_dry;
    return wet_x * (two_phase - single_phase);
}

/* Heat [W] at SWH_FLOW_REF from a condensing gas to its wall. Gas condenses on a wall below its saturation
 * temperature T_sat, superheated or not, driven by T_sat - T_wall; its superheat goes beside that at the
 * single-phase value (Webb 1998, from memory). Without it a cell could stay wet or dry at the same load. Wall
 * above T_sat: only what is wet boils. */
static inline double condensing_heat(const struct swh_machine *m, const struct swh_cell_props *c,
                                     double T_wall)
{
    const double one = m->p.condenser_ua_single_phase, two = m->p.condenser_ua_two_phase;
    double T_sat = c->T;
    if (c->x >= 1 && swh_Tsat(m->fluid, c->P, &T_sat))
        T_sat = c->T; /* above the critical point */
    const double wet = swh_smooth_step((1 - c->x) * 10);
    const double colder = swh_smooth_pos(T_sat - T_wall, 0.5), hotter = colder - (T_sat - T_wall);
    return one * (c->T - T_wall) + swh_smooth_step(c->x * (1 / 0.03)) * (two - one) * (colder - wet * hotter);
}

/* a heat [W] with its derivatives with the temperature, pressure and quality of the fluid */
struct heat_derivatives {
    double heat, T, P, x;
};

static inline struct heat_derivatives condensing_derivatives(const struct swh_machine *m,
                                                             const struct swh_cell_props *c, double T_wall)
{
    const double one = m->p.condenser_ua_single_phase, two = m->p.condenser_ua_two_phase;
    double T_sat = c->T, sat_T = 1, sat_P = 0, T_dew = 0, dew_P = 0;
    if (c->x >= 1 && !swh_Tsat_slope(m->fluid, c->P, &T_dew, &dew_P)) {
        T_sat = T_dew;
        sat_T = 0;
        sat_P = dew_P;
    }
    const double wet = swh_smooth_step((1 - c->x) / 0.1), share = swh_smooth_step(c->x / 0.03) * (two - one);
    const double over = T_sat - T_wall, root = sqrt(over * over + 0.5 * 0.5);
    const double warms = 0.5 * (root - over); /* swh_smooth_pos of the wall over T_sat */
    const double drive = 0.5 * (over + root) - wet * warms;
    const double by_T_sat = share * 0.5 * ((1 + wet) + (1 - wet) * over / root);
    return (struct heat_derivatives){one * (c->T - T_wall) + share * drive, one + by_T_sat * sat_T,
                                     by_T_sat * sat_P,
                                     swh_step_slope(c->x / 0.03) / 0.03 * (two - one) * drive +
                                         share * swh_step_slope((1 - c->x) / 0.1) / 0.1 * warms};
}

/* heat [W] at SWH_FLOW_REF that an evaporating fluid takes from its wall: inside_UA times the difference */
static inline struct heat_derivatives evaporating_derivatives(const struct swh_params *p,
                                                              const struct swh_cell_props *c, double T_wall)
{
    const double two = p->evaporator_ua_two_phase, one = p->evaporator_ua_vapour, over = T_wall - c->T;
    const double UA = inside_UA(two, one, c->x, p->evaporator_dry_out);
    return (struct heat_derivatives){UA * over, -UA, 0,
                                     inside_UA_slope(two, one, c->x, p->evaporator_dry_out) * over};
}

#endif
