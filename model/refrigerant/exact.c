/* Exact states: any two properties to all the others, from the published equation of state.
 *
 * Every pair is brought to one unknown in which the other property rises or falls steadily, and solved
 * between bounds, so that no start value has to be good: along an isobar the specific volume, along an
 * isotherm the density, at given density the temperature, at given entropy and enthalpy the pressure. */
#include "model/refrigerant/eos.h"

#include <math.h>
#include <stddef.h>

/* Above the published upper limits (455 K, 410 K, 525 K) the equations are extrapolated: discharge gas gets
 * that hot, and they go to the ideal gas there. */
static const double hottest = 525.0, strongest = 20e6;

struct task {
    const struct swh_eos *e;
    struct swh_state *out;
    struct swh_error *err;
};

static enum swh_status refuse(const struct task *t, const char *what, double value, const char *unit,
                              const char *why)
{
    return swh_error_set(t->err, SWH_ERR_RANGE, "%s: %s %.6g %s %s", t->e->name, what, value, unit, why);
}

/* ---- filling the result ---- */

static enum swh_status one_phase(const struct task *t, const struct swh_eos_point *p)
{
    if (!(p->T <= hottest * (1.0 + 1e-9)))
        return refuse(t, "temperature", p->T, "K", "is hotter than the 525 K the equation is used for");
    if (!(p->T >= t->e->T_triple * (1.0 - 1e-9)))
        return refuse(t, "temperature", p->T, "K", "is below the triple point");
    if (!(p->P <= strongest * (1.0 + 1e-9)))
        return refuse(t, "pressure", p->P, "Pa", "is above the 200 bar the equation is used for");
    int liquid = p->T < t->e->critical.T && p->rho > t->e->critical.rho;
    *t->out = (struct swh_state){.P = p->P,
                                 .T = p->T,
                                 .rho = p->rho,
                                 .h = p->h,
                                 .s = p->s,
                                 .u = p->u,
                                 .x = liquid ? -1.0 : 2.0,
                                 .cp = p->cp,
                                 .cv = p->cv,
                                 .w = p->w,
                                 .mu = swh_eos_viscosity(t->e, p)};
    return SWH_OK;
}

/* Homogeneous mixture; its viscosity after McAdams, Woods and Heroman, Trans. ASME 64 (1942) 193: fluidities
 * weighted with the quality. */
static enum swh_status two_phases(const struct task *t, const struct swh_eos_sat *s, double x)
{
    double v = (1.0 - x) / s->f.rho + x / s->g.rho;
    double mu_f = swh_eos_viscosity(t->e, &s->f), mu_g = swh_eos_viscosity(t->e, &s->g);
    *t->out = (struct swh_state){.P = s->P,
                                 .T = s->T,
                                 .rho = 1.0 / v,
                                 .h = s->f.h + x * (s->g.h - s->f.h),
                                 .s = s->f.s + x * (s->g.s - s->f.s),
                                 .u = s->f.u + x * (s->g.u - s->f.u),
                                 .x = x,
                                 .cp = NAN,
                                 .cv = NAN,
                                 .w = NAN,
                                 .mu = 1.0 / ((1.0 - x) / mu_f + x / mu_g)};
    return SWH_OK;
}

/* ---- saturation ---- */

static enum swh_status at_T(const struct task *t, double T, struct swh_eos_sat *s)
{
    if (!(T >= t->e->T_triple))
        return refuse(t, "temperature", T, "K", "is below the triple point");
    if (!(T < t->e->critical.T))
        return refuse(t, "temperature", T, "K", "is not below the critical temperature: no saturated state");
    if (swh_eos_saturation_T(t->e, T, s))
        return refuse(t, "temperature", T, "K", "is too close to the critical point");
    return SWH_OK;
}

static enum swh_status at_P(const struct task *t, double P, struct swh_eos_sat *s)
{
    if (!(P > 0.0))
        return refuse(t, "pressure", P, "Pa", "is not positive (absolute pressure is meant)");
    if (!(P < t->e->critical.P))
        return refuse(t, "pressure", P, "Pa", "is not below the critical pressure: no saturated state");
    if (swh_eos_saturation_P(t->e, P, s))
        return refuse(t, "pressure", P, "Pa", "has no saturated state (below the triple point?)");
    return SWH_OK;
}

