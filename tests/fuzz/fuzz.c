#define _GNU_SOURCE /* memfd_create */
#include "tests/fuzz/fuzz.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

/* The parser of units in libudunits2 loses nine bytes for each text that is no unit. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:utlex\nleak:utparse\nleak:libudunits2\n";
}

const char *fuzz_file(int place, const void *data, size_t size)
{
    static int fd[FUZZ_FILES] = {-1, -1, -1};
    static char path[FUZZ_FILES][40];
    if (fd[place] < 0) {
        fd[place] = memfd_create("fuzz", MFD_CLOEXEC);
        snprintf(path[place], sizeof path[place], "/proc/self/fd/%d", fd[place]);
    }
    fuzz_demand(ftruncate(fd[place], 0) == 0 && pwrite(fd[place], data, size, 0) == (ssize_t)size,
                "no file in memory");
    return path[place];
}

const char *fuzz_folder(void)
{
    static char path[80];
    const char *base = getenv("TMPDIR");
    snprintf(path, sizeof path, "%.60s/swh-fuzz-XXXXXX", base && base[0] ? base : "/tmp");
    fuzz_demand(mkdtemp(path) != NULL, "a folder");
    return path;
}

char *fuzz_text(const uint8_t *data, size_t size)
{
    static char *text;
    free(text);
    text = malloc(size + 1);
    fuzz_demand(text != NULL, "no memory");
    memcpy(text, data, size);
    text[size] = '\0';
    return text;
}

struct swh_units *fuzz_units(void)
{
    static struct swh_units *units;
    if (!units)
        units = swh_units_create(NULL);
    fuzz_demand(units != NULL, "no units");
    return units;
}

void fuzz_demand(int it, const char *what)
{
    if (it)
        return;
    fprintf(stderr, "demanded: %s\n", what);
    abort();
}
