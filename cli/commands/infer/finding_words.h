/* What each finding on bench and vehicle says of the causes, and why. */
#ifndef SWH_CLI_COMMANDS_INFER_FINDING_WORDS_H
#define SWH_CLI_COMMANDS_INFER_FINDING_WORDS_H

#include "cli/commands/infer/log_command.h"
#include "solver/infer/rank.h"

/* How much a finding speaks for a cause, over what it says of the causes in the middle: ln of the ratio; 0
 * where it was not looked at. From SWH_FINDING_SPEAKS on (twice as likely) it is told. */
#define SWH_FINDING_SPEAKS 0.69
double swh_finding_says(const struct swh_ranking *r, const struct swh_cause *c, enum swh_finding f);

/* The findings with what they speak for and against and why, in words. Nothing without findings. */
void swh_findings_print(const struct swh_session *s, const struct swh_findings *b,
                        const struct swh_ranking *r, FILE *f);
json_t *swh_findings_json(const struct swh_session *s, const struct swh_findings *b,
                          const struct swh_ranking *r);

#endif
