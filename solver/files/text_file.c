#include "solver/files/text_file.h"

#include <errno.h>
#include <string.h>
#include <sys/stat.h>

static enum swh_status refuse(const char *path, const char *what, struct swh_error *err)
{
    swh_error_set(err, SWH_ERR_INPUT, "%s", what);
    swh_error_at(err, path, 0, 0);
    swh_error_expected(err, "a readable text file");
    return SWH_ERR_INPUT;
}

enum swh_status swh_text_open(const char *path, FILE **out, struct swh_error *err)
{
    *out = NULL;
    if (strcmp(path, "-") == 0) {
        *out = stdin;
        return SWH_OK;
    }
    FILE *f = fopen(path, "rb");
    if (!f)
        return refuse(path, strerror(errno), err);
    struct stat st;
    if (fstat(fileno(f), &st) == 0 && S_ISDIR(st.st_mode)) {
        fclose(f);
        return refuse(path, "is a folder", err);
    }
    *out = f;
    return SWH_OK;
}

void swh_text_close(FILE *f)
{
    if (f && f != stdin)
        fclose(f);
}
