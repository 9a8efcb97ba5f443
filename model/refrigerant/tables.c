/* Look-ups in the property tables. What the right-hand side calls; no allocation, no state, no search.
 *
 * (rho, u). Heating at constant volume always leaves the two-phase region upwards, so one function
 * u_dome(rho) over liquid, critical and vapour densities parts the two kinds of state. Above it pressure and
 * temperature are bicubic in rho and in cells counted from the dome, which makes the saturation line a grid
 * line. Below it the equilibrium of both phases gives u = w(T) + k(T) v with k = T dP/dT - P and w = g - T
 * dg/dT (g the Gibbs energy), from which T follows by Newton's method; P and the phases' properties follow
 * from T.
 *
 * (P, h). Liquid and vapour are tables of their own counted in cells from the saturation line; near the
 * critical pressure the rows crowd like powers of two of Pc - P, since the saturated states go like its
 * square root. */
#include "model/refrigerant/tables.h"
#include "model/base/pair.h"
#include "model/refrigerant/refrigerant.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

_Static_assert(sizeof(struct swh_node) % 16 == 0 && sizeof(struct swh_node_pair) % 16 == 0 &&
                   sizeof(struct swh_node_three) % 16 == 0 && sizeof(struct swh_theta_row) % 16 == 0,
               "pairs of doubles stay aligned");
_Static_assert(offsetof(struct swh_theta_row, c) % 16 == 0 &&
                   offsetof(struct swh_fluid, theta_row) % 16 == 0 &&
                   offsetof(struct swh_fluid, hot_s) % 16 == 0 &&
                   offsetof(struct swh_fluid, cold_T) % 16 == 0,
               "pairs of doubles start aligned");

const struct swh_eos *swh_fluid_eos(const struct swh_fluid *f)
{
    return &f->eos;
}

static inline double cubic(const double *c, double t)
{
    return (c[0] + t * c[1]) + t * t * (c[2] + t * c[3]);
}

static inline double cubic_slope(const double *c, double t)
{
    return c[1] + t * (2.0 * c[2] + 3.0 * t * c[3]);
}

static inline double clamp(double x, double low, double high)
{
    return x > low ? (x < high ? x : high) : low; /* NaN becomes low */
}

/* number of the cell of x in an octave grid that starts at 2^first; x must lie inside */
static inline int octave_cell(const struct swh_octave *o, int first, double x)
{
    uint64_t bits;
    memcpy(&bits, &x, sizeof bits);
    const struct swh_octave *k = o + ((int)(bits >> 52) - (1023 + first));
    return (int)((bits >> k->shift) - k->offset);
}

static inline double column(const double (*c)[8], int j, double t)
{
    return (c[0][j] + t * c[1][j]) + t * t * (c[2][j] + t * c[3][j]);
}

static inline double column_slope(const double (*c)[8], int j, double t)
{
    return c[1][j] + t * (2.0 * c[2][j] + 3.0 * t * c[3][j]);
}

/* Hermite's four weights at t: of the values at 0 and 1, of the derivatives at 0 and 1 (per unit of width) */
struct weights {
    double v0, v1, s0, s1;
};

static inline struct weights weights(double t, double width)
{
    double back = 1.0 - t, v1 = t * t * (3.0 - 2.0 * t);
    return (struct weights){1.0 - v1, v1, width * t * back * back, -width * t * t * back};
}

/* the same of the derivative with respect to t */
static inline struct weights slope_weights(double t, double width)
{
    double v1 = 6.0 * t * (1.0 - t);
    return (struct weights){-v1, v1, width * (1.0 - t) * (1.0 - 3.0 * t), width * t * (3.0 * t - 2.0)};
}

/* Weights along x and y of one cell together, to the same bits: a pair holds that of x and that of y. */
struct weight_pairs {
    pair v0, v1, s0, s1;
};

static inline struct weight_pairs weight_pairs(double t_x, double t_y, double width_x)
{
    const pair t = {t_x, t_y}, width = {width_x, 1.0};
    const pair back = 1.0 - t, v1 = t * t * (3.0 - 2.0 * t);
    return (struct weight_pairs){1.0 - v1, v1, width * t * back * back, -width * t * t * back};
}

static inline struct weights weights_of(const struct weight_pairs *w, int k)
{
    return (struct weights){w->v0[k], w->v1[k], w->s0[k], w->s1[k]};
}

/* p is a multiple of 16 bytes: see the assertions above */
static inline pair load(const double *p)
{
    pair v;
    memcpy(&v, __builtin_assume_aligned(p, 16), sizeof v);
    return v;
}

/* columns j and j + 1 */
static inline pair two_columns(const double (*c)[8], int j, double t)
{
    return (load(&c[0][j]) + t * load(&c[1][j])) + t * t * (load(&c[2][j]) + t * load(&c[3][j]));
}

/* values (k = 0) or x-derivatives (k = 1) at one edge of a cell's column, between its nodes n[0] and n[1] */
static inline pair along_edge(const struct swh_node_pair *n, int k, struct weights y)
{
    return (y.v0 * load(n[0].v[k]) + y.v1 * load(n[1].v[k])) +
           (y.s0 * load(n[0].v[k + 2]) + y.s1 * load(n[1].v[k + 2]));
}

/* value and x-slope together at one edge of a cell's column, between its nodes */
static inline pair edge_of(const struct swh_node *n0, const struct swh_node *n1, struct weights y)
{
    return (y.v0 * load(n0->v) + y.v1 * load(n1->v)) + (y.s0 * load(n0->v + 2) + y.s1 * load(n1->v + 2));
}

