/* Oil: viscosity with dissolved refrigerant, and the way it goes round. */
#ifndef SWH_MODEL_PARTS_OIL_H
#define SWH_MODEL_PARTS_OIL_H

#include "model/refrigerant/refrigerant.h"
#include "model/tables/tables.h"

/* Constants of Walther's line ln ln(nu + 0.7) = A - B ln T, nu in mm2/s, T in K (ASTM D341 with natural for
 * decimal logarithms: the same line). */
struct swh_walther {
    double A, B;
};

/* The line through the grade's values at 40 and 100 degC [m2/s]. Both > 0.3e-6 m2/s and different. */
struct swh_walther swh_walther_line(double nu_40, double nu_100);

/* Kinematic viscosity [m2/s] at T [K] on the line; valid above about 2 mm2/s, monotone beyond. */
double swh_walther_viscosity(const struct swh_walther *w, double T);

/* What dissolved refrigerant makes of the oil's viscosity, times its density [kg/m3]: multiplied by the
 * kinematic viscosity it gives Pa s. w = k r/(1 + k r), r = P_s/Psat(T_oil) of oil at T_oil [K] under the
 * suction pressure P_s [Pa], factor rho exp(-thinning w). Form: dilution law, constants calibrated; r is held
 * at 1 (saturated) and Psat continued above the critical point by the table's edge. Liquid in the chamber
 * (wetness 0..1) brings r toward 1. */
double swh_oil_dilution(const struct swh_params *p, const struct swh_fluid *fluid, double T_oil, double P_s,
                        double wetness);

/* Rates of oil leaving the compressor and coming back from the evaporator [kg/s].
 * m: refrigerant flow [kg/s]; rho_s: density in the suction line [kg/m3]; superheat: at the evaporator outlet
 * [K]; oil_comp, oil_evap: oil in the compressor and held up in the evaporator [kg]. The sweep of the suction
 * line follows J^2/(J^2 + return_velocity^2), J^2 = (m/0.05)^2 14/rho_s (gas momentum over that of a healthy
 * drive); a dry evaporator outlet leaves a stiff film behind: 1/(1 + (superheat/dry_superheat)^4). That it
 * does is published (SAE 980286); how steeply has no measured support, and lives under undercharge hang on
 * it: with the exponent 2 none ends. */
struct swh_oil_flows {
    double out, back;
};
struct swh_oil_flows swh_oil_rates(const struct swh_params *p, double m, double rho_s, double superheat,
                                   double held, double oil_comp, double oil_evap);

#endif
