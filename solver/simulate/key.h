/* Names of single numbers in a case, so that a sweep or a margin can vary any of them:
 * "section.key" (a parameter), "conditions.NAME" (an input), "fault.NAME.severity", and of a fault that the
 * case itself brings "own_fault.NAME.severity". */
#ifndef SWH_SOLVER_SIMULATE_KEY_H
#define SWH_SOLVER_SIMULATE_KEY_H

#include "solver/simulate/case.h"

enum swh_key_kind { SWH_KEY_PARAM, SWH_KEY_CONDITION, SWH_KEY_FAULT, SWH_KEY_OWN_FAULT };

struct swh_key {
    enum swh_key_kind kind;
    int index; /* enum swh_param, swh_input or swh_fault; of the case's own faults */
    char name[64];
    enum swh_quantity quantity;
    double lo, hi; /* limits, SI */
};

/* Looks a key up. SWH_ERR_INPUT if there is none of that name. */
enum swh_status swh_key_find(const char *name, struct swh_key *key, struct swh_error *err);
/* The same, with the faults of the case's own (one copied from it has them at the same places). */
enum swh_status swh_key_find_in(const struct swh_case *c, const char *name, struct swh_key *key,
                                struct swh_error *err);
/* Key of a fault's severity. */
void swh_key_of_fault(enum swh_fault fault, struct swh_key *key);

/* Present value in a case [SI]; 0 for a fault that is absent, NaN for what the model computes. */
double swh_key_get(const struct swh_case *c, const struct swh_key *key);
/* Sets it. A fault that was absent is there from the beginning. */
void swh_key_set(struct swh_case *c, const struct swh_key *key, double value);
/* SWH_ERR_INPUT if setting the key would change nothing because the case's drive schedule overrides it. */
enum swh_status swh_key_check(const struct swh_case *c, const struct swh_key *key, struct swh_error *err);

#endif
