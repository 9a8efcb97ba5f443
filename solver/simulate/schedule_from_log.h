/* A log as the drive of the closed circuit: what the world did (speed, road, ambient, clutch) becomes the
 * schedule of a case; what the machine answered stays in the log, to be compared. */
#ifndef SWH_SOLVER_SIMULATE_SCHEDULE_FROM_LOG_H
#define SWH_SOLVER_SIMULATE_SCHEDULE_FROM_LOG_H

#include "solver/simulate/log_memory.h"

/* Does the channel drive the circuit (the rest is computed and compared)? */
bool swh_schedule_follows(enum swh_channel channel);

/* What was concluded from the log about things it does not carry. */
struct swh_schedule_facts {
    bool doors_open; /* standing vehicle whose cabin follows the outside air */
    bool clutch_from_log;
    double start_temperature, start_body_temperature, start_cabin_temperature; /* K */
    double duration;                                                           /* s */
};

/* Makes `to` a copy of `vehicle` driven by the log: schedule of speed, road speed, ambient, humidity,
 * under-hood temperature and clutch as far as the log has them (straight lines within the sensors' noise, so
 * that the integrator meets few corners), soak temperatures from the first readings. With a logged clutch the
 * switches of the model are taken out of play. A set doors_open in `vehicle` (doors_given) is kept.
 * SWH_ERR_INPUT if the log is shorter than two rows, SWH_ERR_MEMORY. Free with swh_case_free. */
enum swh_status swh_schedule_from_log(struct swh_case *to, const struct swh_case *vehicle,
                                      const struct swh_log_memory *log, bool doors_given,
                                      struct swh_schedule_facts *facts, struct swh_error *err);

#endif
