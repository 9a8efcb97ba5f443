/* Row-wise LU (Doolittle, "up-looking"): row i of the permuted matrix is spread into a dense work row, the
 * rows of U it depends on are subtracted in order, and the result is gathered. Standard method, see Davis,
 * Direct Methods for Sparse Linear Systems (2006), chapter 6. */
#include "solver/sparse_lu.h"

#include <amd.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct swh_lu {
    int n;
    int *perm, *inverse; /* new -> old, old -> new */
    int *a_ptr, *a_col,
        *a_src;         /* permuted rows of A: columns and where their values stand in J; src -1: none */
    int *l_ptr, *l_col; /* strictly lower part by rows, ascending */
    int *u_ptr, *u_col; /* strictly upper part by rows, ascending */
    double *l_val, *u_val, *pivot_inverse;
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
    int *ints[] = {lu->perm,  lu->inverse, lu->a_ptr, lu->a_col, lu->a_src,
                   lu->l_ptr, lu->l_col,   lu->u_ptr, lu->u_col};
    for (unsigned i = 0; i < sizeof ints / sizeof ints[0]; i++)
        free(ints[i]);
    free(lu->l_val);
    free(lu->u_val);
    free(lu->pivot_inverse);
    free(lu->work);
    free(lu->x);
    free(lu);
}

/* rows of the permuted matrix from the columns of A */
static int permute_rows(struct swh_lu *lu, const int *col_ptr, const int *row_idx)
{
    const int n = lu->n, nz = col_ptr[n];
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
            lu->a_src[at] = k;
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
    lu->l_val = new_doubles(l_count);
    lu->u_val = new_doubles(u_count);
    if (!lu->l_ptr || !lu->u_ptr || !lu->l_col || !lu->u_col || !lu->l_val || !lu->u_val) {
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

struct swh_lu *swh_lu_create(int n, const int *col_ptr, const int *row_idx)
{
    struct swh_lu *lu = calloc(1, sizeof *lu);
    if (!lu)
        return NULL;
    lu->n = n;
    lu->perm = new_ints(n);
    lu->inverse = new_ints(n);
    lu->pivot_inverse = new_doubles(n);
    lu->work = new_doubles(n);
    lu->x = new_doubles(n);
    int fine = lu->perm && lu->inverse && lu->pivot_inverse && lu->work && lu->x;
    if (fine)
        fine = amd_order(n, col_ptr, row_idx, lu->perm, NULL, NULL) >= AMD_OK;
    if (fine) {
        for (int i = 0; i < n; i++)
            lu->inverse[lu->perm[i]] = i;
        fine = permute_rows(lu, col_ptr, row_idx) && find_fill(lu);
    }
    if (fine)
        return lu;
    swh_lu_free(lu);
    return NULL;
}

int swh_lu_entries(const struct swh_lu *lu)
{
    return lu->l_ptr[lu->n] + lu->u_ptr[lu->n] + lu->n;
}

int swh_lu_factor(struct swh_lu *lu, double gamma, const double *J)
{
    double *w = lu->work;
    for (int i = 0; i < lu->n; i++) {
        for (int k = lu->l_ptr[i]; k < lu->l_ptr[i + 1]; k++)
            w[lu->l_col[k]] = 0;
        for (int k = lu->u_ptr[i]; k < lu->u_ptr[i + 1]; k++)
            w[lu->u_col[k]] = 0;
        w[i] = 1;
        double largest = 1;
        for (int k = lu->a_ptr[i]; k < lu->a_ptr[i + 1]; k++) {
            const double a = -gamma * J[lu->a_src[k]];
            w[lu->a_col[k]] += a;
            largest = fmax(largest, fabs(a));
        }
        for (int k = lu->l_ptr[i]; k < lu->l_ptr[i + 1]; k++) {
            const int j = lu->l_col[k];
            const double f = w[j] * lu->pivot_inverse[j];
            lu->l_val[k] = f;
            if (f == 0)
                continue;
            for (int q = lu->u_ptr[j]; q < lu->u_ptr[j + 1]; q++)
                w[lu->u_col[q]] -= f * lu->u_val[q];
        }
        for (int k = lu->u_ptr[i]; k < lu->u_ptr[i + 1]; k++)
            lu->u_val[k] = w[lu->u_col[k]];
        if (!(fabs(w[i]) > 1e-12 * largest))
            return lu->perm[i];
        lu->pivot_inverse[i] = 1 / w[i];
    }
    return -1;
}

void swh_lu_solve(const struct swh_lu *lu, double *b)
{
    double *x = lu->x;
    for (int i = 0; i < lu->n; i++) {
        double s = b[lu->perm[i]];
        for (int k = lu->l_ptr[i]; k < lu->l_ptr[i + 1]; k++)
            s -= lu->l_val[k] * x[lu->l_col[k]];
        x[i] = s;
    }
    for (int i = lu->n - 1; i >= 0; i--) {
        double s = x[i];
        for (int k = lu->u_ptr[i]; k < lu->u_ptr[i + 1]; k++)
            s -= lu->u_val[k] * x[lu->u_col[k]];
        x[i] = s * lu->pivot_inverse[i];
    }
    for (int i = 0; i < lu->n; i++)
        b[lu->perm[i]] = x[i];
}
