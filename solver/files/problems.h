/* What is wrong with an input, as a list: a reader that finds a mistake notes it and reads on, so that the
 * user sees all of them at once. */
#ifndef SWH_SOLVER_FILES_PROBLEMS_H
#define SWH_SOLVER_FILES_PROBLEMS_H

#include "model/base/status.h"

enum { SWH_PROBLEMS_KEPT = 20 };

struct swh_problems {
    struct swh_error item[SWH_PROBLEMS_KEPT];
    int kept;
    long count; /* met, kept or not */
};

/* Notes a copy of `err` (nothing if it holds no error) and returns its status. */
enum swh_status swh_problems_add(struct swh_problems *p, const struct swh_error *err);
/* Notes that memory is short for reading a file. */
void swh_problems_memory(struct swh_problems *p, const char *path);
/* Status of the first problem, SWH_OK if there is none. */
enum swh_status swh_problems_status(const struct swh_problems *p);

#endif
