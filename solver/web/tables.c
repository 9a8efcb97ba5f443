/* Property tables made when they are asked for: a page has no room for those of a build. */
#include "model/refrigerant/refrigerant.h"

#include <stdlib.h>

static struct swh_fluid *made[SWH_REFRIGERANT_COUNT];

const struct swh_fluid *swh_fluid_get(enum swh_refrigerant r)
{
    if ((int)r < 0 || r >= SWH_REFRIGERANT_COUNT)
        return NULL;
    if (!made[r]) {
        const size_t step = 64, size = (swh_fluid_size() + step - 1) / step * step;
        struct swh_fluid *f = aligned_alloc(step, size);
        if (f && swh_fluid_make(swh_eos_get(r), f, NULL) == SWH_OK)
            made[r] = f;
        else
            free(f);
    }
    return made[r];
}
