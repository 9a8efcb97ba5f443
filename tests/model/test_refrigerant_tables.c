/* The property tables against the exact equations they were made from (the exact equations are checked
 * against outside sources elsewhere). Tolerances: pressure 0.05 % (liquid 2 kPa + 0.1 %), temperature 0.05 K
 * in (rho, u); density 0.02 % and temperature 0.05 K in (P, h) from -40 to 140 degC and 0.3 to 40 bar. */
#include "model/refrigerant/eos.h"
#include "model/refrigerant/refrigerant.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#define EACH(r) for (enum swh_refrigerant r = SWH_R134A; r < SWH_REFRIGERANT_COUNT; r++)

static double larger(double a, double b)
{
    return a > b ? a : b;
}

/* One density: single-phase states from the dome to 500 K or 75 bar. */
static void check_single_phase(enum swh_refrigerant r, double rho, double *worst)
{
    const struct swh_eos *e = swh_eos_get(r);
    struct swh_eos_point dome, p;
    double slope;
    assert_int_equal(swh_eos_dome(e, rho, &dome, &slope), 0);
    for (int k = 1; k <= 24; k++) {
        double T = dome.T + (500.0 - dome.T) * k * k / (24.0 * 24.0), s;
        struct swh_cell_props c;
        swh_eos_eval(e, T, rho, &p);
        if (p.P > 75e5)
            return;
        assert_int_equal(swh_rho_u(swh_fluid_get(r), rho, p.u, &c), 0);
        assert_int_equal(swh_rho_u_entropy(swh_fluid_get(r), rho, p.u, &s), 0);
        double allowed = rho > e->critical.rho ? 2000.0 + 1e-3 * p.P : 5e-4 * p.P;
        worst[0] = larger(worst[0], fabs(c.P - p.P) / allowed);
        worst[1] = larger(worst[1], fabs(c.T - T));
        worst[2] = larger(worst[2], fabs(s - p.s));
        assert_true(fabs(c.h - (p.u + c.P / rho)) < 1e-6 * fabs(p.h));
    }
}

static void check_two_phase(enum swh_refrigerant r, double rho, double *worst)
{
    const struct swh_eos *e = swh_eos_get(r);
    struct swh_eos_point dome;
    double slope;
    assert_int_equal(swh_eos_dome(e, rho, &dome, &slope), 0);
    for (double T = 230.0; T < fmin(dome.T, e->critical.T - 0.3); T += 3.7) {
        /* within 2 K of the critical temperature densities go like a square root: a tenth of the weight */
        double weight = T < e->critical.T - 2.0 ? 1.0 : 0.1;
        struct swh_eos_sat s;
        struct swh_cell_props c;
        double entropy;
        assert_int_equal(swh_eos_saturation_T(e, T, &s), 0);
        double x = (1.0 / rho - 1.0 / s.f.rho) / (1.0 / s.g.rho - 1.0 / s.f.rho);
        double u = s.f.u + x * (s.g.u - s.f.u);
        assert_int_equal(swh_rho_u(swh_fluid_get(r), rho, u, &c), 0);
        assert_int_equal(swh_rho_u_entropy(swh_fluid_get(r), rho, u, &entropy), 0);
        worst[0] = larger(worst[0], fabs(c.P / s.P - 1.0) / 5e-4);
        worst[1] = larger(worst[1], fabs(c.T - T));
        worst[2] = larger(worst[2], weight * fabs(entropy - (s.f.s + x * (s.g.s - s.f.s))));
        worst[3] = larger(worst[3], weight * fabs(c.x - x));
        worst[4] = larger(worst[4], weight * (fabs(c.h_g - s.g.h) + fabs(c.h_f - s.f.h)));
        worst[5] = larger(worst[5], weight * (fabs(c.rho_g / s.g.rho - 1.0) + fabs(c.rho_f / s.f.rho - 1.0)));
    }
}

