/* The compressor at its own steady points against two published maps of R-134a car compressors of its size,
 * evaluated at the same suction state, discharge pressure and speed.
 *
 * Map A: J.H. Darr, R.R. Crawford, "Modeling of an automotive air conditioning compressor based on
 * experimental data", ACRC TR-14, University of Illinois (1992), 169 cm3: eta_is = 0.8405 - 4.8711e-5 n -
 * 0.1105/rho_s, eta_v = (0.8889 - 1.0025e-4 n) (1 - C (rho_2s/rho_s - 1)); n in rpm, rho_s in lb/ft3; C =
 * 0.03 (not told there: between 0.03 and 0.045). Map B: W. Li, "Simplified steady-state modeling for variable
 * speed compressor", Appl. Therm. Eng. 50 (2013) 318-326, 170 cm3: eta_v = (0.779 - 0.036 r^(1/k)) (1.223 -
 * 0.206 N - 0.017 N^2), N = n/2000 rpm, r the pressure ratio, k the isentropic exponent. Coefficients of both
 * as typed into a public library of models (second hand). They agree within 7 % with each other. Their ranges
 * begin near 1800 and 2400 rpm: below, both are extrapolated. */
#include "tests/check.h"

#include "tests/solver/cases.h"

#include <stdlib.h>

struct point {
    double ambient, rpm;
};
static const struct point points[] = {{32, 800},  {32, 1000}, {32, 1500}, {32, 2000}, {32, 2500}, {32, 3000},
                                      {32, 4000}, {43, 1500}, {43, 2000}, {43, 2500}, {43, 3000}};
enum { POINTS = sizeof points / sizeof *points };

struct map {
    double eta_v_A, eta_v_B, eta_is_A, power_A, eta_is;
};

/* both maps, and the program's own isentropic efficiency on the shaft, at what a run came to */
static struct map at(const struct swh_summary *s, double rpm, double displacement)
{
    const struct swh_fluid *f = swh_fluid_get(SWH_R134A);
    const double P_s = s->final[SWH_CH_suction_pressure], P_d = s->final[SWH_CH_discharge_pressure];
    double T_sat, h, rho, h_2s, rho_2s;
    struct swh_ph_props port;
    swh_Tsat(f, P_s, &T_sat);
    swh_P_T_vapour(f, P_s, T_sat + s->final[SWH_CH_superheat], &h, &rho);
    swh_P_h(f, P_s, h, &port);
    swh_P_s(f, P_d, port.s, &h_2s, &rho_2s);
    const double r = P_d / P_s, k = log(r) / log(rho_2s / rho), N = rpm / 2000, lb = rho / 16.0185;
    struct map m;
    m.eta_v_A = (0.8889 - 1.0025e-4 * rpm) * (1 - 0.03 * (rho_2s / rho - 1));
    m.eta_v_B = (0.779 - 0.036 * pow(r, 1 / k)) * (1.223 - 0.206 * N - 0.017 * N * N);
    m.eta_is_A = 0.8405 - 4.8711e-5 * rpm - 0.1105 / lb;
    m.eta_is = s->final[SWH_CH_mass_flow] * (h_2s - h) / s->final[SWH_CH_shaft_power];
    m.power_A = m.eta_v_A * displacement * rpm / 60 * rho * (h_2s - h) / m.eta_is_A;
    return m;
}

static void test_maps(void **state)
{
    (void)state;
    const bool show = getenv("SWH_SHOW") != NULL;
    for (int i = 0; i < POINTS; i++) {
        struct swh_case c;
        swh_case_valve(&c, points[i].ambient);
        c.conditions.compressor_speed = points[i].rpm / 60;
        c.choices.controls_cycling = SWH_CYCLING_NONE; /* steady points: nothing lets the clutch out */
        c.choices.controls_high_pressure = 0;
        c.params.controls_relief_open = 60e5;
        const struct swh_summary s = swh_case_run(&c);
        const struct map m = at(&s, points[i].rpm, c.params.compressor_displacement);
        const double mean = 0.5 * (m.eta_v_A + m.eta_v_B), eta_v = s.final[SWH_CH_volumetric_efficiency];
        const double power = s.final[SWH_CH_shaft_power];
        if (show)
            print_message("%2.0f degC %4.0f rpm ratio %5.2f eta_v %.3f / %.3f = %+.1f %%  eta_is %.3f - %.3f "
                          "= %+.3f  P "
                          "%5.0f / %5.0f W %+.1f %%  friction %.2f N m\n",
                          points[i].ambient, points[i].rpm,
                          s.final[SWH_CH_discharge_pressure] / s.final[SWH_CH_suction_pressure], eta_v, mean,
                          100 * (eta_v / mean - 1), m.eta_is, m.eta_is_A, m.eta_is - m.eta_is_A, power,
                          m.power_A, 100 * (power / m.power_A - 1),
                          s.final[SWH_CH_friction_power] / (points[i].rpm / 60 * 2 * 3.14159265));
        /* where both maps are extrapolated the bar is 12 % instead of 8 */
        CHECK_CLOSE(eta_v / mean, 1, points[i].rpm < 1800 ? 0.12 : 0.08, 0);
        CHECK_CLOSE(m.eta_is, m.eta_is_A, 0, 0.05);
        CHECK_CLOSE(power / m.power_A, 1, 0.10, 0);
    }
}

/* From memory: friction torque of such a machine is 0.5 to 2 N m in all. */
static void test_friction_torque(void **state)
{
    (void)state;
    for (double rpm = 800; rpm <= 4000; rpm *= 1.71) {
        struct swh_case c;
        swh_case_valve(&c, 32);
        c.conditions.compressor_speed = rpm / 60;
        c.choices.controls_cycling = SWH_CYCLING_NONE;
        const struct swh_summary s = swh_case_run(&c);
        CHECK_BETWEEN(s.final[SWH_CH_friction_power] / (rpm / 60 * 2 * 3.14159265), 0.5, 2.0);
    }
}

/* Shaft power of a small and a large car's compressor at full load against speed, from a component maker's
 * public pages by way of a public library of vehicle energy data (2002); their air and pressures are not
 * told. The program's, at 32 to 43 degC, lies between the two within a fifth. */
static void test_power_bands(void **state)
{
    (void)state;
    static const double rpm[3] = {1000, 2000, 3000}, small[3] = {2.19, 3.51, 4.55},
                        large[3] = {1.79, 4.02, 6.52};
    for (int i = 0; i < 3; i++)
        for (double ambient = 32; ambient <= 43; ambient += 11) {
            struct swh_case c;
            swh_case_valve(&c, ambient);
            c.conditions.compressor_speed = rpm[i] / 60;
            c.choices.controls_cycling = SWH_CYCLING_NONE;
            c.choices.controls_high_pressure = 0;
            const struct swh_summary s = swh_case_run(&c);
            CHECK_BETWEEN(1e-3 * s.final[SWH_CH_shaft_power], 0.8 * fmin(small[i], large[i]),
                          1.2 * fmax(small[i], large[i]));
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_maps), cmocka_unit_test(test_friction_torque),
                                       cmocka_unit_test(test_power_bands)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
