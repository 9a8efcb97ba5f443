/* The vehicle file that a fit leaves behind. */
#ifndef SWH_CLI_COMMANDS_INFER_FITTED_VEHICLE_H
#define SWH_CLI_COMMANDS_INFER_FITTED_VEHICLE_H

#include "cli/commands/infer/log_command.h"

/* Writes the loaded vehicle with what was fitted: each fitted parameter with its standard deviation and its
 * range above it, what the logs do not tell as it was, with a comment; spreads of the other parameters as
 * they were; and how the fitted ones err together (section [correlation]). Reads back as it was written. */
void swh_fitted_vehicle_write(const struct swh_log_command *j, const struct swh_fit_result *r, FILE *f);

#endif