static void test_density_energy(void **state)
{
    (void)state;
    EACH(r)
    {
        double one[3] = {0}, two[6] = {0};
        for (double rho = 0.07; rho < 1430.0; rho *= 1.013) {
            check_single_phase(r, rho, one);
            check_two_phase(r, rho, two);
        }
        printf("%s one phase: P %.3f of allowed, T %.4f K, s %.4f J/(kg K); two phases: P %.3f of allowed, "
               "T %.5f K, s %.4f, x %.1e, h %.3f J/kg, rho %.1e\n",
               swh_refrigerant_name(swh_eos_get(r)), one[0], one[1], one[2], two[0], two[1], two[2], two[3],
               two[4], two[5]);
        assert_true(one[0] < 1.0 && one[1] < 0.05 && one[2] < 0.1);
        assert_true(two[0] < 1.0 && two[1] < 0.05 && two[2] < 0.1 && two[3] < 2e-4);
        assert_true(two[4] < 20.0 && two[5] < 5e-4);
    }
}

/* Pressure goes through the saturation line without a jump and rises with internal energy everywhere. */
static void test_dome_continuity(void **state)
{
    (void)state;
    EACH(r)
    {
        const struct swh_eos *e = swh_eos_get(r);
        for (double rho = 0.07; rho < 1430.0; rho *= 1.0037) {
            struct swh_eos_point d;
            struct swh_cell_props a, b;
            double slope, du = 2e-4;
            assert_int_equal(swh_eos_dome(e, rho, &d, &slope), 0);
            swh_rho_u(swh_fluid_get(r), rho, d.u + du, &a);
            swh_rho_u(swh_fluid_get(r), rho, d.u - du, &b);
            double expected = 2.0 * du * d.P_T / d.cv, near = e->critical.T - d.T < 2.0 ? 2e-4 : 1e-5;
            /* cold liquid: half a pascal is less than the stiffest liquid feels of 1e-6 J/kg */
            assert_true(fabs(a.P - b.P) <= near * d.P + expected + 0.5);
        }
    }
}

static void test_pressure_rises_with_energy(void **state)
{
    (void)state;
    EACH(r)
    for (double rho = 0.07; rho < 1430.0; rho *= 1.11) {
        double last_P = 0.0, last_T = 0.0;
        for (double u = 60e3; u < 560e3; u += 200.0) {
            struct swh_cell_props c;
            swh_rho_u(swh_fluid_get(r), rho, u, &c);
            assert_true(c.P > last_P && c.T > last_T);
            last_P = c.P;
            last_T = c.T;
        }
    }
}

static void test_outside_is_finite(void **state)
{
    (void)state;
    static const double rho[] = {0.0, 1e-300, 1e-6, 0.05, 0.0625, 1.0, 512.0, 1500.0, 1700.0, 3000.0, 1e300};
    static const double u[] = {-1e9, -1e5, 0.0, 1e5, 2e5, 5e5, 1e6, 1e9};
    EACH(r)
    for (size_t i = 0; i < sizeof rho / sizeof *rho; i++)
        for (size_t j = 0; j < sizeof u / sizeof *u; j++) {
            struct swh_cell_props c;
            struct swh_ph_props q;
            double s;
            swh_rho_u(swh_fluid_get(r), rho[i], u[j], &c);
            swh_rho_u_entropy(swh_fluid_get(r), rho[i], u[j], &s);
            assert_true(isfinite(c.P) && isfinite(c.T) && isfinite(c.h) && c.P > 0.0 && c.T > 0.0 &&
                        isfinite(s));
            assert_true(c.x >= 0.0 && c.x <= 1.0);
            swh_P_h(swh_fluid_get(r), rho[i] * 1e4, u[j], &q);
            assert_true(isfinite(q.rho) && isfinite(q.T) && isfinite(q.s) && q.rho > 0.0);
        }
    struct swh_cell_props c;
    assert_int_equal(swh_rho_u(swh_fluid_get(SWH_R134A), 1.0, NAN, &c), 1);
    assert_int_equal(swh_rho_u(swh_fluid_get(SWH_R134A), NAN, 1e5, &c), 1);
}

/* looking up many at once must give what one by one gives, which the tests above
 * hold to the exact equations */
static void test_many_at_once(void **state)
{
    (void)state;
    static const double rho[] = {NAN,   1e-6,  0.0625, 1.0,    20.0,   60.0,
                                 400.0, 512.0, 900.0,  1100.0, 1300.0, 1e5};
    enum { N = sizeof rho / sizeof *rho };
    double u[N];
    struct swh_cell_props all[N], one;
    struct swh_cell_props *out[N];
    EACH(r)
    for (double first = -1e5; first < 1e6; first += 3.7e3) {
        for (int i = 0; i < N; i++) {
            u[i] = first + 1.3e4 * i;
            out[i] = &all[N - 1 - i];
        }
        const uint64_t outside = swh_rho_u_all(swh_fluid_get(r), N, rho, u, out);
        for (int i = 0; i < N; i++) {
            assert_int_equal(swh_rho_u(swh_fluid_get(r), rho[i], u[i], &one), outside >> i & 1);
            assert_memory_equal(&one, out[i], sizeof one);
        }
    }
    u[3] = NAN;
    assert_true(swh_rho_u_all(swh_fluid_get(SWH_R134A), N, rho, u, out) >> 3 & 1);
}

