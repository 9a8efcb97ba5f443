/* Sparsity of the Jacobian, as make_sparsity.c found it while
 * the library was built; which states are slow. */
#include "model/machine.h"

#include "model/sparsity.inc"

#include <string.h>

int swh_machine_sparsity(const struct swh_machine *m, int *col_ptr, int *row_idx, int capacity)
{
    const int *ptr = !m->l.closed ? ports_ptr : m->l.rear ? circuit_rear_ptr : circuit_ptr;
    const short *idx = !m->l.closed ? ports_idx : m->l.rear ? circuit_rear_idx : circuit_idx;
    const int count = ptr[m->l.n];
    if (count > capacity || m->l.n_nodes > SWH_RHO_U_MOST)
        return -1;
    for (int i = 0; i <= m->l.n; i++)
        col_ptr[i] = ptr[i];
    for (int k = 0; k < count; k++)
        row_idx[k] = idx[k];
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
