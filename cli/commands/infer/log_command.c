#include "cli/commands/infer/log_command.h"

#include "cli/base/odd_readings.h"
#include "cli/commands/infer/fitted_vehicle.h"
#include "model/base/utf8.h"
#include "solver/files/csv_log.h"
#include "solver/files/sheet.h"
#include "solver/infer/plausible.h"
#include "solver/infer/spot.h"

#include <math.h>
#include <string.h>

enum swh_status swh_log_command_vehicle(struct swh_log_command *j, struct swh_session *s)
{
    const char *vehicle = swh_option_value(s, SWH_OPT_vehicle);
    j->frame.session = s;
    if (!vehicle)
        return swh_misuse(s, "--vehicle FILE, the vehicle that the log was taken on", "%s without a vehicle",
                          s->command->name);
    const enum swh_status status = swh_frame_load(&j->frame, s, vehicle, NULL);
    j->doors_given = j->frame.scenario.conditions[SWH_IN_doors_open] != SWH_FROM_DEFAULT;
    return status;
}

void swh_log_command_free(struct swh_log_command *j)
{
    for (int i = 0; i < j->logs; i++)
        swh_log_memory_free(&j->log[i]);
    swh_scenario_free(&j->frame.scenario);
}

/* ---- what was read ---- */

struct swh_readings swh_log_command_readings(const struct swh_log_command *j)
{
    return (struct swh_readings){.log = j->logs ? &j->log[0] : NULL,
                                 .sheet = !j->logs && j->sheets ? &j->sheet[0] : NULL,
                                 .doors_given = j->doors_given};
}

bool swh_log_command_fitted(const struct swh_log_command *j)
{
    return swh_knowledge_of(&j->frame.scenario.c.params) != SWH_KNOWN_BY_PAPERS;
}

const char *swh_log_command_kind(const struct swh_log_command *j)
{
    return j->logs ? "log" : j->sheets ? "sheet" : "findings";
}

bool swh_log_command_doors_unknown(const struct swh_log_command *j, const struct swh_readings *r)
{
    if (j->doors_given)
        return false;
    for (size_t i = 0; r->sheet && i < r->sheet->rows; i++)
        if (swh_spot_doors_unknown(&r->sheet->row[i]))
            return true;
    return r->log && !swh_readings_moved(r) && !r->log->has[SWH_CH_cabin_temperature];
}

/* ---- what cannot be ---- */

static void look_for_what_cannot_be(struct swh_log_command *j, const struct swh_readings *r)
{
    struct swh_implausible found[SWH_IMPLAUSIBLE_MAX];
    const int n = swh_implausible_find(r, swh_case_refrigerant(&j->frame.scenario.c), found);
    for (int i = 0; i < n; i++) {
        swh_note_implausible(&j->frame.notes, j->frame.session, &found[i]);
        j->impossible |= found[i].fatal;
        j->odd_at_rest |= swh_implausible_at_rest(&found[i]);
    }
}

/* ---- logs ---- */

/* A reading that stops changing is none from then on: it is left out, unless it drives. */
static void look_for_stuck(struct swh_log_command *j, struct swh_log_memory *m, enum swh_channel ch,
                           const char *path)
{
    double from = NAN, to = NAN;
    if (!swh_log_stuck(m, ch, &from, &to))
        return;
    const bool needed = j->replays && swh_log_drives_replay(ch);
    swh_note_stuck(&j->frame.notes, path, ch, from, to,
                   needed ? "probe off, or logger stuck?" : "left out there");
    j->stuck |= needed;
    if (!needed)
        swh_log_leave_out_between(m, ch, from, to);
}

