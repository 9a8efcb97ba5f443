/* The published equations of state of the refrigerants, evaluated at (T, rho): for the property functions,
 * what makes tables, and the reader of fluid files. Others include model/refrigerant/refrigerant.h.
 *
 * An equation of state gives the reduced Helmholtz energy alpha(tau, delta) = alpha0 + alphar with
 * tau = T_red/T and delta = rho/rho_red; everything else is a derivative of it (Span, Multiparameter
 * Equations of State, Springer 2000, chapter 3). */
#ifndef SWH_MODEL_REFRIGERANT_EOS_H
#define SWH_MODEL_REFRIGERANT_EOS_H

#include "model/refrigerant/refrigerant.h"

enum {
    SWH_EOS_POWERS = 60,
    SWH_EOS_GAUSS = 12,
    SWH_EOS_EDGES = 4,
    SWH_EOS_IDEAL = 10,
    SWH_EOS_ANCILLARY = 12
};

/* n tau^t delta^d exp(-delta^l), without the exponential if l = 0 */
struct swh_eos_power {
    double n, t;
    int d, l;
};

/* n tau^t delta^d exp(-eta (delta - epsilon)^2 - beta (tau - gamma)^2) */
struct swh_eos_gauss {
    double n, t;
    int d;
    double eta, epsilon, beta, gamma;
};

/* n Delta^b delta exp(-C (delta - 1)^2 - D (tau - 1)^2), Delta = (1 - tau + A ((delta - 1)^2)^(1/(2 beta)))^2
 * + B ((delta - 1)^2)^a: not analytic at the critical point */
struct swh_eos_edge {
    double n, a, b, beta, A, B, C, D;
};

/* Ideal part: ln delta + lead[0] + lead[1] tau + log_tau ln tau + sum power_n tau^power_t
 * + sum einstein_n ln(1 - exp(-einstein_theta tau)) + offset[0] + offset[1] tau.
 * The offset only moves the zeros of enthalpy and entropy to the IIR reference. */
struct swh_eos_ideal {
    double lead[2], offset[2], log_tau;
    int power_count, einstein_count;
    double power_n[SWH_EOS_IDEAL], power_t[SWH_EOS_IDEAL];
    double einstein_n[SWH_EOS_IDEAL], einstein_theta[SWH_EOS_IDEAL];
};

/* Start values on the saturation line: with theta = 1 - T/T_r and S = sum n theta^t, the value is
 * scale (1 + S), scale exp(S) or scale exp(S T_r/T). */
struct swh_eos_ancillary {
    double T_r, scale;
    int exponential, tau_r, count;
    double n[SWH_EOS_ANCILLARY], t[SWH_EOS_ANCILLARY];
};

/* The point where dP/drho and d2P/drho2 of the equation itself vanish, which is what tables and saturation
 * end in; it differs from the published critical point in the last digits. */
struct swh_eos_critical {
    double T, rho, P; /* K, kg/m3, Pa */
    double near;      /* within this share of rho the saturation line is an expansion about it */
};

/* What the viscosity of a refrigerant is computed by. */
enum swh_eos_viscosity_kind {
    SWH_MU_PARTS,   /* a published correlation: dilute gas, second virial coefficient, dense fluid */
    SWH_MU_ENTROPY, /* scaling with the residual entropy */
    SWH_MU_R12      /* corresponding states with R-134a, as fitted to R-12 */
};
enum { SWH_MU_SECOND = 12, SWH_MU_DENSE = 20, SWH_MU_PACK = 4 };

/* Against x = rho s_residual/rhosr: mu = mu_dilute (1 + C (exp(f(x)) - 1)), f going from one polynomial to
 * the other at x_crossover (Bell, Purdue International
 * Refrigeration and Air Conditioning Conference, 2016). */
struct swh_eos_entropy_law {
    double C, rhosr, x_crossover; /* -, J/(m3 K), - */
    double liquid[4], vapour[4];
};

/* sum of n x^t */
struct swh_eos_sum {
    int count;
    double n[SWH_MU_SECOND], t[SWH_MU_SECOND];
};

/* n delta^d tau^t exp(-gamma delta^l) */
struct swh_eos_dense_term {
    double n, d, t, gamma, l;
};

/* mu_dilute + N sigma^3 rho mu_dilute second(T/(epsilon/k)) + dense terms
 * + sum of packed (1/(delta_0 - delta) - 1/delta_0), delta_0 = above(tau)/below(tau): the form of Vogel and
 * others, J. Phys. Chem. Ref. Data 27 (1998) 947, and of Huber and others (2003). Here
 * mu_dilute = scale sqrt(1000 M T)/(sigma^2 S), ln S = collision(ln(T/(epsilon/k))), sigma in nm. */
struct swh_eos_parts_law {
    double scale, M; /* Pa s, kg/mol */
    struct swh_eos_sum collision, second;
    double T_red, rho_red_molar; /* K, mol/m3 */
    int dense_count, packed_count;
    struct swh_eos_dense_term dense[SWH_MU_DENSE], packed[SWH_MU_PACK];
    struct swh_eos_sum above, below;
};

