/* Derivatives of the rates with respect to what the circuit's volumes hold, volume by volume: the tables give
 * the derivatives of the properties, the laws theirs (machine_laws.h), and the flows join neighbours by the
 * chain rule. Whatever one row loses the next one gains, the same product with opposite sign, as in the
 * rates, so that every column keeps mass and energy to rounding. */
#include "model/machine_laws.h"

#include <string.h>

/* Shifts, where a law is differenced: a part of the mass, and J/kg. Small beside what curves, large beside
 * rounding. */
static const double SHIFT_M = 1e-7, SHIFT_U = 0.03;

enum { BY_MASS, BY_ENERGY, NODE_STATES };

/* derivatives with the mass and with the energy of a volume side by side: both are reckoned at once */
typedef double pair __attribute__((vector_size(16)));

/* Pipes and valves bear the number of the volume they lead out of; the valve of the rear evaporator, the
 * second one out of the liquid line, comes last. */
enum { REAR_VALVE = SWH_NODE_MAX, PIPES };

/* Derivatives of their flows with the pressures and densities of both ends, a and b, and of what energy they
 * carry with the flow itself [J/kg] and with the enthalpies of what leaves either end [kg/s]. */
struct pipes {
    double P_a[PIPES], P_b[PIPES], rho_a[PIPES], rho_b[PIPES];
    double h[PIPES], forward[PIPES], backward[PIPES];
};

/* derivatives of a volume's properties with its own states */
struct volume {
    pair P, T, x, h, out, back, heat; /* heat: that its wall gives it [W] */
    double heat_m;                    /* slope of that with an adjoining flow [J/kg] */
    double per_capacity;              /* of the wall [K/J], if there is one */
    int wall;                         /* its row; -1: none */
};

/* what else the flow of a valve from a to b feels: a volume (of its own ends something more), a bulb */
struct felt {
    int pipe, a, b;
    int node;
    pair m_node;
    int bulb; /* index of its state; -1: none */
    double m_bulb;
};

struct derivatives {
    const struct swh_machine *m;
    const double *y;
    const struct swh_flows *f;
    const struct swh_entries *e;
    double *J;
    struct swh_cell_derivatives look[SWH_NODE_MAX];
    struct volume v[SWH_NODE_MAX];
    struct pipes pipe;
    struct felt felt[2];
    int n_felt;
};

/* the compressor's two volumes come first: their columns are not among the known */
enum { FIRST_KNOWN = SWH_NODE_PLENUM + 1 };

/* ---- places in the matrix ---- */

/* places of the rows in the columns of a volume's two states */
struct columns {
    const short *M, *U;
};

static inline struct columns columns_of(const struct derivatives *s, int node)
{
    return (struct columns){s->e->at[s->m->l.M + node], s->e->at[s->m->l.U + node]};
}

static inline void put(double *J, struct columns c, int row, pair value)
{
    J[c.M[row]] = value[BY_MASS];
    J[c.U[row]] = value[BY_ENERGY];
}

static inline void add(struct derivatives *s, int row, int node, pair value)
{
    const struct columns c = columns_of(s, node);
    s->J[c.M[row]] += value[BY_MASS];
    s->J[c.U[row]] += value[BY_ENERGY];
}

/* ---- volumes ---- */

/* The one vessel with laws of its own: these are differenced along the derivatives. */
static void set_settling(struct derivatives *s, int i, pair rho_z)
{
    struct volume *v = &s->v[i];
    const struct swh_cell_props *c = &s->f->node[i];
    const struct swh_cell_derivatives *d = &s->look[i];
    const double M = s->y[s->m->l.M + i];
    const pair shift = {M * SHIFT_M, M * SHIFT_U};
    const pair x = shift * v->x, T = shift * v->T, h = shift * v->h, rho = shift * rho_z;
    for (int k = 0; k < NODE_STATES; k++) {
        const struct swh_cell_props moved = {.P = c->P,
                                             .T = c->T + T[k],
                                             .h = c->h + h[k],
                                             .x = c->x + x[k],
                                             .h_f = c->h_f + d->h_f_T * T[k],
                                             .h_g = c->h_g + d->h_g_T * T[k],
                                             .rho_f = c->rho_f + d->rho_f_T * T[k],
                                             .rho_g = c->rho_g + d->rho_g_T * T[k],
                                             .slip = c->slip + d->slip_T * T[k]};
        double out, back;
        outlets(s->m, i, &moved, s->f->rho[i] + rho[k], &out, &back);
        v->out[k] = (out - s->f->h_donor_forward[i]) / shift[k];
        v->back[k] = (back - s->f->h_donor_reverse[i]) / shift[k];
    }
}

