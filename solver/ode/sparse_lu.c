/* LU without search, in blocks of two by two: what a volume holds (mass, energy) has rows and columns of one
 * pattern, so that two states make one pivot and a place found once serves four numbers. Ordering, fill and
 * every product are listed once; the numbers then run over flat lists (Gaussian elimination by columns,
 * "right-looking"; see Davis, Direct Methods for Sparse Linear Systems, 2006). At our sizes the ends of short
 * loops and the look-up of places would cost more than the arithmetic. */
#include "solver/ode/sparse_lu.h"

#include "solver/ode/sparse_lu_symbolic.h"

#include <math.h>
#include <string.h>

typedef int64_t pair_bits __attribute__((vector_size(16)));

int swh_lu_entries(const struct swh_lu *lu)
{
    return BLOCK * (lu->l_count + lu->u_count + lu->blocks);
}

double swh_lu_kept(const struct swh_lu *lu)
{
    return lu->kept;
}

static inline pair magnitude(pair v)
{
    const pair_bits all_but_sign = {INT64_MAX, INT64_MAX};
    return (pair)((pair_bits)v & all_but_sign);
}

/* the block times a column */
static inline pair times(const struct block *a, pair x)
{
    return a->column[0] * x[0] + a->column[1] * x[1];
}

static inline struct block product(const struct block *a, const struct block *b)
{
    return (struct block){{times(a, b->column[0]), times(a, b->column[1])}};
}

static inline pair larger(pair a, double least)
{
    return (pair){a[0] > least ? a[0] : least, a[1] > least ? a[1] : least};
}

/* I - gamma J */
static void load(struct swh_lu *lu, double gamma, const double *J)
{
    const int pivots = lu->l_count + lu->u_count;
    memset(lu->val, 0, (size_t)(pivots + lu->blocks) * sizeof *lu->val);
    double *val = (double *)lu->val;
    for (int k = 0; k < lu->loads; k++)
        val[lu->load[k].to] = -gamma * J[lu->load[k].from];
    for (int i = lu->identity; i < lu->blocks; i++) {
        struct block *p = lu->pivot + i;
        lu->terms[i] = larger(magnitude((pair){p->column[0][0], p->column[1][1]}), 1.0);
        p->column[0][0] += 1;
        p->column[1][1] += 1;
    }
}

/* inverts pivot j; -1, or the state whose pivot is lost */
static inline int invert(struct swh_lu *lu, int j)
{
    const pair *d = lu->pivot[j].column, terms = lu->terms[j];
    const double across = d[0][1] * d[1][0], det = d[0][0] * d[1][1] - across;
    const double of = terms[0] * terms[1] + fabs(across);
    if (!(fabs(det) > 1e-13 * of) || isinf(det))
        return lu->state[PAIR * j + (fabs(d[0][0]) > 1e-13 * terms[0] && !isinf(d[0][0]))];
    lu->kept = fmin(lu->kept, fabs(det) / of);
    const double r = 1 / det;
    lu->inverse[j] = (struct block){{{d[1][1] * r, -d[0][1] * r}, {-d[1][0] * r, d[0][0] * r}}};
    return -1;
}

/* what pivots lose of one product, for the judgement of what is left */
static inline void add_terms(struct swh_lu *lu, const struct product *p)
{
    const pair *l = lu->val[p->l].column, *u = lu->val[p->u].column;
    const pair first = {u[0][0], u[1][0]}, second = {u[0][1], u[1][1]};
    lu->terms[p->to] += magnitude(l[0] * first) + magnitude(l[1] * second);
}

static void eliminate(struct swh_lu *lu, int j)
{
    struct block *val = lu->val;
    const struct block *u = val + u_row(lu, j), inverse = lu->inverse[j];
    const int n = u_row_length(lu, j), *target = lu->target + lu->target_first[j];
    for (int k = lu->l_first[j]; k < lu->l_first[j + 1]; k++, target += n) {
        const struct block l = product(&val[lu->l_entry[k]], &inverse);
        val[lu->l_entry[k]] = l;
        for (int m = 0; m < n; m++) {
            struct block *to = val + target[m];
            const struct block less = product(&l, &u[m]);
            to->column[0] -= less.column[0];
            to->column[1] -= less.column[1];
        }
    }
    for (int k = lu->pivot_first[j]; k < lu->pivot_first[j + 1]; k++)
        add_terms(lu, lu->pivot_product + k);
}

int swh_lu_factor(struct swh_lu *lu, double gamma, const double *J)
{
    load(lu, gamma, J);
    lu->kept = 1;
    for (int j = lu->identity; j < lu->blocks; j++) {
        const int lost = invert(lu, j);
        if (lost >= 0)
            return lost;
        eliminate(lu, j);
    }
    for (int i = lu->identity; i < lu->blocks; i++) {
        struct block *u = lu->val + u_row(lu, i), *end = u + u_row_length(lu, i);
        for (; u < end; u++)
            *u = product(&lu->inverse[i], u);
    }
    return -1;
}

/* the blocks of L and U as they are gone through, row by row from the first to the last */
struct walk {
    const struct block *val;
    const int *column, *row_end;
    const pair *x;
};

/* sum less the blocks of the next row times what is known of x */
static inline pair take_row(struct walk *w, pair sum)
{
    const int n = w->row_end[0] - w->row_end[-1];
    w->row_end++;
    for (int k = 0; k < n; k++)
        sum -= times(w->val++, w->x[*w->column++]);
    return sum;
}

void swh_lu_solve_into(const struct swh_lu *lu, double factor, const double *b, double *out)
{
    pair *x = lu->x;
    const int n = lu->blocks, *state = lu->state;
    struct walk w = {lu->val, lu->column, lu->row_end + lu->first_below, x}; /* the first row is empty */
    for (int i = 0; i < n; i++)
        x[i] = (pair){b[state[PAIR * i]], b[state[PAIR * i + 1]]};
    for (int i = lu->first_below; i < n; i++)
        x[i] = take_row(&w, x[i]);
    for (int i = n - 1; i >= lu->identity; i--)
        x[i] = take_row(&w, times(&lu->inverse[i], x[i]));
    for (int i = lu->identity - 1; i >= 0; i--)
        x[i] = take_row(&w, x[i]);
    for (int i = 0; i < n; i++) {
        out[state[PAIR * i + 1]] = factor * x[i][1];
        out[state[PAIR * i]] = factor * x[i][0]; /* last: a row without a state repeats this one */
    }
}

void swh_lu_solve(const struct swh_lu *lu, double *b)
{
    swh_lu_solve_into(lu, 1, b, b);
}
