/* A live log beside its prediction: says on the standard error where they part, and where they meet again. */
#ifndef SWH_CLI_BASE_LIVE_MONITOR_H
#define SWH_CLI_BASE_LIVE_MONITOR_H

#include "cli/base/session.h"
#include "model/tables/tables.h"

struct swh_live_monitor {
    const struct swh_session *session;
    const struct swh_params *params; /* slow errors of the model */
    double mean[SWH_CHANNEL_COUNT], since[SWH_CHANNEL_COUNT], last[SWH_CHANNEL_COUNT];
    bool begun[SWH_CHANNEL_COUNT], apart[SWH_CHANNEL_COUNT];
};

/* Takes a difference (reading - prediction, SI; NaN: none) of one of the compared channels at `time` [s]. It
 * is smoothed over half a minute; beyond three standard deviations of instrument and model (never in the
 * first two minutes, while the body settles) the two have parted, below two they agree again. */
void swh_live_monitor_take(struct swh_live_monitor *w, double time, enum swh_channel channel,
                           double difference);

#endif
