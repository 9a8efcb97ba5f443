/* Drive schedules: CSV files with a time column and columns named for inputs. */
#ifndef SWH_SOLVER_FILES_SCHEDULE_H
#define SWH_SOLVER_FILES_SCHEDULE_H

#include "solver/files/problems.h"
#include "solver/files/units.h"
#include "solver/simulate/case.h"

/* Reads a schedule whole into memory (allocated; swh_case_free releases it). Everything wrong with it is
 * noted. `atmosphere` [Pa]: what gauge pressures count from. */
enum swh_status swh_schedule_read(const char *path, const struct swh_units *units, double atmosphere,
                                  struct swh_schedule *out, struct swh_problems *problems);

#endif
