/* The spot sheet of a plan: its test points with empty cells to fill in, and what to expect beside. */
#ifndef SWH_CLI_COMMANDS_INFER_PLAN_SHEET_H
#define SWH_CLI_COMMANDS_INFER_PLAN_SHEET_H

#include "cli/commands/infer/steps.h"

/* Writes the sheet, in the session's units; rank, accept and fit read it back. */
void swh_plan_sheet(const struct swh_log_command *j, const struct swh_steps *s, FILE *f);

#endif
