/* Helmholtz energy, its derivatives, saturation and single-phase inversions. See refrigerant_eos.h. */
#include "model/refrigerant/eos.h"

#include <math.h>
#include <stddef.h>

/* A[i][j] = delta^i tau^j d^(i+j) alpha / d delta^i d tau^j, i + j <= 3 */
typedef double derivatives[4][4];

/* From f = exp(phi(x)): the first three values x^k d^k f/dx^k divided by f, given a = x phi', b = x a' and
 * c = x b'. With D = x d/dx: D f = a f, D2 f = (a2 + b) f, D3 f = (a3 + 3ab + c) f; and x2 f'' = D2 f - D f,
 * x3 f''' = D3 f - 3 D2 f + 2 D f. */
static void scaled_derivatives(double a, double b, double c, double f, double out[4])
{
    double d2 = a * a + b;
    double d3 = a * a * a + 3.0 * a * b + c;
    out[0] = f;
    out[1] = a * f;
    out[2] = (d2 - a) * f;
    out[3] = (d3 - 3.0 * d2 + 2.0 * a) * f;
}

static void add_product(derivatives A, double n, const double X[4], const double Y[4])
{
    for (int i = 0; i < 4; i++)
        for (int j = 0; i + j < 4; j++)
            A[i][j] += n * X[i] * Y[j];
}

static double integer_power(double x, int n)
{
    double y = 1.0;
    for (; n > 0; n >>= 1, x *= x)
        if (n & 1)
            y *= x;
    return y;
}

static void add_powers(const struct swh_eos *e, double tau, double delta, derivatives A)
{
    double ln_tau = log(tau), damping[8] = {1.0}, delta_l[8] = {0.0};
    for (int l = 1; l < 8; l++) {
        delta_l[l] = integer_power(delta, l);
        damping[l] = exp(-delta_l[l]);
    }
    for (int k = 0; k < e->power_count; k++) {
        const struct swh_eos_power *p = &e->power[k];
        double X[4], Y[4], q = p->l * delta_l[p->l];
        scaled_derivatives(p->d - q, -p->l * q, -p->l * p->l * q, integer_power(delta, p->d) * damping[p->l],
                           X);
        scaled_derivatives(p->t, 0.0, 0.0, exp(p->t * ln_tau), Y);
        add_product(A, p->n, X, Y);
    }
}

/* x^power exp(-width (x - centre)^2) */
static void bell(double x, double power, double width, double centre, double out[4])
{
    double y = x - centre;
    double f = exp(power * log(x) - width * y * y);
    scaled_derivatives(power - 2.0 * width * x * y, -2.0 * width * x * (2.0 * x - centre),
                       -2.0 * width * x * (4.0 * x - centre), f, out);
}

static void add_gauss(const struct swh_eos *e, double tau, double delta, derivatives A)
{
    for (int k = 0; k < e->gauss_count; k++) {
        const struct swh_eos_gauss *p = &e->gauss[k];
        double X[4], Y[4];
        bell(delta, p->d, p->eta, p->epsilon, X);
        bell(tau, p->t, p->beta, p->gamma, Y);
        add_product(A, p->n, X, Y);
    }
}

/* Ideal part: B[j] = tau^j d^j alpha0 / d tau^j. */
static void ideal_part(const struct swh_eos_ideal *o, double tau, double delta, double B[4])
{
    double linear = (o->lead[1] + o->offset[1]) * tau;
    B[0] = log(delta) + o->lead[0] + o->offset[0] + linear + o->log_tau * log(tau);
    B[1] = linear + o->log_tau;
    B[2] = -o->log_tau;
    B[3] = 2.0 * o->log_tau;
    for (int k = 0; k < o->power_count; k++) {
        double Y[4];
        scaled_derivatives(o->power_t[k], 0.0, 0.0, pow(tau, o->power_t[k]), Y);
        for (int j = 0; j < 4; j++)
            B[j] += o->power_n[k] * Y[j];
    }
    for (int k = 0; k < o->einstein_count; k++) {
        double x = o->einstein_theta[k] * tau, n = o->einstein_n[k];
        double m = 1.0 / expm1(x); /* d/dx ln(1 - exp(-x)) */
        B[0] += n * log(-expm1(-x));
        B[1] += n * x * m;
        B[2] -= n * x * x * m * (1.0 + m);
        B[3] += n * x * x * x * m * (1.0 + m) * (1.0 + 2.0 * m);
    }
}