/* inv_M = 1/M */
static void set_volume(struct derivatives *s, int i, double u, double inv_M)
{
    struct volume *v = &s->v[i];
    const struct swh_cell_props *c = &s->f->node[i];
    const struct swh_cell_derivatives *d = &s->look[i];
    const double inv_rho = s->m->volume[i] * inv_M;
    const pair rho_z = {s->m->volume_inverse[i], 0}, u_z = {-u * inv_M, inv_M};
    pair P_z = d->P_rho * rho_z + d->P_u * u_z;
    v->T = d->T_rho * rho_z + d->T_u * u_z;
    v->x = d->x_rho * rho_z + d->x_u * u_z;
    if (c->x <= 0) {
        const struct softened soft = soften_derivatives(s->m, d->P, c->T);
        P_z = soft.P * P_z + soft.T * v->T;
    }
    v->P = P_z;
    v->h = u_z + inv_rho * P_z - (pair){c->P * inv_rho * inv_M, 0};
    v->out = v->back = v->h;
    if (c->x <= 0 || c->x >= 1)
        return;
    if (is_exchanger(i)) {
        const struct slip_derivatives slip = slip_derivatives(c, d);
        v->out = v->back = slip.x * v->x + slip.T * v->T;
    } else if (i == settling_vessel(s->m))
        set_settling(s, i, rho_z);
}

static int is_of_other_state(const struct derivatives *s)
{
    const double *M = s->y + s->m->l.M, *per_volume = s->m->volume_inverse, *rho = s->f->rho;
    int other = 0;
    for (int i = 0, n = s->m->l.n_nodes; i < n; i++)
        other |= rho[i] != M[i] * per_volume[i];
    return other;
}

static void set_volumes(struct derivatives *s)
{
    const int n = s->m->l.n_nodes;
    const double *M = s->y + s->m->l.M, *U = s->y + s->m->l.U;
    double u[SWH_NODE_MAX], inv_M[SWH_NODE_MAX];
    for (int i = 0; i < n; i++) {
        u[i] = U[i] / M[i];
        inv_M[i] = 1 / M[i];
    }
    for (int i = 0; i < n; i++) {
        s->v[i].wall = -1;
        s->v[i].heat_m = 0;
        s->v[i].heat = (pair){0, 0};
    }
    swh_rho_u_derivatives(s->m->fluid, n - FIRST_KNOWN, s->f->rho + FIRST_KNOWN, u + FIRST_KNOWN,
                          s->f->node + FIRST_KNOWN, s->look + FIRST_KNOWN);
    for (int i = FIRST_KNOWN; i < n; i++)
        set_volume(s, i, u[i], inv_M[i]);
}

/* ---- pipes ---- */

static inline void set_flow(const struct swh_machine *m, const struct swh_flows *f, struct pipes *p, int a,
                            int b)
{
    const struct flow_derivatives q =
        pipe_derivatives(m->K_out[a], m->linear_out[a], f->P[a], f->P[b], f->rho[a], f->rho[b]);
    p->P_a[a] = q.dP;
    p->P_b[a] = -q.dP;
    p->rho_a[a] = q.rho_a;
    p->rho_b[a] = q.rho_b;
}

static inline void set_energy(struct pipes *p, int pipe, double m, double h_a, double h_b)
{
    const double root = sqrt(m * m + CARRY_ROUNDED), sign = m / root;
    p->h[pipe] = 0.5 * ((1 + sign) * h_a + (1 - sign) * h_b);
    p->forward[pipe] = 0.5 * (m + root);
    p->backward[pipe] = 0.5 * (m - root);
}

