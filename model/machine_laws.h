/* The laws of one volume, one pipe, one cell: what both the rates (machine.c) and their derivatives
 * (machine_derivatives.c) are made of. Where a law's derivatives are taken in closed form they stand right
 * behind it; test_derivatives holds them to the law. Private to model/. */
#ifndef SWH_MODEL_MACHINE_LAWS_H
#define SWH_MODEL_MACHINE_LAWS_H

#include "model/base/smooth.h"
#include "model/machine.h"

#include <math.h>

static const double M_REF = 0.05; /* flow of the stated losses and conductances [kg/s] */

static inline double scalar(const struct swh_machine *m, const double *y, enum swh_scalar s)
{
    return y[m->l.scalar + (int)s];
}

/* row of the sum of a path of heat */
static inline int heat_row(const struct swh_machine *m, enum swh_channel path)
{
    return m->l.sum + SWH_SUM_HEAT + (int)path - (int)SWH_CH_heat_shoe_friction;
}

/* what a clamp on a pipe at T [K] reads in the end: pulled toward the air round it */
static inline double probe_equilibrium(const struct swh_params *p, double T, double T_bay)
{
    return T - p->probe_discharge_pull * (T - T_bay);
}

/* the node that follows a cell of the rear evaporator */
static inline int after_rear(int i)
{
    return i + 1 < SWH_NODE_MAX ? i + 1 : SWH_NODE_SUCTION;
}

/* ---- a volume and what leaves it ---- */

/* A volume full of liquid is not as hard as its liquid: hoses and walls give way. The pressure over
 * saturation is softened to LIQUID_SHARE of the liquid's own, starting flat over about LIQUID_KNEE [Pa], so
 * that a volume that sits on the bubble line does not make the integrator chatter between two stiffnesses.
 * Density at a given pressure moves by less than 1 %; mass and energy are states and stay exact. Size of the
 * share: common practice (rubber hose), no source. */
static const double LIQUID_SHARE = 0.25, LIQUID_KNEE = 3e5;

static inline void soften_liquid(const struct swh_machine *m, struct swh_cell_props *c, double rho)
{
    /* fades toward the critical point, above which liquid and gas are one and must have one pressure */
    const double soft = c->T < m->T_critical ? swh_smooth_step((m->T_critical - c->T) / 8) : 0;
    if (soft <= 0)
        return;
    double P_sat = 0;
    swh_Psat(m->fluid, c->T, &P_sat);
    const double over = swh_max(c->P - P_sat, 0);
    const double less = soft * (over - LIQUID_SHARE * over * over / (over + LIQUID_KNEE));
    c->P -= less;
    c->h -= less / rho;
}

/* What softening makes of the derivatives of a pressure that was P [Pa] before it: P' = P_P dP + P_T dT. */
struct softened {
    double P, T;
};

static inline struct softened soften_derivatives(const struct swh_machine *m, double P, double T)
{
    const double x = (m->T_critical - T) / 8, soft = swh_smooth_step(x);
    double P_sat = 0, sat_T = 0;
    if (soft <= 0)
        return (struct softened){1, 0};
    swh_Psat_slope(m->fluid, T, &P_sat, &sat_T);
    if (P <= P_sat)
        return (struct softened){1, 0};
    const double over = P - P_sat, part = over / (over + LIQUID_KNEE);
    const double less_P = soft * (1 - LIQUID_SHARE * part * (2 - part));
    const double less_T = -swh_step_slope(x) / 8 * over * (1 - LIQUID_SHARE * part);
    return (struct softened){1 - less_P, less_P * sat_T - less_T};
}

/* Liquid squeezed beyond the tables' top pressure goes on along their last slope, and the softened pressure
 * of a volume full of it is still that of a relief valve: an overfilled condenser needs that. */
static const double SQUEEZED = 400e5;

/* what becomes of a look-up in the tables; 1 if it cannot be used */
static inline int volume_of(const struct swh_machine *m, double rho, int outside, struct swh_cell_props *c)
{
    const int bad = outside && !(c->x <= 0 && c->P < SQUEEZED && c->P > 0);
    if (c->x <= 0)
        soften_liquid(m, c, rho);
    return bad;
}

/* Properties of n volumes at density rho [kg/m3] and internal energy u [J/kg]; bit k of what is returned is
 * set where volume k is outside the tables. */
static inline uint64_t volume_states(const struct swh_machine *m, int n, const double *rho, const double *u,
                                     struct swh_cell_props *const *c)
{
    const uint64_t outside = swh_rho_u_all(m->fluid, n, rho, u, c);
    uint64_t bad = 0;
    for (int k = 0; k < n; k++)
        bad |= (uint64_t)volume_of(m, rho[k], outside >> k & 1, c[k]) << k;
    return bad;
}

/* Vapour outruns liquid in a pipe: flow quality x/(x + (1-x) r) from the static quality, r =
 * (rho_g/rho_f)^(1/3) (Zivi 1964 slip). The state of the cell stays the homogeneous mixture. */
