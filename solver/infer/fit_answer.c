/* What a fit tells of each parameter, and what it does not. */
#include "solver/infer/fit_inside.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static double start_of(const struct swh_fit_work *f, int i)
{
    return swh_param_get(&f->q->vehicle->params, f->q->param[i]);
}

static double prior_of(const struct swh_fit_work *f, int i)
{
    return swh_param_get(&f->q->vehicle->spread, f->q->param[i]);
}

/* ---- intervals ---- */

/* An interval that runs into a limit ends there; the logistic variable only ever nears it. */
static void snap_to_limits(const struct swh_fit_work *f, int i, struct swh_fit_estimate *e)
{
    const double lo = f->lo[i], hi = f->hi[i], near = 1e-3 * (hi - lo);
    if (isfinite(lo) && e->low < lo + (lo > 0 ? 0.01 * lo : near))
        e->low = lo;
    if (isfinite(hi) && e->high > hi - (lo > 0 ? 0.01 * hi : near))
        e->high = hi;
}

/* of parameter i, variable k of a fit with `n` variables */
static void say_interval(const struct swh_fit_work *f, int i, const struct swh_lsq_result *best, int k, int n,
                         struct swh_fit_estimate *e)
{
    const struct swh_lsq limits = swh_fit_limits(f);
    const double reach = 1.96 * sqrt(best->covariance[k * n + k]) * f->wider;
    e->low = swh_lsq_from_z(&limits, i, best->z[k] - reach * best->wider[0][k]);
    e->high = swh_lsq_from_z(&limits, i, best->z[k] + reach * best->wider[1][k]);
    snap_to_limits(f, i, e);
}

static void say_limits(double z, struct swh_fit_estimate *e)
{
    const double edge = log(99.0); /* logistic variable 1 % from a limit */
    e->at_lower = z < -edge;
    e->at_upper = z > edge;
}

bool swh_fit_is_told(const struct swh_fit_work *f, int i, const struct swh_fit_estimate *e)
{
    const double lo = f->lo[i], hi = f->hi[i], prior = prior_of(f, i);
    if (prior > 0 && e->high - e->low > 0.8 * 3.92 * prior)
        return false;
    if (lo > 0 && hi > 16 * lo)
        return e->high <= 4 * e->low;
    const double share = lo == 0 ? 0.1 : 0.3;
    return e->high - e->low <= share * (hi - lo) || (lo == 0 && e->high <= 4 * e->low);
}

/* Intervals are symmetric in the transformed variable, so they respect the limits. Residuals larger than
 * their weights allow, and what autocorrelation is left, widen them. Smaller ones do not narrow them: an
 * instrument's offset is one draw, about whose size the scatter of the readings says nothing. */
void swh_fit_say_intervals(struct swh_fit_work *f, const struct swh_lsq_result *best, double white2,
                           struct swh_fit_result *out)
{
    const int n = f->q->params;
    double effective = 0;
    for (int i = 0; i < SWH_COMPARED; i++)
        effective += out->channel[i].points ? out->channel[i].effective : 0;
    const double inflate = effective > 0 ? sqrt(out->points / effective) : 1;
    out->spread = sqrt((f->q->with == SWH_FIT_CIRCUIT ? white2 : best->sum) / fmax(1, out->points - n));
    f->wider = fmax(1, out->spread * inflate);
    for (int i = 0; i < n; i++) {
        struct swh_fit_estimate *e = &out->estimate[i];
        e->param = f->q->param[i];
        e->start = start_of(f, i);
        say_interval(f, i, best, i, n, e);
        say_limits(best->z[i], e);
        e->identified = swh_fit_is_told(f, i, e);
    }
    out->estimates = n;
}

/* ---- what is held ---- */

/* covariance of the others if variable k of n is known */
static void condition_on(int n, double *c, int k)
{
    double column[SWH_LSQ_MAX];
    const double variance = c[k * n + k];
    for (int i = 0; i < n; i++)
        column[i] = c[i * n + k];
    for (int i = 0; i < n * n; i++)
        c[i] = i / n == k || i % n == k ? 0 : c[i] - column[i / n] * column[i % n] / variance;
    for (int i = 0; i < n; i++)
        c[i * n + i] = fmax(c[i * n + i], 0);
}