static void set_pipe(struct derivatives *s, int a, int b)
{
    set_flow(s->m, s->f, &s->pipe, a, b);
    set_energy(&s->pipe, a, s->f->m[a], s->f->h_donor_forward[a], s->f->h_donor_reverse[b]);
}

/* all pipes that lead to the next node: no branches, so that several are reckoned at once */
static void set_chain(const struct swh_machine *m, const struct swh_flows *f, struct pipes *p)
{
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++)
        set_flow(m, f, p, i, i + 1);
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++)
        set_energy(p, i, f->m[i], f->h_donor_forward[i], f->h_donor_reverse[i + 1]);
}

static void set_valve(struct derivatives *s, int pipe, int to, int last, int bulb, double area,
                      double opening)
{
    const struct swh_flows *f = s->f;
    const double P_up = f->P[SWH_NODE_LIQUID] + f->P_air, P_down = f->P[to] + f->P_air_low;
    const struct flow_derivatives q =
        pipe_derivatives(area * ROOT_2, PIPE_LINEAR, P_up, P_down, f->rho[SWH_NODE_LIQUID], f->rho[to]);
    const struct opening_derivatives by = opening_derivatives(s->m, s->y[bulb], f->P[last]);
    s->pipe.P_a[pipe] = opening * q.dP;
    s->pipe.P_b[pipe] = -opening * q.dP;
    s->pipe.rho_a[pipe] = opening * q.rho_a;
    s->pipe.rho_b[pipe] = opening * q.rho_b;
    s->felt[s->n_felt++] =
        (struct felt){pipe, SWH_NODE_LIQUID, to, last, q.m * by.P * s->v[last].P, bulb, q.m * by.T};
}

static void set_orifice(struct derivatives *s)
{
    const struct swh_flows *f = s->f;
    const int a = SWH_NODE_LIQUID, b = SWH_NODE_EVAP;
    const struct orifice_derivatives q = orifice_derivatives(s->m, &f->node[a], f->P[a] + f->P_air,
                                                             f->P[b] + f->P_air_low, f->rho[a], f->rho[b]);
    s->pipe.P_a[a] = q.up;
    s->pipe.P_b[a] = q.down;
    s->pipe.rho_a[a] = q.rho_up;
    s->pipe.rho_b[a] = q.rho_down;
    s->felt[s->n_felt++] = (struct felt){a, a, b, a, q.T * s->v[a].T, -1, 0};
}

static void set_rear(struct derivatives *s)
{
    const struct swh_flows *f = s->f;
    for (int i = SWH_NODE_REAR; i < SWH_NODE_MAX; i++)
        set_pipe(s, i, after_rear(i));
    set_energy(&s->pipe, REAR_VALVE, f->m_valve_rear, f->h_donor_forward[SWH_NODE_LIQUID],
               f->h_donor_reverse[SWH_NODE_REAR]);
    set_valve(s, REAR_VALVE, SWH_NODE_REAR, SWH_NODE_MAX - 1, s->m->l.scalar + SWH_S_bulb_rear,
              s->m->p.valve_area * s->m->p.rear_evaporator_size, s->f->opening_rear);
}

static void set_pipes(struct derivatives *s)
{
    set_chain(s->m, s->f, &s->pipe);
    set_pipe(s, SWH_NODE_SUCTION, SWH_NODE_CHAMBER);
    if (s->m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE)
        set_orifice(s);
    else
        set_valve(s, SWH_NODE_LIQUID, SWH_NODE_EVAP, SWH_NODE_SUCTION - 1, s->m->l.scalar + SWH_S_bulb,
                  s->m->p.valve_area, s->f->opening);
    if (s->m->l.rear)
        set_rear(s);
}

/* ---- cells ---- */

/* q: heat that the fluid takes, at M_REF and of a share of 1 */
static inline void set_cell(struct derivatives *s, int node, int wall, double m_in, double share,
                            double inv_size, const struct heat_derivatives *q)
{
    struct volume *v = &s->v[node];
    const double flow = 0.5 * (m_in + s->f->m[node]) * inv_size,
                 flow_correction = share * s->f->flow_correction[node];
    /* all of it goes like (flow^2 + STILL_FLOW)^(3/8) */
    v->heat_m = flow_correction * q->heat * (0.75 * 0.5) * inv_size * flow / (flow * flow + STILL_FLOW);
    v->heat = flow_correction * (q->T * v->T + q->P * v->P + q->x * v->x);
    v->wall = s->m->l.wall + wall;
    v->per_capacity = s->m->wall_inverse[wall];
}

