/* Makes the property tables of one refrigerant: while the library is built for those it has of its own
 * (tables_program.c), and when it runs for one from a file. Every node is computed with the exact equation of
 * state, with the derivatives the Hermite cells need; what is tabulated, and why so, is written in
 * refrigerant_tables.h and refrigerant_tables.c. */
#include "model/refrigerant/eos.h"
#include "model/refrigerant/refrigerant.h"
#include "model/refrigerant/tables.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double hot_temperature = 525.0, hot_pressure = 95e5, top_pressure = 85e5, cold_pressure = 500.0,
                    split_pressure = 1e6;

/* What two phases in equilibrium make of (T, v): u = w + k v with w = u_f - k v_f and k = T dP/dT - P, on a
 * fine grid of temperatures up to the critical one. */
enum { T_CELLS = 800 };
struct T_row {
    double w[4], k[4], P[4];
};

struct maker {
    const struct swh_eos *e;
    struct swh_fluid *f;
    struct swh_error *err; /* the first thing that failed */
    double T_inv;          /* cells per K */
    struct T_row T_row[T_CELLS];
    double rho_cold; /* saturated liquid at the lowest temperature, less a little */
};

/* What failed is noted and the state taken as it is: the rows end early (`failed`), and nothing is kept. */
static void fail(const struct maker *m, const char *what, double where)
{
    if (m->err->status == SWH_OK)
        swh_error_set(m->err, SWH_ERR_RANGE, "%s: no property tables can be made: %s failed at %.10g",
                      m->e->name, what, where);
}

static int failed(const struct maker *m)
{
    return m->err->status != SWH_OK;
}

/* ---- Hermite cells ---- */

/* value and derivatives with respect to the two coordinates of a grid */
struct node {
    double f, x, y, xy;
};

static void cubic(double f0, double d0, double f1, double d1, double width, double c[4])
{
    d0 *= width;
    d1 *= width;
    c[0] = f0;
    c[1] = d0;
    c[2] = 3.0 * (f1 - f0) - 2.0 * d0 - d1;
    c[3] = 2.0 * (f0 - f1) + d0 + d1;
}

static double at(const double c[4], double t)
{
    return c[0] + t * (c[1] + t * (c[2] + t * c[3]));
}

/* Fills the octaves from 2^first on, each with 2^bits[k] cells; returns the number of cells. */
static int octaves(struct swh_octave *o, int first, const int *bits, int count)
{
    uint64_t cells = 0;
    for (int k = 0; k < count; k++) {
        uint64_t exponent = (uint64_t)(1023 + first + k), size = (uint64_t)bits[k];
        o[k].shift = 52 - size;
        o[k].offset = (exponent << size) - cells;
        cells += (uint64_t)1 << size;
    }
    return (int)cells;
}

/* lower edge of cell i */
static double octave_edge(int first, const int *bits, int count, int i)
{
    for (int k = 0; k < count; k++) {
        int n = 1 << bits[k];
        if (i < n)
            return ldexp(1.0 + (double)i / n, first + k);
        i -= n;
    }
    return ldexp(1.0, first + count);
}

/* ---- saturation line ---- */

/* A function of temperature along the saturation line with its derivative. */
struct along {
    double P, T; /* as functions: P(T), and T itself */
    double dPdT, d2PdT2;
    double rho_f, rho_g, h_f, h_g, s_f, s_g, u_f;
    double drho_f, drho_g, dh_f, dh_g, ds_f, ds_g, du_f; /* d/dT */
};

static void phase_along(const struct swh_eos_point *p, double dPdT, double *drho, double *dh, double *ds,
                        double *du)
{
    *drho = (dPdT - p->P_T) / p->P_rho;
    *dh = p->h_T + p->h_rho * *drho;
    *ds = p->cv / p->T - p->P_T / (p->rho * p->rho) * *drho;
    *du = p->cv + p->u_rho * *drho;
}

static void fill_along(const struct swh_eos_sat *s, struct along *a)
{
    double ignored;
    a->T = s->T;
    a->P = s->P;
    a->dPdT = s->dPdT;
    a->rho_f = s->f.rho, a->rho_g = s->g.rho;
    a->h_f = s->f.h, a->h_g = s->g.h;
    a->s_f = s->f.s, a->s_g = s->g.s;
    a->u_f = s->f.u;
    phase_along(&s->f, s->dPdT, &a->drho_f, &a->dh_f, &a->ds_f, &a->du_f);
    phase_along(&s->g, s->dPdT, &a->drho_g, &a->dh_g, &a->ds_g, &ignored);
    double dv = 1.0 / a->rho_g - 1.0 / a->rho_f;
    double dv_T = a->drho_f / (a->rho_f * a->rho_f) - a->drho_g / (a->rho_g * a->rho_g);
    a->d2PdT2 = (a->ds_g - a->ds_f - a->dPdT * dv_T) / dv;
}

