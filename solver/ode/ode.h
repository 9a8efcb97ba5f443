/* A stiff initial-value problem followed by SUNDIALS CVODES (BDF), with events, stop times, a sparse direct
 * linear solver and statistics. Knows nothing of refrigeration. The only file that includes SUNDIALS headers
 * is ode.c (and its private linear-algebra neighbours). One SUNContext per integrator; nothing global; two
 * integrators may run in two threads.
 *
 * Life: create -> step ... (interpolate, restart) -> stats -> free. */
#ifndef SWH_SOLVER_ODE_ODE_H
#define SWH_SOLVER_ODE_ODE_H

#include "model/base/status.h"

/* dy/dt; returns 0, > 0 if y is outside the model (a smaller step may help; a NaN left in dydt then names the
 * state that was), < 0 for a programming error. A NaN among the rates counts as > 0. It must be smooth: jumps
 * belong to modes that change between a stop or event and the restart after it. */
typedef int (*swh_ode_rhs)(double t, const double *y, double *dydt, void *user);
/* event functions, scaled to order one, changing sign at the event; a constant 1 while inactive. An event
 * counts as met at a stop if its function is within 1e-9 of zero there. */
typedef int (*swh_ode_roots)(double t, const double *y, double *g, void *user);

/* Fills the columns of df/dy it knows (`sloped` in the problem) among the values of the sparsity, in its
 * order; one number more than entries stands behind them for whatever has no place. y is where the rates were
 * last asked for. Returns as the rates do. */
typedef int (*swh_ode_derivatives)(double t, const double *y, double *values, void *user);

/* The arrays must live as long as the integrator, except the sparsity, which is copied. */
struct swh_ode_problem {
    int n;                    /* number of states */
    const char *const *names; /* n names, for messages */
    swh_ode_rhs rhs;
    int n_roots;
    swh_ode_roots roots;
    const int *root_direction; /* n_roots of -1, 0, +1 */
    /* Error weights W_i = 1/(rtol_i |y_i| + atol_i). atol_i = INFINITY: the state is left out of the error
     * test (a ledger sum that feeds nothing back); the norm is rescaled so that such states do not dilute the
     * others. rtol_i >= 0, atol_i > 0: the noise level of the state, never 0. */
    const double *rtol, *atol;
    /* Sparsity of df/dy by columns (CSC, rows ascending, diagonal always included), or NULL for a dense one.
     * It must name every entry that can become nonzero: what is missing makes the Newton iteration fail. */
    const int *col_ptr, *row_idx;
    /* n marks of states whose column of df/dy may be kept for a while (see ode_jacobian.h), and is left out
     * of the Newton iteration's matrix in steps shorter than about slow_time [s]; or NULL; read by
     * swh_ode_create only */
    const unsigned char *slow;
    double slow_time;
    /* columns that need no differences (n marks, read by swh_ode_create only), or NULL, NULL. The columns
     * that are neither these nor slow are then taken at every fourth Jacobian only. */
    swh_ode_derivatives derivatives;
    const unsigned char *sloped;
    int kinked; /* the rates have corners that are met again and again (saturation lines) */
    void *user;
};

struct swh_ode_stats {
    long steps, rhs_evals, jac_evals, jac_rhs_evals, lin_setups, newton_iters, conv_fails, err_test_fails,
        root_evals, restarts;
};

enum swh_ode_result {
    SWH_ODE_STEP, /* one internal step was made */
    SWH_ODE_STOP, /* the stop time was reached exactly */
    SWH_ODE_ROOT, /* one or more events: see swh_ode_root_info; time and state are at the event */
    SWH_ODE_FAILED
};

struct swh_ode;

/* NULL and err: SWH_ERR_RANGE (a start value is not a number), SWH_ERR_SOLVER (tolerances or sparsity make no
 * sense), SWH_ERR_MEMORY. */
struct swh_ode *swh_ode_create(const struct swh_ode_problem *problem, double t0, const double *y0,
                               struct swh_error *err);
void swh_ode_free(struct swh_ode *ode);

/* One internal step, never past t_stop. A stop closer than 1e-9 of the time (plus 1e-12 s) counts as reached
 * at once, the state as it is; a stop in the past is a failure. After SWH_ODE_ROOT it may go on without a
 * restart if nothing jumped. Modes that the rates or event functions read may change only together with a
 * restart. On SWH_ODE_FAILED err says in words which state was the trouble and at what time; time and state
 * hold the farthest point reached. */
enum swh_ode_result swh_ode_step(struct swh_ode *ode, double t_stop, struct swh_error *err);
double swh_ode_time(const struct swh_ode *ode);
const double *
swh_ode_state(const struct swh_ode *ode); /* n values at swh_ode_time; valid until the next call */
/* State at t inside the last step (after a restart: at the restart only). SWH_ERR_SOLVER elsewhere. */
enum swh_status swh_ode_interpolate(struct swh_ode *ode, double t, double *y, struct swh_error *err);
/* The last event: info[i] = -1, 0, +1 (direction of crossing). */
void swh_ode_root_info(const struct swh_ode *ode, int *info);
/* Restarts at t with y (after an event or a jump in the inputs); the integrator chooses its first step, and a
 * guess of ours gains nothing (measured). SWH_ERR_RANGE if a value is not a number. */
enum swh_status swh_ode_restart(struct swh_ode *ode, double t, const double *y, struct swh_error *err);
/* Counts over the whole life, restarts included. */
void swh_ode_get_stats(const struct swh_ode *ode, struct swh_ode_stats *stats);
double swh_ode_last_step(const struct swh_ode *ode); /* s */

#endif
