/* Row-wise LU (Doolittle, "up-looking"): row i of the permuted matrix is spread into a dense work row, the
 * rows of U it depends on are subtracted in order, and the result is gathered. Standard method, see Davis,
 * Direct Methods for Sparse Linear Systems (2006), chapter 6. */
#include "solver/sparse_lu.h"

#include <amd.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct term {
    int to, from;
};

struct swh_lu {
    int n;
    int *perm, *inverse;        /* new -> old, old -> new */
    int *a_ptr, *a_col, *a_src; /* permuted rows of A: columns and where their values stand in J */
    int *l_ptr, *l_col;         /* strictly lower part by rows, ascending */
    int *u_ptr, *u_col;         /* strictly upper part by rows, ascending */
    double *u_val, *pivot_inverse;
    /* The solution as one flat list: x[to] -= val x[from], first L by columns, ascending, then U, its rows
     * divided by their pivots, by columns, descending. One after the other they hit different x[to], and no
     * short inner loop has an end to be guessed. */
    struct term *term;
    double *term_val;
    int *l_term, *u_term; /* where an entry of L or U stands in the list */
    double *work;
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
    int *ints[] = {lu->perm,  lu->inverse, lu->a_ptr, lu->a_col,  lu->a_src, lu->l_ptr,
                   lu->l_col, lu->u_ptr,   lu->u_col, lu->l_term, lu->u_term};
    for (unsigned i = 0; i < sizeof ints / sizeof ints[0]; i++)
        free(ints[i]);
    free(lu->term);
    free(lu->term_val);
    free(lu->u_val);
    free(lu->pivot_inverse);
    free(lu->work);
    free(lu->x);
    free(lu);
}

/* a pattern and where its values stand in J */
struct pattern {
    int *ptr, *idx, *src;
};

/* rows of the permuted matrix from the columns of A */
static int permute_rows(struct swh_lu *lu, const struct pattern *a)
{
    const int n = lu->n, nz = a->ptr[n];
    const int *col_ptr = a->ptr, *row_idx = a->idx;
    lu->a_ptr = new_ints(n + 1);
    lu->a_col = new_ints(nz);
    lu->a_src = new_ints(nz);
    int *next = new_ints(n + 1);
    if (!lu->a_ptr || !lu->a_col || !lu->a_src || !next) {
        free(next);
        return 0;
    }
    for (int k = 0; k < nz; k++)
        lu->a_ptr[lu->inverse[row_idx[k]] + 1]++;
    for (int i = 0; i < n; i++)
        lu->a_ptr[i + 1] += lu->a_ptr[i];
    memcpy(next, lu->a_ptr, (size_t)(n + 1) * sizeof *next);
    for (int j = 0; j < n; j++)
        for (int k = col_ptr[j]; k < col_ptr[j + 1]; k++) {
            const int at = next[lu->inverse[row_idx[k]]]++;
            lu->a_col[at] = lu->inverse[j];
            lu->a_src[at] = a->src[k];
        }
    free(next);
    return 1;
}

/* Fill by elimination on a byte matrix: n is below a few hundred and this happens once. */
static int find_fill(struct swh_lu *lu)
{
    const int n = lu->n;
    unsigned char *on = calloc((size_t)n * (size_t)n, 1);
    if (!on)
        return 0;
    for (int i = 0; i < n; i++)
        for (int k = lu->a_ptr[i]; k < lu->a_ptr[i + 1]; k++)
            on[i * n + lu->a_col[k]] = 1;
    int l_count = 0, u_count = 0;
    for (int i = 0; i < n; i++) {
        on[i * n + i] = 1;
        for (int j = 0; j < i; j++)
            if (on[i * n + j])
                for (int k = j + 1; k < n; k++)
                    on[i * n + k] |= on[j * n + k];
        for (int j = 0; j < n; j++) {
            l_count += j < i && on[i * n + j];
            u_count += j > i && on[i * n + j];
        }
    }
    lu->l_ptr = new_ints(n + 1);
    lu->u_ptr = new_ints(n + 1);
    lu->l_col = new_ints(l_count);
    lu->u_col = new_ints(u_count);
    lu->u_val = new_doubles(u_count);
    if (!lu->l_ptr || !lu->u_ptr || !lu->l_col || !lu->u_col || !lu->u_val) {
        free(on);
        return 0;
    }
    l_count = u_count = 0;
    for (int i = 0; i < n; i++) {
        for (int j = 0; j < n; j++) {
            if (j < i && on[i * n + j])
                lu->l_col[l_count++] = j;
            if (j > i && on[i * n + j])
                lu->u_col[u_count++] = j;
        }
        lu->l_ptr[i + 1] = l_count;
        lu->u_ptr[i + 1] = u_count;
    }
    free(on);
    return 1;
}