/* the variable that is told least of those not yet held; -1 if all are told, or have a spread of their own */
static int least_told(const struct swh_fit_work *f, const struct swh_lsq_result *best,
                      const struct swh_fit_view *view, const bool *held, struct swh_fit_estimate *its)
{
    int least = -1;
    const int n = view->n;
    for (int k = 0; k < n; k++) {
        struct swh_fit_estimate e = {0};
        say_interval(f, view->place[k], best, k, n, &e);
        if (held[k] || prior_of(f, view->place[k]) > 0 || swh_fit_is_told(f, view->place[k], &e))
            continue;
        if (least >= 0 && best->covariance[k * n + k] <= best->covariance[least * n + least])
            continue;
        least = k;
        *its = e;
    }
    return least;
}

int swh_fit_hold_open(const struct swh_fit_work *f, const struct swh_lsq_result *best,
                      struct swh_fit_view *view, struct swh_fit_result *out)
{
    struct swh_lsq_result given = *best; /* what is held already */
    struct swh_fit_estimate e = {0};
    bool held[SWH_LSQ_MAX] = {false};
    int place[SWH_LSQ_MAX], count = 0;
    for (int k = least_told(f, &given, view, held, &e); k >= 0; k = least_told(f, &given, view, held, &e)) {
        struct swh_fit_estimate *one = &out->estimate[view->place[k]];
        one->held = held[k] = true;
        one->low = fmin(one->low, e.low); /* it is open at any values of those held before it */
        one->high = fmax(one->high, e.high);
        place[count++] = view->place[k];
        condition_on(view->n, given.covariance, k);
    }
    for (int i = 0; i < count; i++)
        swh_fit_view_hold(view, place[i], start_of(f, place[i]));
    return count;
}

void swh_fit_say_values(const struct swh_fit_work *f, const struct swh_fit_view *view,
                        const struct swh_lsq_result *best, struct swh_fit_result *out)
{
    const int n = f->q->params, m = view->n;
    for (int i = 0; i < n; i++) {
        struct swh_fit_estimate *e = &out->estimate[i];
        if (!isnan(view->held[i]))
            e->value = view->held[i];
        for (int k = 0; k < n; k++)
            out->correlation[i * n + k] = i == k;
    }
    for (int i = 0; i < m; i++) {
        struct swh_fit_estimate *e = &out->estimate[view->place[i]];
        struct swh_fit_estimate alone = {0};
        say_interval(f, view->place[i], best, i, m, &alone);
        e->value = best->p[i];
        e->low = fmin(e->low, alone.low); /* an ellipsoid that ends at a limit is not all of it */
        e->high = fmax(e->high, alone.high);
        say_limits(best->z[i], e);
        e->spread =
            fmin(sqrt(best->covariance[i * m + i]) * f->wider * best->slope[i], (e->high - e->low) / 3.92);
        for (int k = 0; k < m; k++)
            out->correlation[view->place[i] * n + view->place[k]] =
                best->covariance[i * m + k] /
                sqrt(best->covariance[i * m + i] * best->covariance[k * m + k] + 1e-300);
    }
    for (int i = 0; i < n; i++) {
        struct swh_fit_estimate *e = &out->estimate[i];
        e->low = fmin(e->low, e->value);
        e->high = fmax(e->high, e->value);
        e->identified = e->identified && swh_fit_is_told(f, i, e);
    }
}

/* ---- in words ---- */

static void add_words(struct swh_fit_result *out, const char *text)
{
    if (out->n_cannot_tell < SWH_FIT_WORDS)
        snprintf(out->cannot_tell[out->n_cannot_tell++], sizeof out->cannot_tell[0], "%s", text);
}

/* A direction along which the logs allow more than a factor of 1.5 either way: the two parameters that change
 * most along it, as changes of their logarithms. */
struct direction {
    int first, second; /* second -1: the first alone */
    double a, b;
};

static bool direction_of(const struct swh_fit_work *f, const struct swh_lsq_result *best, int k,
                         struct direction *d)
{
    const int n = f->q->params;
    *d = (struct direction){.first = -1, .second = -1};
    for (int i = 0; i < n; i++) {
        const double v = best->vector[i * n + k] * best->slope[i] / best->p[i];
        if (fabs(v) > fabs(d->a)) {
            d->second = d->first;
            d->b = d->a;
            d->first = i;
            d->a = v;
        } else if (fabs(v) > fabs(d->b)) {
            d->second = i;
            d->b = v;
        }
    }
    if (fabs(d->b) < 0.3 * fabs(d->a))
        d->second = -1;
    const double sd = f->wider / sqrt(fmax(best->eigen[k], 1e-300));
    return d->first >= 0 && 1.96 * sd * fabs(d->a) >= 0.5;
}

