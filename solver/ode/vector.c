#include "solver/ode/vector.h"

#include "model/base/wide.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

static int length(N_Vector v)
{
    return (int)NV_LENGTH_S(v);
}

/* z = a x + b z, the two apart in memory */
static void add_into(int n, double a, const double *restrict x, double b, double *restrict z)
{
    for (int i = 0; i < n; i++)
        z[i] = a * x[i] + b * z[i];
}

static void add_apart(int n, double a, const double *restrict x, double b, const double *restrict y,
                      double *restrict z)
{
    for (int i = 0; i < n; i++)
        z[i] = a * x[i] + b * y[i];
}

static void scale_apart(int n, double c, const double *restrict x, double *restrict z)
{
    for (int i = 0; i < n; i++)
        z[i] = c * x[i];
}

static void scale_in_place(int n, double c, double *z)
{
    for (int i = 0; i < n; i++)
        z[i] *= c;
}

SWH_WIDE static void linear_sum(realtype a, N_Vector x, realtype b, N_Vector y, N_Vector z)
{
    const int n = length(z);
    const double *X = swh_vector_values(x), *Y = swh_vector_values(y);
    double *Z = swh_vector_values(z);
    if (X == Y && X == Z)
        scale_in_place(n, a + b, Z);
    else if (Z == Y)
        add_into(n, a, X, b, Z);
    else if (Z == X)
        add_into(n, b, Y, a, Z);
    else
        add_apart(n, a, X, b, Y, Z);
}

static void set_constant(realtype c, N_Vector z)
{
    double *restrict v = swh_vector_values(z);
    for (int i = 0, n = length(z); i < n; i++)
        v[i] = c;
}

SWH_WIDE static void scale(realtype c, N_Vector x, N_Vector z)
{
    const double *X = swh_vector_values(x);
    double *Z = swh_vector_values(z);
    if (X == Z) {
        if (c != 1)
            scale_in_place(length(z), c, Z);
    } else if (c == 1)
        memcpy(Z, X, (size_t)length(z) * sizeof *Z);
    else
        scale_apart(length(z), c, X, Z);
}

/* sqrt(mean((x w)^2)); four sums in a fixed order, so that the result does not depend on the compiler */
SWH_WIDE static realtype weighted_rms(N_Vector x, N_Vector w)
{
    const int n = length(x);
    const double *X = swh_vector_values(x), *W = swh_vector_values(w);
    double s0 = 0, s1 = 0, s2 = 0, s3 = 0;
    int i = 0;
    for (; i + 3 < n; i += 4) {
        const double a = X[i] * W[i], b = X[i + 1] * W[i + 1], c = X[i + 2] * W[i + 2],
                     d = X[i + 3] * W[i + 3];
        s0 += a * a;
        s1 += b * b;
        s2 += c * c;
        s3 += d * d;
    }
    for (; i < n; i++) {
        const double a = X[i] * W[i];
        s0 += a * a;
    }
    return sqrt(((s0 + s2) + (s1 + s3)) / n);
}

/* Z[k] = a[k] x + Y[k] */
static int scale_add_multi(int count, realtype *a, N_Vector x, N_Vector *Y, N_Vector *Z)
{
    for (int k = 0; k < count; k++)
        linear_sum(a[k], x, 1.0, Y[k], Z[k]);
    return 0;
}

/* z = sum of c[k] X[k]; z may be X[0] */
static int linear_combination(int count, realtype *c, N_Vector *X, N_Vector z)
{
    scale(c[0], X[0], z);
    for (int k = 1; k < count; k++)
        linear_sum(c[k], X[k], 1.0, z, z);
    return 0;
}

static int scale_array(int count, realtype *c, N_Vector *X, N_Vector *Z)
{
    for (int k = 0; k < count; k++)
        scale(c[k], X[k], Z[k]);
    return 0;
}

/* ---- a store of vectors ---- */

/* what N_VClone and N_VDestroy need to find the store; begins as the serial vector's content does */
struct content {
    struct _N_VectorContent_Serial serial;
    struct swh_vectors *store;
    bool taken;
};

struct swh_vectors {
    int count, free;
    double *numbers;
    struct content *content;
    N_Vector *vector; /* the first `free` ones are to be had */
};

static N_Vector take(N_Vector like)
{
    return swh_vectors_take(((struct content *)like->content)->store);
}

static void give_back(N_Vector v)
{
    struct content *c = v->content;
    if (c->taken) /* where an allocation fails, SUNDIALS 6.4 gives vectors back twice */
        c->store->vector[c->store->free++] = v;
    c->taken = false;
}

static void set_kernels(N_Vector v)
{
    v->ops->nvlinearsum = linear_sum;
    v->ops->nvconst = set_constant;
    v->ops->nvscale = scale;
    v->ops->nvwrmsnorm = weighted_rms;
    v->ops->nvscaleaddmulti = scale_add_multi;
    v->ops->nvlinearcombination = linear_combination;
    v->ops->nvscalevectorarray = scale_array;
    v->ops->nvclone = take;
    v->ops->nvcloneempty = take;
    v->ops->nvdestroy = give_back;
}

static bool make_one(struct swh_vectors *s, int n, SUNContext ctx)
{
    N_Vector v = N_VNewEmpty_Serial(n, ctx);
    if (!v)
        return false;
    struct content *c = &s->content[s->free];
    c->serial = *(struct _N_VectorContent_Serial *)v->content;
    c->serial.data = s->numbers + (size_t)s->free * (size_t)n;
    c->serial.own_data = SUNFALSE;
    c->store = s;
    c->taken = false;
    free(v->content);
    v->content = c;
    set_kernels(v);
    s->vector[s->free++] = v;
    return true;
}

struct swh_vectors *swh_vectors_new(int n, int count, SUNContext ctx)
{
    struct swh_vectors *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    s->count = count;
    s->numbers = malloc((size_t)n * (size_t)count * sizeof *s->numbers);
    s->content = malloc((size_t)count * sizeof *s->content);
    s->vector = malloc((size_t)count * sizeof(N_Vector));
    bool good = s->numbers && s->content && s->vector;
    for (int i = 0; i < count && good; i++)
        good = make_one(s, n, ctx);
    if (good)
        return s;
    swh_vectors_free(s);
    return NULL;
}

N_Vector swh_vectors_take(struct swh_vectors *s)
{
    if (s->free == 0)
        return NULL;
    N_Vector v = s->vector[--s->free];
    ((struct content *)v->content)->taken = true;
    set_constant(0, v);
    return v;
}

void swh_vectors_free(struct swh_vectors *s)
{
    if (!s)
        return;
    for (int i = 0; i < s->free; i++) {
        s->vector[i]->content = NULL;
        N_VFreeEmpty(s->vector[i]);
    }
    free(s->vector);
    free(s->content);
    free(s->numbers);
    free(s);
}
