/* Derivatives of the rates with respect to what the circuit's volumes hold, volume by volume: the tables give
 * the derivatives of the properties, the laws theirs (parts/), and the flows join neighbours by the chain
 * rule. Whatever one row loses the next one gains, the same product with opposite sign, as in the rates, so
 * that every column keeps mass and energy to rounding. */
#include "model/parts/derivatives.h"

#include "model/parts/pipe.h"
#include "model/parts/volume.h"

#include <string.h>

static int is_of_other_state(const struct derivatives *s)
{
    const double *per_volume = s->m->volume_inverse, *rho = s->f->rho;
    int other = 0;
    for (int i = 0, n = s->m->l.n_nodes; i < n; i++)
        other |= rho[i] != content_of(s->m, s->y, i).M * per_volume[i];
    return other;
}

static void set_rear(struct derivatives *s)
{
    const struct swh_flows *f = s->f;
    for (int i = SWH_NODE_REAR; i < SWH_NODE_MAX; i++)
        swh_pipe_derivatives(s, i, after_rear(i));
    swh_pipe_energy_derivatives(&s->pipe, REAR_VALVE, f->m_valve_rear, f->h_donor_forward[SWH_NODE_LIQUID],
                                f->h_donor_reverse[SWH_NODE_REAR]);
    swh_valve_derivatives(s, REAR_VALVE, SWH_NODE_REAR, SWH_NODE_REAR_LAST, s->m->l.scalar + SWH_S_bulb_rear,
                          s->m->p.rear_evaporator_size, s->f->opening_rear);
}

static void set_pipes(struct derivatives *s)
{
    swh_chain_derivatives(s->m, s->f, &s->pipe);
    swh_pipe_derivatives(s, SWH_NODE_SUCTION, SWH_NODE_CHAMBER);
    if (s->m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE)
        swh_orifice_derivatives(s);
    else
        swh_valve_derivatives(s, SWH_NODE_LIQUID, SWH_NODE_EVAP, SWH_NODE_EVAP_LAST,
                              s->m->l.scalar + SWH_S_bulb, 1, s->f->opening);
    if (s->m->l.rear)
        set_rear(s);
}

static void set_cells(struct derivatives *s)
{
    const double sub = s->m->p.condenser_subcool_share, rear = s->m->p.rear_evaporator_size;
    for (int i = 0; i < SWH_N_COND; i++)
        swh_condenser_derivatives(s, SWH_NODE_COND + i, SWH_WALL_COND + i, (1 - sub) / SWH_N_COND);
    swh_condenser_derivatives(s, SWH_NODE_SUBCOOL, SWH_WALL_SUBCOOL, sub);
    for (int i = 0; i < SWH_N_EVAP; i++)
        swh_evaporator_derivatives(s, SWH_NODE_EVAP + i, SWH_WALL_EVAP + i, 1.0 / SWH_N_EVAP, 1);
    for (int i = 0; s->m->l.rear && i < SWH_N_REAR; i++)
        swh_evaporator_derivatives(s, SWH_NODE_REAR + i, SWH_WALL_REAR + i, rear / SWH_N_REAR, 1 / rear);
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
 * volumes before and behind it: each entry is the sum of what belongs to it, and written once. Heat goes with
 * the flow that leaves the cell it is given to, and a share of it to the volume behind that. */
static inline void put_volume(struct derivatives *s, int node, int into, int before, int behind)
{
    const struct end in = end_b(s, into, node), out = end_a(s, node, node);
    const struct volume *v = &s->v[node], *v_before = &s->v[before];
    const struct columns c = columns_of(s, node);
    const int M = s->m->l.M, U = s->m->l.U;
    const pair q = v->heat + v->heat_m * out.m, lead = v->lead * v->heat + v->lead_m * out.m;
    const pair q_before = v_before->heat_m * in.m, lead_before = v_before->lead_m * in.m;
    double *J = s->J;
    put(J, c, M + before, -in.m);
    put(J, c, M + node, in.m - out.m);
    put(J, c, M + behind, out.m);
    put(J, c, U + before, (q_before - lead_before) - in.H);
    put(J, c, U + node, (in.H - out.H) + (q - lead) + lead_before);
    put(J, c, U + behind, out.H + lead);
    if (v_before->wall >= 0)
        put(J, c, v_before->wall, -q_before * v_before->per_capacity);
    if (v->wall >= 0)
        put(J, c, v->wall, -q * v->per_capacity);
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

/* slope of a cell's heat with a state on which the flow out of it depends by m_z; no cell leads then */
static void add_heat(struct derivatives *s, int node, const short *at, double m_z)
{
    const struct volume *v = &s->v[node];
    const double heat = v->heat_m * m_z;
    s->J[at[s->m->l.U + node]] += heat;
    if (v->wall >= 0)
        s->J[at[v->wall]] -= heat * v->per_capacity;
}

/* a flow from a to b that depends on a state by m_z, and its energy by H_z */
void swh_add_flow(struct derivatives *s, int a, int b, int column, double m_z, double H_z)
{
    const short *at = s->e->at[column];
    s->J[at[s->m->l.M + a]] -= m_z;
    s->J[at[s->m->l.M + b]] += m_z;
    s->J[at[s->m->l.U + a]] -= H_z;
    s->J[at[s->m->l.U + b]] += H_z;
    add_heat(s, a, at, m_z);
}

void swh_add_flows(struct derivatives *s, int a, int b, int node, struct end z)
{
    swh_add_flow(s, a, b, s->m->l.M + node, z.m[BY_MASS], z.H[BY_MASS]);
    swh_add_flow(s, a, b, s->m->l.U + node, z.m[BY_ENERGY], z.H[BY_ENERGY]);
}

static void add_dependencies(struct derivatives *s)
{
    for (int i = 0; i < s->n_dependencies; i++) {
        const struct dependency *x = &s->dependency[i];
        const double h = s->pipe.h[x->pipe];
        swh_add_flows(s, x->a, x->b, x->node, (struct end){x->m_node, h * x->m_node});
        if (x->bulb >= 0)
            swh_add_flow(s, x->a, x->b, x->bulb, x->m_bulb, h * x->m_bulb);
    }
}

/* the second pipe out of the liquid line and into the front of the suction line */
static void add_rear(struct derivatives *s)
{
    const int last = SWH_NODE_REAR_LAST;
    swh_add_flows(s, last, SWH_NODE_ACCUMULATOR, SWH_NODE_ACCUMULATOR, end_b(s, last, SWH_NODE_ACCUMULATOR));
    swh_add_flows(s, SWH_NODE_LIQUID, SWH_NODE_REAR, SWH_NODE_LIQUID, end_a(s, REAR_VALVE, SWH_NODE_LIQUID));
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
    s.n_dependencies = 0;
    if (is_of_other_state(&s))
        return 1;
    clear_columns(&s);
    swh_volume_derivatives(&s);
    set_pipes(&s);
    set_cells(&s);
    put_volumes(&s);
    add_dependencies(&s);
    if (m->l.rear)
        add_rear(&s);
    swh_lines_derivatives(&s, SWH_NODE_ACCUMULATOR, m->UA_accumulator);
    swh_lines_derivatives(&s, SWH_NODE_SUCTION, m->p.suction_line_ua - m->UA_accumulator);
    swh_lines_derivatives(&s, SWH_NODE_LIQUID, m->p.liquid_line_ua);
    swh_vent_derivatives(&s, modes);
    swh_probe_derivatives(&s);
    return 0;
}