static void fill_second_order(double R, double T, double rho, const derivatives A, const double B[4],
                              struct swh_eos_point *p)
{
    p->P_rhorho = R * T / rho * (2.0 * A[1][0] + 4.0 * A[2][0] + A[3][0]);
    p->P_Trho = R * (1.0 + 2.0 * A[1][0] + A[2][0] - 2.0 * A[1][1] - A[2][1]);
    p->P_TT = rho * R / T * A[1][2];
    p->cv_T = R / T * (2.0 * (B[2] + A[0][2]) + B[3] + A[0][3]);
    p->cv_rho = -R / rho * A[1][2];
}

void swh_eos_eval(const struct swh_eos *e, double T, double rho, struct swh_eos_point *p)
{
    double R = e->R_molar / e->M, tau = e->T_red / T, delta = rho / (e->rho_red_molar * e->M);
    derivatives A = {{0.0}};
    double B[4];
    add_powers(e, tau, delta, A);
    add_gauss(e, tau, delta, A);
    if (e->edge_count > 0)
        swh_eos_add_edges(e, tau, delta, A);
    ideal_part(&e->ideal, tau, delta, B);
    p->T = T;
    p->rho = rho;
    p->alphar = A[0][0];
    p->Z = 1.0 + A[1][0];
    p->P = rho * R * T * p->Z;
    p->u = R * T * (B[1] + A[0][1]);
    p->h = p->u + p->P / rho;
    p->s = R * (B[1] + A[0][1] - B[0] - A[0][0]);
    p->s_residual = R * (A[0][1] - A[0][0]);
    p->g = p->h - T * p->s;
    p->cv = -R * (B[2] + A[0][2]);
    p->P_T = rho * R * (1.0 + A[1][0] - A[1][1]);
    p->P_rho = R * T * (1.0 + 2.0 * A[1][0] + A[2][0]);
    p->u_rho = (p->P - T * p->P_T) / (rho * rho);
    p->h_T = p->cv + p->P_T / rho;
    p->h_rho = (p->P_rho - T * p->P_T / rho) / rho;
    double w2 = p->P_rho + T * p->P_T * p->P_T / (rho * rho * p->cv);
    p->cp = p->P_rho > 0.0 ? p->cv * w2 / p->P_rho : NAN;
    p->w = w2 > 0.0 ? sqrt(w2) : NAN;
    fill_second_order(R, T, rho, (const double(*)[4])A, B, p);
}

static double ancillary(const struct swh_eos_ancillary *a, double T)
{
    double theta = 1.0 - T / a->T_r, S = 0.0;
    if (theta < 0.0)
        theta = 0.0;
    for (int k = 0; k < a->count; k++)
        S += a->n[k] * pow(theta, a->t[k]);
    if (!a->exponential)
        return a->scale * (1.0 + S);
    return a->scale * exp(a->tau_r ? S * a->T_r / T : S);
}

/* d3P/drho3 at the critical point */
static double critical_third(const struct swh_eos *e, const struct swh_eos_critical *c)
{
    struct swh_eos_point p, q;
    swh_eos_eval(e, c->T, c->rho * 0.9999, &p);
    swh_eos_eval(e, c->T, c->rho * 1.0001, &q);
    return (q.P_rhorho - p.P_rhorho) / (2e-4 * c->rho);
}

/* Can the saturated states of densities outside `near` be solved? An equation that is flat at its critical
 * point loses its digits earlier. */
