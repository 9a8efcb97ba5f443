/* Private to the fit: its work between logs and answer. */
#ifndef SWH_SOLVER_INFER_FIT_INSIDE_H
#define SWH_SOLVER_INFER_FIT_INSIDE_H

#include "solver/infer/fit.h"
#include "solver/infer/nuisance.h"
#include "solver/infer/unknowns.h"

struct swh_fit_work {
    const struct swh_fit_request *q;
    struct swh_log_memory drive[SWH_FIT_LOGS]; /* replay: averages, so that noise does not slow the runs */
    struct swh_case driven[SWH_FIT_LOGS];      /* circuit: schedules made once, only read afterwards */
    struct swh_error_covariance weights[SWH_FIT_LOGS]; /* how the residuals err */
    struct swh_error_covariance plain[SWH_FIT_LOGS];   /* circuit: how they are weighed */
    const struct swh_error_covariance *loss;           /* one of the two */
    struct swh_residuals at_start[SWH_FIT_LOGS];
    struct swh_nuisance doubt[SWH_FIT_LOGS][SWH_NUISANCES]; /* what its drives may be wrong by */
    int doubts[SWH_FIT_LOGS];
    int first_hidden[SWH_FIT_LOGS]; /* first window that the fit does not see */
    int points, priors;
    double scale[SWH_FIT_LOGS]; /* robust loss: size of an ordinary weighed residual */
    bool robust;
    double naive[SWH_LSQ_MAX]; /* circuit: variances as if the residuals erred as they are weighed */
    double wider;              /* standard deviations, over those of unit weights */
    double lo[SWH_LSQ_MAX], hi[SWH_LSQ_MAX];
    struct swh_team *team; /* takes the error of a failed allocation in any run */
};

/* All free parameters with their limits, for the variables in which they are fitted. */
static inline struct swh_lsq swh_fit_limits(const struct swh_fit_work *f)
{
    return (struct swh_lsq){.n = f->q->params, .lo = f->lo, .hi = f->hi};
}

/* What of the parameters is varied; the others are held. */
struct swh_fit_view {
    const struct swh_fit_work *f;
    double held[SWH_LSQ_MAX];                /* of each parameter that is free by the request; NaN: varied */
    int n, place[SWH_LSQ_MAX];               /* the variables, as places among those parameters */
    double lo[SWH_LSQ_MAX], hi[SWH_LSQ_MAX]; /* of the variables */
};
/* Holds one parameter (its place) at a value; none at first. */
void swh_fit_view_all(struct swh_fit_view *v, const struct swh_fit_work *f);
void swh_fit_view_hold(struct swh_fit_view *v, int place, double value);
/* The least-squares problem of a view; the view must outlive it. */
struct swh_lsq swh_fit_problem(struct swh_fit_view *v);
/* Sum of squared residuals at the variables p[n]; INFINITY if they cannot be computed. */
double swh_fit_sum(const struct swh_fit_view *v, const double *p);

/* Logs and sheets; whether one is a sheet. */
int swh_fit_records(const struct swh_fit_request *q);
bool swh_fit_is_sheet(const struct swh_fit_request *q, int record);
/* One log or sheet at values of all free parameters. */
enum swh_status swh_fit_run(const struct swh_fit_work *f, int log, const double *all, struct swh_residuals *r,
                            struct swh_error *err);

/* What a fit leaves over of a channel. */
struct swh_fit_left {
    double sum2, sum, held2, white2, white_lag, white_step2, noise2;
    double bias2, around2, lag; /* beyond the offset: squares of each log's mean; round that mean: squares,
                                   products of neighbours */
    int n, pairs, held;
};
/* Runs all logs at values of all free parameters. */
enum swh_status swh_fit_look(const struct swh_fit_work *f, const double *all, struct swh_fit_left *left,
                             struct swh_fit_log *logs, struct swh_error *err);
/* The model's slow errors and their correlation time, as far as what is left over shows them, into p. */
void swh_fit_learn_errors(const struct swh_fit_work *f, const struct swh_fit_left *left, struct swh_params *p,
                          struct swh_fit_result *out);
void swh_fit_say_channels(const struct swh_fit_left *left, struct swh_fit_result *out, bool replay);

/* Intervals of all parameters from a fit of all of them (nothing held); `white2`: sum of the squares that are
 * left over, as they err. */
void swh_fit_say_intervals(struct swh_fit_work *f, const struct swh_lsq_result *best, double white2,
                           struct swh_fit_result *out);
/* Intervals by profile likelihood. */
void swh_fit_profile(struct swh_fit_work *f, const struct swh_lsq_result *best, struct swh_fit_result *out);
/* Do the logs tell parameter i, by its interval? */
bool swh_fit_is_told(const struct swh_fit_work *f, int i, const struct swh_fit_estimate *e);
/* Holds at its start what a fit with this view does not tell and what has no spread of its own in the vehicle
 * file: the least told first, then what is not told with that known (by the covariance), and so on. Returns
 * how many. */
int swh_fit_hold_open(const struct swh_fit_work *f, const struct swh_lsq_result *best,
                      struct swh_fit_view *view, struct swh_fit_result *out);
/* Values, standard deviations and correlations with those held, from a fit of the others. */
void swh_fit_say_values(const struct swh_fit_work *f, const struct swh_fit_view *view,
                        const struct swh_lsq_result *best, struct swh_fit_result *out);
/* What the logs do not tell, in words. */
void swh_fit_say_open(struct swh_fit_work *f, const struct swh_lsq_result *best, struct swh_fit_result *out);

#endif
