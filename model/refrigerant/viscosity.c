/* Viscosity of one phase.
 *
 * R-134a: Huber, Laesecke and Perkins, Ind. Eng. Chem. Res. 42 (2003) 3163-3178, doi 10.1021/ie0300880.
 * R-1234yf: entropy scaling, Bell, Purdue International Refrigeration and Air Conditioning Conference (2016),
 * with Lennard-Jones parameters estimated from the critical point, epsilon/k = Tc/1.2593 and sigma =
 * 0.809e-10 m (critical volume in cm3/mol)^(1/3), after Chung et al., Ind. Eng. Chem. Res. 27 (1988) 671-679.
 * extended corresponding states with R-134a as reference, Klein, McLinden and Laesecke, Int. J.
 * Refrigeration 20 (1997) 208-217, doi 10.1016/S0140-7007(96)00073-4. */
#include "model/refrigerant/eos.h"

#include <math.h>

static double power_sum(const double *a, const double *t, int n, double x)
{
    double sum = 0.0;
    for (int k = 0; k < n; k++)
        sum += a[k] * pow(x, t[k]);
    return sum;
}

/* Chapman-Enskog with the collision integral of Neufeld, Janzen and Aziz, J. Chem. Phys. 57 (1972) 1100. */
static double dilute_neufeld(const struct swh_eos *e, double T)
{
    double x = T / e->epsilon_over_k, nm = e->sigma * 1e9;
    double omega = 1.16145 * pow(x, -0.14874) + 0.52487 * exp(-0.77320 * x) + 2.16178 * exp(-2.43787 * x);
    return 26.692e-9 * sqrt(e->M * 1000.0 * T) / (nm * nm * omega);
}

static double dilute_r134a(const struct swh_eos *e, double T)
{
    double x = log(T / e->epsilon_over_k), nm = e->sigma * 1e9;
    double ln_S = 0.355404 + x * (-0.464337 + x * 0.0257353);
    return 2.1357e-8 * sqrt(102.031 * T) / (nm * nm * exp(ln_S));
}

/* what density adds to the dilute gas of R-134a; rho in mol/m3 */
static double background_r134a(const struct swh_eos *e, double T, double rho)
{
    static const double b[9] = {-19.572881, 219.73999,  -1015.3226, 2471.01251, -3375.1717,
                                2491.6597,  -787.26086, 14.085455,  -0.34664158};
    static const double bt[9] = {0.0, -0.25, -0.5, -0.75, -1.0, -1.25, -1.5, -2.5, -5.5};
    static const double avogadro = 6.02214076e23;
    double second = avogadro * pow(e->sigma, 3.0) * power_sum(b, bt, 9, T / e->epsilon_over_k);
    double d = rho / 5017.053, tau = 374.21 / T;
    double S = -2.06900719e-5 * d +
               d * d *
                   (3.56029549e-7 * pow(tau, 6.0) + 2.11101816e-6 * tau * tau + 1.39601415e-5 * sqrt(tau) -
                    4.5643502e-6 / (tau * tau)) -
               3.51593275e-6 * d * d * d;
    double d0 = 3.163695636 / (1.0 - 0.0890173375 / tau + 0.100035295 / (tau * tau));
    return dilute_r134a(e, T) * second * rho + S + 0.00021476332 * (1.0 / (d0 - d) - 1.0 / d0);
}

static double viscosity_r1234yf(const struct swh_eos *e, const struct swh_eos_point *p)
{
    double x = p->rho * p->s_residual / -54468.47741433059;
    double liquid = 0.6100913843 + x * (0.4508958312 + x * (-0.017063 + x * 0.000564));
    double vapour = x * (1.2 + x * (-0.308598 + x * 0.035317));
    double weight = 1.0 / (1.0 + exp(-100.0 * (x - 2.0)));
    return dilute_neufeld(e, p->T) * (1.0 + 0.87302 * (exp(weight * liquid + (1.0 - weight) * vapour) - 1.0));
}

/* The state of the reference fluid with the same residual Helmholtz energy and compressibility factor, by
 * Newton's method with halved steps. dalphar/dT = -(u residual)/(R T2) is taken by differences. */
static void conformal_state(const struct swh_eos *ref, const struct swh_eos_point *p, double *T, double *rho)
{
    struct swh_eos_point q, qT, qr;
    swh_eos_eval(ref, *T, *rho, &q);
    for (int i = 0; i < 60; i++) {
        double h = 1e-5 * *T, k = 1e-5 * *rho, a = q.alphar - p->alphar, z = q.Z - p->Z;
        double size = hypot(a, z);
        if (size < 1e-11)
            return;
        swh_eos_eval(ref, *T + h, *rho, &qT);
        swh_eos_eval(ref, *T, *rho + k, &qr);
        double a_T = (qT.alphar - q.alphar) / h, a_r = (qr.alphar - q.alphar) / k;
        double z_T = (qT.Z - q.Z) / h, z_r = (qr.Z - q.Z) / k, det = a_T * z_r - a_r * z_T;
        double dT = (a_r * z - a * z_r) / det, dr = (z_T * a - z * a_T) / det, scale = 1.0;
        for (int j = 0; j < 12; j++, scale *= 0.5) {
            if (*T + scale * dT <= 50.0 || *rho + scale * dr <= 0.0)
                continue;
            swh_eos_eval(ref, *T + scale * dT, *rho + scale * dr, &q);
            if (hypot(q.alphar - p->alphar, q.Z - p->Z) < size)
                break;
        }
        if (!(fabs(scale * dT) > 1e-12 * *T || fabs(scale * dr) > 1e-12 * *rho))
            return;
        *T = q.T;
        *rho = q.rho;
    }
}

static double viscosity_r12(const struct swh_eos *e, const struct swh_eos_point *p)
{
    const struct swh_eos *ref = swh_eos_get(SWH_R134A);
    double molar = p->rho / e->M, psi = 1.087 - 0.0379 * molar / 4672.781255944357;
    double T0 = p->T * ref->T_c / e->T_c, rho0 = molar * ref->rho_c_molar / e->rho_c_molar * ref->M;
    conformal_state(ref, p, &T0, &rho0);
    double f = p->T / T0, h = rho0 / ref->M / molar;
    double shape = sqrt(f * e->M / ref->M) * pow(h, -2.0 / 3.0);
    return dilute_neufeld(e, p->T) + shape * background_r134a(ref, T0, rho0 / ref->M * psi);
}

double swh_eos_viscosity(enum swh_refrigerant r, const struct swh_eos_point *p)
{
    const struct swh_eos *e = swh_eos_get(r);
    switch (r) {
    case SWH_R134A:
        return dilute_r134a(e, p->T) + background_r134a(e, p->T, p->rho / e->M);
    case SWH_R1234YF:
        return viscosity_r1234yf(e, p);
    case SWH_R12:
        return viscosity_r12(e, p);
    case SWH_REFRIGERANT_COUNT:
        break;
    }
    return NAN;
}
