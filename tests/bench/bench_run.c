/* What one run of the whole machine costs: 30 minutes of a healthy van in the sun, doors closed at 30 degC,
 * whose frost thermostat changes the clutch some 80 times; 1 Hz output into a sink that adds up.
 *
 * Prints steps, rates, times of each, steps per event, the shares of property look-ups and of linear algebra,
 * and the memory's peak. Counts are the same on every machine, times are not: compare within one run. The
 * look-ups are counted by wrapping them at link time, and timed at the arguments they
 * were last called with. */
#include "tests/check.h"

#include "model/machine.h"
#include "solver/ode/jacobian.h"
#include "solver/ode/sparse_lu.h"
#include "solver/simulate/run.h"
#include "tests/solver/cases.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

static double cpu(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* ---- look-ups: counted, arguments kept ---- */
enum lookup { RHO_U, RHO_U_SLOPES, P_S, RHO_U_ENTROPY, SAT_P, PSAT, TSAT, P_H, MU_GAS, LOOKUPS };
enum { KEPT = 4096 };
static const char *const lookup_name[LOOKUPS] = {"swh_rho_u", "swh_rho_u_derivatives",
                                                 "swh_P_s",   "swh_rho_u_entropy",
                                                 "swh_sat_P", "swh_Psat",
                                                 "swh_Tsat",  "swh_P_h",
                                                 "swh_mu_gas"};
static struct {
    long calls;
    double a[KEPT], b[KEPT];
} seen[LOOKUPS];
static struct swh_cell_props slope_of[KEPT]; /* what swh_rho_u_derivatives was told */

static bool counting;

static void note(enum lookup which, double a, double b)
{
    if (!counting)
        return;
    const long at = seen[which].calls++ % KEPT;
    seen[which].a[at] = a;
    seen[which].b[at] = b;
}

int __real_swh_rho_u(const struct swh_fluid *f, double rho, double u, struct swh_cell_props *out);
uint64_t __real_swh_rho_u_all(const struct swh_fluid *f, int n, const double *rho, const double *u,
                              struct swh_cell_props *const *out);
void __real_swh_rho_u_derivatives(const struct swh_fluid *f, int n, const double *rho, const double *u,
                                  const struct swh_cell_props *c, struct swh_cell_derivatives *out);
int __real_swh_P_s(const struct swh_fluid *f, double P, double s, double *h, double *rho);
int __real_swh_rho_u_entropy(const struct swh_fluid *f, double rho, double u, double *s);
int __real_swh_sat_P(const struct swh_fluid *f, double P, struct swh_saturation *out);
int __real_swh_Psat(const struct swh_fluid *f, double T, double *P);
int __real_swh_Tsat(const struct swh_fluid *f, double P, double *T);
int __real_swh_P_h(const struct swh_fluid *f, double P, double h, struct swh_ph_props *out);
double __real_swh_mu_gas(const struct swh_fluid *f, double T);

int __wrap_swh_rho_u(const struct swh_fluid *f, double rho, double u, struct swh_cell_props *out);
uint64_t __wrap_swh_rho_u_all(const struct swh_fluid *f, int n, const double *rho, const double *u,
                              struct swh_cell_props *const *out);
void __wrap_swh_rho_u_derivatives(const struct swh_fluid *f, int n, const double *rho, const double *u,
                                  const struct swh_cell_props *c, struct swh_cell_derivatives *out);
int __wrap_swh_P_s(const struct swh_fluid *f, double P, double s, double *h, double *rho);
int __wrap_swh_rho_u_entropy(const struct swh_fluid *f, double rho, double u, double *s);
int __wrap_swh_sat_P(const struct swh_fluid *f, double P, struct swh_saturation *out);
int __wrap_swh_Psat(const struct swh_fluid *f, double T, double *P);
int __wrap_swh_Tsat(const struct swh_fluid *f, double P, double *T);
int __wrap_swh_P_h(const struct swh_fluid *f, double P, double h, struct swh_ph_props *out);
double __wrap_swh_mu_gas(const struct swh_fluid *f, double T);

int __wrap_swh_rho_u(const struct swh_fluid *f, double rho, double u, struct swh_cell_props *out)
{
    note(RHO_U, rho, u);
    return __real_swh_rho_u(f, rho, u, out);
}
uint64_t __wrap_swh_rho_u_all(const struct swh_fluid *f, int n, const double *rho, const double *u,
                              struct swh_cell_props *const *out)
{
    for (int k = 0; k < n; k++)
        note(RHO_U, rho[k], u[k]);
    return __real_swh_rho_u_all(f, n, rho, u, out);
}
void __wrap_swh_rho_u_derivatives(const struct swh_fluid *f, int n, const double *rho, const double *u,
                                  const struct swh_cell_props *c, struct swh_cell_derivatives *out)
{
    for (int k = 0; k < n; k++) {
        slope_of[seen[RHO_U_SLOPES].calls % KEPT] = c[k];
        note(RHO_U_SLOPES, rho[k], u[k]);
    }
    __real_swh_rho_u_derivatives(f, n, rho, u, c, out);
}
int __wrap_swh_P_s(const struct swh_fluid *f, double P, double s, double *h, double *rho)
{
    note(P_S, P, s);
    return __real_swh_P_s(f, P, s, h, rho);
}
int __wrap_swh_rho_u_entropy(const struct swh_fluid *f, double rho, double u, double *s)
{
    note(RHO_U_ENTROPY, rho, u);
    return __real_swh_rho_u_entropy(f, rho, u, s);
}
int __wrap_swh_sat_P(const struct swh_fluid *f, double P, struct swh_saturation *out)
{
    note(SAT_P, P, 0);
    return __real_swh_sat_P(f, P, out);
}
int __wrap_swh_Psat(const struct swh_fluid *f, double T, double *P)
{
    note(PSAT, T, 0);
    return __real_swh_Psat(f, T, P);
}
int __wrap_swh_Tsat(const struct swh_fluid *f, double P, double *T)
{
    note(TSAT, P, 0);
    return __real_swh_Tsat(f, P, T);
}
int __wrap_swh_P_h(const struct swh_fluid *f, double P, double h, struct swh_ph_props *out)
{
    note(P_H, P, h);
    return __real_swh_P_h(f, P, h, out);
}
double __wrap_swh_mu_gas(const struct swh_fluid *f, double T)
{
    note(MU_GAS, T, 0);
    return __real_swh_mu_gas(f, T);
}

static double one_lookup(enum lookup which, const struct swh_fluid *f, long at)
{
    const double a = seen[which].a[at], b = seen[which].b[at];
    struct swh_cell_props cell;
    struct swh_cell_derivatives derivatives;
    struct swh_saturation sat;
    struct swh_ph_props ph;
    double x = 0, y = 0;
    switch (which) {
    case RHO_U:
        __real_swh_rho_u(f, a, b, &cell);
        return cell.P;
    case RHO_U_SLOPES:
        __real_swh_rho_u_derivatives(f, 1, &a, &b, &slope_of[at], &derivatives);
        return derivatives.P_rho;
    case P_S:
        __real_swh_P_s(f, a, b, &x, &y);
        return x;
    case RHO_U_ENTROPY:
        __real_swh_rho_u_entropy(f, a, b, &x);
        return x;
    case SAT_P:
        __real_swh_sat_P(f, a, &sat);
        return sat.T;
    case PSAT:
        __real_swh_Psat(f, a, &x);
        return x;
    case TSAT:
        __real_swh_Tsat(f, a, &x);
        return x;
    case P_H:
        __real_swh_P_h(f, a, b, &ph);
        return ph.T;
    default:
        return __real_swh_mu_gas(f, a);
    }
}

static double kept; /* what is added up and printed, so that no call can be left out */

/* seconds per call, the least of several rounds */
static double lookup_time(enum lookup which, const struct swh_fluid *f)
{
    const long n = seen[which].calls < KEPT ? seen[which].calls : KEPT;
    double best = INFINITY;
    for (int round = 0; round < 7 && n > 0; round++) {
        const double from = cpu();
        for (int k = 0; k < 20; k++)
            for (long i = 0; i < n; i++)
                kept += one_lookup(which, f, i);
        best = fmin(best, (cpu() - from) / (20.0 * (double)n));
    }
    return n > 0 ? best : 0;
}

/* ---- rates and linear algebra, timed at a state on the way ---- */
struct place {
    struct swh_machine m;
    struct swh_inputs in;
    struct swh_modes modes;
    struct swh_flows flows;
    struct swh_entries entries;
    double y[SWH_STATE_MAX], dy[SWH_STATE_MAX];
};

static int place_rates(double t, const double *y, double *dy, void *user)
{
    (void)t;
    struct place *p = user;
    return swh_machine_rates(&p->m, &p->in, &p->modes, y, dy, &p->flows);
}

/* derivatives ask for the rates at the same state before them: the time of that counts too */
static int place_derivatives(double t, const double *y, double *values, void *user)
{
    struct place *p = user;
    double dy[SWH_STATE_MAX];
    const int bad = place_rates(t, y, dy, p);
    return bad ? bad : swh_machine_jacobian(&p->m, &p->modes, y, &p->flows, &p->entries, values);
}

/* The machine at rest under its pressures, clutch in: every path of the rates is taken. */
static void set_place(struct place *p, const struct swh_case *c)
{
    struct swh_error err = {0};
    p->in = c->conditions;
    p->modes = (struct swh_modes){.engaged = 1, .fan_on = 1};
    swh_machine_set(&p->m, swh_case_refrigerant(c), &c->params, &c->choices);
    swh_machine_start(&p->m, &p->in, c->params.charge_nominal, p->y, &err);
    p->y[p->m.l.scalar + SWH_S_speed_ratio] = 1;
}

/* moves every state a little to and fro, so that nothing is known from the evaluation before */
static void stir(struct place *p, int i)
{
    const double factor = i % 2 ? 1 + 1e-12 : 1 / (1 + 1e-12);
    for (int k = 0; k < p->m.l.sum; k++)
        p->y[k] *= factor;
}

static double rates_time(struct place *p)
{
    enum { TIMES = 20000 };
    double best = INFINITY;
    for (int round = 0; round < 5; round++) {
        const double from = cpu();
        for (int i = 0; i < TIMES; i++) {
            stir(p, i);
            kept += place_rates(0, p->y, p->dy, p) + p->dy[0];
        }
        best = fmin(best, (cpu() - from) / TIMES);
    }
    return best;
}

struct algebra {
    double jacobian, factor, solve; /* s each */
    int entries, colours;
};

static double jacobian_time(struct place *p, struct swh_jacobian *J)
{
    enum { TIMES = 2000 };
    double best = INFINITY;
    for (int round = 0; round < 5; round++) {
        const double from = cpu();
        for (int i = 0; i < TIMES; i++)
            kept += swh_jacobian_evaluate_fast(J, 0, p->y, p->dy, place_rates, p);
        best = fmin(best, (cpu() - from) / TIMES);
    }
    return best;
}

static struct algebra algebra_time(struct place *p)
{
    static int col_ptr[SWH_STATE_MAX + 1], row_idx[SWH_STATE_MAX * 40];
    static double rtol[SWH_STATE_MAX], atol[SWH_STATE_MAX];
    enum { TIMES = 5000 };
    struct algebra a = {0};
    const int n = p->m.l.n;
    swh_machine_sparsity(&p->m, col_ptr, row_idx, SWH_STATE_MAX * 40);
    for (int i = 0; i < n; i++)
        swh_state_tolerance(&p->m.l, i, &rtol[i], &atol[i]);
    struct swh_jacobian *J = swh_jacobian_create(n, col_ptr, row_idx, rtol, atol);
    unsigned char slow[SWH_STATE_MAX], sloped[SWH_STATE_MAX];
    swh_machine_slow_states(&p->m, slow);
    swh_machine_slope_columns(&p->m, sloped);
    swh_entries_set(&p->entries, n, col_ptr, row_idx);
    struct swh_lu *lu = swh_lu_create_without(n, col_ptr, row_idx, slow); /* as in all short steps */
    if (J && lu && swh_jacobian_set_slow(J, slow) &&
        swh_jacobian_set_derivatives(J, sloped, place_derivatives) && place_rates(0, p->y, p->dy, p) == 0 &&
        swh_jacobian_evaluate(J, 0, p->y, p->dy, place_rates, p) == 0) {
        a.entries = swh_lu_entries(lu);
        a.colours = swh_jacobian_colours(J);
        a.jacobian = jacobian_time(p, J);
        double from = cpu();
        for (int i = 0; i < TIMES; i++)
            kept += swh_lu_factor(lu, 1e-3 * (1 + i % 7), swh_jacobian_values(J));
        a.factor = (cpu() - from) / TIMES;
        from = cpu();
        for (int i = 0; i < TIMES; i++)
            swh_lu_solve(lu, p->dy);
        a.solve = (cpu() - from) / TIMES;
    }
    swh_lu_free(lu);
    swh_jacobian_free(J);
    return a;
}

/* ---- the run ---- */
static enum swh_status add_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    *(double *)user += row->value[SWH_CH_rotor_temperature];
    return SWH_OK;
}

