/* Which input moves a result most: rank correlations and Sobol indices of computed points. */
#ifndef SWH_SOLVER_STUDY_SENSITIVITY_H
#define SWH_SOLVER_STUDY_SENSITIVITY_H

#include "model/base/status.h"

/* Spearman's rank correlation of x and y, n points, ties by mean ranks; pairs with a NaN are left out. In
 * -1..1; NaN if fewer than three pairs are left or one side does not vary. SWH_ERR_MEMORY. */
enum swh_status swh_rank_correlation(const double *x, const double *y, long n, double *rho,
                                     struct swh_error *err);

/* Partial rank correlations of y with each of k inputs: the correlation of both ranks once a plane through
 * the ranks of the other inputs is taken off (Iman and Conover 1982, from memory); it shows an input that a
 * stronger one hides. x[i * n + j] is input i of point j; points with a NaN in y are left out. out[k] in
 * -1..1; NaN if there are fewer than k + 3 points or one side does not vary by itself. SWH_ERR_MEMORY. */
enum { SWH_PARTIAL_MAX = 8 };
enum swh_status swh_partial_rank_correlations(const double *x, int k, const double *y, long n, double *out,
                                              struct swh_error *err);

struct swh_sobol {
    double first, total; /* shares of the variance: of the input alone; with everything it takes part in */
    double first_error, total_error; /* standard errors (over the sample points) */
};

/* Sobol indices from the results y of Saltelli's design (solver/study/sample.h, SWH_DESIGN_SALTELLI): y has
 * sample (axes + 2) values. First order by Saltelli et al. 2010, eq. (b) of their table 2: V_i = mean y_B
 * (y_ABi - y_A); total by Jansen 1999: mean (y_A - y_ABi)^2 / 2; both over the variance of y_A and y_B
 * together. Base points with a value that is not finite are left out. out[axes]; all NaN if fewer than 8
 * points are left or y does
 * not vary. */
void swh_sobol_indices(const double *y, long sample, int axes, struct swh_sobol *out);

#endif
