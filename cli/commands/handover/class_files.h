/* What a class gets of a car, and what the trainer keeps. */
#ifndef SWH_CLI_COMMANDS_HANDOVER_CLASS_FILES_H
#define SWH_CLI_COMMANDS_HANDOVER_CLASS_FILES_H

#include "cli/base/session.h"
#include "cli/commands/handover/class_car.h"

#include <jansson.h>

/* Writes FOLDER/log.csv, sheet.csv, complaint.txt and vehicle.ini (a copy of the file `vehicle`, or one that
 * says that it is the program's own). SWH_ERR_OUTPUT, or what a run ended with. */
enum swh_status swh_class_write(const struct swh_class_car *car, const char *folder, const char *vehicle,
                                const struct swh_session *s, struct swh_error *err);
/* The answer, for answers.json. */
json_t *swh_class_answer(const struct swh_class_car *car);

#endif