static void along_T(const struct maker *m, double T, struct along *a)
{
    struct swh_eos_sat s = {0};
    if (swh_eos_saturation_T(m->e, T, &s))
        fail(m, "saturation at T", T);
    fill_along(&s, a);
}

static void along_P(const struct maker *m, double P, struct along *a)
{
    struct swh_eos_sat s = {0};
    if (swh_eos_saturation_P(m->e, P, &s))
        fail(m, "saturation at P", P);
    fill_along(&s, a);
}

/* w = u_f - k v_f and k = T dP/dT - P with their derivatives, and P: the node of a T row */
static void T_node(const struct maker *m, double T, double value[3], double slope[3])
{
    struct along a;
    along_T(m, T, &a);
    double v = 1.0 / a.rho_f, v_T = -v * v * a.drho_f;
    value[1] = T * a.dPdT - a.P;
    slope[1] = T * a.d2PdT2;
    value[0] = a.u_f - value[1] * v;
    slope[0] = a.du_f - slope[1] * v - value[1] * v_T;
    value[2] = a.P;
    slope[2] = a.dPdT;
}

/* The last node is the critical point, where two phases cannot be told apart. Values are the equation's (the
 * saturation line goes on as the critical isochore, so dP/dT = P_T); derivatives come from a parabola through
 * it and two temperatures below. */
static void critical_T_node(const struct maker *m, double value[3], double slope[3])
{
    struct swh_eos_point p;
    double T = m->f->T_c, d = 0.1, near[3], far[3], ignored[3];
    swh_eos_eval(m->e, T, m->f->rho_c, &p);
    value[1] = T * p.P_T - p.P;
    value[0] = p.u - value[1] / p.rho;
    value[2] = p.P;
    T_node(m, T - d, near, ignored);
    T_node(m, T - 2.0 * d, far, ignored);
    for (int j = 0; j < 3; j++)
        slope[j] = (3.0 * value[j] - 4.0 * near[j] + far[j]) / (2.0 * d);
    slope[2] = p.P_T;
}

static void make_T_rows(struct maker *m)
{
    double low = m->f->T_min, width = (m->f->T_c - low) / T_CELLS, value[2][3], slope[2][3];
    m->T_inv = 1.0 / width;
    T_node(m, low, value[0], slope[0]);
    for (int i = 0; i < T_CELLS && !failed(m); i++) {
        if (i + 1 < T_CELLS)
            T_node(m, low + width * (i + 1), value[1], slope[1]);
        else
            critical_T_node(m, value[1], slope[1]);
        double *c[3] = {m->T_row[i].w, m->T_row[i].k, m->T_row[i].P};
        for (int j = 0; j < 3; j++)
            cubic(value[0][j], slope[0][j], value[1][j], slope[1][j], width, c[j]);
        memcpy(value[0], value[1], sizeof value[0]);
        memcpy(slope[0], slope[1], sizeof slope[0]);
    }
}

static void mu_saturated(const struct maker *m, double T, double mu[2])
{
    struct swh_eos_sat s = {0};
    if (swh_eos_saturation_T(m->e, fmin(T, m->f->T_c - 0.01), &s))
        fail(m, "saturation for viscosity at T", T);
    mu[0] = swh_eos_viscosity(m->e, &s.f);
    mu[1] = swh_eos_viscosity(m->e, &s.g);
}

/* logarithm of the viscosity of the vapour over that of the liquid */
static double ln_mu_ratio(const struct maker *m, double T)
{
    double mu[2];
    mu_saturated(m, T, mu);
    return log(mu[1] / mu[0]);
}

/* the group of Baroczy's void fraction (refrigerant.h), and its derivative with temperature */
static double slip_group(const struct maker *m, const struct along *a, double *slope)
{
    const double h = 0.02, in_rho = 1 - SWH_BAROCZY_RHO, in_mu = SWH_BAROCZY_MU;
    const double slip = exp(in_rho * log(a->rho_g / a->rho_f) + in_mu * ln_mu_ratio(m, a->T));
    const double mu_T = (ln_mu_ratio(m, a->T + h) - ln_mu_ratio(m, a->T - h)) / (2 * h);
    *slope = slip * (in_rho * (a->drho_g / a->rho_g - a->drho_f / a->rho_f) + in_mu * mu_T);
    return slip;
}

/* saturation properties in the order of the rows, PT left to the caller; derivatives d/dx */
static void saturation_columns(const struct maker *m, const struct along *a, double dTdx, double value[8],
                               double slope[8])
{
    double dslip;
    const double slip = slip_group(m, a, &dslip);
    const double v[SWH_SAT_COUNT] = {a->rho_f, a->rho_g, a->h_f, a->h_g, a->P, slip, a->s_f, a->s_g};
    const double d[SWH_SAT_COUNT] = {a->drho_f, a->drho_g, a->dh_f, a->dh_g,
                                     a->dPdT,   dslip,     a->ds_f, a->ds_g};
    for (int j = 0; j < SWH_SAT_COUNT; j++) {
        value[j] = v[j];
        slope[j] = d[j] * dTdx;
    }
}

