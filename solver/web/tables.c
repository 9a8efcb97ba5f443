/* Property tables made when they are asked for: the program that makes them for a build, without its main. */
#define main swh_make_tables_main
#include "model/refrigerant/make_tables.c" /* its functions are private, and a page has no files */
#undef main

static struct swh_fluid *made[SWH_REFRIGERANT_COUNT];

const struct swh_fluid *swh_fluid_get(enum swh_refrigerant r)
{
    if ((int)r < 0 || r >= SWH_REFRIGERANT_COUNT)
        return NULL;
    if (!made[r]) {
        static struct maker m;
        const size_t step = 64, size = (sizeof *m.f + step - 1) / step * step;
        struct swh_fluid *f = aligned_alloc(step, size);
        if (!f)
            return NULL;
        memset(f, 0, size);
        m.e = swh_eos_get(r);
        m.r = r;
        m.f = f;
        make(&m);
        made[r] = f;
    }
    return made[r];
}
