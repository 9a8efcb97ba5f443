#include "model/parts/air.h"

#include "model/base/smooth.h"

double swh_water_Psat(double T)
{
    const double t = T - 273.15;
    return 611.2 * exp(17.62 * t / (243.12 + swh_max(t, -150.0)));
}

double swh_frost_Psat(double T)
{
    const double t = T - 273.15;
    return t < 0 ? 611.2 * exp(22.46 * t / (272.62 + swh_max(t, -150.0))) : swh_water_Psat(T);
}

/* humidity ratio at the vapour's partial pressure */
static inline double ratio_of(double p_v, double P)
{
    return 0.62198 * p_v / (P - swh_smooth_min(p_v, 0.8 * P, 100.0));
}

double swh_humidity(double T, double phi, double P)
{
    return ratio_of(phi * swh_water_Psat(T), P);
}

double swh_wall_effectiveness(double m_air, double UA)
{
    return 1 - exp(-UA / (m_air * SWH_CP_AIR));
}

/* in stretches, as the processor then works on several walls at once */
void swh_air_to_walls(int n, const struct swh_air_in *in, const double *T_wall, struct swh_air_side *out)
{
    double W_wall[SWH_AIR_WALLS];
    const double m = in->effectiveness * in->m_air;
    for (int i = 0; i < n; i++)
        W_wall[i] = swh_frost_Psat(T_wall[i]);
    for (int i = 0; i < n; i++)
        W_wall[i] = ratio_of(W_wall[i], in->P);
    for (int i = 0; i < n; i++) {
        const double sensible = m * SWH_CP_AIR * (in->T - T_wall[i]);
        /* rounded over 2e-4 kg/kg: a wall at the dew point is wet in places */
        const double dW = swh_smooth_pos(in->W - W_wall[i], 2e-4) - 0.5e-4;
        out[i].water = m * swh_smooth_pos(dW, 1e-5);
        out[i].Q = sensible + out[i].water * SWH_H_FG_WATER;
        out[i].T_out = in->T - in->effectiveness * (in->T - T_wall[i]);
    }
}
