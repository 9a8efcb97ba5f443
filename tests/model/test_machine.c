/* The machine as rates: conservation by construction, sparsity, purity; and runs as a whole: repeatability,
 * tolerance. */
#include "tests/check.h"

#include "model/base/smooth.h"
#include "model/machine.h"
#include "tests/solver/cases.h"

#include <pthread.h>
#include <string.h>

struct bench {
    struct swh_machine m;
    struct swh_inputs in;
    struct swh_modes modes;
    struct swh_flows flows;
    double y[SWH_STATE_MAX], dy[SWH_STATE_MAX], dy2[SWH_STATE_MAX];
};

/* A running machine away from rest: pressures, temperatures and flows of every kind. */
static void set_bench(struct bench *b, int expansion, double rear)
{
    struct swh_params p;
    struct swh_choices c;
    struct swh_error err = {0};
    swh_params_default(&p);
    swh_choices_default(&c);
    swh_inputs_default(&b->in);
    c.vehicle_expansion = expansion;
    p.rear_evaporator_size = rear;
    p.condenser_air_pressure = 2e5;
    swh_machine_set(&b->m, swh_fluid_get(SWH_R134A), &p, &c);
    assert_int_equal(swh_machine_start(&b->m, &b->in, 0.74, b->y, &err), SWH_OK);
    b->modes = (struct swh_modes){.engaged = 1, .fan_on = 1};
    b->y[b->m.l.scalar + SWH_S_speed_ratio] = 1;
    for (int i = 0; i < b->m.l.n_nodes; i++) {
        const double k = i == SWH_NODE_CHAMBER || i == SWH_NODE_SUCTION ? 0.7
                         : i == 1                                       ? 1.3
                                                                        : 1 + 0.002 * (i % 5);
        b->y[b->m.l.M + i] *= k;
        b->y[b->m.l.U + i] *= k * (1 + 0.003 * i);
    }
    for (int i = 0; i < b->m.l.n_walls; i++)
        b->y[b->m.l.wall + i] += 1.3 * i - 8;
    for (int i = SWH_S_rotor; i <= SWH_S_clutch_face; i++)
        b->y[b->m.l.scalar + i] += 3.0 * i;
    b->y[b->m.l.scalar + SWH_S_bulb] -= 5;
    assert_int_equal(swh_machine_rates(&b->m, &b->in, &b->modes, b->y, b->dy, &b->flows), 0);
}

static const double variants[4][2] = {{0, 0}, {1, 0}, {0, 0.7}, {1, 0.7}};

/* mass is neither made nor lost; energy changes by what the ledger says (first law), to rounding */
static void test_conserves(void **state)
{
    (void)state;
    static struct bench b;
    for (int v = 0; v < 4; v++) {
        set_bench(&b, (int)variants[v][0], variants[v][1]);
        double mass = 0, flow = 0;
        for (int i = 0; i < b.m.l.n_nodes; i++) {
            mass += b.dy[b.m.l.M + i];
            flow += fabs(b.dy[b.m.l.M + i]);
        }
        assert_true(flow > 0.01);
        CHECK_CLOSE(mass, 0, 0, 1e-13 * flow);
        const double stored = swh_machine_energy(&b.m, b.dy), added = swh_machine_energy_added(&b.m, b.dy);
        assert_true(fabs(added) > 100);
        CHECK_CLOSE(stored, added, 1e-11, 1e-6);
        CHECK_CLOSE(swh_machine_body_energy(&b.m, b.dy), swh_machine_body_added(&b.m, b.dy), 1e-11, 1e-7);
    }
}

/* a machine is only ever changed as a whole */
static void set_param(struct bench *b, int param, double value)
{
    struct swh_params p = b->m.p;
    swh_param_set(&p, param, value);
    swh_machine_set(&b->m, swh_fluid_get(SWH_R134A), &p, &b->m.c);
}

/* Gas at rest passes both reeds forward, from where its pressure is higher, and takes its own enthalpy along
 * (first law, open system); backward it does not pass (check valves: common practice, no source). */
