#include "solver/files/problems.h"

enum swh_status swh_problems_add(struct swh_problems *p, const struct swh_error *err)
{
    if (err->status == SWH_OK)
        return SWH_OK;
    if (p->kept < SWH_PROBLEMS_KEPT)
        p->item[p->kept++] = *err;
    p->count++;
    return err->status;
}

void swh_problems_memory(struct swh_problems *p, const char *path)
{
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_MEMORY, "no memory for reading it");
    swh_error_at(&err, path, 0, 0);
    swh_problems_add(p, &err);
}

enum swh_status swh_problems_status(const struct swh_problems *p)
{
    return p->count == 0 ? SWH_OK : p->item[0].status;
}
