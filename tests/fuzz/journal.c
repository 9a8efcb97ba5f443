/* Journals of a sweep: a line that is taken holds a case of this sweep. */
#include "cli/commands/sweep/journal.h"
#include "tests/fuzz/fuzz.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CASES = 6 };

static uint64_t checksum(const char *text, size_t n)
{
    uint64_t h = UINT64_C(0xcbf29ce484222325);
    for (size_t i = 0; i < n; i++)
        h = (h ^ (unsigned char)text[i]) * UINT64_C(0x100000001b3);
    return h;
}

/* the lines, each with a right checksum half of the time: the way beyond it is to be reached too */
static void write_lines(FILE *f, char *text)
{
    for (char *l = strtok(text, "\n"); l; l = strtok(NULL, "\n")) {
        const size_t n = strlen(l);
        if (n > 0 && (l[n - 1] & 1))
            fprintf(f, "%s #%016" PRIx64 "\n", l, checksum(l, n));
        else
            fprintf(f, "%s\n", l);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct swh_case base;
    static struct swh_sweep sweep = {.base = &base, .shards = 1};
    static char path[200];
    struct swh_sweep_row rows[CASES];
    long restored = 0;
    static const char *folder;
    if (!path[0]) {
        swh_case_default(&base);
        swh_key_find("charge.fraction", &sweep.key[0], NULL);
        sweep.plan = (struct swh_sampling){.axes = 1};
        sweep.plan.range[0] = (struct swh_range){0.5, 1, CASES};
        fuzz_demand(swh_sweep_begin(&sweep, NULL) == SWH_OK, "a sweep");
        folder = fuzz_folder();
        snprintf(path, sizeof path, "%s/cases-%016" PRIx64 ".journal", folder, swh_sweep_fingerprint(&sweep));
    }
    FILE *f = fopen(path, "w");
    fuzz_demand(f != NULL, "a journal");
    write_lines(f, fuzz_text(data, size));
    fclose(f);
    memset(rows, 0, sizeof rows);
    fuzz_demand(swh_journal_restore(folder, &sweep, true, rows, &restored, NULL) == SWH_OK, "it is read");
    fuzz_demand(restored >= 0 && restored <= CASES, "no more cases than there are");
    for (int i = 0; i < CASES; i++)
        fuzz_demand(!rows[i].done || (int)rows[i].result < SWH_CASE_RESULT_COUNT, "a result that is one");
    return 0;
}
