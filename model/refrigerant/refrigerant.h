/* Refrigerant properties: exact evaluation of the published Helmholtz equations of state, and tables built
 * from them for the right-hand side. SI throughout: Pa, K, kg/m3, J/kg, J/(kg K), Pa s. Enthalpy and entropy
 * follow the IIR reference (200 kJ/kg and 1 kJ/(kg K) for saturated liquid at 0 degC). */
#ifndef SWH_MODEL_REFRIGERANT_REFRIGERANT_H
#define SWH_MODEL_REFRIGERANT_REFRIGERANT_H

#include "model/base/status.h"

#include <stddef.h>
#include <stdint.h>

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

/* A published equation of state with what belongs to it: one
 * of the program's own, or one read from a file. */
struct swh_eos;
/* name "R134a", "R1234yf", "R12" (case-insensitive, hyphen optional); returns -1 if unknown */
int swh_refrigerant_find(const char *name);
const struct swh_eos *swh_eos_get(enum swh_refrigerant r); /* NULL for an unknown refrigerant */
const char *swh_refrigerant_name(const struct swh_eos *e);
double swh_critical_temperature(const struct swh_eos *e); /* K */
double swh_critical_pressure(const struct swh_eos *e);    /* Pa */
/* A number that changes with any coefficient. */
uint64_t swh_eos_hash(const struct swh_eos *e);

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
/* Exact state from two properties (in the order of the pair's name), triple point to 525 K, up to 200 bar.
 * SWH_ERR_RANGE if outside that range or if the pair has no unique solution, with a message in words; *out is
 * then unchanged. Temperature with an enthalpy between those of the saturated phases is taken as their
 * mixture. */
enum swh_status swh_state_exact(const struct swh_eos *e, enum swh_pair pair, double a, double b,
                                struct swh_state *out, struct swh_error *err);
enum swh_status swh_saturation_T(const struct swh_eos *e, double T, struct swh_saturation *out,
                                 struct swh_error *err);
enum swh_status swh_saturation_P(const struct swh_eos *e, double P, struct swh_saturation *out,
                                 struct swh_error *err);

/* ---- tables (fast, no allocation, return 0 inside, 1 outside the table; out is then still finite: evaluated
 * by extending the edge polynomial a little and held beyond) ---- */

/* Made from the exact equations while the library is built and linked in as bytes (about 5 MB a fluid, of
 * which only the pages in use are ever loaded); nothing is done at the start of a program. Read-only, may be
 * shared by threads. NULL for an unknown refrigerant.
 *
 * Range: 0.0625 kg/m3 (thinner gas by the ideal gas law from there, within 0.1 %) to the saturated liquid a
 * kelvin above the temperature where the vapour pressure is 500 Pa
 * (-101 degC R-134a, -106 degC R-1234yf, -109 degC R-12); from saturation and from the cold end of the
 * two-phase region up to 525 K or 95 bar, whichever comes first ((P, h): 1953 Pa to 85 bar). Above the
 * published limits of temperature (455, 410, 525 K) the equations are extrapolated. Accuracy against the
 * exact equations, -40 to 140 degC and 0.3 to 40 bar: (P, h) density 0.01 %, temperature 0.005 K; (rho, u)
 * pressure 0.005 % in gas, 0.03 % within 2 K of the critical point, temperature 0.02 K. Nowhere a jump larger
 * than 1e-5 of the pressure at the saturation line (2e-4 within 2 K of the critical point); inside a phase
 * values and first derivatives are continuous. tests/model/test_refrigerant_tables.c holds these bounds. */
struct swh_fluid;
const struct swh_fluid *swh_fluid_get(enum swh_refrigerant r);
const struct swh_eos *swh_fluid_eos(const struct swh_fluid *f); /* the equation that they were made from */
/* Bytes of the tables of one refrigerant; they stand at a multiple of 64. */
size_t swh_fluid_size(void);
/* Makes the tables of an equation from a file, in some 0.3 s: for a critical point of 20 to 80 bar below 475
 * K and a vapour pressure below 500 Pa at the triple point. SWH_ERR_RANGE, SWH_ERR_MEMORY. */
enum swh_status swh_fluid_make(const struct swh_eos *e, struct swh_fluid *f, struct swh_error *err);

/* (rho, u) -> everything the conservation cells need: kg/m3, J/kg. One phase if u is above the saturation
 * line's internal energy at that density, else two. About 20 ns in one phase, 30 ns in two. Outside: pressure
 * and temperature go on rising with u, liquid's stiffness above the densest. Gas thinner than the tables is
 * not outside: ideal gas law from the thinnest density, down to 1e-9 kg/m3. */
struct swh_cell_props {
    double P, T, h; /* h = u + P/rho exactly */
    double x; /* quality: 0 liquid, 1 vapour (by density above the critical point), between in two phases */
    double h_f, h_g;     /* two-phase: at P. Single phase: both equal h */
    double rho_f, rho_g; /* two-phase: at P. Single phase: both equal rho */
    double slip;         /* two-phase: Baroczy's group G, see below; else 1 */
};
/* Void fraction of a pipe in which vapour outruns liquid: (1 - a)/a = ((1 - x)/x)^0.74 (rho_g/rho_f)^0.65
 * (mu_f/mu_g)^0.13 with x the quality of what flows (Baroczy 1965 in the form of Butterworth, Int. J.
 * Multiphase Flow 1 (1975) 845; from memory, and as the `fluids` package has it). With s the quality of what
 * is there, (1 - a)/a = (1 - s)/s rho_g/rho_f, and so (1 - x)/x = (G (1 - s)/s)^(1/0.74), G =
 * (rho_g/rho_f)^0.35 (mu_g/mu_f)^0.13, which depends on temperature alone. Of ten correlations this is one of
 * four that agree with weighed charge (Rice 1987), and the best for three air conditioners (Harms, Groll and
 * Braun 2003). */
