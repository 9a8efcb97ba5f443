/* A row of a spot sheet as a simulation: a soaked vehicle is held at the row's conditions, as at a test
 * point, and what its gauges and clamps read at the end is compared with what was written down. */
#ifndef SWH_SOLVER_INFER_SPOT_H
#define SWH_SOLVER_INFER_SPOT_H

#include "solver/infer/residuals.h"

/* Makes `to` the case of one row: `base` without its schedule, held for row->held at the conditions that the
 * row tells (shaft and road speed, ambient, humidity, under-hood air; a clutch of 0 stays out), the others as
 * in `base`. Doors: what the row says, else `base`'s if doors_given, else open on a standing vehicle whose
 * cabin air is within 5 K of ambient. `to` owns nothing. */
void swh_spot_case(struct swh_case *to, const struct swh_case *base, const struct swh_spot_row *row,
                   bool doors_given);
/* A standing vehicle's doors that neither the row nor its cabin air tells. */
bool swh_spot_doors_unknown(const struct swh_spot_row *row);

/* Runs the case and takes the mean of each channel at its end into value[SWH_CHANNEL_COUNT] (SI, NaN if the
 * run does not get there): over whole cycles of the clutch that span a minute at least, or all that fall into
 * the last half of the hold; over the last minute where the clutch does not cycle. False if the end was not
 * reached. summary may be NULL; err is set for want of memory only. Thread-safe. */
bool swh_spot_run(const struct swh_case *c, double *value, struct swh_summary *summary,
                  struct swh_error *err);

/* Differences prediction - reading of all rows of a sheet: window k is row k, its count 1 where there is a
 * reading that the run reached. `base` as in swh_spot_case. Rows run in parallel where the caller does not.
 * value: predictions, rows x SWH_COMPARED, or NULL. SWH_ERR_MEMORY. */
enum swh_status swh_spot_residuals(const struct swh_case *base, const struct swh_spot_sheet *sheet,
                                   bool doors_given, struct swh_residuals *out, double *value,
                                   struct swh_error *err);

#endif
