/* What an answer from readings rests on, in words: what the vehicle file is worth, what was assumed, and that
 * no cause of the list explains what was read. */
#ifndef SWH_CLI_COMMANDS_INFER_TRUST_WORDS_H
#define SWH_CLI_COMMANDS_INFER_TRUST_WORDS_H

#include "cli/commands/infer/log_command.h"
#include "solver/infer/rank.h"

/* Speed and ambient must be read (in every row of a sheet) or given, and the doors of a standing vehicle be
 * known: the readings of a vehicle in the air and at the speed of a default are no measure. Each that is
 * missing is an error of the file, which says how to give it. */
enum swh_status swh_log_command_ask(struct swh_log_command *j);

/* "never", "rows", "logs" */
const char *swh_knowledge_word(enum swh_knowledge k);
/* What shares from such a file are worth, a sentence without its full stop; "" if they may be believed. */
const char *swh_knowledge_text(const struct swh_params *p, char *out, size_t size);
/* "doors open, humidity 45 % (not read), ..." */
const char *swh_assumed_text(const struct swh_log_command *j, const struct swh_ranking *r, char *out,
                             size_t size);
/* Why no cause of the list is named, and what to look at; for a ranking with none_fits. */
const char *swh_none_fits_text(const struct swh_log_command *j, const struct swh_ranking *r, char *out,
                               size_t size);

#endif
