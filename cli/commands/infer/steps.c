#include "cli/commands/infer/steps.h"

#include "cli/base/shop_words.h"

#include <math.h>
#include <string.h>

/* ---- causes ---- */

void swh_steps_take(struct swh_steps *s, const struct swh_test_cause *cause)
{
    if (s->causes < SWH_TEST_CAUSES &&
        (s->causes < 2 || (cause->share >= 0.02 && cause->second == SWH_HEALTHY)))
        s->cause[s->causes++] = *cause;
}

void swh_steps_from_ranking(struct swh_steps *s, const struct swh_ranking *r)
{
    s->causes = 0;
    for (int i = 0; i < r->causes; i++) {
        const struct swh_cause *c = &r->cause[i];
        const struct swh_test_cause one = {c->fault, c->second, c->severity, c->second_severity, c->share};
        swh_steps_take(s, &one);
    }
}

/* ---- conditions ---- */

void swh_steps_conditions(struct swh_log_command *j, double ambient, double humidity)
{
    struct swh_scenario *v = &j->frame.scenario;
    if (isfinite(ambient) && v->conditions[SWH_IN_ambient_temperature] != SWH_FROM_SET) {
        v->c.conditions.ambient_temperature = ambient;
        v->conditions[SWH_IN_ambient_temperature] = SWH_FROM_SCENARIO;
    }
    if (isfinite(humidity) && v->conditions[SWH_IN_ambient_humidity] != SWH_FROM_SET) {
        v->c.conditions.ambient_humidity = humidity;
        v->conditions[SWH_IN_ambient_humidity] = SWH_FROM_SCENARIO;
    }
}

static double mean_of(const struct swh_readings *r, enum swh_channel ch)
{
    double sum = 0;
    int n = 0;
    if (r->log)
        return swh_log_channel_facts(r->log, ch).mean;
    for (size_t i = 0; r->sheet && i < r->sheet->rows; i++)
        if (isfinite(r->sheet->row[i].value[ch])) {
            sum += r->sheet->row[i].value[ch];
            n++;
        }
    return n ? sum / n : NAN;
}

void swh_steps_read_conditions(const struct swh_log_command *j, double *ambient, double *humidity)
{
    const struct swh_readings r = swh_log_command_readings(j);
    *ambient = mean_of(&r, SWH_CH_ambient_temperature);
    *humidity = mean_of(&r, SWH_CH_ambient_humidity);
}

/* ---- choosing ---- */

static const double TOLD = 0.8; /* a share from which a cause counts as told apart */

/* clear ones first, the quickest of them first */
static bool before(const struct swh_steps *s, int a, int b)
{
    const bool clear_a = s->apart[a] >= 2 * SWH_WORTH_DOING, clear_b = s->apart[b] >= 2 * SWH_WORTH_DOING;
    const double minutes_a = swh_direct_table[s->direct[a]].minutes,
                 minutes_b = swh_direct_table[s->direct[b]].minutes;
    if (clear_a != clear_b)
        return clear_a;
    return minutes_a != minutes_b ? minutes_a < minutes_b : s->apart[a] > s->apart[b];
}

static void choose_direct(const struct swh_log_command *j, struct swh_steps *s)
{
    const struct swh_test_cause *a = &s->cause[0], *b = &s->cause[1];
    const int other = s->told ? SWH_HEALTHY : b->fault;
    for (int i = 0; i < SWH_DIRECT_COUNT; i++) {
        const double apart = swh_direct_apart((enum swh_direct)i, &j->frame.scenario.c, a->fault, a->severity,
                                              other, s->told ? 0 : b->severity);
        if (apart < SWH_WORTH_DOING || (s->locked && !swh_direct_table[i].at_rest))
            continue;
        int k = s->directs++;
        s->direct[k] = (enum swh_direct)i;
        s->apart[k] = apart;
        for (; k > 0 && before(s, k, k - 1); k--) {
            const enum swh_direct d = s->direct[k];
            const double z = s->apart[k];
            s->direct[k] = s->direct[k - 1];
            s->apart[k] = s->apart[k - 1];
            s->direct[k - 1] = d;
            s->apart[k - 1] = z;
        }
    }
}

