#include "solver/ode/jacobian.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* evaluations; measured on cycling circuits: slow ones at every 4th to 50th make no difference in steps; the
 * rest beside known columns at every 2nd 1 %, 4th 3 %, 10th 20 % more iterations */
enum { SLOW_EVERY = 8, REST_EVERY = 4 };

struct swh_jacobian {
    int n;
    int *col_ptr, *row_idx;
    double *value;
    double *least_shift_r, *least_shift_a; /* shift >= r |y| + a */
    unsigned char *is_sum, *slow, *sloped;
    swh_jacobian_derivatives derivatives; /* or NULL */
    int rest_age;
    int colours, slow_colours, *colour_ptr, *colour_col; /* the slow columns' come last */
    int age; /* evaluations since the slow columns were taken; 0: they are to be taken */
    int has_slow;
    double *y, *f; /* shifted */
    long calls;
};

/* ---- pattern ---- */

static int copy_pattern(struct swh_jacobian *jac, const int *col_ptr, const int *row_idx)
{
    const int n = jac->n;
    const int entries = col_ptr ? col_ptr[n] : n * n;
    jac->col_ptr = malloc((size_t)(n + 1) * sizeof(int));
    jac->row_idx = malloc((size_t)entries * sizeof(int));
    jac->value = calloc((size_t)entries + 1, sizeof(double)); /* one for derivatives that have no place */
    if (!jac->col_ptr || !jac->row_idx || !jac->value)
        return 0;
    for (int j = 0; j <= n; j++)
        jac->col_ptr[j] = col_ptr ? col_ptr[j] : j * n;
    for (int k = 0; k < entries; k++)
        jac->row_idx[k] = col_ptr ? row_idx[k] : k % n;
    return 1;
}

/* The root of the rounding unit, or a small part of the tolerated error if that is more. The part must be
 * small: for a small state beside a coarse absolute tolerance a larger one is no derivative any more, and the
 * Newton iteration pays (measured: with 1e-3 of atol a run with tenfold tolerances took twice the time). */
static int copy_shifts(struct swh_jacobian *jac, const double *rtol, const double *atol)
{
    jac->least_shift_r = malloc((size_t)jac->n * sizeof(double));
    jac->least_shift_a = malloc((size_t)jac->n * sizeof(double));
    jac->is_sum = calloc((size_t)jac->n, 1);
    if (!jac->least_shift_r || !jac->least_shift_a || !jac->is_sum)
        return 0;
    for (int j = 0; j < jac->n; j++) {
        jac->least_shift_r[j] = fmax(1.5e-8, 3e-4 * rtol[j]);
        jac->least_shift_a[j] = isinf(atol[j]) ? 1e-3 : 1e-5 * atol[j];
        jac->is_sum[j] = isinf(atol[j]) && jac->col_ptr[j + 1] - jac->col_ptr[j] == 1;
    }
    return 1;
}

/* ---- colours ---- */

static int fits(const struct swh_jacobian *jac, const unsigned char *taken, int j)
{
    for (int q = jac->col_ptr[j]; q < jac->col_ptr[j + 1]; q++)
        if (taken[jac->row_idx[q]])
            return 0;
    return 1;
}

/* gives each column of a class (slow or not), in `order`, the first colour from `first` on none of whose
 * columns shares a row with it; returns the end of the colours */
static int colour_in_order(const struct swh_jacobian *jac, int slow, int first, const int *order,
                           unsigned char *taken, int *colour)
{
    const int n = jac->n;
    int end = first;
    memset(taken, 0, (size_t)n * (size_t)n);
    for (int k = 0; k < n; k++) {
        const int j = order[k];
        if (jac->is_sum[j] || jac->sloped[j] || jac->slow[j] != slow)
            continue;
        int c = first;
        while (!fits(jac, taken + (c - first) * n, j))
            c++;
        colour[j] = c;
        end = c + 1 > end ? c + 1 : end;
        for (int q = jac->col_ptr[j]; q < jac->col_ptr[j + 1]; q++)
            taken[(c - first) * n + jac->row_idx[q]] = 1;
    }
    return end;
}

