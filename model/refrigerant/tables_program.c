/* swh_make_tables NAME FILE: the property tables of one of the
 * program's own refrigerants, while it is built. */
#include "model/refrigerant/eos.h"
#include "model/refrigerant/tables.h"

#include <stdio.h>
#include <stdlib.h>

int main(int argc, char **argv)
{
    struct swh_error err = {0};
    const int r = argc == 3 ? swh_refrigerant_find(argv[1]) : -1;
    if (r < 0) {
        fprintf(stderr, "usage: swh_make_tables REFRIGERANT FILE\n");
        return 2;
    }
    struct swh_fluid *f = aligned_alloc(_Alignof(struct swh_fluid), sizeof *f);
    if (!f || swh_fluid_make(swh_eos_get((enum swh_refrigerant)r), f, &err) != SWH_OK) {
        fprintf(stderr, "swh_make_tables: %s\n", err.what);
        free(f);
        return 1;
    }
    FILE *out = fopen(argv[2], "wb");
    int bad = !out || fwrite(f, sizeof *f, 1, out) != 1;
    if (out && fclose(out))
        bad = 1;
    free(f);
    if (bad)
        fprintf(stderr, "swh_make_tables: cannot write %s\n", argv[2]);
    return bad;
}
