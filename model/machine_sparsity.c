/* Sparsity of the Jacobian, gathered from the parts; which states are slow. */
#include "model/parts/pattern.h"

#include <string.h>

void swh_couple_dependencies(const struct swh_machine *m, struct pattern *p, int row, struct depends_on f)
{
    for (int node = SWH_NODE_CHAMBER; node <= SWH_NODE_PLENUM; node++)
        if (f.nodes & (1 << node))
            couple_row_to_node(m, p, row, node);
    for (int c = SWH_S_rotor; c <= SWH_S_oil_evap; c++)
        if (f.scalars & (1u << c))
            couple(p, row, m->l.scalar + c);
    if (m->l.closed && f.nodes == GAS) /* ncg gas is part of the discharge pressure */
        couple(p, row, m->l.scalar + SWH_S_ncg);
}

static void gather_circuit(const struct swh_machine *m, struct pattern *p)
{
    swh_pattern_volumes(m, p);
    swh_pattern_pipes(m, p);
    swh_pattern_expansion(m, p);
    swh_pattern_condenser(m, p);
    swh_pattern_evaporator(m, p);
    swh_pattern_cabin(m, p);
    swh_pattern_probes(m, p);
    swh_pattern_ncg(m, p);
    swh_pattern_bay(m, p);
}

static void gather(const struct swh_machine *m, struct pattern *p)
{
    swh_pattern_compressor(m, p);
    swh_pattern_film(m, p);
    swh_pattern_oil(m, p);
    swh_pattern_body(m, p);
    swh_pattern_clutch(m, p);
    swh_pattern_clamps(m, p);
    swh_pattern_vent(m, p);
    swh_pattern_lines(m, p);
    if (m->l.closed)
        gather_circuit(m, p);
}

int swh_machine_sparsity(const struct swh_machine *m, int *col_ptr, int *row_idx, int capacity)
{
    unsigned char on[SWH_STATE_MAX * SWH_STATE_MAX] = {0};
    struct pattern p = {m->l.n, on};
    for (int i = 0; i < p.n; i++)
        couple(&p, i, i);
    gather(m, &p);
    int count = 0;
    for (int col = 0; col < p.n; col++) {
        col_ptr[col] = count;
        for (int row = 0; row < p.n; row++) {
            if (!on[row * p.n + col])
                continue;
            if (count == capacity)
                return -1;
            row_idx[count++] = row;
        }
    }
    col_ptr[p.n] = count;
    return count;
}

void swh_machine_slow_states(const struct swh_machine *m, unsigned char *slow)
{
    memset(slow, 0, (size_t)m->l.n);
    memset(slow + m->l.wall, 1, (size_t)(m->l.sum - m->l.wall));
    slow[m->l.scalar + SWH_S_speed_ratio] = 0;
    if (m->l.closed)
        slow[m->l.scalar + SWH_S_bulb] = slow[m->l.scalar + SWH_S_bulb_rear] = 0;
}