/* Moved together by half as much again the two leave every residual as it is: only their quotient (or, moved
 * against each other, their product) acts. */
static bool acts_as_one(struct swh_fit_work *f, const struct swh_lsq_result *best, const struct direction *d)
{
    struct swh_fit_view all;
    double p[SWH_LSQ_MAX];
    swh_fit_view_all(&all, f);
    memcpy(p, best->p, sizeof p);
    const double factor = p[d->first] * 1.5 < f->hi[d->first] ? 1.5 : 1 / 1.5;
    p[d->first] *= factor;
    p[d->second] *= d->a * d->b > 0 ? factor : 1 / factor;
    if (d->second < 0 || fabs(fabs(d->b / d->a) - 1) > 0.2 || p[d->second] > f->hi[d->second] ||
        p[d->second] < f->lo[d->second] || p[d->first] < f->lo[d->first])
        return false;
    return fabs(swh_fit_sum(&all, p) - best->sum) < 0.1 + 1e-3 * best->sum;
}

static const struct swh_param_info *info_of(const struct swh_fit_work *f, int i)
{
    return &swh_param_table[f->q->param[i]];
}

static void say_pair(struct swh_fit_work *f, const struct swh_lsq_result *best, const struct direction *d,
                     bool both_ways, struct swh_fit_result *out)
{
    char text[256];
    const int low = d->first < d->second ? d->first : d->second, high = d->first + d->second - low;
    const char *one = info_of(f, low)->name, *other = info_of(f, high)->name;
    if (both_ways)
        snprintf(text, sizeof text, "neither %s nor %s, nor the two together", one, other);
    else if (acts_as_one(f, best, d))
        snprintf(text, sizeof text, "%s and %s act as their %s only: neither of the two is told", one, other,
                 d->a * d->b > 0 ? "quotient" : "product");
    else
        snprintf(text, sizeof text, "%s and %s trade off: %s leaves the fit nearly as good", one, other,
                 d->a * d->b < 0 ? "more of one with less of the other" : "more or less of both together");
    add_words(out, text);
}

static bool same_pair(const struct direction *x, const struct direction *y)
{
    return y->second >= 0 && ((x->first == y->first && x->second == y->second) ||
                              (x->first == y->second && x->second == y->first));
}

static void say_directions(struct swh_fit_work *f, const struct swh_lsq_result *best,
                           struct swh_fit_result *out)
{
    const int n = f->q->params;
    struct direction open[SWH_LSQ_MAX];
    int count = 0;
    for (int k = 0; k < n; k++)
        count += direction_of(f, best, k, &open[count]);
    for (int k = 0; k < count; k++) {
        int again = 0, before = 0;
        for (int i = 0; i < count && open[k].second >= 0; i++)
            if (i != k && same_pair(&open[k], &open[i])) {
                again++;
                before += i < k;
            }
        if (open[k].second >= 0 && before == 0)
            say_pair(f, best, &open[k], again > 0, out);
    }
}

/* One that no direction has named: hardly bounded, or as open as its limits. */
static void say_alone(const struct swh_fit_work *f, int i, struct swh_fit_result *out)
{
    const struct swh_fit_estimate *e = &out->estimate[i];
    const struct swh_param_info *p = info_of(f, i);
    char text[256];
    for (int k = 0; k < out->n_cannot_tell; k++)
        if (strstr(out->cannot_tell[k], p->name))
            return;
    if (e->identified)
        return;
    snprintf(text, sizeof text, "the logs say almost nothing about %s (%s)", p->name, p->help);
    if (e->low > f->lo[i] || e->high < f->hi[i])
        snprintf(text, sizeof text, "%s is hardly bounded %s by the logs (%s)", p->name,
                 e->low <= f->lo[i]    ? "below"
                 : e->high >= f->hi[i] ? "above"
                                       : "on either side",
                 p->help);
    add_words(out, text);
}

void swh_fit_say_open(struct swh_fit_work *f, const struct swh_lsq_result *best, struct swh_fit_result *out)
{
    out->n_cannot_tell = 0;
    say_directions(f, best, out);
    for (int i = 0; i < f->q->params; i++)
        say_alone(f, i, out);
}
