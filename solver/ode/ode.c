/* The one file that drives SUNDIALS. Habits it keeps: one context per integrator; error weights from
 * per-state tolerances; every derivative checked for NaN, the first bad one remembered by name; stop times
 * armed before each step; roots looked at again at stops; counters summed over restarts; nothing printed. */
#include "solver/ode/ode.h"

#include "model/base/wide.h"
#include "solver/ode/jacobian.h"
#include "solver/ode/newton.h"
#include "solver/ode/sparse_lu.h"
#include "solver/ode/vector.h"

#include <cvodes/cvodes.h>
#include <cvodes/cvodes_ls.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sundials/sundials_linearsolver.h>
#include <sundials/sundials_matrix.h>
#include <sundials/sundials_version.h>

#if SUNDIALS_VERSION_MAJOR != 6 || SUNDIALS_VERSION_MINOR < 4
#error "written for SUNDIALS 6.4 to 6.7: error handlers and contexts differ in others"
#endif

enum {
    BAD_RATES_LIMIT = 20,     /* rates that are no number, without progress, until we give up */
    OUTSIDE_LIMIT = 200,      /* the same for states outside the model: trial points may well be there */
    STAGNATION_WINDOW = 5000, /* steps over which the time must move visibly */
    REFUSALS = 5,             /* steps per refused state, over such a window, until we give up */
    STEPS_LIMIT = 1000000000,
    VECTORS = 40 /* more than CVODES, the corrector and we take at once: 18 in SUNDIALS 6.4 */
};
static const double ROOT_AT_STOP =
    1e-9; /* an event function (order one) this near zero at a stop has fired */
/* A factorisation that keeps less of a pivot's terms is refined at each use. Measured over cycling circuits:
 * 6 of 100 factorisations; what is left over of the charge in one step is then below 1e-12 of it. */
static const double CANCELLED = 1e-8;
static const double SUM_SIZE = 1e30; /* stands for an infinite tolerance: 1/size is a weight of nothing */

struct swh_ode {
    struct swh_ode_problem p;
    int n;
    double *left;        /* [n]: what a solution leaves over */
    double *rtol, *atol; /* divided by the rescaling of the norm; SUM_SIZE for sums */
    SUNContext ctx;
    void *mem;
    struct swh_vectors *vectors;
    N_Vector y, view; /* view: a vector whose data is the caller's */
    SUNMatrix A;
    SUNLinearSolver LS;
    SUNNonlinearSolver newton;
    struct swh_lu *lu, *lu_short; /* lu_short: without the slow columns, for short steps; may be NULL */
    struct swh_lu *factored;      /* one of the two */
    struct swh_jacobian *jac;
    double gamma;
    double t;
    int inside_step; /* at an event before the end of the last step */
    int *root_info, *told;
    double told_time; /* of the events in `told`, reported at a stop */
    double *g_before, *g_last;
    double g_time; /* g_last is at this time; NaN: stale */
    /* trouble */
    int bad_state, bad_pivot, bad_root;
    double bad_time;
    int bad_rates, outside; /* since progress_time */
    long window_outside;    /* since window_time */
    double progress_time;
    int window_steps;
    double window_time;
    char message[256];
    struct swh_ode_stats past; /* of the lives before the last restart */
    long jac_evals, setups, rates_calls;
};

/* What counts as no time at all beside t [s]. */
static double no_time(double t)
{
    return 1e-9 * fabs(t) + 1e-12;
}

/* ---- callbacks ---- */

/* NaN if any of them is not finite (inf * 0 and NaN * 0 are NaN), else 0 */
SWH_WIDE static double finite_mark(int n, const double *v)
{
    double a = 0, b = 0, c = 0, d = 0;
    int i = 0;
    for (; i + 3 < n; i += 4) {
        a += v[i] * 0;
        b += v[i + 1] * 0;
        c += v[i + 2] * 0;
        d += v[i + 3] * 0;
    }
    for (; i < n; i++)
        a += v[i] * 0;
    return (a + b) + (c + d);
}