static void cubic_columns(const double value[2][8], const double slope[2][8], double width, int count,
                          double out[4][8])
{
    for (int j = 0; j < count; j++) {
        double c[4];
        cubic(value[0][j], slope[0][j], value[1][j], slope[1][j], width, c);
        for (int k = 0; k < 4; k++)
            out[k][j] = c[k];
    }
}

static const int theta_bits[SWH_THETA_OCTAVES] = {4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4,
                                                  4, 4, 4, 4, 5, 5, 5, 5, 6, 7};

static void make_theta_rows(const struct maker *m)
{
    struct swh_fluid *f = m->f;
    int rows = octaves(f->theta_octave, SWH_THETA_FIRST, theta_bits, SWH_THETA_OCTAVES);
    if (rows > SWH_THETA_ROWS)
        fail(m, "room for saturation rows", rows);
    for (int i = 0; i < rows && !failed(m); i++) {
        struct swh_theta_row *row = &f->theta_row[i];
        double edge[2], value[2][8], slope[2][8];
        for (int k = 0; k < 2; k++) {
            struct along a;
            edge[k] = octave_edge(SWH_THETA_FIRST, theta_bits, SWH_THETA_OCTAVES, i + k);
            if (f->T_c - edge[k] < m->e->T_triple)
                return;
            along_T(m, f->T_c - edge[k], &a);
            saturation_columns(m, &a, -1.0, value[k], slope[k]);
        }
        row->x0 = edge[0];
        row->inv = 1.0 / (edge[1] - edge[0]);
        cubic_columns((const double(*)[8])value, (const double(*)[8])slope, edge[1] - edge[0], SWH_SAT_COUNT,
                      row->c);
        f->theta_rows = i + 1;
    }
}

/* ---- (rho, u) ---- */

/* The densest liquid lies in the last octave that is used. */
static const int rho_bits[SWH_RHO_OCTAVES] = {4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 5, 6, 6, 7, 8};

/* The same fineness for a light liquid, whose last octaves are empty: all moves down. */
static void bits_up_to(double rho, int bits[SWH_RHO_OCTAVES])
{
    int used = 0;
    frexp(rho, &used); /* rho < 2^used */
    const int empty = SWH_RHO_FIRST + SWH_RHO_OCTAVES - used;
    for (int k = 0; k < SWH_RHO_OCTAVES; k++) {
        const int from = k + empty;
        bits[k] = rho_bits[from < 0 ? 0 : from < SWH_RHO_OCTAVES ? from : SWH_RHO_OCTAVES - 1];
    }
}

/* Everything the rows need at one density; derivatives are d/drho. */
struct column {
    double rho, T_dome, dome, dome_x, hot, hot_x, cold, cold_x;
};

/* Internal energy from the dome to the hot end. The end is where the temperature or the pressure of the
 * tables' top is met, blended by a power mean so that it is smooth in rho. */
static double hot_range(const struct maker *m, double rho)
{
    struct swh_eos_point dome = {0}, p = {0};
    double slope;
    if (swh_eos_dome(m->e, rho, &dome, &slope))
        fail(m, "saturation at rho", rho);
    swh_eos_eval(m->e, hot_temperature, rho, &p);
    double by_T = p.u - dome.u, ideal = hot_pressure * m->e->M / (rho * m->e->R_molar);
    if (ideal > 1000.0) /* nothing in 1e4 is left of the other end, and heat capacities may be polynomials */
        return by_T;
    if (swh_eos_T_of_P_rho(m->e, hot_pressure, rho, dome.T, &p))
        fail(m, "hot end at rho", rho);
    return pow(pow(by_T, -6.0) + pow(p.u - dome.u, -6.0), -1.0 / 6.0);
}

static void make_column(const struct maker *m, double rho, struct column *c)
{
    struct swh_eos_point dome = {0};
    double dTdrho = 0.0, w[3], slope[3], h = 1e-5 * rho;
    if (swh_eos_dome(m->e, rho, &dome, &dTdrho))
        fail(m, "saturation at rho", rho);
    c->rho = rho;
    c->T_dome = dome.T;
    c->dome = dome.u;
    c->dome_x = dome.u_rho + dome.cv * dTdrho;
    double range = hot_range(m, rho);
    c->hot = SWH_HOT_CELLS / range;
    c->hot_x = -c->hot / range * (hot_range(m, rho + h) - hot_range(m, rho - h)) / (2.0 * h);
    T_node(m, m->f->T_min, w, slope);
    range = dome.u - (w[0] + w[1] / rho);
    c->cold = SWH_COLD_CELLS / range;
    c->cold_x = -c->cold / range * (c->dome_x + w[1] / (rho * rho));
}