/* the pairs at both edges of a cell: values of one and the other, x-derivatives of one and the other */
struct edges {
    pair v0, v1, s0, s1;
};

static inline struct edges edges_of(const struct swh_node_pair *a, const struct swh_node_pair *b,
                                    struct weights y)
{
    return (struct edges){along_edge(a, 0, y), along_edge(b, 0, y), along_edge(a, 1, y), along_edge(b, 1, y)};
}

static inline pair across_pairs(const struct edges *e, struct weights x)
{
    return (x.v0 * e->v0 + x.v1 * e->v1) + (x.s0 * e->s0 + x.s1 * e->s1);
}

/* from one edge of the cell to the other */
static inline double across(pair low, pair high, struct weights x)
{
    pair first = {x.v0, x.s0}, second = {x.v1, x.s1}, sum = first * low + second * high;
    return sum[0] + sum[1];
}

/* a and b: the lower nodes of the cell in its two columns */
static inline pair bicubic_pair(const struct swh_node_pair *a, const struct swh_node_pair *b,
                                struct weights x, struct weights y)
{
    const struct edges e = edges_of(a, b, y);
    return across_pairs(&e, x);
}

static inline double bicubic(const struct swh_node *a, const struct swh_node *b, struct weights x,
                             struct weights y)
{
    return across(edge_of(a, a + 1, y), edge_of(b, b + 1, y), x);
}

/* ---- saturation by temperature ---- */

static inline const struct swh_theta_row *theta_row(const struct swh_fluid *f, double T, double *t)
{
    double theta = clamp(f->T_c - T, 0x1p-13, f->T_c - f->T_min);
    const struct swh_theta_row *row = &f->theta_row[octave_cell(f->theta_octave, SWH_THETA_FIRST, theta)];
    *t = (theta - row->x0) * row->inv;
    return row;
}

/* Beyond both ends of the saturation line ln P goes on with the slope it has there, linear in ln T at the
 * cold end and in 1/T above the critical point: solubility correlations ask for it at such temperatures. */
static double beyond_Psat(const struct swh_fluid *f, double T)
{
    if (T > f->T_c)
        return f->P_c * exp(f->vapour_pressure_slope[1] * (1.0 - f->T_c / T));
    return f->P_min * pow(clamp(T / f->T_min, 0.05, 1.0), f->vapour_pressure_slope[0]);
}

static inline int on_saturation_line(const struct swh_fluid *f, double T)
{
    return T >= f->T_min && T < f->T_c;
}

int swh_Psat(const struct swh_fluid *f, double T, double *P)
{
    double t;
    if (!on_saturation_line(f, T)) {
        *P = beyond_Psat(f, T);
        return 1;
    }
    const struct swh_theta_row *row = theta_row(f, T, &t);
    *P = column(row->c, SWH_SAT_PT, t);
    return 0;
}

int swh_Psat_slope(const struct swh_fluid *f, double T, double *P, double *P_T)
{
    if (swh_Psat(f, T, P)) {
        const double *ln = f->vapour_pressure_slope;
        const double held = T > 0.05 * f->T_min ? *P * ln[0] / T : 0.0;
        *P_T = T >= f->T_c ? *P * ln[1] * f->T_c / (T * T) : held;
        return 1;
    }
    double t;
    const struct swh_theta_row *row = theta_row(f, T, &t);
    *P_T = -row->inv * column_slope(row->c, SWH_SAT_PT, t);
    return 0;
}

int swh_sat_T(const struct swh_fluid *f, double T, struct swh_saturation *out)
{
    double t, P;
    const struct swh_theta_row *row = theta_row(f, T, &t);
    int outside = swh_Psat(f, T, &P);
    *out = (struct swh_saturation){.T = clamp(T, 0.0, 1e4),
                                   .P = P,
                                   .rho_f = column(row->c, SWH_SAT_RHO_F, t),
                                   .rho_g = column(row->c, SWH_SAT_RHO_G, t),
                                   .h_f = column(row->c, SWH_SAT_H_F, t),
                                   .h_g = column(row->c, SWH_SAT_H_G, t),
                                   .s_f = column(row->c, SWH_SAT_S_F, t),
                                   .s_g = column(row->c, SWH_SAT_S_G, t)};
    return outside;
}

/* ---- rho, u ---- */

/* One column of cells and the place in it; `up` counts cells above the dome, `down` below. */
struct place {
    const struct swh_rho_row *row;
    int i;
    double t, d;
};

static inline struct place find_column(const struct swh_fluid *f, double rho, double u)
{
    struct place p;
    p.i = octave_cell(f->rho_octave, SWH_RHO_FIRST, rho);
    p.row = &f->rho_row[p.i];
    p.t = (rho - p.row->x0) * p.row->inv;
    p.d = u - cubic(p.row->dome, p.t);
    return p;
}

static inline void one_phase(const struct swh_fluid *f, double rho, double u, double v, pair PT,
                             struct swh_cell_props *out)
{
    out->P = PT[0];
    out->T = PT[1];
    out->h = u + PT[0] * v;
    out->x = rho > f->rho_c ? 0.0 : 1.0;
    out->h_f = out->h_g = out->h;
    out->rho_f = out->rho_g = rho;
    out->slip = 1.0;
}

