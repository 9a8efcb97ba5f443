#include "solver/infer/least_squares.h"

#include "solver/simulate/parallel.h"

#include <cminpack.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- variables ---- */

enum kind { FREE, LINEAR, LOGARITHMIC };
static const double AT_LIMIT = 7; /* logistic variable a thousandth of the range from a limit */

static enum kind kind_of(const struct swh_lsq *q, int i)
{
    if (!q->lo || !isfinite(q->lo[i]) || !isfinite(q->hi[i]))
        return FREE;
    return q->lo[i] > 0 ? LOGARITHMIC : LINEAR;
}

/* Between two limits the variable runs along a logistic curve: it nears a limit and never passes it. */
double swh_lsq_from_z(const struct swh_lsq *q, int i, double z)
{
    if (kind_of(q, i) == FREE)
        return z;
    const double w = 1 / (1 + exp(-z));
    if (kind_of(q, i) == LINEAR)
        return q->lo[i] + w * (q->hi[i] - q->lo[i]);
    return q->lo[i] * pow(q->hi[i] / q->lo[i], w);
}

double swh_lsq_to_z(const struct swh_lsq *q, int i, double p)
{
    if (kind_of(q, i) == FREE)
        return p;
    double w = (p - q->lo[i]) / (q->hi[i] - q->lo[i]);
    if (kind_of(q, i) == LOGARITHMIC)
        w = log(p / q->lo[i]) / log(q->hi[i] / q->lo[i]);
    w = fmin(fmax(w, 1e-3), 1 - 1e-3);
    return log(w / (1 - w));
}

static double slope(const struct swh_lsq *q, int i, double z)
{
    if (kind_of(q, i) == FREE)
        return 1;
    const double w = 1 / (1 + exp(-z));
    if (kind_of(q, i) == LINEAR)
        return (q->hi[i] - q->lo[i]) * w * (1 - w);
    return swh_lsq_from_z(q, i, z) * log(q->hi[i] / q->lo[i]) * w * (1 - w);
}

/* ---- residuals and their differences ---- */

struct work {
    const struct swh_lsq *q;
    double *columns; /* m per variable and side */
    int evals;
    double typical[SWH_LSQ_MAX];
    double widen[SWH_LSQ_MAX]; /* learned: factor on the step of `change` */
    bool central;
    struct swh_team team; /* of the threads that share out the differences */
};

static enum swh_status residuals(const struct swh_lsq *q, const double *z, double *r, struct swh_error *err)
{
    double p[SWH_LSQ_MAX];
    for (int i = 0; i < q->n; i++)
        p[i] = swh_lsq_from_z(q, i, z[i]);
    const enum swh_status status = q->residuals(p, r, q->user, err);
    for (int i = 0; i < q->m; i++)
        if (status != SWH_OK || !isfinite(r[i]))
            r[i] = 1e6; /* far worse than anything that can be computed */
    return status;
}

/* a run that cannot be made for want of memory is no far-off point: the fit ends with that error */
static void noted_residuals(struct work *w, const double *z, double *r)
{
    struct swh_error inside = {0};
    if (residuals(w->q, z, r, &inside) == SWH_ERR_MEMORY)
        swh_team_note(&w->team, SWH_ERR_MEMORY, &inside);
}

/* the step in z that changes the variable by a share of itself, or of a twentieth of its range near zero */
static double step_by_change(const struct work *w, int i, double z)
{
    const struct swh_lsq *q = w->q;
    const double share = q->change * w->widen[i];
    if (kind_of(q, i) == FREE)
        return share * fmax(fabs(z), w->typical[i]);
    const double p = swh_lsq_from_z(q, i, z), range = q->hi[i] - q->lo[i];
    const double by = share * fmin(fmax(fabs(p), 0.05 * range), 0.5 * range);
    return fmin(by / fmax(slope(q, i, z), 1e-300), 0.5);
}

static double step_of(const struct work *w, int i, double z)
{
    if (w->q->change > 0)
        return step_by_change(w, i, z);
    const double relative = w->central ? cbrt(w->q->noise) : sqrt(w->q->noise);
    return relative * fmax(fabs(z), w->typical[i]);
}

/* the next step of variable i, from how far this one moved the residuals */
static void learn_step(struct work *w, int i, double moved)
{
    const double factor = fmin(fmax(w->q->move / fmax(moved, 1e-9), 0.25), 4.0);
    w->widen[i] = fmin(fmax(w->widen[i] * factor, 1.0), 8.0);
}

struct differences {
    struct work *w;
    const double *z;
    int sides;
};