/* P, T and s at `cell` cells above the dome, as functions of (rho, cell) */
static void energy_node(const struct maker *m, const struct column *c, double cell, struct node n[3])
{
    struct swh_eos_point p = {0};
    double b = 1.0 / c->hot, b_x = -c->hot_x / (c->hot * c->hot);
    double u = c->dome + cell * b, u_x = c->dome_x + cell * b_x;
    if (swh_eos_T_of_rho_u(m->e, c->rho, u, c->T_dome, &p))
        fail(m, "state of rho and u at rho", c->rho);
    double cv = p.cv, T = p.T, rho2 = p.rho * p.rho;
    /* first derivatives at constant rho (u) and constant u (r), then the second ones that are needed */
    double P_u = p.P_T / cv, P_r = p.P_rho - p.P_T * p.u_rho / cv;
    double P_uu = (p.P_TT - p.P_T * p.cv_T / cv) / (cv * cv);
    double P_ur =
        (p.P_Trho - p.P_TT * p.u_rho / cv - p.P_T * p.cv_rho / cv + p.P_T * p.u_rho * p.cv_T / (cv * cv)) /
        cv;
    double T_u = 1.0 / cv, T_r = -p.u_rho / cv, T_uu = -p.cv_T / (cv * cv * cv);
    double T_ur = (p.u_rho * p.cv_T / cv - p.cv_rho) / (cv * cv);
    double s_u = 1.0 / T, s_r = -p.P / (rho2 * T), s_uu = -T_u / (T * T), s_ur = -T_r / (T * T);
    n[0] = (struct node){p.P, P_r + P_u * u_x, P_u * b, b * (P_ur + P_uu * u_x) + P_u * b_x};
    n[1] = (struct node){T, T_r + T_u * u_x, T_u * b, b * (T_ur + T_uu * u_x) + T_u * b_x};
    n[2] = (struct node){p.s, s_r + s_u * u_x, s_u * b, b * (s_ur + s_uu * u_x) + s_u * b_x};
}

static struct swh_node one_node(const struct node *n)
{
    return (struct swh_node){{n->f, n->x, n->y, n->xy}};
}

static struct swh_node_pair pair_node(const struct node n[2])
{
    return (struct swh_node_pair){{{n[0].f, n[1].f}, {n[0].x, n[1].x}, {n[0].y, n[1].y}, {n[0].xy, n[1].xy}}};
}

/* Temperature in the two-phase region by Newton's method on w and k; also the derivatives of both there. */
static double two_phase_T(const struct maker *m, double v, double u, double *k, double *k_T, double *cv,
                          double *cv_T)
{
    double low = m->f->T_min, high = m->f->T_c, T = 0.5 * (low + high);
    for (int n = 0; n < 100; n++) {
        double x = (T - m->f->T_min) * m->T_inv, c[4];
        int i = x >= T_CELLS ? T_CELLS - 1 : (int)x;
        const struct T_row *row = &m->T_row[i];
        double t = x - i;
        for (int j = 0; j < 4; j++)
            c[j] = row->w[j] + v * row->k[j];
        *k = at(row->k, t);
        *k_T = (row->k[1] + t * (2.0 * row->k[2] + 3.0 * t * row->k[3])) * m->T_inv;
        *cv = (c[1] + t * (2.0 * c[2] + 3.0 * t * c[3])) * m->T_inv;
        *cv_T = (2.0 * c[2] + 6.0 * t * c[3]) * m->T_inv * m->T_inv;
        double miss = u - at(c, t);
        if (miss > 0.0)
            low = T;
        else
            high = T;
        double next = T + miss / *cv;
        if (fabs(next - T) < 1e-12 * T)
            break;
        T = next > low && next < high ? next : 0.5 * (low + high);
    }
    return T;
}

/* T at `cell` cells below the dome; d T = (du - k dv)/cv in equilibrium of two phases */
static struct swh_node cold_node(const struct maker *m, const struct column *c, double cell)
{
    double b = -1.0 / c->cold, b_x = c->cold_x / (c->cold * c->cold), v = 1.0 / c->rho, k, k_T, cv, cv_T;
    double u_x = c->dome_x + cell * b_x;
    double T = two_phase_T(m, v, c->dome + cell * b, &k, &k_T, &cv, &cv_T);
    double T_u = 1.0 / cv, T_r = k * v * v / cv;
    double T_uu = -cv_T * T_u * T_u * T_u, T_ur = -(cv_T * T_r - k_T * v * v) * T_u * T_u;
    return (struct swh_node){{T, T_r + T_u * u_x, T_u * b, b * (T_ur + T_uu * u_x) + T_u * b_x}};
}

static void make_rho_row(struct swh_rho_row *row, const struct column c[2])
{
    double width = c[1].rho - c[0].rho;
    row->x0 = c[0].rho;
    row->width = width;
    row->inv = 1.0 / width;
    cubic(c[0].dome, c[0].dome_x, c[1].dome, c[1].dome_x, width, row->dome);
    cubic(c[0].hot, c[0].hot_x, c[1].hot, c[1].hot_x, width, row->hot);
    cubic(c[0].cold, c[0].cold_x, c[1].cold, c[1].cold_x, width, row->cold);
}

