/* What was read on a vehicle: a log, or a spot sheet. */
#ifndef SWH_SOLVER_INFER_READINGS_H
#define SWH_SOLVER_INFER_READINGS_H

#include "solver/simulate/schedule_from_log.h"
#include "solver/simulate/spot_sheet.h"

/* One of the two; neither: only the bench speaks. Both belong to the caller. */
struct swh_readings {
    const struct swh_log_memory *log;
    const struct swh_spot_sheet *sheet;
    bool doors_given; /* the vehicle's conditions say whether doors are open */
};

/* Is there at least one reading of the channel? */
bool swh_readings_have(const struct swh_readings *r, enum swh_channel channel);
/* Is there none, or a row of the sheet without? False where nothing was read at all. */
bool swh_readings_lack(const struct swh_readings *r, enum swh_channel channel);
/* Did the vehicle move at any time, as far as it was read (a reading of its speed above 1.5 m/s)? */
bool swh_readings_moved(const struct swh_readings *r);
/* Share of the log's time, or of the sheet's rows, that a channel's readings cover, 0..1. */
double swh_readings_covered(const struct swh_readings *r, enum swh_channel channel);
/* Seconds at work: of a log swh_log_memory_at_work; of a sheet the sum of the holds with the clutch in. */
double swh_readings_at_work(const struct swh_readings *r);
/* Makes `to` the vehicle as it was read: driven by the log (swh_schedule_from_log), or, for a sheet, the
 * vehicle itself, whose points are set one by one; the facts then tell the first row's doors. SWH_ERR_INPUT
 * for a log of less than two rows or a sheet of none. Free with swh_case_free. */
enum swh_status swh_readings_drive(struct swh_case *to, const struct swh_case *vehicle,
                                   const struct swh_readings *r, struct swh_schedule_facts *facts,
                                   struct swh_error *err);

/* Mean of a channel over a log, or over the rows of a sheet that have it; SI; NaN if none has. */
double swh_readings_mean(const struct swh_readings *r, enum swh_channel ch);

/* Less than a minute is no log: under it the first window of comparison is not even full. SWH_ERR_INPUT. */
enum swh_status swh_log_long_enough(const struct swh_log_memory *m, struct swh_error *err);
/* Leaves out compared readings that never change, as those of a stuck probe, unless they drive a replay; the
 * channels into `stuck` [SWH_COMPARED]. Returns how many. */
int swh_log_leave_out_stuck(struct swh_log_memory *m, bool replays, enum swh_channel *stuck);
/* Do a channel's readings drive a replay? */
bool swh_log_drives_replay(enum swh_channel channel);

#endif
