/* Derivatives of the rates with respect to what the circuit's volumes hold, volume by volume: each is moved
 * once in mass and once in energy, what follows in it alone (pressure, temperature, enthalpies of what
 * leaves, heat to its wall) is differenced, and the flows join neighbours by the chain rule. Whatever one row
 * loses the next one gains, the same product with opposite sign, as in the rates, so that every column keeps
 * mass and energy to rounding. */
#include "model/machine_laws.h"

#include <string.h>

/* Shifts: a part of the mass, and J/kg. Small beside the cells of the tables, large beside rounding. */
static const double SHIFT_M = 1e-7, SHIFT_U = 0.03;
static const double SHIFT_BULB = 1e-3; /* K */

enum { NODE_STATES = 2 };

/* One volume: values, their slopes with M and U, and the moved properties the slopes come from. */
struct volume {
    const struct swh_cell_props *c;
    double rho, out, back;
    struct swh_cell_props moved[NODE_STATES];
    double moved_rho[NODE_STATES], shift[NODE_STATES];
    double P_z[NODE_STATES], T_z[NODE_STATES], out_z[NODE_STATES], back_z[NODE_STATES];
    int wall;      /* -1: none */
    double heat_m; /* slope with an adjoining flow of the heat that the fluid takes from it [J/kg] */
};

/* A pipe or valve from a to b; columns it feels, and the slope of its flow with each. */
enum { FELT = 8 };
struct pipe {
    int a, b, n;
    double m;
    int column[FELT];
    double slope[FELT];
};

struct slopes {
    const struct swh_machine *m;
    const double *y;
    struct swh_flows *f;
    const struct swh_entries *e;
    double *J;
    struct volume v[SWH_NODE_MAX];
    struct pipe out_of[SWH_NODE_MAX], rear_valve;
};

static void add(struct slopes *s, int row, int column, double value)
{
    s->J[s->e->at[column][row]] += value;
}

static int column_of(const struct slopes *s, int node, int k)
{
    return (k == 0 ? s->m->l.M : s->m->l.U) + node;
}

/* ---- volumes ---- */

/* volume i moved in its k-th state; returns its internal energy [J/kg] */
static double move(struct slopes *s, int i, int k, double sign)
{
    struct volume *v = &s->v[i];
    double z[NODE_STATES] = {s->y[s->m->l.M + i], s->y[s->m->l.U + i]};
    const double before = z[k];
    z[k] += sign * z[0] * (k == 0 ? SHIFT_M : SHIFT_U);
    v->shift[k] = z[k] - before;
    v->moved_rho[k] = z[0] * s->m->volume_inverse[i];
    return z[1] / z[0];
}

/* the other way where the first one leaves the tables; 1 if both do */
static int move_back(struct slopes *s, int i, int k)
{
    const double u = move(s, i, k, -1);
    return volume_state(s->m, s->v[i].moved_rho[k], u, &s->v[i].moved[k]);
}

static void set_volume(struct slopes *s, int i)
{
    struct volume *v = &s->v[i];
    for (int k = 0; k < NODE_STATES; k++) {
        const double inverse = 1 / v->shift[k];
        const struct swh_cell_props *c = &v->moved[k];
        double out, back;
        outlets(s->m, i, c, v->moved_rho[k], &out, &back);
        v->P_z[k] = (c->P - v->c->P) * inverse;
        v->T_z[k] = (c->T - v->c->T) * inverse;
        v->out_z[k] = (out - v->out) * inverse;
        v->back_z[k] = (back - v->back) * inverse;
    }
}

static int is_moved(int i)
{
    return i != SWH_NODE_CHAMBER && i != SWH_NODE_PLENUM;
}

enum { FIRST_MOVED = SWH_NODE_PLENUM + 1, MOVES = NODE_STATES * (SWH_NODE_MAX - FIRST_MOVED) };
_Static_assert((int)MOVES <= (int)SWH_RHO_U_MOST, "all volumes are looked up at once");

