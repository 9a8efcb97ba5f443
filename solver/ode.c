/* The one file that knows SUNDIALS. Habits it keeps: one context per integrator; error weights from per-state
 * tolerances; every derivative checked for NaN, the first bad one remembered by name; stop times armed before
 * each step; roots looked at again at stops; counters summed over restarts. */
#include "solver/ode.h"

#include "solver/sparse_lu.h"

#include <cvodes/cvodes.h>
#include <cvodes/cvodes_ls.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sundials/sundials_linearsolver.h>
#include <sundials/sundials_matrix.h>

struct swh_ode {
    struct swh_ode_problem p;
    int n, n_active;
    double weight_scale;
    SUNContext ctx;
    void *mem;
    N_Vector y;
    SUNMatrix A;
    SUNLinearSolver LS;
    struct swh_lu *lu;
    int *col_ptr, *row_idx; /* own copy, dense if the problem gave none */
    double *J;              /* values in the order of row_idx */
    int colours, *colour_ptr, *colour_col;
    double *y_shifted, *f_shifted, *inc;
    double gamma;
    double t;
    double t_stop_armed;
    int *root_info;
    double *g_before, *g_now;
    int bad_state;
    double bad_time;
    long bad_count, outside_count; /* since the last step that succeeded */
    int bad_pivot;
    char message[256];
    struct swh_ode_stats past; /* of the lives before the last restart */
    long jac_evals, jac_rhs, setups;
};

/* ---- callbacks ---- */

static int guarded_rhs(struct swh_ode *o, double t, const double *y, double *dy)
{
    const int flag = o->p.rhs(t, y, dy, o->p.user);
    if (flag > 0)
        return ++o->outside_count < 200 ? flag : -1;
    if (flag < 0)
        return flag;
    for (int i = 0; i < o->n; i++) {
        if (isfinite(dy[i]))
            continue;
        o->bad_state = i;
        o->bad_time = t;
        /* a smaller step may get round it; if it does not, CVODE would go on shrinking for ever */
        return ++o->bad_count < 20 ? 1 : -1;
    }
    return 0;
}

static int rhs(realtype t, N_Vector y, N_Vector dy, void *user)
{
    return guarded_rhs(user, t, N_VGetArrayPointer(y), N_VGetArrayPointer(dy));
}

static int root_function(realtype t, N_Vector y, realtype *g, void *user)
{
    struct swh_ode *o = user;
    return o->p.roots(t, N_VGetArrayPointer(y), g, o->p.user);
}

static int weights(N_Vector y, N_Vector w, void *user)
{
    const struct swh_ode *o = user;
    const double *v = N_VGetArrayPointer(y);
    double *W = N_VGetArrayPointer(w);
    for (int i = 0; i < o->n; i++) {
        const double size = o->p.rtol[i] * fabs(v[i]) + o->p.atol[i];
        W[i] = isinf(size) ? 1e-30 : o->weight_scale / size;
    }
    return 0;
}

static void collect_message(int code, const char *module, const char *function, char *text, void *user)
{
    struct swh_ode *o = user;
    (void)module;
    if (code < 0)
        snprintf(o->message, sizeof o->message, "%s: %s", function, text);
}

/* ---- Jacobian by coloured differences ---- */

static double increment(const struct swh_ode *o, int j, double y)
{
    const double size = isinf(o->p.atol[j]) ? 1.0 : o->p.rtol[j] * fabs(y) + o->p.atol[j];
    return fmax(1.5e-8 * fabs(y), 1e-3 * size);
}

static int shifted_rates(struct swh_ode *o, double t, int from, int to, double sign)
{
    for (int k = from; k < to; k++) {
        const int j = o->colour_col[k];
        o->y_shifted[j] += sign * o->inc[j];
    }
    o->jac_rhs++;
    return guarded_rhs(o, t, o->y_shifted, o->f_shifted);
}

