#include "cli/commands/look/good_for.h"

#include "solver/infer/accept.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* why not, one reason after the other */
struct reasons {
    char text[512];
};

static void because(struct reasons *r, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void because(struct reasons *r, const char *format, ...)
{
    const size_t used = strlen(r->text), room = sizeof r->text - used;
    va_list ap;
    if (used > 0)
        snprintf(r->text + used, room, ", ");
    va_start(ap, format);
    vsnprintf(r->text + strlen(r->text), sizeof r->text - strlen(r->text), format, ap);
    va_end(ap);
}

static void need(const struct swh_good_for *g, enum swh_channel ch, struct reasons *r)
{
    if (!g->has[ch])
        because(r, "no %s", swh_channel_table[ch].id);
}

static void for_replay(const struct swh_good_for *g, struct reasons *r)
{
    if (g->sheet)
        because(r, "a spot sheet has no course in time");
    need(g, SWH_CH_suction_pressure, r);
    need(g, SWH_CH_discharge_pressure, r);
    need(g, SWH_CH_suction_temperature, r);
}

static void for_rank(const struct swh_good_for *g, struct reasons *r)
{
    int gauges = 0, others = 0;
    for (int i = 0; i < SWH_COMPARED; i++) {
        const bool gauge =
            swh_compared[i] == SWH_CH_suction_pressure || swh_compared[i] == SWH_CH_discharge_pressure;
        gauges += gauge && g->has[swh_compared[i]];
        others += !gauge && g->has[swh_compared[i]];
    }
    if (gauges == 0)
        because(r, "no gauge reading");
    else if (gauges + others < 2)
        because(r, "one reading alone tells no causes apart");
    if (!g->sheet && g->seconds < 60)
        because(r, "it lasts %.0f s", g->seconds);
}

/* what drives the model must be read, or given with --set */
static void need_drives(const struct swh_good_for *g, bool doors, struct reasons *r)
{
    need(g, SWH_CH_ambient_temperature, r);
    need(g, SWH_CH_compressor_speed, r);
    if (doors && !g->doors_known)
        because(r, "nothing says whether the doors were open");
}

static void for_ranking(const struct swh_good_for *g, struct reasons *r)
{
    for_rank(g, r);
    need_drives(g, true, r);
}

static void for_fit(const struct swh_good_for *g, struct reasons *r)
{
    for_rank(g, r);
    need_drives(g, false, r);
}

static void for_accept(const struct swh_good_for *g, struct reasons *r)
{
    for (int i = 0; i < SWH_ACCEPT_LEAST; i++)
        need(g, swh_accept_least[i].channel, r);
    need_drives(g, true, r);
    if (!g->sheet && g->seconds < SWH_LEAST_AT_WORK)
        because(r, "it lasts %.0f s", g->seconds);
}

bool swh_good_for_words(const struct swh_good_for *g, char *out, size_t size)
{
    static const struct {
        const char *command;
        void (*why_not)(const struct swh_good_for *g, struct reasons *r);
    } commands[] = {{"rank", for_ranking}, {"fit", for_fit}, {"accept", for_accept}, {"replay", for_replay}};
    char good[80] = "", bad[1600] = "";
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        struct reasons r = {""};
        commands[i].why_not(g, &r);
        char *to = r.text[0] ? bad : good;
        const size_t used = strlen(to), room = (r.text[0] ? sizeof bad : sizeof good) - used;
        if (r.text[0])
            snprintf(to + used, room, "%s%s (%s)", used ? "; nor for " : "", commands[i].command, r.text);
        else
            snprintf(to + used, room, "%s%s", used ? ", " : "", commands[i].command);
    }
    snprintf(out, size, "%s%s%s%s%s", good[0] ? "good for: " : "", good, good[0] && bad[0] ? ". " : "",
             bad[0] ? "Not for " : "", bad);
    if (strstr(bad, "_temperature") || strstr(bad, "doors") || strstr(bad, "compressor_speed"))
        snprintf(out + strlen(out), size - strlen(out),
                 ". Conditions that were not read can be given with --set conditions.NAME=...");
    return good[0] != '\0';
}
