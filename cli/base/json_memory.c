#include "cli/base/json_memory.h"

#include <jansson.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdlib.h>

static atomic_bool failed;

static void *allocate(size_t n)
{
    void *p = malloc(n);
    if (!p)
        atomic_store(&failed, true);
    return p;
}

void swh_json_watch(void)
{
    json_set_alloc_funcs(allocate, free);
}

void swh_json_lost(void)
{
    atomic_store(&failed, true);
}

enum swh_status swh_json_whole(struct swh_error *err)
{
    return atomic_load(&failed) ? swh_error_set(err, SWH_ERR_MEMORY, "no memory for the results") : SWH_OK;
}