/* ---- derivatives with density and energy ---- */

enum { V_P, V_T, V_X, V_H_F, V_H_G, V_RHO_F, V_RHO_G, V_SLIP, VALUES };

/* central differences of swh_rho_u with density (by_u = 0) or energy; 0 where the kind of state changes */
static int differences(const struct swh_fluid *f, double rho, double u, int by_u, double shift, double *out)
{
    struct swh_cell_props a, b;
    const int outside = swh_rho_u(f, by_u ? rho : rho - shift, by_u ? u - shift : u, &a) |
                        swh_rho_u(f, by_u ? rho : rho + shift, by_u ? u + shift : u, &b);
    const double per = 1.0 / (2.0 * shift);
    const double all[VALUES] = {[V_P] = (b.P - a.P) * per,
                                [V_T] = (b.T - a.T) * per,
                                [V_X] = (b.x - a.x) * per,
                                [V_H_F] = (b.h_f - a.h_f) * per,
                                [V_H_G] = (b.h_g - a.h_g) * per,
                                [V_RHO_F] = (b.rho_f - a.rho_f) * per,
                                [V_RHO_G] = (b.rho_g - a.rho_g) * per,
                                [V_SLIP] = (b.slip - a.slip) * per};
    for (int i = 0; i < VALUES; i++)
        out[i] = all[i];
    return !outside && (a.h_f < a.h_g) == (b.h_f < b.h_g) && (a.x > 0.0) == (b.x > 0.0) &&
           (a.x < 1.0) == (b.x < 1.0);
}

/* Largest relative deviation from differences; in one phase of P and T alone. The quality's derivatives cross
 * zero, so x_size is added there: what a change of density at one temperature, or
 * evaporation, makes of it. */
static double deviation(const struct swh_cell_derivatives *d, double P_z, double T_z, double x_z,
                        const double *wanted, double x_size)
{
    const double had[VALUES] = {[V_P] = P_z,
                                [V_T] = T_z,
                                [V_X] = x_z,
                                [V_H_F] = d->h_f_T * T_z,
                                [V_H_G] = d->h_g_T * T_z,
                                [V_RHO_F] = d->rho_f_T * T_z,
                                [V_RHO_G] = d->rho_g_T * T_z,
                                [V_SLIP] = d->slip_T * T_z};
    double worst = 0.0;
    for (int i = 0; i < (x_size > 0.0 ? VALUES : V_X); i++)
        worst = larger(worst, fabs(had[i] - wanted[i]) / (fabs(wanted[i]) + (i == V_X ? x_size : 0.0)));
    return worst;
}

/* deviation of swh_rho_u_derivatives at a state from differences of swh_rho_u; -1 at an edge */
static double derivatives_deviation(const struct swh_fluid *f, double rho, double u, struct swh_cell_props *c)
{
    struct swh_cell_derivatives d;
    double by_rho[VALUES], by_u[VALUES];
    if (swh_rho_u(f, rho, u, c) || !differences(f, rho, u, 0, 1e-5 * rho, by_rho) ||
        !differences(f, rho, u, 1, 1.0, by_u))
        return -1.0;
    swh_rho_u_derivatives(f, 1, &rho, &u, c, &d);
    assert_true(d.P == c->P);
    const int wet = c->h_f < c->h_g;
    const double x_rho = wet ? c->rho_f * c->rho_g / ((c->rho_f - c->rho_g) * rho * rho) : 0.0;
    const double x_u = wet ? 1.0 / (c->h_g - c->h_f) : 0.0;
    return larger(deviation(&d, d.P_rho, d.T_rho, d.x_rho, by_rho, x_rho),
                  deviation(&d, d.P_u, d.T_u, d.x_u, by_u, x_u));
}