enum swh_status swh_steps_make(const struct swh_log_command *j, struct swh_steps *s, struct swh_error *err)
{
    s->told = s->causes > 0 && s->cause[0].share >= TOLD && s->cause[0].fault != SWH_HEALTHY;
    const enum swh_status status =
        swh_testplan(&j->frame.scenario.c, s->cause, s->causes, swh_frame_threads(), s->test, err);
    if (status != SWH_OK)
        return status;
    choose_direct(j, s);
    const struct swh_test_result *t = &s->test[0];
    s->next = !s->locked && !t->barred && t->separation[t->best] >= SWH_WORTH_DOING ? t : NULL;
    return SWH_OK;
}

/* ---- words ---- */

const char *swh_steps_cause(const struct swh_test_cause *c, char *out, size_t size)
{
    char name[80], much[160];
    const struct swh_cause full = {.fault = c->fault, .second = c->second};
    swh_cause_name(&full, name, sizeof name);
    if (c->fault < 0)
        snprintf(out, size, "%s", name);
    else if (c->second >= 0)
        snprintf(out, size, "%s (%.2f and %.2f)", name, c->severity, c->second_severity);
    else
        snprintf(out, size, "%s (%s)", name, swh_severity_words(c->fault, c->severity, much, sizeof much));
    return out;
}

const char *swh_steps_conditions_words(const struct swh_log_command *j, char *out, size_t size)
{
    char ambient[48];
    const struct swh_scenario *v = &j->frame.scenario;
    const bool read = v->conditions[SWH_IN_ambient_temperature] != SWH_FROM_DEFAULT;
    const bool humid = v->conditions[SWH_IN_ambient_humidity] != SWH_FROM_DEFAULT;
    swh_log_command_text(j, SWH_Q_TEMPERATURE, v->c.conditions.ambient_temperature, ambient, sizeof ambient);
    snprintf(out, size, "%s outside%s, %.0f %% humidity%s", ambient, read ? "" : " (assumed)",
             100 * v->c.conditions.ambient_humidity, humid ? "" : " (assumed)");
    return out;
}

const char *swh_stop_words(const struct swh_log_command *j, char *out, size_t size)
{
    char pressure[48], temperature[48];
    swh_log_command_text(j, SWH_Q_PRESSURE, SWH_STOP_PRESSURE, pressure, sizeof pressure);
    swh_log_command_text(j, SWH_Q_TEMPERATURE, SWH_STOP_DISCHARGE_TEMPERATURE, temperature,
                         sizeof temperature);
    snprintf(out, size, "%s at the high side or %s at the discharge pipe", pressure, temperature);
    return out;
}

json_t *swh_stop_json(const struct swh_log_command *j)
{
    char text[160];
    return json_pack("{s:o, s:o, s:s}", "discharge_pressure",
                     swh_json_quantity(SWH_STOP_PRESSURE, SWH_Q_PRESSURE), "discharge_temperature",
                     swh_json_quantity(SWH_STOP_DISCHARGE_TEMPERATURE, SWH_Q_TEMPERATURE), "text",
                     swh_stop_words(j, text, sizeof text));
}

const char *swh_apart_word(double apart)
{
    return apart >= 3 ? "clearly" : apart >= 2 ? "fairly" : apart >= SWH_WORTH_DOING ? "a little" : "hardly";
}

const char *swh_direct_words(const struct swh_log_command *j, enum swh_direct test,
                             const struct swh_test_cause *c, char *out, size_t size)
{
    const double x = swh_direct_expects(test, &j->frame.scenario.c, c->fault, c->severity);
    const int f = swh_direct_table[test].finding;
    if (isnan(x))
        snprintf(out, size, "-");
    else if (swh_direct_is_sign(test))
        snprintf(out, size, "%s in %.0f of 100", x >= 0.5 ? "yes" : "no", 100 * fmax(x, 1 - x));
    else if (f == SWH_FINDING_condenser_face)
        snprintf(out, size, "%.0f %%", 100 * x);
    else
        swh_log_command_text(j, swh_channel_table[swh_finding_table[f].channel].quantity, x, out, size);
    return out;
}

/* ---- JSON ---- */

json_t *swh_steps_next_json(const struct swh_steps *s)
{
    const struct swh_test_result *t = s->next;
    if (!t)
        return json_null();
    const struct swh_testpoint_info *p = &swh_testpoint_table[t->point];
    const struct swh_channel_info *ch = &swh_channel_table[swh_compared[t->best]];
    json_t *o = json_pack("{s:s, s:s, s:s, s:s, s:f, s:o, s:b}", "test", p->id, "how", p->help, "channel",
                          ch->id, "where", ch->help, "hold_s", p->hold, "separation",
                          swh_json_number(t->separation[t->best]), "careful", t->careful);
    json_t *values = json_object();
    for (int k = 0; k < 2; k++) {
        char name[80];
        const struct swh_cause full = {.fault = s->cause[k].fault, .second = s->cause[k].second};
        json_object_set_new(values, swh_cause_name(&full, name, sizeof name),
                            swh_json_quantity(t->value[k][t->best], ch->quantity));
    }
    json_object_set_new(o, "expected", values);
    return o;
}

