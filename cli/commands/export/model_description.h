/* What a unit of co-simulation says of itself: modelDescription.xml of FMI 3.0, from the tables. */
#ifndef SWH_CLI_COMMANDS_EXPORT_MODEL_DESCRIPTION_H
#define SWH_CLI_COMMANDS_EXPORT_MODEL_DESCRIPTION_H

#include "solver/files/scenario.h"

#include <stdio.h>

/* How many variables of each kind were described. */
struct swh_described {
    int inputs, outputs, parameters;
};

/* Writes the description of a scenario: its conditions are inputs unless its schedule gives them or the model
 * computes them, all channels that it has in its first three seconds are outputs, all numbers that have a
 * value are parameters, with what they are now as start. The errors of swh_run where those seconds cannot be
 * computed, and then nothing is written. */
enum swh_status swh_model_description(const struct swh_scenario *s, const char *identifier, FILE *f,
                                      struct swh_described *n, struct swh_error *err);

#endif
