/* Schedules: the times of one that is taken rise. */
#include "solver/files/schedule.h"
#include "tests/fuzz/fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct swh_problems problems = {.count = 0};
    struct swh_case c;
    swh_case_default(&c);
    if (swh_schedule_read(fuzz_file(0, data, size), fuzz_units(), SWH_STANDARD_ATMOSPHERE, &c.schedule,
                          &problems) == SWH_OK)
        for (size_t i = 1; i < c.schedule.rows; i++)
            fuzz_demand(c.schedule.time[i] > c.schedule.time[i - 1], "times rise");
    else
        fuzz_demand(problems.count > 0, "a schedule that cannot be read is a problem");
    swh_case_free(&c);
    return 0;
}
