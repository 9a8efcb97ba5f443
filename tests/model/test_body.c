/* The metal of the compressor: every node's balance computed again from the conductances. */
#include "tests/check.h"

#include "tests/model/machine_bench.h"

/* node by node: conduction, half of each friction, the gas's heat (bores: three fifths to the block, the rest
 * to the pistons) */
static void test_balances(void **state)
{
    (void)state;
    static struct machine_bench b;
    bench_start(&b);
    *bench_scalar(&b, SWH_S_oil_comp) = 0.045;
    bench_set(&b, SWH_P_compressor_ua_bore_gas, 60); /* so that it counts among the others */
    const struct swh_film *f = &b.f.film;
    const struct swh_compressor_flows *c = &b.f.comp;
    const double rotor = *bench_scalar(&b, SWH_S_rotor), piston = *bench_scalar(&b, SWH_S_piston);
    const double block = *bench_scalar(&b, SWH_S_block), head = *bench_scalar(&b, SWH_S_head);
    const double shell = *bench_scalar(&b, SWH_S_shell), oil = *bench_scalar(&b, SWH_S_oil);
    const double splash =
        (0.1 + 0.9 * b.f.N / (b.f.N + 3)) * fmin(*bench_scalar(&b, SWH_S_oil_comp) / 0.075, 1.2);
    const double q_rotor = f->shoe + 0.5 * f->bearing + c->Q_rotor - 5 * (rotor - block) -
                           6 * splash * (rotor - oil) + 3 * (piston - rotor);
    const double q_piston = 0.5 * f->piston + 0.4 * c->Q_bore - 200 * (piston - block) - 3 * (piston - rotor);
    const double q_block = 0.5 * f->bearing + 0.5 * f->piston + 0.6 * c->Q_bore + c->Q_block +
                           5 * (rotor - block) + 200 * (piston - block) - 30 * (block - head) -
                           22 * (block - shell) + 8 * (0.2 + 0.8 * splash) * (oil - block);
    const double q_head = c->Q_heads + c->Q_discharge + 30 * (block - head) - 10 * (head - shell);
    assert_true(fabs(c->Q_bore) > 200);
    /* the splash is rounded near its end: some watts */
    CHECK_CLOSE(620 * bench_rate(&b, SWH_S_rotor), q_rotor, 0, 3);
    CHECK_CLOSE(330 * bench_rate(&b, SWH_S_piston), q_piston, 1e-9, 0);
    CHECK_CLOSE(2100 * bench_rate(&b, SWH_S_block), q_block, 0, 3);
    CHECK_CLOSE(1200 * bench_rate(&b, SWH_S_head), q_head, 1e-9, 0);
}

/* Shell: convection, radiation (Stefan and Boltzmann), bracket. A shell hotter than its bay loses by each. */
static void test_shell(void **state)
{
    (void)state;
    static struct machine_bench b;
    bench_start(&b);
    const double shell = *bench_scalar(&b, SWH_S_shell), bay = b.f.T_bay;
    assert_true(shell > bay + 5);
    const double *heat = b.f.heat; /* from its first path on */
    CHECK_CLOSE(heat[SWH_CH_heat_shell_radiation - SWH_CH_heat_shoe_friction],
                -0.8 * 5.670374419e-8 * 0.14 * (pow(shell, 4) - pow(bay, 4)), 1e-9, 0);
    CHECK_CLOSE(heat[SWH_CH_heat_shell_air - SWH_CH_heat_shoe_friction], -12 * 0.14 * (shell - bay), 1e-9, 0);
    CHECK_CLOSE(heat[SWH_CH_heat_bracket - SWH_CH_heat_shoe_friction], 1.0 * (363.15 - shell), 1e-9, 0);
    const double block = *bench_scalar(&b, SWH_S_block), head = *bench_scalar(&b, SWH_S_head);
    const double q = 22 * (block - shell) + 10 * (head - shell) +
                     heat[SWH_CH_heat_shell_radiation - SWH_CH_heat_shoe_friction] +
                     heat[SWH_CH_heat_shell_air - SWH_CH_heat_shoe_friction] +
                     heat[SWH_CH_heat_bracket - SWH_CH_heat_shoe_friction] +
                     heat[SWH_CH_heat_clutch - SWH_CH_heat_shoe_friction];
    CHECK_CLOSE(1500 * bench_rate(&b, SWH_S_shell), q, 1e-9, 0);
}

/* The oil that goes round leaves as hot as the sump and comes back as cold as the suction gas. */
static void test_oil_carries(void **state)
{
    (void)state;
    static struct machine_bench b;
    bench_start(&b);
    const double *heat = b.f.heat; /* from its first path on */
    CHECK_CLOSE(heat[SWH_CH_heat_oil_carry - SWH_CH_heat_shoe_friction],
                -b.f.oil.out * 1900 * (*bench_scalar(&b, SWH_S_oil) - b.f.node[SWH_NODE_CHAMBER].T), 1e-12,
                0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_balances), cmocka_unit_test(test_shell),
                                       cmocka_unit_test(test_oil_carries)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
