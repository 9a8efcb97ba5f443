/* Picture of an acceptance: the channels beside a healthy vehicle's, what else is asked, the worst hour's
 * margin. */
#include "cli/commands/infer/draw.h"

#include "cli/base/frame.h"
#include "cli/base/shop_words.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { DEMANDS = 3 };

struct drawing {
    char title[512], subtitle[200], worst[160], why_not[SWH_COMPARED][80], text[DEMANDS][160];
    struct swh_plot_judged channel[SWH_COMPARED];
    struct swh_plot_demand demand[DEMANDS];
    size_t channels;
};

/* ---- channels ---- */

static bool is_needed(enum swh_channel ch)
{
    for (int i = 0; i < SWH_ACCEPT_LEAST; i++)
        if (swh_accept_least[i].channel == ch)
            return true;
    return false;
}

static void lay_channels(const struct swh_log_command *j, const struct swh_acceptance *a, struct drawing *d)
{
    const struct swh_cause *healthy = swh_ranking_healthy(&a->ranking);
    const struct swh_readings read = swh_log_command_readings(j);
    for (int i = 0; i < SWH_COMPARED; i++) {
        const enum swh_channel ch = swh_compared[i];
        const double covered = swh_readings_covered(&read, ch);
        const char *needed = is_needed(ch) ? ", but needed" : "";
        if (isnan(a->deviation[i]) && i >= SWH_USUAL)
            continue;
        snprintf(d->why_not[i], sizeof d->why_not[i], "no readings%s", needed);
        if (covered > 0)
            snprintf(d->why_not[i], sizeof d->why_not[i], "read for %.0f %% only%s", 100 * covered, needed);
        const double mean = swh_readings_mean(&read, ch);
        d->channel[d->channels++] = (struct swh_plot_judged){.channel = ch,
                                                             .read = mean,
                                                             .healthy = mean + healthy->mean[i],
                                                             .sigma = a->ranking.mean_sigma[i],
                                                             .ok = a->channel_ok[i],
                                                             .judged = a->judged[i],
                                                             .why_not = d->why_not[i]};
    }
}

/* ---- demands ---- */

static struct swh_plot_demand no_fault(const struct swh_acceptance *a, char *text, size_t size)
{
    struct swh_cause_words w;
    const struct swh_cause *best = &a->ranking.cause[0];
    swh_cause_words(best->fault, best->second, &w);
    snprintf(text, size, "no fault explains the log better");
    if (best->fault != SWH_HEALTHY)
        snprintf(text, size, "%s fits %s", w.first,
                 a->advantage > SWH_ACCEPT_ADVANTAGE ? "far better"
                 : a->advantage > 0                  ? "somewhat better: no proof"
                                                     : "no better");
    return (struct swh_plot_demand){"evidence for a fault", text, a->advantage / SWH_ACCEPT_ADVANTAGE,
                                    a->fault == SWH_HEALTHY};
}

static struct swh_plot_demand metal_carries(const struct swh_acceptance *a, char *text, size_t size)
{
    const double share = a->worst.mean[SWH_CH_boundary_share];
    snprintf(text, size, "metal carries %.0f %% of the load, of %.0f %%", 100 * share,
             100 * SWH_ACCEPT_METAL);
    return (struct swh_plot_demand){"oil film in the worst hour", text, share / SWH_ACCEPT_METAL,
                                    share < SWH_ACCEPT_METAL};
}

static struct swh_plot_demand contact(const struct swh_log_command *j, const struct swh_acceptance *a,
                                      char *text, size_t size)
{
    char peak[48], left[48];
    const double T = a->worst.peak[SWH_CH_contact_temperature].value,
                 weld = j->frame.scenario.c.params.friction_weld_temperature;
    const bool seized = swh_outcome_is_lost(a->worst.outcome);
    swh_log_command_text(j, SWH_Q_TEMPERATURE, T, peak, sizeof peak);
    swh_log_command_text(j, SWH_Q_TEMPERATURE_DIFFERENCE, weld - T, left, sizeof left);
    if (seized)
        snprintf(text, size, "%s%s, contact up to %s",
                 a->worst.outcome == SWH_SHOE_SEIZED   ? "a shoe has seized: "
                 : a->worst.outcome == SWH_BORE_SEIZED ? "a bore has seized: "
                                                       : "destroyed",
                 a->worst.cause < SWH_SEIZURE_COUNT ? swh_seizure_table[a->worst.cause].help : "", peak);
    else
        snprintf(text, size, "up to %s, %s below welding", peak, left);
    return (struct swh_plot_demand){"shoe contact in the worst hour", text,
                                    (T - a->worst_ambient) / (weld - a->worst_ambient), !seized};
}

