/* The corrector's iteration: modified Newton that learns on the way.
 *
 * CVODES's own iteration gives up as soon as an old Jacobian does not converge at once, and the step is cut
 * to a quarter. In a refrigerant circuit a Jacobian turns old within one step whenever a volume crosses a
 * saturation line, about fifteen times after each clutch event. Here each step taken is used to correct the
 * factorised matrix (Broyden's rank-one updates; Kelley, Iterative Methods for Linear and Nonlinear
 * Equations, SIAM 1995, sec. 7.3), and where that does not help the Jacobian is taken anew at the present
 * iterate. Private to solver/. */
#ifndef SWH_SOLVER_ODE_NEWTON_H
#define SWH_SOLVER_ODE_NEWTON_H

#include <sundials/sundials_nonlinearsolver.h>

/* To be set as CVODES's coefficient of the convergence test: from it and the test's tolerance the iteration
 * knows what the error test will say. */
#define SWH_NEWTON_COEFFICIENT 0.03

/* step = -(factorised matrix)^-1 residual, scaled for a gamma that has changed since */
typedef void (*swh_newton_correct)(void *user, const double *residual, double *step);

/* the rates at t and y; 0, above 0 if a smaller step may get round what went wrong, below 0 if none can */
typedef int (*swh_newton_rates)(double t, const double *y, double *dy, void *user);

/* For vectors like `like`. `correct` takes the place of CVODES's way to the linear solver, which copies more
 * than it solves, and `rates` that of its residual, which passes over the vectors once for every sum: so
 * CVODES counts no rates. NULL if memory is short. */
SUNNonlinearSolver swh_newton_new(N_Vector like, swh_newton_correct correct, swh_newton_rates rates,
                                  void *user, SUNContext ctx);

/* What a step is multiplied by whose matrix I - gamma J was factorised with another gamma; `ratio` is the
 * present gamma over the factorised one. 2 / (1 + ratio), as CVODES does after a direct solver (its user
 * guide, section on the nonlinear solve): a component that the Jacobian rules then contracts by (1 - ratio) /
 * (1 + ratio) an iteration, where no factor leaves 1 - ratio.
 * Worth 2 % of the iterations of a cycling run. */
double swh_newton_stale_gamma(double ratio);

#endif
