#include "model/parts/compressor.h"

#include "model/parts/parts.h"

#include <string.h>

static const double REED_OPENS = 2e3; /* pressure that lifts both reeds [Pa]; common practice, no source */

struct isentrope {
    double h_1, h_2s, rho_2s, vapour_share, rho_1;
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
    const double rho = in->rho_suction;
    is->rho_1 = swh_smooth_min(rho, 2 * (c->x < 1 ? c->rho_g : rho), 0.03 * rho);
    swh_P_s(fluid, P_2, s, &is->h_2s, &is->rho_2s); /* beyond the tables: their edge */
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
    const double slot =
        p->compressor_cylinders * SWH_PI * p->compressor_bore * c * c * c / (12 * p->compressor_seal_length);
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
    const double n = in->N * (1 / SWH_SPEED_REF);
    const double C = p->compressor_clearance_volume;
    /* shape of both published maps, fitted to their mean: the loss grows a little faster than speed */
    const double throttle = p->compressor_filling * exp(-p->compressor_valve_loss * n * (1 + 0.336 * n));
    out->eta_v = swh_smooth_pos(1 + C - C * is.rho_2s / swh_min(is.rho_1, is.rho_2s), 0.02) * throttle;
    out->eta_i = indicated_efficiency(p, P_2 / P_1, n);
    const double m_in = out->eta_v * p->compressor_displacement * in->N * is.rho_1;
    const double leak = blowby(p, in, swh_mu_gas(fluid, c->T), is.rho_2s, P_2 - P_1);
    out->m_in = m_in;
    out->m_blowby = m_in * swh_held(p->freeze_blowby_share, leak / (m_in + leak + 1e-12));
    out->m = m_in - out->m_blowby;
    const double w = is.vapour_share * (is.h_2s - is.h_1) / out->eta_i;
    out->work = m_in * w;
    const double flow = swh_pow_three_quarters(m_in * (1 / SWH_FLOW_REF));
    /* the gas in a bore is as hot as the mean of both plena, near enough */
    const double Q_bore = p->compressor_ua_bore_gas * flow * (0.5 * (c->T + in->T_d) - in->T_block);
    const double per_flow = 1 / (m_in + 1e-6);
    out->h_2 = c->h + w - Q_bore * per_flow;
    out->Q_bore = Q_bore * m_in * per_flow;
    return bad;
}

/* All of that goes with the flow, and is nothing at rest. */
static void stand(const struct swh_compressor_in *in, struct swh_compressor_flows *out)
{
    out->m = out->m_in = out->m_blowby = out->work = out->Q_bore = 0;
    out->eta_v = out->eta_i = 0;
    out->h_2 = in->suction->h;
}

/* past the reeds, turning or not */
static void pass_reeds(const struct swh_params *p, const struct swh_compressor_in *in,
                       struct swh_compressor_flows *out)
{
    const double dP = in->P_d - in->suction->P;
    out->m_reed = 0;
    if (p->compressor_reed_leak_area > 0)
        out->m_reed = p->compressor_reed_leak_area *
                      swh_signed_sqrt(2 * in->rho_d * swh_smooth_pos(dP, 10.0), 1e3) *
                      swh_refrigerant_share(in->P_d - in->air_d + in->air, in->air_d);
    out->m_through = swh_refrigerant_share(in->suction->P, in->air) * p->compressor_passage_area *
                     swh_signed_sqrt(2 * in->rho_suction * swh_smooth_pos(-dP - REED_OPENS, 200.0), 1e3);
    out->m_net = out->m + out->m_through - out->m_reed;
}

/* What a flow makes of a conductance of chamber and plenum that is given at SWH_FLOW_REF. Natural convection
 * is worth a gram a second there; in an exchanger's narrow channels it is worth five
 * (conductance_of_flow). */
static double conductance_of_plenum_flow(double m)
{
    return swh_pow_three_quarters(sqrt(m * m + 1e-6) * (1 / SWH_FLOW_REF));
}

static void chamber_heat(const struct swh_params *p, const struct swh_compressor_in *in,
                         struct swh_compressor_flows *out)
{
    /* held values count while gas really flows: a standing chamber must not boil from them */
    const double held =
        swh_smooth_step(out->m_in / (0.2 * swh_held(p->freeze_suction_flow, SWH_FLOW_REF) + 1e-6));
    const double m = out->m_in + held * (swh_held(p->freeze_suction_flow, out->m_in) - out->m_in);
    const double T_gas = in->suction->T, rho_gas = in->rho_suction;
    const double T = T_gas + held * (swh_held(p->freeze_suction_temperature, T_gas) - T_gas);
    const double rho = rho_gas + held * (swh_held(p->freeze_suction_density, rho_gas) - rho_gas);
    const double spin = swh_pow_three_quarters((in->N + 0.5) * rho * (1 / (25.0 * 15.0)));
    /* boiling liquid on warm metal takes more heat than gas does */
    const double wet = 1 + 3 * swh_smooth_step(5 * (1 - in->suction->x));
    const double flow = wet * conductance_of_plenum_flow(m);
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
        p->compressor_ua_discharge_heads * conductance_of_plenum_flow(out->m) * (in->T_d - in->T_heads);
    return bad;
}

/* ---- in the machine ---- */

