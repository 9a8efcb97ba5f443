#include "cli/commands/handover/class_files.h"

#include "cli/base/result.h"
#include "cli/base/result_folder.h"
#include "solver/infer/rank.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct writer {
    const struct swh_class_car *car;
    const struct swh_session *s;
    enum swh_show show;
    FILE *f;
    long reading;
};

/* What is read of the speed is the engine's, times the ratio of the right pulley: a wrong one is not seen. */
static double as_read(const struct swh_class_car *car, enum swh_channel ch, double true_value)
{
    const bool hidden = ch == SWH_CH_compressor_speed && car->fault == SWH_FAULT_overspeed;
    return hidden ? true_value / (1 + car->severity) : true_value;
}

static void cell(const struct writer *w, enum swh_channel ch, double true_value)
{
    const enum swh_quantity q = swh_channel_table[ch].quantity;
    const double x = swh_class_instrument(w->car, ch, as_read(w->car, ch, true_value), w->reading);
    const bool coarse = q == SWH_Q_ROTATION || (q == SWH_Q_PRESSURE && w->show == SWH_SHOW_TRADE);
    if (isfinite(x))
        fprintf(w->f, coarse ? ",%.0f" : ",%.2f", swh_units_show(w->s->units, w->show, q, x));
    else
        fputc(',', w->f);
}

static void head(const struct writer *w, const char *first, const char *more)
{
    fputs(first, w->f);
    for (int i = 0; i < SWH_CLASS_CHANNELS; i++)
        fprintf(w->f, ",%s[%s]", swh_channel_table[swh_class_channel[i]].id,
                swh_units_word(w->show, swh_channel_table[swh_class_channel[i]].quantity));
    fprintf(w->f, "%s\n", more);
}

/* ---- the log ---- */

static enum swh_status log_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    struct writer *w = user;
    (void)err;
    w->reading++;
    fprintf(w->f, "%.0f", row->value[SWH_CH_time]);
    for (int i = 0; i < SWH_CLASS_CHANNELS; i++)
        cell(w, swh_class_channel[i], row->value[swh_class_channel[i]]);
    fprintf(w->f, ",%.1f,%.0f\n",
            swh_units_show(w->s->units, w->show, SWH_Q_TEMPERATURE,
                           swh_class_instrument(w->car, SWH_CH_cabin_temperature,
                                                row->value[SWH_CH_cabin_temperature], w->reading)),
            row->value[SWH_CH_clutch]);
    return SWH_OK;
}

static enum swh_status write_log(struct writer *w, struct swh_error *err)
{
    char more[64];
    struct swh_summary summary;
    const struct swh_sinks sinks = {.row = log_row, .user = w};
    snprintf(more, sizeof more, ",cabin_temperature[%s],clutch[1]",
             swh_units_word(w->show, SWH_Q_TEMPERATURE));
    head(w, "time[s]", more);
    return swh_run(&w->car->c, &sinks, &summary, err);
}

/* ---- the sheet ---- */

static enum swh_status write_sheet(struct writer *w, struct swh_error *err)
{
    struct swh_class_readings r;
    const enum swh_status status = swh_class_read(&w->car->c, &r, err);
    head(w, "point,held[min],doors_open", "");
    for (int k = 0; k < SWH_CLASS_POINTS && status == SWH_OK; k++) {
        w->reading = 1000000 + k; /* other noise than in the log */
        fprintf(w->f, "%s,5,yes", swh_class_point[k]);
        for (int i = 0; i < SWH_CLASS_CHANNELS; i++)
            cell(w, swh_class_channel[i], r.value[k][swh_class_channel[i]]);
        fputc('\n', w->f);
    }
    return status;
}

/* ---- words ---- */

static const char *complaint_of(int fault)
{
    static const struct {
        enum swh_fault fault;
        const char *text;
    } table[] = {
#define COMPLAINT(id, text) {SWH_FAULT_##id, text},
#include "cli/commands/handover/complaint.def"
#undef COMPLAINT
    };
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        if ((int)table[i].fault == fault)
            return table[i].text;
    return "It is not as cold as it was.";
}

static void write_complaint(const struct writer *w)
{
    fprintf(w->f,
            "Customer: \"%s\"\n\n"
            "An invented car: everything here was computed, then read through imperfect instruments.\n"
            "log.csv: in the bay, doors open, blower full, recirculation; idle, 1500 and 2500 rpm, five "
            "minutes each.\n"
            "sheet.csv: the same points by hand, each from a soaked car, held five minutes.\n"
            "What is wrong with it, and how badly?\n\n"
            "    swashheat rank log.csv --vehicle vehicle.ini\n"
            "    swashheat rank sheet.csv --vehicle vehicle.ini\n",
            complaint_of(w->car->fault));
}

static enum swh_status unread(const char *path, int reason, struct swh_error *err)
{
    swh_error_set(err, SWH_ERR_INPUT, "cannot be read: %s", strerror(reason));
    swh_error_at(err, path, 0, 0);
    swh_error_expected(err, "the vehicle file, which each car gets a copy of");
    return SWH_ERR_INPUT;
}

static enum swh_status copy(FILE *to, const char *path, struct swh_error *err)
{
    char block[4096];
    if (!path || !path[0]) {
        fputs("# The program's own vehicle: nothing is set here.\n", to);
        return SWH_OK;
    }
    FILE *from = fopen(path, "r");
    if (!from)
        return unread(path, errno, err);
    errno = 0;
    for (size_t n; (n = fread(block, 1, sizeof block, from)) > 0;)
        fwrite(block, 1, n, to);
    const enum swh_status status = ferror(from) ? unread(path, errno, err) : SWH_OK;
    fclose(from);
    return status;
}

enum swh_status swh_class_write(const struct swh_class_car *car, const char *folder, const char *vehicle,
                                const struct swh_session *s, struct swh_error *err)
{
    static const char *const name[] = {"log.csv", "sheet.csv", "complaint.txt", "vehicle.ini"};
    struct swh_out out = {0};
    struct writer w = {.car = car, .s = s, .show = swh_session_show(s)};
    enum swh_status status = swh_out_begin(&out, folder, err);
    for (int i = 0; i < 4 && status == SWH_OK; i++) {
        w.f = swh_out_file(&out, name[i], err);
        status = !w.f ? SWH_ERR_OUTPUT : i == 0 ? write_log(&w, err) : i == 1 ? write_sheet(&w, err) : SWH_OK;
        if (status == SWH_OK && i == 2)
            write_complaint(&w);
        if (status == SWH_OK && i == 3)
            status = copy(w.f, vehicle, err);
    }
    if (status == SWH_OK)
        return swh_out_commit(&out, err);
    swh_out_abort(&out);
    return status;
}

json_t *swh_class_answer(const struct swh_class_car *car)
{
    return json_pack("{s:s, s:o, s:I, s:o, s:o}", "fault",
                     car->fault == SWH_HEALTHY ? "healthy" : swh_fault_table[car->fault].id, "severity",
                     swh_json_number(car->severity), "seed", (json_int_t)car->seed, "ambient_temperature",
                     swh_json_quantity(car->c.conditions.ambient_temperature, SWH_Q_TEMPERATURE),
                     "ambient_humidity", swh_json_number(car->c.conditions.ambient_humidity));
}
