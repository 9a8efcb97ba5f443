/* Laws of one volume: its state and what leaves it. Where a law's derivatives are taken in closed form they
 * stand right behind it. Private to model/. */
#ifndef SWH_MODEL_PARTS_VOLUME_H
#define SWH_MODEL_PARTS_VOLUME_H

#include "model/parts/parts.h"

/* A volume full of liquid is not as hard as its liquid: hoses and walls give way. The pressure over
 * saturation is softened to LIQUID_SHARE of the liquid's own, starting flat over about LIQUID_KNEE [Pa], so
 * that a volume that sits on the bubble line does not make the integrator chatter between two stiffnesses.
 * Density at a given pressure moves by less than 1 %; mass and energy are states and stay exact. The liquid
 * that fills the room which the hoses give has expanded, and is colder than the tables say: by (dT/dP)_s
 * times the pressure that it has lost (first order of T(P, h) at P and h of the volume). Size of the share:
 * common practice (rubber hose), no source. */
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
    double slope;
    c->P -= less;
    c->h -= less / rho;
    c->T -= swh_liquid_T_P(m->fluid, c->T, &slope) * less;
}

/* the temperature before softening, from that behind it and the pressure [Pa] that it took away */
static inline double stiff_temperature(const struct swh_machine *m, double T_soft, double less)
{
    double T = T_soft, slope;
    for (int k = 0; k < 3; k++) { /* Newton's steps; T_P changes by a hundredth */
        const double T_P = swh_liquid_T_P(m->fluid, T, &slope);
        T -= (T - T_P * less - T_soft) / (1 - slope * less);
    }
    return T;
}

/* What softening makes of the derivatives of a pressure and temperature that were P [Pa] and T [K] before it:
 * P' = P_P dP + P_T dT, T' = T_P dP + T_T dT. */
struct softened {
    double P_P, P_T, T_P, T_T;
};

static inline struct softened soften_derivatives(const struct swh_machine *m, double P, double T)
{
    const double x = (m->T_critical - T) / 8, soft = swh_smooth_step(x);
    const struct softened as_it_was = {1, 0, 0, 1};
    double P_sat = 0, sat_T = 0, slope;
    if (soft <= 0)
        return as_it_was;
    swh_Psat_slope(m->fluid, T, &P_sat, &sat_T);
    if (P <= P_sat)
        return as_it_was;
    const double over = P - P_sat, part = over / (over + LIQUID_KNEE),
                 T_P = swh_liquid_T_P(m->fluid, T, &slope);
    const double less = soft * over * (1 - LIQUID_SHARE * part);
    const double less_P = soft * (1 - LIQUID_SHARE * part * (2 - part));
    const double less_T = -swh_step_slope(x) / 8 * over * (1 - LIQUID_SHARE * part) - less_P * sat_T;
    return (struct softened){1 - less_P, -less_T, -T_P * less_P, 1 - T_P * less_T - slope * less};
}

/* Liquid squeezed beyond the tables' top pressure goes on along their last slope, and the softened pressure
 * of a volume full of it is still that of a relief valve: an overfilled condenser needs that. */
static const double SQUEEZED = 400e5;

/* Below the tables' cold end (500 Pa, some -105 degC) what is pumped to a vacuum goes on along their edge:
 * there is next to no pressure left, and the walls warm it at once. */
static const double VACUUM = 510; /* Pa */

/* what becomes of a look-up in the tables; 1 if it cannot be used */
static inline int volume_of(const struct swh_machine *m, double rho, int outside, struct swh_cell_props *c)
{
    const int bad = outside && !(c->x <= 0 && c->P < SQUEEZED && c->P > 0) && !(c->P < VACUUM);
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

/* Quality of what flows out of a cell whose content has the quality x, between 0 and 1, and the slip group G
 * (Baroczy, refrigerant.h). The state of the cell stays the homogeneous mixture. */
static inline double flow_quality(double x, double slip)
{
    return 1 / (1 + pow(slip * (1 - x) / x, 1 / SWH_BAROCZY_X));
}

/* Enthalpy of what leaves a cell at its state [J/kg]. */
static inline double slip_enthalpy(const struct swh_cell_props *c)
{
    if (c->x <= 0 || c->x >= 1)
        return c->h;
    return c->h_f + flow_quality(c->x, c->slip) * (c->h_g - c->h_f);
}

/* Its derivative while x is between 0 and 1: with x, and with temperature along the saturation line. h_out is
 * slip_enthalpy. */
struct slip_derivatives {
    double x, T;
};

static inline struct slip_derivatives slip_derivatives(const struct swh_cell_props *c,
                                                       const struct swh_cell_derivatives *d, double h_out)
{
    const double h_fg = c->h_g - c->h_f, x = (h_out - c->h_f) / h_fg;
    const double spread = x * (1 - x) * h_fg * (1 / SWH_BAROCZY_X);
    return (struct slip_derivatives){spread / (c->x * (1 - c->x)),
                                     d->h_f_T + x * (d->h_g_T - d->h_f_T) - spread * d->slip_T / c->slip};
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

/* Liquid over the bleed's hole drives it beside the pipe's own loss: a vessel full of it, some 0.2 m, is
 * worth three times the loss of the vapour in the pipe (textbook: 2.4 kPa over 0.8 kPa). The bleed is stated
 * for a vessel 0.3 full. Splashes begin to reach the pipe's mouth above OVERFLOW (practice). */
static const double BLEED_HEAD = 3, BLEED_AT = 0.3, OVERFLOW = 0.6;

static inline double accumulator_bleeds(const struct swh_params *p, double liquid)
{
    const double head = sqrt((1 + BLEED_HEAD * liquid) * (1 / (1 + BLEED_HEAD * BLEED_AT)));
    return p->accumulator_bleed * head * swh_smooth_step(liquid / 0.05);
}

/* The accumulator gives vapour with a small bleed of liquid, and liquid when it overflows. */
static inline double accumulator_enthalpy(const struct swh_params *p, const struct swh_cell_props *c,
                                          double rho)
{
    if (c->x <= 0 || c->x >= 1)
        return c->h;
    const double liquid = liquid_share(c, rho);
    const double bleed = accumulator_bleeds(p, liquid);
    const double overflow = swh_smooth_step((liquid - OVERFLOW) * (1 / (1 - OVERFLOW)));
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
    return (i >= SWH_NODE_COND && i < SWH_NODE_RECEIVER) ||
           (i >= SWH_NODE_EVAP && i < SWH_NODE_ACCUMULATOR) || i >= SWH_NODE_REAR;
}

/* the volume that lets liquid and vapour settle */
static inline int settling_vessel(const struct swh_machine *m)
{
    return m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE ? SWH_NODE_ACCUMULATOR : SWH_NODE_RECEIVER;
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
    *out = i == SWH_NODE_ACCUMULATOR ? accumulator_enthalpy(&m->p, c, rho) : receiver_enthalpy(c, rho);
}

/* A volume that is pumped to less than this is taken to hold so little gas: the integrator's tolerance of a
 * mass is larger, and it may step below nothing. */
static const double EMPTY_RHO = 1e-3, EMPTY_U = 3.7e5; /* kg/m3; J/kg, any gas near room temperature */

struct content {
    double M, u; /* kg, J/kg */
};

static inline struct content content_of(const struct swh_machine *m, const double *y, int i)
{
    const double M = y[m->l.M + i], least = EMPTY_RHO * m->volume[i];
    const int empty = !(M > least);
    return (struct content){empty ? least : M, empty ? EMPTY_U : y[m->l.U + i] / M};
}

#endif
