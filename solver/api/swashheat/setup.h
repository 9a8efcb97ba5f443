/**
 * \file
 * What is to be simulated: a vehicle, its faults, and
 * the conditions that it works under. */
#ifndef SWASHHEAT_SETUP_H
#define SWASHHEAT_SETUP_H

#include <swashheat/error.h>
#include <swashheat/record.h>

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

struct swh_setup; /**< a vehicle, its faults, its conditions, and for how long they are followed */

/**
 * Makes a setup of the default vehicle, healthy, under default conditions.
 * \param setup receives it, NULL on failure; release with swh_setup_free()
 * \param err what went wrong; may be NULL
 * \return SWH_OK; SWH_ERR_MEMORY; SWH_ERR_INPUT if
 * the table of units is not installed */
enum swh_status swh_setup_new(struct swh_setup **setup, struct swh_error *err);
/**
 * Makes a setup from files.
 * \param setup receives it, NULL on failure; release with swh_setup_free()
 * \param scenario scenario or vehicle file (INI)
 * \param vehicle vehicle file to use instead of the one that the scenario names; NULL for that one
 * \param err the first thing that is wrong, with file, line and column; may be NULL
 * \return SWH_OK, SWH_ERR_INPUT,
 * SWH_ERR_MEMORY */
enum swh_status swh_setup_load(struct swh_setup **setup, const char *scenario, const char *vehicle,
                               struct swh_error *err);
/**
 * Makes a setup that is equal to another one.
 * \param setup receives it, NULL on failure; release with swh_setup_free()
 * \param from is copied
 * \param err what went wrong; may be NULL
 * \return SWH_OK,
 * SWH_ERR_MEMORY */
enum swh_status swh_setup_copy(struct swh_setup **setup, const struct swh_setup *from, struct swh_error *err);
/**
 * Releases a setup.
 * \param setup may be
 * NULL */
void swh_setup_free(struct swh_setup *setup);
/**
 * The title of a setup.
 * \param setup of it
 * \return its title, as long as the setup
 * is there and unchanged */
const char *swh_setup_title(const struct swh_setup *setup);

/**
 * Sets a number.
 * \param setup is changed unless something is wrong
 * \param key see swh_key_describe()
 * \param value in `unit`
 * \param unit "degC", "barg", "rpm"; NULL for SI
 * \param err what went wrong; may be NULL
 * \return SWH_OK; SWH_ERR_INPUT for an unknown key or unit, a value out of its limits, or a condition that
 * the schedule
 * overrides */
enum swh_status swh_setup_set(struct swh_setup *setup, const char *key, double value, const char *unit,
                              struct swh_error *err);
/**
 * Sets a number or a word as a scenario file does.
 * \param setup is changed unless something is wrong
 * \param key a number's, or that of a word, for example "vehicle.refrigerant"
 * \param text "12 um", "R1234yf"
 * \param err what went wrong; may be NULL
 * \return SWH_OK,
 * SWH_ERR_INPUT */
enum swh_status swh_setup_set_text(struct swh_setup *setup, const char *key, const char *text,
                                   struct swh_error *err);
/**
 * Reads a number.
 * \param setup of it
 * \param key see swh_key_describe()
 * \param unit in which it is wanted; NULL for SI
 * \param value receives it: 0 for the severity of a fault that is absent, NaN for what the model computes
 * \param err what went wrong; may be NULL
 * \return SWH_OK; SWH_ERR_INPUT for an
 * unknown key or unit */
enum swh_status swh_setup_get(const struct swh_setup *setup, const char *key, const char *unit, double *value,
                              struct swh_error *err);
/**
 * Reads a word.
 * \param setup of it
 * \param key for example "vehicle.refrigerant"
 * \param text receives it
 * \param size of `text`
 * \param err what went wrong; may be NULL
 * \return SWH_OK; SWH_ERR_INPUT
 * for an unknown key */
enum swh_status swh_setup_get_text(const struct swh_setup *setup, const char *key, char *text, size_t size,
                                   struct swh_error *err);
/**
 * A setup as a scenario file: complete, in SI units, read again to the same bits.
 * \param setup is told
 * \param schedule name of the file that swh_setup_schedule() will be written to
 * \param text receives it, NULL on failure; release with swh_text_free()
 * \param err what went wrong; may be NULL
 * \return SWH_OK,
 * SWH_ERR_MEMORY */
enum swh_status swh_setup_text(const struct swh_setup *setup, const char *schedule, char **text,
                               struct swh_error *err);
/**
 * The drive schedule of a setup as a CSV file, in SI units.
 * \param setup of it
 * \param text receives it, NULL if there is no schedule; release with swh_text_free()
 * \param err what went wrong; may be NULL
 * \return SWH_OK,
 * SWH_ERR_MEMORY */
enum swh_status swh_setup_schedule(const struct swh_setup *setup, char **text, struct swh_error *err);
/**
 * Releases a text that was given out.
 * \param text may be
 * NULL */
void swh_text_free(char *text);
/**
 * Says whether it can be simulated: what no single value shows.
 * \param setup is judged
 * \param err what is wrong; may be NULL
 * \return SWH_OK,
 * SWH_ERR_INPUT */
enum swh_status swh_setup_check(const struct swh_setup *setup, struct swh_error *err);

/**
 * Lets a log drive a setup's circuit: shaft and road speed, ambient, humidity and clutch become its schedule.
 * \param setup is changed unless something is wrong
 * \param log CSV file
 * \param columns INI file that names the log's columns; NULL if they need none
 * \param err the first thing that is wrong, with file, line and column; may be NULL
 * \return SWH_OK, SWH_ERR_INPUT,
 * SWH_ERR_MEMORY */
enum swh_status swh_setup_drive(struct swh_setup *setup, const char *log, const char *columns,
                                struct swh_error *err);

/**
 * Runs a setup from its start to its end.
 * \param setup is run
 * \param record receives the results, also if the integrator could not go on; else NULL. Release with
 * swh_record_free() \param err what went wrong; may be NULL \return SWH_OK; SWH_ERR_RANGE, SWH_ERR_SOLVER if
 * the integrator could not go on;
 * SWH_ERR_INPUT, SWH_ERR_MEMORY */
enum swh_status swh_setup_run(const struct swh_setup *setup, struct swh_record **record,
                              struct swh_error *err);
/**
 * Drives the compressor's body with a log's pressures, suction temperature, speed and clutch.
 * \param setup is its vehicle
 * \param log CSV file
 * \param columns INI file that names the log's columns; NULL if they need none
 * \param record receives the results, one row a row of the log; as in swh_setup_run()
 * \param err the first thing that is wrong, with file, line and column; may be NULL
 * \return as
 * swh_setup_run() */
enum swh_status swh_setup_replay(const struct swh_setup *setup, const char *log, const char *columns,
                                 struct swh_record **record, struct swh_error *err);

/**
 * An error in one line: "van.ini:3:8: 'x' is not a number (expected ...)".
 * \param err is put into words
 * \param text receives it; "" if nothing went wrong
 * \param size of `text`
 * \return text */
const char *swh_error_text(const struct swh_error *err, char *text, size_t size);

#ifdef __cplusplus
}
#endif

#endif
