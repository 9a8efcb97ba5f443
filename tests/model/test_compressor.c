/* The compressor's gas side, each formula computed again. */
#include "tests/check.h"

#include "model/parts/compressor.h"
#include "tests/model/machine_bench.h"

static const double PI = 3.14159265358979323846;

struct point {
    struct swh_params p;
    struct swh_cell_props suction;
    struct swh_compressor_in in;
    struct swh_compressor_flows out;
    double rho, h_2s, rho_2s; /* dry suction gas: its density and the end of its isentrope */
};

static const struct swh_fluid *fluid(void)
{
    return swh_fluid_get(SWH_R134A);
}

/* suction gas of P [Pa] and T [K], or wet of quality x < 1 */
static void set_point(struct point *q, double P, double T, double x, double P_d, double N)
{
    swh_params_default(&q->p);
    double h, rho, s;
    struct swh_saturation sat;
    swh_sat_P(fluid(), P, &sat);
    swh_P_T_vapour(fluid(), P, T, &h, &rho);
    if (x < 1) {
        h = sat.h_f + x * (sat.h_g - sat.h_f);
        rho = 1 / (x / sat.rho_g + (1 - x) / sat.rho_f);
    }
    assert_int_equal(swh_rho_u(fluid(), rho, h - P / rho, &q->suction), 0);
    struct swh_ph_props port;
    swh_P_h(fluid(), P, x < 1 ? sat.h_g : h, &port);
    s = x < 1 ? sat.s_g : port.s;
    swh_P_s(fluid(), P_d, s, &q->h_2s, &q->rho_2s);
    q->rho = rho;
    q->in = (struct swh_compressor_in){.N = N,
                                       .suction = &q->suction,
                                       .rho_suction = rho,
                                       .u_suction = h - P / rho,
                                       .P_d = P_d,
                                       .rho_d = 80,
                                       .T_block = 340,
                                       .T_heads = 350,
                                       .T_rotor = 345,
                                       .T_d = 365,
                                       .mu = 5e-3,
                                       .supply = 0.9,
                                       .clearance = 12e-6};
    assert_int_equal(swh_compressor_eval(&q->p, fluid(), &q->in, &q->out), 0);
}

/* eta_v = (1 + C - C rho_2s/rho_1) 0.96 exp(-0.125 n - 0.042 n^2), n = N/33.3 */
static void test_filling(void **state)
{
    (void)state;
    struct point q;
    for (double N = 13; N < 80; N *= 1.5) {
        set_point(&q, 3e5, 285, 1, 16e5, N);
        const double n = N / 33.3, throttle = 0.96 * exp(-0.125 * n - 0.042 * n * n);
        CHECK_CLOSE(q.out.eta_v, (1.04 - 0.04 * q.rho_2s / q.rho) * throttle, 3e-3, 0);
        CHECK_CLOSE(q.out.m_in, q.out.eta_v * 178e-6 * N * q.rho, 3e-3, 0);
    }
}

/* work = m (h_2s - h_1)/eta_i, eta_i 0.82 at a pressure ratio of 3.5 and slow, falling with speed squared;
 * the gas leaves with what the work and the bores' heat make of it */
static void test_work(void **state)
{
    (void)state;
    struct point q;
    for (double N = 13; N < 80; N *= 1.5) {
        set_point(&q, 3e5, 285, 1, 10.5e5, N);
        const double eta_i = 0.82 / (1 + 0.03 * (N / 33.3) * (N / 33.3));
        CHECK_CLOSE(q.out.eta_i, eta_i, 1e-4, 0);
        CHECK_CLOSE(q.out.work, q.out.m_in * (q.h_2s - q.suction.h) / eta_i, 2e-3, 0);
        CHECK_CLOSE(q.out.m_in * (q.out.h_2 - q.suction.h), q.out.work - q.out.Q_bore, 1e-9, 0);
    }
}

/* Gas in the bores is as hot as the mean of both plena; conductances go with the flow to three quarters
 * (turbulent tube). */
static void test_bore_heat(void **state)
{
    (void)state;
    struct point q;
    set_point(&q, 3e5, 285, 1, 16e5, 25);
    const double UA = 4.0 * pow(q.out.m_in / 0.05, 0.75);
    CHECK_CLOSE(q.out.Q_bore, UA * (0.5 * (285 + 365) - 340), 1e-3, 0);
}

