/* swashheat list: what the tables hold. */
#include "cli/base/result.h"
#include "cli/base/session.h"
#include "model/refrigerant/refrigerant.h"
#include "model/tables/events.h"
#include "solver/files/suggest.h"
#include "solver/infer/rank.h"

#include <math.h>
#include <string.h>

enum { FIELDS_MAX = 6 };

/* One row of a list: fields in the order of the list's titles. */
struct line {
    const char *field[FIELDS_MAX];
    char text[3][64]; /* room for fields that are put together */
    struct {
        bool is_number; /* as JSON it is told as one */
        enum swh_quantity quantity;
        double si;
    } number[FIELDS_MAX];
};

struct lister {
    const char *what;
    const char *titles[FIELDS_MAX]; /* up to the first NULL */
    int (*count)(void);
    void (*fill)(const struct swh_session *s, int i, struct line *out);
};

/* ---- the lists ---- */

static const char *shown(const struct swh_session *s, enum swh_quantity q, double si, char out[64])
{
    return swh_units_text(s->units, swh_session_show(s), q, si, out, 64);
}

/* Says that fields first .. first + n - 1 are these numbers [SI]. */
static void are_numbers(struct line *out, int first, int n, enum swh_quantity q, const double *si)
{
    for (int k = 0; k < n; k++) {
        out->number[first + k].is_number = true;
        out->number[first + k].quantity = q;
        out->number[first + k].si = si[k];
    }
}

static int count_faults(void)
{
    return SWH_FAULT_COUNT;
}
static void fill_fault(const struct swh_session *s, int i, struct line *out)
{
    const struct swh_fault_info *f = &swh_fault_table[i];
    (void)s;
    snprintf(out->text[0], sizeof out->text[0], "%g", f->often);
    const char *const field[] = {f->id, f->severity, f->acts_on, f->seen, f->repair, out->text[0]};
    memcpy(out->field, field, sizeof field);
    are_numbers(out, 5, 1, SWH_Q_NONE, &f->often);
}

static int count_findings(void)
{
    return SWH_FINDING_COUNT;
}
static void fill_finding(const struct swh_session *s, int i, struct line *out)
{
    const struct swh_finding_info *f = &swh_finding_table[i];
    const bool simulated = f->kind == SWH_FINDING_SIGN || f->kind == SWH_FINDING_AMOUNT;
    const char *const field[] = {f->id, swh_finding_is_sign((enum swh_finding)i) ? "yes or no" : "an amount",
                                 f->help, f->place,
                                 simulated ? swh_channel_table[f->channel].id : "itself seen or measured"};
    (void)s;
    memcpy(out->field, field, sizeof field);
}

static int count_channels(void)
{
    return SWH_CHANNEL_COUNT;
}
static void fill_channel(const struct swh_session *s, int i, struct line *out)
{
    static const char *const groups[] = {"reading", "inside", "ledger"}; /* ORDER of enum swh_channel_group */
    const struct swh_channel_info *c = &swh_channel_table[i];
    const char *const field[] = {c->id, swh_units_word(swh_session_show(s), c->quantity), groups[c->group],
                                 c->help};
    memcpy(out->field, field, sizeof field);
}

static int count_parameters(void)
{
    return SWH_PARAM_COUNT;
}
static void in_own_unit(const struct swh_session *s, const struct swh_param_info *p, double si, char out[64])
{
    struct swh_unit unit = {1, 0, false, false};
    const bool plain = p->quantity == SWH_Q_NONE;
    swh_unit_find(s->units, p->unit, p->quantity, &unit, NULL);
    if (isnan(si))
        snprintf(out, 64, "blank");
    else
        snprintf(out, 64, "%.5g%s%s", swh_unit_from_si(&unit, si, SWH_STANDARD_ATMOSPHERE), plain ? "" : " ",
                 plain ? "" : p->unit);
}
static void fill_parameter(const struct swh_session *s, int i, struct line *out)
{
    const struct swh_param_info *p = &swh_param_table[i];
    const bool trade = swh_session_show(s) == SWH_SHOW_TRADE;
    const double value[] = {p->value, p->lo, p->hi};
    for (int k = 0; k < 3; k++)
        if (trade)
            shown(s, p->quantity, value[k], out->text[k]);
        else
            in_own_unit(s, p, value[k], out->text[k]);
    const char *const field[] = {p->name, out->text[0], out->text[1], out->text[2], p->help, p->source};
    memcpy(out->field, field, sizeof field);
    are_numbers(out, 1, 3, p->quantity, value);
}