static int settles_outside(const struct swh_eos *e)
{
    const double near = e->critical.near * e->critical.rho;
    struct swh_eos_point p;
    double slope;
    for (int i = 0; i < 40; i++)
        for (int side = -1; side <= 1; side += 2)
            if (swh_eos_dome(e, e->critical.rho + side * near * (1.0 + 0.05 * i), &p, &slope))
                return 0;
    return 1;
}

/* Newton in T and rho for dP/drho = d2P/drho2 = 0, the last derivatives by differences */
int swh_eos_find_critical(struct swh_eos *e)
{
    double T = e->T_c, rho = e->rho_c_molar * e->M, change = 1.0;
    struct swh_eos_point p, hot, dense;
    for (int i = 0; i < 50 && change > 1e-12 && e->edge_count == 0; i++) {
        const double dT = 1e-5 * T, drho = 1e-4 * rho;
        swh_eos_eval(e, T, rho, &p);
        swh_eos_eval(e, T + dT, rho, &hot);
        swh_eos_eval(e, T, rho + drho, &dense);
        const double second_T = (hot.P_rhorho - p.P_rhorho) / dT,
                     third = (dense.P_rhorho - p.P_rhorho) / drho;
        const double det = p.P_Trho * third - p.P_rhorho * second_T;
        const double step_T = (p.P_rhorho * p.P_rhorho - p.P_rho * third) / det;
        const double step_rho = (p.P_rho * second_T - p.P_rhorho * p.P_Trho) / det;
        T += step_T;
        rho += step_rho;
        change = fmax(fabs(step_T) / T, fabs(step_rho) / rho);
    }
    swh_eos_eval(e, T, rho, &p);
    e->critical = (struct swh_eos_critical){T, rho, p.P, 0.02};
    const double off = fmax(fabs(T / e->T_c - 1.0), 0.1 * fabs(rho / (e->rho_c_molar * e->M) - 1.0));
    if (e->edge_count == 0 && !(change < 1e-9 && off < 0.01))
        return 1;
    while (!settles_outside(e) && e->critical.near < 0.2)
        e->critical.near *= 1.25;
    return !(p.P > 0.0 && isfinite(p.P));
}

int swh_eos_set_reference(struct swh_eos *e)
{
    struct swh_eos_sat s;
    const double R = e->R_molar / e->M;
    e->ideal.offset[0] = e->ideal.offset[1] = 0.0;
    if (swh_eos_saturation_T(e, 273.15, &s))
        return 1;
    e->ideal.offset[1] = (200e3 - s.f.h) / (R * e->T_red);
    e->ideal.offset[0] = (s.f.s - 1000.0) / R;
    return 0;
}

/* Close to the critical point the two densities follow from the equation's own expansion there:
 * P = Pc + P_T dT + P_Trho dT drho + P_rhorhorho drho^3/6, equal on both sides for drho^2 = 6 P_Trho
 * (Tc-T)/P3. */
static void start_densities(const struct swh_eos *e, const struct swh_eos_critical *c, double T, double *f,
                            double *g)
{
    if (T < 0.985 * c->T) {
        *f = e->M * ancillary(&e->rho_f, T);
        *g = e->M * ancillary(&e->rho_g, T);
        return;
    }
    struct swh_eos_point p;
    swh_eos_eval(e, c->T, c->rho, &p);
    double width = sqrt(6.0 * p.P_Trho * (c->T - T) / critical_third(e, c));
    *f = c->rho + width;
    *g = c->rho - width;
    if (*g < 0.1 * c->rho)
        *g = 0.1 * c->rho;
}

