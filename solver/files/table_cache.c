#include "solver/files/table_cache.h"

#include "model/base/hash.h"

#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <swashheat/version.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH = 700 };

/* the head of a file: what it holds and whether it is whole */
struct head {
    char what[16];
    uint64_t key, size, sum;
};

static const char what[16] = "swashheat table";

/* changes with the equation, the program and the layout of the tables */
static uint64_t key_of(const struct swh_eos *e)
{
    const uint64_t eos = swh_eos_hash(e), size = swh_fluid_size();
    uint64_t h = swh_hash(SWH_HASH_START, &eos, sizeof eos);
    h = swh_hash(h, &size, sizeof size);
    h = swh_hash(h, swh_version(), strlen(swh_version()));
    return swh_hash(h, swh_commit(), strlen(swh_commit()));
}

/* $XDG_CACHE_HOME counts where it is absolute, as its specification says */
static bool folder(char out[PATH], bool make)
{
    const char *cache = getenv("XDG_CACHE_HOME"), *home = getenv("HOME");
    int n = -1;
    if (cache && cache[0] == '/')
        n = snprintf(out, PATH, "%s", cache);
    else if (home && home[0] == '/')
        n = snprintf(out, PATH, "%s/.cache", home);
    if (n < 0 || n > PATH - 120)
        return false;
    if (make && mkdir(out, 0700) != 0 && errno != EEXIST)
        return false;
    strcat(out, "/swashheat");
    return !make || mkdir(out, 0700) == 0 || errno == EEXIST;
}

static bool name_of(const struct swh_eos *e, uint64_t key, bool make, char out[PATH])
{
    char name[32];
    if (!folder(out, make))
        return false;
    snprintf(name, sizeof name, "%s", swh_refrigerant_name(e));
    for (char *c = name; *c; c++)
        if (!isalnum((unsigned char)*c))
            *c = '_';
    const size_t used = strlen(out);
    snprintf(out + used, PATH - used, "/%s-%016" PRIx64 ".tables", name, key);
    return true;
}

/* NULL without a file, or without memory */
static FILE *stream_of(int file, const char *mode)
{
    FILE *stream = file < 0 ? NULL : fdopen(file, mode);
    if (!stream && file >= 0)
        close(file);
    return stream;
}

bool swh_table_cache_get(const struct swh_eos *e, struct swh_fluid *tables)
{
    char path[PATH];
    struct head head;
    const uint64_t key = key_of(e), size = swh_fluid_size();
    FILE *file = stream_of(name_of(e, key, false, path) ? open(path, O_RDONLY | O_CLOEXEC) : -1, "rb");
    if (!file)
        return false;
    bool good = fread(&head, sizeof head, 1, file) == 1 && memcmp(head.what, what, sizeof what) == 0 &&
                head.key == key && head.size == size && fread(tables, size, 1, file) == 1;
    fclose(file);
    good = good && swh_hash_words(SWH_HASH_START, tables, size) == head.sum;
    return good && swh_eos_hash(swh_fluid_eos(tables)) == swh_eos_hash(e);
}

/* a new file beside `path` that nobody else has or may read; NULL if there can be none */
static FILE *begin(const char *path, char out[PATH + 40])
{
    int file = -1;
    for (int i = 0; i < 8 && file < 0; i++) {
        snprintf(out, PATH + 40, "%s.%ld-%d", path, (long)getpid(), i);
        file = open(out, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
        if (file < 0 && errno != EEXIST)
            return NULL;
    }
    FILE *stream = stream_of(file, "wb");
    if (!stream && file >= 0)
        unlink(out);
    return stream;
}

void swh_table_cache_put(const struct swh_eos *e, const struct swh_fluid *tables)
{
    char path[PATH], part[PATH + 40];
    const size_t size = swh_fluid_size();
    struct head head = {.key = key_of(e), .size = size, .sum = swh_hash_words(SWH_HASH_START, tables, size)};
    memcpy(head.what, what, sizeof what);
    if (!name_of(e, head.key, true, path))
        return;
    FILE *file = begin(path, part);
    if (!file)
        return;
    bool good = fwrite(&head, sizeof head, 1, file) == 1 && fwrite(tables, size, 1, file) == 1;
    good = fclose(file) == 0 && good;
    if (!good || rename(part, path) != 0)
        unlink(part);
}
