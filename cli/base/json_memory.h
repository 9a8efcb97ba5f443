/* JSON is built by hundreds of calls that may each fail for want of memory. Instead of asking each of them,
 * the library's allocations are watched: a result is written only if none has failed. */
#ifndef SWH_CLI_BASE_JSON_MEMORY_H
#define SWH_CLI_BASE_JSON_MEMORY_H

#include "model/base/status.h"

/* From now on. Called once, before any JSON is made. */
void swh_json_watch(void);
/* Something else that a result needs found no memory where no error can be carried: count it as JSON's. */
void swh_json_lost(void);
/* SWH_OK, or SWH_ERR_MEMORY if an allocation has failed since. */
enum swh_status swh_json_whole(struct swh_error *err);

#endif