static int first_not_finite(int n, const double *v)
{
    for (int i = 0; i < n; i++)
        if (!isfinite(v[i]))
            return i;
    return -1;
}

/* A smaller step may get round it. If it does not, CVODE would shrink its steps for ever: limits end that. */
static int bad_rates(struct swh_ode *o, double t, int flag, double *dy)
{
    const int bad = first_not_finite(o->n, dy);
    if (bad >= 0) {
        o->bad_state = bad;
        o->bad_time = t;
        o->bad_rates++;
    } else {
        o->outside++;
        o->window_outside++;
    }
    for (int i = 0; i < o->n; i++)
        dy[i] = 0; /* no stale NaN may be taken for a new one */
    if (flag < 0)
        return flag;
    return o->bad_rates < BAD_RATES_LIMIT && o->outside < OUTSIDE_LIMIT ? 1 : -1;
}

static int guarded_rates(double t, const double *y, double *dy, void *context)
{
    struct swh_ode *o = context;
    o->rates_calls++;
    const int flag = o->p.rhs(t, y, dy, o->p.user);
    if (flag == 0 && !isnan(finite_mark(o->n, dy)))
        return 0;
    return bad_rates(o, t, flag, dy);
}

static int known_derivatives(double t, const double *y, double *values, void *context)
{
    struct swh_ode *o = context;
    return o->p.derivatives(t, y, values, o->p.user);
}

static int rates(realtype t, N_Vector y, N_Vector dy, void *user)
{
    return guarded_rates(t, swh_vector_values(y), swh_vector_values(dy), user);
}

static int evaluate_roots(struct swh_ode *o, double t, const double *y)
{
    if (o->p.roots(t, y, o->g_last, o->p.user) != 0)
        return -1;
    o->bad_root = first_not_finite(o->p.n_roots, o->g_last);
    o->g_time = t;
    return o->bad_root >= 0 ? -1 : 0; /* a NaN has no sign: its event would pass unseen */
}

static int root_function(realtype t, N_Vector y, realtype *g, void *user)
{
    struct swh_ode *o = user;
    const int flag = evaluate_roots(o, t, swh_vector_values(y));
    memcpy(g, o->g_last, (size_t)o->p.n_roots * sizeof *g);
    return flag;
}

SWH_WIDE static int weights(N_Vector y, N_Vector w, void *user)
{
    const struct swh_ode *o = user;
    const double *v = swh_vector_values(y), *r = o->rtol, *a = o->atol;
    double *restrict W = swh_vector_values(w);
    for (int i = 0, n = o->n; i < n; i++)
        W[i] = 1 / (r[i] * fabs(v[i]) + a[i]);
    return 0;
}

static void collect_message(int code, const char *module, const char *function, char *text, void *user)
{
    struct swh_ode *o = user;
    (void)module;
    if (code < 0)
        snprintf(o->message, sizeof o->message, "%s: %s", function, text);
}

/* ---- our matrix and linear solver behind the interface of SUNDIALS ---- */

/* Within a short step the slow columns change nothing that the iteration could not find without them, and the
 * matrix without them has half the entries. */
static int is_short(const struct swh_ode *o, double gamma)
{
    return o->lu_short && gamma < o->p.slow_time;
}

static int linear_system(realtype t, N_Vector y, N_Vector fy, SUNMatrix A, booleantype jok, booleantype *jcur,
                         realtype gamma, void *user, N_Vector a, N_Vector b, N_Vector c)
{
    struct swh_ode *o = user;
    (void)A;
    (void)a;
    (void)b;
    (void)c;
    o->gamma = gamma; /* the factorisation takes I - gamma J from J and gamma */
    o->setups++;
    const int slow_too = !is_short(o, gamma);
    *jcur = !jok || (slow_too && !swh_jacobian_has_slow(o->jac));
    if (!*jcur)
        return 0;
    o->jac_evals++;
    const double *Y = swh_vector_values(y), *F = swh_vector_values(fy);
    return slow_too ? swh_jacobian_evaluate(o->jac, t, Y, F, guarded_rates, o)
                    : swh_jacobian_evaluate_fast(o->jac, t, Y, F, guarded_rates, o);
}

