/* LU without search: ordering, fill and every product of the factorisation are listed once, the numbers then
 * run over flat lists (Gaussian elimination by columns, "right-looking"; see Davis, Direct Methods for Sparse
 * Linear Systems, 2006). At our sizes the ends of short loops and the look-up of places would cost more than
 * the arithmetic. */
#include "solver/sparse_lu.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct term {
    int to, from;
};
struct product {
    int to, l, u;
};

struct swh_lu {
    int n, l_count, u_count;
    int *perm; /* new -> old */
    /* Values: L below its diagonal of ones by rows, ascending, then U above its diagonal by rows, descending,
     * its rows divided by their pivots at the end. So both triangles are solved from the first to the last,
     * and each x[i] is gathered in a register. */
    double *val, *pivot, *pivot_inverse;
    int *column, *row_end; /* of each value; of the rows of L from the first, then of U from the last */
    /* a value is -gamma J[from], on the diagonal too */
    struct term *load, *load_pivot;
    int loads, pivot_loads;
    /* of pivot j: its column of L; where its products with the row of U go, row by row; those of
     * them that a pivot is the sum of */
    int *l_first, *l_entry, *target_first, *target, *pivot_first;
    struct product *pivot_product;
    double *terms; /* magnitudes of what each pivot is the sum of */
    double *x;
};

static int *new_ints(int n)
{
    return calloc((size_t)(n > 0 ? n : 1), sizeof(int));
}

static double *new_doubles(int n)
{
    return calloc((size_t)(n > 0 ? n : 1), sizeof(double));
}

void swh_lu_free(struct swh_lu *lu)
{
    if (!lu)
        return;
    void *const parts[] = {lu->perm,    lu->val,           lu->pivot_inverse, lu->column,      lu->row_end,
                           lu->l_entry, lu->load,          lu->target_first,  lu->load_pivot,  lu->l_first,
                           lu->target,  lu->pivot_product, lu->terms,         lu->pivot_first, lu->x};
    for (unsigned i = 0; i < sizeof parts / sizeof parts[0]; i++)
        free(parts[i]);
    free(lu);
}

/* a pattern and where its values stand in J */
struct pattern {
    int *ptr, *idx, *src;
};

/* ---- ordering ---- */

struct ordering {
    int n;
    unsigned char *on;       /* n x n: the pattern with its fill so far */
    int *in_row, *in_column; /* entries off the diagonal among what is left */
    int *depth;              /* longest chain of pivots that must come before */
    unsigned char *settled;
};

static void count_entries(struct ordering *o)
{
    for (int i = 0; i < o->n; i++)
        for (int j = 0; j < o->n; j++)
            if (i != j && o->on[i * o->n + j]) {
                o->in_row[i]++;
                o->in_column[j]++;
            }
}

/* Markowitz's count: entries that the pivot may fill. Among equals the one that has the fewest pivots to wait
 * for: chains are then worked off from both ends, and what does not depend on each other overlaps. */
static int best_pivot(const struct ordering *o)
{
    int best = -1;
    long least = 0;
    for (int j = 0; j < o->n; j++) {
        const long cost = (long)o->in_row[j] * o->in_column[j];
        if (o->settled[j])
            continue;
        if (best < 0 || cost < least || (cost == least && o->depth[j] < o->depth[best])) {
            best = j;
            least = cost;
        }
    }
    return best;
}

static void settle(struct ordering *o, int p)
{
    const int n = o->n;
    o->settled[p] = 1;
    for (int i = 0; i < n; i++) {
        if (o->settled[i])
            continue;
        const int below = o->on[i * n + p], right = o->on[p * n + i];
        o->in_row[i] -= below;
        o->in_column[i] -= right;
        if ((below || right) && o->depth[i] <= o->depth[p])
            o->depth[i] = o->depth[p] + 1;
        for (int k = 0; k < n && below; k++) {
            if (k == i || o->settled[k] || !o->on[p * n + k] || o->on[i * n + k])
                continue;
            o->on[i * n + k] = 1;
            o->in_row[i]++;
            o->in_column[k]++;
        }
    }
}

