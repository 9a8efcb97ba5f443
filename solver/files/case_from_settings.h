/* Settings made into a case: keys, units and limits. */
#ifndef SWH_SOLVER_FILES_CASE_FROM_SETTINGS_H
#define SWH_SOLVER_FILES_CASE_FROM_SETTINGS_H

#include "solver/files/scenario.h"

struct swh_apply {
    struct swh_scenario *scenario;
    const struct swh_units *units;
    struct swh_problems *problems;
};

/* Is this a setting that stands for several others (oil grade, compressor model)? Such come first. */
bool swh_setting_is_group(const struct swh_setting *s);
/* Does it name a file that holds them ("my-oil.ini")? */
bool swh_setting_names_file(const struct swh_setting *s);
/* Checks one setting and puts it into the case. */
void swh_apply(const struct swh_apply *a, const struct swh_setting *s);

#endif