static inline double cold_T(const struct swh_fluid *f, const struct place *p, double down)
{
    int j = (int)down;
    const struct weight_pairs w = weight_pairs(p->t, down - j, p->row->width);
    return bicubic(&f->cold_T[p->i][j], &f->cold_T[p->i + 1][j], weights_of(&w, 0), weights_of(&w, 1));
}

static inline void two_phases(const struct swh_fluid *f, double rho, double u, double v, double T,
                              struct swh_cell_props *out)
{
    double t;
    const struct swh_theta_row *row = theta_row(f, T, &t);
    pair rho_fg = two_columns(row->c, SWH_SAT_RHO_F, t), h_fg = two_columns(row->c, SWH_SAT_H_F, t);
    pair P_slip = two_columns(row->c, SWH_SAT_PT, t);
    double rho_f = rho_fg[0], rho_g = rho_fg[1];
    out->P = P_slip[0];
    out->T = T;
    out->h = u + out->P * v;
    out->x = clamp(rho_g * v * (rho_f - rho) / (rho_f - rho_g), 0.0, 1.0);
    out->h_f = h_fg[0];
    out->h_g = h_fg[1];
    out->rho_f = rho_f;
    out->rho_g = rho_g;
    out->slip = P_slip[1];
}

/* in cell j, `up` cells above the dome */
static inline pair inside_hot(const struct swh_fluid *f, const struct place *p, double up)
{
    const int j = (int)up;
    const struct weight_pairs w = weight_pairs(p->t, up - j, p->row->width);
    return bicubic_pair(&f->hot[p->i][j], &f->hot[p->i + 1][j], weights_of(&w, 0), weights_of(&w, 1));
}

static inline pair hot_PT(const struct swh_fluid *f, const struct place *p, int j, struct weights y)
{
    return bicubic_pair(&f->hot[p->i][j], &f->hot[p->i + 1][j], weights(p->t, p->row->width), y);
}

/* Above the hot end pressure and temperature go on with the slope they have there. */
static pair beyond_hot(const struct swh_fluid *f, const struct place *p, double up)
{
    double more = clamp(up - SWH_HOT_CELLS, 0.0, 1e6);
    int last = SWH_HOT_CELLS - 1;
    return hot_PT(f, p, last, weights(1.0, 1.0)) + more * hot_PT(f, p, last, slope_weights(1.0, 1.0));
}

/* Below the cold end T falls with the heat capacity there and the pressure as on the saturation line. */
static void beyond_cold(const struct swh_fluid *f, const struct place *p, double rho, double u, double v,
                        struct swh_cell_props *out)
{
    double cells = cubic(p->row->cold, p->t), cv = f->cv_cold[0] + v * f->cv_cold[1];
    double miss = p->d + SWH_COLD_CELLS / cells; /* negative, J/kg */
    two_phases(f, rho, u, v, f->T_min, out);
    out->T = f->T_min * exp(clamp(miss / (cv * f->T_min), -2.9, 0.0));
    out->P = beyond_Psat(f, out->T);
    out->h = u + out->P * v;
}

static inline int inside_density(const struct swh_fluid *f, double rho, double u, struct swh_cell_props *out)
{
    struct place p = find_column(f, rho, u);
    double v = 1.0 / rho;
    if (p.d > 0.0) {
        double up = p.d * cubic(p.row->hot, p.t);
        if (!(up < SWH_HOT_CELLS)) {
            one_phase(f, rho, u, v, beyond_hot(f, &p, up), out);
            return 1;
        }
        one_phase(f, rho, u, v, inside_hot(f, &p, up), out);
        return 0;
    }
    double down = -p.d * cubic(p.row->cold, p.t);
    if (!(down < SWH_COLD_CELLS)) {
        beyond_cold(f, &p, rho, u, v, out);
        return 1;
    }
    two_phases(f, rho, u, v, cold_T(f, &p, down), out);
    return 0;
}

/* Thinner than the tables: the ideal gas law from the thinnest row, where it holds within 0.1 %. It counts as
 * inside down to THINNEST, so that a volume may be pumped empty; what little of it is wet or colder than the
 * tables goes on as their edge does. Denser: the pressure rises as steeply as cold liquid resists compression
 * (700 m/s squared). */
static const double THINNEST = 1e-9; /* kg/m3; 20 uPa of vapour: nothing that a volume could hold */

static int density_out_of_range(const struct swh_fluid *f, double rho, double u, struct swh_cell_props *out)
{
    if (!(rho > f->rho_low)) {
        const int thin = rho > THINNEST;
        rho = thin ? rho : THINNEST;
        inside_density(f, f->rho_low, u, out);
        out->P *= rho / f->rho_low;
        out->h_f = out->h_g = out->h = u + out->P / rho;
        out->rho_f = out->rho_g = rho;
        out->x = 1.0;
        return !thin;
    }
    rho = rho < 1e5 ? rho : 1e5;
    double edge = f->rho_high * (1.0 - 1e-12);
    inside_density(f, edge, u, out);
    out->P += 4.9e5 * (rho - edge);
    out->h = out->h_f = out->h_g = u + out->P / rho;
    out->rho_f = out->rho_g = rho;
    out->x = 0.0;
    return 1;
}

int swh_rho_u(const struct swh_fluid *f, double rho, double u, struct swh_cell_props *out)
{
    if (!(rho >= f->rho_low && rho < f->rho_high))
        return density_out_of_range(f, rho, u, out);
    return inside_density(f, rho, u, out);
}