static int jacobian(struct swh_ode *o, double t, const double *y, const double *fy)
{
    memcpy(o->y_shifted, y, (size_t)o->n * sizeof *y);
    for (int j = 0; j < o->n; j++)
        o->inc[j] = increment(o, j, y[j]);
    o->jac_evals++;
    for (int c = 0; c < o->colours; c++) {
        const int from = o->colour_ptr[c], to = o->colour_ptr[c + 1];
        double sign = 1;
        int flag = shifted_rates(o, t, from, to, sign);
        if (flag > 0) { /* outside the model on this side: look to the other */
            sign = -1;
            flag = shifted_rates(o, t, from, to, 2 * sign);
        }
        if (flag != 0)
            return flag;
        for (int k = from; k < to; k++) {
            const int j = o->colour_col[k];
            const double inverse = 1 / (o->y_shifted[j] - y[j]);
            for (int q = o->col_ptr[j]; q < o->col_ptr[j + 1]; q++)
                o->J[q] = (o->f_shifted[o->row_idx[q]] - fy[o->row_idx[q]]) * inverse;
            o->y_shifted[j] = y[j];
        }
    }
    return 0;
}

static int linear_system(realtype t, N_Vector y, N_Vector fy, SUNMatrix A, booleantype jok, booleantype *jcur,
                         realtype gamma, void *user, N_Vector a, N_Vector b, N_Vector c)
{
    struct swh_ode *o = user;
    (void)A;
    (void)a;
    (void)b;
    (void)c;
    *jcur = SUNFALSE;
    o->gamma = gamma;
    o->setups++;
    if (jok)
        return 0;
    *jcur = SUNTRUE;
    return jacobian(o, t, N_VGetArrayPointer(y), N_VGetArrayPointer(fy));
}

/* ---- our matrix and linear solver in SUNDIALS's clothes ---- */

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
    o->bad_pivot = swh_lu_factor(o->lu, o->gamma, o->J);
    return o->bad_pivot < 0 ? 0 : SUNLS_LUFACT_FAIL;
}

