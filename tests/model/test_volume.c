/* Laws of one volume: the void fraction against its published form, softened liquid against the exact
 * equations of state. */
#include "tests/check.h"

#include "model/parts/volume.h"

static const enum swh_refrigerant fluids[] = {SWH_R134A, SWH_R1234YF, SWH_R12};

/* the cell of quality s at T, in two phases */
static struct swh_cell_props cell_at(const struct swh_fluid *f, double T, double s)
{
    struct swh_saturation sat;
    struct swh_cell_props c;
    assert_int_equal(swh_sat_T(f, T, &sat), 0);
    const double v = (1 - s) / sat.rho_f + s / sat.rho_g;
    const double h = sat.h_f + s * (sat.h_g - sat.h_f);
    assert_int_equal(swh_rho_u(f, 1 / v, h - sat.P * v, &c), 0);
    return c;
}

/* Baroczy 1965 in the form of Butterworth, Int. J. Multiphase Flow 1 (1975) 845 (from memory, and as the PyPI
 * package `fluids` has it): a = 1/(1 + ((1 - x)/x)^0.74 (rho_g/rho_f)^0.65 (mu_f/mu_g)^0.13). The void
 * fraction of what is in a cell must be that of the quality which flows out of it. */
static void test_void_fraction(void **state)
{
    (void)state;
    static const double T[] = {253.15, 278.15, 303.15, 328.15, 353.15},
                        s[] = {0.002, 0.02, 0.1, 0.3, 0.6, 0.95};
    for (unsigned r = 0; r < sizeof fluids / sizeof *fluids; r++)
        for (unsigned i = 0; i < sizeof T / sizeof *T; i++)
            for (unsigned k = 0; k < sizeof s / sizeof *s; k++) {
                const struct swh_fluid *f = swh_fluid_get(fluids[r]);
                const struct swh_cell_props c = cell_at(f, T[i], s[k]);
                const double x = (slip_enthalpy(&c) - c.h_f) / (c.h_g - c.h_f);
                const double published =
                    1 / (1 + pow((1 - x) / x, 0.74) * pow(c.rho_g / c.rho_f, 0.65) *
                                 pow(swh_mu_liquid(f, T[i]) / swh_mu_vapour(f, T[i]), 0.13));
                const double held = 1 / (1 + (1 - c.x) / c.x * c.rho_g / c.rho_f);
                CHECK_CLOSE(1 - held, 1 - published, 3e-4, 0);
                CHECK_CLOSE(held, published, 3e-4, 0);
            }
}

/* Mean density of an evaporator at 5 degC whose vapour grows evenly from 0.30 to 1 in quality, and of a
 * condenser at 55 degC from 1 to 0: 94 and 327 kg/m3 (computed with the PyPI packages `fluids` and CoolProp
 * from the same law, given to two figures; published void fraction in an integral of its own). */
static void test_mean_density(void **state)
{
    (void)state;
    static const double T[] = {278.15, 328.15}, from[] = {0.3, 0}, wanted[] = {94, 327};
    const struct swh_fluid *f = swh_fluid_get(SWH_R134A);
    for (int k = 0; k < 2; k++) {
        struct swh_saturation sat;
        swh_sat_T(f, T[k], &sat);
        double rho = 0;
        const int n = 2000;
        for (int i = 0; i < n; i++) {
            const double x = from[k] + (1 - from[k]) * (i + 0.5) / n;
            double low = 1e-9, high = 1 - 1e-12; /* quality of the content for which x flows out */
            for (int b = 0; b < 60; b++) {
                const double s = 0.5 * (low + high);
                const struct swh_cell_props c = cell_at(f, T[k], s);
                *((slip_enthalpy(&c) - sat.h_f) / (sat.h_g - sat.h_f) < x ? &low : &high) = s;
            }
            rho += 1 / (low / sat.rho_g + (1 - low) / sat.rho_f) / n;
        }
        CHECK_CLOSE(rho, wanted[k], 0.01, 0);
    }
}

/* T(P, h) of the exact equation of state at what a full volume shows. First order in what softening takes
 * from the pressure: within a fifth of the shift, where it would be 0.2 to 1.5 K without, up to nine tenths
 * of the critical temperature. */
static void test_softened_liquid(void **state)
{
    (void)state;
    struct swh_params p;
    struct swh_choices choices;
    static struct swh_machine m;
    swh_params_default(&p);
    swh_choices_default(&choices);
    for (unsigned r = 0; r < sizeof fluids / sizeof *fluids; r++) {
        swh_machine_set(&m, swh_fluid_get(fluids[r]), &p, &choices);
        for (double T = 263.15; T < 0.9 * m.T_critical; T += 15)
            for (double over = 5e5; over < 25e5; over *= 2) {
                struct swh_state stiff, real;
                struct swh_error err = {0};
                struct swh_saturation sat;
                struct swh_cell_props c, *at = &c;
                swh_sat_T(m.fluid, T, &sat);
                assert_int_equal(
                    swh_state_exact(swh_eos_get(fluids[r]), SWH_PT, sat.P + over, T, &stiff, &err), SWH_OK);
                assert_int_equal(volume_states(&m, 1, &stiff.rho, &stiff.u, &at), 0);
                assert_true(c.P < sat.P + 0.8 * over);
                assert_int_equal(swh_state_exact(swh_eos_get(fluids[r]), SWH_PH, c.P, c.h, &real, &err),
                                 SWH_OK);
                CHECK_CLOSE(c.T, real.T, 0, 0.2 * (T - real.T) + 0.01);
            }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_void_fraction),
        cmocka_unit_test(test_mean_density),
        cmocka_unit_test(test_softened_liquid),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