static void moved_residuals(long job, void *user)
{
    const struct differences *d = user;
    struct work *w = d->w;
    double moved[SWH_LSQ_MAX];
    const int i = (int)job / d->sides;
    memcpy(moved, d->z, (size_t)w->q->n * sizeof *moved);
    moved[i] += (job % d->sides ? -1 : 1) * step_of(w, i, d->z[i]);
    noted_residuals(w, moved, w->columns + (size_t)job * (size_t)w->q->m);
}

static void jacobian(struct work *w, const double *z, const double *r, double *J)
{
    const struct swh_lsq *q = w->q;
    const int sides = w->central ? 2 : 1, jobs = q->n * sides;
    struct differences d = {w, z, sides};
    swh_parallel(jobs, q->threads, moved_residuals, &d);
    for (int i = 0; i < q->n; i++) {
        const double *plus = w->columns + (size_t)(i * sides) * (size_t)q->m;
        const double *other = w->central ? plus + q->m : r;
        const double h = sides * step_of(w, i, z[i]);
        double moved2 = 0;
        for (int k = 0; k < q->m; k++) {
            const bool reached = plus[k] < 1e6 && other[k] < 1e6;
            J[k + i * q->m] = reached ? (plus[k] - other[k]) / h : 0;
            moved2 += reached ? (plus[k] - other[k]) * (plus[k] - other[k]) : 0;
        }
        learn_step(w, i, sqrt(moved2) / sides);
    }
    w->evals += jobs;
}

static int lm_function(void *user, int m, int n, const double *z, double *r, double *J, int ldJ, int flag)
{
    (void)n;
    (void)ldJ;
    struct work *w = user;
    if (flag == 2) {
        jacobian(w, z, r, J);
        return 0;
    }
    w->evals++;
    noted_residuals(w, z, r);
    (void)m;
    return w->evals > w->q->evals_max || swh_team_status(&w->team) != SWH_OK ? -1 : 0;
}

/* ---- covariance ---- */

static void rotate(int n, double *a, double *v, int p, int q)
{
    if (fabs(a[p * n + q]) < 1e-300)
        return;
    const double theta = (a[q * n + q] - a[p * n + p]) / (2 * a[p * n + q]);
    const double t = (theta >= 0 ? 1 : -1) / (fabs(theta) + sqrt(theta * theta + 1));
    const double c = 1 / sqrt(t * t + 1), s = t * c;
    for (int k = 0; k < n; k++) {
        const double x = a[k * n + p], y = a[k * n + q];
        a[k * n + p] = c * x - s * y;
        a[k * n + q] = s * x + c * y;
    }
    for (int k = 0; k < n; k++) {
        const double x = a[p * n + k], y = a[q * n + k];
        a[p * n + k] = c * x - s * y;
        a[q * n + k] = s * x + c * y;
        const double vx = v[k * n + p], vy = v[k * n + q];
        v[k * n + p] = c * vx - s * vy;
        v[k * n + q] = s * vx + c * vy;
    }
}

static void sort_ascending(int n, double *value, double *v)
{
    for (int i = 0; i < n; i++) {
        int least = i;
        for (int k = i + 1; k < n; k++)
            if (value[k] < value[least])
                least = k;
        const double x = value[i];
        value[i] = value[least];
        value[least] = x;
        for (int k = 0; k < n; k++) {
            const double y = v[k * n + i];
            v[k * n + i] = v[k * n + least];
            v[k * n + least] = y;
        }
    }
}

void swh_symmetric_eigen(int n, double *a, double *value, double *vector)
{
    for (int i = 0; i < n * n; i++)
        vector[i] = i % (n + 1) == 0;
    for (int sweep = 0; sweep < 40; sweep++)
        for (int p = 0; p < n; p++)
            for (int q = p + 1; q < n; q++)
                rotate(n, a, vector, p, q);
    for (int i = 0; i < n; i++)
        value[i] = a[i * n + i];
    sort_ascending(n, value, vector);
}

/* Scaled to a unit diagonal first, so that variables of very different size do not look like lost directions.
 * What no residual depends on is as good as free: its variance is past every limit. */
static void covariance(int n, struct swh_lsq_result *out)
{
    double a[SWH_LSQ_MAX * SWH_LSQ_MAX], value[SWH_LSQ_MAX], vector[SWH_LSQ_MAX * SWH_LSQ_MAX];
    double size[SWH_LSQ_MAX];
    for (int i = 0; i < n; i++)
        size[i] = out->normal[i * n + i] > 0 ? sqrt(out->normal[i * n + i]) : 1;
    for (int i = 0; i < n * n; i++)
        a[i] = out->normal[i] / (size[i / n] * size[i % n]);
    swh_symmetric_eigen(n, a, value, vector);
    memset(out->covariance, 0, sizeof out->covariance);
    for (int k = 0; k < n; k++) {
        const double least = fmax(1e-13 * value[n - 1], 1e-30);
        out->directions_lost += !(value[k] > least);
        value[k] = fmax(value[k], least);
        for (int i = 0; i < n * n; i++)
            out->covariance[i] +=
                vector[i / n * n + k] * vector[i % n * n + k] / (value[k] * size[i / n] * size[i % n]);
    }
    memcpy(a, out->normal, (size_t)(n * n) * sizeof *a);
    swh_symmetric_eigen(n, a, out->eigen, out->vector);
}

