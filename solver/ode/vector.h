/* The serial vector of SUNDIALS with the kernels an integrator spends its time in replaced by our own.
 * Distributions build SUNDIALS without optimisation (a weighted norm of 80 numbers then takes longer than a
 * right-hand side), and its kernels pick special cases by branches that are no gain at our sizes. Private to
 * solver/. */
#ifndef SWH_SOLVER_ODE_VECTOR_H
#define SWH_SOLVER_ODE_VECTOR_H

#include <nvector/nvector_serial.h>

/* A store of `count` vectors of n numbers, made at once: N_VClone takes its clones from there and N_VDestroy
 * gives them back. SUNDIALS 6.4 crashes where a clone cannot be had (N_VClone sets a member of what it got),
 * so that memory must not run short while it works. */
struct swh_vectors;
/* NULL if memory is short. */
struct swh_vectors *swh_vectors_new(int n, int count, SUNContext ctx);
/* A vector of zeros; NULL if all are taken. N_VDestroy gives it back. */
N_Vector swh_vectors_take(struct swh_vectors *s);
/* All vectors must have been given back. */
void swh_vectors_free(struct swh_vectors *s);

/* The numbers of such a vector, without the two calls that N_VGetArrayPointer takes. */
static inline double *swh_vector_values(N_Vector v)
{
    return NV_DATA_S(v);
}

#endif
