#include "model/parts/compressor.h"

#include "model/base/smooth.h"

#include <math.h>

static const double PI = 3.14159265358979323846;
enum { BORES = 10 };
static const double M_REF = 0.05;     /* flow at which the conductances are given [kg/s] */
static const double REED_OPENS = 2e3; /* pressure that lifts both reeds [Pa]; common practice, no source */

struct isentrope {
    double h_1, h_2s, rho_2s, vapour_share, rho_1;
    int beyond; /* its end is hotter than the tables; the values are those of their edge */
};

static int isentrope_from_chamber(const struct swh_fluid *fluid, const struct swh_compressor_in *in,
                                  double P_2, struct isentrope *is)
{
    const struct swh_cell_props *c = in->suction;
    double s = 0;
    int bad = 0;
    is->vapour_share = swh_min(swh_max(c->x, 0.2), 1.0);
    if (c->x < 1) { /* wet: only the vapour is compressed */
        struct swh_saturation sat;
        bad |= swh_sat_P(fluid, c->P, &sat);
        is->h_1 = sat.h_g;
        s = sat.s_g;
    } else {
        is->h_1 = c->h;
        bad |= swh_rho_u_entropy(fluid, in->rho_suction, in->u_suction, &s);
    }
    /* liquid in the chamber fills the bores no fuller than a quality of one half would */
    is->rho_1 = swh_smooth_min(in->rho_suction, 2 * (c->x < 1 ? c->rho_g : in->rho_suction), 0.5);
    is->beyond = swh_P_s(fluid, P_2, s, &is->h_2s, &is->rho_2s);
    return bad;
}

/* indicated efficiency: best near a pressure ratio of 3.5, falling on both sides and with speed */
static double indicated_efficiency(const struct swh_params *p, double ratio, double n)
{
    const double X = (ratio - 3.5) * (ratio - 3.5), bent = 1 + 0.03 * X;
    return p->compressor_indicated_efficiency * (bent - 0.004 * X) /
           (bent * (1 + p->compressor_indicated_speed_loss * n * n));
}

static double blowby(const struct swh_params *p, const struct swh_compressor_in *in, double mu_gas,
                     double rho_2, double dP)
{
    const double c = swh_max(in->clearance, 0.5e-6);
    const double slot = BORES * PI * p->compressor_bore * c * c * c / (12 * p->compressor_seal_length);
    const double fluidity = 1 / in->mu;
    const double gas = swh_smooth_min(0.08 * sqrt(3e-3 * fluidity) / (0.1 + in->supply), 0.9, 0.05);
    const double mobility = gas / mu_gas + (1 - gas) * fluidity;
    return p->compressor_blowby_duty * 0.5 * rho_2 * slot * mobility * dP;
}

/* what a turning shaft takes in, delivers and puts into it */
static int deliver(const struct swh_params *p, const struct swh_fluid *fluid,
                   const struct swh_compressor_in *in, struct swh_compressor_flows *out)
{
    const struct swh_cell_props *c = in->suction;
    const double P_1 = c->P;
    const double P_2 =
        P_1 + swh_smooth_pos(in->P_d - P_1, 1e3); /* reeds: never delivers below suction pressure */
    struct isentrope is;
    const int bad = isentrope_from_chamber(fluid, in, P_2, &is);
    const double n = in->N * (1 / 33.3);
    const double C = p->compressor_clearance_volume;
    const double throttle = 1 - p->compressor_valve_loss * pow(n + 1e-9, 1.3) / (1 + 0.15 * n * n);
    out->eta_v = swh_smooth_pos(1 + C - C * is.rho_2s / swh_min(is.rho_1, is.rho_2s), 0.02) * throttle;
    out->eta_i = indicated_efficiency(p, P_2 / P_1, n);
    /* a deep vacuum is not delivered at all: the clearance volume's gas fills the bores again */
    out->too_hot = is.beyond && out->eta_v > 0.05;
    const double m_in = out->eta_v * p->compressor_displacement * in->N * is.rho_1;
    const double leak = blowby(p, in, swh_mu_gas(fluid, c->T), is.rho_2s, P_2 - P_1);
    out->m_in = m_in;
    out->m_blowby = m_in * swh_held(p->freeze_blowby_share, leak / (m_in + leak + 1e-12));
    out->m = m_in - out->m_blowby;
    const double w = is.vapour_share * (is.h_2s - is.h_1) / out->eta_i;
    out->work = m_in * w;
    const double flow = swh_pow_three_quarters(m_in * (1 / M_REF));
    /* the gas in a bore is as hot as the mean of both plena, near enough */
    const double Q_bore = p->compressor_ua_bore_gas * flow * (0.5 * (c->T + in->T_d) - in->T_block);
    const double per_flow = 1 / (m_in + 1e-6);
    out->h_2 = c->h + w - Q_bore * per_flow;
    out->Q_bore = Q_bore * m_in * per_flow;
    return bad | out->too_hot;
}

