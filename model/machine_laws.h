/* The laws of one volume, one pipe, one cell: what both the rates (machine.c) and their derivatives
 * (machine_slopes.c) are made of. Private to model/. */
#ifndef SWH_MODEL_MACHINE_LAWS_H
#define SWH_MODEL_MACHINE_LAWS_H

#include "model/machine.h"
#include "model/smooth.h"

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
static inline double clamped(const struct swh_params *p, double T, double T_bay)
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
    const double soft = c->T < m->T_critical ? swh_step((m->T_critical - c->T) / 8) : 0;
    if (soft <= 0)
        return;
    double P_sat = 0;
    swh_Psat(m->fluid, c->T, &P_sat);
    const double over = swh_larger(c->P - P_sat, 0);
    const double less = soft * (over - LIQUID_SHARE * over * over / (over + LIQUID_KNEE));
    c->P -= less;
    c->h -= less / rho;
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

/* Properties of a volume at density rho [kg/m3] and internal energy u [J/kg]; 1 if outside the tables. */
static inline int volume_state(const struct swh_machine *m, double rho, double u, struct swh_cell_props *c)
{
    const int outside = swh_rho_u(m->fluid, rho, u, c);
    return volume_of(m, rho, outside, c);
}

/* Properties of n volumes, to the same bits; bit k of what is returned is set where volume k is outside. */
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
    const double dry = 1 - swh_step(liquid_share(c, rho) / 0.06);
    return c->h_f + dry * (slip_enthalpy(c) - c->h_f);
}

/* The accumulator gives vapour with a small bleed of liquid, and liquid when it overflows. */
static inline double accumulator_enthalpy(const struct swh_params *p, const struct swh_cell_props *c,
                                          double rho)
{
    if (c->x <= 0 || c->x >= 1)
        return c->h;
    const double liquid = liquid_share(c, rho);
    const double bleed = p->accumulator_bleed * swh_step(liquid / 0.05);
    const double overflow = swh_step((liquid - 0.85) / 0.15);
    const double x = 1 - bleed - overflow * (1 - bleed - c->x);
    return c->h_f + x * (c->h_g - c->h_f);
}

/* What flows backward out of a vessel comes from its top: vapour, unless it is nearly full. */
static inline double top_enthalpy(const struct swh_cell_props *c, double rho)
{
    if (c->x <= 0 || c->x >= 1)
        return c->h;
    const double full = swh_step((liquid_share(c, rho) - 0.9) / 0.1);
    return c->h_g + full * (c->h - c->h_g);
}

/* enthalpies of what leaves volume i downstream and, when the flow reverses, upstream */
static inline void outlets(const struct swh_machine *m, int i, const struct swh_cell_props *c, double rho,
                           double *out, double *back)
{
    const int orifice = m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE;
    const int exchanger = (i >= SWH_NODE_COND && i < SWH_NODE_RECEIVER) ||
                          (i >= SWH_NODE_EVAP && i < SWH_NODE_SUCTION) || i >= SWH_NODE_REAR;
    *out = exchanger ? slip_enthalpy(c) : c->h;
    *back = *out;
    if (i != (orifice ? SWH_NODE_SUCTION : SWH_NODE_RECEIVER))
        return;
    *back = top_enthalpy(c, rho);
    *out = orifice ? accumulator_enthalpy(&m->p, c, rho) : receiver_enthalpy(c, rho);
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

/* Opening of a thermostatic valve: bulb pressure (limited) over evaporator pressure and spring, 0 shut .. 1
 */
static inline double valve_opening(const struct swh_machine *m, double T_bulb, double P_evap)
{
    const struct swh_params *p = &m->p;
    double P_bulb = 0;
    swh_Psat(m->fluid, T_bulb, &P_bulb);
    P_bulb = swh_min(P_bulb, p->valve_limit, 5e3);
    const double x = (P_bulb - P_evap - p->valve_spring) / p->valve_range;
    return swh_clip(x, p->valve_least_open, p->valve_most_open + 1e-6, 0.02) +
           p->valve_leak * p->valve_most_open;
}

static inline double valve_flow(double CdA, double P_up, double P_down, double rho_up, double rho_down)
{
    return pipe_flow(CdA * 1.4142135623730951, PIPE_LINEAR, P_up, P_down, rho_up, rho_down);
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
    const double P_eff = P_down + swh_plus(choke - P_down, 5e3);
    /* below choking the upstream pressure may even fall under P_eff: no flow backward against P_down */
    const double P_back = P_up < P_down ? P_down : swh_lesser(P_eff, P_up);
    return valve_flow(m->orifice_CdA, P_up, P_back, rho_up, rho_down);
}

/* suction line and port in series */
static inline double suction_factor(const struct swh_machine *m)
{
    const double k_a = m->K_suction, k_b = m->K_port;
    return k_a * k_b / sqrt(k_a * k_a + k_b * k_b + 1e-30);
}

/* the gauge sits between the two: share of the loss behind it */
static inline double gauge_share(const struct swh_machine *m)
{
    const double k_a = m->K_suction, k_b = m->K_port;
    return (k_a * k_a) / (k_a * k_a + k_b * k_b + 1e-30);
}

/* (1e-4 kg/s)2: over this flow the switch between the enthalpies of both sides is rounded */
static const double CARRY_ROUNDED = 1e-8;

/* ---- a cell of an exchanger ---- */

/* (5 g/s)2: what natural convection in a standing cell is worth */
static const double STILL_FLOW = 2.5e-5;

/* conductance over that at M_REF, by the flow [kg/s] */
static inline double flow_strength(double flow)
{
    return swh_pow_three_quarters(sqrt(flow * flow + STILL_FLOW) / M_REF);
}

/* inside conductance of one cell [W/K] at M_REF: two-phase inside the dome, single-phase outside, joined
 * smoothly */
static inline double inside_UA(double two_phase, double single_phase, double x, double dry_out)
{
    const double wet = swh_step(x / 0.03) * swh_step((1 - x) / (1 - dry_out));
    return single_phase + wet * (two_phase - single_phase);
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
    const double wet = swh_step((1 - c->x) / 0.1);
    const double drive = swh_plus(T_sat - T_wall, 0.5) - wet * swh_plus(T_wall - T_sat, 0.5);
    return one * (c->T - T_wall) + swh_step(c->x / 0.03) * (two - one) * drive;
}

#endif
