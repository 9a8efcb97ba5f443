#include "solver/files/own_refrigerant.h"

#include "solver/files/table_cache.h"

#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>

static enum swh_status fill(struct swh_own_refrigerant *r, struct swh_error *err)
{
    struct swh_eos e;
    const size_t step = 64;
    enum swh_status status = swh_refrigerant_read(r->path, &e, r->remark, err);
    if (status != SWH_OK)
        return status;
    r->tables = aligned_alloc(step, (swh_fluid_size() + step - 1) / step * step);
    if (!r->tables)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the property tables of %.200s", r->path);
    if (swh_table_cache_get(&e, r->tables))
        return SWH_OK;
    status = swh_fluid_make(&e, r->tables, err);
    if (status == SWH_OK)
        swh_table_cache_put(&e, r->tables);
    else if (err && status == SWH_ERR_RANGE)
        err->status = status = SWH_ERR_INPUT;
    swh_error_at(err, r->path, 0, 0);
    return status;
}

struct swh_own_refrigerant *swh_own_refrigerant_read(const char *path, struct swh_error *err)
{
    struct swh_own_refrigerant *r = calloc(1, sizeof *r);
    if (!r) {
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for a refrigerant");
        return NULL;
    }
    r->users = 1;
    snprintf(r->path, sizeof r->path, "%s", path);
    if (fill(r, err) == SWH_OK)
        return r;
    swh_own_refrigerant_leave(r);
    return NULL;
}

struct swh_own_refrigerant *swh_own_refrigerant_keep(struct swh_own_refrigerant *r)
{
    if (r)
        atomic_fetch_add(&r->users, 1);
    return r;
}

void swh_own_refrigerant_leave(struct swh_own_refrigerant *r)
{
    if (!r || atomic_fetch_sub(&r->users, 1) > 1)
        return;
    free(r->tables);
    free(r);
}
