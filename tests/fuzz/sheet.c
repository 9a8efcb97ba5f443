/* Spot sheets. */
#include "solver/files/sheet.h"
#include "tests/fuzz/fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct swh_spot_sheet sheet;
    struct swh_problems problems = {.count = 0};
    struct swh_notes notes = {.count = 0};
    const struct swh_sheet_request request = {fuzz_file(0, data, size), NULL, fuzz_units(),
                                              SWH_STANDARD_ATMOSPHERE, 1.3};
    swh_sheet_looks_like(&request);
    if (swh_sheet_read(&request, &sheet, &notes, &problems) == SWH_OK)
        fuzz_demand(sheet.rows > 0 && sheet.rows <= SWH_SPOT_ROWS, "as many rows as a sheet may have");
    else
        fuzz_demand(problems.count > 0, "a sheet that cannot be read is a problem");
    return 0;
}
