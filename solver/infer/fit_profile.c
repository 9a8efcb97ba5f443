/* Intervals by profile likelihood: how far a parameter can go, with the others fitted anew, until the loss
 * has risen by the 95 % point of chi-squared with one degree of freedom (Venzon and Moolgavkar, Applied
 * Statistics 37 (1988) 87). */
#include "solver/infer/fit_inside.h"

#include <math.h>

enum { TRIES = 10 };
static const double LIMIT = 7, CLOSE = 0.05; /* logistic variable at a limit; of the root of the rise */

struct profile {
    struct swh_fit_work *f;
    const struct swh_lsq_result *best;
    double rise[SWH_LSQ_MAX], step[SWH_LSQ_MAX];
    double end[2 * SWH_LSQ_MAX]; /* found, in z; infinite: at a limit */
    int evals[2 * SWH_LSQ_MAX];
};

/* Root of the loss's rise over the wanted one with variable i at z, the others fitted anew from p.
 * It is straight in z where the loss is a parabola. */
static double rise_at(struct profile *c, long job, double z, double *p)
{
    const int i = (int)job / 2;
    const struct swh_lsq limits = swh_fit_limits(c->f);
    struct swh_fit_view view;
    swh_fit_view_all(&view, c->f);
    swh_fit_view_hold(&view, i, swh_lsq_from_z(&limits, i, z));
    struct swh_lsq q = swh_fit_problem(&view);
    struct swh_lsq_result one = {.sum = INFINITY};
    struct swh_error trouble = {0};
    q.threads = 1;
    if (view.n == 0) {
        one.sum = swh_fit_sum(&view, p);
        one.evals = 1;
    } else if (swh_lsq_solve(&q, p, &one, &trouble) != SWH_OK) {
        one.sum = INFINITY;
    }
    if (trouble.status == SWH_ERR_MEMORY)
        swh_team_note_memory(c->f->team);
    c->evals[job] += one.evals;
    return sqrt(fmax(one.sum - c->best->sum, 0) / c->rise[i]);
}

/* where the others would be if the loss were a parabola */
static void expect_others(const struct profile *c, int i, double z, double *p)
{
    const int n = c->f->q->params;
    const struct swh_lsq limits = swh_fit_limits(c->f);
    const double *covariance = c->best->covariance;
    for (int k = 0, m = 0; k < n; k++)
        if (k != i)
            p[m++] = swh_lsq_from_z(&limits, k,
                                    c->best->z[k] +
                                        covariance[k * n + i] / covariance[i * n + i] * (z - c->best->z[i]));
}

static void side_of(long job, void *user)
{
    struct profile *c = user;
    const int i = (int)job / 2;
    const double side = job % 2 ? -1 : 1, z = c->best->z[i], room = LIMIT - side * z;
    double p[SWH_LSQ_MAX], inside = 0, low = 0, outside = INFINITY, high = NAN;
    double by = fmin(c->step[i], room);
    c->end[job] = INFINITY;
    for (int again = 0; again < TRIES && by > 0; again++) {
        expect_others(c, i, z + side * by, p);
        const double root = rise_at(c, job, z + side * by, p);
        if (root > 1) {
            outside = by;
            high = root;
        } else {
            inside = by;
            low = root;
            if (by >= room)
                return;
        }
        c->end[job] = by;
        if (fabs(root - 1) < CLOSE)
            return;
        by = isinf(outside) ? fmin(by * fmin(fmax(1.2 / fmax(root, 1e-9), 1.3), 3), room)
                            : inside + (outside - inside) * fmin(fmax((1 - low) / (high - low), 0.1), 0.9);
        if (isinf(high))
            by = 0.5 * (inside + outside);
    }
}

void swh_fit_profile(struct swh_fit_work *f, const struct swh_lsq_result *best, struct swh_fit_result *out)
{
    const struct swh_lsq limits = swh_fit_limits(f);
    const int n = f->q->params;
    struct profile c = {.f = f, .best = best};
    for (int i = 0; i < n; i++) {
        /* a circuit's loss is no likelihood: it rises by as much as its variance is too small */
        const double share = f->q->with == SWH_FIT_CIRCUIT ? best->covariance[i * n + i] / f->naive[i] : 1;
        c.rise[i] = 3.841 * f->wider * f->wider * share;
        c.step[i] = fmin(fmax(1.96 * sqrt(best->covariance[i * n + i]) * f->wider, 1e-3), 4);
    }
    swh_parallel(2 * n, f->q->threads, side_of, &c);
    for (int i = 0; i < n; i++) {
        struct swh_fit_estimate *e = &out->estimate[i];
        e->high = isinf(c.end[2 * i]) ? f->hi[i] : swh_lsq_from_z(&limits, i, best->z[i] + c.end[2 * i]);
        e->low =
            isinf(c.end[2 * i + 1]) ? f->lo[i] : swh_lsq_from_z(&limits, i, best->z[i] - c.end[2 * i + 1]);
        e->profiled = true;
        e->identified = swh_fit_is_told(f, i, e);
        out->evals += c.evals[2 * i] + c.evals[2 * i + 1];
    }
}
