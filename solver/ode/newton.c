#include "solver/ode/newton.h"

#include "model/base/wide.h"
#include "solver/ode/vector.h"

#include <cvodes/cvodes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* All of these were measured on cycling circuits of both kinds. */
enum {
    ITERATIONS = 8, /* at most, of one step: what needs more had better be tried with a shorter one */
    REFRESHES = 1   /* of them with a new Jacobian */
};
static const double SLOW = 0.8; /* less gain than this from one iteration to the next: new Jacobian */
/* How much of an error one iteration is taken to leave: just after a factorisation; at least, in a first
 * iteration, where the last step's gain is all there is to go by; at least and at most, seen in this step. */
static const double UNKNOWN_GAIN = 0.3, FIRST_GAIN = 0.1, BEST_GAIN = 0.02, WORST_GAIN = 0.9;
/* A step whose correction is already so many times what the error test lets pass is given up: across a corner
 * the iteration would go to and fro, and end in a step that is refused. */
static const double HOPELESS = 3;
static const double LEAST_DIVISOR = 0.3; /* an update may stretch a step no more than by its inverse */

struct newton {
    SUNNonlinSolLSetupFn setup;
    swh_newton_correct correct;
    swh_newton_rates rates;
    void *user;
    N_Vector residual;
    int n, most, iteration;
    double gain;               /* of the last iteration that could be measured, or UNKNOWN_GAIN */
    int kept;                  /* steps since the matrix was factorised */
    double *step;              /* [ITERATIONS + 1][n] */
    double square[ITERATIONS]; /* their weighed squares */
    long iterations, failures; /* of this solve */
};

static struct newton *content(SUNNonlinearSolver s)
{
    return s->content;
}

/* ---- Broyden's updates ---- */

static inline double weighed_dot(int n, const double *a, const double *b, const double *w)
{
    double even = 0, odd = 0;
    int i = 0;
    for (; i + 1 < n; i += 2) {
        even += a[i] * b[i] * (w[i] * w[i]);
        odd += a[i + 1] * b[i + 1] * (w[i + 1] * w[i + 1]);
    }
    return even + odd + (i < n ? a[i] * b[i] * (w[i] * w[i]) : 0);
}

static inline void add(int n, double factor, const double *a, double *b)
{
    for (int i = 0; i < n; i++)
        b[i] += factor * a[i];
}

/* ycor += d; returns the weighed square of d */
static inline double take_step(int n, const double *d, const double *w, double *restrict ycor)
{
    double even = 0, odd = 0;
    int i = 0;
    for (; i + 1 < n; i += 2) {
        const double a = d[i] * w[i], b = d[i + 1] * w[i + 1];
        even += a * a;
        odd += b * b;
        ycor[i] += d[i];
        ycor[i + 1] += d[i + 1];
    }
    if (i < n) {
        even += d[i] * w[i] * (d[i] * w[i]);
        ycor[i] += d[i];
    }
    return even + odd;
}

/* Turns the factorised matrix's step d into the updated one's: d += s_(j+1) (s_j, d)/|s_j|^2 for all steps
 * but the last, then divided by 1 - (s, d)/|s|^2 of the last. */
static inline void update(const struct newton *k, const double *w, double *d)
{
    const int last = k->kept - 1;
    if (last < 0)
        return;
    for (int j = 0; j < last; j++)
        add(k->n, weighed_dot(k->n, k->step + j * k->n, d, w) / k->square[j], k->step + (j + 1) * k->n, d);
    double divisor = 1 - weighed_dot(k->n, k->step + last * k->n, d, w) / k->square[last];
    if (fabs(divisor) < LEAST_DIVISOR)
        divisor = divisor < 0 ? 1 : LEAST_DIVISOR;
    const double factor = 1 / divisor;
    for (int i = 0; i < k->n; i++)
        d[i] *= factor;
}

/* ---- the residual ---- */

SWH_WIDE static void combine(int n, double rl1, const double *zn1, const double *ycor, double gamma,
                             const double *f, double *restrict out)
{
    for (int i = 0; i < n; i++)
        out[i] = (rl1 * zn1[i] + ycor[i]) - gamma * f[i];
}

