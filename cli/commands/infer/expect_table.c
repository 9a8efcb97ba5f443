#include "cli/commands/infer/expect_table.h"

#include "cli/base/shop_words.h"
#include "solver/files/number.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* what is read at each point, in the order of the columns */
static const struct column {
    enum swh_channel channel;
    const char *head;
} columns[] = {{SWH_CH_suction_pressure, "low"},
               {SWH_CH_discharge_pressure, "high"},
               {SWH_CH_suction_temperature, "suction"},
               {SWH_CH_discharge_temperature, "discharge"},
               {SWH_CH_liquid_line_temperature, "liquid"},
               {SWH_CH_vent_temperature, "vent"},
               {SWH_CH_superheat, "superheat"},
               {SWH_CH_subcooling, "subcool"}};
enum { COLUMNS = sizeof columns / sizeof columns[0], TABLE_COLUMNS = COLUMNS + 4 };

static const char *const WARNING =
    "Times with the switches bridged are computed only. Never bridge a pressure switch on a vehicle.";

/* ---- arrows ---- */

/* a reading is above or below the healthy one from here on: standard deviations of gauge, clamp and model */
static const double SEEN = 1.5, FAR = 4;

static double sigma_of(const struct swh_params *p, enum swh_channel ch)
{
    for (int i = 0; i < SWH_COMPARED; i++)
        if (swh_compared[i] == ch)
            return swh_testplan_sigma(p, i);
    return ch == SWH_CH_superheat || ch == SWH_CH_subcooling ? 2.0 : NAN; /* K; a clamp and a gauge */
}

/* -2 far below, -1 below, 0 alike, 1 above, 2 far above the healthy vehicle at the same point */
static int sign_of(const struct swh_expect_command *e, int point, int cause, int column)
{
    const struct swh_expect_cell *c = &e->cell[point * e->causes + cause],
                                 *healthy = &e->cell[point * e->causes];
    const enum swh_channel ch = columns[column].channel;
    const double d = (c->value[ch] - healthy->value[ch]) / sigma_of(&e->judge.frame.scenario.c.params, ch);
    if (!(fabs(d) >= SEEN))
        return 0;
    return (d > 0 ? 1 : -1) * (fabs(d) >= FAR ? 2 : 1);
}

static const char *arrow_of(int sign)
{
    static const char *const arrows[] = {"\u2193\u2193", "\u2193", "", "\u2191", "\u2191\u2191"};
    return arrows[sign + 2];
}

/* ---- words ---- */

static const char *cause_words(const struct swh_expect_cause *c, char *out, size_t size)
{
    return swh_cause_amount(c->fault, c->severity, out, size);
}

/* "lives", "lives by its switch", "shoe welds after 6.0 min" */
static const char *end_words(const struct swh_expect_end *end, char *out, size_t size)
{
    static const char *const words[] = {
        "lives",     "shoe welds", "bore seizes", "lives by its switch",
        "overheats", "bursts",     "not known"}; /* ORDER of enum swh_outcome */
    if (swh_outcome_is_lost(end->outcome) && isfinite(end->time))
        snprintf(out, size, "%s, %.*f min", words[end->outcome], end->time < 570 ? 1 : 0, end->time / 60);
    else if (end->outcome == SWH_SURVIVES && end->warming > 0.05)
        snprintf(out, size, "%s, still warming", words[end->outcome]);
    else
        snprintf(out, size, "%s", words[end->outcome]);
    return out;
}

static double shown(const struct swh_expect_command *e, enum swh_channel ch, double si)
{
    const struct swh_session *s = e->judge.frame.session;
    return swh_units_show(s->units, swh_session_show(s), swh_channel_table[ch].quantity, si);
}

static const char *unit_of(const struct swh_expect_command *e, enum swh_channel ch)
{
    return swh_units_word(swh_session_show(e->judge.frame.session), swh_channel_table[ch].quantity);
}

static const char *value_text(const struct swh_expect_command *e, int point, int cause, int column, char *out,
                              size_t size)
{
    const struct swh_expect_cell *c = &e->cell[point * e->causes + cause];
    const enum swh_channel ch = columns[column].channel;
    const bool bar = swh_channel_table[ch].quantity == SWH_Q_PRESSURE &&
                     swh_session_show(e->judge.frame.session) == SWH_SHOW_SI;
    const double x = c->reached ? c->value[ch] : NAN;
    if (isnan(x))
        snprintf(out, size, "-");
    else
        snprintf(out, size, "%.*f%s", bar ? 1 : 0, shown(e, ch, x),
                 arrow_of(sign_of(e, point, cause, column)));
    return out;
}

