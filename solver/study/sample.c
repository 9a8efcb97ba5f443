#include "solver/study/sample.h"

#include "model/base/constants.h"

#include <math.h>
#include <stdlib.h>

enum { MOST = 10000000 };

/* ---- generator ---- */

static uint64_t mix(uint64_t z)
{
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

uint64_t swh_random_bits(uint64_t seed, uint64_t stream, uint64_t counter)
{
    static const uint64_t golden = UINT64_C(0x9e3779b97f4a7c15);
    const uint64_t key = mix(mix(seed + golden) + golden * (stream + 1));
    return mix(key + golden * (counter + 1));
}

double swh_random_uniform(uint64_t seed, uint64_t stream, uint64_t counter)
{
    return ((double)(swh_random_bits(seed, stream, counter) >> 11) + 0.5) * 0x1p-53;
}

double swh_random_normal(uint64_t seed, uint64_t stream, uint64_t counter)
{
    const double u = swh_random_uniform(seed, stream, 2 * counter);
    const double v = swh_random_uniform(seed, stream, 2 * counter + 1);
    return sqrt(-2 * log(u)) * cos(2 * SWH_PI * v);
}

/* ---- plans ---- */

static int columns(const struct swh_sampling *plan)
{
    return plan->design == SWH_DESIGN_SALTELLI ? 2 * plan->axes : plan->axes;
}

static enum swh_status check_range(const struct swh_sampling *plan, int i, struct swh_error *err)
{
    const struct swh_range *r = &plan->range[i];
    if (!isfinite(r->lo) || !isfinite(r->hi))
        return swh_error_set(err, SWH_ERR_INPUT, "range %d has an end that is not a number", i + 1);
    if (r->hi < r->lo)
        return swh_error_set(err, SWH_ERR_INPUT, "range %d is reversed: %g is above %g", i + 1, r->lo, r->hi);
    if (plan->design == SWH_DESIGN_GRID && r->n < 1)
        return swh_error_set(err, SWH_ERR_INPUT, "range %d has %ld values, at least 1 is needed", i + 1,
                             r->n);
    if (r->hi == r->lo && (plan->design != SWH_DESIGN_GRID || r->n > 1))
        return swh_error_set(err, SWH_ERR_INPUT, "range %d is empty: both ends are %g", i + 1, r->lo);
    return SWH_OK;
}

static enum swh_status count_points(struct swh_sampling *plan, struct swh_error *err)
{
    double count = plan->design == SWH_DESIGN_GRID ? 1 : (double)plan->sample;
    for (int i = 0; plan->design == SWH_DESIGN_GRID && i < plan->axes; i++)
        count *= (double)plan->range[i].n;
    if (plan->design == SWH_DESIGN_SALTELLI)
        count *= plan->axes + 2;
    if (!(count >= 1 && count <= MOST)) {
        swh_error_set(err, SWH_ERR_INPUT, "the plan has %.0f cases", count);
        swh_error_expected(err, "1 to %d", (int)MOST);
        return SWH_ERR_INPUT;
    }
    plan->count = (long)count;
    return SWH_OK;
}

/* Fisher and Yates' shuffle of 0 .. n-1 */
static void shuffle(uint32_t *p, long n, uint64_t seed, uint64_t stream)
{
    for (long i = 0; i < n; i++)
        p[i] = (uint32_t)i;
    for (long i = n - 1; i > 0; i--) {
        const long k = (long)(swh_random_uniform(seed, stream, (uint64_t)i) * (double)(i + 1));
        const uint32_t kept = p[i];
        p[i] = p[k];
        p[k] = kept;
    }
}

enum swh_status swh_sampling_begin(struct swh_sampling *plan, struct swh_error *err)
{
    plan->stratum = NULL;
    plan->count = 0;
    if (plan->axes < 1 || plan->axes > SWH_SAMPLE_AXES) {
        swh_error_set(err, SWH_ERR_INPUT, "%d keys are varied", plan->axes);
        swh_error_expected(err, "1 to %d", (int)SWH_SAMPLE_AXES);
        return SWH_ERR_INPUT;
    }
    for (int i = 0; i < plan->axes; i++)
        if (check_range(plan, i, err) != SWH_OK)
            return SWH_ERR_INPUT;
    const enum swh_status status = count_points(plan, err);
    if (status != SWH_OK || plan->design == SWH_DESIGN_GRID)
        return status;
    const int n = columns(plan);
    plan->stratum = malloc((size_t)n * (size_t)plan->sample * sizeof *plan->stratum);
    if (!plan->stratum)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for %ld cases", plan->count);
    for (int i = 0; i < n; i++)
        shuffle(plan->stratum + i * plan->sample, plan->sample, plan->seed, (uint64_t)(2 * i));
    return SWH_OK;
}

void swh_sampling_free(struct swh_sampling *plan)
{
    free(plan->stratum);
    plan->stratum = NULL;
}

static void grid_point(const struct swh_sampling *plan, long i, double *x)
{
    for (int k = plan->axes - 1; k >= 0; k--) {
        const struct swh_range *r = &plan->range[k];
        const long at = i % r->n;
        i /= r->n;
        const double w = r->n > 1 ? (double)at / (double)(r->n - 1) : 0;
        x[k] = at == r->n - 1 && r->n > 1 ? r->hi : r->lo + w * (r->hi - r->lo);
    }
}

/* coordinate of sample j in column c, on range k */
static double stratified(const struct swh_sampling *plan, long j, int c, int k)
{
    const double u = swh_random_uniform(plan->seed, (uint64_t)(2 * c + 1), (uint64_t)j);
    const double w = ((double)plan->stratum[c * plan->sample + j] + u) / (double)plan->sample;
    return plan->range[k].lo + w * (plan->range[k].hi - plan->range[k].lo);
}

void swh_sampling_point(const struct swh_sampling *plan, long i, double *x)
{
    if (plan->design == SWH_DESIGN_GRID) {
        grid_point(plan, i, x);
        return;
    }
    const long per_sample = plan->design == SWH_DESIGN_SALTELLI ? plan->axes + 2 : 1;
    const long j = i / per_sample, which = i % per_sample;
    for (int k = 0; k < plan->axes; k++) {
        const bool from_b = which == 1 || which == k + 2;
        x[k] = stratified(plan, j, from_b ? plan->axes + k : k, k);
    }
}
