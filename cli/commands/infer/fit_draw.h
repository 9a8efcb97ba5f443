/* Pictures of a fit: readings beside the model before and after it. */
#ifndef SWH_CLI_COMMANDS_INFER_FIT_DRAW_H
#define SWH_CLI_COMMANDS_INFER_FIT_DRAW_H

#include "cli/commands/infer/log_command.h"
#include "solver/infer/fit.h"

struct swh_fit_drawing {
    const struct swh_log_command *judge; /* its folder is there */
    const struct swh_fit_request *request;
    const struct swh_fit_result *result;
};

/* Draws fitted.png, or fitted-LOG.png for each of several logs, as --plot says. SWH_ERR_OUTPUT. */
enum swh_status swh_fit_draw(const struct swh_fit_drawing *q, struct swh_error *err);

#endif
