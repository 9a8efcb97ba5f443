/* run --ensemble: bands and the probability of seizure. */
#ifndef SWH_CLI_COMMANDS_RUN_ENSEMBLE_H
#define SWH_CLI_COMMANDS_RUN_ENSEMBLE_H

#include "cli/base/session.h"

/* Runs the one scenario given as an ensemble; writes ensemble.csv, ensemble.json and a picture. */
enum swh_status swh_run_ensemble(struct swh_session *s);

#endif
