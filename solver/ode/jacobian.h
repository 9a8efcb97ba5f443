/* The Jacobian df/dy of a sparse system by differences: columns that share no row are shifted together, so
 * the number of evaluations is the number of colours, not of states. Private to solver/;
 * knows no SUNDIALS. */
#ifndef SWH_SOLVER_ODE_JACOBIAN_H
#define SWH_SOLVER_ODE_JACOBIAN_H

struct swh_jacobian;

/* 0: dydt is good; > 0: y cannot be evaluated; < 0: give up */
typedef int (*swh_jacobian_rates)(double t, const double *y, double *dydt, void *context);

/* The pattern (compressed columns; NULL, NULL: dense) is copied. rtol, atol: per state, they set the least
 * shift; atol = INFINITY marks a sum, whose column is known to be zero if it has no entry but its diagonal.
 * NULL if memory is short. Colouring: greedy, Curtis, Powell and Reid, J. Inst. Math. Appl. 13 (1974) 117. */
struct swh_jacobian *swh_jacobian_create(int n, const int *col_ptr, const int *row_idx, const double *rtol,
                                         const double *atol);
void swh_jacobian_free(struct swh_jacobian *jac);

/* Columns of states that weigh little on the rates within one step (the temperature of a metal on the gas
 * that washes it): marked ones get colours of their own and are taken anew at every eighth evaluation that
 * asks for them, and at the first one after swh_jacobian_forget, only. Between these they stay as they were,
 * each as a whole, so that sums that vanish in a column go on vanishing. Returns 0 if memory is short. */
int swh_jacobian_set_slow(struct swh_jacobian *jac, const unsigned char *slow);
void swh_jacobian_forget(struct swh_jacobian *jac);
/* Columns that `derivatives` fills (marked; see swh_ode_derivatives): they take no part in the differences.
 * The rest, slow ones apart, is then taken anew at every fourth evaluation, and at the first one after
 * swh_jacobian_forget, only. Returns 0 if memory is short. */
typedef int (*swh_jacobian_derivatives)(double t, const double *y, double *values, void *context);
int swh_jacobian_set_derivatives(struct swh_jacobian *jac, const unsigned char *sloped,
                                 swh_jacobian_derivatives derivatives);
int swh_jacobian_has_slow(const struct swh_jacobian *jac); /* taken since it forgot */

/* Differences at (t, y) with f(t, y) = fy given. If one side of a colour cannot be evaluated the other side
 * is tried. Returns 0, or what `rates` returned when both sides failed. A weighted sum of the rates that
 * vanishes identically vanishes in every column too, to rounding: shifts are taken as they were made, y + d -
 * y. */
int swh_jacobian_evaluate(struct swh_jacobian *jac, double t, const double *y, const double *fy,
                          swh_jacobian_rates rates, void *context);
/* the same without the slow columns, which stay as they were */
int swh_jacobian_evaluate_fast(struct swh_jacobian *jac, double t, const double *y, const double *fy,
                               swh_jacobian_rates rates, void *context);

/* left -= (I - gamma J) x; with_slow = 0: a J whose slow columns are zero */
void swh_jacobian_take_product(const struct swh_jacobian *jac, double gamma, int with_slow, const double *x,
                               double *left);

const double *swh_jacobian_values(const struct swh_jacobian *jac); /* in the order of row_idx */
const int *swh_jacobian_col_ptr(const struct swh_jacobian *jac);
const int *swh_jacobian_row_idx(const struct swh_jacobian *jac);
int swh_jacobian_colours(const struct swh_jacobian *jac);      /* evaluations for one without slow columns */
long swh_jacobian_rates_calls(const struct swh_jacobian *jac); /* evaluations so far */

#endif
