/* Nonlinear least squares with bounds: cminpack's Levenberg-Marquardt on transformed variables, with
 * differences of a step that suits the noise of the residuals. */
#ifndef SWH_SOLVER_INFER_LEAST_SQUARES_H
#define SWH_SOLVER_INFER_LEAST_SQUARES_H

#include "model/base/status.h"

#include <stdbool.h>

enum { SWH_LSQ_MAX = 32 }; /* variables */
struct swh_lsq {
    int m, n; /* residuals, variables; n <= SWH_LSQ_MAX, m >= n */
    /* r[m] at p[n]; called by several threads at once if threads > 1. A failure away from the start only
     * shortens the step. */
    enum swh_status (*residuals)(const double *p, double *r, void *user, struct swh_error *err);
    void *user;
    const double *lo, *hi; /* limits, infinite if there is none; NULL: none at all. Both positive and finite:
                              the variable is handled as its logarithm */
    double noise;          /* relative error of a residual: 1e-15 for formulas, a run's tolerance for runs */
    bool central;          /* central instead of forward differences */
    double change; /* 0: steps of differences from `noise` alone. Else runs are compared, whose adaptive
                      steps leave noise in the residuals that no formula has: a step changes a variable
                      by this share of itself at least, and by up to eight times as much until the
                      residuals move by `move` (length of their vector), which is to stand well above the
                      noise of the runs while they are still nearly straight over it */
    double move;
    /* m x n, by columns: the differences at the end, in z; NULL: not wanted. Not if rough */
    double *jacobian;
    bool rough; /* only a place from where another fit starts: stops sooner, and normal, eigenvalues and
                   covariance are not computed */
    int evals_max;
    int threads;
};

struct swh_lsq_result {
    double p[SWH_LSQ_MAX];
    double z[SWH_LSQ_MAX];                        /* the transformed variables */
    double normal[SWH_LSQ_MAX * SWH_LSQ_MAX];     /* J^T J in z, row-major n x n */
    double eigen[SWH_LSQ_MAX];                    /* its eigenvalues, ascending */
    double vector[SWH_LSQ_MAX * SWH_LSQ_MAX];     /* their vectors, in columns */
    double covariance[SWH_LSQ_MAX * SWH_LSQ_MAX]; /* inverse of J^T J in z, for residuals of unit variance;
                                                     directions without information get a variance past
                                                     every limit */
    double slope[SWH_LSQ_MAX];                    /* dp/dz */
    double wider[2][SWH_LSQ_MAX]; /* ends of intervals, down and up, over `reach` standard deviations: 1 but
                                     for what swh_lsq_check found */
    double sum;                   /* of squared residuals */
    int evals, info;     /* info: cminpack's; 1 to 3 converged, 4 orthogonal, 5 too many evaluations */
    int directions_lost; /* eigenvalues of the scaled matrix below 1e-13 of the largest */
};

/* Minimises from `start`. SWH_ERR_SOLVER if the residuals cannot be had at the
 * start or no fit is possible. */
enum swh_status swh_lsq_solve(const struct swh_lsq *q, const double *start, struct swh_lsq_result *out,
                              struct swh_error *err);
/* Looks whether the sum rises as the normal matrix says: by reach^2 at `reach` standard deviations along each
 * of its eigenvectors, both ways, one computation of the residuals each. Where it rises by less than half of
 * that, the direction is followed on until it does, or to a limit of a variable. What each variable's
 * interval must be wider for it goes into r->wider. SWH_ERR_MEMORY. */
enum swh_status swh_lsq_check(const struct swh_lsq *q, double reach, struct swh_lsq_result *r,
                              struct swh_error *err);
/* Variable i from its transformed value and back. */
double swh_lsq_from_z(const struct swh_lsq *q, int i, double z);
double swh_lsq_to_z(const struct swh_lsq *q, int i, double p);
/* Puts another covariance (n x n, in z) in the place of the usual one, with eigenvalues and vectors of its
 * inverse. */
void swh_lsq_take_covariance(int n, const double *covariance, struct swh_lsq_result *out);
/* Eigenvalues (ascending) and vectors (columns) of the symmetric a[n*n], which is destroyed: Jacobi's
 * rotations (Golub and Van Loan, Matrix Computations, ch. 8). */
void swh_symmetric_eigen(int n, double *a, double *value, double *vector);

#endif
