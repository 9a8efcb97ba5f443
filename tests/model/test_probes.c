/* Probes: what a clamp comes to, how fast, and what is derived from readings. */
#include "tests/check.h"

#include "model/parts/clamp.h"
#include "tests/model/machine_bench.h"

/* A clamp is pulled toward the bay's air by 4 %; the pipe's temperature found back from it is that of the
 * pipe. */
static void test_pull(void **state)
{
    (void)state;
    struct swh_params p;
    struct swh_inputs in;
    swh_params_default(&p);
    swh_inputs_default(&in);
    CHECK_CLOSE(probe_equilibrium(&p, 280, 330), 280 + 0.04 * 50, 1e-12, 0);
    CHECK_CLOSE(probe_pipe_temperature(&p, probe_equilibrium(&p, 280, 330), 330), 280, 1e-12, 0);
    in.underhood_temperature = 351;
    CHECK_CLOSE(swh_bay_temperature(&p, &in), 351, 0, 0);
}

/* The discharge pipe follows gas that flows within the clamp's lag; standing gas hardly moves it. */
static void test_discharge_clamp(void **state)
{
    (void)state;
    static struct machine_bench b;
    bench_start(&b);
    const double goal = probe_equilibrium(&b.m.p, b.f.node[SWH_NODE_PLENUM].T, b.f.T_bay);
    const double rate = (goal - *bench_scalar(&b, SWH_S_probe_discharge)) / 15.5, m = b.f.comp.m_net;
    CHECK_CLOSE(bench_rate(&b, SWH_S_probe_discharge), rate * (0.12 + 0.88 * m / (m + 0.004)), 1e-3, 0);
    b.modes.engaged = 0;
    *bench_scalar(&b, SWH_S_speed_ratio) = 0;
    bench_compute(&b);
    CHECK_CLOSE(bench_rate(&b, SWH_S_probe_discharge), 0.12 * rate, 0.02, 0);
}

/* Subcooling as a technician finds it: saturation at the pressure behind the condenser less the liquid before
 * the valve. */
static void test_subcooling(void **state)
{
    (void)state;
    static struct machine_bench b;
    bench_start(&b);
    b.y[b.m.l.U + SWH_NODE_LIQUID] *= 0.97;
    bench_compute(&b);
    double ch[SWH_CHANNEL_COUNT] = {0}, T_sat;
    swh_machine_observe(&b.m, &b.in, &b.modes, b.y, &b.f, ch);
    swh_Tsat(b.m.fluid, b.f.node[SWH_NODE_SUBCOOL].P, &T_sat);
    CHECK_CLOSE(ch[SWH_CH_subcooling], T_sat - b.f.node[SWH_NODE_LIQUID].T, 1e-9, 0);
    assert_true(fabs(b.f.node[SWH_NODE_LIQUID].T - b.f.node[SWH_NODE_SUBCOOL].T) > 0.5);
    CHECK_CLOSE(ch[SWH_CH_volumetric_efficiency] * b.f.N * 178e-6, b.f.comp.m_net / b.f.rho[SWH_NODE_SUCTION],
                0.1, 0); /* at the port's density, near the line's */
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_pull), cmocka_unit_test(test_discharge_clamp),
                                       cmocka_unit_test(test_subcooling)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