static void set_condenser(struct derivatives *s, int node, int wall, double share)
{
    const struct heat_derivatives q =
        condensing_derivatives(s->m, &s->f->node[node], s->y[s->m->l.wall + wall]);
    set_cell(s, node, wall, s->f->m[node - 1], -share, 1, &q);
}

static void set_evaporator(struct derivatives *s, int node, int wall, double m_in, double share,
                           double inv_size)
{
    const struct heat_derivatives q =
        evaporating_derivatives(&s->m->p, &s->f->node[node], s->y[s->m->l.wall + wall]);
    set_cell(s, node, wall, m_in, share, inv_size, &q);
}

static void set_cells(struct derivatives *s)
{
    const double sub = s->m->p.condenser_subcool_share, rear = s->m->p.rear_evaporator_size;
    const double *m = s->f->m;
    for (int i = 0; i < SWH_N_COND; i++)
        set_condenser(s, SWH_NODE_COND + i, SWH_WALL_COND + i, (1 - sub) / SWH_N_COND);
    set_condenser(s, SWH_NODE_SUBCOOL, SWH_WALL_SUBCOOL, sub);
    for (int i = 0; i < SWH_N_EVAP; i++)
        set_evaporator(s, SWH_NODE_EVAP + i, SWH_WALL_EVAP + i, m[SWH_NODE_EVAP + i - 1], 1.0 / SWH_N_EVAP,
                       1);
    for (int i = 0; s->m->l.rear && i < SWH_N_REAR; i++)
        set_evaporator(s, SWH_NODE_REAR + i, SWH_WALL_REAR + i,
                       i ? m[SWH_NODE_REAR + i - 1] : s->f->m_valve_rear, rear / SWH_N_REAR, 1 / rear);
}

/* ---- into the matrix ---- */

/* derivatives of a pipe's flow and of the energy it carries with the states of one of its ends */
struct end {
    pair m, H;
};

static inline struct end end_a(const struct derivatives *s, int pipe, int a)
{
    const struct pipes *p = &s->pipe;
    const pair m = p->P_a[pipe] * s->v[a].P + (pair){p->rho_a[pipe] * s->m->volume_inverse[a], 0};
    return (struct end){m, p->h[pipe] * m + p->forward[pipe] * s->v[a].out};
}

static inline struct end end_b(const struct derivatives *s, int pipe, int b)
{
    const struct pipes *p = &s->pipe;
    const pair m = p->P_b[pipe] * s->v[b].P + (pair){p->rho_b[pipe] * s->m->volume_inverse[b], 0};
    return (struct end){m, p->h[pipe] * m + p->backward[pipe] * s->v[b].back};
}

/* All that a volume's states do to itself and, by the pipe that leads in and the one that leads out, to the
 * volumes before and behind it: each entry is the sum of what belongs to it, and written once. */
static inline void put_volume(struct derivatives *s, int node, int into, int before, int behind)
{
    const struct end in = end_b(s, into, node), out = end_a(s, node, node);
    const struct volume *v = &s->v[node], *v_before = &s->v[before], *v_behind = &s->v[behind];
    const struct columns c = columns_of(s, node);
    const int M = s->m->l.M, U = s->m->l.U;
    const pair q = v->heat + v->heat_m * (in.m + out.m);
    const pair q_before = v_before->heat_m * in.m, q_behind = v_behind->heat_m * out.m;
    double *J = s->J;
    put(J, c, M + before, -in.m);
    put(J, c, M + node, in.m - out.m);
    put(J, c, M + behind, out.m);
    put(J, c, U + before, q_before - in.H);
    put(J, c, U + node, (in.H - out.H) + q);
    put(J, c, U + behind, out.H + q_behind);
    if (v_before->wall >= 0)
        put(J, c, v_before->wall, -q_before * v_before->per_capacity);
    if (v->wall >= 0)
        put(J, c, v->wall, -q * v->per_capacity);
    if (v_behind->wall >= 0)
        put(J, c, v_behind->wall, -q_behind * v_behind->per_capacity);
}

