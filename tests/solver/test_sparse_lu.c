/* The sparse LU against closed forms and a dense elimination with pivoting. */
#include "solver/ode/sparse_lu.h"
#include "tests/check.h"

#include <stdlib.h>

enum { N = 40 };

/* a pattern with its values, by columns */
struct matrix {
    int n, col_ptr[N + 1], row_idx[N * N];
    double J[N * N];
};

static void from_dense(struct matrix *m, int n, double D[N][N])
{
    m->n = n;
    m->col_ptr[0] = 0;
    for (int j = 0, k = 0; j < n; j++) {
        for (int i = 0; i < n; i++)
            if (i == j || D[i][j] != 0) {
                m->row_idx[k] = i;
                m->J[k++] = D[i][j];
            }
        m->col_ptr[j + 1] = k;
    }
}

/* the same J for any test run: Knuth's linear congruential generator (MMIX) */
static double next_random(unsigned long long *seed)
{
    *seed = *seed * 6364136223846793005ULL + 1442695040888963407ULL;
    return (double)(*seed >> 11) / 9007199254740992.0 - 0.5;
}

/* x of (I - gamma D) x = b by Gauss elimination with row pivoting, textbook */
static void dense_solve(int n, double gamma, double D[N][N], double *x)
{
    static double A[N][N];
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++)
            A[i][j] = (i == j) - gamma * D[i][j];
    for (int k = 0; k < n; k++) {
        int best = k;
        for (int i = k; i < n; i++)
            best = fabs(A[i][k]) > fabs(A[best][k]) ? i : best;
        for (int j = 0; j < n; j++) {
            const double swap = A[k][j];
            A[k][j] = A[best][j];
            A[best][j] = swap;
        }
        const double swap = x[k];
        x[k] = x[best];
        x[best] = swap;
        for (int i = k + 1; i < n; i++) {
            const double f = A[i][k] / A[k][k];
            for (int j = k; j < n; j++)
                A[i][j] -= f * A[k][j];
            x[i] -= f * x[k];
        }
    }
    for (int i = n - 1; i >= 0; i--) {
        for (int j = i + 1; j < n; j++)
            x[i] -= A[i][j] * x[j];
        x[i] /= A[i][i];
    }
}

/* -u'' = 1 on a grid, u = 0 at both ends: u_i = i (n + 1 - i)/2, textbook */
static void poisson(void **state)
{
    (void)state;
    static double D[N][N];
    static struct matrix m;
    memset(D, 0, sizeof D);
    for (int i = 0; i < N; i++) { /* I - gamma D is the second difference with gamma = 1 */
        D[i][i] = 1 - 2;
        if (i > 0)
            D[i][i - 1] = D[i - 1][i] = 1;
    }
    from_dense(&m, N, D);
    struct swh_lu *lu = swh_lu_create(N, m.col_ptr, m.row_idx);
    assert_non_null(lu);
    assert_int_equal(swh_lu_factor(lu, 1.0, m.J), -1);
    assert_int_equal(swh_lu_entries(lu),
                     4 * (3 * N / 2 - 2)); /* a chain of pairs has an order without fill */
    double x[N];
    for (int i = 0; i < N; i++)
        x[i] = 1;
    swh_lu_solve(lu, x);
    for (int i = 0; i < N; i++)
        CHECK_CLOSE(x[i], 0.5 * (i + 1) * (N - i), 1e-13, 0);
    swh_lu_free(lu);
}

/* an exchange network: what leaves one state enters others, in units from 1e-3 to 1e5 */
static void make_exchange(double D[N][N], unsigned long long seed)
{
    memset(D, 0, sizeof(double) * N * N);
    for (int j = 0; j < N; j++)
        for (int k = 0; k < 3; k++) {
            const int i = (int)((next_random(&seed) + 0.5) * N) % N;
            const double rate = pow(10.0, 8 * next_random(&seed));
            if (i == j)
                continue;
            D[i][j] += rate;
            D[j][j] -= rate;
        }
    for (int i = 0; i < N; i++)
        for (int j = 0; j < N; j++)
            D[i][j] *= pow(10.0, (i % 9) - (j % 9)); /* change of units */
}

