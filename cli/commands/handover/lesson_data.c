#include "cli/commands/handover/lesson_data.h"

#include "cli/base/result.h"
#include "cli/base/shop_words.h"
#include "model/tables/events.h"
#include "solver/infer/rank.h"
#include "solver/simulate/run.h"

#include <math.h>
#include <string.h>

/* ---- words that the program says too ---- */

static const char *const complaints[SWH_FAULT_COUNT] = {
#define COMPLAINT(fault, text) [SWH_FAULT_##fault] = text,
#include "cli/commands/handover/complaint.def"
#undef COMPLAINT
};

static json_t *words(void)
{
    json_t *looks = json_array(), *knowledge = json_array(), *questions = json_array(), *oils = json_array();
#define LOOK(a, b, text)                                                                                     \
    json_array_append_new(looks, json_pack("[i, i, s]", SWH_FAULT_##a, SWH_FAULT_##b, text));
#include "cli/base/looks.def"
#undef LOOK
#define KNOWLEDGE(kind, word, text) json_array_append_new(knowledge, json_string(text));
#include "cli/base/knowledge.def"
#undef KNOWLEDGE
#define QUESTION(option, what, example, where)                                                               \
    json_array_append_new(questions, json_pack("[s, s, s]", what, example, where));
#include "cli/base/questions.def"
#undef QUESTION
    for (int i = 0; i < swh_oil_count; i++)
        json_array_append_new(oils, json_pack("[s, f, f, f]", swh_oils[i].name, swh_oils[i].viscosity_40,
                                              swh_oils[i].viscosity_100, swh_oils[i].density));
    return json_pack("{s:o, s:o, s:o, s:o}", "looks", looks, "knowledge", knowledge, "questions", questions,
                     "oils", oils);
}

static json_t *fault(int i)
{
    const struct swh_fault_info *f = &swh_fault_table[i];
    const struct swh_shop_words *shop = swh_shop_words(i);
    return json_pack("{s:s, s:s, s:s, s:s, s:f, s:s, s:i, s:s, s:f, s:f}", "id", f->id, "severity",
                     f->severity, "repair", f->repair, "phrase", shop->phrase, "scale", shop->scale, "unit",
                     shop->unit, "digits", shop->digits, "complaint",
                     complaints[i] ? complaints[i] : "It is not as cold as it was.", "often", f->often,
                     "most", swh_severity_most(i));
}

/* ---- tables ---- */

static json_t *shown(const struct swh_units *u, enum swh_show show, enum swh_quantity q)
{
    const double offset = swh_units_show(u, show, q, 0);
    return json_pack("{s:s, s:f, s:f}", "word", swh_units_word(show, q), "offset", offset, "scale",
                     swh_units_show(u, show, q, 1) - offset);
}

static json_t *quantities(const struct swh_units *u)
{
    json_t *a = json_array();
    for (int q = 0; q < SWH_QUANTITY_COUNT; q++)
        json_array_append_new(a, json_pack("{s:o, s:o}", "si", shown(u, SWH_SHOW_SI, (enum swh_quantity)q),
                                           "trade", shown(u, SWH_SHOW_TRADE, (enum swh_quantity)q)));
    return a;
}

static json_t *channels(void)
{
    json_t *a = json_array();
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        json_array_append_new(a,
                              json_pack("{s:s, s:i, s:b}", "id", swh_channel_table[i].id, "quantity",
                                        (int)swh_channel_table[i].quantity, "body", swh_ledger_of_body(i)));
    return a;
}

static json_t *defaults(void)
{
    struct swh_case c;
    json_t *o = json_object();
    char name[96];
    swh_case_default(&c);
    for (int i = 0; i < SWH_INPUT_COUNT; i++) {
        snprintf(name, sizeof name, "conditions.%s", swh_input_table[i].id);
        json_object_set_new(o, name, swh_json_number(*swh_input_at(&c.conditions, i)));
    }
    json_object_set_new(o, "run.duration", swh_json_number(c.params.run_duration));
    return o;
}

json_t *swh_lesson_tables(const struct swh_units *units)
{
    json_t *events = json_array(), *faults = json_array();
    for (int i = 0; i < SWH_EVENT_COUNT; i++)
        json_array_append_new(
            events, json_pack("{s:s, s:s}", "id", swh_event_table[i].id, "help", swh_event_table[i].help));
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        json_array_append_new(faults, fault(i));
    json_t *parameters = json_object();
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        json_object_set_new(parameters, swh_param_table[i].name, swh_json_number(swh_param_table[i].value));
    json_t *help = json_array();
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        json_array_append_new(help, json_string(swh_channel_table[i].help));
    return json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "words", words(), "channelHelp", help,
                     "parameters", parameters, "quantities", quantities(units), "channels", channels(),
                     "events", events, "faults", faults, "defaults", defaults());
}

/* ---- a story as settings ---- */

static void add(json_t *list, const char *key, double value)
{
    json_array_append_new(list, json_pack("[s, o]", key, swh_json_number(value)));
}

static bool differs(double a, double b)
{
    return !(a == b || (isnan(a) && isnan(b)));
}

static void add_faults(json_t *set, const struct swh_case *c)
{
    char key[96];
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        const struct swh_fault_setting *f = &c->fault[i];
        const struct {
            const char *what;
            double value;
        } part[] = {{"severity", f->severity}, {"start", f->start}, {"ramp", f->ramp}, {"end", f->end}};
        for (size_t k = 0; k < sizeof part / sizeof part[0] && f->present; k++) {
            snprintf(key, sizeof key, "fault.%s.%s", swh_fault_table[i].id, part[k].what);
            if (isfinite(part[k].value))
                add(set, key, part[k].value);
        }
    }
}

