#include "model/parts/oil.h"

#include "model/parts/volume.h"

struct swh_walther swh_walther_line(double nu_40, double nu_100)
{
    const double y_40 = log(log(nu_40 * 1e6 + 0.7)), y_100 = log(log(nu_100 * 1e6 + 0.7));
    const double x_40 = log(313.15), x_100 = log(373.15);
    struct swh_walther w;
    w.B = (y_40 - y_100) / (x_100 - x_40);
    w.A = y_40 + w.B * x_40;
    return w;
}

double swh_walther_viscosity(const struct swh_walther *w, double T)
{
    const double z = exp(w->A - w->B * log(T));
    /* never thinner than 0.2 mm2/s: the line ends there, the film is gone long before */
    return 1e-6 * (0.2 + swh_smooth_pos(exp(z) - 0.9, 0.02));
}

double swh_oil_dilution(const struct swh_params *p, const struct swh_fluid *fluid, double T_oil, double P_s,
                        double wetness)
{
    double P_sat = 0;
    swh_Psat(fluid, T_oil, &P_sat);
    const double gas = swh_smooth_min(P_s / P_sat, 1.0, 0.02);
    const double r = gas + wetness * (1 - gas);
    const double k = p->oil_solubility;
    const double w = k * r / (1 + k * r);
    return p->oil_density * exp(-p->oil_thinning * w);
}

struct swh_oil_flows swh_oil_rates(const struct swh_params *p, double m, double rho_s, double superheat,
                                   double held, double oil_comp, double oil_evap)
{
    struct swh_oil_flows f = {0, 0};
    const double m_plus = swh_smooth_pos(m, 1e-5);
    f.out = p->oil_circulation * m_plus * oil_comp / p->oil_sump_full;
    /* J2 and v2 times the density */
    const double J2 = (m_plus / 0.05) * (m_plus / 0.05) * 14.0;
    const double v2 = p->oil_return_velocity * p->oil_return_velocity * rho_s;
    const double dry = swh_smooth_pos(superheat, 1.0) / p->oil_dry_superheat;
    const double dry2 = dry * dry;
    f.back =
        swh_smooth_pos(oil_evap - held, 1e-3) * J2 / (p->oil_return_time * (J2 + v2) * (1 + dry2 * dry2));
    return f;
}

/* ---- in the machine ---- */

/* life spent in a second at T [K] (Arrhenius); 1 / life_temperature - 1 / T in one division */
static double ageing(const struct swh_params *p, double T_oil)
{
    const double T = swh_max(T_oil, 150.0);
    return exp(swh_min(p->oil_life_activation * (T - p->oil_life_temperature) / (p->oil_life_temperature * T),
                       30.0)) *
           (1.0 / 3600);
}

void swh_oil_part(const struct swh_machine *m, const double *y, struct swh_flows *f, double *dy)
{
    /* without circuit the evaporator is taken as dry as the suction port */
    const double rho = f->rho[m->l.closed ? SWH_NODE_SUCTION : SWH_NODE_CHAMBER];
    double held = 0;
    if (m->l.closed && m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE) {
        /* an accumulator gives oil back with the liquid of its bleed; without any it keeps what lies below */
        const double liquid = swh_smooth_step(
            liquid_share(&f->node[SWH_NODE_ACCUMULATOR], f->rho[SWH_NODE_ACCUMULATOR]) / 0.03);
        held = m->p.oil_accumulator_hold * (1 - liquid);
    }
    f->oil = swh_oil_rates(&m->p, f->comp.m - f->comp.m_reed, rho, f->superheat_evap, held,
                           scalar(m, y, SWH_S_oil_comp), scalar(m, y, SWH_S_oil_evap));
    double *d = dy + m->l.scalar;
    d[SWH_S_oil_comp] = f->oil.back - f->oil.out;
    d[SWH_S_oil_evap] = -d[SWH_S_oil_comp];
    d[SWH_S_life] = ageing(&m->p, scalar(m, y, SWH_S_oil));
}

/* ---- what it depends on ---- */

/* ---- channels ---- */

void swh_oil_channels(const struct swh_view *v, double *ch)
{
    ch[SWH_CH_oil_mass] = scalar(v->m, v->y, SWH_S_oil_comp);
    ch[SWH_CH_oil_evaporator_mass] = scalar(v->m, v->y, SWH_S_oil_evap);
    ch[SWH_CH_oil_life] = scalar(v->m, v->y, SWH_S_life);
}
