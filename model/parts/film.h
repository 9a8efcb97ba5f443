/* Friction and film: shoe on plate, piston in bore, bearings. */
#ifndef SWH_MODEL_PARTS_FILM_H
#define SWH_MODEL_PARTS_FILM_H

#include "model/tables/tables.h"

struct swh_film_in {
    double N;                          /* shaft speed [rev/s] */
    double dP;                         /* discharge minus suction pressure [Pa] */
    double mu;                         /* viscosity in the shoe film [Pa s] */
    double supply;                     /* oil supply of the plate, 0..1 */
    double T_rotor, T_block, T_piston; /* [K] */
};

struct swh_film {
    double lambda;                /* film thickness over roughness */
    double share;                 /* share of the load carried by metal contact, 0..1 */
    double f;                     /* friction coefficient, shoe on plate */
    double load;                  /* of one shoe [N] */
    double V;                     /* sliding speed [m/s] */
    double T_contact;             /* [K] */
    double clearance;             /* running radial clearance of the pistons [m] */
    double shoe, piston, bearing; /* friction powers [W] */
    double wear_rate;             /* of the plate track [m/s] */
};

/* All friction quantities at one state.
 * Shoe: Hersey number H = mu V/(p b), viscous f = c sqrt(H) and film ~ b sqrt(H) (tilted-pad lubrication
 * theory), film ratio lambda = film / roughness, scaled by supply^exponent; share = 1/(1 +
 * (lambda/lambda_half)^n) (Stribeck curve); f = f_v + (f_b - f_v) share. Contact temperature = rotor + flash,
 * flash ~ f p V (form of Blok 1937, Jaeger 1942). Piston: clearance by thermal growth; viscous shear mu V^2
 * A/c, metal contact as c reaches its floor. Wear: Archard 1953, depth rate = k share p V / hardness. */
void swh_film_eval(const struct swh_params *p, const struct swh_film_in *in, struct swh_film *out);

/* Of that the running radial clearance of the pistons alone [m]. */
double swh_film_clearance(const struct swh_params *p, double T_block, double T_piston);

#endif