static void test_reeds_pass_forward_only(void **state)
{
    (void)state;
    static struct bench b;
    for (int forward = 0; forward < 2; forward++) {
        set_bench(&b, 0, 0);
        const int from = forward ? SWH_NODE_CHAMBER : SWH_NODE_PLENUM, M = b.m.l.M + SWH_NODE_PLENUM,
                  U = b.m.l.U + SWH_NODE_PLENUM;
        b.modes.engaged = 0;
        b.y[b.m.l.scalar + SWH_S_speed_ratio] = 0;
        b.y[b.m.l.scalar + SWH_S_ncg] = 0;
        set_param(&b, SWH_P_condenser_air_pressure, 0);
        set_param(&b, SWH_P_compressor_reed_leak_area, 0);
        b.y[b.m.l.M + from] *= 2;
        b.y[b.m.l.U + from] *= 2;
        assert_int_equal(swh_machine_rates(&b.m, &b.in, &b.modes, b.y, b.dy, &b.flows), 0);
        const double dM = b.dy[M], dU = b.dy[U], h = b.flows.node[SWH_NODE_CHAMBER].h;
        set_param(&b, SWH_P_compressor_passage_area, 2 * b.m.p.compressor_passage_area);
        assert_int_equal(swh_machine_rates(&b.m, &b.in, &b.modes, b.y, b.dy, &b.flows), 0);
        if (!forward) {
            CHECK_CLOSE(b.dy[M], dM, 0, 1e-6);
            continue;
        }
        assert_true(b.dy[M] - dM > 1e-3);
        CHECK_CLOSE((b.dy[U] - dU) / (b.dy[M] - dM), h, 1e-9, 0);
    }
}

static int in_pattern(const int *col_ptr, const int *row_idx, int row, int col)
{
    for (int q = col_ptr[col]; q < col_ptr[col + 1]; q++)
        if (row_idx[q] == row)
            return 1;
    return 0;
}

static void check_dependency(struct bench *b, const int *col_ptr, const int *row_idx, int column, double to)
{
    const double y = b->y[column];
    b->y[column] = to;
    const int outside = swh_machine_rates(&b->m, &b->in, &b->modes, b->y, b->dy2, &b->flows);
    b->y[column] = y;
    for (int i = 0; i < b->m.l.n && !outside; i++)
        if (b->dy[i] != b->dy2[i] && !in_pattern(col_ptr, row_idx, i, column)) {
            char row[64], col[64];
            swh_state_name(&b->m.l, i, row, sizeof row);
            swh_state_name(&b->m.l, column, col, sizeof col);
            print_error("%s depends on %s, but the sparsity does not say so\n", row, col);
            fail();
        }
}

static void check_columns(struct bench *b, const int *col_ptr, const int *row_idx)
{
    for (int j = 0; j < b->m.l.n; j++) {
        const double more = j < b->m.l.wall ? 0 : 1;
        check_dependency(b, col_ptr, row_idx, j, b->y[j] * (1 + 1e-6) + 1e-4 * more);
        check_dependency(b, col_ptr, row_idx, j, b->y[j] * 1.01 + 1e-2 * more);
    }
}

/* a machine that has leaked down to a tenth of a bar above the air outside, where the leak falls silent: were
 * its slope left out of one balance and not of the other, charge would be lost */
static void empty_bench(struct bench *b)
{
    for (int i = 0; i < b->m.l.n_nodes; i++) {
        const double P = (1 + 0.001 * (i % 5)) * 106e3;
        double h = 0, rho = 0;
        assert_int_equal(swh_P_T_vapour(b->m.fluid, P, 303, &h, &rho), 0);
        b->y[b->m.l.M + i] = rho * b->m.volume[i];
        b->y[b->m.l.U + i] = rho * b->m.volume[i] * (h - P / rho);
    }
    b->y[b->m.l.scalar + SWH_S_ncg] = 0;
}

/* every rate that depends on a state stands in the sparsity, and that is few of all: checked by moving each
 * state, a little and much, of machines that run, stand, blow off, leak and are seized */
