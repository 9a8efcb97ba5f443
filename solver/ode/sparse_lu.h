/* Sparse LU of a matrix with a fixed pattern, factored many times: ordering and fill are worked out once, the
 * numbers then run over flat arrays, two states at a time. Pivots stay on the diagonal (our matrices are I -
 * gamma J of systems that exchange what they hold, whose diagonal carries the columns); a pivot that cancels
 * is reported, not worked around. */
#ifndef SWH_SOLVER_ODE_SPARSE_LU_H
#define SWH_SOLVER_ODE_SPARSE_LU_H

struct swh_lu;

/* Analyses the pattern (compressed columns, diagonal included, no entry twice; n > 0). NULL if memory is
 * short. States are paired that have most entries in common. Ordering: the pair, on the diagonal, that may
 * cause least fill comes first (Markowitz, Management Science 3 (1957) 255); sums, sensors and prescribed
 * states cause none. */
struct swh_lu *swh_lu_create(int n, const int *col_ptr, const int *row_idx);

/* The same for a J whose marked columns (left_out[n], not 0) are taken as zero, each as a whole, so that what
 * vanishes in every column of J still does. The values of the whole J are handed in as ever. */
struct swh_lu *swh_lu_create_without(int n, const int *col_ptr, const int *row_idx,
                                     const unsigned char *left_out);
void swh_lu_free(struct swh_lu *lu);

/* Factors I - gamma J, J given by its values in the order of row_idx. Returns -1 if all is well, else the
 * index of the row whose pivot is lost (a pair's: its determinant): not finite, or so small against the terms
 * it is the difference of (1e-13 of their magnitudes) that fewer than three digits are left. The measure does
 * not depend on the units of the states, and growth of entries shows in it. */
int swh_lu_factor(struct swh_lu *lu, double gamma, const double *J);

/* What the worst pivot of the last factorisation is of the terms that it is the difference of: 1e-16 over it
 * is about the relative error of a solution. */
double swh_lu_kept(const struct swh_lu *lu);

/* Solves (I - gamma J) x = b in place. */
void swh_lu_solve(const struct swh_lu *lu, double *b);
/* x = factor times the solution for b; x may be b. */
void swh_lu_solve_into(const struct swh_lu *lu, double factor, const double *b, double *x);

/* Numbers kept of L and U together, the diagonal once: blocks of two by two, their zeros counted. */
int swh_lu_entries(const struct swh_lu *lu);

#endif