/* One phase; two phases from -40 degC to 10 K below the critical temperature; two phases nearer to it. */
static void test_saturation_derivatives_belong_to_values(void **state)
{
    (void)state;
    EACH(r)
    {
        double worst[3] = {0};
        int count[3] = {0};
        for (double rho = 0.07; rho < 1400.0; rho *= 1.037)
            for (double u = 80e3; u < 520e3; u += 1.9e3) {
                struct swh_cell_props c;
                const double off = derivatives_deviation(swh_fluid_get(r), rho, u, &c);
                const int wet = c.h_f < c.h_g;
                if (off < 0.0 || (wet && c.T < 233.15))
                    continue;
                const int kind = !wet ? 0 : c.T < swh_critical_temperature(swh_eos_get(r)) - 10.0 ? 1 : 2;
                worst[kind] = larger(worst[kind], off);
                count[kind]++;
            }
        printf(
            "%s derivatives: one phase %.1e (%d states), two phases %.1e (%d), near the critical point %.1e "
            "(%d)\n",
            swh_refrigerant_name(swh_eos_get(r)), worst[0], count[0], worst[1], count[1], worst[2], count[2]);
        assert_true(count[0] > 15000 && count[1] > 10000 && count[2] > 200);
        assert_true(worst[0] < 5e-6 && worst[1] < 5e-4 && worst[2] < 0.05);
    }
}

/* One phase against the exact equations: at the same density T_u = 1/cv and P_u = P_T/cv, at the same energy
 * T_rho = -u_rho/cv. */
static void test_derivatives_are_the_fluids(void **state)
{
    (void)state;
    EACH(r)
    {
        const struct swh_eos *e = swh_eos_get(r);
        double worst = 0.0;
        for (double rho = 0.07; rho < 1300.0; rho *= 1.11) {
            struct swh_eos_point dome, p;
            double slope;
            assert_int_equal(swh_eos_dome(e, rho, &dome, &slope), 0);
            for (double t = larger(dome.T + 3.0, 243.15); t < 450.0; t += 7.3) {
                struct swh_cell_props c;
                struct swh_cell_derivatives d;
                swh_eos_eval(e, t, rho, &p);
                if (p.P > 60e5)
                    break;
                assert_int_equal(swh_rho_u(swh_fluid_get(r), rho, p.u, &c), 0);
                swh_rho_u_derivatives(swh_fluid_get(r), 1, &rho, &p.u, &c, &d);
                const double T_rho = -p.u_rho / p.cv, P_rho = p.P_rho + p.P_T * T_rho;
                worst = larger(worst, fabs(d.T_u * p.cv - 1.0));
                worst = larger(worst, fabs(d.P_u * p.cv / p.P_T - 1.0));
                worst = larger(worst, fabs(d.P_rho / P_rho - 1.0));
                worst = larger(worst, fabs(d.T_rho - T_rho) * rho / t);
            }
        }
        printf("%s derivatives against the exact equations: %.1e\n", swh_refrigerant_name(swh_eos_get(r)),
               worst);
        assert_true(worst < 3e-3);
    }
}

/* Beyond the edges they go on with the values; many at once are what they are one by one. */
static void test_derivatives_outside(void **state)
{
    (void)state;
    static const double rho[] = {20.0, 20.0, 400.0, 1300.0, 1600.0, 3000.0};
    static const double u[] = {1e6, -1e5, 6e5, 4e5, 2e5, 2e5};
    enum { N = sizeof rho / sizeof *rho };
    EACH(r)
    {
        struct swh_cell_props c[N];
        struct swh_cell_derivatives d[N], one;
        for (int i = 0; i < N; i++)
            assert_int_equal(swh_rho_u(swh_fluid_get(r), rho[i], u[i], &c[i]), 1);
        swh_rho_u_derivatives(swh_fluid_get(r), N, rho, u, c, d);
        for (int i = 0; i < N; i++) {
            double by_rho[VALUES], by_u[VALUES];
            differences(swh_fluid_get(r), rho[i], u[i], 0, 1e-5 * rho[i], by_rho);
            differences(swh_fluid_get(r), rho[i], u[i], 1, 1.0, by_u);
            assert_true(fabs(d[i].P_rho - by_rho[V_P]) <= 1e-3 * fabs(by_rho[V_P]));
            assert_true(fabs(d[i].P_u - by_u[V_P]) <= 1e-3 * fabs(by_u[V_P]));
            assert_true(fabs(d[i].T_u - by_u[V_T]) <= 1e-3 * fabs(by_u[V_T]));
            swh_rho_u_derivatives(swh_fluid_get(r), 1, &rho[i], &u[i], &c[i], &one);
            assert_memory_equal(&one, &d[i], sizeof one);
        }
    }
}