static void test_sparsity_covers(void **state)
{
    (void)state;
    static const struct swh_modes modes[] = {{.engaged = 1, .fan_on = 1},
                                             {.relief_open = 1},
                                             {.engaged = 1, .seized = 1},
                                             {.engaged = 1, .leak = 1e-3},
                                             {.fan_on = 1, .leak = -1e-3}};
    static struct bench b;
    static int col_ptr[SWH_STATE_MAX + 1], row_idx[SWH_STATE_MAX * 40];
    for (int v = 0; v < 8; v++) {
        set_bench(&b, (int)variants[v % 4][0], variants[v % 4][1]);
        if (v >= 4)
            empty_bench(&b);
        const int entries = swh_machine_sparsity(&b.m, col_ptr, row_idx, SWH_STATE_MAX * 40);
        assert_in_range(entries, 1, b.m.l.n * b.m.l.n / 8);
        for (size_t k = 0; k < sizeof modes / sizeof *modes; k++) {
            b.modes = modes[k];
            assert_int_equal(swh_machine_rates(&b.m, &b.in, &b.modes, b.y, b.dy, &b.flows), 0);
            check_columns(&b, col_ptr, row_idx);
        }
    }
}

static double moved_rate(struct bench *b, int row, int column, double shift)
{
    const double y = b->y[column];
    b->y[column] = y + shift;
    assert_int_equal(swh_machine_rates(&b->m, &b->in, &b->modes, b->y, b->dy2, &b->flows), 0);
    b->y[column] = y;
    return b->dy2[row];
}

/* left out of the derivatives, as the header says */
static int left_out(const struct swh_layout *l, int row)
{
    const int s = row - l->scalar;
    return s == SWH_S_oil_comp || s == SWH_S_oil_evap || s == SWH_S_ncg;
}

static void compare_column(struct bench *b, int column, const double *slope)
{
    const double y = b->y[column], shift = column < b->m.l.wall ? 3e-7 * fabs(y) : 1e-4;
    for (int i = 0; i < b->m.l.n; i++) {
        if (left_out(&b->m.l, i))
            continue;
        const double up = moved_rate(b, i, column, shift), down = moved_rate(b, i, column, -shift);
        const double wanted = (up - down) / (2 * shift);
        char row[64], col[64];
        swh_state_name(&b->m.l, i, row, sizeof row);
        swh_state_name(&b->m.l, column, col, sizeof col);
        if (fabs(slope[i] - wanted) <= 1e-4 * fabs(wanted) + 1e-10 * (fabs(up) + 1) / shift)
            continue;
        print_error("%s by %s: %g, by differences %g\n", row, col, slope[i], wanted);
        fail();
    }
}

static void compare_derivatives(struct bench *b)
{
    static int col_ptr[SWH_STATE_MAX + 1], row_idx[SWH_STATE_MAX * 40];
    static double value[SWH_STATE_MAX * 40 + 1];
    static struct swh_entries entries;
    unsigned char known[SWH_STATE_MAX];
    const int n = b->m.l.n;
    assert_true(swh_machine_sparsity(&b->m, col_ptr, row_idx, SWH_STATE_MAX * 40) > 0);
    swh_entries_set(&entries, n, col_ptr, row_idx);
    assert_int_equal(swh_machine_rates(&b->m, &b->in, &b->modes, b->y, b->dy, &b->flows), 0);
    assert_int_equal(swh_machine_jacobian(&b->m, &b->modes, b->y, &b->flows, &entries, value), 0);
    swh_machine_slope_columns(&b->m, known);
    for (int j = 0; j < n; j++) {
        double column[SWH_STATE_MAX] = {0}, turned = 0;
        for (int q = col_ptr[j]; q < col_ptr[j + 1] && known[j]; q++)
            column[row_idx[q]] = value[q];
        double mass = column[b->m.l.sum + SWH_SUM_MASS_OUT]; /* what leaked out is not lost */
        for (int i = 0; i < b->m.l.n_nodes; i++) {
            mass += column[b->m.l.M + i];
            turned += fabs(column[b->m.l.M + i]);
        }
        CHECK_CLOSE(mass, 0, 0, 1e-13 * turned);
        CHECK_CLOSE(swh_machine_energy(&b->m, column), swh_machine_energy_added(&b->m, column), 1e-11,
                    1e-8 * turned);
        if (known[j])
            compare_column(b, j, column);
    }
}