static void make_rho_nodes(const struct maker *m, int i, const struct column *c)
{
    for (int j = 0; j <= SWH_HOT_CELLS; j++) {
        struct node n[3];
        energy_node(m, c, j, n);
        m->f->hot[i][j] = pair_node(n);
        m->f->hot_s[i][j] = one_node(&n[2]);
    }
    for (int j = 0; j <= SWH_COLD_CELLS; j++)
        m->f->cold_T[i][j] = cold_node(m, c, j);
}

static void make_rho_tables(const struct maker *m)
{
    struct swh_fluid *f = m->f;
    struct column c[2] = {{0}};
    struct swh_eos_sat s = {0};
    int bits[SWH_RHO_OCTAVES];
    f->rho_low = ldexp(1.0, SWH_RHO_FIRST);
    if (swh_eos_saturation_T(m->e, f->T_min + 1.0, &s))
        fail(m, "densest liquid at T", f->T_min + 1.0);
    if (!(s.f.rho < ldexp(1.0, SWH_RHO_FIRST + SWH_RHO_OCTAVES)))
        fail(m, "room for a liquid of density", s.f.rho);
    bits_up_to(s.f.rho, bits);
    octaves(f->rho_octave, SWH_RHO_FIRST, bits, SWH_RHO_OCTAVES);
    for (int i = 0; !failed(m); i++) {
        double edge = octave_edge(SWH_RHO_FIRST, bits, SWH_RHO_OCTAVES, i);
        if (edge > s.f.rho)
            break;
        if (i > SWH_RHO_ROWS) {
            fail(m, "room for density rows", i);
            break;
        }
        make_column(m, edge, &c[1]);
        make_rho_nodes(m, i, &c[1]);
        if (i > 0)
            make_rho_row(&f->rho_row[i - 1], c);
        c[0] = c[1];
        f->rho_rows = i;
        f->rho_high = edge;
    }
}

/* ---- (P, h) ---- */

/* Liquid, vapour or supercritical part of one pressure: enthalpy = origin + cell * step. */
struct ladder {
    double P, origin, origin_x, step, step_x; /* derivatives d/dP */
    int cells;
    double v_low, v_high;
    struct swh_eos_point start;
};

static double h_P_at_T(const struct swh_eos_point *p)
{
    return p->h_rho / p->P_rho;
}

/* the liquid at P and the lowest temperature of the tables */
static void cold_state(const struct maker *m, double P, struct swh_eos_point *p)
{
    double T = m->f->T_min;
    if (swh_eos_rho_of_T_P(m->e, T, P, m->rho_cold, 1.2 * m->rho_cold, p))
        fail(m, "liquid at P", P);
}

static void ladder_ends(struct ladder *l, int cells, const struct swh_eos_point *low, double low_P,
                        const struct swh_eos_point *high, double high_P)
{
    l->cells = cells;
    l->step = (high->h - low->h) / cells;
    l->step_x = (high_P - low_P) / cells;
    l->origin = low->h;
    l->origin_x = low_P;
    l->v_low = 0.98 / low->rho;
    l->v_high = 1.02 / high->rho;
}

/* rho, T and s at h = origin + cell step, as functions of (P, cell) */
static void enthalpy_node(const struct maker *m, struct ladder *l, double cell, struct node n[3])
{
    struct swh_eos_point p = {0};
    double b = l->step, b_x = l->step_x, h_x = l->origin_x + cell * b_x;
    if (swh_eos_on_isobar(m->e, l->P, 'h', l->origin + cell * b, l->v_low, l->v_high, &l->start, &p))
        fail(m, "state of P and h at P", l->P);
    l->start = p;
    double T = p.T, rho = p.rho, J = p.P_T * p.h_rho - p.P_rho * p.h_T;
    double h_TT = p.cv_T + p.P_TT / rho, h_Tr = p.cv_rho + p.P_Trho / rho - p.P_T / (rho * rho);
    double h_rr = (p.P_rhorho - T * p.P_Trho / rho + T * p.P_T / (rho * rho)) / rho - p.h_rho / rho;
    double J_T = p.P_TT * p.h_rho + p.P_T * h_Tr - p.P_Trho * p.h_T - p.P_rho * h_TT;
    double J_r = p.P_Trho * p.h_rho + p.P_T * h_rr - p.P_rhorho * p.h_T - p.P_rho * h_Tr;
    double T_h = -p.P_rho / J, r_h = p.P_T / J, T_P = p.h_rho / J, r_P = -p.h_T / J;
    /* derivatives of r_h and T_h in (T, rho), then along h and along P */
    double r_hT = (p.P_TT - r_h * J_T) / J, r_hr = (p.P_Trho - r_h * J_r) / J;
    double T_hT = (-p.P_Trho - T_h * J_T) / J, T_hr = (-p.P_rhorho - T_h * J_r) / J;
    double r_hh = T_h * r_hT + r_h * r_hr, r_hP = T_P * r_hT + r_P * r_hr;
    double T_hh = T_h * T_hT + r_h * T_hr, T_hP = T_P * T_hT + r_P * T_hr;
    double s_h = 1.0 / T, s_P = -1.0 / (rho * T), s_hh = -T_h / (T * T), s_hP = -T_P / (T * T);
    n[0] = (struct node){rho, r_P + r_h * h_x, r_h * b, b * (r_hP + r_hh * h_x) + r_h * b_x};
    n[1] = (struct node){T, T_P + T_h * h_x, T_h * b, b * (T_hP + T_hh * h_x) + T_h * b_x};
    n[2] = (struct node){p.s, s_P + s_h * h_x, s_h * b, b * (s_hP + s_hh * h_x) + s_h * b_x};
}