/* Several states at once: each pass takes all of them one stretch of the way, so that the processor waits for
 * many cells at a time instead of one after another. The operations on each state are those of
 * inside_density, and so are the bits. */
enum where { COLD, HOT, BEYOND }; /* below the dome, above it, beyond an edge of the tables */

struct batch {
    struct place place[SWH_RHO_U_MOST];
    double cells[SWH_RHO_U_MOST], v[SWH_RHO_U_MOST], T[SWH_RHO_U_MOST];
    unsigned char where[SWH_RHO_U_MOST];
};

static inline void find_cells(const struct swh_fluid *f, int n, const double *rho, const double *u,
                              struct batch *b)
{
    for (int k = 0; k < n; k++) {
        const int known = rho[k] >= f->rho_low && rho[k] < f->rho_high;
        const struct place p = find_column(f, known ? rho[k] : f->rho_low, u[k]);
        const int up = p.d > 0.0;
        const double cells = (up ? p.d : -p.d) * cubic(up ? p.row->hot : p.row->cold, p.t);
        const int inside = known & (cells < (up ? SWH_HOT_CELLS : SWH_COLD_CELLS));
        b->place[k] = p;
        b->cells[k] = cells;
        b->v[k] = 1.0 / rho[k];
        b->where[k] = (unsigned char)(inside ? up : BEYOND);
    }
}

uint64_t swh_rho_u_all(const struct swh_fluid *f, int n, const double *rho, const double *u,
                       struct swh_cell_props *const *out)
{
    struct batch b;
    uint64_t outside = 0;
    find_cells(f, n, rho, u, &b);
    for (int k = 0; k < n; k++)
        if (b.where[k] == HOT)
            one_phase(f, rho[k], u[k], b.v[k], inside_hot(f, &b.place[k], b.cells[k]), out[k]);
        else if (b.where[k] == COLD)
            b.T[k] = cold_T(f, &b.place[k], b.cells[k]);
    for (int k = 0; k < n; k++)
        if (b.where[k] == COLD)
            two_phases(f, rho[k], u[k], b.v[k], b.T[k], out[k]);
        else if (b.where[k] == BEYOND)
            outside |= (uint64_t)(swh_rho_u(f, rho[k], u[k], out[k]) != 0) << k;
    return outside;
}

/* ---- derivatives with rho, u ---- */

static inline void one_phase_derivatives(const struct swh_fluid *f, const struct place *p, double up,
                                         struct swh_cell_derivatives *out)
{
    const int j = (int)up;
    const struct swh_node_pair *a = &f->hot[p->i][j], *b = &f->hot[p->i + 1][j];
    const struct weights x = weights(p->t, p->row->width);
    const struct edges e = edges_of(a, b, weights(up - j, 1.0));
    const struct edges e_y = edges_of(a, b, slope_weights(up - j, 1.0));
    /* how the count of cells from the dome grows with u, and with t at the same u */
    const double up_u = cubic(p->row->hot, p->t);
    const double up_t = p->d * cubic_slope(p->row->hot, p->t) - up_u * cubic_slope(p->row->dome, p->t);
    const pair PT_y = across_pairs(&e_y, x), PT_u = PT_y * up_u;
    const pair PT_t = across_pairs(&e, slope_weights(p->t, p->row->width));
    const pair PT_rho = (PT_t + PT_y * up_t) * p->row->inv;
    *out = (struct swh_cell_derivatives){
        .P = across_pairs(&e, x)[0], .P_rho = PT_rho[0], .P_u = PT_u[0], .T_rho = PT_rho[1], .T_u = PT_u[1]};
}

/* derivatives of columns j and j + 1 */
static inline pair two_column_derivatives(const double (*c)[8], int j, double t)
{
    return load(&c[1][j]) + t * (2.0 * load(&c[2][j]) + 3.0 * t * load(&c[3][j]));
}

/* Both phases in equilibrium: u = h_f + x (h_g - h_f) - P/rho, with the quality x that the density asks for,
 * is a function of temperature and density whose derivatives are those of the saturation line. */
static inline void two_phase_derivatives(const struct swh_fluid *f, double rho,
                                         const struct swh_cell_props *c, struct swh_cell_derivatives *out)
{
    double t;
    const struct swh_theta_row *row = theta_row(f, c->T, &t);
    const double v = 1.0 / rho, apart = 1.0 / (c->rho_f - c->rho_g), h_fg = c->h_g - c->h_f;
    const pair rho_T = two_column_derivatives(row->c, SWH_SAT_RHO_F, t) * -row->inv;
    const pair h_T = two_column_derivatives(row->c, SWH_SAT_H_F, t) * -row->inv;
    const double P_T = -row->inv * column_slope(row->c, SWH_SAT_PT, t);
    /* at the same density, at the same temperature */
    const double x_T =
        apart * (v * (rho_T[1] * (c->rho_f - rho) + c->rho_g * rho_T[0]) - c->x * (rho_T[0] - rho_T[1]));
    const double x_rho = -apart * c->rho_f * c->rho_g * v * v;
    const double T_u = 1.0 / (h_T[0] + x_T * h_fg + c->x * (h_T[1] - h_T[0]) - P_T * v);
    const double T_rho = -T_u * (x_rho * h_fg + c->P * v * v);
    const double free = c->x > 0.0 && c->x < 1.0 ? 1.0 : 0.0; /* else the quality is held */
    *out = (struct swh_cell_derivatives){.P = c->P,
                                         .P_rho = P_T * T_rho,
                                         .P_u = P_T * T_u,
                                         .T_rho = T_rho,
                                         .T_u = T_u,
                                         .x_rho = free * (x_rho + x_T * T_rho),
                                         .x_u = free * x_T * T_u,
                                         .h_f_T = h_T[0],
                                         .h_g_T = h_T[1],
                                         .rho_f_T = rho_T[0],
                                         .rho_g_T = rho_T[1],
                                         .slip_T = -row->inv * column_slope(row->c, SWH_SAT_SLIP, t)};
}