/* fills volumes first to last with refrigerant at P, its enthalpy going from h to h_last */
static void fill(struct bench *b, int first, int last, double P, double h, double h_last)
{
    for (int i = first; i <= last; i++) {
        struct swh_ph_props q;
        const double h_i = h + (h_last - h) * (i - first) / (last > first ? last - first : 1);
        const double P_i = P * (1 - 1e-3 * (i - first));
        swh_P_h(b->m.fluid, P_i, h_i, &q);
        b->y[b->m.l.M + i] = q.rho * b->m.volume[i];
        b->y[b->m.l.U + i] = q.rho * b->m.volume[i] * (h_i - P_i / q.rho);
    }
}

/* Circuits of R-134a in which every law has a say: 0 in order, from hot gas to subcooled liquid to
 * superheated gas; 1 nearly dry vessels, flows backward; 2 liquid everywhere; 3 above the critical pressure;
 * 4 hardly wet; 5 liquid a few kelvin below the critical temperature */
enum { FILLINGS = 6 };
static void set_filling(struct bench *b, int k)
{
    static const double P[FILLINGS][2] = {{15e5, 3e5}, {5e5, 6e5},    {14e5, 9e5},
                                          {45e5, 4e5}, {11.9e5, 3e5}, {39.5e5, 4e5}};
    static const double h[FILLINGS][6] = {
        {455e3, 270e3, 255e3, 252e3, 415e3, 418e3},   {415e3, 395e3, 400e3, 300e3, 225e3, 400e3},
        {240e3, 230e3, 225e3, 220e3, 225e3, 240e3},   {460e3, 360e3, 350e3, 250e3, 400e3, 404e3},
        {267.5e3, 268e3, 268e3, 202e3, 206e3, 206e3}, {356e3, 346e3, 345e3, 346e3, 405e3, 410e3}};
    fill(b, SWH_NODE_COND, SWH_NODE_RECEIVER - 1, P[k][0], h[k][0], h[k][1]);
    fill(b, SWH_NODE_RECEIVER, SWH_NODE_LIQUID, 0.999 * P[k][0], h[k][1], h[k][2]);
    fill(b, SWH_NODE_EVAP, SWH_NODE_EVAP_LAST, P[k][1], h[k][3], h[k][4]);
    fill(b, SWH_NODE_ACCUMULATOR, SWH_NODE_SUCTION, 0.997 * P[k][1], h[k][5], h[k][5]);
    if (b->m.l.rear)
        fill(b, SWH_NODE_REAR, SWH_NODE_MAX - 1, 1.001 * P[k][1], h[k][3], h[k][4]);
}

/* the derivatives that are computed volume by volume are the difference quotients of the rates, and keep mass
 * and energy (first law) */
static void test_derivatives(void **state)
{
    (void)state;
    static struct bench b;
    static const double leak[3] = {0, 1e-4, -1e-4};
    for (int v = 0; v < 4; v++)
        for (int k = 0; k < 3; k++) {
            set_bench(&b, (int)variants[v][0], variants[v][1]);
            b.modes.leak = leak[k];
            compare_derivatives(&b);
        }
    for (int v = 0; v < 4; v++)
        for (int k = 0; k < FILLINGS; k++) {
            set_bench(&b, (int)variants[v][0], variants[v][1]);
            b.modes.leak = leak[k % 3];
            set_filling(&b, k);
            compare_derivatives(&b);
        }
}

/* the same arguments give the same bits, whatever was evaluated in between */
static void test_pure(void **state)
{
    (void)state;
    static struct bench b;
    set_bench(&b, 0, 0);
    double first[SWH_STATE_MAX];
    memcpy(first, b.dy, sizeof first);
    b.y[3] *= 1.01;
    swh_machine_rates(&b.m, &b.in, &b.modes, b.y, b.dy, &b.flows);
    set_bench(&b, 0, 0);
    assert_memory_equal(first, b.dy, (size_t)b.m.l.n * sizeof(double));
}

