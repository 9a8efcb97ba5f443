/* Picture of the next test. */
#include "cli/commands/infer/draw.h"

#include "cli/base/frame.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { READINGS = 3 };
/* the one test whose picture it is shows a further reading that parts the first two causes by this much */
static const double TELLS = 2; /* standard deviations */
/* a cause is singled out where it is this many times as likely as any other: as in
 * a ranking's "cannot tell" */
static const double FACTOR = 3;

struct drawing {
    char title[512], subtitle[300], foot[300];
    struct swh_cause_words words[SWH_TEST_CAUSES];
    struct swh_plot_suspect cause[SWH_TEST_CAUSES];
    double value[READINGS][SWH_TEST_CAUSES];
    struct swh_plot_prediction reading[READINGS];
    size_t readings;
};

static double limit_of(enum swh_channel ch)
{
    return ch == SWH_CH_discharge_pressure      ? SWH_STOP_PRESSURE
           : ch == SWH_CH_discharge_temperature ? SWH_STOP_DISCHARGE_TEMPERATURE
                                                : NAN;
}

static void lay_reading(const struct swh_log_command *j, const struct swh_test_result *t, int i, int causes,
                        struct drawing *d)
{
    const size_t n = d->readings++;
    const enum swh_channel ch = swh_compared[i];
    for (int k = 0; k < causes; k++)
        d->value[n][k] = t->value[k][i];
    d->reading[n] = (struct swh_plot_prediction){.channel = ch,
                                                 .instrument = swh_channel_table[ch].offset_sigma,
                                                 .sigma = swh_testplan_sigma(&j->frame.scenario.c.params, i),
                                                 .limit = limit_of(ch),
                                                 .value = d->value[n]};
}

/* the chosen reading, then what else tells, the clearest first */
static void choose_readings(const struct swh_log_command *j, const struct swh_test_result *t, int causes,
                            struct drawing *d)
{
    bool taken[SWH_COMPARED] = {false};
    lay_reading(j, t, t->best, causes, d);
    taken[t->best] = true;
    while (d->readings < READINGS) {
        int next = -1;
        for (int i = 0; i < SWH_COMPARED; i++)
            if (!taken[i] && t->separation[i] >= TELLS &&
                (next < 0 || t->separation[i] > t->separation[next]))
                next = i;
        if (next < 0)
            return;
        lay_reading(j, t, next, causes, d);
        taken[next] = true;
    }
}

static void compose(const struct swh_log_command *j, const struct swh_test_result *t, struct drawing *d)
{
    const struct swh_testpoint_info *p = &swh_testpoint_table[t->point];
    const struct swh_channel_info *ch = &swh_channel_table[swh_compared[t->best]];
    const struct swh_inputs *in = &j->frame.scenario.c.conditions;
    char channel[64], ambient[48];
    swh_frame_words(ch->id, channel, sizeof channel);
    swh_log_command_text(j, SWH_Q_TEMPERATURE, in->ambient_temperature, ambient, sizeof ambient);
    snprintf(d->title, sizeof d->title, "%s%s %s (%s): %s; %s, %.0f %% humidity",
             t->careful ? "CAREFUL, near a limit: " : "",
             t->separation[t->best] >= TELLS ? "Read" : "No reading tells the first two apart; best", channel,
             ch->help, p->help, ambient, 100 * in->ambient_humidity);
    if (t->careful)
        d->title[sizeof "CAREFUL, near a limit: " - 1] |= 0x20;
    snprintf(d->subtitle, sizeof d->subtitle,
             "hold %.0f min, mean of the last minute; dot: predicted, thick: instrument's 95 %%, thin: with "
             "the model's; "
             "pale: %.0f times likelier than any other",
             p->hold / 60, FACTOR);
}

/* where to stop, and how far the causes go */
static void compose_foot(const struct swh_log_command *j, const struct swh_test_result *t, struct drawing *d)
{
    char text[4][48];
    const struct {
        enum swh_quantity q;
        double si;
    } value[4] = {{SWH_Q_PRESSURE, SWH_STOP_PRESSURE},
                  {SWH_Q_TEMPERATURE, SWH_STOP_DISCHARGE_TEMPERATURE},
                  {SWH_Q_PRESSURE, t->highest_pressure},
                  {SWH_Q_TEMPERATURE, t->highest_discharge_temperature}};
    for (int i = 0; i < 4; i++)
        swh_log_command_text(j, value[i].q, value[i].si, text[i], sizeof text[i]);
    snprintf(d->foot, sizeof d->foot,
             "Stop at once above %s at the high side or %s at the discharge pipe. Predicted at most: %s, %s.",
             text[0], text[1], text[2], text[3]);
}

struct planned {
    const struct swh_log_command *judge;
    const struct swh_test_result *test;
    const struct swh_test_cause *cause;
    int causes;
};

static enum swh_status draw(const void *what, void *room, const struct swh_plot_options *o,
                            struct swh_error *err)
{
    const struct planned *q = what;
    struct drawing *d = room;
    for (int k = 0; k < q->causes; k++) {
        d->cause[k].second = swh_cause_words(q->cause[k].fault, q->cause[k].second, &d->words[k]);
        d->cause[k].label = d->words[k].first;
    }
    choose_readings(q->judge, q->test, q->causes, d);
    compose(q->judge, q->test, d);
    compose_foot(q->judge, q->test, d);
    const struct swh_plot_plan plan = {d->title,    d->subtitle, d->cause, (size_t)q->causes, d->reading,
                                       d->readings, FACTOR,      d->foot,  q->test->careful};
    return swh_plot_plan(&plan, o, err);
}

enum swh_status swh_plan_draw(const struct swh_log_command *j, const struct swh_test_result *t,
                              const struct swh_test_cause *cause, int causes, struct swh_error *err)
{
    const struct planned q = {j, t, cause, causes};
    return swh_log_command_draw(j, draw, &q, sizeof(struct drawing), "plan.json", err);
}