/* Thinner than the tables gas is ideal and inside: against the exact equations, which there are ideal within
 * 1e-3, with its derivatives against differences, and no jump at the thinnest density. */
static void test_thin_gas(void **state)
{
    (void)state;
    EACH(r)
    for (double T = 250; T < 500; T += 50)
        for (double rho = 1e-7; rho < 0.06; rho *= 7) {
            const struct swh_fluid *f = swh_fluid_get(r);
            struct swh_state exact;
            struct swh_cell_props c, edge;
            struct swh_cell_derivatives d;
            double by_rho[VALUES], by_u[VALUES];
            assert_int_equal(swh_state_exact(swh_eos_get(r), SWH_TRHO, T, rho, &exact, NULL), SWH_OK);
            assert_int_equal(swh_rho_u(f, rho, exact.u, &c), 0);
            assert_true(fabs(c.P / exact.P - 1) < 1e-3 && fabs(c.T / exact.T - 1) < 1e-3);
            swh_rho_u_derivatives(f, 1, &rho, &exact.u, &c, &d);
            differences(f, rho, exact.u, 0, 1e-5 * rho, by_rho);
            differences(f, rho, exact.u, 1, 1.0, by_u);
            assert_true(fabs(d.P_rho / by_rho[V_P] - 1) < 1e-5 && fabs(d.P_u / by_u[V_P] - 1) < 1e-5);
            assert_true(d.T_rho == 0 && fabs(d.T_u / by_u[V_T] - 1) < 1e-5 && d.P == c.P);
            swh_rho_u(f, 0.0625, exact.u, &c);
            swh_rho_u(f, 0.0625 * (1 - 1e-12), exact.u, &edge);
            assert_true(fabs(edge.P / c.P - 1) < 1e-11);
        }
}

/* derivatives of the saturation line and of what continues it, against differences; the values to the bit */
static void test_saturation_derivatives(void **state)
{
    (void)state;
    EACH(r)
    {
        const struct swh_fluid *f = swh_fluid_get(r);
        for (double t = 120.0; t < 480.0; t += 0.37) {
            double p, slope, low, high, p_too, t_sat, t_too, t_P;
            const int outside = swh_Psat_slope(f, t, &p, &slope);
            assert_int_equal(swh_Psat(f, t, &p_too), outside);
            assert_true(p == p_too);
            if (swh_Psat(f, t - 1e-3, &low) == outside && swh_Psat(f, t + 1e-3, &high) == outside)
                assert_true(fabs((high - low) / 2e-3 - slope) <= 1e-5 * slope);
            if (p > 300e5 || p < 1.0)
                continue;
            const int beyond = swh_Tsat_slope(f, p, &t_sat, &t_P);
            assert_int_equal(swh_Tsat(f, p, &t_too), beyond);
            assert_true(t_sat == t_too);
            if (swh_Tsat(f, p * (1 - 1e-5), &low) == beyond && swh_Tsat(f, p * (1 + 1e-5), &high) == beyond)
                assert_true(fabs((high - low) / (2e-5 * p) - t_P) <= 1e-4 * t_P);
        }
    }
}

/* the exact state at (P, T), in the phase that is stable there */
static void stable(const struct swh_eos *e, double P, double T, struct swh_eos_point *p)
{
    struct swh_eos_sat s;
    double low = 0.0, high = 2000.0;
    if (T < e->critical.T && !swh_eos_saturation_T(e, T, &s)) {
        if (P > s.P)
            low = s.f.rho;
        else
            high = s.g.rho;
    }
    assert_int_equal(swh_eos_rho_of_T_P(e, T, P, low, high, p), 0);
}

