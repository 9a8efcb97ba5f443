/* Pressure-temperature charts. */
#ifndef SWH_CLI_COMMANDS_LOOK_CHART_H
#define SWH_CLI_COMMANDS_LOOK_CHART_H

#include "cli/base/session.h"
#include "model/refrigerant/refrigerant.h"

/* Prints the saturation table that --chart=FROM:TO:STEP asks for, in degC or degF after --units; --json in
 * SI. */
enum swh_status swh_chart(struct swh_session *s, const struct swh_eos *fluid);

#endif