/* One Newton step towards equal P and g; returns the larger relative change of density. */
static double saturation_step(const struct swh_eos *e, const struct swh_eos_critical *c, double T,
                              struct swh_eos_sat *s)
{
    struct swh_eos_point *f = &s->f, *g = &s->g;
    double dP = f->P - g->P, dg = f->g - g->g;
    /* dg/drho = P_rho/rho at constant T, so both unknowns are the products P_rho drho */
    double yg = (dg - dP / f->rho) / (1.0 / f->rho - 1.0 / g->rho); /* = -P_rho,g drho_g */
    double yf = dP + yg;
    double step_f = -yf / f->P_rho, step_g = -yg / g->P_rho;
    double scale = 1.0, rho_f, rho_g;
    for (int k = 0; k < 40; k++, scale *= 0.5) {
        rho_f = f->rho + scale * step_f;
        rho_g = g->rho + scale * step_g;
        if (rho_f <= c->rho || rho_f > 1.3 * f->rho || rho_g >= c->rho || rho_g < 0.3 * g->rho)
            continue;
        struct swh_eos_point a, b;
        swh_eos_eval(e, T, rho_f, &a);
        swh_eos_eval(e, T, rho_g, &b);
        if (a.P_rho <= 0.0 || b.P_rho <= 0.0)
            continue;
        s->f = a;
        s->g = b;
        break;
    }
    return fmax(fabs(scale * step_f / rho_f), fabs(scale * step_g / rho_g));
}

/* Newton from two densities; 1 if it does not come to equal pressures */
static int saturation_from(const struct swh_eos *e, const struct swh_eos_critical *c, double T, double rho_f,
                           double rho_g, struct swh_eos_sat *out)
{
    swh_eos_eval(e, T, rho_f, &out->f);
    swh_eos_eval(e, T, rho_g, &out->g);
    for (int k = 0; k < 20 && out->f.P_rho <= 0.0; k++)
        swh_eos_eval(e, T, out->f.rho * 1.01, &out->f);
    for (int k = 0; k < 20 && out->g.P_rho <= 0.0; k++)
        swh_eos_eval(e, T, out->g.rho * 0.99, &out->g);
    double change = 1.0, before = 2.0;
    for (int i = 0; i < 60 && change > 1e-14; i++) {
        change = saturation_step(e, c, T, out);
        if (change < 1e-7 && change >= 0.5 * before)
            break; /* rounding reached */
        before = change;
    }
    out->T = T;
    out->P = out->g.P;
    out->dPdT = (out->g.s - out->f.s) / (1.0 / out->g.rho - 1.0 / out->f.rho);
    /* next to the critical point the densities are less well conditioned than
     * elsewhere, but so is their use */
    double tolerance = fmax(1e-6, 0.01 * (out->f.rho - out->g.rho) / out->f.rho);
    const double rounding = 1e-12 * out->f.rho * e->R_molar / e->M * T;
    return !(change < tolerance) || !(fabs(out->f.P - out->g.P) <= 1e-6 * out->P + rounding);
}

static int saturation_at(const struct swh_eos *e, const struct swh_eos_critical *c, double T,
                         struct swh_eos_sat *out)
{
    if (!(T >= e->T_triple * (1.0 - 1e-12)) || T >= c->T)
        return 1;
    double rho_f, rho_g;
    start_densities(e, c, T, &rho_f, &rho_g);
    if (saturation_from(e, c, T, rho_f, rho_g, out) == 0)
        return 0;
    /* An equation that is flatter at its critical point than its expansion there says: from four times as far
     * away, where both densities are about twice as far from the critical one. */
    const double far = c->T - 4.0 * (c->T - T);
    struct swh_eos_sat s;
    if (far < 0.9 * c->T || saturation_at(e, c, far, &s))
        return 1;
    return saturation_from(e, c, T, c->rho + 0.55 * (s.f.rho - c->rho), c->rho - 0.55 * (c->rho - s.g.rho),
                           out);
}

int swh_eos_saturation_T(const struct swh_eos *e, double T, struct swh_eos_sat *out)
{
    return saturation_at(e, &e->critical, T, out);
}

