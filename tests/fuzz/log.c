/* Logs: every row that is taken is within the limits of its channels, and times rise. */
#include "solver/files/csv_log.h"
#include "tests/fuzz/fuzz.h"

#include <math.h>

static void read_all(struct swh_log *log)
{
    struct swh_log_row row;
    bool more = true;
    double last = -INFINITY;
    for (int mistakes = 0; more && mistakes < 50 && !swh_log_broken(log);) {
        struct swh_error err = {0};
        const enum swh_status status = swh_log_next(log, &row, &more, &err);
        mistakes += status != SWH_OK;
        if (status != SWH_OK || !more)
            continue;
        fuzz_demand(row.value[SWH_CH_time] > last, "times rise");
        last = row.value[SWH_CH_time];
        for (int i = 1; i < SWH_CHANNEL_COUNT; i++)
            fuzz_demand(isnan(row.value[i]) || (row.value[i] >= swh_channel_table[i].lo &&
                                                row.value[i] <= swh_channel_table[i].hi),
                        "readings within their limits");
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct swh_problems problems = {.count = 0};
    struct swh_notes notes = {.count = 0};
    struct swh_log_request request = {.path = fuzz_file(0, data, size),
                                      .units = fuzz_units(),
                                      .atmosphere = SWH_STANDARD_ATMOSPHERE,
                                      .pulley_ratio = 1.3};
    request.wanted[SWH_CH_discharge_pressure] = request.required[SWH_CH_suction_pressure] = true;
    struct swh_log *log = swh_log_open(&request, &problems);
    if (!log) {
        fuzz_demand(problems.count > 0, "a log that cannot be opened is a problem");
        return 0;
    }
    read_all(log);
    swh_log_note_columns(log, &notes);
    swh_log_note_oddities(log, &notes);
    swh_log_close(log);
    return 0;
}
