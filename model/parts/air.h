/* Humid air, as far as a car's evaporator needs it. */
#ifndef SWH_MODEL_PARTS_AIR_H
#define SWH_MODEL_PARTS_AIR_H

#define SWH_CP_AIR 1006.0    /* J/(kg K), dry air, ASHRAE Fundamentals (from memory) */
#define SWH_H_FG_WATER 2.5e6 /* J/kg, heat of evaporation of water at 0 degC (from memory) */

/* Saturation pressure of water [Pa] over liquid at T [K], Magnus form with the WMO constants (611.2, 17.62,
 * 243.12; from memory), -45..60 degC within 0.6 %; monotone beyond. */
double swh_water_Psat(double T);

/* The same over the wall of a coil: over ice below 0 degC (WMO: 611.2, 22.46, 272.62; from memory). */
double swh_frost_Psat(double T);

/* Humidity ratio [kg/kg] of air at T [K] and pressure P [Pa] with relative humidity phi. */
double swh_humidity(double T, double phi, double P);

/* Effectiveness 1 - exp(-NTU) of a wall of one temperature: m_air kg/s, UA W/K
 * (textbook, Kays and London). */
double swh_wall_effectiveness(double m_air, double UA);
/* Heat and water from air to n walls (at most SWH_AIR_WALLS) at T_wall [K] that share it evenly, the same
 * effectiveness for heat and mass (Lewis number 1). */
enum { SWH_AIR_WALLS = 24 };
struct swh_air_in {
    double T, W, m_air, P, effectiveness; /* K, kg/kg, kg/s for each wall, Pa */
};
struct swh_air_side {
    double Q;     /* total heat to the wall, sensible and latent [W] */
    double water; /* condensed [kg/s]; what dries off in a pause is left out */
    double T_out;
};
void swh_air_to_walls(int n, const struct swh_air_in *in, const double *T_wall, struct swh_air_side *out);

#endif