/* Beyond an edge of the tables, where next to no state ever is: by differences. */
static void derivatives_outside(const struct swh_fluid *f, double rho, double u,
                                struct swh_cell_derivatives *out)
{
    const double more_rho = rho * (1.0 + 1e-6), more_u = u + 0.1;
    const double inv_rho = 1.0 / (more_rho - rho), per_u = 1.0 / (more_u - u);
    struct swh_cell_props c, by_rho, by_u;
    swh_rho_u(f, rho, u, &c);
    swh_rho_u(f, more_rho, u, &by_rho);
    swh_rho_u(f, rho, more_u, &by_u);
    *out = (struct swh_cell_derivatives){.P = c.P,
                                         .P_rho = (by_rho.P - c.P) * inv_rho,
                                         .P_u = (by_u.P - c.P) * per_u,
                                         .T_rho = (by_rho.T - c.T) * inv_rho,
                                         .T_u = (by_u.T - c.T) * per_u,
                                         .x_rho = (by_rho.x - c.x) * inv_rho,
                                         .x_u = (by_u.x - c.x) * per_u};
}

/* thin gas: the pressure of the thinnest row in proportion to the density, its temperature */
static void thin_derivatives(const struct swh_fluid *f, double rho, const struct place *p, double up,
                             struct swh_cell_derivatives *out)
{
    one_phase_derivatives(f, p, up, out);
    const double part = rho / f->rho_low, P_edge = out->P;
    out->P = P_edge * part;
    out->P_rho = P_edge / f->rho_low;
    out->P_u *= part;
    out->T_rho = 0.0;
}

/* a state that is not inside the dome */
static inline void derivatives_above(const struct swh_fluid *f, double rho, double u,
                                     struct swh_cell_derivatives *out)
{
    if (rho > THINNEST && rho < f->rho_high) {
        const int thin = rho < f->rho_low;
        const struct place p = find_column(f, thin ? f->rho_low : rho, u);
        const double up = p.d * cubic(p.row->hot, p.t);
        if (up > 0.0 && up < SWH_HOT_CELLS) {
            if (thin)
                thin_derivatives(f, rho, &p, up, out);
            else
                one_phase_derivatives(f, &p, up, out);
            return;
        }
    }
    derivatives_outside(f, rho, u, out);
}

void swh_rho_u_derivatives(const struct swh_fluid *f, int n, const double *rho, const double *u,
                           const struct swh_cell_props *c, struct swh_cell_derivatives *out)
{
    for (int k = 0; k < n; k++)
        if (c[k].h_f < c[k].h_g && c[k].T >= f->T_min)
            two_phase_derivatives(f, rho[k], &c[k], &out[k]);
        else
            derivatives_above(f, rho[k], u[k], &out[k]);
}

/* s in the two-phase region and at the cold end */
static double wet_entropy(const struct swh_fluid *f, double rho, double u)
{
    struct swh_cell_props c;
    struct swh_saturation s;
    inside_density(f, rho, u, &c);
    swh_sat_T(f, c.T, &s);
    return s.s_f + c.x * (s.s_g - s.s_f);
}

int swh_rho_u_entropy(const struct swh_fluid *f, double rho, double u, double *s)
{
    double inside = clamp(rho, f->rho_low, f->rho_high * (1.0 - 1e-12));
    struct place p = find_column(f, inside, u);
    double up = p.d * cubic(p.row->hot, p.t);
    int outside = !(rho > THINNEST && rho < f->rho_high);
    if (!(p.d > 0.0)) {
        *s = wet_entropy(f, inside, u);
        outside |= rho >= f->rho_low && !(-p.d * cubic(p.row->cold, p.t) < SWH_COLD_CELLS);
    } else {
        outside |= !(up < SWH_HOT_CELLS);
        up = clamp(up, 0.0, SWH_HOT_CELLS + 0.5);
        int j = up < SWH_HOT_CELLS ? (int)up : SWH_HOT_CELLS - 1;
        *s = bicubic(&f->hot_s[p.i][j], &f->hot_s[p.i + 1][j], weights(p.t, p.row->width),
                     weights(up - j, 1.0));
    }
    if (rho > 0.0 && rho < f->rho_low)
        *s += f->gas_constant * log(f->rho_low / rho); /* ideal gas at the same temperature */
    return outside;
}

/* ---- P, h ---- */

/* the row of a pressure: t in it, and dt/dP */
struct level {
    const struct swh_P_row *row;
    int zone, i, outside;
    double t;
};

static inline struct level find_level(const struct swh_fluid *f, double P)
{
    static const int first[3] = {-9, -17,
                                 -17}; /* the coordinate of the smallest pressure or distance is 2^first */
    const struct swh_P_row *rows[3] = {f->low_row, f->high_row, f->over_row};
    struct level l = {.outside = !(P >= f->P_low && P < f->P_high)};
    l.zone = P >= f->P_split ? (P < f->P_top ? 1 : 2) : 0;
    const struct swh_zone *z = &f->zone[l.zone];
    double x = clamp((P - z->origin) * z->scale, z->smallest, 1.0 - 0x1p-53);
    l.i = octave_cell(z->octave, first[l.zone], x);
    l.row = rows[l.zone] + l.i;
    l.t = (x - l.row->x0) * l.row->inv;
    return l;
}

