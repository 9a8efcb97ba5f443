/* --set, one a line, over a plain scenario. */
#include "solver/files/scenario.h"
#include "tests/fuzz/fuzz.h"

#include <string.h>

enum { SETS = 16 };

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char plain[] = "[scenario]\ntitle = plain\n";
    static struct swh_scenario s;
    struct swh_problems problems = {.count = 0};
    const char *set[SETS];
    int n = 0;
    for (char *line = strtok(fuzz_text(data, size), "\n"); line && n < SETS; line = strtok(NULL, "\n"))
        set[n++] = line;
    const struct swh_scenario_request request = {fuzz_file(0, plain, sizeof plain - 1), NULL, set, n};
    swh_scenario_load(&s, &request, fuzz_units(), &problems);
    swh_scenario_free(&s);
    return 0;
}