/* all volumes but those of the compressor moved, in both their states; 1 if one leaves the tables */
static int move_all(struct slopes *s)
{
    double rho[MOVES], u[MOVES];
    struct swh_cell_props *out[MOVES];
    int n = 0, bad = 0;
    for (int i = FIRST_MOVED; i < s->m->l.n_nodes; i++)
        for (int k = 0; k < NODE_STATES; k++, n++) {
            u[n] = move(s, i, k, 1);
            rho[n] = s->v[i].moved_rho[k];
            out[n] = &s->v[i].moved[k];
        }
    const uint64_t outside = volume_states(s->m, n, rho, u, out);
    for (int at = 0; at < n && outside; at++)
        if (outside >> at & 1)
            bad |= move_back(s, FIRST_MOVED + at / NODE_STATES, at % NODE_STATES);
    return bad;
}

static int set_volumes(struct slopes *s)
{
    int bad = 0;
    for (int i = 0; i < s->m->l.n_nodes; i++) {
        struct volume *v = &s->v[i];
        v->c = &s->f->node[i];
        v->rho = s->f->rho[i];
        bad |= v->rho != s->y[s->m->l.M + i] * s->m->volume_inverse[i]; /* flows of another state */
        v->wall = -1;
        v->heat_m = 0;
        v->out = s->f->h_out[i];
        v->back = s->f->h_back[i];
    }
    bad |= move_all(s);
    for (int i = FIRST_MOVED; i < s->m->l.n_nodes; i++)
        set_volume(s, i);
    return bad;
}

/* ---- pipes ---- */

static void feel(struct pipe *p, int column, double slope)
{
    p->column[p->n] = column;
    p->slope[p->n++] = slope;
}

/* slopes of pipe_flow with the pressures and densities of both ends */
static void set_pipe(struct slopes *s, int a, int b)
{
    struct pipe *p = &s->out_of[a];
    const struct volume *v = &s->v[a], *w = &s->v[b];
    const double dP = v->c->P - w->c->P, linear = s->m->linear_out[a], K = s->m->K_out[a];
    const double inverse = 1 / sqrt(dP * dP + linear);
    const double up = 0.5 * (1 + dP * inverse);
    const double rho = w->rho + up * (v->rho - w->rho);
    const double root = sqrt(rho * inverse);
    const double cube = inverse * inverse * inverse;
    const double half = 0.5 * K * dP / root; /* slope of m with rho * inverse */
    const double m_P =
        K * root + half * (0.5 * linear * cube * (v->rho - w->rho) * inverse - rho * dP * cube);
    const double m_rho = half * inverse;
    p->a = a;
    p->b = b;
    p->n = 0;
    p->m = K * dP * root;
    for (int k = 0; k < NODE_STATES; k++) {
        const double dense = k == 0 ? m_rho : 0;
        if (is_moved(a))
            feel(p, column_of(s, a, k), m_P * v->P_z[k] + dense * up * s->m->volume_inverse[a]);
        if (is_moved(b))
            feel(p, column_of(s, b, k), -m_P * w->P_z[k] + dense * (1 - up) * s->m->volume_inverse[b]);
    }
}

struct expansion {
    int to, last, bulb; /* nodes behind it and at the evaporator's end; index of the bulb's state */
    int orifice;
    double area, opening;
};

static double expansion_flow(const struct slopes *s, const struct expansion *x, double opening,
                             const struct swh_cell_props *up, double rho_up,
                             const struct swh_cell_props *down, double rho_down)
{
    const double P_up = up->P + s->f->P_air, P_down = down->P + s->f->P_air_low;
    if (x->orifice)
        return orifice_flow(s->m, up, P_up, P_down, rho_up, rho_down);
    return valve_flow(x->area * opening, P_up, P_down, rho_up, rho_down);
}

static void feel_bulb(struct slopes *s, struct pipe *p, const struct expansion *x, double opening,
                      double per_opening)
{
    const struct volume *last = &s->v[x->last];
    const double T = s->y[x->bulb], moved = valve_opening(s->m, T + SHIFT_BULB, last->c->P);
    feel(p, x->bulb, per_opening * (moved - opening) / SHIFT_BULB);
    for (int k = 0; k < NODE_STATES; k++)
        feel(p, column_of(s, x->last, k),
             per_opening * (valve_opening(s->m, T, last->moved[k].P) - opening) / last->shift[k]);
}