static SUNMatrix_ID matrix_id(SUNMatrix A)
{
    (void)A;
    return SUNMATRIX_CUSTOM;
}

static SUNLinearSolver_Type solver_type(SUNLinearSolver S)
{
    (void)S;
    return SUNLINEARSOLVER_DIRECT;
}

static int solver_setup(SUNLinearSolver S, SUNMatrix A)
{
    struct swh_ode *o = S->content;
    (void)A;
    o->factored = is_short(o, o->gamma) ? o->lu_short : o->lu;
    o->bad_pivot = swh_lu_factor(o->factored, o->gamma, swh_jacobian_values(o->jac));
    return o->bad_pivot < 0 ? 0 : SUNLS_LUFACT_FAIL; /* recoverable: a smaller step has a better matrix */
}

static int solver_solve(SUNLinearSolver S, SUNMatrix A, N_Vector x, N_Vector b, realtype tolerance)
{
    struct swh_ode *o = S->content;
    (void)A;
    (void)tolerance;
    memcpy(swh_vector_values(x), swh_vector_values(b), (size_t)o->n * sizeof(double));
    swh_lu_solve(o->factored, swh_vector_values(x));
    return SUNLS_SUCCESS;
}

/* One step of iterative refinement (Wilkinson 1963). Where a pivot has cancelled, what the factors solve is
 * not quite the matrix, and a sum that vanishes in every column of J does not vanish in the step: charge
 * would be lost (measured: 3e-7 of it). The columns themselves still have it, so the step corrected by them
 * keeps it to rounding. */
static void refine(struct swh_ode *o, double factor, const double *residual, double *step)
{
    for (int i = 0; i < o->n; i++)
        o->left[i] = factor * residual[i];
    swh_jacobian_take_product(o->jac, o->gamma, o->factored == o->lu, step, o->left);
    swh_lu_solve(o->factored, o->left);
    for (int i = 0; i < o->n; i++)
        step[i] += o->left[i];
}

static void correct(void *user, const double *residual, double *step)
{
    struct swh_ode *o = user;
    double gamma = o->gamma;
    CVodeGetCurrentGamma(o->mem, &gamma);
    const double factor = -swh_newton_stale_gamma(gamma / o->gamma);
    swh_lu_solve_into(o->factored, factor, residual, step);
    if (swh_lu_kept(o->factored) < CANCELLED)
        refine(o, factor, residual, step);
}

static int make_linear_solver(struct swh_ode *o)
{
    o->A = SUNMatNewEmpty(o->ctx);
    o->LS = SUNLinSolNewEmpty(o->ctx);
    if (!o->A || !o->LS)
        return 0;
    o->A->ops->getid = matrix_id;
    o->A->content = NULL;
    o->LS->ops->gettype = solver_type;
    o->LS->ops->setup = solver_setup;
    o->LS->ops->solve = solver_solve;
    o->LS->content = o;
    return 1;
}

/* ---- life ---- */

/* Choices measured on a stiff network switched 150 times (tests/bench/bench_ode.c) and on the closed circuit.
 * CVODE's own defaults accept one Newton iteration with a Jacobian up to 51 steps old; after a switch the
 * fast volumes then ring, and the steps shrink to their time constants. What the iteration leaves over goes
 * into the error estimate, multiplied by about 2^order: where rates have kinks order 2 needs fewer iterations
 * than 3 or 5 and errs less, and steps that may grow from 15 % (CVODE: 50 %) recover sooner. A Jacobian that
 * is cheap is taken at every third step at least; between, the factorised matrix serves until gamma has
 * changed by half (CVODE: 30 %). */
