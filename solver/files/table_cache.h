/* Property tables kept in the user's cache folder. */
#ifndef SWH_SOLVER_FILES_TABLE_CACHE_H
#define SWH_SOLVER_FILES_TABLE_CACHE_H

#include "model/refrigerant/refrigerant.h"

#include <stdbool.h>

/* Fills the tables of an equation from the cache; false if they are not there, or not whole. */
bool swh_table_cache_get(const struct swh_eos *e, struct swh_fluid *tables);
/* Keeps tables there. That it cannot be done is no error: they are made again next time. */
void swh_table_cache_put(const struct swh_eos *e, const struct swh_fluid *tables);

#endif
