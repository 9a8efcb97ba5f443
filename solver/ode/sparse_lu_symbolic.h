/* What a factorisation consists of, listed once from the pattern: pairs of states, the order of their
 * elimination, the fill, and where every number and product goes. Private to sparse_lu*.c. */
#ifndef SWH_SOLVER_ODE_SPARSE_LU_SYMBOLIC_H
#define SWH_SOLVER_ODE_SPARSE_LU_SYMBOLIC_H

#include "model/base/pair.h"
#include "solver/ode/sparse_lu.h"

#include <stddef.h>
#include <stdint.h>

enum { PAIR = 2, BLOCK = PAIR * PAIR };

/* two rows at once (a pair); a block is two of them, its columns */
struct block {
    pair column[PAIR];
};
#ifndef __wasm__ /* loads pairs from any address */
_Static_assert(_Alignof(max_align_t) % sizeof(pair) == 0, "what calloc gives is aligned for pairs");
#endif

struct term {
    int to, from;
};
struct product {
    int to, l, u;
};

struct swh_lu {
    int n, blocks, l_count, u_count;
    int identity; /* of the blocks, the first ones: those of columns that are left out */
    int *state; /* [PAIR blocks]; a row without one repeats its neighbour's, and is zero but for its pivot */
    /* L below its diagonal of ones by rows, ascending, then U above its diagonal by rows, descending, its
     * rows times the inverse of their pivot at the end: so both triangles are solved from the first to the
     * last. Then the pivots. */
    struct block *val, *pivot, *inverse;
    int *column, *row_end; /* of each block; of the rows of L from the first, then of U from the last */
    int first_below;       /* row of L that is not empty */
    struct term *load;     /* number `to` of val is -gamma J[from] */
    int loads;
    /* of pivot j: its column of L; where its products with the row of U go, row by row; those of
     * them that a pivot is the sum of */
    int *l_first, *l_entry, *target_first, *target, *pivot_first;
    struct product *pivot_product;
    pair *terms; /* magnitudes of what each diagonal is the sum of */
    double kept; /* of the worst pivot's terms, the share that did not cancel */
    pair *x;
};

/* of pivot j: the first block of its row of U, and how many there are */
static inline int u_row(const struct swh_lu *lu, int j)
{
    return lu->row_end[2 * lu->blocks - 2 - j];
}

static inline int u_row_length(const struct swh_lu *lu, int j)
{
    return lu->row_end[2 * lu->blocks - 1 - j] - u_row(lu, j);
}

#endif
