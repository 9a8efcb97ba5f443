/* Opening text files for reading, with the reasons for which that can fail. */
#ifndef SWH_SOLVER_FILES_TEXT_FILE_H
#define SWH_SOLVER_FILES_TEXT_FILE_H

#include "model/base/status.h"

#include <stdio.h>

/* Opens `path` ("-" is the standard input). SWH_ERR_INPUT if it is not there, not readable or a folder. */
enum swh_status swh_text_open(const char *path, FILE **out, struct swh_error *err);
void swh_text_close(FILE *f); /* leaves the standard input open */

#endif
