/* Where in its schedule a run is: between two stops the inputs are straight lines in time. */
#ifndef SWH_SOLVER_SIMULATE_SCHEDULE_SEGMENT_H
#define SWH_SOLVER_SIMULATE_SCHEDULE_SEGMENT_H

#include "solver/simulate/case.h"

/* The row of the schedule that is in force until the next stop; 0 at the start. */
struct swh_schedule_segment {
    const struct swh_case *c;
    size_t row;
};

/* Inputs at time t [s]; outside the present segment its line is continued. */
void swh_schedule_inputs(const struct swh_schedule_segment *s, double t, struct swh_inputs *in);
/* Moves on to the segment that holds t; says whether a STEP column jumps on the way. */
bool swh_schedule_move(struct swh_schedule_segment *s, double t);
/* Time of the next row [s], INFINITY if there is none: the integrator has to stop there. */
double swh_schedule_next(const struct swh_schedule_segment *s);

#endif