/* moves one state, an input or a parameter, as integrators and events do */
static void move_something(struct bench *b, int k)
{
    const int j = (k * 37) % b->m.l.sum;
    b->y[j] *= 1 + 1e-7 * (k % 5);
    if (k % 11 == 0)
        b->in.ambient_temperature += 0.1;
    if (k % 13 == 0)
        b->modes.fan_on = !b->modes.fan_on;
    if (k % 17 == 0)
        set_param(b, SWH_P_condenser_air_share, 0.99 * b->m.p.condenser_air_share);
    if (k % 23 == 0)
        set_param(b, SWH_P_compressor_clearance, 1.01 * b->m.p.compressor_clearance);
    if (k % 29 == 0)
        b->y[b->m.l.scalar + SWH_S_speed_ratio] =
            k % 2 ? 0 : 0.9; /* at rest film and isentrope are left out */
    if (k % 19 == 0)
        b->y[b->m.l.U + SWH_NODE_EVAP] *= k % 2 ? 20 : 1 / 20.0; /* outside the tables, and back */
}

/* what the flows remember changes no bit of any rate or channel */
static void test_memory(void **state)
{
    (void)state;
    static struct bench b;
    static struct swh_flows fresh;
    int refused = 0;
    for (int v = 0; v < 4; v++) {
        set_bench(&b, (int)variants[v][0], variants[v][1]);
        for (int k = 1; k < 400; k++) {
            double had[SWH_CHANNEL_COUNT] = {0}, wanted[SWH_CHANNEL_COUNT] = {0};
            move_something(&b, k);
            memset(&fresh, 0, sizeof fresh);
            const int bad = swh_machine_rates(&b.m, &b.in, &b.modes, b.y, b.dy2, &fresh);
            refused += bad;
            assert_int_equal(swh_machine_rates(&b.m, &b.in, &b.modes, b.y, b.dy, &b.flows), bad);
            if (bad)
                continue;
            assert_memory_equal(b.dy, b.dy2, (size_t)b.m.l.n * sizeof(double));
            swh_machine_observe(&b.m, &b.in, &b.modes, b.y, &b.flows, had);
            swh_machine_observe(&b.m, &b.in, &b.modes, b.y, &fresh, wanted);
            assert_memory_equal(had, wanted, sizeof had);
        }
    }
    assert_true(refused > 10);
}

/* A shaft that comes to rest is told from one that nearly has by no rate, no channel and no root. */
static void test_comes_to_rest(void **state)
{
    (void)state;
    static struct bench b;
    static struct swh_flows still;
    struct swh_event_values near, at_rest;
    for (int v = 0; v < 4; v++) {
        double had[SWH_CHANNEL_COUNT] = {0}, wanted[SWH_CHANNEL_COUNT] = {0};
        set_bench(&b, (int)variants[v][0], variants[v][1]);
        double *speed_ratio = &b.y[b.m.l.scalar + SWH_S_speed_ratio];
        b.modes.engaged = 0;
        *speed_ratio = 1.001e-15;
        assert_int_equal(swh_machine_rates(&b.m, &b.in, &b.modes, b.y, b.dy, &b.flows), 0);
        assert_true(b.flows.N > 0);
        swh_machine_observe(&b.m, &b.in, &b.modes, b.y, &b.flows, wanted);
        assert_int_equal(swh_machine_event_values(&b.m, &b.in, &b.modes, b.y, &near), 0);
        *speed_ratio = 0.999e-15;
        memset(&still, 0, sizeof still);
        assert_int_equal(swh_machine_rates(&b.m, &b.in, &b.modes, b.y, b.dy2, &still), 0);
        CHECK_CLOSE(still.N, 0, 0, 0);
        swh_machine_observe(&b.m, &b.in, &b.modes, b.y, &still, had);
        assert_int_equal(swh_machine_event_values(&b.m, &b.in, &b.modes, b.y, &at_rest), 0);
        for (int i = 0; i < b.m.l.n; i++)
            CHECK_CLOSE(b.dy2[i], b.dy[i], 1e-12, 1e-11);
        for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
            if (!isnan(wanted[i]))
                CHECK_CLOSE(had[i], wanted[i], 1e-12, i == SWH_CH_blowby_share ? 2e-4 : 1e-11);
        assert_memory_equal(&near, &at_rest, sizeof near);
        CHECK_CLOSE(at_rest.clearance, had[SWH_CH_running_clearance], 0, 0);
        CHECK_CLOSE(at_rest.T_contact, had[SWH_CH_contact_temperature], 0, 0);
    }
}