/* One phase of a level: the columns of nodes at its two pressures, counted in cells from an edge enthalpy. */
struct ladder {
    const struct level *l;
    const struct swh_node_three *a, *b;
    int count, phase;
};

static inline struct ladder liquid_ladder(const struct swh_fluid *f, const struct level *l)
{
    int i = l->i;
    if (l->zone == 0)
        return (struct ladder){l, f->low_liquid[i], f->low_liquid[i + 1], SWH_LOW_LIQUID, 0};
    return (struct ladder){l, f->high_liquid[i], f->high_liquid[i + 1], SWH_HIGH_LIQUID, 0};
}

static inline struct ladder vapour_ladder(const struct swh_fluid *f, const struct level *l)
{
    int i = l->i;
    if (l->zone == 0)
        return (struct ladder){l, f->low_vapour[i], f->low_vapour[i + 1], SWH_LOW_VAPOUR, 1};
    return (struct ladder){l, f->high_vapour[i], f->high_vapour[i + 1], SWH_HIGH_VAPOUR, 1};
}

/* supercritical pressure: one sheet from cold liquid to hot gas */
static inline struct ladder over_ladder(const struct swh_fluid *f, const struct level *l)
{
    return (struct ladder){l, f->over[l->i], f->over[l->i + 1], SWH_OVER_CELLS, 0};
}

/* y in 0..count + 1/2: half a cell beyond the end the last cell's polynomial is used, then held */
static inline double ladder_clamp(const struct ladder *d, double y, int *outside)
{
    if (y >= 0.0 && y < d->count)
        return y;
    *outside = 1;
    return clamp(y, 0.0, d->count + 0.5);
}

static inline int cell_of(const struct ladder *d, double y)
{
    return y < d->count ? (int)y : d->count - 1;
}

static inline void phase_P_h(const struct ladder *d, double h, struct swh_ph_props *out, int *outside)
{
    const struct swh_P_row *row = d->l->row;
    const double *edge = row->edge[d->phase], *count = row->cells[d->phase];
    double t = d->l->t, cells = cubic(count, t), above = h - cubic(edge, t);
    double y_t = above * cubic_slope(count, t) - cubic_slope(edge, t) * cells;
    double y = ladder_clamp(d, above * cells, outside);
    int j = cell_of(d, y);
    const struct swh_node_three *a = d->a + j, *b = d->b + j;
    struct weights x = weights(t, row->width), x_t = slope_weights(t, row->width);
    struct weights w = weights(y - j, 1.0), w_y = slope_weights(y - j, 1.0);
    pair low = edge_of(&a[0].rho, &a[1].rho, w), high = edge_of(&b[0].rho, &b[1].rho, w);
    double rho_t = across(low, high, x_t);
    double rho_y = across(edge_of(&a[0].rho, &a[1].rho, w_y), edge_of(&b[0].rho, &b[1].rho, w_y), x);
    out->rho = across(low, high, x);
    out->T = across(edge_of(&a[0].T, &a[1].T, w), edge_of(&b[0].T, &b[1].T, w), x);
    out->s = across(edge_of(&a[0].s, &a[1].s, w), edge_of(&b[0].s, &b[1].s, w), x);
    out->rho_h = rho_y * cells;
    out->rho_P = (rho_t + rho_y * y_t) * row->inv_width;
}

/* v, h and s are linear in the quality x; x is what h says. */
static inline void wet_P_h(const struct level *l, double h, struct swh_ph_props *out)
{
    const double(*c)[8] = l->row->c;
    double t = l->t, h_f = column(c, SWH_SAT_H_F, t), dh = column(c, SWH_SAT_H_G, t) - h_f;
    double v_f = 1.0 / column(c, SWH_SAT_RHO_F, t), v_g = 1.0 / column(c, SWH_SAT_RHO_G, t);
    double h_f_t = column_slope(c, SWH_SAT_H_F, t), dh_t = column_slope(c, SWH_SAT_H_G, t) - h_f_t;
    double v_f_t = -v_f * v_f * column_slope(c, SWH_SAT_RHO_F, t);
    double v_g_t = -v_g * v_g * column_slope(c, SWH_SAT_RHO_G, t);
    double s_f = column(c, SWH_SAT_S_F, t), s_g = column(c, SWH_SAT_S_G, t);
    double x = (h - h_f) / dh, x_t = -(h_f_t + x * dh_t) / dh;
    double v = v_f + x * (v_g - v_f), v_t = v_f_t + x * (v_g_t - v_f_t) + x_t * (v_g - v_f);
    out->T = column(c, SWH_SAT_PT, t);
    out->x = x;
    out->rho = 1.0 / v;
    out->s = s_f + x * (s_g - s_f);
    out->rho_h = -(v_g - v_f) / (dh * v * v);
    out->rho_P = -v_t * l->row->inv_width / (v * v);
}

