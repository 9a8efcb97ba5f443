/* Humid air: tables of water's vapour pressure, humidity, one coil wall. */
#include "tests/check.h"

#include "model/parts/air.h"

/* Saturation pressure of water, IAPWS-IF97 (steam tables): 0, 10, 20, 30, 40 degC. */
static void test_saturation(void **state)
{
    (void)state;
    static const double table[][2] = {{0, 611.2}, {10, 1228.2}, {20, 2339.3}, {30, 4246.9}, {40, 7384.9}};
    for (int i = 0; i < 5; i++)
        CHECK_CLOSE(swh_water_Psat(273.15 + table[i][0]), table[i][1], 6e-3, 0);
}

/* W = 0.62198 p_v/(P - p_v); ASHRAE Fundamentals: saturated at 20 degC and 101.325 kPa 14.7 g/kg. */
static void test_humidity(void **state)
{
    (void)state;
    CHECK_CLOSE(swh_humidity(293.15, 1.0, 101325), 0.0147, 0.01, 0);
    const double p_v = 0.45 * swh_water_Psat(305.15);
    CHECK_CLOSE(swh_humidity(305.15, 0.45, 101325), 0.62198 * p_v / (101325 - p_v), 1e-3, 0);
}

/* Kays and London: 1 - exp(-NTU) against a wall of one temperature. */
static void test_effectiveness(void **state)
{
    (void)state;
    CHECK_CLOSE(swh_wall_effectiveness(0.2, 300), 1 - exp(-300 / (0.2 * 1006)), 1e-14, 0);
}

/* Dry wall: sensible heat only. Wet wall, Lewis number 1: the same effectiveness takes the air's water toward
 * the wall's saturation, 2.5 MJ/kg. */
static void test_wall(void **state)
{
    (void)state;
    const struct swh_air_in in = {.T = 305.15, .W = 0.0135, .m_air = 0.03, .P = 101325, .effectiveness = 0.7};
    const double T_wall[3] = {300, 280, 275};
    struct swh_air_side out[3];
    swh_air_to_walls(3, &in, T_wall, out);
    for (int i = 0; i < 3; i++) {
        const double sensible = 0.7 * 0.03 * 1006 * (305.15 - T_wall[i]);
        const double dW = fmax(0.0135 - swh_humidity(T_wall[i], 1, 101325), 0);
        CHECK_CLOSE(out[i].water, 0.7 * 0.03 * dW, 0.02, 1.2e-6);
        CHECK_CLOSE(out[i].Q, sensible + 2.5e6 * out[i].water, 1e-12, 0);
        CHECK_CLOSE(out[i].T_out, 305.15 - 0.7 * (305.15 - T_wall[i]), 1e-12, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_saturation), cmocka_unit_test(test_humidity),
                                       cmocka_unit_test(test_effectiveness), cmocka_unit_test(test_wall)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
