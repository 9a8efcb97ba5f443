/* Two states make one pivot: what a volume holds (mass, energy) has rows and columns of one pattern, so that
 * a place found once serves four numbers. */
#include "solver/ode/sparse_lu_symbolic.h"

#include <stdlib.h>
#include <string.h>

static int *new_ints(int n)
{
    return calloc((size_t)(n > 0 ? n : 1), sizeof(int));
}

static pair *new_pairs(int n)
{
    return calloc((size_t)(n > 0 ? n : 1), sizeof(pair));
}

static struct block *new_blocks(int n)
{
    return calloc((size_t)(n > 0 ? n : 1), sizeof(struct block));
}

void swh_lu_free(struct swh_lu *lu)
{
    if (!lu)
        return;
    void *const parts[] = {lu->state,        lu->val,    lu->inverse,       lu->column,     lu->row_end,
                           lu->load,         lu->terms,  lu->l_first,       lu->l_entry,    lu->x,
                           lu->target_first, lu->target, lu->pivot_product, lu->pivot_first};
    for (unsigned i = 0; i < sizeof parts / sizeof parts[0]; i++)
        free(parts[i]);
    free(lu);
}

/* a pattern and where its values stand in J; -1: nowhere, it is the identity's */
struct pattern {
    int *ptr, *idx, *src;
};

/* ---- pairs of states ---- */

/* which entries there are off the diagonal: a line of bits for each row, then for each column */
struct lines {
    int n, words;
    uint64_t *row, *column;
};

static uint64_t *line_of(const struct lines *b, uint64_t *lines, int i)
{
    return lines + (size_t)i * (size_t)b->words;
}

static void set_entry(const struct lines *b, int row, int column)
{
    line_of(b, b->row, row)[column / 64] |= (uint64_t)1 << (column % 64);
    line_of(b, b->column, column)[row / 64] |= (uint64_t)1 << (row % 64);
}

static int ones(uint64_t x)
{
    int count = 0;
    for (; x; x &= x - 1)
        count++;
    return count;
}

static int is_empty(const struct lines *b, const uint64_t *line)
{
    for (int w = 0; w < b->words; w++)
        if (line[w])
            return 0;
    return 1;
}

/* Entries that only one of two lines has; `shared` counts those of both, and those that couple i and j. */
static int differ(const struct lines *b, uint64_t *lines, int i, int j, int *shared)
{
    const uint64_t *v = line_of(b, lines, i), *w = line_of(b, lines, j);
    int count = 0;
    for (int k = 0; k < b->words; k++) {
        uint64_t own = i / 64 == k ? (uint64_t)1 << (i % 64) : 0;
        own |= j / 64 == k ? (uint64_t)1 << (j % 64) : 0;
        count += ones((v[k] ^ w[k]) & ~own);
        *shared += ones(v[k] & w[k]) + ones((v[k] | w[k]) & own);
    }
    return count;
}

/* A column that is empty causes no fill, unless its state is paired with one that does. */
enum kind { LEFT_OUT, LEAF, COUPLED, KINDS };

struct pairing {
    struct lines lines;
    int *kind, *mate; /* mate: itself while alone */
};

/* The state after i, alone and of its kind, with which least is carried along that only one of both has; i if
 * there is none that shares anything. */
static int best_mate(const struct pairing *p, int i)
{
    int best = i, least = 0;
    for (int j = i + 1; j < p->lines.n; j++) {
        if (p->mate[j] != j || p->kind[j] != p->kind[i])
            continue;
        int shared = p->kind[i] != COUPLED;
        const int alone = differ(&p->lines, p->lines.row, i, j, &shared) +
                          differ(&p->lines, p->lines.column, i, j, &shared);
        if (shared > 0 && (best == i || alone < least)) {
            best = j;
            least = alone;
        }
    }
    return best;
}

static void find_mates(struct pairing *p, const struct pattern *a)
{
    const int n = p->lines.n;
    for (int c = 0; c < n; c++)
        for (int k = a->ptr[c]; k < a->ptr[c + 1]; k++)
            if (a->idx[k] != c)
                set_entry(&p->lines, a->idx[k], c);
    for (int i = 0; i < n; i++) {
        p->mate[i] = i;
        p->kind[i] = a->src[a->ptr[i]] < 0                                         ? LEFT_OUT
                     : is_empty(&p->lines, line_of(&p->lines, p->lines.column, i)) ? LEAF
                                                                                   : COUPLED;
    }
    for (int i = 0; i < n; i++)
        if (p->mate[i] == i) {
            const int j = best_mate(p, i);
            p->mate[i] = j;
            p->mate[j] = i;
        }
}

/* blocks, those of the identity first */
static void number_pairs(struct swh_lu *lu, const struct pairing *p)
{
    for (int kind = LEFT_OUT; kind < KINDS; kind++)
        for (int i = 0; i < lu->n; i++) {
            if (p->kind[i] != kind || p->mate[i] < i)
                continue;
            lu->state[PAIR * lu->blocks] = i;
            lu->state[PAIR * lu->blocks + 1] = p->mate[i];
            lu->blocks++;
            lu->identity += kind == LEFT_OUT;
        }
}

static int find_pairs(struct swh_lu *lu, const struct pattern *a)
{
    const int n = lu->n, words = (n + 63) / 64;
    const size_t all = (size_t)n * (size_t)words;
    uint64_t *bits = calloc(2 * all, sizeof *bits);
    int *ints = new_ints(2 * n);
    const int fine = bits && ints;
    if (fine) {
        struct pairing p = {{n, words, bits, bits + all}, ints, ints + n};
        find_mates(&p, a);
        number_pairs(lu, &p);
    }
    free(bits);
    free(ints);
    return fine;
}