static void fill_saturation(const struct swh_eos_sat *s, struct swh_saturation *out)
{
    *out = (struct swh_saturation){.T = s->T,
                                   .P = s->P,
                                   .rho_f = s->f.rho,
                                   .rho_g = s->g.rho,
                                   .h_f = s->f.h,
                                   .h_g = s->g.h,
                                   .s_f = s->f.s,
                                   .s_g = s->g.s};
}

enum swh_status swh_saturation_T(const struct swh_eos *e, double T, struct swh_saturation *out,
                                 struct swh_error *err)
{
    struct task t = {.e = e, .err = err};
    struct swh_eos_sat s;
    enum swh_status status = at_T(&t, T, &s);
    if (status == SWH_OK)
        fill_saturation(&s, out);
    return status;
}

enum swh_status swh_saturation_P(const struct swh_eos *e, double P, struct swh_saturation *out,
                                 struct swh_error *err)
{
    struct task t = {.e = e, .err = err};
    struct swh_eos_sat s;
    enum swh_status status = at_P(&t, P, &s);
    if (status == SWH_OK)
        fill_saturation(&s, out);
    return status;
}

static enum swh_status quality(const struct task *t, const struct swh_eos_sat *s, double x)
{
    if (!(x >= 0.0 && x <= 1.0))
        return refuse(t, "quality", x, "", "is not between 0 (saturated liquid) and 1 (saturated vapour)");
    return two_phases(t, s, x);
}

static enum swh_status from_PX(const struct task *t, double P, double x)
{
    struct swh_eos_sat s;
    enum swh_status status = at_P(t, P, &s);
    return status ? status : quality(t, &s, x);
}

static enum swh_status from_TX(const struct task *t, double T, double x)
{
    struct swh_eos_sat s;
    enum swh_status status = at_T(t, T, &s);
    return status ? status : quality(t, &s, x);
}

/* ---- pressure and temperature ---- */

/* denser than any liquid the tables of 200 bar hold */
static double densest(const struct swh_eos *e)
{
    struct swh_eos_sat s;
    return swh_eos_saturation_T(e, e->T_triple, &s) ? 4.0 * e->critical.rho : 1.2 * s.f.rho;
}

static enum swh_status solve_PT(const struct task *t, double P, double T, struct swh_eos_point *p)
{
    double low = 0.0, high = densest(t->e);
    if (!(T >= t->e->T_triple))
        return refuse(t, "temperature", T, "K", "is below the triple point");
    if (!(T <= hottest))
        return refuse(t, "temperature", T, "K", "is hotter than the 525 K the equation is used for");
    if (!(P > 0.0))
        return refuse(t, "pressure", P, "Pa", "is not positive (absolute pressure is meant)");
    if (!(P <= strongest))
        return refuse(t, "pressure", P, "Pa", "is above the 200 bar the equation is used for");
    if (T < t->e->critical.T) {
        struct swh_eos_sat s;
        enum swh_status status = at_T(t, T, &s);
        if (status)
            return status;
        if (P > s.P)
            low = s.f.rho * (1.0 - 1e-9);
        else
            high = s.g.rho * (1.0 + 1e-9);
    }
    if (swh_eos_rho_of_T_P(t->e, T, P, low, high, p))
        return refuse(t, "pressure", P, "Pa", "at this temperature: the density could not be found");
    return SWH_OK;
}

static enum swh_status from_PT(const struct task *t, double P, double T)
{
    struct swh_eos_point p;
    enum swh_status status = solve_PT(t, P, T, &p);
    return status ? status : one_phase(t, &p);
}

/* ---- along an isobar ---- */

static double property(const struct swh_eos_point *p, char by)
{
    switch (by) {
    case 'h':
        return p->h;
    case 's':
        return p->s;
    default:
        return p->u;
    }
}

static const char *property_name(char by)
{
    switch (by) {
    case 'h':
        return "enthalpy";
    case 's':
        return "entropy";
    default:
        return "internal energy";
    }
}

