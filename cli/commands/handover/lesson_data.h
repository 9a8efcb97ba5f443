/* What a lesson's page is given: tables, stories as settings, and their runs. */
#ifndef SWH_CLI_COMMANDS_HANDOVER_LESSON_DATA_H
#define SWH_CLI_COMMANDS_HANDOVER_LESSON_DATA_H

#include "cli/base/session.h"
#include "solver/files/scenario.h"

#include <jansson.h>

/* Channels, quantities with their units, events, faults, defaults. NULL if memory is short. */
json_t *swh_lesson_tables(const struct swh_units *units);
/* A story: its name, everything in which its case differs from the defaults, its schedule, and its run (some
 * channels at 360 times). NULL with err set if it cannot be run. */
json_t *swh_lesson_story(const struct swh_scenario *scenario, struct swh_error *err);

#endif
