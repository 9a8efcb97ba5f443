/* Closures of the parts that faults act on, each recomputed here from its published or stated form: water and
 * ice on a coil, the clutch's torque, reeds, the leak, cabin, ways of the air. Sources stand beside each. */
#include "tests/check.h"

#include "model/machine.h"
#include "model/parts/parts.h"
#include "tests/solver/cases.h"

#include <string.h>

struct bench {
    struct swh_machine m;
    struct swh_inputs in;
    struct swh_modes modes;
    struct swh_flows flows;
    double y[SWH_STATE_MAX], dy[SWH_STATE_MAX];
};

static void set_machine(struct bench *b, void (*change)(struct swh_params *p))
{
    struct swh_params p;
    struct swh_choices c;
    swh_params_default(&p);
    swh_choices_default(&c);
    if (change)
        change(&p);
    swh_machine_set(&b->m, swh_fluid_get(SWH_R134A), &p, &c);
}

static void rates(struct bench *b)
{
    assert_int_equal(swh_machine_rates(&b->m, &b->in, &b->modes, b->y, b->dy, &b->flows), 0);
}

/* at rest at 32 degC, the clutch out */
static void set_bench(struct bench *b, void (*change)(struct swh_params *p))
{
    struct swh_error err = {0};
    memset(b, 0, sizeof *b);
    swh_inputs_default(&b->in);
    b->in.ambient_temperature = 305.15;
    set_machine(b, change);
    assert_int_equal(swh_machine_start(&b->m, &b->in, 0.74, b->y, &err), SWH_OK);
    b->modes = (struct swh_modes){.fan_on = 1};
    rates(b);
}

static double *state_of(struct bench *b, enum swh_scalar s)
{
    return &b->y[b->m.l.scalar + (int)s];
}

static double rate_of(const struct bench *b, enum swh_scalar s)
{
    return b->dy[b->m.l.scalar + (int)s];
}

/* ---- water and ice ---- */

/* Vapour pressure over ice, WMO (2008): 611.2 exp(22.46 t/(272.62 + t)); Murphy and Koop (2005) give 259.9 Pa
 * at -10 degC and 103.3 Pa at -20 degC (from memory). Over water below 0 degC it is higher. */
static void test_ice_pressure(void **state)
{
    (void)state;
    for (double t = -40; t < 0; t += 2.5) {
        CHECK_CLOSE(swh_frost_Psat(273.15 + t), 611.2 * exp(22.46 * t / (272.62 + t)), 1e-12, 0);
        assert_true(swh_frost_Psat(273.15 + t) < swh_water_Psat(273.15 + t));
    }
    CHECK_CLOSE(swh_frost_Psat(263.15), 259.9, 2e-3, 0);
    CHECK_CLOSE(swh_frost_Psat(253.15), 103.3, 4e-3, 0);
    CHECK_CLOSE(swh_frost_Psat(280), swh_water_Psat(280), 1e-15, 0);
    CHECK_CLOSE(swh_frost_Psat(273.15 - 1e-9), swh_water_Psat(273.15 + 1e-9), 1e-9, 0);
}

/* open = 1/(1 + (ice/block)^4): half of the air at the stated mass; the ice follows share x water within 20
 * s; its heat of fusion (333.5 kJ/kg, handbook) goes to frozen fins and comes from the others; full fins shed
 * water, not ice. */
static void test_coil(void **state)
{
    (void)state;
    struct swh_params p;
    struct swh_coil_state c;
    swh_params_default(&p);
    const double cold[3] = {263, 272.65, 280}, warm[3] = {275, 276, 280};
    swh_coil_state(&p, 1, 0.2, 0.05, 3, cold, &c);
    const double share = (1 + 0.5 + 0) / 3;
    CHECK_CLOSE(c.freezes, (share * 0.2 - 0.05) / 20, 1e-12, 0);
    CHECK_CLOSE(c.heat[0] + c.heat[1] + c.heat[2], 333.5e3 * c.freezes, 3e-3, 0);
    assert_true(c.heat[0] > 0 && c.heat[2] == 0);
    CHECK_CLOSE(c.heat[1], 0.5 * c.heat[0], 1e-12, 0);
    swh_coil_state(&p, 1, 0.2, 0.19, 3, cold, &c);
    CHECK_CLOSE(c.heat[0] + c.heat[1] + c.heat[2], 333.5e3 * c.freezes, 3e-3, 0);
    assert_true(c.freezes < 0 && c.heat[0] == 0 && c.heat[2] < 0);
    swh_coil_state(&p, 1, 0.9, p.evaporator_ice_block, 3, cold, &c);
    CHECK_CLOSE(c.open, 0.5, 1e-12, 0);
    assert_true(c.runs_off > 0.99 && c.thaws < 1e-2 * 0.65 / 20);
    swh_coil_state(&p, 1, 0.9, 0, 3, warm, &c);
    CHECK_CLOSE(c.thaws, (0.9 - p.evaporator_water) * c.runs_off / 20, 1e-12, 0);
    swh_coil_state(&p, 1, p.evaporator_water, 0, 3, warm, &c);
    assert_true(c.thaws == 0 && c.runs_off == 0 && c.open == 1 && c.freezes == 0);
    swh_coil_state(&p, 0.5, 0.2, 0.5 * p.evaporator_ice_block, 3, cold, &c);
    CHECK_CLOSE(c.open, 0.5, 1e-12, 0);
}

