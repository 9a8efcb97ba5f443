/* Refrigerant properties: exact evaluation of the published Helmholtz equations of state, and tables built
 * from them for the right-hand side. SI throughout: Pa, K, kg/m3, J/kg, J/(kg K), Pa s. Enthalpy and entropy
 * follow the IIR reference (200 kJ/kg and 1 kJ/(kg K) for saturated liquid at 0 degC). */
#ifndef SWH_MODEL_REFRIGERANT_H
#define SWH_MODEL_REFRIGERANT_H

#include "model/status.h"

enum swh_refrigerant { SWH_R134A, SWH_R1234YF, SWH_R12, SWH_REFRIGERANT_COUNT };

/* A full thermodynamic state. Quality x is in 0..1 in the two-phase region, -1 for liquid, 2 for vapour and
 * gas. */
struct swh_state {
    double P, T, rho, h, s, u, x;
    double cp, cv, w; /* J/(kg K), m/s; NaN in the two-phase region */
    double mu;        /* Pa s; in the two-phase region the homogeneous mixture's (McAdams) */
};

struct swh_saturation {
    double T, P;
    double rho_f, rho_g, h_f, h_g, s_f, s_g; /* f saturated liquid, g saturated vapour */
};

/* ---- exact (slow, for tables, tests, the `state` command) ---- */

/* name "R134a", "R1234yf", "R12" (case-insensitive, hyphen optional); returns -1 if unknown */
int swh_refrigerant_find(const char *name);
const char *swh_refrigerant_name(enum swh_refrigerant r);
double swh_molar_mass(enum swh_refrigerant r);           /* kg/mol */
double swh_critical_temperature(enum swh_refrigerant r); /* K */
double swh_critical_pressure(enum swh_refrigerant r);    /* Pa */

enum swh_pair {
    SWH_PT,
    SWH_PH,
    SWH_PS,
    SWH_PRHO,
    SWH_PX,
    SWH_TH,
    SWH_TS,
    SWH_TRHO,
    SWH_TX,
    SWH_HS,
    SWH_RHOH,
    SWH_RHOS,
    SWH_RHOU
};
/* Exact state from two properties (in the order of the pair's name). SWH_ERR_RANGE if outside the fluid's
 * range or if the pair has no unique solution, with a message in words. */
enum swh_status swh_state_exact(enum swh_refrigerant r, enum swh_pair pair, double a, double b,
                                struct swh_state *out, struct swh_error *err);
enum swh_status swh_saturation_T(enum swh_refrigerant r, double T, struct swh_saturation *out,
                                 struct swh_error *err);
enum swh_status swh_saturation_P(enum swh_refrigerant r, double P, struct swh_saturation *out,
                                 struct swh_error *err);

/* ---- tables (fast, no allocation, return 0 inside, 1 outside the table; out is then still finite: evaluated
 * by extending the edge polynomial a little and held beyond) ---- */

struct swh_fluid; /* read-only after creation, may be shared by threads */
const struct swh_fluid *swh_fluid_get(enum swh_refrigerant r); /* tables made at build time, linked in */

/* (rho, u) -> everything the conservation cells need. Single phase if u > u_dome(1/rho), else two-phase. */
struct swh_cell_props {
    double P, T, h;
    double x;            /* quality: 0 liquid, 1 vapour, between in the two-phase region */
    double h_f, h_g;     /* two-phase: at P. Single phase: both equal h */
    double rho_f, rho_g; /* two-phase: at P. Single phase: both equal rho */
};
int swh_rho_u(const struct swh_fluid *f, double rho, double u, struct swh_cell_props *out);
int swh_rho_u_entropy(const struct swh_fluid *f, double rho, double u, double *s);

/* (P, h) tables: liquid, two-phase, vapour apart; derivatives consistent with the values they belong to. */
struct swh_ph_props {
    double T, rho, s, x; /* x as in swh_cell_props */
    double rho_P, rho_h; /* d rho / dP at h, d rho / dh at P */
};
int swh_P_h(const struct swh_fluid *f, double P, double h, struct swh_ph_props *out);
int swh_P_s(const struct swh_fluid *f, double P, double s, double *h, double *rho); /* wet end included */
int swh_P_T_vapour(const struct swh_fluid *f, double P, double T, double *h,
                   double *rho); /* T >= Tsat, else saturated vapour */
int swh_P_T_liquid(const struct swh_fluid *f, double P, double T, double *h,
                   double *rho); /* T <= Tsat, else saturated liquid */

int swh_sat_P(const struct swh_fluid *f, double P, struct swh_saturation *out);
int swh_sat_T(const struct swh_fluid *f, double T, struct swh_saturation *out);
int swh_Psat(const struct swh_fluid *f, double T, double *P);
int swh_Tsat(const struct swh_fluid *f, double P, double *T);
double swh_mu_vapour(const struct swh_fluid *f, double T); /* saturated vapour, Pa s */
double swh_mu_liquid(const struct swh_fluid *f, double T); /* saturated liquid, Pa s */
/* Gas of low density at any T up to 525 K, Pa s. For hot gas this is nearer the truth than the saturated
 * vapour of the same temperature, which is dense close to the critical point and does not exist above it (the
 * two functions above hold their value there). */
double swh_mu_gas(const struct swh_fluid *f, double T);

#endif
