/* Fluid files: a refrigerant's equation of state. */
#include "solver/files/refrigerant_file.h"
#include "tests/fuzz/fuzz.h"

#include <math.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct swh_eos e;
    struct swh_error err = {0};
    char remark[SWH_REFRIGERANT_REMARK];
    if (swh_refrigerant_read(fuzz_file(0, data, size), &e, remark, &err) == SWH_OK)
        fuzz_demand(e.name[0] && e.critical.T > 0 && isfinite(e.critical.P),
                    "a fluid that is read is complete");
    else
        fuzz_demand(err.what[0] && err.where[0] && err.expected[0], "a fluid that cannot be read is told of");
    return 0;
}
