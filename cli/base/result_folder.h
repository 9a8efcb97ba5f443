/* A folder of results that appears whole or not at all: files are written beside their names, made durable
 * and renamed together at the end. */
#ifndef SWH_CLI_BASE_RESULT_FOLDER_H
#define SWH_CLI_BASE_RESULT_FOLDER_H

#include "model/base/status.h"

#include <stdbool.h>
#include <stdio.h>

enum { SWH_OUT_FILES = 32 };

struct swh_out {
    char folder[512];
    int made; /* folders made on the way, the innermost ones */
    int count;
    struct {
        char name[256], beside[640]; /* beside: until the commit; "": it has its name */
        char old[640];               /* what had the name before, while the commit may still be taken back */
        bool fresh;                  /* nothing had the name before */
        FILE *file;
    } item[SWH_OUT_FILES];
};

/* May other runs write into a folder at the same time? */
enum swh_out_share { SWH_OUT_ALONE, SWH_OUT_TOGETHER };

/* Takes a folder for this process until it ends: another process that wants it alone, or together with us
 * when we have it alone, is refused. Alone, what killed runs left half made in it is removed. Where the file
 * system knows no locks, nothing is refused. SWH_ERR_OUTPUT. */
enum swh_status swh_out_take(const char *folder, enum swh_out_share share, struct swh_error *err);
/* Makes the folder if it is not there and takes it. SWH_ERR_OUTPUT if that is impossible. */
enum swh_status swh_out_begin_shared(struct swh_out *out, const char *folder, enum swh_out_share share,
                                     struct swh_error *err);
/* swh_out_begin_shared with SWH_OUT_ALONE */
enum swh_status swh_out_begin(struct swh_out *out, const char *folder, struct swh_error *err);
/* Opens a file that will be called `name`. NULL with err set. Closed by commit or
 * abort, never by the caller. */
FILE *swh_out_file(struct swh_out *out, const char *name, struct swh_error *err);
/* Gives all files their names. SWH_ERR_MEMORY, and none of them, if memory was short for any JSON. If one
 * cannot be written or named, all stay as they were before and SWH_ERR_OUTPUT is returned. */
enum swh_status swh_out_commit(struct swh_out *out, struct swh_error *err);
/* Removes everything begun, folders that it made included. What was there before stays as it was. */
void swh_out_abort(struct swh_out *out);

/* Flushes the standard output and says whether all of it got through. SWH_ERR_OUTPUT, without words where a
 * pipe's reader has gone, as `head` does. */
enum swh_status swh_out_close_stdout(struct swh_error *err);

#endif
