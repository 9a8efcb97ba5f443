/* A map of columns and the first lines of a log that it is for, parted by a line "====". */
#include "solver/files/csv_log.h"
#include "tests/fuzz/fuzz.h"

#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char mark[] = "\n====\n";
    char *text = fuzz_text(data, size);
    char *at = strstr(text, mark);
    if (!at)
        return 0;
    struct swh_problems problems = {.count = 0};
    struct swh_notes notes = {.count = 0};
    const size_t head = (size_t)(at - text) + 1, rest = head + sizeof mark - 2;
    const struct swh_log_request request = {.path = fuzz_file(0, data + rest, size - rest),
                                            .columns = fuzz_file(1, data, head),
                                            .units = fuzz_units(),
                                            .atmosphere = SWH_STANDARD_ATMOSPHERE};
    struct swh_log *log = swh_log_open(&request, &problems);
    if (log)
        swh_log_note_columns(log, &notes);
    swh_log_close(log);
    return 0;
}