static void random_exchange(void **state)
{
    (void)state;
    static double D[N][N];
    static struct matrix m;
    for (unsigned long long seed = 1; seed <= 20; seed++) {
        make_exchange(D, seed);
        from_dense(&m, N, D);
        struct swh_lu *lu = swh_lu_create(N, m.col_ptr, m.row_idx);
        for (double gamma = 1e-6; gamma < 1e3; gamma *= 31) {
            double x[N], expected[N];
            for (int i = 0; i < N; i++)
                x[i] = expected[i] = pow(10.0, i % 9) * (1 + 0.1 * i);
            assert_int_equal(swh_lu_factor(lu, gamma, m.J), -1);
            swh_lu_solve(lu, x);
            dense_solve(N, gamma, D, expected);
            for (int i = 0; i < N; i++)
                CHECK_CLOSE(x[i], expected[i], 1e-6, 1e-9 * pow(10.0, i % 9));
        }
        swh_lu_free(lu);
    }
}

/* sums read everything and are read by nothing: however many there are, no fill comes from them */
static void sums_cost_no_fill(void **state)
{
    (void)state;
    static double D[N][N];
    static struct matrix m;
    memset(D, 0, sizeof D);
    const int core = 10;
    for (int i = 0; i < core; i++) {
        D[i][i] = -2;
        D[i][(i + 1) % core] = D[(i + 1) % core][i] = 1;
    }
    from_dense(&m, core, D);
    struct swh_lu *lu = swh_lu_create(core, m.col_ptr, m.row_idx);
    const int bare = swh_lu_entries(lu);
    swh_lu_free(lu);
    for (int i = core; i < N; i++)
        for (int j = 0; j < core; j++)
            D[i][j] = 1 + i + j;
    from_dense(&m, N, D);
    lu = swh_lu_create(N, m.col_ptr, m.row_idx);
    assert_int_equal(swh_lu_entries(lu), bare + 4 * (N - core) / 2 * (core / 2 + 1)); /* pairs of both */
    swh_lu_free(lu);
}

static void lost_pivot_is_named(void **state)
{
    (void)state;
    /* I - D = [[1, 1], [1, 1]] in units that differ by 1e12: singular */
    static double D[N][N];
    static struct matrix m;
    memset(D, 0, sizeof D);
    D[0][1] = -1e12;
    D[1][0] = -1e-12;
    from_dense(&m, 2, D);
    struct swh_lu *lu = swh_lu_create(2, m.col_ptr, m.row_idx);
    const int row = swh_lu_factor(lu, 1.0, m.J);
    assert_true(row == 0 || row == 1);
    assert_int_equal(swh_lu_factor(lu, 0.5, m.J), -1); /* determinant 3/4 */
    m.J[0] = NAN;
    assert_int_not_equal(swh_lu_factor(lu, 0.5, m.J), -1);
    m.J[0] = INFINITY;
    assert_int_not_equal(swh_lu_factor(lu, 0.5, m.J), -1);
    swh_lu_free(lu);
}

/* The determinant of [[1, 1], [1, 1 + e]] is e, the difference of terms of 1 and 1. */
static void cancelled(void **state)
{
    (void)state;
    static const double left[] = {0.1, 1e-4, 1e-9};
    for (unsigned k = 0; k < sizeof left / sizeof *left; k++) {
        static double D[N][N];
        static struct matrix m;
        memset(D, 0, sizeof D);
        D[0][1] = D[1][0] = -1;
        D[1][1] = -left[k]; /* I - D */
        from_dense(&m, 2, D);
        struct swh_lu *lu = swh_lu_create(2, m.col_ptr, m.row_idx);
        assert_int_equal(swh_lu_factor(lu, 1, m.J), -1);
        CHECK_BETWEEN(swh_lu_kept(lu) / (left[k] / 2), 0.999, 1.001);
        swh_lu_free(lu);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(poisson),           cmocka_unit_test(random_exchange),
        cmocka_unit_test(sums_cost_no_fill), cmocka_unit_test(lost_pivot_is_named),
        cmocka_unit_test(cancelled),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
