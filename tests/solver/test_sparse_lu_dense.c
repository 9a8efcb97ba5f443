/* The sparse LU against closed forms and against dense elimination with row exchanges (Golub and Van Loan,
 * Matrix Computations, section 3.4), written out below. */
#include "solver/ode/sparse_lu.h"
#include "tests/check.h"

#include <stdlib.h>
#include <string.h>

enum { MOST = 60 };

struct sparse {
    int n, col_ptr[MOST + 1], row_idx[MOST * MOST];
    double value[MOST * MOST];
};

/* 0 to 1, the same numbers in every run (Park and Miller 1988) */
static double random_unit(unsigned long *seed)
{
    *seed = *seed * 48271UL % 2147483647UL;
    return (double)*seed / 2147483647.0;
}

/* one state in five is a sum: its column is empty but for the diagonal, which is zero */
static void random_system(struct sparse *s, int n, unsigned long *seed)
{
    s->n = n;
    s->col_ptr[0] = 0;
    int count = 0;
    for (int j = 0; j < n; j++) {
        const int is_sum = j % 5 == 4;
        for (int i = 0; i < n; i++) {
            if (i != j && (is_sum || random_unit(seed) > 4.0 / n))
                continue;
            s->row_idx[count] = i;
            s->value[count++] = i != j ? random_unit(seed) : is_sum ? 0 : -6 - random_unit(seed);
        }
        s->col_ptr[j + 1] = count;
    }
}

static void dense_of(const struct sparse *s, double gamma, double A[MOST][MOST])
{
    memset(A, 0, sizeof(double[MOST][MOST]));
    for (int j = 0; j < s->n; j++) {
        A[j][j] = 1;
        for (int k = s->col_ptr[j]; k < s->col_ptr[j + 1]; k++)
            A[s->row_idx[k]][j] -= gamma * s->value[k];
    }
}

static void exchange_rows(double A[MOST][MOST], double *b, int n, int k)
{
    int best = k;
    for (int i = k + 1; i < n; i++)
        best = fabs(A[i][k]) > fabs(A[best][k]) ? i : best;
    for (int j = 0; j < n; j++) {
        const double a = A[k][j];
        A[k][j] = A[best][j];
        A[best][j] = a;
    }
    const double c = b[k];
    b[k] = b[best];
    b[best] = c;
}

static void dense_solve(double A[MOST][MOST], double *b, int n)
{
    for (int k = 0; k < n; k++) {
        exchange_rows(A, b, n, k);
        for (int i = k + 1; i < n; i++) {
            const double f = A[i][k] / A[k][k];
            for (int j = k; j < n; j++)
                A[i][j] -= f * A[k][j];
            b[i] -= f * b[k];
        }
    }
    for (int i = n - 1; i >= 0; i--) {
        for (int j = i + 1; j < n; j++)
            b[i] -= A[i][j] * b[j];
        b[i] /= A[i][i];
    }
}

static void test_against_dense(void **state)
{
    (void)state;
    static struct sparse s;
    static double A[MOST][MOST];
    unsigned long seed = 20;
    for (int n = 1; n <= MOST; n += n < 8 ? 1 : 13) {
        random_system(&s, n, &seed);
        struct swh_lu *lu = swh_lu_create(n, s.col_ptr, s.row_idx);
        assert_non_null(lu);
        for (double gamma = 1e-6; gamma < 1e4; gamma *= 30) {
            double b[MOST], x[MOST];
            for (int i = 0; i < n; i++)
                b[i] = x[i] = random_unit(&seed) - 0.5;
            dense_of(&s, gamma, A);
            dense_solve(A, b, n);
            assert_int_equal(swh_lu_factor(lu, gamma, s.value), -1);
            swh_lu_solve(lu, x);
            for (int i = 0; i < n; i++)
                CHECK_CLOSE(x[i], b[i], 1e-9, 1e-11);
        }
        swh_lu_free(lu);
    }
}

static void chain_system(struct sparse *s, int n)
{
    s->n = n;
    s->col_ptr[0] = 0;
    int count = 0;
    for (int j = 0; j < n; j++) {
        for (int i = j > 0 ? j - 1 : 0; i <= j + 1 && i < n; i++) {
            s->row_idx[count] = i;
            s->value[count++] = i == j ? -2 : 1;
        }
        s->col_ptr[j + 1] = count;
    }
}

/* sin(k pi i/(n + 1)) with the angle brought below a full turn in whole numbers:
 * else its rounding would show */
static double mode(int k, int i, int n)
{
    const double pi = 3.141592653589793;
    return sin(pi * (k * i % (2 * (n + 1))) / (n + 1));
}

/* The second difference has the eigenvectors sin(k pi i/(n + 1)) with -4 sin^2(k pi/(2 (n + 1))): textbook */
/* I - J = [1 1; 1 1 + e]: the determinant is e, the difference of terms of magnitude 1 and 1. What is left of
 * them is reported as lost below 1e-13 of their magnitudes, though it is not zero, and used above. */
