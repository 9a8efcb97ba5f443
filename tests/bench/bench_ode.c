/* What the integrator costs on the stiff network (tests/solver/ode_network.h), as ratios within one run.
 * Three drivers switch the pump 150 times in 1800 s: ours; CVODES as it comes, with its dense solver and its
 * difference quotient; CVODES with KLU and our Jacobian but its own vectors and settings left as ours are. */
#include "solver/ode/jacobian.h"
#include "tests/solver/ode_network.h"

#include <cvodes/cvodes.h>
#include <cvodes/cvodes_ls.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdio.h>
#include <string.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunlinsol/sunlinsol_klu.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunmatrix/sunmatrix_sparse.h>
#include <time.h>

static const double END = 1800.0, EDGE = 12.0;

static double cpu(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

struct stock {
    struct network *net;
    const struct swh_ode_problem *p;
    struct swh_jacobian *jac;
    SUNContext ctx;
    SUNMatrix A;
    SUNLinearSolver LS;
    void *mem;
    N_Vector y;
    long steps;
};

static int stock_rates(realtype t, N_Vector y, N_Vector dy, void *user)
{
    return network_rates(t, N_VGetArrayPointer(y), N_VGetArrayPointer(dy), ((struct stock *)user)->net);
}

static int plain_rates(double t, const double *y, double *dy, void *context)
{
    return network_rates(t, y, dy, ((struct stock *)context)->net);
}

static int stock_weights(N_Vector y, N_Vector w, void *user)
{
    const struct swh_ode_problem *p = ((struct stock *)user)->p;
    for (int i = 0; i < p->n; i++) {
        const double size = p->rtol[i] * fabs(N_VGetArrayPointer(y)[i]) + p->atol[i];
        N_VGetArrayPointer(w)[i] = isinf(size) ? 1e-30 : sqrt(NET_STATES / (double)NET_SUM) / size;
    }
    return 0;
}

static int stock_jacobian(realtype t, N_Vector y, N_Vector fy, SUNMatrix A, void *user, N_Vector a,
                          N_Vector b, N_Vector c)
{
    struct stock *s = user;
    (void)a;
    (void)b;
    (void)c;
    const int flag =
        swh_jacobian_evaluate(s->jac, t, N_VGetArrayPointer(y), N_VGetArrayPointer(fy), plain_rates, s);
    for (int j = 0; j <= NET_STATES; j++)
        SM_INDEXPTRS_S(A)[j] = s->p->col_ptr[j];
    for (int k = 0; k < s->p->col_ptr[NET_STATES]; k++) {
        SM_INDEXVALS_S(A)[k] = s->p->row_idx[k];
        SM_DATA_S(A)[k] = swh_jacobian_values(s->jac)[k];
    }
    return flag;
}

static int stock_make(struct stock *s, int klu)
{
    s->y = N_VNew_Serial(NET_STATES, s->ctx);
    memcpy(N_VGetArrayPointer(s->y), s->net->y0, sizeof s->net->y0);
    s->mem = CVodeCreate(CV_BDF, s->ctx);
    s->A = klu ? SUNSparseMatrix(NET_STATES, NET_STATES, s->p->col_ptr[NET_STATES], CSC_MAT, s->ctx)
               : SUNDenseMatrix(NET_STATES, NET_STATES, s->ctx);
    s->LS = klu ? SUNLinSol_KLU(s->y, s->A, s->ctx) : SUNLinSol_Dense(s->y, s->A, s->ctx);
    int flag = CVodeInit(s->mem, stock_rates, 0, s->y);
    flag |= CVodeSetUserData(s->mem, s);
    flag |= CVodeWFtolerances(s->mem, stock_weights);
    flag |= CVodeSetLinearSolver(s->mem, s->LS, s->A);
    flag |= CVodeSetMaxNumSteps(s->mem, 100000000);
    if (klu) {
        flag |= CVodeSetJacFn(s->mem, stock_jacobian);
        flag |= CVodeSetJacEvalFrequency(s->mem, 10) | CVodeSetNonlinConvCoef(s->mem, 0.03) |
                CVodeSetMaxNonlinIters(s->mem, 5);
    }
    return flag;
}

static int stock_segment(struct stock *s, double t_stop)
{
    double t = 0;
    int flag = CVodeSetStopTime(s->mem, t_stop);
    while (flag >= 0 && flag != CV_TSTOP_RETURN)
        flag = CVode(s->mem, t_stop, s->y, &t, CV_ONE_STEP);
    long steps = 0;
    CVodeGetNumSteps(s->mem, &steps);
    s->steps += steps;
    s->net->pump_on = !s->net->pump_on;
    return flag < 0 ? flag : CVodeReInit(s->mem, t, s->y);
}

/* seconds of processor time, negative if it failed */
static double run_stock(double rtol, int klu, long *steps)
{
    static struct network net;
    struct swh_ode_problem p;
    network_make(&net, rtol, &p);
    struct stock s = {.net = &net, .p = &p};
    if (SUNContext_Create(NULL, &s.ctx) != 0)
        return -1;
    s.jac = swh_jacobian_create(p.n, p.col_ptr, p.row_idx, p.rtol, p.atol);
    const double start = cpu();
    int flag = stock_make(&s, klu);
    for (int k = 1; flag == 0 && k * EDGE <= END; k++)
        flag = stock_segment(&s, k * EDGE);
    const double used = cpu() - start;
    *steps = s.steps;
    CVodeFree(&s.mem);
    SUNLinSolFree(s.LS);
    SUNMatDestroy(s.A);
    N_VDestroy(s.y);
    SUNContext_Free(&s.ctx);
    swh_jacobian_free(s.jac);
    return flag == 0 ? used : -1;
}

static double run_ours(double rtol, int forced, int *events, struct swh_ode_stats *stats)
{
    static struct network net;
    struct swh_ode_problem p;
    double y[NET_STATES], best = INFINITY;
    for (int k = 0; k < 3; k++) {
        struct swh_error err = {0};
        network_make(&net, rtol, &p);
        net.forced = forced;
        const double start = cpu();
        *events = network_run(&p, &net, END, y, stats, &err);
        best = fmin(best, cpu() - start);
        if (*events < 0)
            printf("failed: %s\n", err.what);
    }
    return best;
}

static double rates_time(void)
{
    static struct network net;
    struct swh_ode_problem p;
    double dy[NET_STATES];
    network_make(&net, 1e-4, &p);
    enum { TIMES = 100000 };
    const double start = cpu();
    for (int i = 0; i < TIMES; i++)
        network_rates(0, net.y0, dy, &net);
    return (cpu() - start) / TIMES;
}

static void compare(double rtol, double one_rhs)
{
    struct swh_ode_stats s, r;
    int events = 0, root_events = 0;
    long dense_steps = 0, klu_steps = 0;
    const double ours = run_ours(rtol, 1, &events, &s);
    const double by_root = run_ours(rtol, 0, &root_events, &r);
    const double klu = run_stock(rtol, 1, &klu_steps), dense = run_stock(rtol, 0, &dense_steps);
    const double per_event = (double)s.steps / (events > 0 ? events : 1);
    printf(
        "rtol %g: %d switchings, %.1f ms, %.0f steps each, %.2f us per step (%.1f right-hand sides' worth)\n",
        rtol, events, 1e3 * ours, per_event, 1e6 * ours / (double)s.steps, ours / (double)s.steps / one_rhs);
    printf("  per step: %.2f rhs, of them %.2f for Jacobians; %.2f Newton iterations; %ld + %ld failures\n",
           (double)s.rhs_evals / (double)s.steps, (double)s.jac_rhs_evals / (double)s.steps,
           (double)s.newton_iters / (double)s.steps, s.conv_fails, s.err_test_fails);
    printf("  switched by roots: %d events, %.1f ms, %.0f steps each\n", root_events, 1e3 * by_root,
           (double)r.steps / (root_events > 0 ? root_events : 1));
    printf("  with KLU and stock vectors: %.1f times the time, %.2f times the steps\n", klu / ours,
           (double)klu_steps / (double)s.steps);
    printf("  stock, dense: %.1f times the time, %.2f times the steps\n", dense / ours,
           (double)dense_steps / (double)s.steps);
}

int main(void)
{
    const double one_rhs = rates_time();
    printf("%d states, one right-hand side %.3f us\n", NET_STATES, 1e6 * one_rhs);
    compare(1e-4, one_rhs);
    compare(1e-5, one_rhs);
    return 0;
}