static void ladder_nodes(const struct maker *m, struct ladder *l, struct swh_node_three *out)
{
    for (int j = 0; j <= l->cells; j++) {
        struct node n[3];
        enthalpy_node(m, l, j, n);
        out[j] = (struct swh_node_three){one_node(&n[0]), one_node(&n[1]), one_node(&n[2])};
    }
}

/* What a row needs to know at one pressure; derivatives are d/dP. */
struct level {
    double P;
    double value[8], slope[8]; /* of the row's c */
    double edge[2], edge_x[2], cells[2], cells_x[2];
};

static void keep_ladder(const struct ladder *l, int phase, struct level *v)
{
    v->edge[phase] = l->origin;
    v->edge_x[phase] = l->origin_x;
    v->cells[phase] = 1.0 / l->step;
    v->cells_x[phase] = -l->step_x / (l->step * l->step);
}

static void hot_state(const struct maker *m, double P, struct swh_eos_point *p)
{
    if (swh_eos_rho_of_T_P(m->e, hot_temperature, P, 0.0, 1.1 * m->e->critical.rho, p))
        fail(m, "gas at P", P);
}

/* Where the nodes of one pressure go. */
struct shelf {
    int liquid_cells, vapour_cells;
    struct swh_node_three *liquid, *vapour;
};

static struct shelf shelf_at(struct swh_fluid *f, int zone, int i)
{
    if (zone == 0)
        return (struct shelf){SWH_LOW_LIQUID, SWH_LOW_VAPOUR, f->low_liquid[i], f->low_vapour[i]};
    return (struct shelf){SWH_HIGH_LIQUID, SWH_HIGH_VAPOUR, f->high_liquid[i], f->high_vapour[i]};
}

/* The vapour's ladder counts upwards from saturation, the liquid's downwards (its step is negative), so that
 * both have the saturation line as their edge 0. */
static void make_level(const struct maker *m, double P, const struct shelf *to, struct level *v)
{
    struct swh_eos_sat s = {0};
    struct swh_eos_point cold = {0}, hot = {0};
    struct along a;
    if (swh_eos_saturation_P(m->e, P, &s))
        fail(m, "saturation at P", P);
    fill_along(&s, &a);
    v->P = P;
    saturation_columns(m, &a, 1.0 / a.dPdT, v->value, v->slope);
    v->value[SWH_SAT_PT] = a.T;
    v->slope[SWH_SAT_PT] = 1.0 / a.dPdT;
    cold_state(m, P, &cold);
    hot_state(m, P, &hot);
    struct ladder l = {.P = P, .start = s.f}, g = {.P = P, .start = s.g};
    ladder_ends(&l, to->liquid_cells, &s.f, v->slope[SWH_SAT_H_F], &cold, h_P_at_T(&cold));
    l.v_low = 0.98 / cold.rho;
    l.v_high = 1.0 / s.f.rho;
    ladder_ends(&g, to->vapour_cells, &s.g, v->slope[SWH_SAT_H_G], &hot, h_P_at_T(&hot));
    g.v_low = 1.0 / s.g.rho;
    keep_ladder(&l, 0, v);
    keep_ladder(&g, 1, v);
    ladder_nodes(m, &l, to->liquid);
    ladder_nodes(m, &g, to->vapour);
}

static void make_over_level(const struct maker *m, double P, int i, struct level *v)
{
    struct swh_eos_point cold = {0}, hot = {0};
    v->P = P;
    cold_state(m, P, &cold);
    hot_state(m, P, &hot);
    struct ladder l = {.P = P, .start = cold};
    ladder_ends(&l, SWH_OVER_CELLS, &cold, h_P_at_T(&cold), &hot, h_P_at_T(&hot));
    keep_ladder(&l, 0, v);
    ladder_nodes(m, &l, m->f->over[i]);
}