int swh_P_h(const struct swh_fluid *f, double P, double h, struct swh_ph_props *out)
{
    struct level l = find_level(f, P);
    int outside = l.outside | (h != h);
    if (l.zone == 2) {
        struct ladder d = over_ladder(f, &l);
        phase_P_h(&d, h, out, &outside);
        out->x = out->rho > f->rho_c ? 0.0 : 1.0;
        return outside;
    }
    double h_f = column(l.row->c, SWH_SAT_H_F, l.t), h_g = column(l.row->c, SWH_SAT_H_G, l.t);
    if (h > h_g) {
        struct ladder d = vapour_ladder(f, &l);
        phase_P_h(&d, h, out, &outside);
        out->x = 1.0;
    } else if (h >= h_f) {
        wet_P_h(&l, h, out);
    } else {
        struct ladder d = liquid_ladder(f, &l);
        phase_P_h(&d, h == h ? h : h_f, out, &outside);
        out->x = 0.0;
    }
    return outside;
}

/* ---- saturation by pressure ---- */

int swh_sat_P(const struct swh_fluid *f, double P, struct swh_saturation *out)
{
    struct level l = find_level(f, P < f->P_top ? P : f->P_top * (1.0 - 1e-15));
    const double(*c)[8] = l.row->c;
    *out = (struct swh_saturation){.T = column(c, SWH_SAT_PT, l.t),
                                   .P = clamp(P, f->P_low, f->P_c),
                                   .rho_f = column(c, SWH_SAT_RHO_F, l.t),
                                   .rho_g = column(c, SWH_SAT_RHO_G, l.t),
                                   .h_f = column(c, SWH_SAT_H_F, l.t),
                                   .h_g = column(c, SWH_SAT_H_G, l.t),
                                   .s_f = column(c, SWH_SAT_S_F, l.t),
                                   .s_g = column(c, SWH_SAT_S_G, l.t)};
    return !(P >= f->P_low && P < f->P_c);
}

/* Inverse of the continuation of swh_Psat. */
static double beyond_Tsat(const struct swh_fluid *f, double P, double T_low)
{
    if (!(P > f->P_low))
        return T_low * pow(clamp(P, 1e-9, f->P_low) / f->P_low, 1.0 / f->vapour_pressure_slope[0]);
    double ln = log(clamp(P, f->P_c, 1e9) / f->P_c);
    return f->T_c / fmax(1.0 - ln / f->vapour_pressure_slope[1], 0.2);
}

int swh_Tsat(const struct swh_fluid *f, double P, double *T)
{
    struct level l = find_level(f, P < f->P_top ? P : f->P_top * (1.0 - 1e-15));
    *T = column(l.row->c, SWH_SAT_PT, l.t);
    if (P >= f->P_low && P < f->P_c)
        return 0;
    *T = beyond_Tsat(f, P, *T);
    return 1;
}

int swh_Tsat_slope(const struct swh_fluid *f, double P, double *T, double *T_P)
{
    if (swh_Tsat(f, P, T)) {
        const double *ln = f->vapour_pressure_slope;
        *T_P = P > f->P_low ? *T * *T / (f->T_c * ln[1] * P) : *T / (ln[0] * P);
        return 1;
    }
    const struct level l = find_level(f, P < f->P_top ? P : f->P_top * (1.0 - 1e-15));
    *T_P = l.row->inv_width * column_slope(l.row->c, SWH_SAT_PT, l.t);
    return 0;
}

/* ---- P with T or s: the (P, h) tables read the other way round, so that both agree to rounding ---- */

/* value and slope in y of T (by_s = 0) or s (by_s = 1) at edge j of a ladder */
static inline void edge_value(const struct ladder *d, int by_s, int j, struct weights x, double *value,
                              double *slope)
{
    const double *v = by_s ? d->a[j].s.v : d->a[j].T.v, *w = by_s ? d->b[j].s.v : d->b[j].T.v;
    *value = (x.v0 * v[0] + x.v1 * w[0]) + (x.s0 * v[1] + x.s1 * w[1]);
    *slope = (x.v0 * v[2] + x.v1 * w[2]) + (x.s0 * v[3] + x.s1 * w[3]);
}

/* T or s, and the slope, at both edges of a cell of a ladder */
struct rungs {
    double v[2], s[2];
};

static inline struct rungs rungs_of(const struct ladder *d, int by_s, int cell, struct weights x)
{
    struct rungs e;
    for (int k = 0; k < 2; k++)
        edge_value(d, by_s, cell + k, x, &e.v[k], &e.s[k]);
    return e;
}

/* The cell where T or s is `want`, its edges filled in. Both bend little, so the first cell leads to the
 * neighbourhood; the way on from there is a step or two, and many only near the critical point. */
static int ladder_cell(const struct ladder *d, int by_s, double want, struct weights x, struct rungs *e)
{
    const int last = d->count - 1;
    const double rising = d->l->row->cells[d->phase][0]; /* both fall where y counts downwards */
    *e = rungs_of(d, by_s, 0, x);
    int cell = (int)clamp((want - e->v[0]) / e->s[0], 0.0, last);
    *e = rungs_of(d, by_s, cell, x);
    while (cell > 0 && rising * (want - e->v[0]) < 0.0)
        *e = rungs_of(d, by_s, --cell, x);
    while (cell < last && rising * (want - e->v[1]) >= 0.0)
        *e = rungs_of(d, by_s, ++cell, x);
    return cell;
}