static int tune(void *mem, int kinked, int cheap_jacobian)
{
    int flag = CVodeSetJacEvalFrequency(mem, cheap_jacobian ? 1 : 5) |
               CVodeSetNonlinConvCoef(mem, SWH_NEWTON_COEFFICIENT) | CVodeSetMaxNonlinIters(mem, 8) |
               CVodeSetMaxNumSteps(mem, STEPS_LIMIT);
    if (cheap_jacobian)
        flag |= CVodeSetLSetupFrequency(mem, 3) | CVodeSetDeltaGammaMaxLSetup(mem, 0.5);
    if (kinked)
        flag |= CVodeSetMaxOrd(mem, 2) | CVodeSetEtaFixedStepBounds(mem, 0.0, 1.15);
    return flag;
}

static int watch_roots(struct swh_ode *o)
{
    if (CVodeRootInit(o->mem, o->p.n_roots, root_function) != 0)
        return -1;
    if (o->p.root_direction &&
        CVodeSetRootDirection(o->mem, (int *)(size_t)o->p.root_direction) != 0) /* it only reads them */
        return -1;
    return CVodeSetNoInactiveRootWarn(o->mem);
}

static int make_integrator(struct swh_ode *o, double t0)
{
    o->mem = CVodeCreate(CV_BDF, o->ctx);
    if (!o->mem)
        return -1;
    /* where one has failed, the next may crash */
    if (CVodeSetErrHandlerFn(o->mem, collect_message, o) != 0 || CVodeInit(o->mem, rates, t0, o->y) != 0 ||
        CVodeSetUserData(o->mem, o) != 0 || CVodeWFtolerances(o->mem, weights) != 0 ||
        CVodeSetNonlinearSolver(o->mem, o->newton) != 0 || CVodeSetLinearSolver(o->mem, o->LS, o->A) != 0 ||
        CVodeSetLinSysFn(o->mem, linear_system) != 0 ||
        tune(o->mem, o->p.kinked, o->p.derivatives != NULL) != 0)
        return -1;
    return o->p.n_roots > 0 ? watch_roots(o) : 0;
}

static int allocate(struct swh_ode *o)
{
    const size_t n = (size_t)o->n;
    const size_t g = (size_t)(o->p.n_roots > 0 ? o->p.n_roots : 1);
    o->left = calloc(n, sizeof(double));
    o->rtol = calloc(n, sizeof(double));
    o->atol = calloc(n, sizeof(double));
    o->root_info = calloc(g, sizeof(int));
    o->told = calloc(g, sizeof(int));
    o->g_before = calloc(g, sizeof(double));
    o->g_last = calloc(g, sizeof(double));
    return o->left && o->rtol && o->atol && o->root_info && o->told && o->g_before && o->g_last;
}

/* The norm is a root mean square over all n states. Sums weigh nothing, yet would count in n: the weights of
 * the others make up for that. */
static void take_tolerances(struct swh_ode *o)
{
    int active = 0;
    for (int i = 0; i < o->n; i++)
        active += !isinf(o->p.atol[i]);
    const double rescale = sqrt((double)(active > 0 ? active : 1) / o->n);
    for (int i = 0; i < o->n; i++) {
        const int sum = isinf(o->p.atol[i]);
        o->rtol[i] = sum ? 0 : rescale * o->p.rtol[i];
        o->atol[i] = sum ? SUM_SIZE : rescale * o->p.atol[i];
    }
}

static const char *name_of(const struct swh_ode_problem *p, int i)
{
    return i >= 0 && i < p->n && p->names ? p->names[i] : "unknown";
}

/* one column: rows in range, ascending, the diagonal among them */
static int column_is_good(const struct swh_ode_problem *p, int j)
{
    int diagonal = 0;
    for (int k = p->col_ptr[j]; k < p->col_ptr[j + 1]; k++) {
        const int i = p->row_idx[k];
        if (i < 0 || i >= p->n || (k > p->col_ptr[j] && i <= p->row_idx[k - 1]))
            return 0;
        diagonal |= i == j;
    }
    return diagonal;
}