/* What BDF asks of y = predicted + ycor, left in k->residual; y and its rates stay where CVODES looks for
 * them. */
static int find_residual(struct newton *k, N_Vector ycor, void *mem)
{
    double t = 0, gamma = 0, rl1 = 0;
    N_Vector predicted = NULL, y = NULL, f = NULL, zn1 = NULL;
    void *unused = NULL;
    CVodeGetNonlinearSystemData(mem, &t, &predicted, &y, &f, &gamma, &rl1, &zn1, &unused);
    const double *correction = swh_vector_values(ycor);
    double *Y = swh_vector_values(y), *F = swh_vector_values(f);
    N_VLinearSum(1.0, predicted, 1.0, ycor, y);
    const int flag = k->rates(t, Y, F, k->user);
    if (flag != 0)
        return flag < 0 ? CV_RHSFUNC_FAIL : SUN_NLS_CONV_RECVR;
    combine(k->n, rl1, swh_vector_values(zn1), correction, gamma, F, swh_vector_values(k->residual));
    return 0;
}

/* ---- the iteration ---- */

/* From the residual to the next iterate; returns the weighed norm of the step, which is kept. */
SWH_WIDE static double advance(struct newton *k, N_Vector ycor, const double *w)
{
    double *d = k->step + k->kept * k->n;
    k->correct(k->user, swh_vector_values(k->residual), d);
    update(k, w, d);
    const double square = take_step(k->n, d, w, swh_vector_values(ycor));
    if (k->kept < ITERATIONS && square > 0)
        k->square[k->kept++] = square;
    k->iterations++;
    return sqrt(square / k->n);
}

static int refresh(struct newton *k, void *mem)
{
    booleantype current = 0;
    k->kept = k->iteration = 0;
    k->gain = UNKNOWN_GAIN;
    return k->setup(1, &current, mem);
}

static int give_up(struct newton *k, int flag)
{
    k->failures++;
    return flag;
}

/* What is left is the last correction (`now`, after `before`) times gain/(1 - gain). CVODES's own test takes
 * the gain of the step's worst iteration for the next one's and lets it forget by thirds; it asks for
 * iterations where none is needed, and leaves more than it says where the gain is bad. */
static int is_done(struct newton *k, double before, double now, double tol)
{
    if (isfinite(before))
        k->gain = fmin(fmax(now / before, BEST_GAIN), WORST_GAIN);
    const double gain = isfinite(before) ? k->gain : fmax(k->gain, FIRST_GAIN);
    return now * gain / (1 - gain) <= tol;
}

/* tol is the coefficient over what the error test divides by */
static int exceeds_abort_ratio(double correction, double tol)
{
    return correction * SWH_NEWTON_COEFFICIENT > HOPELESS * tol;
}

static int iterate(SUNNonlinearSolver s, N_Vector ycor, N_Vector w, realtype tol, void *mem)
{
    struct newton *k = content(s);
    const double *weight = swh_vector_values(w);
    int refreshes = 0;
    double before = INFINITY;
    for (int i = 1;; i++) {
        const double now = advance(k, ycor, weight);
        if (is_done(k, before, now, tol))
            return SUN_NLS_SUCCESS;
        if (i >= k->most || exceeds_abort_ratio(i == 1 ? now : N_VWrmsNorm(ycor, w), tol))
            return give_up(k, SUN_NLS_CONV_RECVR);
        int flag = find_residual(k, ycor, mem);
        if (flag != 0)
            return give_up(k, flag);
        k->iteration++;
        const int slow = now > SLOW * before && refreshes < REFRESHES;
        before = slow ? INFINITY : now;
        refreshes += slow;
        if (slow && (flag = refresh(k, mem)) != 0)
            return give_up(k, flag);
    }
}