/* what the event functions see of a turning shaft is what is told of it */
static void test_watch(void **state)
{
    (void)state;
    static struct bench b;
    struct swh_event_values w;
    for (int v = 0; v < 4; v++) {
        double channel[SWH_CHANNEL_COUNT] = {0};
        set_bench(&b, (int)variants[v][0], variants[v][1]);
        swh_machine_observe(&b.m, &b.in, &b.modes, b.y, &b.flows, channel);
        assert_int_equal(swh_machine_event_values(&b.m, &b.in, &b.modes, b.y, &w), 0);
        CHECK_CLOSE(w.P_d, channel[SWH_CH_discharge_pressure], 1e-14, 0);
        CHECK_CLOSE(w.T_contact, channel[SWH_CH_contact_temperature], 1e-14, 0);
        CHECK_CLOSE(w.share, channel[SWH_CH_boundary_share], 1e-14, 0);
        CHECK_CLOSE(w.clearance, channel[SWH_CH_running_clearance], 1e-14, 0);
    }
}

/* against the C library, a few units of the last place */
static void test_powers(void **state)
{
    (void)state;
    static const double exponent[] = {-1, 0, 0.9, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 12.5, 13};
    for (double x = 1e-3; x < 1e3; x *= 1.7)
        for (size_t k = 0; k < sizeof exponent / sizeof *exponent; k++)
            CHECK_CLOSE(swh_power(x, exponent[k]), pow(x, exponent[k]), 2e-15, 0);
}

/* severity 0 of any fault changes no bit; severity 1 changes something */
static void test_faults_act(void **state)
{
    (void)state;
    for (int f = 0; f < SWH_FAULT_COUNT; f++) {
        struct swh_params p, q;
        swh_params_default(&p);
        q = p;
        swh_fault_apply(&q, (enum swh_fault)f, 0);
        assert_memory_equal(&p, &q, sizeof p);
        swh_fault_apply(&q, (enum swh_fault)f, 0.5);
        assert_true(memcmp(&p, &q, sizeof p) != 0);
    }
}

/* ---- whole runs ---- */

static void cycling_case(struct swh_case *c)
{
    swh_case_valve(c, 25);
    c->conditions.doors_open = 0;
    c->params.run_duration = 300;
}

static void *run_in_thread(void *out)
{
    struct swh_case c;
    cycling_case(&c);
    *(struct swh_summary *)out = swh_case_run(&c);
    return NULL;
}

static void test_repeatable_and_threads(void **state)
{
    (void)state;
    static struct swh_summary s[4];
    run_in_thread(&s[0]);
    run_in_thread(&s[1]);
    pthread_t a, b;
    assert_int_equal(pthread_create(&a, NULL, run_in_thread, &s[2]), 0);
    assert_int_equal(pthread_create(&b, NULL, run_in_thread, &s[3]), 0);
    pthread_join(a, NULL);
    pthread_join(b, NULL);
    assert_true(s[0].event_count[SWH_EV_clutch_off] >= 2);
    for (int i = 1; i < 4; i++)
        assert_memory_equal(s[0].final, s[i].final, sizeof s[0].final);
}

