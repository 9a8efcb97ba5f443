/* A refrigerant from a fluid file, with its property tables: made when the file is first used, which takes
 * some 0.3 s, and kept for later runs in the user's cache folder, $XDG_CACHE_HOME/swashheat or
 * ~/.cache/swashheat (XDG Base Directory Specification). What is kept there is named after the equation, the
 * version of the program and the layout of the tables; what does not fit is made anew. Without such a folder
 * the tables are made each time. */
#ifndef SWH_SOLVER_FILES_OWN_REFRIGERANT_H
#define SWH_SOLVER_FILES_OWN_REFRIGERANT_H

#include "model/refrigerant/refrigerant.h"
#include "solver/files/refrigerant_file.h"

struct swh_own_refrigerant {
    _Atomic int users;
    char path[512];                      /* of the file, as found from here */
    char remark[SWH_REFRIGERANT_REMARK]; /* what had to be estimated; "": nothing */
    struct swh_fluid *tables;
};

/* Reads a file and makes or finds its tables; one user. NULL: SWH_ERR_INPUT, SWH_ERR_RANGE (a fluid that no
 * tables can be made for), SWH_ERR_MEMORY. */
struct swh_own_refrigerant *swh_own_refrigerant_read(const char *path, struct swh_error *err);
/* One user more, or one less: the last one releases it. NULL is allowed. */
struct swh_own_refrigerant *swh_own_refrigerant_keep(struct swh_own_refrigerant *r);
void swh_own_refrigerant_leave(struct swh_own_refrigerant *r);

#endif