static int count_choices(void)
{
    return SWH_CHOICE_COUNT;
}
static void fill_choice(const struct swh_session *s, int i, struct line *out)
{
    const struct swh_choice_info *c = &swh_choice_table[i];
    (void)s;
    swh_choice_word(i, c->value, out->text[0], sizeof out->text[0]);
    const char *const field[] = {c->name, out->text[0], c->options, c->help};
    memcpy(out->field, field, sizeof field);
}

static int count_inputs(void)
{
    return SWH_INPUT_COUNT;
}
static void fill_input(const struct swh_session *s, int i, struct line *out)
{
    const struct swh_input_info *in = &swh_input_table[i];
    /* the pressure of the air outside would be zero as a gauge reading */
    const enum swh_quantity q = i == SWH_IN_ambient_pressure ? SWH_Q_PRESSURE_DIFFERENCE : in->quantity;
    const char *const field[] = {in->id,
                                 shown(s, q, in->value, out->text[0]),
                                 shown(s, q, in->lo, out->text[1]),
                                 shown(s, q, in->hi, out->text[2]),
                                 in->shape == SWH_SHAPE_STEP ? "holds" : "joined",
                                 in->help};
    memcpy(out->field, field, sizeof field);
    are_numbers(out, 1, 3, in->quantity, (const double[]){in->value, in->lo, in->hi});
}

static int count_events(void)
{
    return SWH_EVENT_COUNT;
}
static void fill_event(const struct swh_session *s, int i, struct line *out)
{
    (void)s;
    out->field[0] = swh_event_table[i].id;
    out->field[1] = swh_event_table[i].help;
}

static int count_refrigerants(void)
{
    return SWH_REFRIGERANT_COUNT;
}
static void fill_refrigerant(const struct swh_session *s, int i, struct line *out)
{
    const struct swh_eos *r = swh_eos_get((enum swh_refrigerant)i);
    const char *const field[] = {swh_refrigerant_name(r),
                                 shown(s, SWH_Q_TEMPERATURE, swh_critical_temperature(r), out->text[0]),
                                 shown(s, SWH_Q_PRESSURE, swh_critical_pressure(r), out->text[1])};
    const double T = swh_critical_temperature(r), P = swh_critical_pressure(r);
    memcpy(out->field, field, sizeof field);
    are_numbers(out, 1, 1, SWH_Q_TEMPERATURE, &T);
    are_numbers(out, 2, 1, SWH_Q_PRESSURE, &P);
}

static int count_oils(void)
{
    return swh_oil_count;
}
static void fill_oil(const struct swh_session *s, int i, struct line *out)
{
    const struct swh_oil_info *o = &swh_oils[i];
    const char *const field[] = {o->name, shown(s, SWH_Q_KINEMATIC_VISCOSITY, o->viscosity_40, out->text[0]),
                                 shown(s, SWH_Q_KINEMATIC_VISCOSITY, o->viscosity_100, out->text[1]),
                                 shown(s, SWH_Q_DENSITY, o->density, out->text[2]), o->help};
    memcpy(out->field, field, sizeof field);
    are_numbers(out, 1, 2, SWH_Q_KINEMATIC_VISCOSITY, (const double[]){o->viscosity_40, o->viscosity_100});
    are_numbers(out, 3, 1, SWH_Q_DENSITY, &o->density);
}

static int count_compressors(void)
{
    return swh_compressor_count;
}
static void fill_compressor(const struct swh_session *s, int i, struct line *out)
{
    const struct swh_compressor_info *c = &swh_compressors[i];
    const char *const field[] = {c->name, shown(s, SWH_Q_LENGTH, c->bore, out->text[0]),
                                 shown(s, SWH_Q_LENGTH, c->stroke, out->text[1]),
                                 shown(s, SWH_Q_LENGTH, c->plate_radius, out->text[2]), c->help};
    memcpy(out->field, field, sizeof field);
    are_numbers(out, 1, 3, SWH_Q_LENGTH, (const double[]){c->bore, c->stroke, c->plate_radius});
}