static void conditions_words(const struct swh_expect_command *e, char *out, size_t size)
{
    char ambient[48];
    const struct swh_inputs *in = &e->judge.frame.scenario.c.conditions;
    swh_log_command_text(&e->judge, SWH_Q_TEMPERATURE, in->ambient_temperature, ambient, sizeof ambient);
    snprintf(
        out, size,
        "%s outside%s, %.0f %% humidity, %s, doors %s, blower full, recirculation; held %.0f min from soaked",
        ambient, e->ambient_given ? "" : " (assumed)", 100 * in->ambient_humidity,
        in->vehicle_speed > 1.5 ? "on the road" : "standing", in->doors_open >= 0.5 ? "open" : "shut",
        SWH_EXPECT_HELD / 60);
}

/* ---- text ---- */

/* printf counts bytes: an arrow has three and takes one column */
static int pad(const char *text, int width)
{
    int extra = 0;
    for (const char *s = text; *s; s++)
        extra += (*s & 0xC0) == 0x80;
    return width + extra;
}

static void print_row(const struct swh_expect_command *e, int point, int cause, FILE *f)
{
    char text[160], with[64], bridged[64];
    const struct swh_expect_cell *c = &e->cell[point * e->causes + cause];
    fprintf(f, "  %-34.34s", cause_words(&e->cause[cause], text, sizeof text));
    for (int i = 0; i < COLUMNS; i++) {
        value_text(e, point, cause, i, text, sizeof text);
        fprintf(f, "%*s", pad(text, 10), text);
    }
    end_words(&c->with, with, sizeof with);
    end_words(&c->bridged, bridged, sizeof bridged);
    fprintf(f, "%6.0f %%  %-28s %s\n", 100 * c->duty, with,
            strcmp(with, bridged) == 0 ? "the same" : bridged);
}

void swh_expect_print(const struct swh_expect_command *e, FILE *f)
{
    char text[256];
    conditions_words(e, text, sizeof text);
    fprintf(f, "What gauges, clamps and the vent would read: %s.\n", text);
    fprintf(
        f, "  The vehicle file is %s. %s\n",
        swh_log_command_fitted(&e->judge) ? "fitted" : "from papers, never fitted",
        e->at_engine
            ? "Speeds are the engine's."
            : "Speeds are the compressor's: the vehicle file has no pulley ratio (controls.pulley_ratio).");
    fprintf(f, "  Arrows: above or below the healthy vehicle by more than gauge, clamp and model may be off; "
               "doubled: far.\n");
    for (int p = 0; p < e->points; p++) {
        fprintf(f, "\n%s\n  %-34s", e->name[p].text, "");
        for (int i = 0; i < COLUMNS; i++)
            fprintf(f, "%10s", columns[i].head);
        fprintf(f, "%8s  %-28s %s\n  %-34s", "clutch", "within the hour", "with its switches bridged", "");
        for (int i = 0; i < COLUMNS; i++)
            fprintf(f, "%10s", unit_of(e, columns[i].channel));
        fputc('\n', f);
        for (int k = 0; k < e->causes; k++)
            print_row(e, p, k, f);
    }
    fprintf(f, "\n  ! %s\n", WARNING);
    fprintf(f, "  ! The vehicle maker's manual and local rules come first.\n");
}

/* ---- CSV ---- */

static void csv_words(FILE *f, const char *text)
{
    fputc('"', f);
    for (; *text; text++) {
        if (*text == '"')
            fputc('"', f);
        fputc(*text, f);
    }
    fputc('"', f);
}

static void csv_end(FILE *f, const struct swh_expect_end *end)
{
    fprintf(f, ",%s", swh_outcome_word(end->outcome));
    swh_number_put(f, ",", end->time);
}

