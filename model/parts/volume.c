/* The volumes that hold refrigerant. */
#include "model/parts/volume.h"

#include "model/parts/derivatives.h"

#include <string.h>

/* volumes whose state is not known yet */
struct unknown {
    int n, node[SWH_NODE_MAX];
    double rho[SWH_NODE_MAX], u[SWH_NODE_MAX];
    struct swh_cell_props *out[SWH_NODE_MAX];
};

static void list_unknown(const struct swh_machine *m, const double *y, struct swh_flows *f, struct unknown *x)
{
    const struct swh_memo *seen = &f->memo;
    x->n = 0;
    for (int i = 0; i < m->l.n_nodes; i++) {
        const struct content c = content_of(m, y, i);
        const double u = c.u, rho = f->rho[i] = c.M * m->volume_inverse[i];
        x->node[x->n] = i;
        x->rho[x->n] = rho;
        x->u[x->n] = u;
        x->out[x->n] = &f->node[i];
        x->n += !(seen->rho[i] == rho && seen->u[i] == u);
    }
}

int swh_node_states(const struct swh_machine *m, const double *y, struct swh_flows *f)
{
    struct unknown x;
    x.rho[0] = x.u[0] = 0; /* not all of it: that would cost more than the list */
    x.out[0] = f->node;
    list_unknown(m, y, f, &x);
    const uint64_t outside = volume_states(m, x.n, x.rho, x.u, x.out);
    f->out_of_range = 0;
    for (int k = 0; k < x.n; k++) {
        const int bad = outside >> k & 1;
        f->out_of_range += bad;
        f->memo.rho[x.node[k]] = bad ? NAN : x.rho[k];
        f->memo.u[x.node[k]] = x.u[k];
        f->P[x.node[k]] = x.out[k]->P;
    }
    return f->out_of_range;
}

static void cell_outlets(struct swh_flows *f, int from, int to)
{
    for (int i = from; i < to; i++)
        f->h_donor_forward[i] = f->h_donor_reverse[i] = slip_enthalpy(&f->node[i]);
}

/* `outlets` of all volumes */
void swh_outlet_enthalpies(const struct swh_machine *m, struct swh_flows *f)
{
    static const int others[] = {SWH_NODE_CHAMBER, SWH_NODE_PLENUM,      SWH_NODE_RECEIVER, SWH_NODE_SUBCOOL,
                                 SWH_NODE_LIQUID,  SWH_NODE_ACCUMULATOR, SWH_NODE_SUCTION};
    for (size_t k = 0; k < sizeof others / sizeof *others; k++) {
        const int i = others[k];
        outlets(m, i, &f->node[i], f->rho[i], &f->h_donor_forward[i], &f->h_donor_reverse[i]);
    }
    cell_outlets(f, SWH_NODE_COND, SWH_NODE_RECEIVER);
    cell_outlets(f, SWH_NODE_EVAP, SWH_NODE_ACCUMULATOR);
    cell_outlets(f, SWH_NODE_REAR, m->l.n_nodes);
}

/* ---- derivatives ---- */

/* Shifts, where a law is differenced: a part of the mass, and J/kg. Small beside what curves, large beside
 * rounding. */
static const double SHIFT_M = 1e-7, SHIFT_U = 0.03;

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
        const double T = stiff_temperature(s->m, c->T, d->P - c->P);
        const struct softened soft = soften_derivatives(s->m, d->P, T);
        const pair P_stiff = P_z, T_stiff = v->T;
        P_z = soft.P_P * P_stiff + soft.P_T * T_stiff;
        v->T = soft.T_P * P_stiff + soft.T_T * T_stiff;
    }
    v->P = P_z;
    v->h = u_z + inv_rho * P_z - (pair){c->P * inv_rho * inv_M, 0};
    v->out = v->back = v->h;
    if (c->x <= 0 || c->x >= 1)
        return;
    if (is_exchanger(i)) {
        const struct slip_derivatives slip = slip_derivatives(c, d, s->f->h_donor_forward[i]);
        v->out = v->back = slip.x * v->x + slip.T * v->T;
    } else if (i == settling_vessel(s->m))
        set_settling(s, i, rho_z);
}

void swh_volume_derivatives(struct derivatives *s)
{
    const int n = s->m->l.n_nodes;
    double u[SWH_NODE_MAX] = {0}, inv_M[SWH_NODE_MAX];
    for (int i = 0; i < n; i++) {
        const struct content c = content_of(s->m, s->y, i);
        u[i] = c.u;
        inv_M[i] = 1 / c.M;
    }
    for (int i = 0; i < n; i++) {
        s->v[i].wall = -1;
        s->v[i].heat_m = s->v[i].lead = s->v[i].lead_m = 0;
        s->v[i].heat = (pair){0, 0};
    }
    swh_rho_u_derivatives(s->m->fluid, n - FIRST_KNOWN, s->f->rho + FIRST_KNOWN, u + FIRST_KNOWN,
                          s->f->node + FIRST_KNOWN, s->look + FIRST_KNOWN);
    for (int i = FIRST_KNOWN; i < n; i++)
        set_volume(s, i, u[i], inv_M[i]);
}

/* the vapour's enthalpy, that of the volume itself in one phase; before softening */
pair swh_vapour_enthalpy_derivatives(const struct derivatives *s, int node)
{
    const struct swh_cell_props *c = &s->f->node[node];
    const struct swh_cell_derivatives *d = &s->look[node];
    if (c->x > 0 && c->x < 1)
        return d->h_g_T * s->v[node].T;
    const struct content inside = content_of(s->m, s->y, node);
    const double inv_M = 1 / inside.M, v = 1 / s->f->rho[node], u = inside.u;
    const double h_rho = v * (d->P_rho - d->P * v), h_u = 1 + d->P_u * v;
    return h_rho * (pair){s->m->volume_inverse[node], 0} + h_u * (pair){-u * inv_M, inv_M};
}

/* ---- what it depends on ---- */

/* ---- channels ---- */

/* what a volume's charge counts as */
enum charge_group { CONDENSER, RECEIVER, EVAPORATOR, LOW_SIDE, GROUPS };

static enum charge_group group_of(int node)
{
    if (node == SWH_NODE_CHAMBER || node == SWH_NODE_ACCUMULATOR || node == SWH_NODE_SUCTION)
        return LOW_SIDE;
    if (node < SWH_NODE_RECEIVER)
        return CONDENSER;
    return node <= SWH_NODE_LIQUID ? RECEIVER : EVAPORATOR;
}

void swh_volume_channels(const struct swh_view *v, double *ch)
{
    double group[GROUPS] = {0};
    for (int i = 0; i < v->m->l.n_nodes; i++)
        group[group_of(i)] += v->y[v->m->l.M + i];
    ch[SWH_CH_charge_condenser] = group[CONDENSER];
    ch[SWH_CH_charge_receiver] = group[RECEIVER];
    ch[SWH_CH_charge_evaporator] = group[EVAPORATOR];
    ch[SWH_CH_charge_low_side] = group[LOW_SIDE];
    ch[SWH_CH_charge] = group[0] + group[1] + group[2] + group[3];
}