#define SWH_BAROCZY_X 0.74
#define SWH_BAROCZY_RHO 0.65
#define SWH_BAROCZY_MU 0.13
int swh_rho_u(const struct swh_fluid *f, double rho, double u, struct swh_cell_props *out);
/* The same for n states at once (at most SWH_RHO_U_MOST; the `out` of each apart from all else), to the same
 * bits in about two thirds of the time. Bit k of what is returned is set where state k is outside. */
enum { SWH_RHO_U_MOST = 64 };
uint64_t swh_rho_u_all(const struct swh_fluid *f, int n, const double *rho, const double *u,
                       struct swh_cell_props *const *out);
/* Derivatives of what swh_rho_u gives with density (_rho, per kg/m3) and internal energy (_u, per J/kg), the
 * other held. Saturated phases and slip depend on temperature alone, so with rho it is h_f_T T_rho, and so
 * on. Of h = u + P/rho, and so of h_f and h_g in one phase, they follow from P. */
struct swh_cell_derivatives {
    double P; /* Pa, as swh_rho_u gives it, to the bit */
    double P_rho, P_u, T_rho, T_u, x_rho, x_u;
    double h_f_T, h_g_T, rho_f_T, rho_g_T, slip_T; /* along the saturation line, per K; 0 in one phase */
};
/* These for n states (kg/m3, J/kg) into out[n], given what swh_rho_u says of them, c[n]: which of the two
 * kinds each is and, in two phases, its values (in one phase P, T and h are not looked at), in the time of
 * one look-up or less. In one phase they are the derivatives of the tables' bicubic Hermite polynomials. In
 * two phases they follow from u = h_f + x (h_g - h_f) - P/rho and the derivatives of the tabulated saturation
 * line (cubic Hermite polynomials); those of the tabulated T they meet within 0.03 % from -40 degC to 10 K
 * below the critical temperature, 4 % nearer to it. On the saturation line they are those of the side that
 * swh_rho_u takes. There are no errors; outside the tables, where swh_rho_u goes on as said above, they are
 * its differences. tests/model/test_refrigerant_tables.c holds these bounds, against the exact equations 0.3
 * %. */
void swh_rho_u_derivatives(const struct swh_fluid *f, int n, const double *rho, const double *u,
                           const struct swh_cell_props *c, struct swh_cell_derivatives *out);
/* entropy of the same state, J/(kg K) */
int swh_rho_u_entropy(const struct swh_fluid *f, double rho, double u, double *s);

/* (P, h) tables: liquid, two-phase, vapour apart; the derivatives are those of the tabulated density itself.
 * Pa, J/kg. About 35 ns in one phase, 20 ns in two. */
struct swh_ph_props {
    double T, rho, s, x; /* x as in swh_cell_props */
    double rho_P, rho_h; /* d rho / dP at h, d rho / dh at P */
};
int swh_P_h(const struct swh_fluid *f, double P, double h, struct swh_ph_props *out);

/* The same tables read the other way round, so that swh_P_h of the result gives s or T back to rounding.
 * Vapour, wet vapour, liquid and supercritical states; h J/kg, rho kg/m3. */
int swh_P_s(const struct swh_fluid *f, double P, double s, double *h, double *rho);
/* T not below saturation, else saturated vapour; above the critical pressure any T */
int swh_P_T_vapour(const struct swh_fluid *f, double P, double T, double *h, double *rho);
/* T not above saturation, else saturated liquid; above the critical pressure any T */
int swh_P_T_liquid(const struct swh_fluid *f, double P, double T, double *h, double *rho);

/* Both saturated phases at P (Pa) or T (K); outside the saturation line its nearest end is given, with 1. */
int swh_sat_P(const struct swh_fluid *f, double P, struct swh_saturation *out);
int swh_sat_T(const struct swh_fluid *f, double T, struct swh_saturation *out);
/* Vapour pressure and its inverse. Beyond the ends ln P goes on with the slope it has there (in 1/T above the
 * critical point, as oil solubility needs it), and 1 is returned. */
int swh_Psat(const struct swh_fluid *f, double T, double *P);
int swh_Tsat(const struct swh_fluid *f, double P, double *T);
/* The same, to the same bits, with dP/dT (Pa/K) and dT/dP (K/Pa): the derivatives of the tabulated lines
 * themselves (cubic Hermite polynomials), beyond the ends of the continuations there, 0 where those are held
 * (T below a twentieth of the cold end's). P and T must be positive. */
int swh_Psat_slope(const struct swh_fluid *f, double T, double *P, double *P_T);
int swh_Tsat_slope(const struct swh_fluid *f, double P, double *T, double *T_P);

/* How much warmer liquid gets when it is compressed without heat, (dT/dP)_s = T beta/(rho cp) of saturated
 * liquid at T [K], in K/Pa, with its derivative in 1/Pa; held beyond the cold end and from 4 K below the
 * critical temperature on. */
double swh_liquid_T_P(const struct swh_fluid *f, double T, double *slope);

/* Viscosity, Pa s, of saturated vapour and liquid at T; held beyond the ends of the saturation line. R-134a:
 * Huber et al. (2003). R-1234yf: Bell (2016). R-12: Klein et al. (1997). See refrigerant_viscosity.c. */
double swh_mu_vapour(const struct swh_fluid *f, double T);
double swh_mu_liquid(const struct swh_fluid *f, double T);
/* Gas of low density at any T up to 525 K, Pa s. For hot gas this is nearer the truth than the saturated
 * vapour of the same temperature, which is dense close to the critical point and does not exist above it. */
double swh_mu_gas(const struct swh_fluid *f, double T);

#endif