/* All of that goes with the flow, and is nothing at rest. */
static void stand(const struct swh_compressor_in *in, struct swh_compressor_flows *out)
{
    out->m = out->m_in = out->m_blowby = out->work = out->Q_bore = 0;
    out->eta_v = out->eta_i = 0;
    out->h_2 = in->suction->h;
    out->too_hot = 0;
}

/* past the reeds, turning or not */
static void pass_reeds(const struct swh_params *p, const struct swh_compressor_in *in,
                       struct swh_compressor_flows *out)
{
    const double dP = in->P_d - in->suction->P;
    out->m_reed = 0;
    if (p->compressor_reed_leak_area > 0)
        out->m_reed =
            p->compressor_reed_leak_area * swh_signed_sqrt(2 * in->rho_d * swh_smooth_pos(dP, 10.0), 1e3);
    out->m_through = p->compressor_passage_area *
                     swh_signed_sqrt(2 * in->rho_suction * swh_smooth_pos(-dP - REED_OPENS, 200.0), 1e3);
}

/* what a flow makes of a conductance that is given at M_REF; natural convection is worth a gram a second */
static double conductance_of_flow(double m)
{
    return swh_pow_three_quarters(sqrt(m * m + 1e-6) * (1 / M_REF));
}

static void chamber_heat(const struct swh_params *p, const struct swh_compressor_in *in,
                         struct swh_compressor_flows *out)
{
    /* held values count while gas really flows: a standing chamber must not boil from them */
    const double held = swh_smooth_step(out->m_in / (0.2 * swh_held(p->freeze_suction_flow, M_REF) + 1e-6));
    const double m = out->m_in + held * (swh_held(p->freeze_suction_flow, out->m_in) - out->m_in);
    const double T_gas = in->suction->T, rho_gas = in->rho_suction;
    const double T = T_gas + held * (swh_held(p->freeze_suction_temperature, T_gas) - T_gas);
    const double rho = rho_gas + held * (swh_held(p->freeze_suction_density, rho_gas) - rho_gas);
    const double spin = swh_pow_three_quarters((in->N + 0.5) * rho * (1 / (25.0 * 15.0)));
    /* boiling liquid on warm metal takes more heat than gas does */
    const double wet = 1 + 3 * swh_smooth_step(5 * (1 - in->suction->x));
    const double flow = wet * conductance_of_flow(m);
    out->Q_block = p->compressor_ua_suction_block * flow * (T - in->T_block);
    out->Q_heads = p->compressor_ua_suction_heads * flow * (T - in->T_heads);
    out->Q_rotor = p->compressor_ua_suction_rotor * wet * spin * (T - in->T_rotor);
}

int swh_compressor_eval(const struct swh_params *p, const struct swh_fluid *fluid,
                        const struct swh_compressor_in *in, struct swh_compressor_flows *out)
{
    int bad = 0;
    if (in->N > 0)
        bad = deliver(p, fluid, in, out);
    else
        stand(in, out);
    pass_reeds(p, in, out);
    chamber_heat(p, in, out);
    out->Q_discharge =
        p->compressor_ua_discharge_heads * conductance_of_flow(out->m) * (in->T_d - in->T_heads);
    return bad;
}
