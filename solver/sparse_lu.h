/* Sparse LU of a matrix with a fixed pattern, factored many times: ordering and fill are worked out once, the
 * numbers then run over flat arrays. Pivots stay on the diagonal (our matrices are I - gamma J with gamma
 * small against the fast time constants: the diagonal carries them); a pivot that gets too small is reported,
 * not worked around. */
#ifndef SWH_SOLVER_SPARSE_LU_H
#define SWH_SOLVER_SPARSE_LU_H

struct swh_lu;

/* Analyses the pattern (compressed columns, diagonal included; n > 0). NULL if memory is short. Ordering:
 * approximate minimum degree on A + A^T (Amestoy, Davis and Duff 1996, as in SuiteSparse AMD). */
struct swh_lu *swh_lu_create(int n, const int *col_ptr, const int *row_idx);
void swh_lu_free(struct swh_lu *lu);

/* Factors I - gamma J, J given by its values in the order of row_idx. Returns -1 if all is well, else the
 * index of the row whose pivot is smaller than 1e-12 times its row's largest entry. */
int swh_lu_factor(struct swh_lu *lu, double gamma, const double *J);

/* Solves (I - gamma J) x = b in place. */
void swh_lu_solve(const struct swh_lu *lu, double *b);

/* Entries of L and U together. */
int swh_lu_entries(const struct swh_lu *lu);

#endif