static int list_terms(struct swh_lu *lu)
{
    const int n = lu->n, l_count = lu->l_ptr[n], u_count = lu->u_ptr[n];
    lu->l_term = new_ints(l_count);
    lu->u_term = new_ints(u_count);
    lu->term = calloc((size_t)(l_count + u_count + 1), sizeof *lu->term);
    lu->term_val = new_doubles(l_count + u_count);
    if (!lu->l_term || !lu->u_term || !lu->term || !lu->term_val)
        return 0;
    int count = 0;
    for (int j = 0; j < n; j++)
        for (int i = j + 1; i < n; i++)
            for (int k = lu->l_ptr[i]; k < lu->l_ptr[i + 1]; k++)
                if (lu->l_col[k] == j) {
                    lu->term[count] = (struct term){i, j};
                    lu->l_term[k] = count++;
                }
    for (int j = n - 1; j >= 0; j--)
        for (int i = 0; i < j; i++)
            for (int k = lu->u_ptr[i]; k < lu->u_ptr[i + 1]; k++)
                if (lu->u_col[k] == j) {
                    lu->term[count] = (struct term){i, j};
                    lu->u_term[k] = count++;
                }
    return 1;
}

/* ---- ordering ---- */

struct ordering {
    int n, placed;
    int *perm;               /* new -> old, the first `placed` are settled */
    char *settled;           /* by old index */
    int *in_column, *in_row; /* entries among the unsettled */
};

static void settle(struct ordering *o, int j, const int *col_ptr, const int *row_idx)
{
    o->perm[o->placed++] = j;
    o->settled[j] = 1;
    for (int c = 0; c < o->n; c++)
        for (int k = col_ptr[c]; k < col_ptr[c + 1]; k++) {
            o->in_row[row_idx[k]] -= c == j;
            o->in_column[c] -= row_idx[k] == j;
        }
}

/* What reaches only its own diagonal, by column or by row, is eliminated first and costs no fill. */
static void settle_singletons(struct ordering *o, const int *col_ptr, const int *row_idx)
{
    for (int c = 0; c < o->n; c++)
        for (int k = col_ptr[c]; k < col_ptr[c + 1]; k++) {
            o->in_column[c]++;
            o->in_row[row_idx[k]]++;
        }
    for (int before = -1; before != o->placed;) {
        before = o->placed;
        for (int j = 0; j < o->n; j++)
            if (!o->settled[j] && (o->in_column[j] == 1 || o->in_row[j] == 1))
                settle(o, j, col_ptr, row_idx);
    }
}

/* minimum degree on what is left, renumbered; `ints` holds 4 n + 1 + entries */
static int order_rest(struct ordering *o, const int *col_ptr, const int *row_idx, int *ints)
{
    const int n = o->n;
    int *old_of = ints, *new_of = ints + n, *order = ints + 2 * n, *ptr = ints + 3 * n, *idx = ptr + n + 1;
    int left = 0, count = 0;
    for (int j = 0; j < n; j++)
        if (!o->settled[j]) {
            new_of[j] = left;
            old_of[left++] = j;
        }
    if (left == 0)
        return 1;
    ptr[0] = 0;
    for (int c = 0; c < left; c++) {
        for (int k = col_ptr[old_of[c]]; k < col_ptr[old_of[c] + 1]; k++)
            if (!o->settled[row_idx[k]])
                idx[count++] = new_of[row_idx[k]];
        ptr[c + 1] = count;
    }
    if (amd_order(left, ptr, idx, order, NULL, NULL) < AMD_OK)
        return 0;
    for (int c = 0; c < left; c++)
        o->perm[o->placed + c] = old_of[order[c]];
    return 1;
}

