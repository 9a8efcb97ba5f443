/* What was read before and after a repair, and what a healthy vehicle would have read in the same minutes. */
#ifndef SWH_CLI_COMMANDS_HANDOVER_JOB_READINGS_H
#define SWH_CLI_COMMANDS_HANDOVER_JOB_READINGS_H

#include "cli/base/session.h"
#include "cli/commands/handover/job_folder.h"
#include "model/tables/tables.h"

/* Means over the last ten minutes of a log with the clutch engaged, or over the points of a spot sheet, SI;
 * NaN where there is no reading. */
struct swh_repair_reading {
    bool there;
    char name[256];     /* of the file within the folder */
    char problem[1000]; /* why there is none; "" if nobody asked */
    double read[SWH_CHANNEL_COUNT], healthy[SWH_CHANNEL_COUNT];
    bool has_healthy;
    long rows;
};

struct swh_repair_readings {
    struct swh_repair_reading before, after;
    char vehicle[256]; /* file within the folder; "" if there is none */
    char vehicle_problem[1000];
};

/* Reads the log before (job.ini: [readings] before = FILE, as seen from the folder; else the first file of
 * readings whose name begins with "before") and after the repair, and runs the vehicle ([readings] vehicle;
 * else vehicle.ini) without a fault on each. Nothing here is an error: what could not be had is said in the
 * structs. */
void swh_repair_readings_take(struct swh_repair_readings *out, const struct swh_repair_folder *j,
                              const struct swh_session *s);

#endif
