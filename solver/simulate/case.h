/* A case: everything that defines one simulation, in SI, without files. cli/ fills it from scenario, vehicle
 * file and command line; solver/ runs it. Plain data; swh_case_free releases the schedule only. */
#ifndef SWH_SOLVER_SIMULATE_CASE_H
#define SWH_SOLVER_SIMULATE_CASE_H

#include "model/base/status.h"
#include "model/refrigerant/refrigerant.h"
#include "model/tables/tables.h"
#include "solver/simulate/joint.h"

#include <stdbool.h>
#include <stddef.h>

/* A fault that is present from `start` [s] (ramping up over `ramp` s) to `end` (INFINITY: for good). A start
 * of -INFINITY with ramp 0: there from the beginning, before the vehicle was even switched on (an undercharge
 * then is a smaller charge at the start; with a finite start it is a leak during the run). */
struct swh_fault_setting {
    bool present;
    double severity, start, ramp, end;
};

/* A fault of the user's own: parameters on their way from what they are to what they are at full severity. */
enum { SWH_OWN_FAULTS = 4, SWH_OWN_KEYS = 8 };
struct swh_own_fault {
    char name[45];                    /* its key, own_fault.NAME.severity, is as long as others */
    struct swh_fault_setting setting; /* present: always */
    int n_keys;
    int param[SWH_OWN_KEYS];   /* enum swh_param */
    double full[SWH_OWN_KEYS]; /* at severity 1, SI */
};

/* Inputs as functions of time: rows of SWH_INPUT_COUNT columns that are given or not. Times strictly
 * increasing. */
enum { SWH_SCHEDULE_PARAMS = 8 };
struct swh_schedule {
    size_t rows;
    bool given[SWH_INPUT_COUNT];
    double *time;                    /* rows */
    double *column[SWH_INPUT_COUNT]; /* rows each, NULL if not given */
    int n_params;                    /* columns that move parameters, by straight lines */
    int param[SWH_SCHEDULE_PARAMS];  /* enum swh_param */
    double *param_column[SWH_SCHEDULE_PARAMS];
};

struct swh_case {
    char name[200]; /* of the scenario, for titles */
    struct swh_params params;
    struct swh_params spread; /* standard deviations of parameters, 0 = none */
    struct swh_joint joint;   /* correlations of parameters with a spread */
    struct swh_choices choices;
    struct swh_inputs conditions; /* constants; the schedule's columns override them */
    struct swh_fault_setting fault[SWH_FAULT_COUNT];
    struct swh_schedule schedule;
    struct swh_own_fault own_fault[SWH_OWN_FAULTS];
    int n_own_faults;
    const struct swh_fluid *own_refrigerant; /* instead of the one chosen; kept by who made it, NULL: none */
};

void swh_case_default(struct swh_case *c);
void swh_case_free(struct swh_case *c);
/* Gives the case a fault (enum swh_fault) from before its start to after its end; none if fault < 0 or the
 * severity (0..1) is not above 0. */
void swh_case_fault_always(struct swh_case *c, int fault, double severity);
/* Makes the case an hour of hard work that starts soaked: no schedule, doors open, and the conditions it has,
 * but at least this ambient temperature [K], shaft speed [rps] and road speed [m/s]. A schedule that the case
 * had stays with whoever owns it. */
void swh_case_hard_hour(struct swh_case *c, double ambient, double speed, double road);
/* Copies a case, its schedule included. SWH_ERR_MEMORY. */
enum swh_status swh_case_copy(struct swh_case *to, const struct swh_case *from, struct swh_error *err);
/* Checks what no single value shows: contradicting controls, overlapping faults, a
 * charge that does not fit. */
enum swh_status swh_case_check(const struct swh_case *c, struct swh_error *err);
/* The tables of the refrigerant that the case is filled with. */
const struct swh_fluid *swh_case_refrigerant(const struct swh_case *c);
/* Severity of a fault at time t [s], 0 if absent. */
double swh_fault_severity(const struct swh_fault_setting *f, double t);

#endif