static const char *property_unit(char by)
{
    return by == 's' ? "J/(kg K)" : "J/kg";
}

static enum swh_status no_state(const struct task *t, char by, double value, const char *why)
{
    return refuse(t, property_name(by), value, property_unit(by), why);
}

/* One phase at P between the coldest liquid and far beyond the hottest gas, from the state `start`. */
static enum swh_status search_isobar(const struct task *t, double P, char by, double value,
                                     const struct swh_eos_point *start, double v_low, double v_high,
                                     struct swh_eos_point *p)
{
    struct swh_eos_point cold;
    if (v_low <= 0.0) {
        enum swh_status status = solve_PT(t, P, t->e->T_triple, &cold);
        if (status)
            return status;
        if (value < property(&cold, by))
            return no_state(t, by, value, "at this pressure would be colder than the triple point");
        v_low = (1.0 - 1e-9) / cold.rho;
    }
    if (swh_eos_on_isobar(t->e, P, by, value, v_low, v_high, start, p))
        return no_state(t, by, value, "has no state at this pressure");
    return SWH_OK;
}

/* The state, in *p with *x = -1, or in *s with the quality. Hotter than the limit is not refused here. */
static enum swh_status solve_isobar(const struct task *t, double P, char by, double value,
                                    struct swh_eos_point *p, struct swh_eos_sat *s, double *x)
{
    double thin = 4.0 * hottest * t->e->R_molar / (t->e->M * P);
    *x = -1.0;
    if (!isfinite(value))
        return no_state(t, by, value, "is not a number");
    if (!(P <= strongest))
        return refuse(t, "pressure", P, "Pa", "is above the 200 bar the equation is used for");
    /* half a pascal below the critical point the two phases cannot be told apart */
    if (P >= t->e->critical.P * (1.0 - 1e-7)) {
        struct swh_eos_point start;
        enum swh_status status = solve_PT(t, P, 1.03 * t->e->critical.T, &start);
        return status ? status : search_isobar(t, P, by, value, &start, 0.0, thin, p);
    }
    enum swh_status status = at_P(t, P, s);
    if (status)
        return status;
    double f = property(&s->f, by), g = property(&s->g, by);
    if (value < f)
        return search_isobar(t, P, by, value, &s->f, 0.0, 1.0 / s->f.rho, p);
    if (value > g)
        return search_isobar(t, P, by, value, &s->g, 1.0 / s->g.rho, thin, p);
    *x = (value - f) / (g - f);
    return SWH_OK;
}

static enum swh_status from_isobar(const struct task *t, double P, char by, double value)
{
    struct swh_eos_point p;
    struct swh_eos_sat s;
    double x;
    enum swh_status status = solve_isobar(t, P, by, value, &p, &s, &x);
    if (status)
        return status;
    return x >= 0.0 ? two_phases(t, &s, x) : one_phase(t, &p);
}

static enum swh_status from_PRHO(const struct task *t, double P, double rho)
{
    struct swh_eos_point p;
    double T = 1.02 * t->e->critical.T;
    if (!(rho > 0.0))
        return refuse(t, "density", rho, "kg/m3", "is not positive");
    if (P < t->e->critical.P) {
        struct swh_eos_sat s;
        enum swh_status status = at_P(t, P, &s);
        if (status)
            return status;
        if (rho > s.g.rho && rho < s.f.rho)
            return two_phases(t, &s, (1.0 / rho - 1.0 / s.f.rho) / (1.0 / s.g.rho - 1.0 / s.f.rho));
        T = rho >= s.f.rho ? s.T : fmax(s.T, fmin(1000.0, s.T * s.g.rho / rho));
    }
    if (swh_eos_T_of_P_rho(t->e, P, rho, T, &p))
        return refuse(t, "density", rho, "kg/m3", "has no state at this pressure");
    return one_phase(t, &p);
}

/* ---- along an isotherm ---- */