static inline double slip_enthalpy(const struct swh_cell_props *c)
{
    if (c->x <= 0 || c->x >= 1)
        return c->h;
    const double x = c->x / (c->x + (1 - c->x) * c->slip);
    return c->h_f + x * (c->h_g - c->h_f);
}

/* Its derivative while x is between 0 and 1: with x, and with temperature along the saturation line. */
struct slip_derivatives {
    double x, T;
};

static inline struct slip_derivatives slip_derivatives(const struct swh_cell_props *c,
                                                       const struct swh_cell_derivatives *d)
{
    const double inverse = 1 / (c->x + (1 - c->x) * c->slip), x = c->x * inverse, h_fg = c->h_g - c->h_f;
    const double x_slip = -x * (1 - c->x) * inverse;
    return (struct slip_derivatives){c->slip * inverse * inverse * h_fg,
                                     d->h_f_T + x * (d->h_g_T - d->h_f_T) + x_slip * d->slip_T * h_fg};
}

/* share of the volume that liquid fills */
static inline double liquid_share(const struct swh_cell_props *c, double rho)
{
    if (c->x <= 0)
        return 1;
    if (c->x >= 1)
        return 0;
    return rho * (1 - c->x) / c->rho_f;
}

/* The receiver's dip tube takes liquid while it reaches it, then what there is. */
static inline double receiver_enthalpy(const struct swh_cell_props *c, double rho)
{
    if (c->x <= 0 || c->x >= 1)
        return c->h;
    const double dry = 1 - swh_smooth_step(liquid_share(c, rho) / 0.06);
    return c->h_f + dry * (slip_enthalpy(c) - c->h_f);
}

/* The accumulator gives vapour with a small bleed of liquid, and liquid when it overflows. */
static inline double accumulator_enthalpy(const struct swh_params *p, const struct swh_cell_props *c,
                                          double rho)
{
    if (c->x <= 0 || c->x >= 1)
        return c->h;
    const double liquid = liquid_share(c, rho);
    const double bleed = p->accumulator_bleed * swh_smooth_step(liquid / 0.05);
    const double overflow = swh_smooth_step((liquid - 0.85) / 0.15);
    const double x = 1 - bleed - overflow * (1 - bleed - c->x);
    return c->h_f + x * (c->h_g - c->h_f);
}

/* What flows backward out of a vessel comes from its top: vapour, unless it is nearly full. */
static inline double top_enthalpy(const struct swh_cell_props *c, double rho)
{
    if (c->x <= 0 || c->x >= 1)
        return c->h;
    const double full = swh_smooth_step((liquid_share(c, rho) - 0.9) / 0.1);
    return c->h_g + full * (c->h - c->h_g);
}

static inline int is_exchanger(int i)
{
    return (i >= SWH_NODE_COND && i < SWH_NODE_RECEIVER) || (i >= SWH_NODE_EVAP && i < SWH_NODE_SUCTION) ||
           i >= SWH_NODE_REAR;
}

/* the volume that lets liquid and vapour settle */
static inline int settling_vessel(const struct swh_machine *m)
{
    return m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE ? SWH_NODE_SUCTION : SWH_NODE_RECEIVER;
}

/* enthalpies of what leaves volume i downstream and, when the flow reverses, upstream */
static inline void outlets(const struct swh_machine *m, int i, const struct swh_cell_props *c, double rho,
                           double *out, double *back)
{
    *out = is_exchanger(i) ? slip_enthalpy(c) : c->h;
    *back = *out;
    if (i != settling_vessel(m))
        return;
    *back = top_enthalpy(c, rho);
    *out = i == SWH_NODE_SUCTION ? accumulator_enthalpy(&m->p, c, rho) : receiver_enthalpy(c, rho);
}

/* ---- a pipe, a valve ---- */

/* A pipe's flow is linear in the pressure difference within about this [Pa2, squared] of zero: within 1 kPa
 * anywhere, within 3 kPa between the vessels that hold liquid (end of the condenser, receiver, subcooling
 * pass, liquid line). There the head of the liquid itself is a few kPa (a quarter of a metre), which this
 * model does not know, and the root's steep slope would be the hardest corner of all the rates. Measured: 1
 * kPa there would move the pressures of a steady circuit by 0.01 bar, those of a cycling one by 0.003 bar and
 * the rotor by 0.01 K (99 % of rows). */
static const double PIPE_LINEAR = 1e6, VESSEL_LINEAR = 9e6;

/* m = K sqrt(rho dP), density of the upstream side blended over twice the root of `linear`, linear within
 * about that root of zero: K sqrt(rho) swh_signed_sqrt(dP, ..) with the roots shared */
static inline double pipe_flow(double K, double linear, double P_a, double P_b, double rho_a, double rho_b)
{
    const double dP = P_a - P_b;
    const double inverse = 1 / sqrt(dP * dP + linear);
    const double up = 0.5 * (1 + dP * inverse);
    const double rho = rho_b + up * (rho_a - rho_b);
    return K * dP * sqrt(rho * inverse);
}

