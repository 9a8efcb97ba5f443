/* Water and ice on the fins of an evaporator. */
#ifndef SWH_MODEL_PARTS_COIL_H
#define SWH_MODEL_PARTS_COIL_H

#include "model/tables/tables.h"

#define SWH_H_SF_WATER 3.34e5 /* J/kg, heat of fusion of ice (handbook; from memory) */
#define SWH_C_WATER 4186.0    /* J/(kg K) (handbook; from memory) */

/* Share of the water at T [K] that is ice in the end: 0 from 0 degC upward, 1 from 1 K below it (S-shaped
 * between: fins are not of one temperature). */
double swh_ice_share(double T);

enum { SWH_COIL_FINS = 64 };

/* What `water` kg of water, `ice` of them ice, do on a coil of `size` (of the front one's) with n fins (at
 * most SWH_COIL_FINS) of temperatures T [K]. */
struct swh_coil_state {
    double ice;                 /* kg */
    double open;                /* share of the face that ice leaves to the air, 1/(1 + (ice/block)^4) */
    double freezes;             /* [kg/s]; negative: melts. Toward share water, with 20 s */
    double heat[SWH_COIL_FINS]; /* that each fin gains by it [W]: what freezes heats the frozen ones, what
                                 * melts cools the others */
    double runs_off;            /* share of what condenses above 0 degC that the full fins cannot hold */
    /* water that leaves a coil as its ice melts [kg/s]: what it cannot hold, within some 20 s */
    double thaws;
};
/* Retained water and the ice that blocks: parameters evaporator.water and evaporator.ice_block; form from the
 * trade's account of a coil that freezes shut (common practice, no source). Below 0 counts as 0. */
void swh_coil_state(const struct swh_params *p, double size, double water, double ice, int n, const double *T,
                    struct swh_coil_state *out);

#endif