static enum swh_status check_problem(const struct swh_ode_problem *p, const double *y0, struct swh_error *err)
{
    if (p->n <= 0 || !p->rhs || (p->n_roots > 0 && !p->roots))
        return swh_error_set(err, SWH_ERR_SOLVER, "a system without states, rates or event functions");
    for (int i = 0; i < p->n; i++) {
        if (!(p->rtol[i] >= 0) || isinf(p->rtol[i]) || !(p->atol[i] > 0))
            return swh_error_set(err, SWH_ERR_SOLVER, "the tolerances of %s are %g and %g", name_of(p, i),
                                 p->rtol[i], p->atol[i]);
        if (!isfinite(y0[i]))
            return swh_error_set(err, SWH_ERR_RANGE, "the start value of %s is not a number", name_of(p, i));
        if (p->col_ptr && !column_is_good(p, i))
            return swh_error_set(err, SWH_ERR_SOLVER, "the sparsity of column %s is not a pattern",
                                 name_of(p, i));
    }
    return SWH_OK;
}

static int use_slow(struct swh_ode *o)
{
    if (!swh_jacobian_set_slow(o->jac, o->p.slow))
        return 0;
    if (!(o->p.slow_time > 0))
        return 1;
    o->lu_short =
        swh_lu_create_without(o->n, swh_jacobian_col_ptr(o->jac), swh_jacobian_row_idx(o->jac), o->p.slow);
    return o->lu_short != NULL;
}

static int build(struct swh_ode *o, double t0, const double *y0)
{
    if (SUNContext_Create(NULL, &o->ctx) != 0 || !allocate(o))
        return 0;
    take_tolerances(o);
    o->jac = swh_jacobian_create(o->n, o->p.col_ptr, o->p.row_idx, o->p.rtol, o->p.atol);
    if (!o->jac)
        return 0;
    if (o->p.slow && !use_slow(o))
        return 0;
    if (o->p.derivatives && !swh_jacobian_set_derivatives(o->jac, o->p.sloped, known_derivatives))
        return 0;
    o->lu = swh_lu_create(o->n, swh_jacobian_col_ptr(o->jac), swh_jacobian_row_idx(o->jac));
    o->vectors = swh_vectors_new(o->n, VECTORS, o->ctx);
    if (!o->lu || !o->vectors)
        return 0;
    o->y = swh_vectors_take(o->vectors);
    o->view = swh_vectors_take(o->vectors);
    if (!make_linear_solver(o))
        return 0;
    o->newton = swh_newton_new(o->y, correct, guarded_rates, o, o->ctx);
    if (!o->newton)
        return 0;
    memcpy(swh_vector_values(o->y), y0, (size_t)o->n * sizeof *y0);
    return make_integrator(o, t0) == 0;
}

static void forget_trouble(struct swh_ode *o, double t)
{
    o->bad_state = o->bad_pivot = o->bad_root = -1;
    o->bad_rates = o->outside = o->window_steps = 0;
    o->window_outside = 0;
    o->progress_time = o->window_time = t;
    o->message[0] = '\0';
}

struct swh_ode *swh_ode_create(const struct swh_ode_problem *problem, double t0, const double *y0,
                               struct swh_error *err)
{
    if (check_problem(problem, y0, err) != SWH_OK)
        return NULL;
    struct swh_ode *o = calloc(1, sizeof *o);
    if (!o) {
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for an integrator");
        return NULL;
    }
    o->p = *problem;
    o->n = problem->n;
    o->t = t0;
    o->g_time = o->told_time = NAN;
    forget_trouble(o, t0);
    if (build(o, t0, y0))
        return o;
    swh_error_set(err, SWH_ERR_MEMORY, "the integrator could not be set up%s%s", o->message[0] ? ": " : "",
                  o->message);
    swh_ode_free(o);
    return NULL;
}