static void put_volumes(struct derivatives *s)
{
    for (int i = FIRST_KNOWN; i < SWH_NODE_SUCTION; i++)
        put_volume(s, i, i - 1, i - 1, i + 1);
    put_volume(s, SWH_NODE_SUCTION, SWH_NODE_SUCTION - 1, SWH_NODE_SUCTION - 1, SWH_NODE_CHAMBER);
    if (!s->m->l.rear)
        return;
    put_volume(s, SWH_NODE_REAR, REAR_VALVE, SWH_NODE_LIQUID, after_rear(SWH_NODE_REAR));
    for (int i = SWH_NODE_REAR + 1; i < SWH_NODE_MAX; i++)
        put_volume(s, i, i - 1, i - 1, after_rear(i));
}

static void add_heat(struct derivatives *s, int node, const short *at, double m_z)
{
    const struct volume *v = &s->v[node];
    const double heat = v->heat_m * m_z;
    s->J[at[s->m->l.U + node]] += heat;
    if (v->wall >= 0)
        s->J[at[v->wall]] -= heat * v->per_capacity;
}

/* a flow from a to b that feels a state by m_z, and its energy by H_z */
static void add_flow(struct derivatives *s, int a, int b, int column, double m_z, double H_z)
{
    const short *at = s->e->at[column];
    s->J[at[s->m->l.M + a]] -= m_z;
    s->J[at[s->m->l.M + b]] += m_z;
    s->J[at[s->m->l.U + a]] -= H_z;
    s->J[at[s->m->l.U + b]] += H_z;
    add_heat(s, a, at, m_z);
    add_heat(s, b, at, m_z);
}

static void add_flows(struct derivatives *s, int a, int b, int node, struct end z)
{
    add_flow(s, a, b, s->m->l.M + node, z.m[BY_MASS], z.H[BY_MASS]);
    add_flow(s, a, b, s->m->l.U + node, z.m[BY_ENERGY], z.H[BY_ENERGY]);
}

static void add_felt(struct derivatives *s)
{
    for (int i = 0; i < s->n_felt; i++) {
        const struct felt *x = &s->felt[i];
        const double h = s->pipe.h[x->pipe];
        add_flows(s, x->a, x->b, x->node, (struct end){x->m_node, h * x->m_node});
        if (x->bulb >= 0)
            add_flow(s, x->a, x->b, x->bulb, x->m_bulb, h * x->m_bulb);
    }
}

/* the second pipe out of the liquid line and into the suction line */
static void add_rear(struct derivatives *s)
{
    const int last = SWH_NODE_MAX - 1;
    add_flows(s, last, SWH_NODE_SUCTION, SWH_NODE_SUCTION, end_b(s, last, SWH_NODE_SUCTION));
    add_flows(s, SWH_NODE_LIQUID, SWH_NODE_REAR, SWH_NODE_LIQUID, end_a(s, REAR_VALVE, SWH_NODE_LIQUID));
}

static void lines(struct derivatives *s, int node, double UA)
{
    const pair heat = -UA * s->v[node].T;
    add(s, s->m->l.U + node, node, heat);
    add(s, heat_row(s->m, SWH_CH_heat_lines), node, heat);
}

/* the vapour's enthalpy, that of the volume itself in one phase; before softening */
static pair vapour_enthalpy(const struct derivatives *s, int node)
{
    const struct swh_cell_props *c = &s->f->node[node];
    const struct swh_cell_derivatives *d = &s->look[node];
    if (c->x > 0 && c->x < 1)
        return d->h_g_T * s->v[node].T;
    const double inv_M = 1 / s->y[s->m->l.M + node], v = 1 / s->f->rho[node];
    const double u = s->y[s->m->l.U + node] * inv_M;
    const double h_rho = v * (d->P_rho - d->P * v), h_u = 1 + d->P_u * v;
    return h_rho * (pair){s->m->volume_inverse[node], 0} + h_u * (pair){-u * inv_M, inv_M};
}

