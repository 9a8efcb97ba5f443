#include "cli/commands/infer/trust_words.h"

#include <math.h>
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

const char *swh_assumed_text(const struct swh_log_command *j, const struct swh_ranking *r, char *out,
                             size_t size)
{
    const struct swh_readings read = swh_log_command_readings(j);
    const struct swh_scenario *s = &j->frame.scenario;
    size_t used = 0;
    bool doors_said = j->doors_given;
    for (size_t i = 0; read.sheet && i < read.sheet->rows; i++)
        doors_said |= read.sheet->row[i].doors_open >= 0;
    out[0] = '\0';
    if (!doors_said && r->points > 0)
        used += (size_t)snprintf(out, size, "doors %s (by the cabin's air), ",
                                 r->drive.doors_open ? "open" : "shut");
    if (r->points > 0 && swh_readings_lack(&read, SWH_CH_ambient_humidity) && used < size)
        used += (size_t)snprintf(
            out + used, size - used, "humidity %.0f %% (%s), ", 100 * s->c.conditions.ambient_humidity,
            s->conditions[SWH_IN_ambient_humidity] == SWH_FROM_DEFAULT ? "not read" : "given");
    if (used >= 2 && used < size)
        out[used - 2] = '\0';
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
