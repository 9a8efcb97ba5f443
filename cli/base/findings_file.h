/* Files of findings: what lay on the bench and was found on the vehicle. */
#ifndef SWH_CLI_BASE_FINDINGS_FILE_H
#define SWH_CLI_BASE_FINDINGS_FILE_H

#include "cli/base/session.h"
#include "solver/infer/findings.h"

/* Reads [findings] NAME = yes, no or a value with its unit; of oil a volume too. What is wrong is noted in
 * the session's problems, also what contradicts itself or `vehicle`; returns the status of the first. */
enum swh_status swh_findings_read(struct swh_session *s, const char *path, const struct swh_case *vehicle,
                                  struct swh_findings *out);
/* Whether the first section of an INI file is [findings]. */
bool swh_findings_look_like(const char *path);
/* A finding as it was understood: "yes", "280 g", "30 %". Returns out. */
const char *swh_finding_text(const struct swh_session *s, enum swh_finding f, double value, char *out,
                             size_t size);

#endif
