/* How parameters move a driven body: CVODES's forward sensitivities against differences of whole runs.
 *
 * The body of the default vehicle for 25 minutes at pressures and a speed that swing smoothly, no events; how
 * four parameters move the discharge clamp and the shell. Both ways use the same plain CVODES (BDF, dense
 * matrix), so that only the way differs: sensitivities ride along with the run (their right-hand sides by
 * central differences of the rates along each sensitivity, machines set beforehand), differences run again
 * for each parameter. The yardstick are central differences of one per cent at a ten-thousandth of the
 * tolerance. Prints ratios of processor time and errors relative to the sensitivity's own size. */
#include "model/machine.h"

#include <cvodes/cvodes.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <time.h>

enum { FREE = 4, POINTS = 50, READ = 2, SPAN = 1500 };
static const int freed[FREE] = {SWH_P_body_shell_film, SWH_P_body_block_heads,
                                SWH_P_compressor_indicated_efficiency, SWH_P_compressor_ua_discharge_heads};
static const int looked_at[READ] = {SWH_S_probe_discharge, SWH_S_shell};
static const double PI = 3.14159265358979;

struct problem {
    struct swh_params params;
    struct swh_choices choices;
    struct swh_modes modes;
    struct swh_machine machine, above[FREE], below[FREE]; /* as it is; one parameter STEP up and down */
    struct swh_flows flows, flows_above, flows_below;
    int n;
};
static const double STEP = 1e-4; /* relative, of a parameter along its sensitivity */

/* readings of one run, or what one parameter does to them per relative change */
typedef double trace[POINTS][READ];

static struct swh_inputs inputs_at(double t)
{
    struct swh_inputs in;
    swh_inputs_default(&in);
    const double swing = sin(2 * PI * t / 600);
    in.compressor_speed = (1800 + 700 * swing) / 60;
    in.suction_pressure = 3.0e5 - 0.5e5 * swing;
    in.discharge_pressure = 15e5 + 3e5 * swing;
    in.suction_temperature = 286 - 2 * swing;
    in.ambient_temperature = 305.15;
    return in;
}

static void set(struct problem *q, struct swh_machine *m, int which, double factor)
{
    struct swh_params p = q->params;
    if (which >= 0)
        swh_param_set(&p, freed[which], factor * swh_param_get(&p, freed[which]));
    swh_machine_set(m, swh_fluid_get(SWH_R134A), &p, &q->choices);
}

static void make(struct problem *q)
{
    memset(q, 0, sizeof *q);
    swh_params_default(&q->params);
    swh_choices_default(&q->choices);
    q->choices.vehicle_circuit = SWH_CIRCUIT_PORTS;
    q->modes.engaged = q->modes.fan_on = 1;
    q->params.run_start_temperature = q->params.run_start_body_temperature = 305.15;
    set(q, &q->machine, -1, 1);
    for (int k = 0; k < FREE; k++) {
        set(q, &q->above[k], k, 1 + STEP);
        set(q, &q->below[k], k, 1 - STEP);
    }
    q->n = q->machine.l.sum;
}

/* rates without the ledger's sums, which nothing feels */
static int rates_of(const struct problem *q, const struct swh_machine *m, struct swh_flows *f, double t,
                    const double *y, double *dy)
{
    double full[SWH_STATE_MAX] = {0}, rate[SWH_STATE_MAX];
    const struct swh_inputs in = inputs_at(t);
    memcpy(full, y, (size_t)q->n * sizeof *y);
    const int bad = swh_machine_rates(m, &in, &q->modes, full, rate, f);
    memcpy(dy, rate, (size_t)q->n * sizeof *dy);
    return bad;
}

static int rates(realtype t, N_Vector y, N_Vector dy, void *user)
{
    struct problem *q = user;
    return rates_of(q, &q->machine, &q->flows, t, N_VGetArrayPointer(y), N_VGetArrayPointer(dy));
}