static double run_time(const struct swh_case *c, struct swh_summary *s)
{
    const struct swh_sinks sinks = {.row = add_row, .user = &kept};
    struct swh_error err = {0};
    double best = INFINITY;
    for (int round = 0; round < 3; round++) {
        memset(seen, 0, sizeof seen);
        counting = true;
        const double from = cpu();
        if (swh_run(c, &sinks, s, &err) != SWH_OK)
            exit(printf("failed: %s\n", err.what) > 0);
        best = fmin(best, cpu() - from);
        counting = false;
    }
    return best;
}

static void tell_lookups(const struct swh_fluid *f, long rates, double total)
{
    double sum = 0;
    for (int i = 0; i < LOOKUPS; i++) {
        const double each = lookup_time((enum lookup)i, f);
        sum += each * (double)seen[i].calls;
        printf("  %-18s %6.2f per rate evaluation, %5.1f ns each\n", lookup_name[i],
               (double)seen[i].calls / (double)rates, 1e9 * each);
    }
    printf("  look-ups together %.0f %% of the run\n", 100 * sum / total);
}

static long memory_kB(void)
{
    struct rusage u;
    getrusage(RUSAGE_SELF, &u);
    return u.ru_maxrss;
}

int main(void)
{
    static struct place p;
    static struct swh_summary s;
    struct swh_case c;
    swh_case_valve(&c, 30);
    c.conditions.doors_open = 0;
    c.params.run_output_interval = 1;
    const double total = run_time(&c, &s);
    const long memory = memory_kB();
    set_place(&p, &c);
    const double each = rates_time(&p);
    const struct algebra a = algebra_time(&p);
    const struct swh_integrator_stats *k = &s.stats;
    const long clutch = s.event_count[SWH_EV_clutch_on] + s.event_count[SWH_EV_clutch_off];
    const double linear = a.factor * (double)k->lin_setups + a.solve * (double)k->newton_iters;
    printf("%.0f s simulated, %ld clutch transitions: %.0f ms of processor time\n", s.end_time, clutch,
           1e3 * total);
    printf("  %ld steps (%.0f per transition), %.1f us each\n", k->steps, (double)k->steps / (double)clutch,
           1e6 * total / (double)k->steps);
    const long plain = k->rhs_evals - k->jac_rhs_evals;
    printf("  %ld rate evaluations (%.2f per step) of %.0f ns, %.0f %% of the run\n", plain,
           (double)plain / (double)k->steps, 1e9 * each, 100 * each * (double)plain / total);
    printf(
        "  %ld Jacobians: derivatives, and %d colours now and then (%.1f evaluations each), %.1f us with the "
        "evaluation before it, %.0f %% of the run\n",
        k->jac_evals, a.colours, (double)k->jac_rhs_evals / (double)k->jac_evals, 1e6 * a.jacobian,
        100 * a.jacobian * (double)k->jac_evals / total);
    tell_lookups(p.m.fluid, k->rhs_evals, total);
    printf("  linear algebra: %d states, %d entries of L and U; %ld factorisations of %.0f ns, %ld solutions "
           "of %.0f ns, %.0f %% of the run\n",
           p.m.l.n, a.entries, k->lin_setups, 1e9 * a.factor, k->newton_iters, 1e9 * a.solve,
           100 * linear / total);
    printf("  memory at its peak %.1f MB\n", (double)memory / 1024);
    fprintf(stderr, "(%g)\n", kept);
    return 0;
}