/* columns with many entries first (they are the hardest to place), else as they come */
static void order_by_entries(const struct swh_jacobian *jac, int *order)
{
    for (int k = 0; k < jac->n; k++) {
        const int j = order[k], entries = jac->col_ptr[j + 1] - jac->col_ptr[j];
        int at = k;
        for (; at > 0; at--) {
            const int before = order[at - 1];
            if (jac->col_ptr[before + 1] - jac->col_ptr[before] >= entries)
                break;
            order[at] = before;
        }
        order[at] = j;
    }
}

static void list_colours(struct swh_jacobian *jac, const int *colour, int end)
{
    int count = 0;
    for (int c = 0; c < end; c++) {
        for (int j = 0; j < jac->n; j++)
            if (colour[j] == c)
                jac->colour_col[count++] = j;
        jac->colour_ptr[c + 1] = count;
    }
}

/* two orders, the better one stays: this happens once, every colour saved counts at every Jacobian */
static int colour_class(struct swh_jacobian *jac, int slow, int first, unsigned char *taken, int *colour,
                        int *work)
{
    const int n = jac->n;
    int *order = work, *other = work + n;
    memcpy(other, colour, (size_t)n * sizeof *other);
    for (int j = 0; j < n; j++)
        order[j] = j;
    const int end = colour_in_order(jac, slow, first, order, taken, colour);
    order_by_entries(jac, order);
    const int other_end = colour_in_order(jac, slow, first, order, taken, other);
    if (other_end >= end)
        return end;
    memcpy(colour, other, (size_t)n * sizeof *colour);
    return other_end;
}

static int colour_columns(struct swh_jacobian *jac)
{
    const size_t n = (size_t)jac->n;
    unsigned char *taken = calloc(n, n);
    int *colour = calloc(3 * n, sizeof(int));
    const int fine = taken && colour;
    if (fine) {
        for (size_t j = 0; j < n; j++)
            colour[j] = -1;
        jac->colours = colour_class(jac, 0, 0, taken, colour, colour + n);
        const int end = colour_class(jac, 1, jac->colours, taken, colour, colour + n);
        jac->slow_colours = end - jac->colours;
        list_colours(jac, colour, end);
    }
    free(taken);
    free(colour);
    return fine;
}

/* ---- life ---- */

struct swh_jacobian *swh_jacobian_create(int n, const int *col_ptr, const int *row_idx, const double *rtol,
                                         const double *atol)
{
    struct swh_jacobian *jac = calloc(1, sizeof *jac);
    if (!jac)
        return NULL;
    jac->n = n;
    jac->y = calloc((size_t)n, sizeof(double));
    jac->f = calloc((size_t)n, sizeof(double));
    jac->slow = calloc((size_t)n, 1);
    jac->sloped = calloc((size_t)n, 1);
    jac->colour_ptr = calloc((size_t)n + 1, sizeof(int));
    jac->colour_col = calloc((size_t)n, sizeof(int));
    if (jac->y && jac->f && jac->slow && jac->sloped && jac->colour_ptr && jac->colour_col &&
        copy_pattern(jac, col_ptr, row_idx) && copy_shifts(jac, rtol, atol) && colour_columns(jac))
        return jac;
    swh_jacobian_free(jac);
    return NULL;
}

void swh_jacobian_free(struct swh_jacobian *jac)
{
    if (!jac)
        return;
    free(jac->col_ptr);
    free(jac->row_idx);
    free(jac->value);
    free(jac->least_shift_r);
    free(jac->least_shift_a);
    free(jac->is_sum);
    free(jac->slow);
    free(jac->sloped);
    free(jac->colour_ptr);
    free(jac->colour_col);
    free(jac->y);
    free(jac->f);
    free(jac);
}

int swh_jacobian_set_slow(struct swh_jacobian *jac, const unsigned char *slow)
{
    for (int j = 0; j < jac->n; j++)
        jac->slow[j] = slow[j] != 0;
    jac->age = 0;
    return colour_columns(jac);
}

int swh_jacobian_set_derivatives(struct swh_jacobian *jac, const unsigned char *sloped,
                                 swh_jacobian_derivatives derivatives)
{
    for (int j = 0; j < jac->n; j++)
        jac->sloped[j] = sloped[j] != 0;
    jac->derivatives = derivatives;
    jac->rest_age = 0;
    return colour_columns(jac);
}

void swh_jacobian_forget(struct swh_jacobian *jac)
{
    jac->age = jac->rest_age = jac->has_slow = 0;
}