static int find_order(struct swh_lu *lu, const int *col_ptr, const int *row_idx)
{
    const int n = lu->n;
    int *ints = new_ints(6 * n + 1 + col_ptr[n]);
    char *settled = calloc((size_t)n, 1);
    int fine = ints && settled;
    if (fine) {
        struct ordering o = {n, 0, lu->perm, settled, ints, ints + n};
        settle_singletons(&o, col_ptr, row_idx);
        fine = order_rest(&o, col_ptr, row_idx, ints + 2 * n);
    }
    free(ints);
    free(settled);
    for (int i = 0; fine && i < n; i++)
        lu->inverse[lu->perm[i]] = i;
    return fine;
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

/* the diagonal of a column left out is that of the identity: nothing is loaded there */
static void drop_empty(struct swh_lu *lu)
{
    int count = 0, from = 0;
    for (int i = 0; i < lu->n; i++) {
        const int end = lu->a_ptr[i + 1];
        for (int k = from; k < end; k++)
            if (lu->a_src[k] >= 0) {
                lu->a_col[count] = lu->a_col[k];
                lu->a_src[count++] = lu->a_src[k];
            }
        from = end;
        lu->a_ptr[i + 1] = count;
    }
}

static int analyse(struct swh_lu *lu, const struct pattern *a)
{
    const int n = lu->n;
    lu->perm = new_ints(n);
    lu->inverse = new_ints(n);
    lu->pivot_inverse = new_doubles(n);
    lu->work = new_doubles(n);
    lu->x = new_doubles(n);
    if (!lu->perm || !lu->inverse || !lu->pivot_inverse || !lu->work || !lu->x)
        return 0;
    if (!find_order(lu, a->ptr, a->idx) || !permute_rows(lu, a) || !find_fill(lu) || !list_terms(lu))
        return 0;
    drop_empty(lu);
    return 1;
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
    return lu->l_ptr[lu->n] + lu->u_ptr[lu->n] + lu->n;
}

/* ---- numbers ---- */

/* row i of I - gamma J into the work row */
static void load_row(struct swh_lu *lu, int i, double gamma, const double *J)
{
    double *w = lu->work;
    for (int k = lu->l_ptr[i]; k < lu->l_ptr[i + 1]; k++)
        w[lu->l_col[k]] = 0;
    for (int k = lu->u_ptr[i]; k < lu->u_ptr[i + 1]; k++)
        w[lu->u_col[k]] = 0;
    w[i] = 0;
    for (int k = lu->a_ptr[i]; k < lu->a_ptr[i + 1]; k++)
        w[lu->a_col[k]] = -gamma * J[lu->a_src[k]];
}

int swh_lu_factor(struct swh_lu *lu, double gamma, const double *J)
{
    double *restrict w = lu->work;
    for (int i = 0; i < lu->n; i++) {
        load_row(lu, i, gamma, J);
        double terms = fabs(w[i]) > 1.0 ? fabs(w[i]) : 1.0; /* what the pivot is the difference of */
        w[i] += 1;
        for (int k = lu->l_ptr[i]; k < lu->l_ptr[i + 1]; k++) {
            const int j = lu->l_col[k];
            const double f = w[j] * lu->pivot_inverse[j], before = w[i];
            lu->term_val[lu->l_term[k]] = f;
            for (int q = lu->u_ptr[j], end = lu->u_ptr[j + 1]; q < end; q++)
                w[lu->u_col[q]] -= f * lu->u_val[q];
            terms += fabs(w[i] - before);
        }
        if (!(fabs(w[i]) > 1e-13 * terms) || isinf(w[i]))
            return lu->perm[i];
        lu->pivot_inverse[i] = 1 / w[i];
        for (int k = lu->u_ptr[i]; k < lu->u_ptr[i + 1]; k++) {
            lu->u_val[k] = w[lu->u_col[k]];
            lu->term_val[lu->u_term[k]] = lu->u_val[k] * lu->pivot_inverse[i];
        }
    }
    return -1;
}

static void subtract_terms(const struct swh_lu *lu, int from, int end, double *x)
{
    const struct term *t = lu->term;
    const double *val = lu->term_val;
    for (int k = from; k < end; k++)
        x[t[k].to] -= val[k] * x[t[k].from];
}

void swh_lu_solve(const struct swh_lu *lu, double *b)
{
    double *restrict x = lu->x;
    const int n = lu->n, l_count = lu->l_ptr[n];
    for (int i = 0; i < n; i++)
        x[i] = b[lu->perm[i]];
    subtract_terms(lu, 0, l_count, x);
    for (int i = 0; i < n; i++)
        x[i] *= lu->pivot_inverse[i];
    subtract_terms(lu, l_count, l_count + lu->u_ptr[n], x);
    for (int i = 0; i < n; i++)
        b[lu->perm[i]] = x[i];
}
