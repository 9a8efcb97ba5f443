#include "solver/steady/fold.h"

#include <math.h>

static const double ALMOST = 0.999;

static enum swh_status try_at(const struct swh_fold_search *s, double x, struct swh_probe_result *r,
                              struct swh_fold *out, struct swh_error *err)
{
    *r = (struct swh_probe_result){false, NAN, NAN};
    out->probes++;
    return s->probe(x, r, s->user, err);
}

static void start(struct swh_fold *out)
{
    *out = (struct swh_fold){.holds = NAN, .lost = NAN, .critical = NAN};
}

/* notes x on the side where it belongs */
static void note(struct swh_fold *out, double x, const struct swh_probe_result *r)
{
    if (r->lost) {
        out->lost = x;
        out->at_lost = *r;
    } else {
        out->holds = x;
        out->at_holds = *r;
    }
}

/* Next value to try: the one that leaves a power of two of tolerances on the side that holds. That takes as
 * many tries as halving and keeps as far from the edge on the lost side as it can, where all is lost soon. */
static double next_try(const struct swh_fold_search *s, const struct swh_fold *out)
{
    const double tight = ALMOST * s->tolerance; /* so that rounding does not ask for one more */
    const double width = out->lost - out->holds, steps = ceil(log2(fabs(width) / tight) - 1e-9);
    const double x = out->holds + copysign(tight * exp2(steps - 1), width);
    return steps < 1 || fabs(x - out->holds) >= fabs(width) ? 0.5 * (out->lost + out->holds) : x;
}

static enum swh_status bisect(const struct swh_fold_search *s, struct swh_fold *out, struct swh_error *err)
{
    while (fabs(out->lost - out->holds) > s->tolerance) {
        const double mid = next_try(s, out);
        if (mid == out->lost || mid == out->holds)
            break;
        struct swh_probe_result r;
        const enum swh_status status = try_at(s, mid, &r, out, err);
        if (status != SWH_OK)
            return status;
        note(out, mid, &r);
    }
    out->found = true;
    out->critical = 0.5 * (out->lost + out->holds);
    return SWH_OK;
}

enum swh_status swh_fold_scan(const struct swh_fold_search *s, double from,
                              const struct swh_probe_result *at_from, double to, struct swh_fold *out,
                              struct swh_error *err)
{
    start(out);
    note(out, from, at_from);
    out->at_end = *at_from;
    for (int i = 1; i <= s->steps && to != from; i++) {
        const double x = i == s->steps ? to : from + (to - from) * i / s->steps;
        struct swh_probe_result r;
        const enum swh_status status = try_at(s, x, &r, out, err);
        if (status != SWH_OK)
            return status;
        note(out, x, &r);
        out->at_end = r;
        if (r.lost != at_from->lost)
            return bisect(s, out, err);
    }
    return SWH_OK;
}

enum swh_status swh_fold_near(const struct swh_fold_search *s, double guess, double width, double lo,
                              double hi, bool up, struct swh_fold *out, struct swh_error *err)
{
    start(out);
    double x = fmin(fmax(guess, lo), hi);
    struct swh_probe_result first;
    enum swh_status status = try_at(s, x, &first, out, err);
    if (status != SWH_OK)
        return status;
    note(out, x, &first);
    out->at_end = first;
    const double toward = first.lost == up ? -1 : 1; /* where the other verdict is expected */
    const double end = toward > 0 ? hi : lo;
    while (x != end) {
        x = toward > 0 ? fmin(x + width, hi) : fmax(x - width, lo);
        width *= 2;
        struct swh_probe_result r;
        if ((status = try_at(s, x, &r, out, err)) != SWH_OK)
            return status;
        note(out, x, &r);
        out->at_end = r;
        if (r.lost != first.lost)
            return bisect(s, out, err);
    }
    return SWH_OK;
}

double swh_growth_rate(const double *T, size_t n, double dt, double near, double noise)
{
    if (n < 6)
        return NAN;
    size_t first = n - 1;
    while (first > 0 && fabs(T[first - 1] - T[n - 1]) <= near)
        first--;
    double upper = 0, lower = 0;
    long used = 0;
    for (size_t k = first + 1; k + 1 < n; k++) {
        const double before = T[k] - T[k - 1], after = T[k + 1] - T[k];
        if (fabs(before) < noise || fabs(after) < noise)
            continue;
        if (before * after < 0)
            return NAN;
        upper += before * after;
        lower += before * before;
        used++;
    }
    return used >= 5 && upper > 0 ? log(upper / lower) / dt : NAN;
}

double swh_fold_extrapolate(const double *x, const double *growth, size_t n)
{
    double mx = 0, my = 0;
    for (size_t i = 0; i < n; i++) {
        mx += x[i] / (double)n;
        my += growth[i] * growth[i] / (double)n;
    }
    double xx = 0, xy = 0;
    for (size_t i = 0; i < n; i++) {
        xx += (x[i] - mx) * (x[i] - mx);
        xy += (x[i] - mx) * (growth[i] * growth[i] - my);
    }
    return n >= 2 && xx > 0 && xy != 0 ? mx - my * xx / xy : NAN;
}