/* Everything that film and compressor depend on; true if it is what they were last computed from. */
static int compressor_is_known(const struct swh_machine *m, const double *y, struct swh_flows *f)
{
    const double now[] = {f->rho[SWH_NODE_CHAMBER],
                          y[m->l.U + SWH_NODE_CHAMBER],
                          f->rho[SWH_NODE_PLENUM],
                          y[m->l.U + SWH_NODE_PLENUM],
                          f->N,
                          f->P_air,
                          f->P_air_low,
                          scalar(m, y, SWH_S_rotor),
                          scalar(m, y, SWH_S_oil),
                          scalar(m, y, SWH_S_block),
                          scalar(m, y, SWH_S_head),
                          scalar(m, y, SWH_S_piston),
                          scalar(m, y, SWH_S_supply),
                          scalar(m, y, SWH_S_wetness)};
    _Static_assert(sizeof now == sizeof f->memo.compressor, "one place for each argument");
    const int known = are_same(f->memo.compressor, now, sizeof now / sizeof *now);
    memcpy(f->memo.compressor, now, sizeof now);
    return known;
}

int swh_compressor_part(const struct swh_machine *m, const double *y, struct swh_flows *f)
{
    const struct swh_cell_props *s = &f->node[SWH_NODE_CHAMBER], *d = &f->node[SWH_NODE_PLENUM];
    if (compressor_is_known(m, y, f))
        return 0;
    /* at rest there is no friction; what is told of the film then is computed when it is told */
    if (f->N > 0)
        swh_machine_film(m, y, f->N, s->P, d->P + f->P_air, &f->film);
    else
        f->film = (struct swh_film){.f = 0};
    const struct swh_compressor_in in = {.N = f->N,
                                         .suction = s,
                                         .rho_suction = f->rho[SWH_NODE_CHAMBER],
                                         .u_suction = f->memo.u[SWH_NODE_CHAMBER],
                                         .P_d = d->P + f->P_air - f->P_air_low,
                                         .rho_d = f->rho[SWH_NODE_PLENUM],
                                         .air = f->P_air_low,
                                         .air_d = f->P_air,
                                         .T_block = scalar(m, y, SWH_S_block),
                                         .T_heads = scalar(m, y, SWH_S_head),
                                         .T_rotor = scalar(m, y, SWH_S_rotor),
                                         .T_d = d->T,
                                         .mu = f->film.mu_bore,
                                         .supply = swh_oil_supply(m, y),
                                         .clearance = f->film.clearance};
    const int bad = swh_compressor_eval(&m->p, m->fluid, &in, &f->comp);
    if (bad)
        f->memo.compressor[0] = NAN; /* to be told again */
    return bad;
}

void swh_advect_compressor(const struct swh_machine *m, const struct swh_flows *f, double *dy)
{
    const struct swh_compressor_flows *c = &f->comp;
    const double h_1 = f->node[SWH_NODE_CHAMBER].h, h_d = f->node[SWH_NODE_PLENUM].h;
    const double H_in = (c->m + c->m_blowby) * h_1;
    const double H_leak = c->m_blowby * c->h_2;
    const double H_out = H_in + c->work - c->Q_bore - H_leak; /* first law over the bores */
    const double H_past = c->m_through * h_1 - c->m_reed * h_d;
    dy[m->l.M + SWH_NODE_CHAMBER] -= c->m_net;
    dy[m->l.M + SWH_NODE_PLENUM] += c->m_net;
    dy[m->l.U + SWH_NODE_CHAMBER] += H_leak - H_in - H_past - c->Q_block - c->Q_heads - c->Q_rotor;
    dy[m->l.U + SWH_NODE_PLENUM] += H_out + H_past - c->Q_discharge;
}

/* ---- what it depends on ---- */

/* ---- channels ---- */

void swh_compressor_channels(const struct swh_view *v, double *ch)
{
    const struct swh_flows *f = v->f;
    ch[SWH_CH_compressor_speed] = v->in->compressor_speed * v->m->p.controls_overspeed;
    ch[SWH_CH_suction_pressure] = f->P_low_port + f->P_air_low;
    ch[SWH_CH_discharge_pressure] = f->node[SWH_NODE_PLENUM].P + f->P_air;
    ch[SWH_CH_discharge_gas_temperature] = f->node[SWH_NODE_PLENUM].T;
    ch[SWH_CH_suction_gas_temperature] = f->node[SWH_NODE_CHAMBER].T;
    ch[SWH_CH_suction_gas_density] = f->rho[SWH_NODE_CHAMBER];
    ch[SWH_CH_blowby_share] = f->comp.m_blowby / (f->comp.m + f->comp.m_blowby + 1e-12);
    ch[SWH_CH_mass_flow] = f->comp.m_net;
    double T_sat = 0;
    swh_Tsat(v->m->fluid, f->P_low_port, &T_sat);
    ch[SWH_CH_superheat] = f->T_port - T_sat;
    swh_Tsat(v->m->fluid, ch[SWH_CH_discharge_pressure], &ch[SWH_CH_condensing_temperature]);
    ch[SWH_CH_evaporating_temperature] = T_sat;
    struct swh_ph_props port;
    if (f->N > 1 && !swh_P_h(v->m->fluid, f->P_low_port, f->h_port, &port))
        ch[SWH_CH_volumetric_efficiency] =
            f->comp.m_net / (port.rho * v->m->p.compressor_displacement * f->N);
}
