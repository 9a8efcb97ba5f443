/* Where results come from, so that they can be computed again: the case whole, the inputs' checksums, what
 * was asked. */
#ifndef SWH_CLI_BASE_PROVENANCE_H
#define SWH_CLI_BASE_PROVENANCE_H

#include "cli/base/frame.h"

/* name in a folder of results of the fluid file that a case has its refrigerant from */
#define SWH_REFRIGERANT_COPY "case-refrigerant.json"

/* Adds to the files begun in the frame's folder: case.ini (with case-schedule.csv and case-refrigerant.json
 * where there is one), copies of logs, maps and findings (input-...), and provenance.json, which names
 * version, commit, seed, inputs with their SHA-256, and the command that repeats the work from the folder
 * alone. SWH_ERR_OUTPUT, SWH_ERR_MEMORY. */
enum swh_status swh_provenance_add(struct swh_frame *frame, struct swh_error *err);

#endif