static void set_expansion(struct slopes *s, struct pipe *p, const struct expansion *x)
{
    const struct volume *v = &s->v[SWH_NODE_LIQUID], *w = &s->v[x->to];
    const double opening = x->opening;
    *p = (struct pipe){.a = SWH_NODE_LIQUID, .b = x->to};
    p->m = expansion_flow(s, x, opening, v->c, v->rho, w->c, w->rho);
    for (int k = 0; k < NODE_STATES; k++) {
        const double up = expansion_flow(s, x, opening, &v->moved[k], v->moved_rho[k], w->c, w->rho);
        const double down = expansion_flow(s, x, opening, v->c, v->rho, &w->moved[k], w->moved_rho[k]);
        feel(p, column_of(s, SWH_NODE_LIQUID, k), (up - p->m) / v->shift[k]);
        feel(p, column_of(s, x->to, k), (down - p->m) / w->shift[k]);
    }
    if (!x->orifice)
        feel_bulb(s, p, x, opening, expansion_flow(s, x, 1.0, v->c, v->rho, w->c, w->rho));
}

static void set_expansions(struct slopes *s)
{
    const struct swh_params *p = &s->m->p;
    const struct expansion front = {.to = SWH_NODE_EVAP,
                                    .last = SWH_NODE_SUCTION - 1,
                                    .bulb = s->m->l.scalar + SWH_S_bulb,
                                    .orifice = s->m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE,
                                    .area = p->valve_area,
                                    .opening = s->f->opening};
    const struct expansion rear = {.to = SWH_NODE_REAR,
                                   .last = SWH_NODE_MAX - 1,
                                   .bulb = s->m->l.scalar + SWH_S_bulb_rear,
                                   .area = p->valve_area * p->rear_evaporator_size,
                                   .opening = s->f->opening_rear};
    set_expansion(s, &s->out_of[SWH_NODE_LIQUID], &front);
    if (s->m->l.rear)
        set_expansion(s, &s->rear_valve, &rear);
}

static void set_pipes(struct slopes *s)
{
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++)
        if (i != SWH_NODE_LIQUID)
            set_pipe(s, i, i + 1);
    set_expansions(s);
    set_pipe(s, SWH_NODE_SUCTION, SWH_NODE_CHAMBER);
    for (int i = SWH_NODE_REAR; i < s->m->l.n_nodes; i++)
        set_pipe(s, i, after_rear(i));
}

/* ---- cells ---- */

struct cell {
    int wall;
    double share, strength; /* of the exchanger's conductance; see struct swh_flows */
    int condenses;
};

/* heat that the fluid takes from the wall [W] */
static double heat_taken(const struct slopes *s, const struct cell *x, const struct swh_cell_props *c)
{
    const struct swh_params *p = &s->m->p;
    const double T_wall = s->y[s->m->l.wall + x->wall];
    if (x->condenses)
        return -x->share * condensing_heat(s->m, c, T_wall) * x->strength;
    return x->share *
           inside_UA(p->evaporator_ua_two_phase, p->evaporator_ua_vapour, c->x, p->evaporator_dry_out) *
           x->strength * (T_wall - c->T);
}

static void exchange(struct slopes *s, int node, int wall, int column, double heat)
{
    add(s, s->m->l.U + node, column, heat);
    add(s, s->m->l.wall + wall, column, -heat / s->m->wall_capacity[wall]);
}

static void set_cell(struct slopes *s, int node, int wall, const struct pipe *in, double share, double size,
                     int condenses)
{
    const double flow = 0.5 * (in->m + s->out_of[node].m) / size;
    const struct cell x = {wall, share, s->f->strength[node], condenses};
    struct volume *v = &s->v[node];
    const double heat = heat_taken(s, &x, v->c);
    v->wall = wall;
    /* all of it goes like (flow^2 + STILL_FLOW)^(3/8) */
    v->heat_m = heat * 0.75 * flow / (flow * flow + STILL_FLOW) * 0.5 / size;
    for (int k = 0; k < NODE_STATES; k++)
        exchange(s, node, wall, column_of(s, node, k),
                 (heat_taken(s, &x, &v->moved[k]) - heat) / v->shift[k]);
}