int swh_jacobian_has_slow(const struct swh_jacobian *jac)
{
    return jac->has_slow;
}

/* ---- differences ---- */

static void shift_colour(struct swh_jacobian *jac, int c, const double *y, double sign)
{
    for (int k = jac->colour_ptr[c]; k < jac->colour_ptr[c + 1]; k++) {
        const int j = jac->colour_col[k];
        const double shift = jac->least_shift_r[j] * fabs(y[j]) + jac->least_shift_a[j];
        jac->y[j] = y[j] + sign * shift;
    }
}

static void take_colour(struct swh_jacobian *jac, int c, const double *y, const double *fy)
{
    for (int k = jac->colour_ptr[c]; k < jac->colour_ptr[c + 1]; k++) {
        const int j = jac->colour_col[k];
        const double inverse = 1 / (jac->y[j] - y[j]);
        for (int q = jac->col_ptr[j]; q < jac->col_ptr[j + 1]; q++)
            jac->value[q] = (jac->f[jac->row_idx[q]] - fy[jac->row_idx[q]]) * inverse;
        jac->y[j] = y[j];
    }
}

static int difference(struct swh_jacobian *jac, int c, double t, const double *y, const double *fy,
                      swh_jacobian_rates rates, void *context)
{
    shift_colour(jac, c, y, 1);
    jac->calls++;
    int flag = rates(t, jac->y, jac->f, context);
    if (flag > 0) {
        shift_colour(jac, c, y, -1);
        jac->calls++;
        flag = rates(t, jac->y, jac->f, context);
    }
    if (flag == 0)
        take_colour(jac, c, y, fy);
    return flag;
}

static int take_colours(struct swh_jacobian *jac, int from, int end, double t, const double *y,
                        const double *fy, swh_jacobian_rates rates, void *context)
{
    if (from == end)
        return 0;
    memcpy(jac->y, y, (size_t)jac->n * sizeof *y);
    for (int c = from; c < end; c++) {
        const int flag = difference(jac, c, t, y, fy, rates, context);
        if (flag != 0)
            return flag;
    }
    return 0;
}

/* derivatives come first: they may rely on the rates having been asked for at y */
int swh_jacobian_evaluate_fast(struct swh_jacobian *jac, double t, const double *y, const double *fy,
                               swh_jacobian_rates rates, void *context)
{
    int flag = jac->derivatives ? jac->derivatives(t, y, jac->value, context) : 0;
    if (flag == 0 && jac->rest_age == 0)
        flag = take_colours(jac, 0, jac->colours, t, y, fy, rates, context);
    if (flag == 0 && jac->derivatives)
        jac->rest_age = (jac->rest_age + 1) % REST_EVERY;
    return flag;
}

int swh_jacobian_evaluate(struct swh_jacobian *jac, double t, const double *y, const double *fy,
                          swh_jacobian_rates rates, void *context)
{
    const int end = jac->colours + (jac->age == 0 ? jac->slow_colours : 0);
    int flag = swh_jacobian_evaluate_fast(jac, t, y, fy, rates, context);
    if (flag == 0)
        flag = take_colours(jac, jac->colours, end, t, y, fy, rates, context);
    if (flag != 0)
        return flag;
    jac->age = (jac->age + 1) % SLOW_EVERY;
    jac->has_slow = 1;
    return 0;
}

void swh_jacobian_take_product(const struct swh_jacobian *jac, double gamma, int with_slow, const double *x,
                               double *left)
{
    for (int j = 0; j < jac->n; j++) {
        const double by = jac->slow[j] && !with_slow ? 0 : gamma * x[j];
        left[j] -= x[j];
        for (int q = jac->col_ptr[j]; q < jac->col_ptr[j + 1] && by != 0; q++)
            left[jac->row_idx[q]] += by * jac->value[q];
    }
}

const double *swh_jacobian_values(const struct swh_jacobian *jac)
{
    return jac->value;
}

const int *swh_jacobian_col_ptr(const struct swh_jacobian *jac)
{
    return jac->col_ptr;
}

const int *swh_jacobian_row_idx(const struct swh_jacobian *jac)
{
    return jac->row_idx;
}

int swh_jacobian_colours(const struct swh_jacobian *jac)
{
    return jac->colours;
}

long swh_jacobian_rates_calls(const struct swh_jacobian *jac)
{
    return jac->calls;
}
