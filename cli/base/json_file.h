/* JSON that an earlier run wrote, or anyone else: what cannot be such a file is refused before it fills the
 * memory. */
#ifndef SWH_CLI_BASE_JSON_FILE_H
#define SWH_CLI_BASE_JSON_FILE_H

#include "model/base/status.h"

#include <jansson.h>

enum { SWH_JSON_LARGEST = 64 << 20 }; /* bytes */

/* Reads a file of at most SWH_JSON_LARGEST bytes; the caller decrefs. NULL with err set, its place the file
 * with line and column: SWH_ERR_INPUT if it is no readable file, too large or no JSON, SWH_ERR_MEMORY. */
json_t *swh_json_read(const char *path, struct swh_error *err);

#endif
