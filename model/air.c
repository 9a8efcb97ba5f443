#include "model/air.h"

#include "model/smooth.h"

double swh_water_Psat(double T)
{
    const double t = T - 273.15;
    return 611.2 * exp(17.62 * t / (243.12 + swh_larger(t, -150.0)));
}

double swh_saturated_humidity(double T, double P)
{
    return swh_humidity(T, 1.0, P);
}

double swh_humidity(double T, double phi, double P)
{
    const double p_v = phi * swh_water_Psat(T);
    return 0.62198 * p_v / (P - swh_min(p_v, 0.8 * P, 100.0));
}

double swh_wall_effectiveness(double m_air, double UA)
{
    return 1 - exp(-UA / (m_air * SWH_CP_AIR));
}

struct swh_air_side swh_air_to_wall(double m_air, double T_air, double W, double P, double effectiveness,
                                    double T_wall)
{
    struct swh_air_side a;
    const double sensible = effectiveness * m_air * SWH_CP_AIR * (T_air - T_wall);
    /* rounded over 2e-4 kg/kg: a wall at the dew point is wet in places */
    const double dW = swh_plus(W - swh_saturated_humidity(T_wall, P), 2e-4) - 0.5e-4;
    a.water = effectiveness * m_air * swh_plus(dW, 1e-5);
    a.Q = sensible + a.water * SWH_H_FG_WATER;
    a.T_out = T_air - effectiveness * (T_air - T_wall);
    a.W_out = W - a.water / m_air;
    return a;
}