static int find_order(struct swh_lu *lu, const int *col_ptr, const int *row_idx)
{
    const int n = lu->n;
    int *ints = new_ints(3 * n);
    unsigned char *bytes = calloc((size_t)n * (size_t)(n + 1), 1);
    const int fine = ints && bytes;
    if (fine) {
        struct ordering o = {n, bytes + n, ints, ints + n, ints + 2 * n, bytes};
        for (int c = 0; c < n; c++)
            for (int k = col_ptr[c]; k < col_ptr[c + 1]; k++)
                o.on[row_idx[k] * n + c] = 1;
        count_entries(&o);
        for (int k = 0; k < n; k++) {
            lu->perm[k] = best_pivot(&o);
            settle(&o, lu->perm[k]);
        }
    }
    free(ints);
    free(bytes);
    return fine;
}

/* ---- lists ---- */

/* place[i n + j] of the permuted matrix: 1 + number of the value, 0: none. First only marks. */
static void mark_entries(const struct swh_lu *lu, const struct pattern *a, const int *inverse, int *place)
{
    const int n = lu->n;
    for (int c = 0; c < n; c++)
        for (int k = a->ptr[c]; k < a->ptr[c + 1]; k++)
            place[inverse[a->idx[k]] * n + inverse[c]] = 1;
    for (int i = 0; i < n; i++)
        place[i * n + i] = 1;
    for (int j = 0; j < n; j++)
        for (int i = j + 1; i < n; i++)
            for (int k = j + 1; k < n && place[i * n + j]; k++)
                place[i * n + k] |= place[j * n + k];
}

/* numbers the entries of row i, from column `from` towards `end` */
static void number_row(struct swh_lu *lu, int *place, int *count, int i, int from, int end, int step)
{
    for (int j = from; j != end; j += step)
        if (place[i * lu->n + j]) {
            lu->column[*count] = j;
            place[i * lu->n + j] = ++*count;
        }
}

static void list_columns(struct swh_lu *lu, const int *place)
{
    const int n = lu->n;
    int count = 0;
    for (int j = 0; j < n; j++) {
        for (int i = j + 1; i < n; i++)
            if (place[i * n + j])
                lu->l_entry[count++] = place[i * n + j] - 1;
        lu->l_first[j + 1] = count;
    }
}

static int number_entries(struct swh_lu *lu, int *place)
{
    const int n = lu->n;
    int count = 0;
    lu->column = new_ints(n * n);
    lu->row_end = new_ints(2 * n);
    lu->l_first = new_ints(n + 1);
    lu->l_entry = new_ints(n * n);
    if (!lu->column || !lu->row_end || !lu->l_first || !lu->l_entry)
        return 0;
    for (int i = 0; i < n; i++) {
        number_row(lu, place, &count, i, 0, i, 1);
        lu->row_end[i] = count;
    }
    lu->l_count = count;
    for (int i = n - 1; i >= 0; i--) {
        number_row(lu, place, &count, i, n - 1, i, -1);
        lu->row_end[2 * n - 1 - i] = count;
    }
    lu->u_count = count - lu->l_count;
    for (int i = 0; i < n; i++)
        place[i * n + i] = ++count;
    list_columns(lu, place);
    return 1;
}

static int u_row(const struct swh_lu *lu, int j)
{
    return lu->row_end[2 * lu->n - 2 - j];
}

static int u_row_length(const struct swh_lu *lu, int j)
{
    return lu->row_end[2 * lu->n - 1 - j] - u_row(lu, j);
}

static int products_of(const struct swh_lu *lu)
{
    int count = 0;
    for (int j = 0; j < lu->n; j++)
        count += (lu->l_first[j + 1] - lu->l_first[j]) * u_row_length(lu, j);
    return count;
}

/* where J's values go; the diagonal of a column left out is that of the identity: nothing is loaded there */
static int list_loads(struct swh_lu *lu, const struct pattern *a, const int *inverse, const int *place)
{
    const int n = lu->n, nz = a->ptr[n];
    lu->load = calloc((size_t)(nz + 1), sizeof *lu->load);
    lu->load_pivot = calloc((size_t)(n + 1), sizeof *lu->load_pivot);
    if (!lu->load || !lu->load_pivot)
        return 0;
    for (int c = 0; c < n; c++)
        for (int k = a->ptr[c]; k < a->ptr[c + 1]; k++) {
            const int i = inverse[a->idx[k]], j = inverse[c];
            if (a->src[k] < 0)
                continue;
            if (i == j)
                lu->load_pivot[lu->pivot_loads++] = (struct term){i, a->src[k]};
            else
                lu->load[lu->loads++] = (struct term){place[i * n + j] - 1, a->src[k]};
        }
    return 1;
}