static void test_pivots_that_cancel_are_lost(void **state)
{
    (void)state;
    static const int col_ptr[] = {0, 2, 4}, row_idx[] = {0, 1, 0, 1};
    const double nearly[] = {0, -1, -1, -1e-14}, enough[] = {0, -1, -1, -1e-11};
    struct swh_lu *lu = swh_lu_create(2, col_ptr, row_idx);
    assert_non_null(lu);
    assert_true(swh_lu_factor(lu, 1.0, nearly) >= 0);
    assert_int_equal(swh_lu_factor(lu, 1.0, enough), -1);
    CHECK_BETWEEN(swh_lu_kept(lu), 2e-12, 2e-11);
    swh_lu_free(lu);
}

static void test_eigenvectors_of_a_chain(void **state)
{
    (void)state;
    enum { n = 40 };
    static struct sparse s;
    const double pi = 3.141592653589793, gamma = 7.5;
    chain_system(&s, n);
    struct swh_lu *lu = swh_lu_create(n, s.col_ptr, s.row_idx);
    assert_int_equal(swh_lu_factor(lu, gamma, s.value), -1);
    for (int k = 1; k <= n; k += 13) {
        const double half = sin(k * pi / (2 * (n + 1))), eigenvalue = 1 + gamma * 4 * half * half;
        double x[n];
        for (int i = 0; i < n; i++)
            x[i] = eigenvalue * mode(k, i + 1, n);
        swh_lu_solve(lu, x);
        for (int i = 0; i < n; i++)
            CHECK_CLOSE(x[i], mode(k, i + 1, n), 0, 3e-14); /* condition number 31 */
    }
    swh_lu_free(lu);
}

/* A chain and an arrow can be eliminated without fill (George and Liu 1981, chapter 1): n/2 pairs stay
 * 3n/2 - 2 blocks of four. The arrow's hub comes first here, the worst natural order. */
static void test_no_needless_fill(void **state)
{
    (void)state;
    enum { n = 50 };
    static struct sparse s;
    chain_system(&s, n);
    struct swh_lu *lu = swh_lu_create(n, s.col_ptr, s.row_idx);
    assert_int_equal(swh_lu_entries(lu), 4 * (3 * n / 2 - 2));
    swh_lu_free(lu);
    int count = 0;
    s.col_ptr[0] = 0;
    for (int j = 0; j < n; j++) {
        for (int i = 0; i < n; i++)
            if (i == 0 || j == 0 || i == j)
                s.row_idx[count++] = i;
        s.col_ptr[j + 1] = count;
    }
    lu = swh_lu_create(n, s.col_ptr, s.row_idx);
    assert_int_equal(swh_lu_entries(lu), 4 * (3 * n / 2 - 2));
    swh_lu_free(lu);
}

/* D (I - gamma J) D^-1 x' = D b has x' = D x: kilograms or grams, the pivots must be judged alike */
static void test_units_do_not_matter(void **state)
{
    (void)state;
    enum { n = 40 };
    static struct sparse s, scaled;
    unsigned long seed = 3;
    random_system(&s, n, &seed);
    scaled = s;
    double D[n], x[n], x_scaled[n];
    for (int i = 0; i < n; i++) {
        D[i] = pow(10, i % 17 - 8);
        x[i] = 1 + random_unit(&seed);
        x_scaled[i] = D[i] * x[i];
    }
    for (int j = 0; j < n; j++)
        for (int k = s.col_ptr[j]; k < s.col_ptr[j + 1]; k++)
            scaled.value[k] = s.value[k] * D[s.row_idx[k]] / D[j];
    struct swh_lu *lu = swh_lu_create(n, s.col_ptr, s.row_idx);
    assert_int_equal(swh_lu_factor(lu, 50, s.value), -1);
    swh_lu_solve(lu, x);
    assert_int_equal(swh_lu_factor(lu, 50, scaled.value), -1);
    swh_lu_solve(lu, x_scaled);
    for (int i = 0; i < n; i++)
        CHECK_CLOSE(x_scaled[i] / D[i], x[i], 1e-9, 1e-12);
    swh_lu_free(lu);
}

static void test_same_bits_again(void **state)
{
    (void)state;
    enum { n = 40 };
    static struct sparse s;
    unsigned long seed = 8;
    random_system(&s, n, &seed);
    double first[n], again[n];
    for (int i = 0; i < n; i++)
        first[i] = again[i] = random_unit(&seed);
    struct swh_lu *lu = swh_lu_create(n, s.col_ptr, s.row_idx);
    assert_int_equal(swh_lu_factor(lu, 0.3, s.value), -1);
    swh_lu_solve(lu, first);
    assert_int_equal(swh_lu_factor(lu, 3e5, s.value), -1);
    assert_int_equal(swh_lu_factor(lu, 0.3, s.value), -1);
    swh_lu_solve(lu, again);
    assert_memory_equal(first, again, sizeof first);
    swh_lu_free(lu);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_against_dense),           cmocka_unit_test(test_pivots_that_cancel_are_lost),
        cmocka_unit_test(test_eigenvectors_of_a_chain), cmocka_unit_test(test_no_needless_fill),
        cmocka_unit_test(test_units_do_not_matter),     cmocka_unit_test(test_same_bits_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