static void free_arrays(struct swh_ode *o)
{
    free(o->left);
    free(o->rtol);
    free(o->atol);
    free(o->root_info);
    free(o->told);
    free(o->g_before);
    free(o->g_last);
}

void swh_ode_free(struct swh_ode *o)
{
    if (!o)
        return;
    if (o->mem)
        CVodeFree(&o->mem);
    if (o->newton)
        SUNNonlinSolFree(o->newton);
    if (o->LS)
        SUNLinSolFreeEmpty(o->LS);
    if (o->A)
        SUNMatFreeEmpty(o->A);
    if (o->y)
        N_VDestroy(o->y);
    if (o->view)
        N_VDestroy(o->view);
    swh_vectors_free(o->vectors);
    if (o->ctx)
        SUNContext_Free(&o->ctx);
    swh_lu_free(o->lu);
    swh_lu_free(o->lu_short);
    swh_jacobian_free(o->jac);
    free_arrays(o);
    free(o);
}

/* ---- failures in words ---- */

/* the state whose local error limits the step, -1 if it cannot be had */
static int limiting_state(struct swh_ode *o)
{
    N_Vector e = N_VClone(o->y), w = N_VClone(o->y);
    int worst = -1;
    if (e && w && CVodeGetEstLocalErrors(o->mem, e) == 0 && CVodeGetErrWeights(o->mem, w) == 0) {
        const double *E = swh_vector_values(e), *W = swh_vector_values(w);
        for (int i = 0; i < o->n; i++)
            if (isfinite(E[i]) && (worst < 0 || fabs(E[i] * W[i]) > fabs(E[worst] * W[worst])))
                worst = i;
    }
    if (e)
        N_VDestroy(e);
    if (w)
        N_VDestroy(w);
    return worst;
}

static const char *failure_words(int flag)
{
    switch (flag) {
    case CV_TOO_MUCH_WORK:
        return "too many steps";
    case CV_ERR_FAILURE:
        return "the step size fell to nothing (error test)";
    case CV_CONV_FAILURE:
        return "the corrector did not converge";
    case CV_LSETUP_FAIL:
    case CV_LSOLVE_FAIL:
        return "the linear system could not be solved";
    default:
        return "the integrator stopped";
    }
}

static enum swh_ode_result fail(struct swh_ode *o, int flag, struct swh_error *err)
{
    const int worst = limiting_state(o);
    if (o->bad_rates > 0)
        swh_error_set(err, SWH_ERR_RANGE, "the rate of %s was not a number at t = %.9g s; reached t = %.9g s",
                      name_of(&o->p, o->bad_state), o->bad_time, o->t);
    else if (o->outside > 0)
        swh_error_set(err, SWH_ERR_RANGE,
                      "the state left the model's range at t = %.9g s; most sensitive state: %s", o->t,
                      name_of(&o->p, worst));
    else if (flag == CV_RTFUNC_FAIL)
        swh_error_set(err, SWH_ERR_RANGE, "event function %d has no value after t = %.9g s", o->bad_root + 1,
                      o->t);
    else if (o->bad_pivot >= 0)
        swh_error_set(err, SWH_ERR_SOLVER, "the linear system lost its pivot at %s, t = %.9g s",
                      name_of(&o->p, o->bad_pivot), o->t);
    else
        swh_error_set(err, SWH_ERR_SOLVER, "%s at t = %.9g s; most sensitive state: %s", failure_words(flag),
                      o->t, name_of(&o->p, worst));
    return SWH_ODE_FAILED;
}

/* Steps are being made but the time hardly moves, or every few of them the model refuses: say so instead of
 * running for hours. */
static int stagnates(struct swh_ode *o)
{
    if (++o->window_steps < STAGNATION_WINDOW)
        return 0;
    const int refused = o->window_outside > STAGNATION_WINDOW / REFUSALS;
    const int stuck = o->t - o->window_time < 1e-6 * fmax(1.0, fabs(o->t));
    o->window_steps = 0;
    o->window_outside = 0;
    o->window_time = o->t;
    if (refused)
        o->outside = 1;
    return stuck || refused;
}

