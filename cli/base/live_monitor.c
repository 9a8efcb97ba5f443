#include "cli/base/live_monitor.h"

#include "solver/infer/residuals.h"

#include <math.h>

static const double smoothing = 30, settling = 120; /* s */

static double deviation_of(const struct swh_live_monitor *w, enum swh_channel channel)
{
    double slow = 0;
    for (int i = 0; i < SWH_COMPARED; i++)
        if (swh_compared[i] == channel)
            slow = swh_param_get(w->params, (int)swh_compared_error[i]);
    return hypot(swh_channel_table[channel].offset_sigma, slow);
}

static void say(const struct swh_live_monitor *w, double time, enum swh_channel channel, double sigma)
{
    const struct swh_channel_info *ch = &swh_channel_table[channel];
    const enum swh_quantity q =
        ch->quantity == SWH_Q_PRESSURE ? SWH_Q_PRESSURE_DIFFERENCE : SWH_Q_TEMPERATURE_DIFFERENCE;
    const double d = w->mean[channel];
    char text[64];
    if (w->apart[channel])
        fprintf(
            stderr, "%.0f s: %s reads %s %s its prediction (%.1f deviations): they part\n", time, ch->id,
            swh_units_text(w->session->units, swh_session_show(w->session), q, fabs(d), text, sizeof text),
            d > 0 ? "above" : "below", fabs(d) / sigma);
    else
        fprintf(stderr, "%.0f s: %s and its prediction agree again\n", time, ch->id);
}

void swh_live_monitor_take(struct swh_live_monitor *w, double time, enum swh_channel channel,
                           double difference)
{
    if (!isfinite(difference))
        return;
    if (!w->begun[channel]) {
        w->begun[channel] = true;
        w->since[channel] = w->last[channel] = time;
        w->mean[channel] = difference;
        return;
    }
    w->mean[channel] += (difference - w->mean[channel]) * -expm1(-(time - w->last[channel]) / smoothing);
    w->last[channel] = time;
    const double sigma = deviation_of(w, channel), off = fabs(w->mean[channel]);
    const bool apart = off > (w->apart[channel] ? 2 : 3) * sigma;
    if (apart == w->apart[channel] || time < w->since[channel] + settling)
        return;
    w->apart[channel] = apart;
    say(w, time, channel, sigma);
}
