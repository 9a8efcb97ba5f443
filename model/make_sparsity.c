/* Writes the sparsity of the Jacobian as a table: which rate depends on which state, for each layout that a
 * machine can have. Run while the library is built. A rate depends on a state where moving the state changes
 * a bit of the rate, or where it has a derivative, at one at least of many machines, switch positions and
 * states drawn at random (the same in every build). */
#include "model/base/hash.h"
#include "model/machine.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { DRAWS = 2000 };

struct probe {
    uint64_t drawn; /* numbers drawn so far */
    struct swh_machine m;
    struct swh_inputs in;
    struct swh_modes modes;
    struct swh_flows flows;
    double y[SWH_STATE_MAX], dy[SWH_STATE_MAX], moved[SWH_STATE_MAX];
    unsigned char depends[SWH_STATE_MAX][SWH_STATE_MAX]; /* rate, state */
};

static double draw(struct probe *p, double lo, double hi)
{
    p->drawn++;
    return lo +
           (hi - lo) * (double)(swh_hash_words(SWH_HASH_START, &p->drawn, sizeof p->drawn) >> 11) * 0x1p-53;
}

static int chance(struct probe *p, double share)
{
    return draw(p, 0, 1) < share;
}

/* any vehicle: everything that may be joined to something is, as often as not */
static void draw_machine(struct probe *p, int closed, int rear)
{
    struct swh_params params;
    struct swh_choices choices;
    swh_params_default(&params);
    swh_choices_default(&choices);
    choices.vehicle_circuit = closed ? SWH_CIRCUIT_CLOSED : SWH_CIRCUIT_PORTS;
    choices.vehicle_expansion = chance(p, 0.5) ? SWH_EXPANSION_ORIFICE : SWH_EXPANSION_VALVE;
    params.rear_evaporator_size = rear ? draw(p, 0.3, 1) : 0;
    for (int fault = 0; fault < SWH_FAULT_COUNT; fault++)
        if (chance(p, 0.3))
            swh_fault_apply(&params, (enum swh_fault)fault, draw(p, 0, 1));
    swh_machine_set(&p->m, swh_fluid_get(SWH_R134A), &params, &choices);
}

static void draw_world(struct probe *p)
{
    swh_inputs_default(&p->in);
    for (int i = 0; i < SWH_INPUT_COUNT; i++)
        if (!isnan(swh_input_table[i].value) && chance(p, 0.7))
            *swh_input_at(&p->in, i) = draw(p, swh_input_table[i].lo, swh_input_table[i].hi);
    p->in.ambient_temperature = draw(p, 263, 323);
    p->in.suction_pressure = draw(p, 1e5, 5e5);
    p->in.discharge_pressure = draw(p, 6e5, 30e5);
    p->in.suction_temperature = draw(p, 270, 310);
    p->modes = (struct swh_modes){
        .engaged = chance(p, 0.7), .relief_open = chance(p, 0.3), .fan_on = chance(p, 0.7)};
    p->modes.seized = chance(p, 0.2) ? 1 + chance(p, 0.5) : 0;
    p->modes.leak = chance(p, 0.3) ? draw(p, -1e-3, 3e-3) : 0;
}

/* liquid, both phases or vapour, at its own pressure */
static void draw_volume(struct probe *p, int node, double P)
{
    struct swh_saturation sat;
    double h = 0, rho = 0;
    const double kind = draw(p, 0, 1);
    if (swh_sat_P(p->m.fluid, P, &sat))
        return;
    if (kind < 0.2)
        swh_P_T_liquid(p->m.fluid, P, fmax(sat.T - draw(p, 0, 40), 240), &h, &rho);
    else if (kind < 0.5)
        swh_P_T_vapour(p->m.fluid, P, fmin(sat.T + draw(p, 0, 80), 450), &h, &rho);
    else {
        const double x = pow(draw(p, 0, 1), draw(p, 0.2, 5));
        rho = 1 / (x / sat.rho_g + (1 - x) / sat.rho_f);
        h = x * sat.h_g + (1 - x) * sat.h_f;
    }
    p->y[p->m.l.M + node] = rho * p->m.volume[node];
    p->y[p->m.l.U + node] = rho * p->m.volume[node] * (h - P / rho);
}

/* the low side from the evaporator on; now and then all at nearly one pressure, where flows turn round, and
 * that about the pressure of the air outside, where a leak falls silent, or far below */
static void draw_volumes(struct probe *p)
{
    double P_low = exp(draw(p, log(0.5e5), log(8e5))), P_high = exp(draw(p, log(P_low), log(33e5)));
    const double spread = chance(p, 0.5) ? 0.003 : 0.3, kind = draw(p, 0, 1);
    if (kind < 0.15) {
        P_high = p->in.ambient_pressure - p->y[p->m.l.scalar + SWH_S_ncg] + draw(p, -1e3, 11e3);
        P_low = fmin(P_low, P_high);
    } else if (kind < 0.2)
        P_low = P_high = exp(draw(p, log(1e2), log(0.5e5)));
    for (int i = 0; i < p->m.l.n_nodes; i++) {
        const int low = i == SWH_NODE_CHAMBER || i >= SWH_NODE_EVAP;
        draw_volume(p, i, (low ? P_low : P_high) * draw(p, 1 - spread, 1 + spread));
    }
}