static void set_cells(struct slopes *s)
{
    const double sub = s->m->p.condenser_subcool_share, rear = s->m->p.rear_evaporator_size;
    for (int i = 0; i < SWH_N_COND; i++)
        set_cell(s, SWH_NODE_COND + i, SWH_WALL_COND + i, &s->out_of[SWH_NODE_COND + i - 1],
                 (1 - sub) / SWH_N_COND, 1, 1);
    set_cell(s, SWH_NODE_SUBCOOL, SWH_WALL_SUBCOOL, &s->out_of[SWH_NODE_RECEIVER], sub, 1, 1);
    for (int i = 0; i < SWH_N_EVAP; i++)
        set_cell(s, SWH_NODE_EVAP + i, SWH_WALL_EVAP + i, &s->out_of[SWH_NODE_EVAP + i - 1], 1.0 / SWH_N_EVAP,
                 1, 0);
    for (int i = 0; s->m->l.rear && i < SWH_N_REAR; i++)
        set_cell(s, SWH_NODE_REAR + i, SWH_WALL_REAR + i,
                 i ? &s->out_of[SWH_NODE_REAR + i - 1] : &s->rear_valve, rear / SWH_N_REAR, rear, 0);
}

/* ---- into the matrix ---- */

static void stir_cell(struct slopes *s, int node, int column, double m_z)
{
    const struct volume *v = &s->v[node];
    if (v->wall >= 0)
        exchange(s, node, v->wall, column, v->heat_m * m_z);
}

static void carry_energy(struct slopes *s, const struct pipe *p, int column, double H_z)
{
    add(s, s->m->l.U + p->a, column, -H_z);
    add(s, s->m->l.U + p->b, column, H_z);
}

static void carry_pipe(struct slopes *s, const struct pipe *p)
{
    const struct volume *v = &s->v[p->a], *w = &s->v[p->b];
    const double root = sqrt(p->m * p->m + CARRY_ROUNDED), sign = p->m / root;
    const double h = 0.5 * ((1 + sign) * v->out + (1 - sign) * w->back);
    for (int i = 0; i < p->n; i++) {
        const double m_z = p->slope[i];
        add(s, s->m->l.M + p->a, p->column[i], -m_z);
        add(s, s->m->l.M + p->b, p->column[i], m_z);
        carry_energy(s, p, p->column[i], h * m_z);
        stir_cell(s, p->a, p->column[i], m_z);
        stir_cell(s, p->b, p->column[i], m_z);
    }
    for (int k = 0; k < NODE_STATES; k++) {
        if (is_moved(p->a))
            carry_energy(s, p, column_of(s, p->a, k), 0.5 * (p->m + root) * v->out_z[k]);
        if (is_moved(p->b))
            carry_energy(s, p, column_of(s, p->b, k), 0.5 * (p->m - root) * w->back_z[k]);
    }
}

static void lines(struct slopes *s, int node, double UA)
{
    for (int k = 0; k < NODE_STATES; k++) {
        const double heat = -UA * s->v[node].T_z[k];
        add(s, s->m->l.U + node, column_of(s, node, k), heat);
        add(s, heat_row(s->m, SWH_CH_heat_lines), column_of(s, node, k), heat);
    }
}

/* what a leak or a filling takes along */
static void leaks(struct slopes *s, const struct swh_modes *modes)
{
    if (modes->leak == 0)
        return;
    const int node = modes->leak > 0 ? SWH_NODE_LIQUID : SWH_NODE_SUCTION;
    const struct volume *v = &s->v[node];
    for (int k = 0; k < NODE_STATES; k++) {
        const double h_z = node == SWH_NODE_LIQUID ? v->moved[k].h - v->c->h : v->moved[k].h_g - v->c->h_g;
        const double H_z = modes->leak * h_z / v->shift[k];
        add(s, s->m->l.U + node, column_of(s, node, k), -H_z);
        add(s, s->m->l.sum + SWH_SUM_ENERGY_OUT, column_of(s, node, k), H_z);
    }
}