/* what a leak or a filling takes along */
static void leaks(struct derivatives *s, const struct swh_modes *modes)
{
    if (modes->leak == 0)
        return;
    const int node = modes->leak > 0 ? SWH_NODE_LIQUID : SWH_NODE_SUCTION;
    const pair H_z = modes->leak * (modes->leak > 0 ? s->v[node].h : vapour_enthalpy(s, node));
    add(s, s->m->l.U + node, node, -H_z);
    add(s, s->m->l.sum + SWH_SUM_ENERGY_OUT, node, H_z);
}

static void follow(struct derivatives *s, enum swh_scalar what, int node, double per_kelvin)
{
    add(s, s->m->l.scalar + (int)what, node, per_kelvin * s->v[node].T);
}

static void sensors(struct derivatives *s)
{
    const struct swh_params *p = &s->m->p;
    const double pull = 1 - p->probe_discharge_pull, lag = s->m->inv[SWH_S_bulb];
    const int last = SWH_NODE_SUCTION - 1, row = s->m->l.scalar;
    const int bulb = row + SWH_S_bulb, bulb_rear = row + SWH_S_bulb_rear;
    follow(s, SWH_S_bulb, last, lag);
    follow(s, SWH_S_bulb_rear, s->m->l.rear ? SWH_NODE_MAX - 1 : last, lag);
    s->J[s->e->at[bulb][bulb]] -= lag;
    s->J[s->e->at[bulb_rear][bulb_rear]] -= lag;
    follow(s, SWH_S_probe_suction, SWH_NODE_SUCTION, pull / (p->probe_suction_lag + 0.5));
    follow(s, SWH_S_probe_liquid,
           s->m->c.probe_liquid_line_place == SWH_LIQUID_AT_CONDENSER ? SWH_NODE_SUBCOOL : SWH_NODE_LIQUID,
           pull / (p->probe_liquid_lag + 0.5));
    add(s, row + SWH_S_sensor_low, SWH_NODE_SUCTION,
        s->m->gauge_share / p->controls_low_sensor_time * s->v[SWH_NODE_SUCTION].P);
}

/* ---- the whole ---- */

void swh_machine_slope_columns(const struct swh_machine *m, unsigned char *known)
{
    memset(known, 0, (size_t)m->l.n);
    if (!m->l.closed)
        return;
    for (int i = 0; i < m->l.n_nodes; i++)
        known[m->l.M + i] = known[m->l.U + i] = i >= FIRST_KNOWN;
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

static void clear(struct derivatives *s, int first, int end)
{
    const int *at = s->e->col_ptr;
    memset(s->J + at[first], 0, (size_t)(at[end] - at[first]) * sizeof *s->J);
}

/* the columns of swh_machine_slope_columns, which lie in three rows */
static void clear_columns(struct derivatives *s)
{
    const struct swh_layout *l = &s->m->l;
    clear(s, l->M + FIRST_KNOWN, l->M + l->n_nodes);
    clear(s, l->U + FIRST_KNOWN, l->U + l->n_nodes);
    _Static_assert((int)SWH_S_bulb + 1 == (int)SWH_S_bulb_rear, "both bulbs are cleared at once");
    clear(s, l->scalar + SWH_S_bulb, l->scalar + SWH_S_bulb_rear + 1);
}

int swh_machine_jacobian(const struct swh_machine *m, const struct swh_modes *modes, const double *y,
                         const struct swh_flows *f, const struct swh_entries *e, double *J)
{
    struct derivatives s;
    s.m = m;
    s.y = y;
    s.f = f;
    s.e = e;
    s.J = J;
    s.n_felt = 0;
    if (is_of_other_state(&s))
        return 1;
    clear_columns(&s);
    set_volumes(&s);
    set_pipes(&s);
    set_cells(&s);
    put_volumes(&s);
    add_felt(&s);
    if (m->l.rear)
        add_rear(&s);
    lines(&s, SWH_NODE_SUCTION, m->p.suction_line_ua);
    lines(&s, SWH_NODE_LIQUID, m->p.liquid_line_ua);
    leaks(&s, modes);
    sensors(&s);
    return 0;
}
