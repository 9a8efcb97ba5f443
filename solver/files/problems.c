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

enum swh_status swh_problems_status(const struct swh_problems *p)
{
    return p->count == 0 ? SWH_OK : p->item[0].status;
}