/* A reading that never changes is no reading: it is left out, unless it drives. */
static void look_at_channels(struct swh_log_command *j, struct swh_log_memory *m, const char *path)
{
    enum swh_channel stuck[SWH_COMPARED];
    for (int i = 0; i < SWH_COMPARED; i++) {
        const enum swh_channel ch = swh_compared[i];
        const struct swh_channel_facts f = swh_log_channel_facts(m, ch);
        const char *id = swh_channel_table[ch].id;
        const bool used = !j->replays || ch == SWH_CH_discharge_temperature || ch == SWH_CH_shell_temperature;
        if (f.readings == 0 && used && i < SWH_USUAL)
            swh_note(&j->frame.notes, "%s has no %s: it cannot speak for or against anything", path, id);
        if (f.readings > 20 && f.highest > f.lowest)
            look_for_stuck(j, m, ch, path);
    }
    const int n = swh_log_leave_out_stuck(m, j->replays, stuck);
    for (int i = 0; i < n; i++)
        swh_note(&j->frame.notes, "%s: %s is left out", path, swh_channel_table[stuck[i]].id);
    const struct swh_readings read = {.log = m};
    const struct swh_channel_facts clutch = swh_log_channel_facts(m, SWH_CH_clutch);
    j->clutch_off |= clutch.readings > 0 && clutch.highest < 0.5;
    if (!j->replays && swh_log_command_doors_unknown(j, &read))
        swh_note(
            &j->frame.notes,
            "%s: doors are taken as shut, for want of a cabin temperature; --set conditions.doors_open=1 if "
            "they were open",
            path);
    const double at_work = swh_log_memory_at_work(m);
    if (!j->clutch_off && at_work < SWH_FAIR_AT_WORK && swh_log_memory_span(m) >= SWH_LEAST_AT_WORK)
        swh_note(&j->frame.notes, "%s: the clutch is engaged for %.0f s: 10 minutes are a fair minimum", path,
                 at_work);
}

static enum swh_status read_rows(struct swh_log_command *j, struct swh_log *log, struct swh_log_memory *m,
                                 swh_log_command_row row, struct swh_error *err)
{
    for (;;) {
        struct swh_log_row one;
        bool more = true;
        enum swh_status status = swh_log_next(log, &one, &more, err);
        if (status != SWH_OK && !swh_log_broken(log)) { /* note every bad row, not only the first */
            swh_fail(j->frame.session, err);
            if (!more) /* a log that ended too soon says so once */
                return status;
            continue;
        }
        if (status != SWH_OK || !more)
            return status;
        status = swh_log_memory_add(m, &one, 0.45, err);
        if (status == SWH_OK && row)
            status = row(j, m, err);
        if (status != SWH_OK)
            return status;
    }
}

/* a log's own column of doors is as good as --set */
static void take_doors(struct swh_log_command *j, double open)
{
    if (isnan(open) || j->doors_given)
        return;
    j->frame.scenario.c.conditions.doors_open = open;
    j->doors_given = true;
}

static enum swh_status read_log(struct swh_log_command *j, const char *path, swh_log_command_row row)
{
    struct swh_session *s = j->frame.session;
    struct swh_error err = {0};
    const struct swh_log_request request = {.path = path,
                                            .columns = swh_option_value(s, SWH_OPT_columns),
                                            .units = s->units,
                                            .atmosphere = j->frame.scenario.c.conditions.ambient_pressure,
                                            .pulley_ratio = j->frame.scenario.c.params.controls_pulley_ratio};
    struct swh_log *log = swh_log_open(&request, &s->problems);
    enum swh_status status = swh_problems_status(&s->problems);
    struct swh_log_memory *m = &j->log[j->logs];
    j->log_name[j->logs++] = path;
    if (status == SWH_OK)
        status = read_rows(j, log, m, row, &err);
    if (status == SWH_OK)
        status = swh_log_long_enough(m, &err);
    if (status == SWH_OK) {
        take_doors(j, swh_log_doors(log));
        look_for_what_cannot_be(j, &(struct swh_readings){.log = m});
        j->impossible |= !swh_log_note_oddities(log, &j->frame.notes);
        j->doubts = j->frame.notes.count;
        swh_log_note_columns(log, &j->frame.notes);
        look_at_channels(j, m, path);
    } else {
        swh_error_at(&err, path, 0, 0);
        swh_fail(s, &err);
    }
    swh_log_close(log);
    return swh_problems_status(&s->problems);
}

