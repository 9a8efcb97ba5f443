/* Oil: viscosity, dilution, its way round, its age; each formula computed again. */
#include "tests/check.h"

#include "model/parts/oil.h"
#include "tests/model/machine_bench.h"

/* ASTM D341 (Walther): log10 log10(nu + 0.7) = A - B log10 T through the grade's two points. ISO VG 46 to ISO
 * 3448 lies within 10 % of 46 mm2/s. */
static void test_walther(void **state)
{
    (void)state;
    const struct swh_walther w = swh_walther_line(46e-6, 9.5e-6);
    /* the line has a floor of 0.2 mm2/s below, which is felt by a few thousandths here */
    CHECK_CLOSE(swh_walther_viscosity(&w, 313.15), 46e-6, 2e-3, 0);
    CHECK_CLOSE(swh_walther_viscosity(&w, 373.15), 9.5e-6, 2e-3, 0);
    const double y1 = log10(log10(46 + 0.7)), y2 = log10(log10(9.5 + 0.7));
    const double B = (y1 - y2) / (log10(373.15) - log10(313.15)), A = y1 + B * log10(313.15);
    for (double T = 273.15; T < 450; T += 20) {
        const double nu = pow(10, pow(10, A - B * log10(T))) - 0.7;
        if (nu > 2)
            CHECK_CLOSE(swh_walther_viscosity(&w, T), 1e-6 * nu, 2e-3, 0);
        assert_true(swh_walther_viscosity(&w, T) > swh_walther_viscosity(&w, T + 1));
    }
}

/* mu = rho nu exp(-7 w), w = 0.45 r/(1 + 0.45 r), r = P_s/Psat(T_oil); a wet chamber saturates it. */
static void test_dilution(void **state)
{
    (void)state;
    struct swh_params p;
    swh_params_default(&p);
    const struct swh_fluid *f = swh_fluid_get(SWH_R134A);
    for (double wetness = 0; wetness <= 1; wetness += 0.25) {
        double P_sat;
        swh_Psat(f, 333.15, &P_sat);
        const double gas = 3e5 / P_sat, r = gas + wetness * (1 - gas), w = 0.45 * r / (1 + 0.45 * r);
        CHECK_CLOSE(swh_oil_dilution(&p, f, 333.15, 3e5, wetness), 990 * exp(-7 * w), 1e-3, 0);
    }
}

/* Out: circulation x flow x oil there is. Back: swept by the gas's momentum, hindered by a dry outlet, 1/(1 +
 * (superheat/21 K)^4); what an accumulator keeps stays. */
static void test_way_round(void **state)
{
    (void)state;
    struct swh_params p;
    swh_params_default(&p);
    for (double m = 0.01; m < 0.08; m *= 1.6)
        for (double superheat = 4; superheat < 50; superheat *= 1.7) {
            const struct swh_oil_flows f = swh_oil_rates(&p, m, 14, superheat, 0.03, 0.06, 0.08);
            const double J2 = (m / 0.05) * (m / 0.05) * 14 / 14.0; /* gas momentum over a healthy drive's */
            CHECK_CLOSE(f.out, 0.015 * m * 0.06 / 0.075, 1e-3, 0);
            CHECK_CLOSE(f.back, 0.05 / 25 * J2 / (J2 + 0.2 * 0.2) / (1 + pow(superheat / 21, 4)), 0.04, 0);
        }
    /* the rounding near zero superheat apart, the law itself */
    const double far = swh_oil_rates(&p, 0.05, 14, 60, 0, 0.06, 0.05).back,
                 near = swh_oil_rates(&p, 0.05, 14, 30, 0, 0.06, 0.05).back;
    CHECK_CLOSE(swh_oil_rates(&p, 0.05, 14, 0, 0.06, 0.06, 0.02).back, 0, 0, 2e-6); /* less than it keeps */
    CHECK_CLOSE(near / far, (1 + pow(60 / 21.0, 4)) / (1 + pow(30 / 21.0, 4)), 2e-3, 0);
}

/* Arrhenius: one hour of life at 177 degC (trade: mineral oil breaks down there), 100 kJ/mol. */
static void test_ageing(void **state)
{
    (void)state;
    static struct machine_bench b;
    bench_start(&b);
    for (double T = 350; T < 470; T += 33) {
        *bench_scalar(&b, SWH_S_oil) = T;
        bench_compute(&b);
        CHECK_CLOSE(bench_rate(&b, SWH_S_life), exp(12000 * (1 / 450.15 - 1 / T)) / 3600, 1e-10, 0);
    }
}

/* What leaves the compressor lies in the evaporator: none is lost. */
static void test_none_is_lost(void **state)
{
    (void)state;
    static struct machine_bench b;
    bench_start(&b);
    assert_true(bench_rate(&b, SWH_S_oil_comp) != 0);
    CHECK_CLOSE(bench_rate(&b, SWH_S_oil_comp), -bench_rate(&b, SWH_S_oil_evap), 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_walther), cmocka_unit_test(test_dilution),
                                       cmocka_unit_test(test_way_round), cmocka_unit_test(test_ageing),
                                       cmocka_unit_test(test_none_is_lost)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