/* Air past the fins mixes with what they cooled: with the coil frozen shut it is all that comes. Blower: W/(m
 * cp). */
static void test_vent(void **state)
{
    (void)state;
    static struct bench b;
    set_bench(&b, NULL);
    const double T_in = 305.15 + b.m.p.evaporator_blower_power / (b.flows.memo.ambient.air_evap * 1006.0);
    for (int i = 0; i < SWH_N_EVAP; i++)
        b.y[b.m.l.wall + SWH_WALL_EVAP + i] = 275;
    rates(&b);
    const double e = b.flows.memo.ambient.evap_effectiveness, past = b.m.p.evaporator_bypass;
    CHECK_CLOSE(b.flows.T_vent, T_in - e * (1 - past) * (T_in - 275), 1e-9, 0);
    *state_of(&b, SWH_S_coil_water) = *state_of(&b, SWH_S_coil_ice) = 50;
    rates(&b);
    CHECK_CLOSE(b.flows.T_vent, T_in, 0, 1e-3);
}

/* ---- clutch ---- */

/* Newton's second law on the shaft, and the power of sliding friction: torque times the difference of the
 * speeds. */
static void test_clutch_torque(void **state)
{
    (void)state;
    struct swh_params p;
    swh_params_default(&p);
    p.clutch_torque = 10;
    CHECK_CLOSE(swh_clutch_torque(&p, 0), 10, 1e-12, 0);
    CHECK_CLOSE(swh_clutch_torque(&p, 1), 10 * 1.5, 1e-12, 0);
    /* overloaded by 6 N m on 3e-3 kg m2, pulley at 25 rev/s: d(omega/omega_pulley)/dt */
    const double slows = -(16 - 10) / (p.clutch_inertia * 2 * 3.14159265358979 * 26);
    CHECK_CLOSE(swh_clutch_rate(&p, 1, 25, 16), slows, 1e-3, 0);
    /* held without effort it comes to speed within its time constant */
    p.clutch_torque = 1e4;
    CHECK_CLOSE(swh_clutch_rate(&p, 0.4, 25, 16), 0.6 / p.clutch_engage_time, 1e-4, 0);
    assert_true(fabs(swh_clutch_rate(&p, 1, 25, 16)) < 1e-4);
}

/* What the faces give to the shell they lose, to the watt, and the air takes its share; a locked shaft: 35 N
 * m slide at the pulley's speed. */
static void test_clutch_faces(void **state)
{
    (void)state;
    static struct bench b;
    set_bench(&b, NULL);
    b.in.compressor_speed = 25;
    *state_of(&b, SWH_S_clutch_face) += 60;
    rates(&b);
    const double capacity = b.m.p.clutch_capacity;
    const double given = b.flows.heat[SWH_CH_heat_clutch - SWH_CH_heat_shoe_friction];
    const double to_air =
        b.m.p.clutch_face_air * (0.3 + 25.0 / 35) * (*state_of(&b, SWH_S_clutch_face) - b.flows.T_bay);
    CHECK_CLOSE(given, 60 * b.m.p.clutch_face_shell, 1e-12, 0);
    CHECK_CLOSE(rate_of(&b, SWH_S_clutch_face) * capacity, -given - to_air, 1e-12, 0);
    const double at_rest = rate_of(&b, SWH_S_clutch_face);
    b.modes.engaged = b.modes.seized = 1;
    rates(&b);
    CHECK_CLOSE((rate_of(&b, SWH_S_clutch_face) - at_rest) * capacity, 35 * 2 * 3.14159265358979 * 25, 1e-9,
                0);
}