static void test_chamber_heat(void **state)
{
    (void)state;
    struct point q;
    set_point(&q, 3e5, 285, 1, 16e5, 25);
    const double flow = pow(q.out.m_in / 0.05, 0.75), spin = pow((25 + 0.5) * q.rho / (25 * 15), 0.75);
    CHECK_CLOSE(q.out.Q_block, 6.0 * flow * (285 - 340), 1e-3, 0);
    CHECK_CLOSE(q.out.Q_heads, 3.0 * flow * (285 - 350), 1e-3, 0);
    CHECK_CLOSE(q.out.Q_rotor, 3.5 * spin * (285 - 345), 1e-4, 0);
    CHECK_CLOSE(q.out.Q_discharge, 8.0 * pow(q.out.m / 0.05, 0.75) * (365 - 350), 1e-3, 0);
}

/* Boiling liquid takes up to four times as much heat as gas: quality 0.8 and less. */
static void test_wet_suction(void **state)
{
    (void)state;
    struct point q;
    set_point(&q, 3e5, 285, 0.75, 16e5, 25);
    const double flow = 4 * pow(q.out.m_in / 0.05, 0.75);
    CHECK_CLOSE(q.out.Q_block, 6.0 * flow * (q.suction.T - 340), 1e-3, 0);
    /* the work is that of its vapour, from saturation */
    struct swh_saturation sat;
    swh_sat_P(fluid(), 3e5, &sat);
    CHECK_CLOSE(q.out.work, q.out.m_in * 0.75 * (q.h_2s - sat.h_g) / q.out.eta_i, 2e-3, 0);
}

/* Laminar slot: pi d c^3 dP/(12 mu L) on ten bores, over half the time and area, oil and gas side by side. */
static void test_blowby(void **state)
{
    (void)state;
    struct point q;
    set_point(&q, 3e5, 285, 1, 16e5, 25);
    const double slot = 10 * PI * 0.031 * pow(12e-6, 3) / (12 * 0.022);
    const double gas = 0.08 * sqrt(3e-3 / 5e-3) / (0.1 + 0.9);
    const double mobility = gas / swh_mu_gas(fluid(), q.suction.T) + (1 - gas) / 5e-3;
    const double leak = 0.30 * 0.5 * q.rho_2s * slot * mobility * 13e5;
    CHECK_CLOSE(q.out.m_blowby / q.out.m_in, leak / (q.out.m_in + leak), 0.02, 0);
    CHECK_CLOSE(q.out.m, q.out.m_in - q.out.m_blowby, 1e-14, 0);
}

/* First law over the bores in the machine: what is delivered arrives in the plenum with h_2, and so does
 * blow-by in the chamber. */
static void test_blowby_returns_hot(void **state)
{
    (void)state;
    static struct machine_bench a, b;
    bench_start(&a);
    bench_start(&b);
    bench_set(&a, SWH_P_freeze_blowby_share, 0.0);
    bench_set(&b, SWH_P_freeze_blowby_share, 0.2);
    const int M = a.m.l.M, U = a.m.l.U;
    const double m_leak = b.f.comp.m_blowby, h_2 = b.f.comp.h_2;
    assert_true(m_leak > 1e-3);
    CHECK_CLOSE(b.dy[M + SWH_NODE_CHAMBER] - a.dy[M + SWH_NODE_CHAMBER], m_leak, 1e-9, 0);
    CHECK_CLOSE(b.dy[U + SWH_NODE_CHAMBER] - a.dy[U + SWH_NODE_CHAMBER], m_leak * h_2, 1e-6, 0);
    CHECK_CLOSE(b.dy[U + SWH_NODE_PLENUM] - a.dy[U + SWH_NODE_PLENUM] -
                    (a.f.comp.Q_discharge - b.f.comp.Q_discharge) -
                    1900 * (b.f.oil.out - a.f.oil.out) *
                        (*bench_scalar(&a, SWH_S_oil) - a.f.node[SWH_NODE_CHAMBER].T),
                -m_leak * h_2, 1e-6, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_filling),           cmocka_unit_test(test_work),
        cmocka_unit_test(test_bore_heat),         cmocka_unit_test(test_chamber_heat),
        cmocka_unit_test(test_wet_suction),       cmocka_unit_test(test_blowby),
        cmocka_unit_test(test_blowby_returns_hot)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
