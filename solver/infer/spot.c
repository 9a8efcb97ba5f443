#include "solver/infer/spot.h"

#include "solver/simulate/parallel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- the case of a row ---- */

/* what of a row sets the conditions; the clutch only when it is out: its switches stay the vehicle's own */
static const struct condition {
    enum swh_channel channel;
    enum swh_input input;
} conditions[] = {{SWH_CH_compressor_speed, SWH_IN_compressor_speed},
                  {SWH_CH_vehicle_speed, SWH_IN_vehicle_speed},
                  {SWH_CH_ambient_temperature, SWH_IN_ambient_temperature},
                  {SWH_CH_ambient_humidity, SWH_IN_ambient_humidity},
                  {SWH_CH_underhood_temperature, SWH_IN_underhood_temperature}};

static bool stands(const struct swh_spot_row *row)
{
    return !(row->value[SWH_CH_vehicle_speed] > 1.5); /* m/s; a blank stands */
}

bool swh_spot_doors_unknown(const struct swh_spot_row *row)
{
    return row->doors_open < 0 && stands(row) && isnan(row->value[SWH_CH_cabin_temperature]);
}

static bool doors_of(const struct swh_case *base, const struct swh_spot_row *row, bool doors_given)
{
    if (row->doors_open >= 0)
        return row->doors_open > 0;
    if (doors_given)
        return base->conditions.doors_open >= 0.5;
    const double outside = isnan(row->value[SWH_CH_ambient_temperature])
                               ? base->conditions.ambient_temperature
                               : row->value[SWH_CH_ambient_temperature];
    return stands(row) && fabs(row->value[SWH_CH_cabin_temperature] - outside) < 5; /* false for a blank */
}

void swh_spot_case(struct swh_case *to, const struct swh_case *base, const struct swh_spot_row *row,
                   bool doors_given)
{
    *to = *base;
    memset(&to->schedule, 0, sizeof to->schedule);
    for (size_t i = 0; i < sizeof conditions / sizeof conditions[0]; i++)
        if (!isnan(row->value[conditions[i].channel]))
            *swh_input_at(&to->conditions, (int)conditions[i].input) = row->value[conditions[i].channel];
    to->conditions.clutch = row->value[SWH_CH_clutch] <= 0 ? 0 : 1;
    to->conditions.doors_open = doors_of(base, row, doors_given);
    to->params.run_duration = row->held;
    to->params.run_output_interval = 2;
}

/* ---- the reading at its end ---- */

/* sums up to a moment, from which a mean can begin */
struct mark {
    double time, sum[SWH_CHANNEL_COUNT];
};
enum { MARKS = 48 };
static const double LEAST = 60; /* s that a mean spans */

struct ending {
    double end;
    struct mark now, minute;
    struct mark in[MARKS]; /* where the clutch came in, in the last half; the oldest are dropped */
    int ins;
    double last[SWH_CHANNEL_COUNT];
    bool begun;
};

static void keep_mark(struct ending *e)
{
    if (e->ins == MARKS) {
        memmove(e->in, e->in + 1, (MARKS - 1) * sizeof e->in[0]);
        e->ins--;
    }
    e->in[e->ins++] = e->now;
}

static enum swh_status take_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    struct ending *e = user;
    const double t = row->value[SWH_CH_time], dt = e->begun ? t - e->now.time : 0;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        e->now.sum[i] += 0.5 * dt * (row->value[i] + (e->begun ? e->last[i] : row->value[i]));
    e->now.time = t;
    if (e->begun && t > 0.5 * e->end && row->value[SWH_CH_clutch] >= 0.5 && e->last[SWH_CH_clutch] < 0.5)
        keep_mark(e);
    if (t <= fmax(e->end - LEAST, 0) + 1e-9)
        e->minute = e->now;
    memcpy(e->last, row->value, sizeof e->last);
    e->begun = true;
    return SWH_OK;
}

/* whole cycles of the clutch that span a minute or else as many as there are; else the last minute */
static void take_mean(const struct ending *e, double *value)
{
    const struct mark *from = &e->minute, *to = &e->now;
    if (e->ins >= 2) {
        to = &e->in[e->ins - 1];
        from = &e->in[0];
        for (int i = 1; i + 1 < e->ins && to->time - e->in[i].time >= LEAST; i++)
            from = &e->in[i];
    }
    const double span = to->time - from->time;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        value[i] = span > 0 ? (to->sum[i] - from->sum[i]) / span : e->last[i];
}

bool swh_spot_run(const struct swh_case *c, double *value, struct swh_summary *summary, struct swh_error *err)
{
    struct ending *e = calloc(1, sizeof *e);
    struct swh_summary *own = summary ? NULL : malloc(sizeof *own);
    bool good = e && (summary || own);
    if (!good)
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for a row of a sheet");
    if (good) {
        struct swh_error inside = {0};
        struct swh_summary *s = summary ? summary : own;
        e->end = c->params.run_duration;
        const struct swh_sinks sinks = {.row = take_row, .user = e};
        const enum swh_status status = swh_run(c, &sinks, s, &inside);
        if (status == SWH_ERR_MEMORY && err && err->status == SWH_OK)
            *err = inside;
        good = status == SWH_OK && s->end_time >= e->end - 1;
    }
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        value[i] = NAN;
    if (good)
        take_mean(e, value);
    free(own);
    free(e);
    return good;
}

/* ---- a sheet ---- */

static void compare(const struct swh_spot_row *row, const double *value, int k, struct swh_residuals *out)
{
    for (int i = 0; i < SWH_COMPARED; i++) {
        const double d = value[swh_compared[i]] - row->value[swh_compared[i]];
        out->mean[i][k] = isfinite(d) ? d : 0;
        out->count[i][k] = isfinite(d);
    }
}

struct rows {
    const struct swh_case *base;
    const struct swh_spot_sheet *sheet;
    bool doors_given;
    struct swh_residuals *out;
    double *value;
    int reached;
    struct swh_team team;
};

static void one_row(long k, void *user)
{
    struct rows *r = user;
    struct swh_case c;
    double v[SWH_CHANNEL_COUNT];
    struct swh_error inside = {0};
    swh_spot_case(&c, r->base, &r->sheet->row[k], r->doors_given);
    const bool reached = swh_spot_run(&c, v, NULL, &inside);
    swh_team_note(&r->team, inside.status, &inside);
    swh_team_enter(&r->team);
    r->reached += reached;
    swh_team_leave(&r->team);
    compare(&r->sheet->row[k], v, (int)k, r->out);
    for (int i = 0; r->value && i < SWH_COMPARED; i++)
        r->value[k * SWH_COMPARED + i] = v[swh_compared[i]];
}

enum swh_status swh_spot_residuals(const struct swh_case *base, const struct swh_spot_sheet *sheet,
                                   bool doors_given, struct swh_residuals *out, double *value,
                                   struct swh_error *err)
{
    struct rows r = {.base = base, .sheet = sheet, .doors_given = doors_given, .out = out, .value = value};
    const int rows = (int)sheet->rows;
    memset(out, 0, sizeof *out);
    out->windows = rows;
    out->length = SWH_SPOT_HELD; /* from one point to the next: as long as a point is usually held */
    swh_team_begin(&r.team);
    swh_parallel(rows, swh_processors(), one_row, &r);
    out->complete = r.reached == rows;
    return swh_team_end(&r.team, err);
}