static int solve(SUNNonlinearSolver s, N_Vector y0, N_Vector ycor, N_Vector w, realtype tol,
                 booleantype call_setup, void *mem)
{
    struct newton *k = content(s);
    (void)y0;
    k->iterations = k->failures = 0;
    k->iteration = k->kept = 0;
    int flag = find_residual(k, ycor, mem);
    booleantype current = 0;
    if (call_setup)
        k->gain = UNKNOWN_GAIN;
    if (flag == 0 && call_setup)
        flag = k->setup(0, &current, mem);
    return flag != 0 ? flag : iterate(s, ycor, w, tol, mem);
}

/* ---- behind the interface of SUNDIALS ---- */

static SUNNonlinearSolver_Type type(SUNNonlinearSolver s)
{
    (void)s;
    return SUNNONLINEARSOLVER_ROOTFIND;
}

/* CVODES offers its own; ours is find_residual */
static int set_sys(SUNNonlinearSolver s, SUNNonlinSolSysFn f)
{
    (void)s;
    (void)f;
    return SUN_NLS_SUCCESS;
}

static int set_setup(SUNNonlinearSolver s, SUNNonlinSolLSetupFn f)
{
    content(s)->setup = f;
    return SUN_NLS_SUCCESS;
}

/* CVODES offers its own; ours is `correct` */
static int set_solve(SUNNonlinearSolver s, SUNNonlinSolLSolveFn f)
{
    (void)s;
    (void)f;
    return SUN_NLS_SUCCESS;
}

/* CVODES offers its own; ours is is_done */
static int set_test(SUNNonlinearSolver s, SUNNonlinSolConvTestFn f, void *data)
{
    (void)s;
    (void)f;
    (void)data;
    return SUN_NLS_SUCCESS;
}

static int set_most(SUNNonlinearSolver s, int most)
{
    content(s)->most = most < ITERATIONS ? most : ITERATIONS;
    return SUN_NLS_SUCCESS;
}

static int get_iterations(SUNNonlinearSolver s, long *n)
{
    *n = content(s)->iterations;
    return SUN_NLS_SUCCESS;
}

static int get_iteration(SUNNonlinearSolver s, int *n)
{
    *n = content(s)->iteration;
    return SUN_NLS_SUCCESS;
}

static int get_failures(SUNNonlinearSolver s, long *n)
{
    *n = content(s)->failures;
    return SUN_NLS_SUCCESS;
}

static int release(SUNNonlinearSolver s)
{
    if (!s)
        return SUN_NLS_SUCCESS;
    struct newton *k = content(s);
    if (k) {
        if (k->residual)
            N_VDestroy(k->residual);
        free(k->step);
    }
    free(k);
    s->content = NULL;
    SUNNonlinSolFreeEmpty(s);
    return SUN_NLS_SUCCESS;
}

static void set_operations(SUNNonlinearSolver s)
{
    s->ops->gettype = type;
    s->ops->solve = solve;
    s->ops->free = release;
    s->ops->setsysfn = set_sys;
    s->ops->setlsetupfn = set_setup;
    s->ops->setlsolvefn = set_solve;
    s->ops->setctestfn = set_test;
    s->ops->setmaxiters = set_most;
    s->ops->getnumiters = get_iterations;
    s->ops->getcuriter = get_iteration;
    s->ops->getnumconvfails = get_failures;
}

SUNNonlinearSolver swh_newton_new(N_Vector like, swh_newton_correct correct, swh_newton_rates rates,
                                  void *user, SUNContext ctx)
{
    SUNNonlinearSolver s = SUNNonlinSolNewEmpty(ctx);
    if (!s)
        return NULL;
    set_operations(s);
    struct newton *k = calloc(1, sizeof *k);
    s->content = k;
    if (k) {
        k->n = (int)N_VGetLength(like);
        k->gain = UNKNOWN_GAIN;
        k->most = ITERATIONS;
        k->correct = correct;
        k->rates = rates;
        k->user = user;
        k->residual = N_VClone(like);
        k->step = calloc((size_t)((ITERATIONS + 1) * k->n), sizeof *k->step);
    }
    if (k && k->residual && k->step)
        return s;
    release(s);
    return NULL;
}

double swh_newton_stale_gamma(double ratio)
{
    return 2 / (1 + ratio);
}