static void test_pressure_enthalpy(void **state)
{
    (void)state;
    EACH(r)
    {
        const struct swh_eos *e = swh_eos_get(r);
        double rho = 0.0, temperature = 0.0, entropy = 0.0, isentrope = 0.0;
        for (double P = 0.3e5; P <= 40e5; P *= 1.017)
            for (double T = 233.15; T <= 413.15; T += 1.9) {
                struct swh_eos_point p;
                struct swh_ph_props q;
                double h, d;
                stable(e, P, T, &p);
                assert_int_equal(swh_P_h(swh_fluid_get(r), P, p.h, &q), 0);
                rho = larger(rho, fabs(q.rho / p.rho - 1.0));
                temperature = larger(temperature, fabs(q.T - T));
                entropy = larger(entropy, fabs(q.s - p.s));
                assert_int_equal(swh_P_s(swh_fluid_get(r), P, p.s, &h, &d), 0);
                isentrope = larger(isentrope, fabs(h - p.h));
            }
        printf("%s (P, h): rho %.2e, T %.4f K, s %.4f J/(kg K); h of (P, s) %.2f J/kg\n",
               swh_refrigerant_name(swh_eos_get(r)), rho, temperature, entropy, isentrope);
        assert_true(rho < 2e-4 && temperature < 0.05 && entropy < 0.05 && isentrope < 20.0);
    }
}

/* density at (P, h); counts in *others the states that are not of the kind (liquid 0, wet, vapour 1) of x */
static double rho_at(const struct swh_fluid *f, double P, double h, double x, int *others)
{
    struct swh_ph_props q;
    swh_P_h(f, P, h, &q);
    *others += (q.x == 0.0) != (x == 0.0) || (q.x == 1.0) != (x == 1.0);
    return q.rho;
}

/* rho_P and rho_h are the derivatives of the tabulated density itself: central differences agree */
static void test_derivatives_belong_to_values(void **state)
{
    (void)state;
    EACH(r)
    {
        const struct swh_fluid *f = swh_fluid_get(r);
        int checked = 0;
        for (double P = 0.31e5; P < 60e5; P *= 1.37)
            for (double h = 151e3; h < 500e3; h += 3.7e3) {
                struct swh_ph_props q;
                double dP = 1e-5 * P, dh = 1.0;
                int others = 0;
                assert_int_equal(swh_P_h(f, P, h, &q), 0);
                double by_P = rho_at(f, P + dP, h, q.x, &others) - rho_at(f, P - dP, h, q.x, &others);
                double by_h = rho_at(f, P, h + dh, q.x, &others) - rho_at(f, P, h - dh, q.x, &others);
                if (others)
                    continue;
                checked++;
                assert_true(fabs(by_P / (2.0 * dP) - q.rho_P) <= 1e-4 * fabs(q.rho_P) + 1e-7 * q.rho / P);
                assert_true(fabs(by_h / (2.0 * dh) - q.rho_h) <= 1e-4 * fabs(q.rho_h));
            }
        assert_true(checked > 1200);
    }
}

/* One saturation line for all tables: single phase, two phases and saturation agree at it. */
static void test_saturation_lines_are_sharp(void **state)
{
    (void)state;
    EACH(r)
    {
        const struct swh_fluid *f = swh_fluid_get(r);
        for (double P = 3e3; P < 0.99 * swh_critical_pressure(swh_eos_get(r)); P *= 1.013) {
            struct swh_saturation s, t;
            assert_int_equal(swh_sat_P(f, P, &s), 0);
            assert_int_equal(swh_sat_T(f, s.T, &t), 0);
            assert_true(fabs(t.P / P - 1.0) < 2e-6 && fabs(t.h_g - s.h_g) < 1.0 && fabs(t.h_f - s.h_f) < 1.0);
            struct swh_ph_props a, b;
            swh_P_h(f, P, s.h_f - 1e-8, &a);
            swh_P_h(f, P, s.h_f + 1e-8, &b);
            assert_true(fabs(a.rho - b.rho) < 1e-8 * a.rho && fabs(a.T - b.T) < 1e-7 &&
                        fabs(a.s - b.s) < 1e-6);
            swh_P_h(f, P, s.h_g - 1e-8, &a);
            swh_P_h(f, P, s.h_g + 1e-8, &b);
            assert_true(fabs(a.rho - b.rho) < 1e-8 * a.rho && fabs(a.T - b.T) < 1e-7 &&
                        fabs(a.s - b.s) < 1e-6);
        }
    }
}

