/* A temperature probe clamped on a pipe, and the air under the bonnet that pulls at it. */
#ifndef SWH_MODEL_PARTS_CLAMP_H
#define SWH_MODEL_PARTS_CLAMP_H

#include "model/tables/tables.h"

/* Air under the bonnet [K]: as measured, else a rise over the outside air that falls with the vehicle's speed
 * (form and size: common practice, no source). */
double swh_bay_temperature(const struct swh_params *p, const struct swh_inputs *in);

/* what a clamp on a pipe at T [K] reads in the end: pulled toward the air round it */
static inline double probe_equilibrium(const struct swh_params *p, double T, double T_bay)
{
    return T - p->probe_discharge_pull * (T - T_bay);
}

/* the pipe's temperature [K] from what its clamp reads in the end: the inverse of that */
static inline double probe_pipe_temperature(const struct swh_params *p, double T_clamp, double T_bay)
{
    return (T_clamp - p->probe_discharge_pull * T_bay) / (1 - p->probe_discharge_pull);
}

#endif
