/* The user's own names of columns: a file [columns] channel = Header, unit. Used by csv_head.c only. */
#ifndef SWH_SOLVER_FILES_CSV_MAPPING_H
#define SWH_SOLVER_FILES_CSV_MAPPING_H

#include "solver/files/csv_head.h"

struct swh_mapped {
    char header[96], unit[32];
    int target;
    bool engine;
    long line, column;
};

struct swh_mapping {
    const struct swh_head_request *request;
    struct swh_mapped *item;
    int count, room;
};

/* The mapped column whose name, or name without signs, is `header`; NULL if there is none. */
const struct swh_mapped *swh_mapped_as(const struct swh_mapping *m, const char *header);
/* The index of the target called `name`, -1 if there is none. */
int swh_target_called(const struct swh_head_request *r, const char *name);
/* Copies n characters of s without the spaces at their ends, cut to size. */
void swh_copy_trimmed(char *out, size_t size, const char *s, size_t n);

#endif