/* P with T or s leads back to what P with h gives. */
static void test_inversions(void **state)
{
    (void)state;
    EACH(r)
    {
        const struct swh_fluid *f = swh_fluid_get(r);
        for (double P = 5e3; P < 60e5; P *= 1.31)
            for (double h = 160e3; h < 500e3; h += 9.7e3) {
                struct swh_ph_props q;
                double h_s, h_T = h, rho_s, rho_T;
                assert_int_equal(swh_P_h(f, P, h, &q), 0);
                assert_int_equal(swh_P_s(f, P, q.s, &h_s, &rho_s), 0);
                assert_true(fabs(h_s - h) < 1e-3 && fabs(rho_s / q.rho - 1.0) < 1e-7);
                if (q.x > 0.0 && q.x < 1.0)
                    continue;
                if (q.x == 1.0)
                    assert_int_equal(swh_P_T_vapour(f, P, q.T, &h_T, &rho_T), 0);
                else
                    assert_int_equal(swh_P_T_liquid(f, P, q.T, &h_T, &rho_T), 0);
                assert_true(fabs(h_T - h) < 1e-2 && fabs(rho_T / q.rho - 1.0) < 1e-6);
            }
        struct swh_saturation s;
        double h, rho;
        swh_sat_P(f, 5e5, &s);
        swh_P_T_vapour(f, 5e5, s.T - 10.0, &h, &rho);
        assert_true(h == s.h_g && rho == s.rho_g);
        swh_P_T_liquid(f, 5e5, s.T + 10.0, &h, &rho);
        assert_true(h == s.h_f && rho == s.rho_f);
    }
}

/* Beyond the ends of the saturation line: 1 is returned, pressure and temperature go on rising together. */
static void test_saturation_beyond_its_ends(void **state)
{
    (void)state;
    EACH(r)
    {
        const struct swh_fluid *f = swh_fluid_get(r);
        double last = 0.0, P, T;
        for (double t = 120.0; t < 500.0; t += 0.37) {
            int outside = swh_Psat(f, t, &P);
            assert_true(P > last);
            last = P;
            assert_int_equal(outside,
                             t < 180.0 || t >= swh_critical_temperature(swh_eos_get(r)) ? outside : 0);
            if (t > 200.0 && P < 300e5) {
                swh_Tsat(f, P, &T);
                assert_true(fabs(T - t) < 2e-3);
            }
        }
        assert_int_equal(swh_Psat(f, 450.0, &P), 1);
        assert_int_equal(swh_Tsat(f, 60e5, &T), 1);
    }
}

static void test_viscosity(void **state)
{
    (void)state;
    EACH(r)
    {
        const struct swh_fluid *f = swh_fluid_get(r);
        for (double T = 200.0; T < swh_critical_temperature(swh_eos_get(r)) - 3.0; T += 1.7) {
            struct swh_state g, l;
            assert_int_equal(swh_state_exact(swh_eos_get(r), SWH_TX, T, 0.0, &l, NULL), SWH_OK);
            assert_int_equal(swh_state_exact(swh_eos_get(r), SWH_TX, T, 1.0, &g, NULL), SWH_OK);
            assert_true(fabs(swh_mu_liquid(f, T) / l.mu - 1.0) < 1e-3);
            assert_true(fabs(swh_mu_vapour(f, T) / g.mu - 1.0) < 1e-3);
        }
        for (double T = 230.0; T < 500.0; T += 7.0) {
            struct swh_state thin;
            assert_int_equal(swh_state_exact(swh_eos_get(r), SWH_TRHO, T, 1e-3, &thin, NULL), SWH_OK);
            assert_true(fabs(swh_mu_gas(f, T) / thin.mu - 1.0) < 1e-4);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_density_energy),
        cmocka_unit_test(test_dome_continuity),
        cmocka_unit_test(test_pressure_rises_with_energy),
        cmocka_unit_test(test_outside_is_finite),
        cmocka_unit_test(test_pressure_enthalpy),
        cmocka_unit_test(test_derivatives_belong_to_values),
        cmocka_unit_test(test_saturation_lines_are_sharp),
        cmocka_unit_test(test_many_at_once),
        cmocka_unit_test(test_saturation_derivatives_belong_to_values),
        cmocka_unit_test(test_derivatives_are_the_fluids),
        cmocka_unit_test(test_derivatives_outside),
        cmocka_unit_test(test_thin_gas),
        cmocka_unit_test(test_saturation_derivatives),
        cmocka_unit_test(test_inversions),
        cmocka_unit_test(test_saturation_beyond_its_ends),
        cmocka_unit_test(test_viscosity),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