static void note_progress(struct swh_ode *o)
{
    if (o->t - o->progress_time <= no_time(o->t))
        return;
    o->progress_time = o->t;
    o->bad_rates = o->outside = 0;
}

/* ---- stepping ---- */

/* A root on a stop time is reported by CVODE as the stop only if rounding leaves the function on its old
 * side: nearness to zero counts as arrival. */
static int roots_at_stop(struct swh_ode *o)
{
    int found = 0;
    if (o->p.n_roots == 0 || (o->g_time != o->t && evaluate_roots(o, o->t, swh_vector_values(o->y)) != 0))
        return 0;
    for (int i = 0; i < o->p.n_roots; i++) {
        const double before = o->g_before[i], now = o->g_last[i];
        const int direction =
            (before < -ROOT_AT_STOP && now >= -ROOT_AT_STOP) - (before > ROOT_AT_STOP && now <= ROOT_AT_STOP);
        const int wanted = o->p.root_direction ? o->p.root_direction[i] : 0;
        o->root_info[i] = direction != 0 && (wanted == 0 || wanted == direction) ? direction : 0;
        found |= o->root_info[i];
    }
    if (!found)
        return 0;
    memcpy(o->told, o->root_info, (size_t)o->p.n_roots * sizeof *o->told);
    o->told_time = o->t;
    return 1;
}

/* The same crossing may be met once more just after the stop at which it was told. */
static int roots_are_new(struct swh_ode *o)
{
    const int again = fabs(o->t - o->told_time) <= 1e3 * no_time(o->t); /* false if nothing was told: NaN */
    int left = 0;
    for (int i = 0; i < o->p.n_roots; i++) {
        if (again && o->root_info[i] == o->told[i])
            o->root_info[i] = 0;
        left |= o->root_info[i];
    }
    return left != 0;
}

static int remember_roots(struct swh_ode *o)
{
    if (o->p.n_roots == 0)
        return 0;
    if (o->g_time != o->t && evaluate_roots(o, o->t, swh_vector_values(o->y)) != 0)
        return CV_RTFUNC_FAIL;
    memcpy(o->g_before, o->g_last, (size_t)o->p.n_roots * sizeof *o->g_before);
    return 0;
}

/* After an event without a restart CVODE stands beyond the present time. A stop before that can only be met
 * by going over the step again. */
static enum swh_status step_back(struct swh_ode *o, double t_stop, struct swh_error *err)
{
    double ahead = o->t;
    if (!o->inside_step || CVodeGetCurrentTime(o->mem, &ahead) != CV_SUCCESS || t_stop >= ahead)
        return SWH_OK;
    return swh_ode_restart(o, o->t, swh_vector_values(o->y), err);
}

static enum swh_ode_result judge(struct swh_ode *o, int flag, struct swh_error *err)
{
    o->inside_step = flag == CV_ROOT_RETURN;
    note_progress(o);
    if (flag < 0)
        return fail(o, flag, err);
    if (flag == CV_ROOT_RETURN) {
        CVodeGetRootInfo(o->mem, o->root_info);
        return roots_are_new(o) ? SWH_ODE_ROOT : SWH_ODE_STEP;
    }
    if (flag == CV_TSTOP_RETURN)
        return roots_at_stop(o) ? SWH_ODE_ROOT : SWH_ODE_STOP;
    return stagnates(o) ? fail(o, CV_TOO_MUCH_WORK, err) : SWH_ODE_STEP;
}

