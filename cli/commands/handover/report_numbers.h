/* Every number of a result, in the units asked for, with words instead of keys. */
#ifndef SWH_CLI_COMMANDS_HANDOVER_REPORT_NUMBERS_H
#define SWH_CLI_COMMANDS_HANDOVER_REPORT_NUMBERS_H

#include "cli/commands/handover/report.h"

/* A table of a JSON object, objects in it as tables in its cells; keys of `leave_out` (NULL-terminated, or
 * NULL) are left to the caller. */
void swh_report_object(struct swh_report *r, const json_t *o, const char *caption,
                       const char *const *leave_out);
/* A run's channels: lowest, highest, mean, last; those of `only` (count n), or all of a group if n is 0. */
void swh_report_channels(struct swh_report *r, const json_t *run, const char *caption,
                         const enum swh_channel *only, size_t n, enum swh_channel_group group);

#endif
