/* Clutch faces: what they give away, and what of it arrives. */
#include "tests/check.h"

#include "tests/model/machine_bench.h"

/* What the shell gains of the faces they lose; the rest goes to the air. No friction: the shaft is at the
 * pulley's speed. */
static void test_face_balance(void **state)
{
    (void)state;
    static struct machine_bench b;
    bench_start(&b);
    const double face = *bench_scalar(&b, SWH_S_clutch_face), shell = *bench_scalar(&b, SWH_S_shell);
    const double pulley = b.in.compressor_speed, to_shell = 3.0 * (face - shell);
    assert_true(fabs(to_shell) > 10);
    const double to_air = 4.0 * (0.3 + pulley / (pulley + 10)) * (face - b.f.T_bay);
    CHECK_CLOSE(700 * bench_rate(&b, SWH_S_clutch_face), -to_shell - to_air, 1e-9, 0);
    const double *heat = b.f.heat; /* from its first path on */
    CHECK_CLOSE(heat[SWH_CH_heat_clutch - SWH_CH_heat_shoe_friction], to_shell + 40, 1e-9, 0);
}

/* A locked shaft: sliding torque times the pulley's speed. 35 N m at 1500 rpm are 5.5 kW, 7.9 K/s into 700
 * J/K. */
static void test_locked_shaft(void **state)
{
    (void)state;
    static struct machine_bench b;
    bench_start(&b);
    bench_set(&b, SWH_P_clutch_slip_torque, 35);
    b.in.compressor_speed = 25;
    bench_compute(&b);
    const double free = bench_rate(&b, SWH_S_clutch_face);
    b.modes.seized = 1;
    bench_compute(&b);
    CHECK_CLOSE(bench_rate(&b, SWH_S_clutch_face) - free, 35 * 2 * 3.14159265358979 * 25 / 700, 1e-9, 0);
    assert_true(b.f.N == 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_face_balance),
                                       cmocka_unit_test(test_locked_shaft)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
