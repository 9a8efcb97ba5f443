/* A case as text, complete and resolved: read again it is the same case to the last bit. */
#ifndef SWH_SOLVER_FILES_CASE_TEXT_H
#define SWH_SOLVER_FILES_CASE_TEXT_H

#include "solver/files/scenario.h"

/* The scenario as an INI file: every parameter, spread, choice, condition and fault in SI units, whether it
 * was set or is a default; `schedule` is the name of the file that swh_schedule_text goes to, `refrigerant`
 * that of the fluid file where the case has one. What nobody gave is listed as assumed, so that answers go on
 * saying so. Freed by the caller; NULL with SWH_ERR_MEMORY in err. */
char *swh_case_text(const struct swh_scenario *s, const char *schedule, const char *refrigerant,
                    struct swh_error *err);
/* A drive schedule as a CSV file, SI. Freed by the caller; NULL with SWH_ERR_MEMORY in err. */
char *swh_schedule_text(const struct swh_schedule *s, struct swh_error *err);

#endif