static enum swh_status from_TRHO(const struct task *t, double T, double rho)
{
    struct swh_eos_point p;
    if (!(rho > 0.0 && rho < densest(t->e)))
        return refuse(t, "density", rho, "kg/m3", "is out of range");
    if (!(T > 0.0))
        return refuse(t, "temperature", T, "K", "is below the triple point");
    if (T >= t->e->T_triple && T < t->e->critical.T) {
        struct swh_eos_sat s;
        enum swh_status status = at_T(t, T, &s);
        if (status)
            return status;
        if (rho > s.g.rho && rho < s.f.rho)
            return two_phases(t, &s, (1.0 / rho - 1.0 / s.f.rho) / (1.0 / s.g.rho - 1.0 / s.f.rho));
    }
    swh_eos_eval(t->e, T, rho, &p);
    return one_phase(t, &p);
}

/* Halving between two densities where the property less `value` changes sign. */
static void bisect_isotherm(const struct swh_eos *e, double T, char by, double value, double a, double b,
                            struct swh_eos_point *p)
{
    swh_eos_eval(e, T, a, p);
    int sign = property(p, by) > value;
    for (int i = 0; i < 200 && fabs(b - a) > 1e-15 * b; i++) {
        double middle = 0.5 * (a + b);
        swh_eos_eval(e, T, middle, p);
        if ((property(p, by) > value) == sign)
            a = middle;
        else
            b = middle;
    }
}

/* Looks for changes of sign between two densities; returns how many, the last one's state in *p. */
static int scan_isotherm(const struct swh_eos *e, double T, char by, double value, double low, double high,
                         struct swh_eos_point *p)
{
    enum { STEPS = 240 };
    struct swh_eos_point q;
    double last = low, ratio = pow(high / low, 1.0 / STEPS);
    int found = 0;
    swh_eos_eval(e, T, low, &q);
    int sign = property(&q, by) > value;
    for (int i = 1; i <= STEPS; i++) {
        double rho = i < STEPS ? low * pow(ratio, i) : high;
        swh_eos_eval(e, T, rho, &q);
        if ((property(&q, by) > value) != sign) {
            bisect_isotherm(e, T, by, value, last, rho, p);
            sign = !sign;
            found++;
        }
        last = rho;
    }
    return found;
}

/* A value between the saturated phases is taken as their mixture, though very highly compressed liquid may
 * have the same enthalpy. */
static enum swh_status from_isotherm(const struct task *t, double T, char by, double value)
{
    struct swh_eos_point dense, p;
    struct swh_eos_sat s;
    enum swh_status status = solve_PT(t, strongest, T, &dense);
    int found;
    if (status)
        return status;
    if (T < t->e->critical.T) {
        status = at_T(t, T, &s);
        if (status)
            return status;
        double f = property(&s.f, by), g = property(&s.g, by);
        if (value >= f && value <= g)
            return two_phases(t, &s, (value - f) / (g - f));
        found = value > g ? scan_isotherm(t->e, T, by, value, 1e-6, s.g.rho, &p)
                          : scan_isotherm(t->e, T, by, value, s.f.rho, dense.rho, &p);
    } else {
        found = scan_isotherm(t->e, T, by, value, 1e-6, dense.rho, &p);
    }
    if (found == 0)
        return no_state(t, by, value, "has no state at this temperature");
    if (found > 1)
        return no_state(t, by, value, "fits more than one state at this temperature");
    return one_phase(t, &p);
}

/* ---- at a given density ---- */

/* the property of the stable state at (T, rho) */
static double at_density(const struct swh_eos *e, double T, double rho, char by)
{
    struct swh_eos_sat s;
    struct swh_eos_point p;
    if (T < e->critical.T && !swh_eos_saturation_T(e, T, &s) && rho > s.g.rho && rho < s.f.rho) {
        double x = (1.0 / rho - 1.0 / s.f.rho) / (1.0 / s.g.rho - 1.0 / s.f.rho);
        return property(&s.f, by) + x * (property(&s.g, by) - property(&s.f, by));
    }
    swh_eos_eval(e, T, rho, &p);
    return property(&p, by);
}

/* h, s and u rise with T at constant density, in one phase and in two: regula falsi with the Illinois weight
 * (Dahlquist and Bjoerck, Numerical Methods, 1974). */