/* d(ds/dt) of one parameter (relative change): central difference of the rates along (s, 1) */
static int sensitivity_rates(int count, realtype t, N_Vector y, N_Vector dy, int k, N_Vector s, N_Vector ds,
                             void *user, N_Vector a, N_Vector b)
{
    (void)count;
    (void)dy;
    struct problem *q = user;
    double *up = N_VGetArrayPointer(a), *down = N_VGetArrayPointer(b), *out = N_VGetArrayPointer(ds);
    double moved[SWH_STATE_MAX];
    const double *at = N_VGetArrayPointer(y), *along = N_VGetArrayPointer(s);
    for (int i = 0; i < q->n; i++)
        moved[i] = at[i] + STEP * along[i];
    if (rates_of(q, &q->above[k], &q->flows_above, t, moved, up))
        return 1;
    for (int i = 0; i < q->n; i++)
        moved[i] = at[i] - STEP * along[i];
    if (rates_of(q, &q->below[k], &q->flows_below, t, moved, down))
        return 1;
    for (int i = 0; i < q->n; i++)
        out[i] = (up[i] - down[i]) / (2 * STEP);
    return 0;
}

static bool start(struct problem *q, double *y)
{
    double full[SWH_STATE_MAX];
    const struct swh_inputs in = inputs_at(0);
    struct swh_error err = {0};
    if (swh_machine_start(&q->machine, &in, q->params.charge_nominal, full, &err) != SWH_OK)
        return false;
    memcpy(y, full, (size_t)q->n * sizeof *y);
    return true;
}

static bool set_up(struct problem *q, void *cv, N_Vector y, N_Vector weight, double tolerance, SUNMatrix J,
                   SUNLinearSolver ls)
{
    double *w = N_VGetArrayPointer(weight);
    for (int i = 0; i < q->n; i++) {
        double rtol = 0, atol = 0;
        swh_state_tolerance(&q->machine.l, i, &rtol, &atol);
        w[i] = tolerance * fmin(atol, 1e6);
    }
    return CVodeInit(cv, rates, 0, y) == 0 && CVodeSVtolerances(cv, tolerance * 1e-5, weight) == 0 &&
           CVodeSetUserData(cv, q) == 0 && CVodeSetLinearSolver(cv, ls, J) == 0 &&
           CVodeSetMaxNumSteps(cv, 200000) == 0;
}

static void read(const struct problem *q, N_Vector y, double *out)
{
    for (int i = 0; i < READ; i++)
        out[i] = N_VGetArrayPointer(y)[q->machine.l.scalar + looked_at[i]];
}

static bool follow(struct problem *q, void *cv, N_Vector y, N_Vector *s, trace run, trace *moved)
{
    for (int k = 0; k < POINTS; k++) {
        realtype t = 0;
        if (CVode(cv, (double)SPAN * (k + 1) / POINTS, y, &t, CV_NORMAL) < 0)
            return false;
        read(q, y, run[k]);
        if (!s)
            continue;
        if (CVodeGetSens(cv, &t, s) < 0)
            return false;
        for (int p = 0; p < FREE; p++)
            read(q, s[p], moved[p][k]);
    }
    return true;
}

/* sensitivities to relative changes, each in the error test like the state it moves */
static bool with_sensitivities(void *cv, N_Vector *s)
{
    double bar[FREE];
    for (int k = 0; k < FREE; k++) {
        N_VConst(0, s[k]);
        bar[k] = 1;
    }
    return CVodeSensInit1(cv, FREE, CV_SIMULTANEOUS, sensitivity_rates, s) == 0 &&
           CVodeSetSensParams(cv, NULL, bar, NULL) == 0 && CVodeSensEEtolerances(cv) == 0 &&
           CVodeSetSensErrCon(cv, 1) == 0;
}