void swh_expect_csv(const struct swh_expect_command *e, FILE *f)
{
    char text[160];
    fprintf(f, "point,compressor_speed[rps],cause,severity,words");
    for (int i = 0; i < COLUMNS; i++)
        fprintf(f, ",%s[%s]", swh_channel_table[columns[i].channel].id,
                swh_quantities[swh_channel_table[columns[i].channel].quantity].si);
    fprintf(f, ",duty,outcome,time_to_seizure[s],bridged_outcome,bridged_time_to_seizure[s]\n");
    for (int k = 0; k < e->points * e->causes; k++) {
        const struct swh_expect_cell *c = &e->cell[k];
        const struct swh_expect_cause *cause = &e->cause[k % e->causes];
        csv_words(f, e->name[k / e->causes].text);
        swh_number_put(f, ",", e->point[k / e->causes].compressor_speed);
        fprintf(f, ",%s", cause->fault < 0 ? "healthy" : swh_fault_table[cause->fault].id);
        swh_number_put(f, ",", cause->severity);
        fputc(',', f);
        csv_words(f, swh_severity_words(cause->fault, cause->severity, text, sizeof text));
        for (int i = 0; i < COLUMNS; i++)
            swh_number_put(f, ",", c->reached ? c->value[columns[i].channel] : NAN);
        swh_number_put(f, ",", c->duty);
        csv_end(f, &c->with);
        csv_end(f, &c->bridged);
        fputc('\n', f);
    }
}

/* ---- JSON ---- */

static json_t *row_json(const struct swh_expect_command *e, int point, int cause)
{
    static const char *const against[] = {"far_below", "below", "alike", "above", "far_above"};
    char text[160];
    const struct swh_expect_cell *c = &e->cell[point * e->causes + cause];
    const struct swh_expect_cause *q = &e->cause[cause];
    json_t *o = json_object(), *readings = json_object(), *signs = json_object();
    json_object_set_new(o, "fault", json_string(q->fault < 0 ? "healthy" : swh_fault_table[q->fault].id));
    json_object_set_new(o, "severity", swh_json_number(q->severity));
    json_object_set_new(o, "words",
                        json_string(swh_severity_words(q->fault, q->severity, text, sizeof text)));
    json_object_set_new(o, "reached", json_boolean(c->reached));
    for (int i = 0; i < COLUMNS; i++) {
        const struct swh_channel_info *ch = &swh_channel_table[columns[i].channel];
        json_object_set_new(readings, ch->id,
                            swh_json_quantity(c->reached ? c->value[columns[i].channel] : NAN, ch->quantity));
        json_object_set_new(signs, ch->id, json_string(against[sign_of(e, point, cause, i) + 2]));
    }
    json_object_set_new(o, "readings", readings);
    json_object_set_new(o, "against_healthy", signs);
    json_object_set_new(o, "duty", swh_json_number(c->duty));
    json_object_set_new(o, "outcome", json_string(swh_outcome_word(c->with.outcome)));
    json_object_set_new(o, "time_to_seizure_s", swh_json_number(c->with.time));
    json_object_set_new(o, "bridged_outcome", json_string(swh_outcome_word(c->bridged.outcome)));
    json_object_set_new(o, "bridged_time_to_seizure_s", swh_json_number(c->bridged.time));
    return o;
}

json_t *swh_expect_json(const struct swh_expect_command *e)
{
    char text[256];
    json_t *o = json_object(), *points = json_array();
    const struct swh_inputs *in = &e->judge.frame.scenario.c.conditions;
    conditions_words(e, text, sizeof text);
    json_object_set_new(o, "conditions", json_string(text));
    json_object_set_new(o, "ambient_temperature",
                        swh_json_quantity(in->ambient_temperature, SWH_Q_TEMPERATURE));
    json_object_set_new(o, "ambient_humidity", swh_json_number(in->ambient_humidity));
    json_object_set_new(o, "doors_open", json_boolean(in->doors_open >= 0.5));
    json_object_set_new(o, "held_s", swh_json_number(SWH_EXPECT_HELD));
    json_object_set_new(o, "looked_at_s", swh_json_number(SWH_EXPECT_HOUR));
    json_object_set_new(o, "fitted", json_boolean(swh_log_command_fitted(&e->judge)));
    for (int p = 0; p < e->points; p++) {
        json_t *point = json_object(), *rows = json_array();
        json_object_set_new(point, "point", json_string(e->name[p].text));
        json_object_set_new(point, "compressor_speed",
                            swh_json_quantity(e->point[p].compressor_speed, SWH_Q_ROTATION));
        for (int k = 0; k < e->causes; k++)
            json_array_append_new(rows, row_json(e, p, k));
        json_object_set_new(point, "rows", rows);
        json_array_append_new(points, point);
    }
    json_object_set_new(o, "points", points);
    json_object_set_new(o, "caution", json_string(WARNING));
    swh_frame_notes_json(&e->judge.frame, o);
    return o;
}