static enum swh_status from_density(const struct task *t, double rho, char by, double value)
{
    if (!(rho > 0.0 && rho < densest(t->e)))
        return refuse(t, "density", rho, "kg/m3", "is out of range");
    double a = t->e->T_triple, b = hottest;
    double fa = at_density(t->e, a, rho, by) - value, fb = at_density(t->e, b, rho, by) - value;
    if (!(fa <= 0.0 && fb >= 0.0))
        return no_state(t, by, value, "has no state at this density between the triple point and 525 K");
    int side = 0;
    for (int i = 0; i < 200 && b - a > 1e-14 * b && fa != 0.0 && fb != 0.0; i++) {
        double T = i % 4 == 3 ? 0.5 * (a + b) : (a * fb - b * fa) / (fb - fa);
        double f = at_density(t->e, T, rho, by) - value;
        if (f <= 0.0) {
            a = T;
            fa = f;
            fb *= side == -1 ? 0.5 : 1.0;
            side = -1;
        } else {
            b = T;
            fb = f;
            fa *= side == 1 ? 0.5 : 1.0;
            side = 1;
        }
    }
    return from_TRHO(t, fa == 0.0 ? a : fb == 0.0 ? b : 0.5 * (a + b), rho);
}

/* ---- enthalpy and entropy ---- */

/* dh = v dP at constant entropy: Newton in ln P between bounds. */
static enum swh_status from_HS(const struct task *t, double h, double s)
{
    struct swh_eos_sat triple, sat;
    struct swh_eos_point p;
    if (swh_eos_saturation_T(t->e, t->e->T_triple, &triple))
        return no_state(t, 'h', h, "could not be solved");
    double low = log(triple.P * (1.0 + 1e-9)), high = log(strongest), ln_P = log(2e5), x;
    for (int i = 0; i < 100; i++) {
        double P = exp(ln_P);
        enum swh_status status = solve_isobar(t, P, 's', s, &p, &sat, &x);
        if (status)
            return status;
        double here = x >= 0.0 ? sat.f.h + x * (sat.g.h - sat.f.h) : p.h;
        double v = x >= 0.0 ? (1.0 - x) / sat.f.rho + x / sat.g.rho : 1.0 / p.rho;
        double step = (h - here) / (v * P);
        if (fabs(step) < 1e-13 || high - low < 1e-13)
            return fabs(h - here) > 1e-3 ? no_state(t, 'h', h, "has no state at this entropy")
                   : x >= 0.0            ? two_phases(t, &sat, x)
                                         : one_phase(t, &p);
        if (step > 0.0)
            low = ln_P;
        else
            high = ln_P;
        ln_P = ln_P + step > low && ln_P + step < high ? ln_P + step : 0.5 * (low + high);
    }
    return no_state(t, 'h', h, "has no state at this entropy");
}

enum swh_status swh_state_exact(const struct swh_eos *e, enum swh_pair pair, double a, double b,
                                struct swh_state *out, struct swh_error *err)
{
    struct task t = {.e = e, .out = out, .err = err};
    switch (pair) {
    case SWH_PT:
        return from_PT(&t, a, b);
    case SWH_PH:
        return from_isobar(&t, a, 'h', b);
    case SWH_PS:
        return from_isobar(&t, a, 's', b);
    case SWH_PRHO:
        return from_PRHO(&t, a, b);
    case SWH_PX:
        return from_PX(&t, a, b);
    case SWH_TH:
        return from_isotherm(&t, a, 'h', b);
    case SWH_TS:
        return from_isotherm(&t, a, 's', b);
    case SWH_TRHO:
        return from_TRHO(&t, a, b);
    case SWH_TX:
        return from_TX(&t, a, b);
    case SWH_HS:
        return from_HS(&t, a, b);
    case SWH_RHOH:
        return from_density(&t, a, 'h', b);
    case SWH_RHOS:
        return from_density(&t, a, 's', b);
    case SWH_RHOU:
        return from_density(&t, a, 'u', b);
    }
    return swh_error_set(err, SWH_ERR_USAGE, "unknown pair of properties");
}
