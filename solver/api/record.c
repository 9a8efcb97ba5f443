#include "solver/api/handles.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- filling ---- */

struct swh_record *swh_record_new(bool has_readings, struct swh_error *err)
{
    struct swh_record *r = calloc(1, sizeof *r);
    if (r)
        r->has_readings = has_readings;
    else
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for the results");
    return r;
}

static bool grow(double **column, size_t room)
{
    double *bigger = realloc(*column, room * sizeof **column);
    if (bigger)
        *column = bigger;
    return bigger != NULL;
}

static bool make_room(struct swh_record *r)
{
    if (r->rows < r->room)
        return true;
    const size_t room = r->room ? 2 * r->room : 512;
    bool ok = true;
    for (int i = 0; i < SWH_CHANNEL_COUNT && ok; i++)
        ok = grow(&r->column[i], room) && (!r->has_readings || grow(&r->reading[i], room));
    if (ok)
        r->room = room;
    return ok;
}

static enum swh_status take_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    struct swh_record *r = user;
    if (!make_room(r))
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for row %zu of the results", r->rows + 1);
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        r->column[i][r->rows] = row->value[i];
        if (r->has_readings)
            r->reading[i][r->rows] = row->measured ? row->measured[i] : NAN;
    }
    r->rows++;
    return SWH_OK;
}

static enum swh_status take_event(const struct swh_event_record *event, void *user, struct swh_error *err)
{
    struct swh_record *r = user;
    if (r->events == r->event_room) {
        const size_t room = r->event_room ? 2 * r->event_room : 64;
        struct swh_event_record *bigger = realloc(r->event, room * sizeof *bigger);
        if (!bigger)
            return swh_error_set(err, SWH_ERR_MEMORY, "no memory for event %zu", r->events + 1);
        r->event = bigger;
        r->event_room = room;
    }
    r->event[r->events++] = *event;
    return SWH_OK;
}

struct swh_sinks swh_record_sinks(struct swh_record *record)
{
    return (struct swh_sinks){take_row, take_event, NULL, record};
}

enum swh_status swh_record_give(struct swh_record *record, enum swh_status status, struct swh_record **out)
{
    const bool stopped = (status == SWH_ERR_RANGE || status == SWH_ERR_SOLVER) && record->rows > 0;
    if (status == SWH_OK || stopped)
        *out = record;
    else
        swh_record_free(record);
    return status;
}

void swh_record_free(struct swh_record *record)
{
    if (!record)
        return;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        free(record->column[i]);
        free(record->reading[i]);
    }
    free(record->event);
    free(record);
}

/* ---- reading ---- */

static bool is_channel(int channel)
{
    return channel >= 0 && channel < SWH_CHANNEL_COUNT;
}

size_t swh_record_rows(const struct swh_record *record)
{
    return record->rows;
}

const double *swh_record_column(const struct swh_record *record, int channel)
{
    return is_channel(channel) ? record->column[channel] : NULL;
}

const double *swh_record_reading(const struct swh_record *record, int channel)
{
    return is_channel(channel) ? record->reading[channel] : NULL;
}

size_t swh_record_events(const struct swh_record *record)
{
    return record->events;
}

int swh_record_event(const struct swh_record *record, size_t index, struct swh_happening *event)
{
    if (index >= record->events)
        return -1;
    const struct swh_event_record *e = &record->event[index];
    *event = (struct swh_happening){e->time, e->value, swh_event_table[e->event].id, e->text};
    return 0;
}

const char *swh_record_outcome(const struct swh_record *record)
{
    return swh_outcome_word(record->summary.outcome);
}

int swh_record_complete(const struct swh_record *record)
{
    return record->summary.complete;
}

double swh_record_figure(const struct swh_record *record, const char *name)
{
    const struct swh_summary *s = &record->summary;
    const struct {
        const char *name;
        double value;
    } figures[] = {
        {"time_to_seizure_s", s->time_to_seizure},
        {"end_time_s", s->end_time},
        {"duty", s->duty},
        {"charge_drift", s->charge_drift},
        {"energy_residual", s->energy_residual},
        {"body_residual", s->body_residual},
        {"heat_moved_J", s->heat_moved},
        {"suction_cooling_share", s->suction_cooling_share},
        {"steps", (double)s->stats.steps},
        {"rhs_evals", (double)s->stats.rhs_evals},
        {"events", (double)s->stats.events},
    };
    for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++)
        if (strcmp(figures[i].name, name) == 0)
            return figures[i].value;
    return NAN;
}

int swh_record_course(const struct swh_record *record, int channel, struct swh_course *course)
{
    if (!is_channel(channel))
        return -1;
    const struct swh_summary *s = &record->summary;
    const bool exists = isfinite(s->peak[channel].value);
    *course = (struct swh_course){exists ? s->peak[channel].value : NAN,
                                  s->peak[channel].time,
                                  exists ? s->lowest[channel].value : NAN,
                                  s->lowest[channel].time,
                                  s->mean[channel],
                                  s->final[channel]};
    return 0;
}
