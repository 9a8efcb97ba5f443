/* The serial vector of SUNDIALS with the kernels an integrator spends its time in replaced by our own.
 * Distributions build SUNDIALS without optimisation (a weighted norm of 80 numbers then takes longer than a
 * right-hand side), and its kernels pick special cases by branches that are no gain at our sizes. Private to
 * solver/. */
#ifndef SWH_SOLVER_ODE_VECTOR_H
#define SWH_SOLVER_ODE_VECTOR_H

#include <nvector/nvector_serial.h>

/* A vector of n zeros. Its clones have the same kernels. NULL if memory is short. */
N_Vector swh_vector_new(int n, SUNContext ctx);

/* The numbers of such a vector, without the two calls that N_VGetArrayPointer takes. */
static inline double *swh_vector_values(N_Vector v)
{
    return NV_DATA_S(v);
}

#endif