/* One run; moved NULL: without sensitivities. */
static bool run(struct problem *q, double tolerance, trace out, trace *moved)
{
    SUNContext context = NULL;
    if (SUNContext_Create(NULL, &context) != 0)
        return false;
    N_Vector y = N_VNew_Serial(q->n, context), weight = N_VClone(y), *s = N_VCloneVectorArray(FREE, y);
    SUNMatrix J = SUNDenseMatrix(q->n, q->n, context);
    SUNLinearSolver ls = SUNLinSol_Dense(y, J, context);
    void *cv = CVodeCreate(CV_BDF, context);
    bool good = start(q, N_VGetArrayPointer(y)) && set_up(q, cv, y, weight, tolerance, J, ls);
    good = good && (!moved || with_sensitivities(cv, s)) && follow(q, cv, y, moved ? s : NULL, out, moved);
    CVodeFree(&cv);
    SUNLinSolFree(ls);
    SUNMatDestroy(J);
    N_VDestroyVectorArray(s, FREE);
    N_VDestroy(weight);
    N_VDestroy(y);
    SUNContext_Free(&context);
    return good;
}

/* differences of runs: forward with a run at rest shared by all, or central */
static bool differences(struct problem *q, double tolerance, double step, bool central, trace *moved)
{
    static trace low, high;
    if (!central && !run(q, tolerance, low, NULL))
        return false;
    for (int k = 0; k < FREE; k++) {
        set(q, &q->machine, k, 1 + step);
        bool good = run(q, tolerance, high, NULL);
        set(q, &q->machine, k, 1 - step);
        good = good && (!central || run(q, tolerance, low, NULL));
        set(q, &q->machine, -1, 1);
        if (!good)
            return false;
        for (int i = 0; i < POINTS; i++)
            for (int j = 0; j < READ; j++)
                moved[k][i][j] = (high[i][j] - low[i][j]) / (central ? 2 * step : step);
    }
    return true;
}

static double cpu(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* root mean square of the error over that of the yardstick, worst parameter */
static double error_of(trace *moved, trace *truth)
{
    double worst = 0;
    for (int k = 0; k < FREE; k++) {
        double off = 0, size = 0;
        for (int i = 0; i < POINTS; i++)
            for (int j = 0; j < READ; j++) {
                off += pow(moved[k][i][j] - truth[k][i][j], 2);
                size += pow(truth[k][i][j], 2);
            }
        worst = fmax(worst, sqrt(off / size));
    }
    return worst;
}

static trace truth[FREE], found[FREE], plain;

static bool tell(struct problem *q, const char *name, double step, double tolerance, double one)
{
    double least = INFINITY;
    for (int k = 0; k < 3; k++) {
        const double from = cpu();
        if (!(step > 0 ? differences(q, tolerance, step, false, found) : run(q, tolerance, plain, found)))
            return false;
        least = fmin(least, cpu() - from);
    }
    printf("  %-44s %6.1f %10.2g\n", name, least / one, error_of(found, truth));
    return true;
}

int main(void)
{
    static struct problem q;
    make(&q);
    if (!differences(&q, 1e-4, 0.01, true, truth)) {
        fprintf(stderr, "bench_sensitivity: the yardstick cannot be run\n");
        return 1;
    }
    double one = INFINITY;
    bool good = true;
    for (int k = 0; k < 5 && good; k++) {
        const double from = cpu();
        good = run(&q, 1, plain, NULL);
        one = fmin(one, cpu() - from);
    }
    printf("How %d parameters move two readings of a driven body (%d states, %d minutes):\n"
           "  %-44s %6s %10s\n",
           FREE, q.n, SPAN / 60, "", "runs", "error");
    good = good && tell(&q, "CVODES, simultaneous", 0, 1, one) &&
           tell(&q, "differences of 0.1 %", 0.001, 1, one) && tell(&q, "differences of 3 %", 0.03, 1, one) &&
           tell(&q, "differences of 3 %, a tenth of the tolerance", 0.03, 0.1, one) &&
           tell(&q, "differences of 24 %, a tenth of the tolerance", 0.24, 0.1, one);
    if (!good)
        fprintf(stderr, "bench_sensitivity: a run failed\n");
    return good ? 0 : 1;
}
