/* For which commands a log or a spot sheet is good, and why not for the others. */
#ifndef SWH_CLI_COMMANDS_LOOK_GOOD_FOR_H
#define SWH_CLI_COMMANDS_LOOK_GOOD_FOR_H

#include "model/tables/tables.h"

#include <stdbool.h>
#include <stddef.h>

struct swh_good_for {
    bool sheet;                  /* rows in no particular time */
    bool has[SWH_CHANNEL_COUNT]; /* channels with a reading */
    bool doors_known;
    double seconds; /* the log's length; of no meaning for a sheet */
};

/* "good for: rank, fit. Not for replay (no suction_temperature)" into out. False
 * if it is good for nothing. */
bool swh_good_for_words(const struct swh_good_for *g, char *out, size_t size);

#endif