/* where the products of each pivot's column of L with its row of U go, row by row */
static int list_targets(struct swh_lu *lu, const int *place)
{
    const int n = lu->n;
    int count = 0;
    lu->target = new_ints(products_of(lu));
    lu->target_first = new_ints(n + 1);
    if (!lu->target || !lu->target_first)
        return 0;
    for (int j = 0; j < n; j++) {
        for (int i = j + 1; i < n; i++)
            for (int k = n - 1; k > j && place[i * n + j]; k--)
                if (place[j * n + k])
                    lu->target[count++] = place[i * n + k] - 1;
        lu->target_first[j + 1] = count;
    }
    return 1;
}

/* of these, the products that go to a diagonal */
static int list_pivot_products(struct swh_lu *lu, const int *place)
{
    const int n = lu->n;
    int count = 0;
    lu->pivot_product = calloc((size_t)products_of(lu) + 1, sizeof *lu->pivot_product);
    lu->pivot_first = new_ints(n + 1);
    if (!lu->pivot_product || !lu->pivot_first)
        return 0;
    for (int j = 0; j < n; j++) {
        for (int i = j + 1; i < n; i++)
            if (place[i * n + j] && place[j * n + i])
                lu->pivot_product[count++] = (struct product){i, place[i * n + j] - 1, place[j * n + i] - 1};
        lu->pivot_first[j + 1] = count;
    }
    return 1;
}

static int make_lists(struct swh_lu *lu, const struct pattern *a, int *inverse, int *place)
{
    for (int i = 0; i < lu->n; i++)
        inverse[lu->perm[i]] = i;
    mark_entries(lu, a, inverse, place);
    return number_entries(lu, place) && list_loads(lu, a, inverse, place) && list_targets(lu, place) &&
           list_pivot_products(lu, place);
}

/* the columns that stay, and nothing but the diagonal of those left out: src is -1 there */
static int copy_pattern(struct pattern *a, int n, const int *col_ptr, const int *row_idx,
                        const unsigned char *left_out)
{
    a->ptr = new_ints(n + 1);
    a->idx = new_ints(col_ptr[n]);
    a->src = new_ints(col_ptr[n]);
    if (!a->ptr || !a->idx || !a->src)
        return 0;
    int count = 0;
    for (int j = 0; j < n; j++) {
        const int out = left_out && left_out[j];
        for (int k = col_ptr[j]; k < col_ptr[j + 1]; k++) {
            if (out && row_idx[k] != j)
                continue;
            a->idx[count] = row_idx[k];
            a->src[count++] = out ? -1 : k;
        }
        a->ptr[j + 1] = count;
    }
    return 1;
}

static void free_pattern(struct pattern *a)
{
    free(a->ptr);
    free(a->idx);
    free(a->src);
}

static int analyse(struct swh_lu *lu, const struct pattern *a)
{
    const int n = lu->n;
    lu->perm = new_ints(n);
    lu->pivot_inverse = new_doubles(n);
    lu->terms = new_doubles(n);
    lu->x = new_doubles(n);
    int *inverse = new_ints(n), *place = new_ints(n * n);
    const int fine = lu->perm && lu->pivot_inverse && lu->terms && lu->x && inverse && place &&
                     find_order(lu, a->ptr, a->idx) && make_lists(lu, a, inverse, place);
    free(inverse);
    free(place);
    lu->val = new_doubles(lu->l_count + lu->u_count + n);
    if (lu->val)
        lu->pivot = lu->val + lu->l_count + lu->u_count;
    return fine && lu->val;
}

struct swh_lu *swh_lu_create_without(int n, const int *col_ptr, const int *row_idx,
                                     const unsigned char *left_out)
{
    struct swh_lu *lu = calloc(1, sizeof *lu);
    if (!lu)
        return NULL;
    lu->n = n;
    struct pattern a = {0};
    const int fine = copy_pattern(&a, n, col_ptr, row_idx, left_out) && analyse(lu, &a);
    free_pattern(&a);
    if (fine)
        return lu;
    swh_lu_free(lu);
    return NULL;
}