/* ---- ordering ---- */

struct ordering {
    int n;                   /* blocks */
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

static void mark_blocks(const struct swh_lu *lu, const struct pattern *a, int *block_of, unsigned char *on)
{
    for (int k = PAIR * lu->blocks - 1; k >= 0; k--)
        block_of[lu->state[k]] = k / PAIR;
    for (int c = 0; c < lu->n; c++)
        for (int k = a->ptr[c]; k < a->ptr[c + 1]; k++)
            on[block_of[a->idx[k]] * lu->blocks + block_of[c]] = 1;
}

/* brings the blocks into the order of elimination; those of the identity stay the first */
static void put_in_order(struct swh_lu *lu, struct ordering *o, int *order, int *state)
{
    memcpy(state, lu->state, (size_t)(PAIR * lu->blocks) * sizeof *state);
    count_entries(o);
    for (int k = 0; k < lu->blocks; k++) {
        order[k] = k < lu->identity ? k : best_pivot(o);
        settle(o, order[k]);
        memcpy(lu->state + PAIR * k, state + PAIR * order[k], PAIR * sizeof *state);
    }
}

/* Orders the blocks; place[i n + j], n x n, is 1 where the ordered matrix and its
 * fill have a block, else 0. */
static int find_order(struct swh_lu *lu, const struct pattern *a, int *place)
{
    const int n = lu->blocks;
    int *ints = new_ints((4 + PAIR) * n + lu->n);
    unsigned char *bytes = calloc((size_t)n * (size_t)(n + 1), 1);
    const int fine = ints && bytes;
    if (fine) {
        struct ordering o = {n, bytes + n, ints, ints + n, ints + 2 * n, bytes};
        int *order = ints + 3 * n;
        mark_blocks(lu, a, order + (1 + PAIR) * n, o.on);
        put_in_order(lu, &o, order, order + n);
        for (int i = 0; i < n; i++)
            for (int j = 0; j < n; j++)
                place[i * n + j] = o.on[order[i] * n + order[j]];
    }
    free(ints);
    free(bytes);
    return fine;
}

/* ---- lists; place[i n + j] of the blocks: 1 + number of the block, 0: none ---- */

/* numbers the blocks of row i, from column `from` towards `end` */
static void number_row(struct swh_lu *lu, int *place, int *count, int i, int from, int end, int step)
{
    for (int j = from; j != end; j += step)
        if (place[i * lu->blocks + j]) {
            lu->column[*count] = j;
            place[i * lu->blocks + j] = ++*count;
        }
}

static void list_columns(struct swh_lu *lu, const int *place)
{
    const int n = lu->blocks;
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
    const int n = lu->blocks;
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
    while (lu->first_below < n && lu->row_end[lu->first_below] == 0)
        lu->first_below++;
    list_columns(lu, place);
    return 1;
}

static int products_of(const struct swh_lu *lu)
{
    int count = 0;
    for (int j = 0; j < lu->blocks; j++)
        count += (lu->l_first[j + 1] - lu->l_first[j]) * u_row_length(lu, j);
    return count;
}

/* where J's values go; the diagonal of a column left out is that of the identity: nothing is loaded there */
static int list_loads(struct swh_lu *lu, const struct pattern *a, const int *where, const int *place)
{
    lu->load = calloc((size_t)(a->ptr[lu->n] + 1), sizeof *lu->load);
    if (!lu->load)
        return 0;
    for (int c = 0; c < lu->n; c++)
        for (int k = a->ptr[c]; k < a->ptr[c + 1]; k++) {
            const int i = where[a->idx[k]], j = where[c];
            const int block = place[i / PAIR * lu->blocks + j / PAIR] - 1;
            if (a->src[k] >= 0)
                lu->load[lu->loads++] = (struct term){block * BLOCK + j % PAIR * PAIR + i % PAIR, a->src[k]};
        }
    return 1;
}

/* where the products of each pivot's column of L with its row of U go, row by row */
static int list_targets(struct swh_lu *lu, const int *place)
{
    const int n = lu->blocks;
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

/* of these, the products that go to a pivot */
static int list_pivot_products(struct swh_lu *lu, const int *place)
{
    const int n = lu->blocks;
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

static int make_lists(struct swh_lu *lu, const struct pattern *a, int *place)
{
    int *where = new_ints(lu->n); /* of each state: its row */
    if (!where)
        return 0;
    for (int k = PAIR * lu->blocks - 1; k >= 0; k--)
        where[lu->state[k]] = k;
    const int fine = number_entries(lu, place) && list_loads(lu, a, where, place) &&
                     list_targets(lu, place) && list_pivot_products(lu, place);
    free(where);
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

static int analyse(struct swh_lu *lu, const struct pattern *a)
{
    lu->state = new_ints(PAIR * lu->n);
    if (!lu->state || !find_pairs(lu, a))
        return 0;
    int *place = new_ints(lu->blocks * lu->blocks);
    const int fine = place && find_order(lu, a, place) && make_lists(lu, a, place);
    free(place);
    if (!fine)
        return 0;
    lu->inverse = new_blocks(lu->blocks);
    lu->terms = new_pairs(lu->blocks);
    lu->x = new_pairs(lu->blocks);
    lu->val = new_blocks(lu->l_count + lu->u_count + lu->blocks);
    if (lu->val)
        lu->pivot = lu->val + lu->l_count + lu->u_count;
    return lu->inverse && lu->terms && lu->x && lu->val;
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