enum swh_ode_result swh_ode_step(struct swh_ode *o, double t_stop, struct swh_error *err)
{
    if (!(t_stop - o->t >= -no_time(o->t))) {
        swh_error_set(err, SWH_ERR_SOLVER, "the stop time %.9g s lies before the present %.9g s", t_stop,
                      o->t);
        return SWH_ODE_FAILED;
    }
    if (t_stop - o->t <=
        no_time(o->t)) { /* CVODE would call it too close; nothing happens in so short a time */
        o->t = fmax(o->t, t_stop);
        return SWH_ODE_STOP;
    }
    if (step_back(o, t_stop, err) != SWH_OK)
        return SWH_ODE_FAILED;
    int flag = remember_roots(o);
    if (flag == 0)
        flag = CVodeSetStopTime(o->mem, t_stop);
    double t = o->t;
    if (flag == 0)
        flag = CVode(o->mem, t_stop, o->y, &t, CV_ONE_STEP);
    o->t = fmax(o->t, t);
    return judge(o, flag, err);
}

double swh_ode_time(const struct swh_ode *o)
{
    return o->t;
}

const double *swh_ode_state(const struct swh_ode *o)
{
    return swh_vector_values(o->y);
}

enum swh_status swh_ode_interpolate(struct swh_ode *o, double t, double *y, struct swh_error *err)
{
    if (t == o->t) {
        memmove(y, swh_vector_values(o->y), (size_t)o->n * sizeof *y);
        return SWH_OK;
    }
    double *const own = swh_vector_values(o->view);
    N_VSetArrayPointer(y, o->view);
    const int flag = t > o->t ? CV_BAD_T : CVodeGetDky(o->mem, t, 0, o->view);
    N_VSetArrayPointer(own, o->view);
    if (flag == CV_SUCCESS)
        return SWH_OK;
    return swh_error_set(err, SWH_ERR_SOLVER,
                         "no solution is kept at t = %.9g s: the last step ends at %.9g s", t, o->t);
}

void swh_ode_root_info(const struct swh_ode *o, int *info)
{
    memcpy(info, o->root_info, (size_t)o->p.n_roots * sizeof *info);
}

static void add_stats(const struct swh_ode *o, struct swh_ode_stats *s)
{
    long steps = 0, iters = 0, conv = 0, err_fails = 0, roots = 0;
    CVodeGetNumSteps(o->mem, &steps);
    CVodeGetNumNonlinSolvIters(o->mem, &iters);
    CVodeGetNumNonlinSolvConvFails(o->mem, &conv);
    CVodeGetNumErrTestFails(o->mem, &err_fails);
    if (o->p.n_roots > 0)
        CVodeGetNumGEvals(o->mem, &roots);
    s->steps += steps;
    s->newton_iters += iters;
    s->conv_fails += conv;
    s->err_test_fails += err_fails;
    s->root_evals += roots;
}

enum swh_status swh_ode_restart(struct swh_ode *o, double t, const double *y, struct swh_error *err)
{
    const int bad = first_not_finite(o->n, y);
    if (bad >= 0 || !isfinite(t))
        return swh_error_set(err, SWH_ERR_RANGE, "restart at t = %.9g s: %s is not a number", t,
                             bad >= 0 ? name_of(&o->p, bad) : "the time");
    add_stats(o, &o->past);
    o->past.restarts++;
    memmove(swh_vector_values(o->y), y, (size_t)o->n * sizeof *y);
    o->t = t;
    o->g_time = NAN;
    o->inside_step = 0;
    swh_jacobian_forget(o->jac);
    forget_trouble(o, t);
    if (CVodeReInit(o->mem, t, o->y) != CV_SUCCESS)
        return swh_error_set(err, SWH_ERR_SOLVER, "the integrator could not be restarted at t = %.9g s", t);
    return SWH_OK;
}

void swh_ode_get_stats(const struct swh_ode *o, struct swh_ode_stats *stats)
{
    *stats = o->past;
    add_stats(o, stats);
    stats->jac_evals = o->jac_evals;
    stats->jac_rhs_evals = swh_jacobian_rates_calls(o->jac);
    stats->lin_setups = o->setups;
    stats->rhs_evals = o->rates_calls;
}

double swh_ode_last_step(const struct swh_ode *o)
{
    double h = 0;
    CVodeGetLastStep(o->mem, &h);
    return h;
}