/* ---- sheets ---- */

static enum swh_status read_sheet(struct swh_log_command *j, const struct swh_sheet_request *request)
{
    struct swh_notes columns = {.count = 0};
    struct swh_spot_sheet *sheet = &j->sheet[j->sheets++];
    const struct swh_readings read = {.sheet = sheet};
    if (swh_sheet_read(request, sheet, &columns, &j->frame.session->problems) != SWH_OK)
        return swh_problems_status(&j->frame.session->problems);
    look_for_what_cannot_be(j, &read);
    j->doubts = j->frame.notes.count;
    for (int i = 0; i < columns.count; i++)
        swh_note(&j->frame.notes, "%s", columns.text[i]);
    j->clutch_off |= swh_readings_at_work(&read) <= 0;
    if (swh_log_command_doors_unknown(j, &read))
        swh_note(&j->frame.notes,
                 "%s: whether the doors were open is not said: a column doors_open with yes or no tells",
                 request->path);
    return SWH_OK;
}

enum swh_status swh_log_command_logs(struct swh_log_command *j, swh_log_command_row row)
{
    struct swh_session *s = j->frame.session;
    enum swh_status status = SWH_OK;
    for (int i = 0; i < s->arguments && status == SWH_OK; i++) {
        const struct swh_sheet_request request = {s->argument[i], swh_option_value(s, SWH_OPT_columns),
                                                  s->units, j->frame.scenario.c.conditions.ambient_pressure,
                                                  j->frame.scenario.c.params.controls_pulley_ratio};
        status = swh_sheet_looks_like(&request) ? read_sheet(j, &request) : read_log(j, s->argument[i], row);
    }
    return status;
}

/* ---- results ---- */

void swh_log_command_folder(struct swh_log_command *j, const char *name)
{
    char stem[128] = "";
    if (j->frame.session->arguments > 0)
        swh_stem(j->frame.session->argument[0], stem, sizeof stem);
    swh_frame_folder(&j->frame, "%s%s%s", name, stem[0] ? "-" : "", stem);
}

double swh_param_shown(const struct swh_units *u, int param, double si)
{
    const struct swh_param_info *p = &swh_param_table[param];
    struct swh_unit unit = {1, 0, false, false};
    if (p->quantity != SWH_Q_NONE)
        swh_unit_find(u, p->unit, p->quantity, &unit, NULL);
    return swh_unit_from_si(&unit, si, SWH_STANDARD_ATMOSPHERE);
}

const char *swh_param_text(const struct swh_units *u, int param, double si, char *out, size_t size)
{
    const struct swh_param_info *p = &swh_param_table[param];
    const bool plain = p->quantity == SWH_Q_NONE;
    snprintf(out, size, "%.6g%s%s", swh_param_shown(u, param, si), plain ? "" : " ", plain ? "" : p->unit);
    return out;
}

enum swh_status swh_log_command_write(struct swh_log_command *j, json_t *json, const char *name,
                                      const struct swh_fit_result *fitted)
{
    struct swh_error err = {0};
    enum swh_status status = swh_frame_put_json(&j->frame, name, json_incref(json), &err);
    FILE *v = status == SWH_OK && fitted ? swh_frame_file(&j->frame, "vehicle.ini", &err) : NULL;
    if (v)
        swh_fitted_vehicle_write(j, fitted, v);
    if (status == SWH_OK && (v || !fitted))
        status = swh_frame_commit(&j->frame, &err);
    else
        swh_out_abort(&j->frame.out);
    if (swh_given(j->frame.session, SWH_OPT_json))
        swh_json_write(json, stdout);
    json_decref(json);
    return err.status != SWH_OK ? swh_fail(j->frame.session, &err) : status;
}