/* the row between two levels, x0 and x1 in the zone's coordinate */
static void make_P_row(const struct level v[2], double x0, double x1, int over, struct swh_P_row *row)
{
    double value[2][8], slope[2][8];
    for (int k = 0; k < 2; k++) {
        memcpy(value[k], v[k].value, sizeof value[k]);
        memcpy(slope[k], v[k].slope, sizeof slope[k]);
    }
    row->x0 = x0;
    row->inv = 1.0 / (x1 - x0);
    row->width = v[1].P - v[0].P;
    row->inv_width = 1.0 / row->width;
    if (!over)
        cubic_columns((const double(*)[8])value, (const double(*)[8])slope, row->width, SWH_SAT_COUNT,
                      row->c);
    for (int j = 0; j < (over ? 1 : 2); j++) {
        cubic(v[0].edge[j], v[0].edge_x[j], v[1].edge[j], v[1].edge_x[j], row->width, row->edge[j]);
        cubic(v[0].cells[j], v[0].cells_x[j], v[1].cells[j], v[1].cells_x[j], row->width, row->cells[j]);
    }
}

struct zone_plan {
    int zone, octaves, room;
    int bits[SWH_P_OCTAVES];
};

static void make_zone(const struct maker *m, const struct zone_plan *z, struct swh_P_row *rows)
{
    struct swh_fluid *f = m->f;
    struct swh_zone *zone = &f->zone[z->zone];
    struct level v[2];
    memset(v, 0, sizeof v);
    int count = octaves(zone->octave, -z->octaves, z->bits, z->octaves);
    if (count != z->room)
        fail(m, "room for pressure rows", count);
    if (failed(m))
        return;
    zone->smallest = ldexp(1.0, -z->octaves);
    double last = 0.0;
    for (int i = 0; i <= count && !failed(m); i++) {
        double x = octave_edge(-z->octaves, z->bits, z->octaves, i), P = zone->origin + x / zone->scale;
        struct shelf to = shelf_at(f, z->zone, z->zone == 2 ? 0 : i);
        if (z->zone == 2)
            make_over_level(m, P, i, &v[1]);
        else
            make_level(m, P, &to, &v[1]);
        if (i > 0)
            make_P_row(v, last, x, z->zone == 2, &rows[i - 1]);
        v[0] = v[1];
        last = x;
    }
}

static void make_P_tables(const struct maker *m)
{
    struct swh_fluid *f = m->f;
    static const struct zone_plan plan[3] = {
        {0, 9, SWH_LOW_ROWS, {4, 4, 4, 4, 4, 4, 4, 4, 4}},
        {1, 17, SWH_HIGH_ROWS, {2, 2, 2, 2, 2, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 5}},
        {2, 17, SWH_OVER_ROWS, {2, 2, 2, 2, 2, 2, 2, 2, 2, 3, 3, 3, 3, 3, 3, 4, 4}},
    };
    f->P_split = split_pressure;
    f->P_high = top_pressure;
    f->zone[0] = (struct swh_zone){.origin = 0.0, .scale = 1.0 / split_pressure};
    f->zone[1] = (struct swh_zone){.origin = f->P_c, .scale = 1.0 / (split_pressure - f->P_c)};
    f->zone[2] = (struct swh_zone){.origin = f->P_c, .scale = 1.0 / (top_pressure - f->P_c)};
    make_zone(m, &plan[0], f->low_row);
    make_zone(m, &plan[1], f->high_row);
    make_zone(m, &plan[2], f->over_row);
    f->P_low = f->zone[0].smallest * split_pressure;
    f->P_top = f->P_c + f->zone[1].smallest / f->zone[1].scale;
}

/* ---- viscosity ---- */

static double mu_dilute(const struct maker *m, double T)
{
    struct swh_eos_point p;
    swh_eos_eval(m->e, T, 1e-6, &p);
    return swh_eos_viscosity(m->e, &p);
}

static void make_mu(const struct maker *m)
{
    struct swh_fluid *f = m->f;
    double width = (f->T_c - f->T_min) / SWH_MU_CELLS, hot = (hot_temperature - f->T_min) / SWH_MU_CELLS,
           h = 0.02;
    double v[2][2], d[2][2];
    f->mu_inv = 1.0 / width;
    f->mu_hot_inv = 1.0 / hot;
    for (int i = 0; i < SWH_MU_CELLS && !failed(m); i++) {
        double c[4], T0 = f->T_min + hot * i;
        for (int k = 0; k < 2; k++) {
            double low[2], high[2], T = f->T_min + width * (i + k);
            mu_saturated(m, T, v[k]);
            mu_saturated(m, T - h, low);
            mu_saturated(m, T + h, high);
            for (int j = 0; j < 2; j++)
                d[k][j] = (high[j] - low[j]) / (T + h > f->T_c - 0.01 ? h : 2.0 * h);
        }
        for (int j = 0; j < 2; j++) {
            cubic(v[0][j], d[0][j], v[1][j], d[1][j], width, c);
            for (int k = 0; k < 4; k++)
                f->mu_saturated[i][k][j] = c[k];
        }
        double a = mu_dilute(m, T0), b = mu_dilute(m, T0 + hot);
        cubic(a, (mu_dilute(m, T0 + h) - mu_dilute(m, T0 - h)) / (2.0 * h), b,
              (mu_dilute(m, T0 + hot + h) - mu_dilute(m, T0 + hot - h)) / (2.0 * h), hot, f->mu_dilute[i]);
    }
}