json_t *swh_steps_direct_json(const struct swh_log_command *j, const struct swh_steps *s)
{
    json_t *a = json_array();
    for (int i = 0; i < s->directs; i++) {
        const struct swh_direct_info *d = &swh_direct_table[s->direct[i]];
        json_t *o = json_pack("{s:s, s:s, s:f, s:b, s:o, s:s}", "test", d->id, "how", d->how, "minutes",
                              d->minutes, "at_rest", d->at_rest, "separation", swh_json_number(s->apart[i]),
                              "tells", swh_apart_word(s->apart[i]));
        json_t *expected = json_object();
        for (int k = 0; k < s->causes; k++) {
            char name[80], words[64];
            const struct swh_cause full = {.fault = s->cause[k].fault, .second = s->cause[k].second};
            json_object_set_new(
                expected, swh_cause_name(&full, name, sizeof name),
                swh_json_text(swh_direct_words(j, s->direct[i], &s->cause[k], words, sizeof words)));
        }
        json_object_set_new(o, "finding",
                            d->finding < 0 ? json_null() : json_string(swh_finding_table[d->finding].id));
        json_object_set_new(o, "expected", expected);
        json_array_append_new(a, o);
    }
    return a;
}

/* ---- print ---- */

static void print_direct(const struct swh_log_command *j, const struct swh_steps *s, FILE *f)
{
    static const struct swh_test_cause healthy = {SWH_HEALTHY, SWH_HEALTHY, 0, 0, 0};
    const struct swh_test_cause *other = s->told ? &healthy : &s->cause[1];
    char a[64], b[64], name[80];
    const struct swh_cause first = {.fault = s->cause[0].fault, .second = s->cause[0].second};
    fprintf(f, "    %s; %.0f min, tells %s\n", swh_direct_table[s->direct[0]].how,
            swh_direct_table[s->direct[0]].minutes, swh_apart_word(s->apart[0]));
    fprintf(f, "    %s: %s; ", swh_cause_name(&first, name, sizeof name),
            swh_direct_words(j, s->direct[0], &s->cause[0], a, sizeof a));
    const struct swh_cause second = {.fault = other->fault, .second = other->second};
    fprintf(f, "%s: %s.\n", swh_cause_name(&second, name, sizeof name),
            swh_direct_words(j, s->direct[0], other, b, sizeof b));
}

static void print_reading(const struct swh_log_command *j, const struct swh_steps *s, FILE *f)
{
    const struct swh_test_result *t = s->next;
    const struct swh_channel_info *ch = &swh_channel_table[swh_compared[t->best]];
    const struct swh_readings read = swh_log_command_readings(j);
    char text[64], cause[240];
    fprintf(f, "\n  Next reading: %s%s (%s)\n    %s; hold %.0f min%s\n",
            swh_readings_have(&read, swh_compared[t->best]) ? "once more " : "", ch->id, ch->help,
            swh_testpoint_table[t->point].help, swh_testpoint_table[t->point].hold / 60,
            t->careful ? "; EXPECTED TO PASS A LIMIT, see plan" : "");
    for (int k = 0; k < 2; k++)
        fprintf(f, "    %s: %s\n", swh_steps_cause(&s->cause[k], cause, sizeof cause),
                swh_log_command_text(j, ch->quantity, t->value[k][t->best], text, sizeof text));
    fprintf(f, "    (computed for %s)\n", swh_steps_conditions_words(j, cause, sizeof cause));
}

void swh_steps_print_next(const struct swh_log_command *j, const struct swh_steps *s, FILE *f)
{
    if (s->told && s->directs > 0)
        fprintf(f, "\n  Told apart already; what confirms it without harm:\n");
    else if (s->directs > 0)
        fprintf(f, "\n  A direct test tells:\n");
    if (s->directs > 0)
        print_direct(j, s, f);
    if (s->next)
        print_reading(j, s, f);
    if (!s->next && s->directs == 0)
        fprintf(f, "\n  No test of the list would tell the first two apart; do not test further.\n");
}
