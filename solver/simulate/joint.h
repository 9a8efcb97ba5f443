/* How parameters with a spread err together: correlations that a fit leaves in its vehicle file, and the
 * root of the covariance that follows. A parameter that is in no correlation errs by itself. */
#ifndef SWH_SOLVER_SIMULATE_JOINT_H
#define SWH_SOLVER_SIMULATE_JOINT_H

#include "model/tables/tables.h"

#include <stdbool.h>

enum { SWH_JOINT_MAX = 32 }; /* parameters in correlations */
struct swh_joint {
    int n;
    int param[SWH_JOINT_MAX];               /* enum swh_param */
    double r[SWH_JOINT_MAX][SWH_JOINT_MAX]; /* symmetric; 1 on the diagonal */
};

/* Sets the correlation (-1 to 1) of two parameters. false: a is b, r is outside, or there is no room for more
 * parameters. */
bool swh_joint_set(struct swh_joint *j, int a, int b, double r);
/* Correlation of two parameters; 1 of one with itself, 0 if none was set. */
double swh_joint_get(const struct swh_joint *j, int a, int b);

/* What is drawn, or moved, together. */
struct swh_joint_root {
    int n;
    int param[SWH_JOINT_MAX];
    double root[SWH_JOINT_MAX][SWH_JOINT_MAX]; /* lower; SI. parameter i = mean + sum over k <= i of
                                                  root[i][k] z_k, z independent with unit variance */
};
/* The parameters that are in correlations and have a spread above 0, in the table's order, with the lower
 * Cholesky factor of their covariance (Golub and Van Loan, Matrix Computations, ch. 4). Rounded correlations
 * that are no covariance (not positive definite) are taken nearer to 0, all by one factor, until they are. */
void swh_joint_make_root(const struct swh_joint *j, const struct swh_params *spread,
                         struct swh_joint_root *out);

#endif