static int count_units(void)
{
    return SWH_QUANTITY_COUNT;
}
static void fill_unit(const struct swh_session *s, int i, struct line *out)
{
    const struct swh_quantity_info *q = &swh_quantities[i];
    const char *const field[] = {q->help, q->si, q->show_si, q->show_trade};
    (void)s;
    memcpy(out->field, field, sizeof field);
}

static const struct lister listers[] = {
    {"faults", {"fault", "severity", "acts on", "seen as", "repair", "how often"}, count_faults, fill_fault},
    {"findings",
     {"finding", "value", "meaning", "where to look", "simulated by"},
     count_findings,
     fill_finding},
    {"channels", {"channel", "unit", "group", "meaning"}, count_channels, fill_channel},
    {"parameters",
     {"parameter", "default", "lowest", "highest", "meaning", "source"},
     count_parameters,
     fill_parameter},
    {"choices", {"choice", "default", "words", "meaning"}, count_choices, fill_choice},
    {"inputs",
     {"input", "default", "lowest", "highest", "between rows", "meaning"},
     count_inputs,
     fill_input},
    {"events", {"event", "meaning"}, count_events, fill_event},
    {"refrigerants",
     {"refrigerant", "critical temperature", "critical pressure"},
     count_refrigerants,
     fill_refrigerant},
    {"oils", {"oil", "at 40 degC", "at 100 degC", "density", "meaning"}, count_oils, fill_oil},
    {"compressors",
     {"compressor", "bore", "stroke", "plate radius", "meaning"},
     count_compressors,
     fill_compressor},
    {"units", {"quantity", "in files", "shown, si", "shown, trade"}, count_units, fill_unit},
};
enum { LISTERS = (int)(sizeof listers / sizeof listers[0]) };

/* ---- printing ---- */

static int fields_of(const struct lister *l)
{
    int n = 0;
    while (n < FIELDS_MAX && l->titles[n])
        n++;
    return n;
}

static void widen(int *width, const char *text)
{
    const int n = (int)strlen(text);
    if (n > *width)
        *width = n;
}

static void print_line(const char *const *field, int n, const int *width)
{
    for (int i = 0; i < n; i++)
        printf("%s%-*s", i ? "  " : "", i + 1 < n ? width[i] : 0, field[i]);
    putchar('\n');
}

static void print_table(const struct swh_session *s, const struct lister *l)
{
    int width[FIELDS_MAX] = {0};
    const int n = fields_of(l);
    for (int k = 0; k < n; k++)
        widen(&width[k], l->titles[k]);
    for (int i = 0; i < l->count(); i++) {
        struct line line = {0};
        l->fill(s, i, &line);
        for (int k = 0; k < n; k++)
            widen(&width[k], line.field[k]);
    }
    print_line(l->titles, n, width);
    for (int i = 0; i < l->count(); i++) {
        struct line line = {0};
        l->fill(s, i, &line);
        print_line(line.field, n, width);
    }
}

static void write_table(const struct swh_session *s, const struct lister *l)
{
    json_t *rows = json_array();
    const int n = fields_of(l);
    for (int i = 0; i < l->count(); i++) {
        struct line line = {0};
        json_t *o = json_object();
        l->fill(s, i, &line);
        for (int k = 0; k < n; k++)
            json_object_set_new(o, l->titles[k],
                                line.number[k].is_number
                                    ? swh_json_quantity(line.number[k].si, line.number[k].quantity)
                                    : json_string(line.field[k]));
        json_array_append_new(rows, o);
    }
    swh_json_write(rows, stdout);
    json_decref(rows);
}

enum swh_status swh_cmd_list(struct swh_session *s)
{
    struct swh_nearest near = {s->argument[0], NULL, 0};
    for (int i = 0; i < LISTERS; i++) {
        swh_nearest_offer(&near, listers[i].what);
        if (strcmp(listers[i].what, s->argument[0]) != 0)
            continue;
        if (swh_given(s, SWH_OPT_json))
            write_table(s, &listers[i]);
        else
            print_table(s, &listers[i]);
        return SWH_OK;
    }
    char expected[128];
    snprintf(expected, sizeof expected, "a known list%s", swh_nearest_said(&near).text);
    return swh_misuse(s, expected, "no list of '%s'", s->argument[0]);
}