/* ---- picture ---- */

struct drawing {
    char title[200], subtitle[256], foot[256];
    struct {
        char text[TABLE_COLUMNS][96];
    } words[SWH_EXPECT_POINTS * (SWH_EXPECT_CAUSES + 1)];
    struct swh_plot_table_row row[SWH_EXPECT_POINTS * (SWH_EXPECT_CAUSES + 1)];
    size_t rows;
};

static void lay_row(const struct swh_expect_command *e, int point, int cause, struct drawing *d)
{
    const struct swh_expect_cell *c = &e->cell[point * e->causes + cause];
    struct swh_plot_table_row *r = &d->row[d->rows];
    char(*text)[96] = d->words[d->rows++].text;
    cause_words(&e->cause[cause], text[0], sizeof text[0]);
    for (int i = 0; i < COLUMNS; i++) {
        value_text(e, point, cause, i, text[i + 1], sizeof text[0]);
        const int sign = sign_of(e, point, cause, i);
        r->sign[i + 1] = (sign > 0) - (sign < 0);
    }
    snprintf(text[COLUMNS + 1], sizeof text[0], "%.0f %%", 100 * c->duty);
    end_words(&c->with, text[COLUMNS + 2], sizeof text[0]);
    end_words(&c->bridged, text[COLUMNS + 3], sizeof text[0]);
    if (strcmp(text[COLUMNS + 2], text[COLUMNS + 3]) == 0)
        snprintf(text[COLUMNS + 3], sizeof text[0], "the same");
    for (int i = 0; i < TABLE_COLUMNS; i++)
        r->text[i] = text[i];
    r->strong = cause == 0;
}

static void lay_heading(const struct swh_expect_command *e, int point, struct drawing *d)
{
    struct swh_plot_table_row *r = &d->row[d->rows++];
    r->heading = true;
    r->text[0] = e->name[point].text;
}

static enum swh_status draw(const void *what, void *room, const struct swh_plot_options *o,
                            struct swh_error *err)
{
    static const int widths[TABLE_COLUMNS] = {250, 80, 88, 80, 94, 80, 76, 94, 88, 70, 170, 174};
    const struct swh_expect_command *e = what;
    struct drawing *d = room;
    struct swh_plot_table t = {.name = "expect", .title = d->title, .subtitle = d->subtitle, .foot = d->foot};
    snprintf(d->title, sizeof d->title, "What gauges, clamps and the vent would read, cause by cause");
    conditions_words(e, d->subtitle, sizeof d->subtitle);
    snprintf(d->foot, sizeof d->foot, "Arrows: above or below healthy. %s", WARNING);
    for (int p = 0; p < e->points; p++) {
        lay_heading(e, p, d);
        for (int k = 0; k < e->causes; k++)
            lay_row(e, p, k, d);
    }
    t.columns = TABLE_COLUMNS;
    for (int i = 0; i < TABLE_COLUMNS; i++) {
        t.width[i] = widths[i];
        t.left[i] = i == 0 || i > COLUMNS + 1;
    }
    for (int i = 0; i < COLUMNS; i++) {
        t.head[i + 1] = columns[i].head;
        t.unit[i + 1] = unit_of(e, columns[i].channel);
    }
    t.head[COLUMNS + 1] = "clutch";
    t.head[COLUMNS + 2] = "within the hour";
    t.head[COLUMNS + 3] = "switches bridged";
    t.row = d->row;
    t.rows = d->rows;
    return swh_plot_table(&t, o, err);
}

enum swh_status swh_expect_draw(const struct swh_expect_command *e, struct swh_error *err)
{
    return swh_log_command_draw(&e->judge, draw, e, sizeof(struct drawing), "expect.csv and expect.json",
                                err);
}
