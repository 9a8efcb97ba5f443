#include "solver/files/unit_system.h"

/* written by make_known_units.c while the library is built */
const struct swh_known_unit swh_known_units[] = {
#include <swashheat/known_units.inc>
};
const int swh_known_unit_count = (int)(sizeof swh_known_units / sizeof swh_known_units[0]);