struct swh_lu *swh_lu_create(int n, const int *col_ptr, const int *row_idx)
{
    return swh_lu_create_without(n, col_ptr, row_idx, NULL);
}

int swh_lu_entries(const struct swh_lu *lu)
{
    return lu->l_count + lu->u_count + lu->n;
}

/* ---- numbers ---- */

/* I - gamma J, its diagonal apart */
static void load(struct swh_lu *lu, double gamma, const double *J)
{
    memset(lu->val, 0, (size_t)(lu->l_count + lu->u_count + lu->n) * sizeof *lu->val);
    for (int k = 0; k < lu->loads; k++)
        lu->val[lu->load[k].to] = -gamma * J[lu->load[k].from];
    for (int k = 0; k < lu->pivot_loads; k++)
        lu->pivot[lu->load_pivot[k].to] = -gamma * J[lu->load_pivot[k].from];
    for (int i = 0; i < lu->n; i++) {
        lu->terms[i] = fabs(lu->pivot[i]) > 1.0 ? fabs(lu->pivot[i]) : 1.0;
        lu->pivot[i] += 1;
    }
}

/* the products of one entry l of L with a row of U; with `n` a constant where this is called no loop is left
 */
static inline void take_row(int n, double l, const double *u, const int *target, double *val)
{
    for (int m = 0; m < n; m++)
        val[target[m]] -= l * u[m];
}

static inline void take_products(const struct swh_lu *lu, int j, int n)
{
    double *val = lu->val;
    const double *u = val + u_row(lu, j);
    const int *target = lu->target + lu->target_first[j];
    for (int k = lu->l_first[j]; k < lu->l_first[j + 1]; k++, target += n) {
        const double l = val[lu->l_entry[k]] * lu->pivot_inverse[j];
        val[lu->l_entry[k]] = l;
        take_row(n, l, u, target, val);
    }
}

static void eliminate(struct swh_lu *lu, int j)
{
    const int n = u_row_length(lu, j);
    switch (n) { /* the usual lengths in a circuit of volumes */
    case 3:
        take_products(lu, j, 3);
        break;
    case 4:
        take_products(lu, j, 4);
        break;
    case 5:
        take_products(lu, j, 5);
        break;
    default:
        take_products(lu, j, n);
    }
    for (int k = lu->pivot_first[j]; k < lu->pivot_first[j + 1]; k++) {
        const struct product p = lu->pivot_product[k];
        lu->terms[p.to] += fabs(lu->val[p.l] * lu->val[p.u]);
    }
}

int swh_lu_factor(struct swh_lu *lu, double gamma, const double *J)
{
    load(lu, gamma, J);
    for (int j = 0; j < lu->n; j++) {
        const double pivot = lu->pivot[j];
        if (!(fabs(pivot) > 1e-13 * lu->terms[j]) || isinf(pivot))
            return lu->perm[j];
        lu->pivot_inverse[j] = 1 / pivot;
        if (lu->l_first[j] < lu->l_first[j + 1])
            eliminate(lu, j);
    }
    int k = lu->l_count;
    for (int i = lu->n - 1; i >= 0; i--)
        for (; k < lu->row_end[2 * lu->n - 1 - i]; k++)
            lu->val[k] *= lu->pivot_inverse[i];
    return -1;
}

void swh_lu_solve_into(const struct swh_lu *lu, double factor, const double *b, double *out)
{
    double *restrict x = lu->x;
    const double *val = lu->val;
    const int n = lu->n, *column = lu->column, *end = lu->row_end;
    int k = 0;
    for (int i = 0; i < n; i++) {
        double sum = b[lu->perm[i]];
        for (; k < end[i]; k++)
            sum -= val[k] * x[column[k]];
        x[i] = sum;
    }
    end += n;
    for (int i = n - 1; i >= 0; i--, end++) {
        double sum = x[i] * lu->pivot_inverse[i];
        for (; k < *end; k++)
            sum -= val[k] * x[column[k]];
        x[i] = sum;
        out[lu->perm[i]] = factor * sum;
    }
}

void swh_lu_solve(const struct swh_lu *lu, double *b)
{
    swh_lu_solve_into(lu, 1, b, b);
}