/* Newton in the cell: its error squares with each step, so that after one of 1e-8 it is below rounding */
static double ladder_find(const struct ladder *d, int by_s, double want)
{
    struct rungs k;
    const int cell = ladder_cell(d, by_s, want, weights(d->l->t, d->l->row->width), &k);
    const double rise = k.v[1] - k.v[0];
    const double c[4] = {k.v[0], k.s[0], 3.0 * rise - 2.0 * k.s[0] - k.s[1], k.s[0] + k.s[1] - 2.0 * rise};
    double e = clamp((want - k.v[0]) / rise, -0.5, 1.5), step = 1.0;
    for (int i = 0; i < 5 && fabs(step) > 1e-8; i++) {
        const double before = e;
        e = clamp(e + (want - cubic(c, e)) / cubic_slope(c, e), -0.5, 1.5);
        step = e - before;
    }
    return cell + e;
}

static void ladder_state(const struct ladder *d, int by_s, double want, double *h, double *rho, int *outside)
{
    const struct swh_P_row *row = d->l->row;
    double t = d->l->t, y = ladder_clamp(d, ladder_find(d, by_s, want), outside);
    int j = cell_of(d, y);
    const struct swh_node_three *a = d->a + j, *b = d->b + j;
    struct weights w = weights(y - j, 1.0);
    *h = cubic(row->edge[d->phase], t) + y / cubic(row->cells[d->phase], t);
    *rho = across(edge_of(&a[0].rho, &a[1].rho, w), edge_of(&b[0].rho, &b[1].rho, w), weights(t, row->width));
}

int swh_P_s(const struct swh_fluid *f, double P, double s, double *h, double *rho)
{
    struct level l = find_level(f, P);
    const double(*c)[8] = l.row->c;
    int outside = l.outside | (s != s);
    double s_f = column(c, SWH_SAT_S_F, l.t), s_g = column(c, SWH_SAT_S_G, l.t);
    if (l.zone == 2 || s > s_g || !(s >= s_f)) {
        struct ladder d = l.zone == 2 ? over_ladder(f, &l)
                          : s > s_g   ? vapour_ladder(f, &l)
                                      : liquid_ladder(f, &l);
        ladder_state(&d, 1, s == s ? s : 1000.0, h, rho, &outside);
        return outside;
    }
    double h_f = column(c, SWH_SAT_H_F, l.t), h_g = column(c, SWH_SAT_H_G, l.t), x = (s - s_f) / (s_g - s_f);
    double v_f = 1.0 / column(c, SWH_SAT_RHO_F, l.t), v_g = 1.0 / column(c, SWH_SAT_RHO_G, l.t);
    *h = h_f + x * (h_g - h_f);
    *rho = 1.0 / (v_f + x * (v_g - v_f));
    return outside;
}

/* sign 1: vapour, T not below saturation; sign -1: liquid, T not above it */
static int single_P_T(const struct swh_fluid *f, double P, double T, double sign, double *h, double *rho)
{
    struct level l = find_level(f, P);
    int outside = l.outside | (T != T), vapour = sign > 0.0;
    if (l.zone == 2) {
        struct ladder d = over_ladder(f, &l);
        ladder_state(&d, 0, T == T ? T : f->T_c, h, rho, &outside);
        return outside;
    }
    if (sign * (T - column(l.row->c, SWH_SAT_PT, l.t)) > 0.0) {
        struct ladder d = vapour ? vapour_ladder(f, &l) : liquid_ladder(f, &l);
        ladder_state(&d, 0, T, h, rho, &outside);
        return outside;
    }
    *h = column(l.row->c, vapour ? SWH_SAT_H_G : SWH_SAT_H_F, l.t);
    *rho = column(l.row->c, vapour ? SWH_SAT_RHO_G : SWH_SAT_RHO_F, l.t);
    return outside;
}

int swh_P_T_vapour(const struct swh_fluid *f, double P, double T, double *h, double *rho)
{
    return single_P_T(f, P, T, 1.0, h, rho);
}

int swh_P_T_liquid(const struct swh_fluid *f, double P, double T, double *h, double *rho)
{
    return single_P_T(f, P, T, -1.0, h, rho);
}

/* ---- viscosity ---- */

static double saturated_mu(const struct swh_fluid *f, double T, int phase)
{
    double x = clamp((T - f->T_min) * f->mu_inv, 0.0, SWH_MU_CELLS);
    int i = x < SWH_MU_CELLS ? (int)x : SWH_MU_CELLS - 1;
    double t = x - i;
    const double(*c)[2] = f->mu_saturated[i];
    return c[0][phase] + t * (c[1][phase] + t * (c[2][phase] + t * c[3][phase]));
}

double swh_mu_liquid(const struct swh_fluid *f, double T)
{
    return saturated_mu(f, T, 0);
}

double swh_mu_vapour(const struct swh_fluid *f, double T)
{
    return saturated_mu(f, T, 1);
}

double swh_liquid_T_P(const struct swh_fluid *f, double T, double *slope)
{
    const double x = (T - f->T_min) * f->mu_inv;
    const int i = x < SWH_MU_CELLS ? (x > 0 ? (int)x : 0) : SWH_MU_CELLS - 1;
    const double t = clamp(x - i, 0.0, 1.0), *c = f->liquid_T_P[i];
    *slope = x < 0 || x > SWH_MU_CELLS ? 0 : f->mu_inv * (c[1] + t * (2 * c[2] + t * 3 * c[3]));
    return cubic(c, t);
}

double swh_mu_gas(const struct swh_fluid *f, double T)
{
    double x = clamp((T - f->T_min) * f->mu_hot_inv, 0.0, SWH_MU_CELLS);
    int i = x < SWH_MU_CELLS ? (int)x : SWH_MU_CELLS - 1;
    return cubic(f->mu_dilute[i], x - i);
}