static void draw_scalars(struct probe *p)
{
    const int n = p->m.l.n_scalars;
    double *s = p->y + p->m.l.scalar;
    for (int i = 0; i < p->m.l.n_walls; i++)
        p->y[p->m.l.wall + i] += draw(p, -40, 40);
    for (int i = 0; i < n; i++)
        if (s[i] > 200 && s[i] < 500) /* temperatures */
            s[i] = draw(p, 255, 350) + (i <= SWH_S_oil ? draw(p, 0, 150) : 0);
    s[SWH_S_speed_ratio] = chance(p, 0.6) ? 1 : draw(p, 0, 1);
    s[SWH_S_supply] = draw(p, 0, 1);
    s[SWH_S_wetness] = draw(p, 0, 1);
    s[SWH_S_oil_comp] *= draw(p, 0, 1.2);
    s[SWH_S_oil_evap] *= draw(p, 0, 2);
    for (int i = SWH_S_scuff_film; i <= SWH_S_scuff_plate; i++)
        s[i] = draw(p, 0, 1);
    if (!p->m.l.closed)
        return;
    s[SWH_S_ncg] = chance(p, 0.5) ? draw(p, 0, 4e5) : 0;
    s[SWH_S_cabin_water] = draw(p, 0, 0.03);
    for (int i = SWH_S_coil_water; i <= SWH_S_coil_ice_rear; i += 2) {
        s[i] = chance(p, 0.7) ? draw(p, 0, 0.6) : 0;
        s[i + 1] = chance(p, 0.5) ? draw(p, 0, s[i]) : 0;
    }
}

/* what differs when one state is moved depends on it */
static void move(struct probe *p, int state, double to)
{
    const double y = p->y[state];
    p->y[state] = to;
    if (!swh_machine_rates(&p->m, &p->in, &p->modes, p->y, p->moved, &p->flows))
        for (int rate = 0; rate < p->m.l.n; rate++)
            p->depends[rate][state] |= p->moved[rate] != p->dy[rate];
    p->y[state] = y;
}

static void move_all(struct probe *p)
{
    for (int state = 0; state < p->m.l.sum; state++) { /* nothing depends on a sum */
        move(p, state, p->y[state] * (1 + 1e-6) + 1e-9);
        move(p, state, p->y[state] * draw(p, 0.97, 1.03));
    }
}

/* What has a derivative depends too, also where rounding hides it: were a derivative left out in one of two
 * balances, what flows from one to the other would be lost. */
static void differentiate(struct probe *p)
{
    const int n = p->m.l.n;
    static struct swh_entries all;
    static int ptr[SWH_STATE_MAX + 1], idx[SWH_STATE_MAX * SWH_STATE_MAX];
    static double J[SWH_STATE_MAX * SWH_STATE_MAX + 1];
    if (!p->m.l.closed || n * n > SHRT_MAX) /* places are short */
        return;
    for (int k = 0; k < n * n; k++)
        idx[k] = k % n;
    for (int k = 0; k <= n; k++)
        ptr[k] = k * n;
    swh_entries_set(&all, n, ptr, idx);
    memset(J, 0, sizeof J);
    if (swh_machine_jacobian(&p->m, &p->modes, p->y, &p->flows, &all, J))
        return;
    for (int k = 0; k < n * n; k++)
        p->depends[k % n][k / n] |= J[k] != 0;
}

static int probe(struct probe *p, int closed, int rear)
{
    struct swh_error err = {0};
    draw_machine(p, closed, rear);
    draw_world(p);
    if (swh_machine_start(&p->m, &p->in, 0.5, p->y, &err) != SWH_OK)
        return 0;
    draw_scalars(p);
    draw_volumes(p);
    if (swh_machine_rates(&p->m, &p->in, &p->modes, p->y, p->dy, &p->flows))
        return 0;
    differentiate(p);
    move_all(p);
    return 1;
}

static void print_table(const struct probe *p, FILE *f, const char *name)
{
    const int n = p->m.l.n;
    int count = 0;
    fprintf(f, "static const int %s_ptr[] = {0", name);
    for (int col = 0; col < n; col++) {
        for (int row = 0; row < n; row++)
            count += p->depends[row][col];
        fprintf(f, ", %d", count);
    }
    fprintf(f, "};\nstatic const short %s_idx[] = {", name);
    for (int col = 0; col < n; col++)
        for (int row = 0; row < n; row++)
            if (p->depends[row][col])
                fprintf(f, "%d, ", row);
    fprintf(f, "};\n");
}

static int make(FILE *f, const char *name, int closed, int rear)
{
    static struct probe p;
    memset(&p, 0, sizeof p);
    p.m.l = swh_layout_make(closed, rear);
    for (int i = 0; i < SWH_STATE_MAX; i++)
        p.depends[i][i] = 1;
    int seen = 0;
    for (int i = 0; i < DRAWS && p.m.l.n_nodes <= SWH_RHO_U_MOST; i++)
        seen += probe(&p, closed, rear);
    print_table(&p, f, name);
    return seen > DRAWS / 4 || p.m.l.n_nodes > SWH_RHO_U_MOST; /* such a machine is refused, see machine.h */
}

int main(int argc, char **argv)
{
    FILE *f = argc == 2 ? fopen(argv[1], "w") : NULL;
    if (!f)
        return 1;
    const int fine = make(f, "ports", 0, 0) && make(f, "circuit", 1, 0) && make(f, "circuit_rear", 1, 1);
    if (fclose(f) == 0 && fine)
        return 0;
    fprintf(stderr, "swh_make_sparsity: the sparsity could not be made\n");
    return 1;
}
