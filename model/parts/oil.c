#include "model/parts/oil.h"

#include "model/base/smooth.h"

#include <math.h>

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

double swh_oil_viscosity(const struct swh_params *p, const struct swh_walther *line,
                         const struct swh_fluid *fluid, double T_film, double T_oil, double P_s)
{
    double P_sat = 0;
    swh_Psat(fluid, T_oil, &P_sat);
    const double r = swh_smooth_min(P_s / P_sat, 1.0, 0.02);
    const double k = p->oil_solubility;
    const double w = k * r / (1 + k * r);
    return p->oil_density * swh_walther_viscosity(line, T_film) * exp(-p->oil_thinning * w);
}

struct swh_oil_flows swh_oil_rates(const struct swh_params *p, double m, double rho_s, double superheat,
                                   double wet, double oil_comp, double oil_evap)
{
    struct swh_oil_flows f = {0, 0};
    const double m_plus = swh_smooth_pos(m, 1e-5);
    f.out = p->oil_circulation * m_plus * oil_comp / p->oil_sump_full;
    /* J2 and v2 times the density, and the dry film's terms times the square of its superheat */
    const double J2 = (m_plus / 0.05) * (m_plus / 0.05) * 14.0;
    const double v2 = p->oil_return_velocity * p->oil_return_velocity * rho_s;
    const double dry = swh_smooth_pos(superheat, 1.0), edge = p->oil_dry_superheat * p->oil_dry_superheat;
    f.back = wet * oil_evap * J2 * edge / (p->oil_return_time * (J2 + v2) * (edge + dry * dry));
    return f;
}