/* ---- compressor ---- */

static void leaky(struct swh_params *p)
{
    p->compressor_reed_leak_area = 1e-6;
    p->compressor_passage_area = 1e-12;
}

/* Leak past shut reeds: A sqrt(2 rho dP) (Bernoulli), back into the chamber; the flow shown is what is left.
 */
static void test_reed_leak(void **state)
{
    (void)state;
    static struct bench b;
    set_bench(&b, leaky);
    b.y[b.m.l.M + SWH_NODE_CHAMBER] *= 0.5;
    b.y[b.m.l.U + SWH_NODE_CHAMBER] *= 0.5;
    rates(&b);
    const double dP = b.flows.node[SWH_NODE_PLENUM].P - b.flows.node[SWH_NODE_CHAMBER].P;
    const double rho = b.flows.rho[SWH_NODE_PLENUM], m = 1e-6 * sqrt(2 * rho * dP);
    assert_true(dP > 1e5);
    CHECK_CLOSE(b.flows.comp.m_reed, m, 1e-6, 0);
    double channel[SWH_CHANNEL_COUNT] = {0};
    swh_machine_observe(&b.m, &b.in, &b.modes, b.y, &b.flows, channel);
    CHECK_CLOSE(channel[SWH_CH_mass_flow], -m, 1e-6, 0);
}

/* First law over the bores: what is delivered carries what came in, the work, less what the metal took and
 * what leaked back; blow-by comes back as hot as it left the bores, not as it came. */
static void test_blowby_returns_hot(void **state)
{
    (void)state;
    static struct bench b;
    set_bench(&b, NULL);
    b.in.compressor_speed = 25;
    b.modes.engaged = 1;
    *state_of(&b, SWH_S_speed_ratio) = 1;
    b.y[b.m.l.M + SWH_NODE_CHAMBER] *= 0.4;
    b.y[b.m.l.U + SWH_NODE_CHAMBER] *= 0.4;
    rates(&b);
    const struct swh_compressor_flows *c = &b.flows.comp;
    double dy[SWH_STATE_MAX] = {0};
    swh_advect_compressor(&b.m, &b.flows, dy);
    const double h_1 = b.flows.node[SWH_NODE_CHAMBER].h, h_d = b.flows.node[SWH_NODE_PLENUM].h;
    const double past = c->m_through * h_1 - c->m_reed * h_d;
    assert_true(c->m_blowby > 1e-5 && c->h_2 > h_1 + 1e3);
    CHECK_CLOSE(dy[b.m.l.U + SWH_NODE_CHAMBER],
                -c->m * h_1 + c->m_blowby * (c->h_2 - h_1) - past - c->Q_block - c->Q_heads - c->Q_rotor,
                1e-12, 0);
    CHECK_CLOSE(dy[b.m.l.U + SWH_NODE_PLENUM],
                (c->m + c->m_blowby) * h_1 + c->work - c->Q_bore - c->m_blowby * c->h_2 + past -
                    c->Q_discharge,
                1e-12, 0);
}

/* ---- non-condensable gas, leak ---- */

static void gassy(struct swh_params *p)
{
    p->condenser_air_pressure = 2e5;
}

/* At rest it spreads over both sides with 200 s, while the compressor turns it gathers with 15 s (common
 * practice, no source). */
static void test_gas_spreads(void **state)
{
    (void)state;
    static struct bench b;
    set_bench(&b, gassy);
    const double r = b.m.ncg_ratio, cold = 2e5 * 305.15 / 323.15, even = cold * r / (1 + r);
    *state_of(&b, SWH_S_ncg) = even + 1e4;
    rates(&b);
    CHECK_CLOSE(rate_of(&b, SWH_S_ncg), -1e4 / 200, 1e-9, 0);
    b.in.compressor_speed = 3e5;
    *state_of(&b, SWH_S_speed_ratio) = 1;
    b.flows.N = 3e5;
    const double a = swh_ncg_rate(&b.m, &b.flows, 1e4, 305.15), c = swh_ncg_rate(&b.m, &b.flows, 2e4, 305.15);
    CHECK_CLOSE(a - c, 1e4 / 15, 1e-4, 0);
}