struct swh_eos_viscosity_law {
    enum swh_eos_viscosity_kind kind;
    double epsilon_over_k, sigma; /* Lennard-Jones parameters: K, m */
    struct swh_eos_entropy_law entropy;
    struct swh_eos_parts_law parts;
};

struct swh_eos {
    char name[24];
    double M, R_molar;            /* kg/mol, J/(mol K) */
    double T_red, rho_red_molar;  /* K, mol/m3 */
    double T_c, P_c, rho_c_molar; /* published critical point: K, Pa, mol/m3 */
    double T_triple;              /* lowest temperature, K */
    double T_max_published;       /* upper limit of the published equation, K */
    struct swh_eos_critical critical;
    struct swh_eos_ideal ideal;
    int power_count, gauss_count, edge_count;
    struct swh_eos_power power[SWH_EOS_POWERS];
    struct swh_eos_gauss gauss[SWH_EOS_GAUSS];
    struct swh_eos_edge edge[SWH_EOS_EDGES];
    struct swh_eos_ancillary psat, rho_f, rho_g; /* Pa, mol/m3 */
    struct swh_eos_viscosity_law viscosity;
};

/* Everything at one (T, rho) as if the fluid were in one phase there (inside the dome: the metastable or
 * unstable continuation). Mass based SI; index letters name partial derivatives in the variables (T, rho). */
struct swh_eos_point {
    double T, rho;
    double P, u, h, s, g; /* g = h - T s */
    double cv, cp, w;     /* cp and w are NaN where the continuation is mechanically unstable */
    double P_T, P_rho;
    double u_rho, h_T, h_rho;
    double P_TT, P_Trho, P_rhorho;
    double cv_T, cv_rho;
    double s_residual; /* J/(kg K), entropy less that of the ideal gas at the same T and rho */
    double alphar, Z;  /* residual Helmholtz energy and compressibility factor, for corresponding states */
};
void swh_eos_eval(const struct swh_eos *e, double T, double rho, struct swh_eos_point *out);

/* Adds what the terms that are not analytic give to A[i][j] = delta^i tau^j d^(i+j) alphar/(d delta^i d
 * tau^j). */
void swh_eos_add_edges(const struct swh_eos *e, double tau, double delta, double A[4][4]);

/* Completes an equation that was read from a file. The critical point of the equation itself, from the
 * published one (T_c, rho_c_molar); an equation with terms that are not analytic keeps the published one.
 * Returns 0, or 1 if there is none near it. */
int swh_eos_find_critical(struct swh_eos *e);
/* Sets the zeros of enthalpy and entropy: 200 kJ/kg and 1 kJ/(kg K) for saturated liquid at 0 degC. Returns
 * 0, or 1 where saturation cannot be solved at that temperature. */
int swh_eos_set_reference(struct swh_eos *e);

/* Both saturated phases at T (K), triple point <= T < critical: equal pressure and Gibbs energy by Newton's
 * method in both densities. Returns 0, or 1 if T is out of that range or the iteration fails. */
struct swh_eos_sat {
    double T, P, dPdT;
    struct swh_eos_point f, g; /* saturated liquid, saturated vapour */
};
int swh_eos_saturation_T(const struct swh_eos *e, double T, struct swh_eos_sat *out);
int swh_eos_saturation_P(const struct swh_eos *e, double P, struct swh_eos_sat *out);

/* The saturated state of density rho (liquid above the critical density, vapour below) and dT/drho along the
 * saturation line there. Returns 0, or 1 outside the densities between triple and critical point. */
int swh_eos_dome(const struct swh_eos *e, double rho, struct swh_eos_point *out, double *dTdrho);

/* T from (P, rho) in one phase, near T_start; returns 0, or 1 if the iteration fails. */
int swh_eos_T_of_P_rho(const struct swh_eos *e, double P, double rho, double T_start,
                       struct swh_eos_point *out);
/* T from (rho, u) in one phase, near T_start. */
int swh_eos_T_of_rho_u(const struct swh_eos *e, double rho, double u, double T_start,
                       struct swh_eos_point *out);

/* rho from (T, P) in one phase by Newton's method kept between rho_low and rho_high (kg/m3), where the
 * pressure rises with density. */
int swh_eos_rho_of_T_P(const struct swh_eos *e, double T, double P, double rho_low, double rho_high,
                       struct swh_eos_point *out);

/* One phase at pressure P with enthalpy (by = 'h') or entropy (by = 's') `value`, searched from the state
 * `start` (at about P) for specific volumes between v_low and v_high. */
int swh_eos_on_isobar(const struct swh_eos *e, double P, char by, double value, double v_low, double v_high,
                      const struct swh_eos_point *start, struct swh_eos_point *out);

/* Viscosity (Pa s) of one phase at the point p. */
double swh_eos_viscosity(const struct swh_eos *e, const struct swh_eos_point *p);

#endif
