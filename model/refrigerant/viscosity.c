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

static double sum_of(const struct swh_eos_sum *s, double x)
{
    double sum = 0.0;
    for (int k = 0; k < s->count; k++)
        sum += s->n[k] * pow(x, s->t[k]);
    return sum;
}

/* Chapman-Enskog with the collision integral of Neufeld, Janzen and Aziz, J. Chem. Phys. 57 (1972) 1100. */
static double dilute_neufeld(const struct swh_eos *e, double T)
{
    const struct swh_eos_viscosity_law *v = &e->viscosity;
    double x = T / v->epsilon_over_k, nm = v->sigma * 1e9;
    double omega = 1.16145 * pow(x, -0.14874) + 0.52487 * exp(-0.77320 * x) + 2.16178 * exp(-2.43787 * x);
    return 26.692e-9 * sqrt(e->M * 1000.0 * T) / (nm * nm * omega);
}

static double dilute_parts(const struct swh_eos_viscosity_law *v, double T)
{
    const double nm = v->sigma * 1e9, ln_S = sum_of(&v->parts.collision, log(T / v->epsilon_over_k));
    return v->parts.scale * sqrt(1000.0 * v->parts.M * T) / (nm * nm * exp(ln_S));
}

static double dense_terms(const struct swh_eos_dense_term *term, int count, double tau, double delta)
{
    double sum = 0.0;
    for (int k = 0; k < count; k++) {
        const struct swh_eos_dense_term *s = &term[k];
        const double damping = s->gamma == 0.0 ? 1.0 : exp(-s->gamma * pow(delta, s->l));
        sum += s->n * pow(delta, s->d) * pow(tau, s->t) * damping;
    }
    return sum;
}

/* what density adds to the dilute gas; rho in mol/m3 */
static double background_parts(const struct swh_eos_viscosity_law *v, double T, double rho)
{
    static const double avogadro = 6.02214076e23;
    const struct swh_eos_parts_law *a = &v->parts;
    const double second = avogadro * pow(v->sigma, 3.0) * sum_of(&a->second, T / v->epsilon_over_k);
    const double tau = a->T_red / T, delta = rho / a->rho_red_molar;
    const double first =
        dilute_parts(v, T) * second * rho + dense_terms(a->dense, a->dense_count, tau, delta);
    if (a->packed_count == 0)
        return first;
    const double packed = sum_of(&a->above, tau) / sum_of(&a->below, tau);
    return first +
           dense_terms(a->packed, a->packed_count, tau, delta) * (1.0 / (packed - delta) - 1.0 / packed);
}

static double cubic(const double c[4], double x)
{
    return c[0] + x * (c[1] + x * (c[2] + x * c[3]));
}

static double by_entropy(const struct swh_eos *e, const struct swh_eos_point *p)
{
    const struct swh_eos_entropy_law *a = &e->viscosity.entropy;
    const double x = p->rho * p->s_residual / a->rhosr;
    const double weight = 1.0 / (1.0 + exp(-100.0 * (x - a->x_crossover)));
    const double f = weight * cubic(a->liquid, x) + (1.0 - weight) * cubic(a->vapour, x);
    return dilute_neufeld(e, p->T) * (1.0 + a->C * (exp(f) - 1.0));
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
    return dilute_neufeld(e, p->T) + shape * background_parts(&ref->viscosity, T0, rho0 / ref->M * psi);
}

double swh_eos_viscosity(const struct swh_eos *e, const struct swh_eos_point *p)
{
    switch (e->viscosity.kind) {
    case SWH_MU_PARTS:
        return dilute_parts(&e->viscosity, p->T) + background_parts(&e->viscosity, p->T, p->rho / e->M);
    case SWH_MU_ENTROPY:
        return by_entropy(e, p);
    case SWH_MU_R12:
        return viscosity_r12(e, p);
    }
    return NAN;
}
