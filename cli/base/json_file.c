#include "cli/base/json_file.h"

#include "solver/files/text_file.h"

#include <sys/stat.h>

static enum swh_status refuse(struct swh_error *err, const char *path, const json_error_t *why)
{
    const enum swh_status status =
        json_error_code(why) == json_error_out_of_memory ? SWH_ERR_MEMORY : SWH_ERR_INPUT;
    swh_error_set(err, status, "%s", why->text);
    swh_error_at(err, path, why->line > 0 ? why->line : 0, why->column > 0 ? why->column : 0);
    swh_error_expected(err, "JSON that swashheat wrote");
    return status;
}

static json_t *load(FILE *f, const char *path, struct swh_error *err)
{
    struct stat st;
    json_error_t why;
    if (fstat(fileno(f), &st) == 0 && (!S_ISREG(st.st_mode) || st.st_size > SWH_JSON_LARGEST)) {
        swh_error_set(err, SWH_ERR_INPUT, S_ISREG(st.st_mode) ? "%lld MB, too large" : "is no file",
                      (long long)st.st_size >> 20);
        swh_error_at(err, path, 0, 0);
        swh_error_expected(err, "a file of at most %d MB", SWH_JSON_LARGEST >> 20);
        return NULL;
    }
    json_t *json = json_loadf(f, 0, &why);
    if (!json)
        refuse(err, path, &why);
    return json;
}

json_t *swh_json_read(const char *path, struct swh_error *err)
{
    FILE *f = NULL;
    if (swh_text_open(path, &f, err) != SWH_OK)
        return NULL;
    json_t *json = load(f, path, err);
    swh_text_close(f);
    return json;
}
