/* What `fit` found, taken into a scenario: fit.json. */
#ifndef SWH_CLI_COMMANDS_RUN_FIT_FILE_H
#define SWH_CLI_COMMANDS_RUN_FIT_FILE_H

#include "solver/files/scenario.h"

/* Sets values, spreads and correlations of the estimates in the file, but for what --set gives; what a fit
 * held keeps the spread that it had. SWH_ERR_INPUT with the file as its place: no estimates of this program,
 * an unknown key, a value out of range. */
enum swh_status swh_fit_file_apply(const char *path, struct swh_scenario *s, struct swh_error *err);

#endif