void swh_lsq_take_covariance(int n, const double *covariance, struct swh_lsq_result *out)
{
    double a[SWH_LSQ_MAX * SWH_LSQ_MAX], value[SWH_LSQ_MAX], vector[SWH_LSQ_MAX * SWH_LSQ_MAX];
    memcpy(out->covariance, covariance, (size_t)(n * n) * sizeof *covariance);
    memcpy(a, covariance, (size_t)(n * n) * sizeof *covariance);
    swh_symmetric_eigen(n, a, value, vector);
    for (int k = 0; k < n; k++) {
        const int from = n - 1 - k; /* the largest variance is the least information */
        out->eigen[k] = 1 / fmax(value[from], 1e-300);
        for (int i = 0; i < n; i++)
            out->vector[i * n + k] = vector[i * n + from];
    }
}

static void finish(struct work *w, const double *z, const double *r, double *J, struct swh_lsq_result *out)
{
    const struct swh_lsq *q = w->q;
    out->sum = 0;
    for (int k = 0; k < q->m; k++)
        out->sum += r[k] * r[k];
    w->central |= q->change > 0; /* intervals deserve the better differences */
    for (int i = 0; i < q->n; i++)
        w->widen[i] = 1; /* columns of different widths would not be parallel where residuals bend */
    if (!q->rough)
        jacobian(w, z, r, J);
    for (int i = 0; i < q->n; i++) {
        out->z[i] = z[i];
        out->p[i] = swh_lsq_from_z(q, i, z[i]);
        out->slope[i] = slope(q, i, z[i]);
        out->wider[0][i] = out->wider[1][i] = 1;
        for (int j = 0; j < q->n && !q->rough; j++) {
            double sum = 0;
            for (int k = 0; k < q->m; k++)
                sum += J[k + i * q->m] * J[k + j * q->m];
            out->normal[i * q->n + j] = sum;
        }
    }
    if (!q->rough)
        covariance(q->n, out);
    if (!q->rough && q->jacobian)
        memcpy(q->jacobian, J, (size_t)q->m * (size_t)q->n * sizeof *J);
    out->evals = w->evals;
}

/* ---- does the sum rise as the quadratic says? ---- */

struct check {
    const struct swh_lsq *q;
    const struct swh_lsq_result *at;
    double reach;
    double end[2 * SWH_LSQ_MAX]; /* by direction and side (up, down): how far it goes, in z */
    int evals[2 * SWH_LSQ_MAX];
    struct swh_team team;
};

/* how far one can go along direction k before a variable is all but at its limit */
static double room_along(const struct check *c, int k, double side)
{
    double room = INFINITY;
    for (int i = 0; i < c->q->n; i++) {
        const double v = side * c->at->vector[i * c->q->n + k];
        if (kind_of(c->q, i) != FREE && fabs(v) > 1e-9)
            room = fmin(room, fmax(AT_LIMIT - copysign(1, v) * c->at->z[i], 0) / fabs(v));
    }
    return room;
}

static double sum_along(struct check *c, int k, double by)
{
    const struct swh_lsq *q = c->q;
    double z[SWH_LSQ_MAX], sum = 0;
    double *r = malloc((size_t)q->m * sizeof *r);
    struct swh_error inside = {0};
    if (!r) {
        swh_team_note_memory(&c->team);
        return INFINITY;
    }
    for (int i = 0; i < q->n; i++)
        z[i] = c->at->z[i] + by * c->at->vector[i * q->n + k];
    if (residuals(q, z, r, &inside) == SWH_ERR_MEMORY)
        swh_team_note(&c->team, SWH_ERR_MEMORY, &inside);
    for (int i = 0; i < q->m; i++)
        sum += r[i] * r[i];
    free(r);
    return sum;
}

/* Where the sum rises by less than half of what the eigenvalue says, one goes further until it does, or a
 * limit ends the way. */