static void lay_demands(const struct swh_log_command *j, const struct swh_acceptance *a, struct drawing *d)
{
    char ambient[48], speed[48];
    d->demand[0] = no_fault(a, d->text[0], sizeof d->text[0]);
    d->demand[1] = metal_carries(a, d->text[1], sizeof d->text[1]);
    d->demand[2] = contact(j, a, d->text[2], sizeof d->text[2]);
    snprintf(d->worst, sizeof d->worst, "What else is asked; the worst hour: %s, %s, from soaked",
             swh_log_command_text(j, SWH_Q_TEMPERATURE, a->worst_ambient, ambient, sizeof ambient),
             swh_log_command_text(j, SWH_Q_ROTATION, a->worst_speed, speed, sizeof speed));
}

/* ---- words ---- */

static int farthest(const struct swh_acceptance *a)
{
    int best = -1;
    for (int i = 0; i < SWH_COMPARED; i++)
        if (isfinite(a->deviation[i]) && (best < 0 || fabs(a->deviation[i]) > fabs(a->deviation[best])))
            best = i;
    return best;
}

/* the verdict and what weighs most in it */
static void compose(const struct swh_acceptance *a, const char *answer, bool judged, struct drawing *d)
{
    char words[64], much[160];
    const int worst = farthest(a);
    size_t used = (size_t)snprintf(d->title, sizeof d->title, "%s", answer);
    if (used >= sizeof d->title || !judged)
        return;
    if (!a->lives)
        snprintf(d->title + used, sizeof d->title - used,
                 "; the compressor does not come through the worst hour");
    else if (a->fault != SWH_HEALTHY) {
        swh_severity_words(a->fault, a->ranking.cause[0].severity, much, sizeof much);
        snprintf(d->title + used, sizeof d->title - used, "; %s fits better than a sound vehicle does", much);
    } else if (worst >= 0) {
        swh_frame_words(swh_channel_table[swh_compared[worst]].id, words, sizeof words);
        if (a->channel_ok[worst])
            snprintf(d->title + used, sizeof d->title - used,
                     "; farthest off is %s, by %.0f %% of what may be", words,
                     100 * fabs(a->deviation[worst]) / SWH_ACCEPT_DEVIATIONS);
        else
            snprintf(d->title + used, sizeof d->title - used, "; %s lies %s a sound vehicle's", words,
                     a->deviation[worst] > 0 ? "above" : "below");
    }
}

struct judged {
    const struct swh_log_command *judge;
    const struct swh_acceptance *acceptance;
    const char *answer;
    bool any;
};

static enum swh_status draw(const void *what, void *room, const struct swh_plot_options *o,
                            struct swh_error *err)
{
    const struct judged *q = what;
    struct drawing *d = room;
    lay_channels(q->judge, q->acceptance, d);
    lay_demands(q->judge, q->acceptance, d);
    compose(q->acceptance, q->answer, q->any, d);
    snprintf(d->subtitle, sizeof d->subtitle, "%.0f min with the clutch engaged",
             q->acceptance->at_work / 60);
    const struct swh_plot_acceptance picture = {
        d->title, d->subtitle, SWH_ACCEPT_DEVIATIONS, d->channel, d->channels, d->demand, DEMANDS, d->worst};
    return swh_plot_acceptance(&picture, o, err);
}

enum swh_status swh_accept_draw(const struct swh_log_command *j, const struct swh_acceptance *a,
                                const char *answer, bool judged, struct swh_error *err)
{
    const struct judged q = {j, a, answer, judged};
    return swh_log_command_draw(j, draw, &q, sizeof(struct drawing), "accept.json", err);
}