static int solver_solve(SUNLinearSolver S, SUNMatrix A, N_Vector x, N_Vector b, realtype tolerance)
{
    struct swh_ode *o = S->content;
    (void)A;
    (void)tolerance;
    memcpy(N_VGetArrayPointer(x), N_VGetArrayPointer(b), (size_t)o->n * sizeof(double));
    swh_lu_solve(o->lu, N_VGetArrayPointer(x));
    return SUNLS_SUCCESS;
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

/* ---- pattern and colours ---- */

static int copy_pattern(struct swh_ode *o)
{
    const int n = o->n;
    const int nz = o->p.col_ptr ? o->p.col_ptr[n] : n * n;
    o->col_ptr = malloc((size_t)(n + 1) * sizeof(int));
    o->row_idx = malloc((size_t)nz * sizeof(int));
    o->J = calloc((size_t)nz, sizeof(double));
    if (!o->col_ptr || !o->row_idx || !o->J)
        return 0;
    for (int j = 0; j <= n; j++)
        o->col_ptr[j] = o->p.col_ptr ? o->p.col_ptr[j] : j * n;
    for (int k = 0; k < nz; k++)
        o->row_idx[k] = o->p.col_ptr ? o->p.row_idx[k] : k % n;
    return 1;
}

/* A column that reaches nothing but its own diagonal and belongs to a sum needs no difference: it is zero. */
static int is_sum(const struct swh_ode *o, int j)
{
    return isinf(o->p.atol[j]) && o->col_ptr[j + 1] - o->col_ptr[j] == 1;
}

/* Greedy colouring (Curtis, Powell and Reid 1974): columns of one colour share no row. */
static int colour_columns(struct swh_ode *o)
{
    const int n = o->n;
    unsigned char *taken = malloc((size_t)n * (size_t)n); /* colour x row */
    int *colour = malloc((size_t)n * sizeof(int));
    o->colour_ptr = calloc((size_t)n + 1, sizeof(int));
    o->colour_col = calloc((size_t)n, sizeof(int));
    if (!taken || !colour || !o->colour_ptr || !o->colour_col) {
        free(taken);
        free(colour);
        return 0;
    }
    memset(taken, 0, (size_t)n * (size_t)n);
    for (int j = 0; j < n; j++) {
        colour[j] = -1;
        if (is_sum(o, j))
            continue;
        for (int c = 0; colour[j] < 0; c++) {
            int clash = 0;
            for (int q = o->col_ptr[j]; q < o->col_ptr[j + 1]; q++)
                clash |= taken[c * n + o->row_idx[q]];
            if (clash)
                continue;
            colour[j] = c;
            o->colours = c + 1 > o->colours ? c + 1 : o->colours;
            for (int q = o->col_ptr[j]; q < o->col_ptr[j + 1]; q++)
                taken[c * n + o->row_idx[q]] = 1;
        }
    }
    int count = 0;
    for (int c = 0; c < o->colours; c++) {
        for (int j = 0; j < n; j++)
            if (colour[j] == c)
                o->colour_col[count++] = j;
        o->colour_ptr[c + 1] = count;
    }
    free(taken);
    free(colour);
    return 1;
}

/* ---- life ---- */

static int make_integrator(struct swh_ode *o, double t0)
{
    o->mem = CVodeCreate(CV_BDF, o->ctx);
    if (!o->mem)
        return -1;
    int flag = CVodeSetErrHandlerFn(o->mem, collect_message, o);
    flag |= CVodeInit(o->mem, rhs, t0, o->y);
    flag |= CVodeSetUserData(o->mem, o);
    flag |= CVodeWFtolerances(o->mem, weights);
    flag |= CVodeSetLinearSolver(o->mem, o->LS, o->A);
    flag |= CVodeSetLinSysFn(o->mem, linear_system);
    flag |= CVodeSetMaxNumSteps(o->mem, 2000000);
    if (o->p.n_roots > 0) {
        flag |= CVodeRootInit(o->mem, o->p.n_roots, root_function);
        flag |= CVodeSetRootDirection(o->mem, (int *)(size_t)o->p.root_direction);
        flag |= CVodeSetNoInactiveRootWarn(o->mem);
    }
    return flag;
}

static int allocate(struct swh_ode *o)
{
    const size_t n = (size_t)o->n;
    const size_t g = (size_t)(o->p.n_roots > 0 ? o->p.n_roots : 1);
    o->y_shifted = calloc(n, sizeof(double));
    o->f_shifted = calloc(n, sizeof(double));
    o->inc = calloc(n, sizeof(double));
    o->root_info = calloc(g, sizeof(int));
    o->g_before = calloc(g, sizeof(double));
    o->g_now = calloc(g, sizeof(double));
    return o->y_shifted && o->f_shifted && o->inc && o->root_info && o->g_before && o->g_now;
}

struct swh_ode *swh_ode_create(const struct swh_ode_problem *problem, double t0, const double *y0,
                               struct swh_error *err)
{
    struct swh_ode *o = calloc(1, sizeof *o);
    if (!o) {
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for an integrator");
        return NULL;
    }
    o->p = *problem;
    o->n = problem->n;
    o->bad_state = o->bad_pivot = -1;
    o->t = t0;
    for (int i = 0; i < o->n; i++)
        o->n_active += !isinf(problem->atol[i]);
    o->weight_scale = sqrt((double)o->n / (o->n_active > 0 ? o->n_active : 1));
    int fine = SUNContext_Create(NULL, &o->ctx) == 0 && allocate(o) && copy_pattern(o) && colour_columns(o);
    if (fine) {
        o->lu = swh_lu_create(o->n, o->col_ptr, o->row_idx);
        o->y = N_VNew_Serial(o->n, o->ctx);
        fine = o->lu && o->y && make_linear_solver(o);
    }
    if (fine) {
        memcpy(N_VGetArrayPointer(o->y), y0, (size_t)o->n * sizeof *y0);
        fine = make_integrator(o, t0) == 0;
    }
    if (fine)
        return o;
    swh_error_set(err, SWH_ERR_MEMORY, "the integrator could not be set up %s", o->message);
    swh_ode_free(o);
    return NULL;
}

void swh_ode_free(struct swh_ode *o)
{
    if (!o)
        return;
    if (o->mem)
        CVodeFree(&o->mem);
    if (o->LS)
        SUNLinSolFreeEmpty(o->LS);
    if (o->A)
        SUNMatFreeEmpty(o->A);
    if (o->y)
        N_VDestroy(o->y);
    if (o->ctx)
        SUNContext_Free(&o->ctx);
    swh_lu_free(o->lu);
    free(o->col_ptr);
    free(o->row_idx);
    free(o->J);
    free(o->colour_ptr);
    free(o->colour_col);
    free(o->y_shifted);
    free(o->f_shifted);
    free(o->inc);
    free(o->root_info);
    free(o->g_before);
    free(o->g_now);
    free(o);
}

/* ---- stepping ---- */

/* the state whose local error limits the step, -1 if it cannot be had */
static int limiting_state(struct swh_ode *o)
{
    N_Vector e = N_VClone(o->y), w = N_VClone(o->y);
    int worst = -1;
    if (e && w && CVodeGetEstLocalErrors(o->mem, e) == 0 && CVodeGetErrWeights(o->mem, w) == 0) {
        const double *E = N_VGetArrayPointer(e), *W = N_VGetArrayPointer(w);
        for (int i = 0; i < o->n; i++)
            if (worst < 0 || fabs(E[i] * W[i]) > fabs(E[worst] * W[worst]))
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
    case CV_RHSFUNC_FAIL:
    case CV_FIRST_RHSFUNC_ERR:
    case CV_REPTD_RHSFUNC_ERR:
    case CV_UNREC_RHSFUNC_ERR:
        return "the state left the model's range";
    default:
        return "the integrator stopped";
    }
}

static enum swh_ode_result fail(struct swh_ode *o, int flag, struct swh_error *err)
{
    const int worst = o->bad_pivot >= 0 ? o->bad_pivot : o->bad_count > 0 ? o->bad_state : limiting_state(o);
    const int outside = flag == CV_RHSFUNC_FAIL || flag == CV_FIRST_RHSFUNC_ERR ||
                        flag == CV_REPTD_RHSFUNC_ERR || flag == CV_UNREC_RHSFUNC_ERR;
    swh_error_set(err, outside ? SWH_ERR_RANGE : SWH_ERR_SOLVER,
                  "%s at t = %.3f s; most sensitive state: %s%s", failure_words(flag), o->t,
                  worst >= 0 && o->p.names ? o->p.names[worst] : "unknown",
                  o->bad_count > 0 ? " (its rate was not a number)" : "");
    return SWH_ODE_FAILED;
}

/* A root on a stop time may be reported as the stop only: look for signs that changed, or zeros, ourselves.
 */
static int roots_at_stop(struct swh_ode *o)
{
    int found = 0;
    if (o->p.n_roots == 0 || o->p.roots(o->t, N_VGetArrayPointer(o->y), o->g_now, o->p.user) != 0)
        return 0;
    for (int i = 0; i < o->p.n_roots; i++) {
        const double before = o->g_before[i], now = o->g_now[i];
        const int direction = (before < 0 && now >= 0) - (before > 0 && now <= 0);
        const int wanted = o->p.root_direction ? o->p.root_direction[i] : 0;
        o->root_info[i] = direction != 0 && (wanted == 0 || wanted == direction) ? direction : 0;
        found |= o->root_info[i];
    }
    return found != 0;
}

enum swh_ode_result swh_ode_step(struct swh_ode *o, double t_stop, struct swh_error *err)
{
    if (t_stop - o->t <= 1e-9 * fmax(1.0, fabs(o->t)))
        return SWH_ODE_STOP;
    if (o->p.n_roots > 0)
        o->p.roots(o->t, N_VGetArrayPointer(o->y), o->g_before, o->p.user);
    CVodeSetStopTime(o->mem, t_stop);
    double t = o->t;
    const int flag = CVode(o->mem, t_stop, o->y, &t, CV_ONE_STEP);
    if (t > o->t)
        o->bad_count = o->outside_count = 0;
    o->t = t;
    if (flag == CV_ROOT_RETURN) {
        CVodeGetRootInfo(o->mem, o->root_info);
        return SWH_ODE_ROOT;
    }
    if (flag == CV_TSTOP_RETURN)
        return roots_at_stop(o) ? SWH_ODE_ROOT : SWH_ODE_STOP;
    return flag >= 0 ? SWH_ODE_STEP : fail(o, flag, err);
}

double swh_ode_time(const struct swh_ode *o)
{
    return o->t;
}

const double *swh_ode_state(const struct swh_ode *o)
{
    return N_VGetArrayPointer(o->y);
}

enum swh_status swh_ode_interpolate(struct swh_ode *o, double t, double *y, struct swh_error *err)
{
    if (t == o->t) {
        memcpy(y, N_VGetArrayPointer(o->y), (size_t)o->n * sizeof *y);
        return SWH_OK;
    }
    N_Vector v = N_VMake_Serial(o->n, y, o->ctx);
    if (!v)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory to interpolate");
    const int flag = CVodeGetDky(o->mem, t, 0, v);
    N_VDestroy(v);
    if (flag == CV_SUCCESS)
        return SWH_OK;
    return swh_error_set(err, SWH_ERR_SOLVER, "no solution is kept at t = %.6f s", t);
}

void swh_ode_root_info(const struct swh_ode *o, int *info)
{
    memcpy(info, o->root_info, (size_t)o->p.n_roots * sizeof *info);
}

static void add_stats(const struct swh_ode *o, struct swh_ode_stats *s)
{
    long steps = 0, evals = 0, iters = 0, conv = 0, err_fails = 0, roots = 0;
    CVodeGetNumSteps(o->mem, &steps);
    CVodeGetNumRhsEvals(o->mem, &evals);
    CVodeGetNumNonlinSolvIters(o->mem, &iters);
    CVodeGetNumNonlinSolvConvFails(o->mem, &conv);
    CVodeGetNumErrTestFails(o->mem, &err_fails);
    if (o->p.n_roots > 0)
        CVodeGetNumGEvals(o->mem, &roots);
    s->steps += steps;
    s->rhs_evals += evals;
    s->newton_iters += iters;
    s->conv_fails += conv;
    s->err_test_fails += err_fails;
    s->root_evals += roots;
}

enum swh_status swh_ode_restart(struct swh_ode *o, double t, const double *y, double h_first,
                                struct swh_error *err)
{
    add_stats(o, &o->past);
    o->past.restarts++;
    memmove(N_VGetArrayPointer(o->y), y, (size_t)o->n * sizeof *y);
    o->t = t;
    o->bad_count = o->outside_count = 0;
    if (CVodeReInit(o->mem, t, o->y) != CV_SUCCESS || CVodeSetInitStep(o->mem, h_first) != CV_SUCCESS)
        return swh_error_set(err, SWH_ERR_SOLVER, "the integrator could not be restarted at t = %.3f s", t);
    return SWH_OK;
}

void swh_ode_set_max_step(struct swh_ode *o, double h_max)
{
    CVodeSetMaxStep(o->mem, h_max);
}

void swh_ode_get_stats(const struct swh_ode *o, struct swh_ode_stats *stats)
{
    *stats = o->past;
    add_stats(o, stats);
    stats->jac_evals = o->jac_evals;
    stats->jac_rhs_evals = o->jac_rhs;
    stats->lin_setups = o->setups;
    stats->rhs_evals += o->jac_rhs;
}

double swh_ode_last_step(const struct swh_ode *o)
{
    double h = 0;
    CVodeGetLastStep(o->mem, &h);
    return h;
}
