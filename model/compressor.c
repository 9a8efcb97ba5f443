#include "model/compressor.h"

#include "model/smooth.h"

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
    const double x = in->suction.x;
    double s = 0;
    int bad = 0;
    is->vapour_share = swh_lesser(swh_larger(x, 0.2), 1.0);
    if (x < 1) { /* wet: only the vapour is compressed */
        struct swh_saturation sat;
        bad |= swh_sat_P(fluid, in->suction.P, &sat);
        is->h_1 = sat.h_g;
        s = sat.s_g;
    } else {
        is->h_1 = in->suction.h;
        bad |= swh_rho_u_entropy(fluid, in->rho_suction, in->u_suction, &s);
    }
    /* liquid in the chamber fills the bores no fuller than a quality of one half would */
    is->rho_1 = swh_min(in->rho_suction, 2 * (x < 1 ? in->suction.rho_g : in->rho_suction), 0.5);
    is->beyond = swh_P_s(fluid, P_2, s, &is->h_2s, &is->rho_2s);
    return bad;
}

/* indicated efficiency: best near a pressure ratio of 3.5, falling on both sides and with speed */
static double indicated_efficiency(const struct swh_params *p, double ratio, double n)
{
    const double X = (ratio - 3.5) * (ratio - 3.5);
    return p->compressor_indicated_efficiency * (1 - 0.004 * X / (1 + 0.03 * X)) /
           (1 + p->compressor_indicated_speed_loss * n * n);
}

static double blowby(const struct swh_params *p, const struct swh_compressor_in *in, double mu_gas,
                     double rho_2, double dP)
{
    const double c = swh_larger(in->clearance, 0.5e-6);
    const double slot = BORES * PI * p->compressor_bore * c * c * c / (12 * p->compressor_seal_length);
    const double gas = swh_min(0.08 * sqrt(3e-3 / in->mu) / (0.1 + in->supply), 0.9, 0.05);
    const double mobility = gas / mu_gas + (1 - gas) / in->mu;
    return p->compressor_blowby_duty * 0.5 * rho_2 * slot * mobility * dP;
}

static void chamber_heat(const struct swh_params *p, const struct swh_compressor_in *in, double m_through,
                         struct swh_compressor_flows *out)
{
    /* held values count while gas really flows: a standing chamber must not boil from them */
    const double held = swh_step(m_through / (0.2 * swh_held(p->freeze_suction_flow, M_REF) + 1e-6));
    const double m = m_through + held * (swh_held(p->freeze_suction_flow, m_through) - m_through);
    const double flow = swh_pow_three_quarters(sqrt(m * m + 1e-6) / M_REF);
    const double spin = swh_pow_three_quarters(in->N / 25.0 + 0.02);
    const double T_gas = in->suction.T, rho_gas = in->rho_suction;
    const double T = T_gas + held * (swh_held(p->freeze_suction_temperature, T_gas) - T_gas);
    const double rho = rho_gas + held * (swh_held(p->freeze_suction_density, rho_gas) - rho_gas);
    /* boiling liquid on warm metal takes more heat than gas does */
    const double wet = 1 + 3 * swh_step(5 * (1 - in->suction.x));
    out->Q_block = wet * p->compressor_ua_suction_block * flow * (T - in->T_block);
    out->Q_heads = wet * p->compressor_ua_suction_heads * flow * (T - in->T_heads);
    out->Q_rotor =
        wet * p->compressor_ua_suction_rotor * spin * swh_pow_three_quarters(rho / 15.0) * (T - in->T_rotor);
}

int swh_compressor_eval(const struct swh_params *p, const struct swh_fluid *fluid,
                        const struct swh_compressor_in *in, struct swh_compressor_flows *out)
{
    const double P_1 = in->suction.P;
    const double P_2 = P_1 + swh_plus(in->P_d - P_1, 1e3); /* reeds: never delivers below suction pressure */
    struct isentrope is;
    const int bad = isentrope_from_chamber(fluid, in, P_2, &is);
    const double n = in->N / 33.3;
    const double C = p->compressor_clearance_volume;
    const double throttle = 1 - p->compressor_valve_loss * pow(n + 1e-9, 1.3) / (1 + 0.15 * n * n);
    out->eta_v = swh_plus(1 + C - C * is.rho_2s / swh_lesser(is.rho_1, is.rho_2s), 0.02) * throttle;
    out->eta_i = indicated_efficiency(p, P_2 / P_1, n);
    /* a deep vacuum is not delivered at all: the clearance volume's gas fills the bores again */
    out->too_hot = is.beyond && out->eta_v > 0.05;
    const double m_in = out->eta_v * p->compressor_displacement * in->N * is.rho_1;
    const double leak = blowby(p, in, swh_mu_gas(fluid, in->suction.T), is.rho_2s, P_2 - P_1);
    out->m_blowby = m_in * swh_held(p->freeze_blowby_share, leak / (m_in + leak + 1e-12));
    out->m = m_in - out->m_blowby;
    out->m_reed =
        p->compressor_reed_leak_area * swh_signed_sqrt(2 * in->rho_d * swh_plus(in->P_d - P_1, 10.0), 1e3);
    out->m_through = p->compressor_passage_area *
                     swh_signed_sqrt(2 * in->rho_suction * swh_plus(P_1 - in->P_d - REED_OPENS, 200.0), 1e3);
    const double w = is.vapour_share * (is.h_2s - is.h_1) / out->eta_i;
    out->work = m_in * w;
    const double flow = swh_pow_three_quarters(m_in / M_REF);
    /* the gas in a bore is as hot as the mean of both plena, near enough */
    out->Q_bore = p->compressor_ua_bore_gas * flow * (0.5 * (in->suction.T + in->T_d) - in->T_block);
    out->h_2 = in->suction.h + w - out->Q_bore / (m_in + 1e-6);
    out->Q_bore *= m_in / (m_in + 1e-6);
    chamber_heat(p, in, m_in, out);
    const double flow_d = swh_pow_three_quarters(sqrt(out->m * out->m + 1e-6) / M_REF);
    out->Q_discharge = p->compressor_ua_discharge_heads * flow_d * (in->T_d - in->T_heads);
    return bad | out->too_hot;
}