int swh_eos_saturation_P(const struct swh_eos *e, double P, struct swh_eos_sat *out)
{
    const struct swh_eos_critical *c = &e->critical;
    double low = e->T_triple, high = c->T;
    if (!(P > 0.0) || P >= c->P || saturation_at(e, c, low, out) || P < out->P * (1.0 - 1e-9))
        return 1;
    /* ln P is nearly linear in 1/T: regula falsi start, then Newton kept in the bracket */
    double slope = log(c->P / out->P) / (1.0 / low - 1.0 / high);
    double T = 1.0 / (1.0 / high + log(c->P / P) / slope);
    for (int i = 0; i < 60; i++) {
        if (!(T > low && T < high))
            T = 0.5 * (low + high);
        if (saturation_at(e, c, T, out))
            return 1;
        if (out->P < P)
            low = T;
        else
            high = T;
        double step = (P - out->P) / out->dPdT;
        if (fabs(step) <= 4e-15 * T || high - low <= 4e-15 * T)
            return 0;
        T += step;
    }
    return fabs(out->P - P) > 1e-9 * P;
}

/* What the temperature at a given density is sought for: value and its slope with T at a point. */
typedef void (*sought)(const struct swh_eos_point *p, double *value, double *slope);

static void sought_pressure(const struct swh_eos_point *p, double *value, double *slope)
{
    *value = p->P;
    *slope = p->P_T;
}

static void sought_energy(const struct swh_eos_point *p, double *value, double *slope)
{
    *value = p->u;
    *slope = p->cv;
}

/* Newton in T at constant density, steps kept within a fifth of T; 1 if it does not settle */
static int T_at_rho(const struct swh_eos *e, double rho, sought what, double wanted, double T,
                    struct swh_eos_point *out)
{
    double before = INFINITY;
    for (int i = 0; i < 60; i++) {
        double value, slope;
        swh_eos_eval(e, T, rho, out);
        what(out, &value, &slope);
        double step = (wanted - value) / slope;
        double size = fabs(step);
        if (size <= 4e-15 * T || (size < 1e-9 * T && size >= before))
            return 0;
        before = size;
        double limit = 0.2 * T;
        T += fmax(-limit, fmin(limit, step));
    }
    return 1;
}

int swh_eos_T_of_P_rho(const struct swh_eos *e, double P, double rho, double T, struct swh_eos_point *out)
{
    return T_at_rho(e, rho, sought_pressure, P, T, out);
}

int swh_eos_T_of_rho_u(const struct swh_eos *e, double rho, double u, double T, struct swh_eos_point *out)
{
    return T_at_rho(e, rho, sought_energy, u, T, out);
}

/* T of the saturation line close to the critical density: Tc - delta^2 (b0 + b1 delta + b2 delta^2) with b0
 * from the equation's derivatives there and the others from the saturated densities 2 % away (or `near`),
 * because Newton's method for two nearly equal phases loses its digits. */
static int dome_near_critical(const struct swh_eos *e, double delta, struct swh_eos_point *out,
                              double *dTdrho)
{
    const struct swh_eos_critical *c = &e->critical;
    struct swh_eos_point p;
    double far = c->near * c->rho, b[2];
    for (int k = 0; k < 2; k++) {
        if (swh_eos_dome(e, k ? c->rho + far : c->rho - far, &p, dTdrho))
            return 1;
        b[k] = (c->T - p.T) / (far * far);
    }
    swh_eos_eval(e, c->T, c->rho, &p);
    double b0 = critical_third(e, c) / (6.0 * p.P_Trho);
    double b1 = (b[1] - b[0]) / (2.0 * far), b2 = (0.5 * (b[0] + b[1]) - b0) / (far * far);
    swh_eos_eval(e, c->T - delta * delta * (b0 + delta * (b1 + delta * b2)), c->rho + delta, out);
    *dTdrho = -delta * (2.0 * b0 + delta * (3.0 * b1 + delta * 4.0 * b2));
    return 0;
}