static void follow(struct slopes *s, enum swh_scalar what, int node, double per_kelvin)
{
    for (int k = 0; k < NODE_STATES; k++)
        add(s, s->m->l.scalar + (int)what, column_of(s, node, k), per_kelvin * s->v[node].T_z[k]);
}

static void sensors(struct slopes *s)
{
    const struct swh_params *p = &s->m->p;
    const double pull = 1 - p->probe_discharge_pull, lag = 1 / p->valve_bulb_time;
    const int last = SWH_NODE_SUCTION - 1, row = s->m->l.scalar;
    follow(s, SWH_S_bulb, last, lag);
    follow(s, SWH_S_bulb_rear, s->m->l.rear ? SWH_NODE_MAX - 1 : last, lag);
    add(s, row + SWH_S_bulb, row + SWH_S_bulb, -lag);
    add(s, row + SWH_S_bulb_rear, row + SWH_S_bulb_rear, -lag);
    follow(s, SWH_S_probe_suction, SWH_NODE_SUCTION, pull / (p->probe_suction_lag + 0.5));
    follow(s, SWH_S_probe_liquid,
           s->m->c.probe_liquid_line_place == SWH_LIQUID_AT_CONDENSER ? SWH_NODE_SUBCOOL : SWH_NODE_LIQUID,
           pull / (p->probe_liquid_lag + 0.5));
    for (int k = 0; k < NODE_STATES; k++)
        add(s, row + SWH_S_sensor_low, column_of(s, SWH_NODE_SUCTION, k),
            gauge_share(s->m) * s->v[SWH_NODE_SUCTION].P_z[k] / p->controls_low_sensor_time);
}

/* ---- the whole ---- */

void swh_machine_slope_columns(const struct swh_machine *m, unsigned char *known)
{
    memset(known, 0, (size_t)m->l.n);
    if (!m->l.closed)
        return;
    for (int i = 0; i < m->l.n_nodes; i++)
        known[m->l.M + i] = known[m->l.U + i] = (unsigned char)is_moved(i);
    known[m->l.scalar + SWH_S_bulb] = known[m->l.scalar + SWH_S_bulb_rear] = 1;
}

void swh_entries_set(struct swh_entries *e, int n, const int *col_ptr, const int *row_idx)
{
    for (int column = 0; column < SWH_STATE_MAX; column++)
        for (int row = 0; row < SWH_STATE_MAX; row++)
            e->at[column][row] = (short)col_ptr[n];
    for (int column = 0; column < n; column++)
        for (int k = col_ptr[column]; k < col_ptr[column + 1]; k++)
            e->at[column][row_idx[k]] = (short)k;
    e->n = n;
    memcpy(e->col_ptr, col_ptr, (size_t)(n + 1) * sizeof *col_ptr);
}

static void clear_columns(struct slopes *s)
{
    unsigned char known[SWH_STATE_MAX];
    swh_machine_slope_columns(s->m, known);
    for (int column = 0; column < s->e->n; column++)
        if (known[column])
            for (int k = s->e->col_ptr[column]; k < s->e->col_ptr[column + 1]; k++)
                s->J[k] = 0;
}

int swh_machine_slopes(const struct swh_machine *m, const struct swh_modes *modes, const double *y,
                       struct swh_flows *f, const struct swh_entries *e, double *J)
{
    struct slopes s;
    s.m = m;
    s.y = y;
    s.f = f;
    s.e = e;
    s.J = J;
    clear_columns(&s);
    if (set_volumes(&s))
        return 1;
    set_pipes(&s);
    set_cells(&s);
    for (int i = SWH_NODE_PLENUM; i < m->l.n_nodes; i++)
        carry_pipe(&s, &s.out_of[i]);
    if (m->l.rear)
        carry_pipe(&s, &s.rear_valve);
    lines(&s, SWH_NODE_SUCTION, m->p.suction_line_ua);
    lines(&s, SWH_NODE_LIQUID, m->p.liquid_line_ua);
    leaks(&s, modes);
    sensors(&s);
    return 0;
}