/* ---- liquid that expands ---- */

/* T (dP/dT)_rho / (rho^2 cp (dP/drho)_T) */
static double liquid_T_P(const struct maker *m, double T)
{
    struct swh_eos_sat s = {0};
    if (swh_eos_saturation_T(m->e, fmin(T, m->f->T_c - 3.9), &s))
        fail(m, "saturation for the cooling of liquid at T", T);
    return s.f.T * s.f.P_T / (s.f.rho * s.f.rho * s.f.cp * s.f.P_rho);
}

static void make_liquid_T_P(const struct maker *m)
{
    struct swh_fluid *f = m->f;
    const double width = 1.0 / f->mu_inv, h = 0.02;
    double v[2], d[2];
    for (int i = 0; i < SWH_MU_CELLS; i++) {
        for (int k = 0; k < 2; k++) {
            const double T = f->T_min + width * (i + k);
            v[k] = liquid_T_P(m, T);
            d[k] = (liquid_T_P(m, T + h) - liquid_T_P(m, T - h)) / (2.0 * h);
        }
        cubic(v[0], d[0], v[1], d[1], width, f->liquid_T_P[i]);
    }
}

/* ---- all ---- */

static void make_head(struct maker *m)
{
    struct swh_fluid *f = m->f;
    struct along cold, warm;
    f->version = SWH_TABLE_VERSION;
    f->eos = *m->e;
    f->T_c = m->e->critical.T;
    f->P_c = m->e->critical.P;
    f->rho_c = m->e->critical.rho;
    f->gas_constant = m->e->R_molar / m->e->M;
    along_P(m, cold_pressure, &cold);
    f->T_min = cold.T;
    m->rho_cold = 0.999 * cold.rho_f;
    along_T(m, f->T_c - 0.02, &warm);
    f->vapour_pressure_slope[0] = cold.T * cold.dPdT / cold.P;
    f->vapour_pressure_slope[1] = f->T_c * (warm.dPdT + 0.02 * warm.d2PdT2) / f->P_c;
    f->P_min = cold.P;
}

static void make_all(struct maker *m)
{
    struct swh_fluid *f = m->f;
    make_head(m);
    if (!failed(m))
        make_T_rows(m);
    f->cv_cold[0] = m->T_row[0].w[1] * m->T_inv;
    f->cv_cold[1] = m->T_row[0].k[1] * m->T_inv;
    void (*const part[])(const struct maker *) = {make_theta_rows, make_rho_tables, make_P_tables, make_mu,
                                                  make_liquid_T_P};
    for (size_t i = 0; i < sizeof part / sizeof part[0] && !failed(m); i++)
        part[i](m);
}

/* Is it a fluid of the kind that the tables are laid out for? */
static void check_range(const struct maker *m)
{
    const struct swh_eos *e = m->e;
    struct swh_eos_sat s = {0};
    if (!(e->critical.P > 2.0 * split_pressure && e->critical.P < 0.95 * top_pressure)) {
        swh_error_set(m->err, SWH_ERR_RANGE, "%s: a critical pressure of %.4g bar", e->name,
                      1e-5 * e->critical.P);
        swh_error_expected(m->err, "20 to 80 bar: what property tables are made for");
    } else if (swh_eos_saturation_T(e, e->T_triple, &s) || !(s.P < cold_pressure)) {
        swh_error_set(m->err, SWH_ERR_RANGE, "%s: a vapour pressure of %.4g Pa at the triple point", e->name,
                      s.P);
        swh_error_expected(m->err, "less than 500 Pa, where property tables begin");
    } else if (!(e->critical.T < hot_temperature - 50.0)) {
        swh_error_set(m->err, SWH_ERR_RANGE, "%s: a critical temperature of %.4g K", e->name, e->critical.T);
        swh_error_expected(m->err, "less than 475 K: property tables end at 525 K");
    }
}

size_t swh_fluid_size(void)
{
    return sizeof(struct swh_fluid);
}

enum swh_status swh_fluid_make(const struct swh_eos *e, struct swh_fluid *f, struct swh_error *err)
{
    struct swh_error first = {0};
    struct maker *m = calloc(1, sizeof *m);
    if (!m)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for property tables");
    *m = (struct maker){.e = e, .f = f, .err = &first};
    memset(f, 0, sizeof *f);
    check_range(m);
    if (!failed(m))
        make_all(m);
    free(m);
    if (first.status != SWH_OK && err)
        *err = first;
    return first.status;
}