static json_t *settings(const struct swh_case *c)
{
    struct swh_case usual;
    struct swh_inputs in = c->conditions;
    char key[96];
    json_t *set = json_array();
    swh_case_default(&usual);
    add_faults(set, c);
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        if (differs(swh_param_get(&c->params, i), swh_param_get(&usual.params, i)))
            add(set, swh_param_table[i].name, swh_param_get(&c->params, i));
    for (int i = 0; i < SWH_INPUT_COUNT; i++) {
        snprintf(key, sizeof key, "conditions.%s", swh_input_table[i].id);
        if (differs(*swh_input_at(&in, i), *swh_input_at(&usual.conditions, i)))
            add(set, key, *swh_input_at(&in, i));
    }
    return set;
}

static json_t *choices(const struct swh_case *c)
{
    json_t *list = json_array();
    for (int i = 0; i < SWH_CHOICE_COUNT; i++)
        if (swh_choice_get(&c->choices, i) != swh_choice_table[i].value)
            json_array_append_new(
                list, json_pack("[s, i]", swh_choice_table[i].name, swh_choice_get(&c->choices, i)));
    return list;
}

static json_t *numbers(const double *x, size_t n)
{
    json_t *a = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(a, swh_json_number(x[i]));
    return a;
}

static json_t *schedule(const struct swh_schedule *s)
{
    if (s->rows == 0)
        return json_null();
    json_t *o = json_pack("{s:o}", "time", numbers(s->time, s->rows));
    for (int i = 0; i < SWH_INPUT_COUNT; i++)
        if (s->given[i])
            json_object_set_new(o, swh_input_table[i].id, numbers(s->column[i], s->rows));
    return o;
}

/* ---- its run ---- */

static const enum swh_channel carried[] = {SWH_CH_time,
                                           SWH_CH_suction_pressure,
                                           SWH_CH_discharge_pressure,
                                           SWH_CH_suction_temperature,
                                           SWH_CH_discharge_temperature,
                                           SWH_CH_shell_temperature,
                                           SWH_CH_vent_temperature,
                                           SWH_CH_liquid_line_temperature,
                                           SWH_CH_ambient_temperature,
                                           SWH_CH_compressor_speed,
                                           SWH_CH_clutch,
                                           SWH_CH_rotor_temperature,
                                           SWH_CH_piston_temperature,
                                           SWH_CH_block_temperature,
                                           SWH_CH_head_temperature,
                                           SWH_CH_oil_mass,
                                           SWH_CH_contact_temperature,
                                           SWH_CH_discharge_gas_temperature,
                                           SWH_CH_film_ratio,
                                           SWH_CH_boundary_share,
                                           SWH_CH_superheat,
                                           SWH_CH_subcooling};
enum { CARRIED = (int)(sizeof carried / sizeof carried[0]) };

struct carrying {
    json_t *rows, *events;
};

/* to four digits: the page draws it, no more */
static double rounded(double x)
{
    const double size = x != 0 && isfinite(x) ? pow(10, 4 - ceil(log10(fabs(x)))) : 1;
    return round(x * size) / size;
}

static enum swh_status carry_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    struct carrying *c = user;
    json_t *a = json_array();
    (void)err;
    for (int i = 0; i < CARRIED; i++)
        json_array_append_new(a, swh_json_number(rounded(row->value[carried[i]])));
    json_array_append_new(c->rows, a);
    return SWH_OK;
}

static enum swh_status carry_event(const struct swh_event_record *e, void *user, struct swh_error *err)
{
    struct carrying *c = user;
    (void)err;
    json_array_append_new(c->events, json_pack("[f, i]", e->time, (int)e->event));
    return SWH_OK;
}

static json_t *run(const struct swh_case *c, struct swh_error *err)
{
    struct swh_case thin = *c; /* shares the schedule */
    struct swh_summary u;
    struct carrying k = {json_array(), json_array()};
    const struct swh_sinks sinks = {.row = carry_row, .event = carry_event, .user = &k};
    json_t *ids = json_array();
    thin.params.run_output_interval = fmax(2, c->params.run_duration / 360);
    if (swh_run(&thin, &sinks, &u, err) != SWH_OK) {
        json_decref(k.rows);
        json_decref(k.events);
        json_decref(ids);
        return NULL;
    }
    for (int i = 0; i < CARRIED; i++)
        json_array_append_new(ids, json_string(swh_channel_table[carried[i]].id));
    return json_pack("{s:o, s:o, s:o, s:i, s:o, s:f, s:i, s:f}", "channels", ids, "rows", k.rows, "events",
                     k.events, "outcome", (int)u.outcome, "seizure", swh_json_number(u.time_to_seizure),
                     "duty", u.duty, "protectedBy", (int)u.protected_by, "end", u.end_time);
}

json_t *swh_lesson_story(const struct swh_scenario *scenario, struct swh_error *err)
{
    const struct swh_case *c = &scenario->c;
    json_t *carried_run = run(c, err);
    if (!carried_run)
        return NULL;
    return json_pack("{s:s, s:s, s:i, s:o, s:o, s:o, s:o}", "name", c->name, "stem", scenario->stem,
                     "refrigerant", c->choices.vehicle_refrigerant, "set", settings(c), "choose", choices(c),
                     "schedule", schedule(&c->schedule), "run", carried_run);
}
