#include "solver/study/sensitivity.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

/* ---- rank correlation ---- */

struct ranked {
    double value, rank;
    long at;
};

static int by_value(const void *a, const void *b)
{
    const double x = ((const struct ranked *)a)->value, y = ((const struct ranked *)b)->value;
    return (x > y) - (x < y);
}

static int by_place(const void *a, const void *b)
{
    const long x = ((const struct ranked *)a)->at, y = ((const struct ranked *)b)->at;
    return (x > y) - (x < y);
}

static void rank(struct ranked *r, long n)
{
    qsort(r, (size_t)n, sizeof *r, by_value);
    for (long i = 0; i < n;) {
        long j = i;
        while (j < n && r[j].value == r[i].value)
            j++;
        for (long k = i; k < j; k++)
            r[k].rank = 0.5 * (double)(i + j - 1);
        i = j;
    }
    qsort(r, (size_t)n, sizeof *r, by_place);
}

static double correlation(const struct ranked *a, const struct ranked *b, long n)
{
    const double mean = 0.5 * (double)(n - 1);
    double ab = 0, aa = 0, bb = 0;
    for (long i = 0; i < n; i++) {
        const double x = a[i].rank - mean, y = b[i].rank - mean;
        ab += x * y;
        aa += x * x;
        bb += y * y;
    }
    return aa > 0 && bb > 0 ? ab / sqrt(aa * bb) : NAN;
}

enum swh_status swh_rank_correlation(const double *x, const double *y, long n, double *rho,
                                     struct swh_error *err)
{
    *rho = NAN;
    struct ranked *a = malloc((size_t)(2 * n) * sizeof *a);
    if (!a)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory to rank %ld points", n);
    struct ranked *b = a + n;
    long kept = 0;
    for (long i = 0; i < n; i++) {
        if (isnan(x[i]) || isnan(y[i]))
            continue;
        a[kept] = (struct ranked){x[i], 0, kept};
        b[kept] = (struct ranked){y[i], 0, kept};
        kept++;
    }
    if (kept >= 3) {
        rank(a, kept);
        rank(b, kept);
        *rho = correlation(a, b, kept);
    }
    free(a);
    return SWH_OK;
}

/* ---- partial rank correlations ---- */

enum { SIDES = SWH_PARTIAL_MAX + 1 };

/* Inverts the upper left m x m of a correlation matrix by Gauss and Jordan; false if it is singular. */
static bool invert(double a[SIDES][SIDES], double inverse[SIDES][SIDES], int m)
{
    for (int i = 0; i < m; i++)
        for (int j = 0; j < m; j++)
            inverse[i][j] = i == j;
    for (int i = 0; i < m; i++) {
        const double pivot = a[i][i]; /* of what the others leave: positive unless a side does not vary */
        if (!(pivot > 1e-10))
            return false;
        for (int j = 0; j < m; j++) {
            a[i][j] /= pivot;
            inverse[i][j] /= pivot;
        }
        for (int r = 0; r < m; r++) {
            const double share = a[r][i];
            for (int j = 0; j < m && r != i; j++) {
                a[r][j] -= share * a[i][j];
                inverse[r][j] -= share * inverse[i][j];
            }
        }
    }
    return true;
}

/* ranks of one side where y is known; returns how many */
static long rank_known(const double *side, const double *y, long n, struct ranked *r)
{
    long kept = 0;
    for (long i = 0; i < n; i++)
        if (!isnan(y[i])) {
            r[kept] = (struct ranked){side[i], 0, kept};
            kept++;
        }
    rank(r, kept);
    return kept;
}

enum swh_status swh_partial_rank_correlations(const double *x, int k, const double *y, long n, double *out,
                                              struct swh_error *err)
{
    double matrix[SIDES][SIDES], inverse[SIDES][SIDES];
    struct ranked *side[SIDES] = {0};
    struct ranked *all = malloc((size_t)(k + 1) * (size_t)n * sizeof *all);
    if (!all)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory to rank %ld points", n);
    long kept = 0;
    for (int i = 0; i <= k; i++) {
        side[i] = all + i * n;
        kept = rank_known(i < k ? x + i * n : y, y, n, side[i]);
    }
    for (int i = 0; i <= k; i++)
        for (int j = 0; j <= k; j++)
            matrix[i][j] = correlation(side[i], side[j], kept);
    const bool known = kept >= k + 3 && invert(matrix, inverse, k + 1);
    for (int i = 0; i < k; i++)
        out[i] = known ? -inverse[i][k] / sqrt(inverse[i][i] * inverse[k][k]) : NAN;
    free(all);
    return SWH_OK;
}

/* ---- Sobol indices ---- */

static bool usable(const double *row, int axes)
{
    for (int i = 0; i < axes + 2; i++)
        if (!isfinite(row[i]))
            return false;
    return true;
}

struct moments {
    double n, sum, squares;
};

static void add(struct moments *m, double x)
{
    m->n += 1;
    m->sum += x;
    m->squares += x * x;
}

static double mean_of(const struct moments *m)
{
    return m->sum / m->n;
}

static double variance_of(const struct moments *m)
{
    const double mean = mean_of(m);
    return fmax(m->squares / m->n - mean * mean, 0) * m->n / (m->n - 1);
}

static struct moments base_moments(const double *y, long sample, int axes)
{
    struct moments m = {0};
    for (long j = 0; j < sample; j++) {
        const double *row = y + j * (axes + 2);
        if (!usable(row, axes))
            continue;
        add(&m, row[0]);
        add(&m, row[1]);
    }
    return m;
}

void swh_sobol_indices(const double *y, long sample, int axes, struct swh_sobol *out)
{
    const struct moments base = base_moments(y, sample, axes);
    const double V = base.n >= 16 ? variance_of(&base) : 0;
    for (int k = 0; k < axes; k++) {
        out[k] = (struct swh_sobol){NAN, NAN, NAN, NAN};
        if (!(V > 0))
            continue;
        const double mean =
            mean_of(&base); /* taken off first: the estimate is the same, its scatter far less */
        struct moments first = {0}, total = {0};
        for (long j = 0; j < sample; j++) {
            const double *row = y + j * (axes + 2);
            if (!usable(row, axes))
                continue;
            const double d = row[2 + k] - row[0];
            add(&first, (row[1] - mean) * d / V);
            add(&total, 0.5 * d * d / V);
        }
        out[k] = (struct swh_sobol){mean_of(&first), mean_of(&total), sqrt(variance_of(&first) / first.n),
                                    sqrt(variance_of(&total) / total.n)};
    }
}
