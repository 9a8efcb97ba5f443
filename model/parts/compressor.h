/* Compressor, gas side: flows and heat of one revolution, taken as steady. */
#ifndef SWH_MODEL_PARTS_COMPRESSOR_H
#define SWH_MODEL_PARTS_COMPRESSOR_H

#include "model/refrigerant/refrigerant.h"
#include "model/tables/tables.h"

struct swh_compressor_in {
    double N;                             /* shaft speed [rev/s]; 0: film and isentrope are not needed */
    const struct swh_cell_props *suction; /* state of the swash chamber */
    double rho_suction;                   /* its density [kg/m3] */
    double u_suction;                     /* its internal energy [J/kg] */
    double P_d;                           /* pressure in the discharge plenum, ncg gas included [Pa] */
    double rho_d;                         /* density there */
    double air, air_d;                    /* partial pressure of ncg gas in the chamber, in the plenum [Pa] */
    double T_block, T_heads, T_rotor, T_d; /* [K] */
    double mu, supply, clearance;          /* oil film: viscosity [Pa s], supply 0..1, clearance [m] */
};

struct swh_compressor_flows {
    double m_in;         /* taken into the bores [kg/s] */
    double m;            /* delivered */
    double m_blowby;     /* past the pistons, back into the swash chamber */
    double m_reed;       /* past the discharge reeds, plenum to chamber, running or not */
    double m_through;    /* through both reeds, chamber to plenum, while the chamber's pressure is higher */
    double h_2;          /* enthalpy of what leaves the bores [J/kg] */
    double work;         /* indicated power [W] */
    double eta_v, eta_i; /* volumetric (clearance and throttling), indicated efficiency */
    double Q_bore;       /* gas under compression to bores and pistons [W] */
    double Q_block, Q_heads, Q_rotor; /* from the chamber's gas to the metal [W] (negative: cools) */
    double Q_discharge;               /* from the plenum's gas to the heads [W] */
    double m_net; /* what arrives in the plenum: delivered and passed through, less the reeds' leak [kg/s] */
};

/* Volumetric: (1 + C - C rho_2s/rho_1) filling exp(-loss n (1 + 0.336 n)), n speed over 2000 rpm:
 * re-expansion of the clearance volume on the isentrope (textbook), throttling by its shape fitted to two
 * published maps. Indicated work (h_2s - h_1)/eta_i. Blow-by: laminar slot flow c^3 dP/(12 mu L), the gap
 * partly filled with gas, more so with thin or little oil. Wet suction: work of the vapour share from
 * saturated vapour, enthalpy balance with the real h_1. Heat: UA ~ m^0.75. Reeds are
 * check valves: gas whose pressure is higher in the chamber than in the plenum passes through, standing
 * or not; shut, they leak back through reed_leak_area, A sqrt(2 rho dP) (Bernoulli). A compression that ends
 * hotter than the tables ends at their edge: its gas is then so hot that the run ends for that, or in a
 * vacuum and next to nothing. Returns 0, or 1 if a property left its table. N >= 0; all but the reeds and the
 * plena's heat goes with N, and is not computed at rest. */
int swh_compressor_eval(const struct swh_params *p, const struct swh_fluid *fluid,
                        const struct swh_compressor_in *in, struct swh_compressor_flows *out);

#endif
