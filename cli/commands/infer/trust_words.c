#include "cli/commands/infer/trust_words.h"

#include "cli/commands/infer/draw.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

/* ---- what must be known ---- */

static void refuse(struct swh_log_command *j, const char *what, const char *otherwise, const char *key)
{
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_INPUT,
                  "the %s has no %s, and %s: what a healthy vehicle would read is not known",
                  swh_log_command_kind(j), what, otherwise);
    swh_error_expected(&err, "a column of it, or --set \"conditions.%s=...\"", key);
    swh_error_at(&err, j->frame.session->argument[0], 0, 0);
    swh_fail(j->frame.session, &err);
}

enum swh_status swh_log_command_ask(struct swh_log_command *j)
{
    static const struct {
        enum swh_channel channel;
        enum swh_input input;
    } needed[] = {{SWH_CH_ambient_temperature, SWH_IN_ambient_temperature},
                  {SWH_CH_compressor_speed, SWH_IN_compressor_speed}};
    const struct swh_readings read = swh_log_command_readings(j);
    for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
        if (swh_readings_lack(&read, needed[i].channel) &&
            j->frame.scenario.conditions[needed[i].input] == SWH_FROM_DEFAULT)
            refuse(j, swh_channel_table[needed[i].channel].id, "none is given",
                   swh_input_table[needed[i].input].id);
    if (swh_log_command_doors_unknown(j, &read))
        refuse(j, "cabin_temperature", "nothing says whether the doors were open", "doors_open");
    return swh_problems_status(&j->frame.session->problems);
}

/* ---- words ---- */

static const struct {
    const char *word, *text;
} knowledge[] = {
#define KNOWLEDGE(kind, word, text) [SWH_KNOWN_##kind] = {word, text},
#include "cli/base/knowledge.def"
#undef KNOWLEDGE
};

const char *swh_knowledge_word(enum swh_knowledge k)
{
    return knowledge[k].word;
}

const char *swh_knowledge_text(const struct swh_params *p, char *out, size_t size)
{
    const char *text = knowledge[swh_knowledge_of(p)].text, *rows = strstr(text, "%.0f");
    if (rows)
        snprintf(out, size, "%.*s%.0f%s", (int)(rows - text), text, p->fitted_rows, rows + 4);
    else
        snprintf(out, size, "%s", text);
    return out;
}

struct words {
    char *out;
    size_t size, used;
};

__attribute__((format(printf, 2, 3))) static void add(struct words *w, const char *format, ...)
{
    va_list list;
    if (w->used + 2 >= w->size)
        return;
    if (w->used > 0) {
        memcpy(w->out + w->used, ", ", 3);
        w->used += 2;
    }
    va_start(list, format);
    const int n = vsnprintf(w->out + w->used, w->size - w->used, format, list);
    va_end(list);
    w->used = n < 0 ? w->used : w->used + (size_t)n;
}

static void say_doors(const struct swh_log_command *j, const struct swh_readings *read, bool open,
                      struct words *w)
{
    bool said = j->doors_given;
    for (size_t i = 0; read->sheet && i < read->sheet->rows; i++)
        said |= read->sheet->row[i].doors_open >= 0;
    if (!said)
        add(w, "doors %s (%s)", open ? "open" : "shut",
            swh_readings_have(read, SWH_CH_cabin_temperature) ? "by the cabin's air" : "it moves");
}

/* what was not read but is needed: given, or nobody's word */
static void say_unread(const struct swh_log_command *j, const struct swh_readings *read, struct words *w)
{
    static const struct {
        enum swh_channel channel;
        enum swh_input input;
        const char *word;
    } needed[] = {{SWH_CH_ambient_temperature, SWH_IN_ambient_temperature, "outside air"},
                  {SWH_CH_compressor_speed, SWH_IN_compressor_speed, "compressor"},
                  {SWH_CH_vehicle_speed, SWH_IN_vehicle_speed, "road speed"}};
    struct swh_inputs in = j->frame.scenario.c.conditions;
    char text[48];
    for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
        if (swh_readings_lack(read, needed[i].channel))
            add(w, "%s %s (%s)", needed[i].word,
                swh_log_command_text(j, swh_input_table[needed[i].input].quantity,
                                     *swh_input_at(&in, (int)needed[i].input), text, sizeof text),
                j->frame.scenario.conditions[needed[i].input] == SWH_FROM_DEFAULT ? "not read" : "given");
    if (swh_readings_lack(read, SWH_CH_ambient_humidity))
        add(w, "humidity %.0f %% (%s)", 100 * in.ambient_humidity,
            j->frame.scenario.conditions[SWH_IN_ambient_humidity] == SWH_FROM_DEFAULT ? "not read" : "given");
    if (swh_readings_lack(read, SWH_CH_clutch))
        add(w, "clutch in wherever its switches allow (not read)");
}

const char *swh_assumed_text(const struct swh_log_command *j, const struct swh_ranking *r, char *out,
                             size_t size)
{
    const struct swh_readings read = swh_log_command_readings(j);
    struct words w = {out, size, 0};
    out[0] = '\0';
    if (r->points > 0) {
        say_doors(j, &read, r->drive.doors_open, &w);
        say_unread(j, &read, &w);
    }
    if (j->bench)
        add(&w, "what lay on the bench from an hour at 40 degC, 2500 rpm, switches out of action (computed)");
    return out;
}

const char *swh_none_fits_text(const struct swh_log_command *j, const struct swh_ranking *r, char *out,
                               size_t size)
{
    const enum swh_channel ch = swh_compared[r->farthest];
    snprintf(
        out, size,
        "No cause of the list explains this %s: with the best of them %s still lies %.1f deviations "
        "off, further than any vehicle of this kind could. Check compressor speed, doors, ambient, units "
        "and gauges, and measure again before anything is replaced",
        swh_log_command_kind(j), swh_channel_table[ch].id, r->misfit);
    return out;
}