/* A leak falls silent when the circuit has come down to the air outside. */
static void test_leak_fades(void **state)
{
    (void)state;
    static struct bench b;
    set_bench(&b, NULL);
    b.modes.leak = 1e-3;
    rates(&b);
    const double full = b.dy[b.m.l.sum + SWH_SUM_MASS_OUT];
    CHECK_CLOSE(full, 1e-3, 1e-12, 0);
    b.in.ambient_pressure = b.flows.P[SWH_NODE_LIQUID] + 1;
    rates(&b);
    assert_true(b.dy[b.m.l.sum + SWH_SUM_MASS_OUT] == 0);
}

/* ---- air ---- */

/* A person gives off about 75 W of sensible heat and 15 mg/s of water at rest (ASHRAE Fundamentals, from
 * memory). */
static void test_occupants(void **state)
{
    (void)state;
    static struct bench b;
    double T[2], W[2];
    set_bench(&b, NULL);
    for (int k = 0; k < 2; k++) {
        b.in.occupants = 1 + 3 * k;
        rates(&b);
        T[k] = rate_of(&b, SWH_S_cabin);
        W[k] = rate_of(&b, SWH_S_cabin_water);
    }
    CHECK_CLOSE((T[1] - T[0]) * b.m.p.cabin_air_mass * 1006.0, 3 * 75.0, 1e-9, 0);
    CHECK_CLOSE((W[1] - W[0]) * b.m.p.cabin_air_mass, 3 * 1.5e-5, 1e-9, 0);
}

/* Air that comes round to the condenser's face: 1/e of it is left at 5 m/s (common practice, no source). The
 * balance of the mixing: T_in = (1 - r) T_ambient + r T_out. */
static void test_recirculation(void **state)
{
    (void)state;
    static struct bench b;
    set_bench(&b, NULL);
    for (int k = 0; k < 3; k++) {
        b.in.vehicle_speed = 5.0 * k;
        for (int i = 0; i <= SWH_WALL_SUBCOOL; i++)
            b.y[b.m.l.wall + i] = 330;
        rates(&b);
        const double r = b.m.p.condenser_recirculation * exp(-k);
        CHECK_CLOSE(b.flows.T_cond_in, (1 - r) * 305.15 + r * b.flows.T_cond_out, 1e-9, 0);
    }
}

/* ---- what is read ---- */

/* Subcooling: saturation at the condenser's end, where the gauge's pressure is, less the temperature before
 * the expansion device. A clamp follows standing gas hardly: an eighth as fast as flowing gas (common
 * practice, no source). */
static void test_readings(void **state)
{
    (void)state;
    static struct bench b;
    double channel[SWH_CHANNEL_COUNT] = {0}, T_sat = 0;
    set_bench(&b, NULL);
    b.y[b.m.l.U + SWH_NODE_LIQUID] -= 2e3 * b.y[b.m.l.M + SWH_NODE_LIQUID];
    rates(&b);
    swh_machine_observe(&b.m, &b.in, &b.modes, b.y, &b.flows, channel);
    swh_Tsat(b.m.fluid, b.flows.node[SWH_NODE_SUBCOOL].P, &T_sat);
    CHECK_CLOSE(channel[SWH_CH_subcooling], T_sat - b.flows.node[SWH_NODE_LIQUID].T, 1e-9, 1e-9);
    *state_of(&b, SWH_S_probe_discharge) -= 10;
    rates(&b);
    const double lag = b.m.p.probe_discharge_lag + 0.5;
    const double still = b.flows.node[SWH_NODE_PLENUM].T -
                         b.m.p.probe_discharge_pull * (b.flows.node[SWH_NODE_PLENUM].T - b.flows.T_bay) -
                         *state_of(&b, SWH_S_probe_discharge);
    CHECK_BETWEEN(rate_of(&b, SWH_S_probe_discharge) * lag / still, 0.12, 0.25);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ice_pressure),
        cmocka_unit_test(test_coil),
        cmocka_unit_test(test_vent),
        cmocka_unit_test(test_clutch_torque),
        cmocka_unit_test(test_clutch_faces),
        cmocka_unit_test(test_reed_leak),
        cmocka_unit_test(test_blowby_returns_hot),
        cmocka_unit_test(test_gas_spreads),
        cmocka_unit_test(test_leak_fades),
        cmocka_unit_test(test_occupants),
        cmocka_unit_test(test_recirculation),
        cmocka_unit_test(test_readings),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
