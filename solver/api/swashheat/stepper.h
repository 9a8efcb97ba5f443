/**
 * \file
 * A run that is taken further step by step, for
 * whoever computes the rest of the vehicle. */
#ifndef SWASHHEAT_STEPPER_H
#define SWASHHEAT_STEPPER_H

#include <swashheat/error.h>
#include <swashheat/setup.h>

#ifdef __cplusplus
extern "C" {
#endif

struct swh_stepper; /**< a machine at work, somewhere in time */

/**
 * Starts a machine at time 0.
 * \param stepper receives it, NULL on failure; release with swh_stepper_free()
 * \param setup is what it starts from; not needed any more afterwards. Its duration counts for nothing.
 * \param err what went wrong; may be NULL
 * \return SWH_OK, SWH_ERR_INPUT, SWH_ERR_RANGE,
 * SWH_ERR_SOLVER, SWH_ERR_MEMORY */
enum swh_status swh_stepper_new(struct swh_stepper **stepper, const struct swh_setup *setup,
                                struct swh_error *err);
/**
 * Releases it.
 * \param stepper may be
 * NULL */
void swh_stepper_free(struct swh_stepper *stepper);
/**
 * Sets a condition from now on, whatever the setup's schedule says.
 * \param stepper is changed
 * \param name "compressor_speed", "ambient_temperature", ... with or without "conditions." before it
 * \param value [SI], held until it is set again
 * \param err what went wrong; may be NULL
 * \return SWH_OK; SWH_ERR_INPUT for an unknown
 * condition or a value out of its limits */
enum swh_status swh_stepper_input(struct swh_stepper *stepper, const char *name, double value,
                                  struct swh_error *err);
/**
 * Goes on to a time, through all events on the way. After a seizure that ends the run, time goes on and
 * nothing changes. \param stepper is changed \param time not before the present time [s] \param err what went
 * wrong; may be NULL \return SWH_OK,
 * SWH_ERR_INPUT, SWH_ERR_RANGE, SWH_ERR_SOLVER */
enum swh_status swh_stepper_advance(struct swh_stepper *stepper, double time, struct swh_error *err);
/**
 * The present time.
 * \param stepper of it
 * \return s */
double swh_stepper_time(const struct swh_stepper *stepper);
/**
 * A channel at the present time.
 * \param stepper of it
 * \param channel index, see swh_channel_find()
 * \return its value [SI]; NaN if
 * it does not exist */
double swh_stepper_channel(const struct swh_stepper *stepper, int channel);
/**
 * How it has gone so far.
 * \param stepper of it
 * \return "survives", "shoe_seized", "bore_seized",
 * "overheated" or "burst" */
const char *swh_stepper_outcome(const struct swh_stepper *stepper);

#ifdef __cplusplus
}
#endif

#endif
