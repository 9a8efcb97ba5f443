/* Friction and film: shoe on plate, piston in bore, bearings. */
#ifndef SWH_MODEL_PARTS_FILM_H
#define SWH_MODEL_PARTS_FILM_H

#include "model/tables/tables.h"

struct swh_film_in {
    double N;                            /* shaft speed [rev/s] */
    double dP;                           /* discharge minus suction pressure [Pa] */
    double mu_shoe, mu_bore, mu_bearing; /* viscosity in each film, at its own temperature [Pa s] */
    double supply;                       /* oil supply of the plate, 0..1 */
    double T_rotor, T_block, T_piston;   /* [K] */
};

struct swh_film {
    double lambda;                /* film thickness over roughness */
    double share;                 /* share of the load carried by metal contact, 0..1 */
    double f;                     /* friction coefficient, shoe on plate */
    double load;                  /* of one loaded shoe [N] */
    double V;                     /* sliding speed [m/s] */
    double T_contact;             /* [K] */
    double mu, mu_bore;           /* as they were given, under the shoes and in the bores [Pa s] */
    double clearance;             /* running radial clearance of the pistons [m] */
    double shoe, piston, bearing; /* friction powers [W] */
    double wear_rate;             /* of the plate track [m/s] */
};

/* All friction quantities at one state.
 *
 * Shoes: a double-ended piston has one net gas force and loads one shoe of its pair; the other runs free, so
 * five of ten are loaded. Hersey number H = mu V/(p b); viscous f = c sqrt(H) and film without contact h_0 =
 * 0.12 b sqrt(H) supply^exponent (tilted-pad lubrication theory), lambda_0 = scale h_0/roughness. Asperities
 * and film share the load (Johnson, Greenwood and Poon 1972): swh_film_share. f = f_v + (f_b - f_v) share;
 * f_b grows where the plate is so hot that adsorbed oil lets go.
 *
 * Contact temperature = plate + flash, of a source of half width a = b/2 that slides over the plate with a
 * heat q = concentration f p V: 2 q a/(k sqrt(pi (1.273 + Pe))), Pe = V a/(2 alpha) (Tian and Kennedy 1994,
 * who join the two limits of Blok 1937 and Jaeger 1942). Pe is some hundreds at work: the flash then goes
 * with the root of V, as heat goes straight down while a point of the plate passes below a shoe.
 *
 * Piston: clearance by thermal growth; viscous shear mu V^2 A/c, metal contact as c reaches its floor.
 * Wear: Archard 1953, depth rate = k share p V / hardness. */
void swh_film_eval(const struct swh_params *p, const struct swh_film_in *in, struct swh_film *out);

/* Share of a mean pressure p [Pa] that asperities carry, and the film ratio that goes with it. Contact: share
 * = stiffness F_5/2(lambda)/p, stiffness K' E' [Pa] (Greenwood and Tripp 1970). The film carries the rest and
 * is the thicker for it, lambda = lambda_0/sqrt(1 - share) (Johnson, Greenwood and Poon 1972). lambda_0 > 0,
 * stiffness
 * >= 0. */
struct swh_film_sharing {
    double share, lambda;
};
struct swh_film_sharing swh_film_share(double lambda_0, double stiffness, double p);

/* Of that the running radial clearance of the pistons alone [m]. */
double swh_film_clearance(const struct swh_params *p, double T_block, double T_piston);

/* What metal stands: rates [1/s] at which shoe and plate come nearer to a weld, which is there when their sum
 * reaches 1. By metal contact (the longer way it slides, the sooner), by a contact that is hot enough to
 * weld, by a plate that softens in bulk. Each comes on over a little band round its threshold. */
struct swh_scuff_rates {
    double film, contact, plate;
};
struct swh_scuff_rates swh_film_scuffing(const struct swh_params *p, const struct swh_film *film,
                                         double T_rotor, double N);

#endif
