/* Parameters that move during a run because a case says so itself: columns of its schedule named for
 * parameters, and faults of the user's own (keys and their values at full severity). */
#ifndef SWH_SOLVER_SIMULATE_MOVING_PARAMS_H
#define SWH_SOLVER_SIMULATE_MOVING_PARAMS_H

#include "solver/simulate/case.h"

/* Whether a parameter may change while a machine runs: not what only its start, its outputs or a fit ask for,
 * nor what holds mass or heat (volumes, heat capacities, the charge), whose balance would not close. */
bool swh_param_may_move(int param);

/* Puts the values of time t [s] into p, which holds the case's own. */
void swh_moving_params(const struct swh_case *c, double t, struct swh_params *p);
/* Whether one of them changes with time just now. */
bool swh_params_are_moving(const struct swh_case *c, double t);
/* Next instant after t at which a fault of the user's own begins, ends or finishes its ramp; INFINITY if
 * none. Rows of a schedule are stops already. */
double swh_moving_params_next(const struct swh_case *c, double t);

#endif