/* halving the tolerance moves the peaks of the body's temperatures by less than 0.1 K */
static void test_tolerance(void **state)
{
    (void)state;
    struct swh_case c;
    swh_case_valve(&c, 35);
    swh_case_fault(&c, SWH_FAULT_condenser_blocked, 0.3);
    c.params.run_duration = 900;
    const struct swh_summary a = swh_case_run(&c);
    c.params.run_tolerance = 0.5;
    const struct swh_summary b = swh_case_run(&c);
    for (int ch = SWH_CH_rotor_temperature; ch <= SWH_CH_contact_temperature; ch++)
        CHECK_CLOSE(a.peak[ch].value, b.peak[ch].value, 0, 0.1);
}

/* a leak during the run takes what it says, to the last bit of the books */
static void test_leak(void **state)
{
    (void)state;
    struct swh_case c;
    swh_case_valve(&c, 32);
    c.params.run_duration = 900;
    c.fault[SWH_FAULT_undercharge] = (struct swh_fault_setting){true, 0.3, 200, 300, INFINITY};
    const struct swh_summary s = swh_case_run(&c);
    CHECK_CLOSE(s.final[SWH_CH_charge], 0.7 * c.params.charge_nominal, 1e-6, 0);
    CHECK_BETWEEN(fabs(s.charge_drift), 0, 1e-9);
    CHECK_BETWEEN(fabs(s.energy_residual), 0, 1e-6);
}

/* what cannot be is refused in words: a charge that does not fit, contradicting
 * controls, a severity beyond 1 */
static void test_refusals(void **state)
{
    (void)state;
    struct swh_case c;
    struct swh_summary s;
    struct swh_error err = {0};
    swh_case_valve(&c, 30);
    c.params.charge_nominal = 4;
    assert_int_equal(swh_run(&c, NULL, &s, &err), SWH_ERR_INPUT);
    assert_non_null(strstr(err.what, "does not fit"));
    swh_error_clear(&err);
    swh_case_valve(&c, 30);
    c.params.controls_low_close = c.params.controls_low_open;
    assert_int_equal(swh_run(&c, NULL, &s, &err), SWH_ERR_INPUT);
    swh_error_clear(&err);
    swh_case_valve(&c, 30);
    swh_case_fault(&c, SWH_FAULT_fan_dead, 1.5);
    assert_int_equal(swh_run(&c, NULL, &s, &err), SWH_ERR_INPUT);
    assert_non_null(strstr(err.what, "fan_dead"));
}

/* zero speed, no air, an almost empty system, a cold soak: physically right or a message, never NaN */
static void test_extremes(void **state)
{
    (void)state;
    for (int k = 0; k < 6; k++) {
        struct swh_case c;
        swh_case_valve(&c, k == 3 ? -10 : 30);
        c.params.run_duration = 300;
        if (k == 0)
            c.conditions.compressor_speed = 0;
        if (k == 1)
            swh_case_fault(&c, SWH_FAULT_condenser_blocked, 1);
        if (k == 2)
            swh_case_fault(&c, SWH_FAULT_undercharge, 0.97);
        if (k == 4)
            c.conditions.blower = 0;
        if (k == 5)
            swh_case_fault(&c, SWH_FAULT_valve_starving, 1);
        struct swh_summary s;
        struct swh_error err = {0};
        const enum swh_status status = swh_run(&c, NULL, &s, &err);
        assert_true(status == SWH_OK || err.what[0] != '\0');
        CHECK_BETWEEN(s.final[SWH_CH_rotor_temperature], 200, 700);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_conserves),
        cmocka_unit_test(test_reeds_pass_forward_only),
        cmocka_unit_test(test_sparsity_covers),
        cmocka_unit_test(test_derivatives),
        cmocka_unit_test(test_pure),
        cmocka_unit_test(test_memory),
        cmocka_unit_test(test_comes_to_rest),
        cmocka_unit_test(test_watch),
        cmocka_unit_test(test_powers),
        cmocka_unit_test(test_faults_act),
        cmocka_unit_test(test_tolerance),
        cmocka_unit_test(test_repeatable_and_threads),
        cmocka_unit_test(test_leak),
        cmocka_unit_test(test_refusals),
        cmocka_unit_test(test_extremes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
