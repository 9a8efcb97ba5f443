#include "model/base/status.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void swh_error_clear(struct swh_error *err)
{
    if (err)
        memset(err, 0, sizeof *err);
}

enum swh_status swh_error_set(struct swh_error *err, enum swh_status status, const char *what, ...)
{
    if (!err || err->status != SWH_OK)
        return status;
    memset(err, 0, sizeof *err);
    err->status = status;
    va_list ap;
    va_start(ap, what);
    vsnprintf(err->what, sizeof err->what, what, ap);
    va_end(ap);
    return status;
}

void swh_error_at(struct swh_error *err, const char *where, long line, long column)
{
    if (!err || err->where[0] != '\0')
        return;
    if (where)
        snprintf(err->where, sizeof err->where, "%s", where);
    err->line = line;
    err->column = column;
}

void swh_error_expected(struct swh_error *err, const char *expected, ...)
{
    if (!err || err->expected[0] != '\0')
        return;
    va_list ap;
    va_start(ap, expected);
    vsnprintf(err->expected, sizeof err->expected, expected, ap);
    va_end(ap);
}

int swh_status_exit_code(enum swh_status status)
{
    switch (status) {
    case SWH_OK:
        return 0;
    case SWH_ERR_USAGE:
        return 2;
    case SWH_ERR_INPUT:
        return 3;
    case SWH_ERR_OUTPUT:
        return 5;
    case SWH_ERR_RANGE:
    case SWH_ERR_SOLVER:
        break;
    case SWH_ERR_MEMORY:
        return 6;
    }
    return 4;
}
