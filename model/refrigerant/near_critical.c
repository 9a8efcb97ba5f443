/* The terms of a few equations of state (carbon dioxide, water) that are not analytic at the critical point,
 * and their derivatives up to the third, by series of two variables cut behind the third order. */
#include "model/refrigerant/eos.h"

#include <math.h>

/* sum of c[i][j] x^i y^j, i + j <= 3: a function near (delta, tau), x and y being what is added to them */
struct series {
    double c[4][4];
};

static struct series product(const struct series *a, const struct series *b)
{
    struct series out = {{{0.0}}};
    for (int i = 0; i < 4; i++)
        for (int j = 0; i + j < 4; j++)
            for (int k = 0; i + k < 4; k++)
                for (int l = 0; i + j + k + l < 4; l++)
                    out.c[i + k][j + l] += a->c[i][j] * b->c[k][l];
    return out;
}

/* f0 + f1 d + f2 d^2 + f3 d^3 with d = a less its value */
static struct series composed(const struct series *a, const double f[4])
{
    struct series d = *a, out = {{{0.0}}}, power = {{{1.0}}};
    d.c[0][0] = 0.0;
    for (int n = 0; n < 4; n++) {
        for (int i = 0; i < 4; i++)
            for (int j = 0; i + j < 4; j++)
                out.c[i][j] += f[n] * power.c[i][j];
        power = product(&power, &d);
    }
    return out;
}

static struct series to_the(const struct series *a, double p)
{
    const double u = a->c[0][0], f = pow(u, p);
    return composed(a, (const double[4]){f, p * f / u, p * (p - 1.0) * f / (2.0 * u * u),
                                         p * (p - 1.0) * (p - 2.0) * f / (6.0 * u * u * u)});
}

static struct series exponential(const struct series *a)
{
    const double f = exp(a->c[0][0]);
    return composed(a, (const double[4]){f, f, f / 2.0, f / 6.0});
}

/* n Delta^b delta psi: Span and Wagner, J. Phys. Chem. Ref. Data 25 (1996) 1509, equation 6.1 */
static struct series edge_term(const struct swh_eos_edge *e, double tau, double delta)
{
    const double x = delta - 1.0, y = tau - 1.0;
    const struct series square = {{{x * x}, {2.0 * x}, {1.0}}}, from_delta = {{{delta}, {1.0}}};
    struct series theta = to_the(&square, 0.5 / e->beta), gap = to_the(&square, e->a), bell = {{{0.0}}};
    for (int i = 0; i < 4; i++)
        theta.c[i][0] *= e->A;
    theta.c[0][0] += 1.0 - tau;
    theta.c[0][1] -= 1.0;
    const struct series theta2 = product(&theta, &theta);
    for (int i = 0; i < 4; i++)
        for (int j = 0; i + j < 4; j++)
            gap.c[i][j] = e->B * gap.c[i][j] + theta2.c[i][j];
    for (int i = 0; i < 3; i++)
        bell.c[i][0] = -e->C * square.c[i][0];
    bell.c[0][0] -= e->D * y * y;
    bell.c[0][1] = -2.0 * e->D * y;
    bell.c[0][2] = -e->D;
    const struct series psi = exponential(&bell), Delta = to_the(&gap, e->b), both = product(&Delta, &psi);
    return product(&both, &from_delta);
}

void swh_eos_add_edges(const struct swh_eos *e, double tau, double delta, double A[4][4])
{
    static const double factorial[4] = {1.0, 1.0, 2.0, 6.0};
    /* at the critical density itself some derivatives have no value */
    const double off = fabs(delta - 1.0) < 1e-9 ? 1.0 + 1e-9 : delta;
    for (int k = 0; k < e->edge_count; k++) {
        const struct series s = edge_term(&e->edge[k], tau, off);
        for (int i = 0; i < 4; i++)
            for (int j = 0; i + j < 4; j++)
                A[i][j] += e->edge[k].n * factorial[i] * factorial[j] * s.c[i][j] * pow(off, i) * pow(tau, j);
    }
}
