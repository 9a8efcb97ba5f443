/* The property tables against the exact equations they were made from (the exact equations are checked
 * against outside sources elsewhere). Tolerances: pressure 0.05 % (liquid 2 kPa + 0.1 %), temperature 0.05 K
 * in (rho, u); density 0.02 % and temperature 0.05 K in (P, h) from -40 to 140 degC and 0.3 to 40 bar. */
#include "model/refrigerant.h"
#include "model/refrigerant_eos.h"

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
               swh_refrigerant_name(r), one[0], one[1], one[2], two[0], two[1], two[2], two[3], two[4],
               two[5]);
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
               swh_refrigerant_name(r), rho, temperature, entropy, isentrope);
        assert_true(rho < 2e-4 && temperature < 0.05 && entropy < 0.05 && isentrope < 20.0);
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
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