int swh_eos_dome(const struct swh_eos *e, double rho, struct swh_eos_point *out, double *dTdrho)
{
    const struct swh_eos_critical *c = &e->critical;
    double delta = rho - c->rho;
    if (fabs(delta) < 0.995 * c->near * c->rho)
        return dome_near_critical(e, delta, out, dTdrho);
    /* the density is nearly linear in q = sqrt(Tc - T), which is therefore the unknown */
    double low = 0.0, high = sqrt(c->T - e->T_triple), q = high * fmin(0.9, fabs(delta) / (2.0 * c->rho));
    out->rho = 0.0;
    for (int i = 0; i < 80; i++) {
        struct swh_eos_sat s;
        if (saturation_at(e, c, c->T - q * q, &s)) { /* a step too close to the critical point */
            low = q;
            q = 0.5 * (low + high);
            continue;
        }
        *out = delta > 0.0 ? s.f : s.g;
        *dTdrho = out->P_rho / (s.dPdT - out->P_T);
        double miss = rho - out->rho;
        if ((miss > 0.0) == (delta > 0.0))
            low = q;
        else
            high = q;
        double step = miss * *dTdrho / (-2.0 * q);
        if (fabs(step) < 1e-14 * q + 1e-15 || high - low < 1e-14 * high)
            return fabs(miss) > 1e-7 * rho;
        q = q + step > low && q + step < high ? q + step : 0.5 * (low + high);
    }
    return fabs(rho - out->rho) > 1e-7 * rho;
}

int swh_eos_rho_of_T_P(const struct swh_eos *e, double T, double P, double low, double high,
                       struct swh_eos_point *out)
{
    double rho = P * e->M / (e->R_molar * T); /* ideal gas */
    if (!(rho > low && rho < high))
        rho = rho >= high && low > e->critical.rho ? low : 0.5 * (low + high);
    for (int i = 0; i < 100; i++) {
        swh_eos_eval(e, T, rho, out);
        double miss = P - out->P;
        if (miss > 0.0)
            low = rho;
        else
            high = rho;
        double step = miss / out->P_rho;
        if (fabs(step) <= 2e-15 * rho || high - low <= 2e-15 * high)
            return 0;
        double next = rho + step;
        if (!(next > low && next < high) || !(out->P_rho > 0.0))
            next = 0.5 * (low + high);
        rho = next;
    }
    return fabs(P - out->P) > 1e-7 * P;
}

int swh_eos_on_isobar(const struct swh_eos *e, double P, char by, double value, double v_low, double v_high,
                      const struct swh_eos_point *start, struct swh_eos_point *out)
{
    double v = 1.0 / start->rho, T = start->T, before = INFINITY;
    v = fmin(fmax(v, v_low), v_high);
    for (int i = 0; i < 100; i++) {
        if (swh_eos_T_of_P_rho(e, P, 1.0 / v, T, out))
            return 1;
        T = out->T;
        double T_rho = -out->P_rho / out->P_T; /* along the isobar */
        double slope_h = -out->rho * out->rho * (out->h_rho + out->h_T * T_rho);
        double slope = by == 'h' ? slope_h : slope_h / T; /* dh = T ds at constant P */
        double miss = value - (by == 'h' ? out->h : out->s);
        double step = miss / slope, size = fabs(step);
        if (size <= 4e-15 * v || (size < 1e-10 * v && size >= before))
            return 0;
        before = size;
        if (miss > 0.0)
            v_low = v;
        else
            v_high = v;
        if (v_high - v_low <= 4e-15 * v)
            return fabs(step) > 1e-9 * v;
        /* short steps, and T carried along: at one density a pressure may belong to two temperatures, the
         * lower of them inside the dome */
        double next = v + fmax(-0.25 * v, fmin(0.5 * v, step));
        if (!(next > v_low && next < v_high))
            next = 0.5 * (v_low + v_high);
        T += fmax(-0.2 * T, fmin(0.3 * T, (next - v) * -out->rho * out->rho * T_rho));
        v = next;
    }
    return 1;
}