static void check_side(long job, void *user)
{
    struct check *c = user;
    const int k = (int)job / 2;
    const double side = job % 2 ? -1 : 1, room = room_along(c, k, side), wanted = c->reach * c->reach;
    double by = fmin(c->reach / sqrt(fmax(c->at->eigen[k], 1e-30)), room);
    c->end[job] = by;
    for (int again = 0; again < 8 && by > 1e-6; again++) {
        const double rise = fmax(sum_along(c, k, side * by) - c->at->sum, 0);
        c->evals[job]++;
        c->end[job] = again > 0 && rise > 0.5 * wanted ? by * sqrt(fmin(fmax(wanted / rise, 0.25), 2)) : by;
        if (rise >= 0.5 * wanted || by >= room)
            break;
        by = fmin(2 * by, room);
    }
    c->end[job] = fmin(c->end[job], room);
}

/* half the interval of variable i on one side, in z: the directions' contributions as independent */
static double half_of(const struct check *c, int i, double side)
{
    double square = 0;
    for (int k = 0; k < c->q->n; k++) {
        const double v = c->at->vector[i * c->q->n + k], end = c->end[2 * k + (side * v < 0)];
        square += end * end * v * v;
    }
    return sqrt(square);
}

enum swh_status swh_lsq_check(const struct swh_lsq *q, double reach, struct swh_lsq_result *r,
                              struct swh_error *err)
{
    struct check c = {.q = q, .at = r, .reach = reach};
    swh_team_begin(&c.team);
    swh_parallel(2 * q->n, q->threads, check_side, &c);
    for (int i = 0; i < q->n; i++) {
        const double told = reach * sqrt(r->covariance[i * q->n + i]);
        r->wider[0][i] = half_of(&c, i, -1) / told;
        r->wider[1][i] = half_of(&c, i, 1) / told;
        r->evals += c.evals[2 * i] + c.evals[2 * i + 1];
    }
    return swh_team_end(&c.team, err);
}

/* ---- the solver ---- */

static enum swh_status check(const struct swh_lsq *q, struct swh_error *err)
{
    if (q->n < 1 || q->n > SWH_LSQ_MAX)
        return swh_error_set(err, SWH_ERR_USAGE, "%d variables to fit: between 1 and %d are possible", q->n,
                             SWH_LSQ_MAX);
    if (q->m < q->n)
        return swh_error_set(err, SWH_ERR_INPUT, "%d readings cannot fix %d variables", q->m, q->n);
    return SWH_OK;
}

static enum swh_status minimise(struct work *w, double *z, double *r, double *J, struct swh_lsq_result *out,
                                struct swh_error *err)
{
    const struct swh_lsq *q = w->q;
    const enum swh_status status = residuals(q, z, r, err);
    if (status != SWH_OK)
        return status;
    double diag[SWH_LSQ_MAX], qtf[SWH_LSQ_MAX], wa[3 * SWH_LSQ_MAX];
    int pivot[SWH_LSQ_MAX], nfev = 0, njev = 0;
    double *wa4 = malloc((size_t)q->m * sizeof *wa4);
    if (!wa4)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    const bool formula = q->noise < 1e-10;
    const double tolerance = formula ? 1e-14 : q->rough ? 1e-2 : 1e-3; /* a run's noise hides smaller gains */
    for (int pass = 0; pass < (formula ? 2 : 1);
         pass++) /* a second start from the end: the first may have stopped short */
        out->info =
            lmder(lm_function, w, q->m, q->n, z, r, J, q->m, tolerance, tolerance, 0, q->evals_max, diag, 1,
                  10, 0, &nfev, &njev, pivot, qtf, wa, wa + SWH_LSQ_MAX, wa + 2 * SWH_LSQ_MAX, wa4);
    free(wa4);
    noted_residuals(w, z, r);
    finish(w, z, r, J, out);
    return SWH_OK;
}

enum swh_status swh_lsq_solve(const struct swh_lsq *q, const double *start, struct swh_lsq_result *out,
                              struct swh_error *err)
{
    memset(out, 0, sizeof *out);
    enum swh_status status = check(q, err);
    if (status != SWH_OK)
        return status;
    struct work w = {.q = q, .central = q->central};
    double z[SWH_LSQ_MAX];
    for (int i = 0; i < q->n; i++) {
        z[i] = swh_lsq_to_z(q, i, start[i]);
        w.widen[i] = 1;
        w.typical[i] = kind_of(q, i) == FREE ? (z[i] != 0 ? 1e-3 * fabs(z[i]) : 1) : 1;
    }
    const size_t m = (size_t)q->m, n = (size_t)q->n;
    double *r = malloc(m * sizeof *r), *J = malloc(m * n * sizeof *J);
    w.columns = malloc(2 * m * n * sizeof *w.columns);
    swh_team_begin(&w.team);
    status = r && J && w.columns ? minimise(&w, z, r, J, out, err)
                                 : swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    const enum swh_status inside = swh_team_end(&w.team, err);
    status = status == SWH_OK ? inside : status;
    free(r);
    free(J);
    free(w.columns);
    return status;
}