/* The flow with its derivatives: with the pressure difference, and with the density of either end. */
struct flow_derivatives {
    double m, dP, rho_a, rho_b;
};

static inline struct flow_derivatives pipe_derivatives(double K, double linear, double P_a, double P_b,
                                                       double rho_a, double rho_b)
{
    const double dP = P_a - P_b;
    const double inverse = 1 / sqrt(dP * dP + linear);
    const double up = 0.5 * (1 + dP * inverse);
    const double rho = rho_b + up * (rho_a - rho_b);
    const double root = sqrt(rho * inverse);
    const double cube = inverse * inverse * inverse;
    const double half = 0.5 * K * dP / root; /* slope with rho * inverse */
    const double m_rho = half * inverse;
    return (struct flow_derivatives){
        K * dP * root, K * root + half * cube * (0.5 * linear * (rho_a - rho_b) * inverse - rho * dP),
        up * m_rho, (1 - up) * m_rho};
}

/* Opening of a thermostatic valve: bulb pressure (limited) over evaporator pressure and spring, 0 shut .. 1
 */
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

static inline double valve_flow(double CdA, double P_up, double P_down, double rho_up, double rho_down)
{
    return pipe_flow(CdA * ROOT_2, PIPE_LINEAR, P_up, P_down, rho_up, rho_down);
}

/* Short-tube orifice: chokes just below the saturation pressure of what enters (form of Kim and O'Neal 1994):
 * the flow depends on upstream pressure and subcooling, hardly on the evaporator. */
static inline double orifice_flow(const struct swh_machine *m, const struct swh_cell_props *c, double P_up,
                                  double P_down, double rho_up, double rho_down)
{
    double P_sat = c->P;
    if (c->x <= 0)
        swh_Psat(m->fluid, c->T, &P_sat);
    const double choke = m->p.orifice_flash_share * P_sat;
    const double P_eff = P_down + swh_smooth_pos(choke - P_down, 5e3);
    /* below choking the upstream pressure may even fall under P_eff: no flow backward against P_down */
    const double P_back = P_up < P_down ? P_down : swh_min(P_eff, P_up);
    return valve_flow(m->orifice_CdA, P_up, P_back, rho_up, rho_down);
}

/* Its derivatives: with the pressures before and behind it, with the temperature before it (subcooled liquid
 * only), with the densities. P_up and P_down as in orifice_flow. */
struct orifice_derivatives {
    double up, down, T, rho_up, rho_down;
};

static inline struct orifice_derivatives orifice_derivatives(const struct swh_machine *m,
                                                             const struct swh_cell_props *c, double P_up,
                                                             double P_down, double rho_up, double rho_down)
{
    const double share = m->p.orifice_flash_share;
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
        pipe_derivatives(m->orifice_CdA * ROOT_2, PIPE_LINEAR, P_up, back, rho_up, rho_down);
    return (struct orifice_derivatives){q.dP * (1 - back_up - back_sat * sat_P), -q.dP * back_down,
                                        -q.dP * back_sat * sat_T, q.rho_a, q.rho_b};
}

/* (1e-4 kg/s)2: over this flow the switch between the enthalpies of both sides is rounded */
static const double CARRY_ROUNDED = 1e-8;

/* ---- friction ---- */

/* Oil viscosity and everything about friction at N [rev/s] under the pressures P_s and P_d. At rest
 * swh_machine_rates does without it. */
void swh_machine_film(const struct swh_machine *m, const double *y, double N, double P_s, double P_d,
                      double *mu, struct swh_film *film);

/* ---- a cell of an exchanger ---- */

/* (5 g/s)2: what natural convection in a standing cell is worth */
static const double STILL_FLOW = 2.5e-5;

/* conductance over that at M_REF, by the flow [kg/s] */
static inline double conductance_of_flow(double flow)
{
    return swh_pow_three_quarters(sqrt(flow * flow + STILL_FLOW) * (1 / M_REF));
}

/* inside conductance of one cell [W/K] at M_REF: two-phase inside the dome, single-phase outside, joined
 * smoothly */
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

/* Heat [W] at M_REF from a condensing gas to its wall. Gas condenses on a wall below its saturation
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

/* heat [W] at M_REF that an evaporating fluid takes from its wall: inside_UA times the difference */
static inline struct heat_derivatives evaporating_derivatives(const struct swh_params *p,
                                                              const struct swh_cell_props *c, double T_wall)
{
    const double two = p->evaporator_ua_two_phase, one = p->evaporator_ua_vapour, over = T_wall - c->T;
    const double UA = inside_UA(two, one, c->x, p->evaporator_dry_out);
    return (struct heat_derivatives){UA * over, -UA, 0,
                                     inside_UA_slope(two, one, c->x, p->evaporator_dry_out) * over};
}

#endif
