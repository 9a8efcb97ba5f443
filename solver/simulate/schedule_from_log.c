#include "solver/simulate/schedule_from_log.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* channels that drive, the inputs they set, and how far a straight line may pass from a reading */
static const struct follow {
    enum swh_channel channel;
    enum swh_input input;
    double within;
} follows[] = {
    {SWH_CH_compressor_speed, SWH_IN_compressor_speed, 0.5},
    {SWH_CH_vehicle_speed, SWH_IN_vehicle_speed, 0.8},
    {SWH_CH_ambient_temperature, SWH_IN_ambient_temperature, 0.6},
    {SWH_CH_ambient_humidity, SWH_IN_ambient_humidity, 0.05},
    {SWH_CH_underhood_temperature, SWH_IN_underhood_temperature, 1.5},
    {SWH_CH_clutch, SWH_IN_clutch, 0.0},
};
enum { FOLLOWS = (int)(sizeof follows / sizeof follows[0]), CLUTCH = FOLLOWS - 1 };

bool swh_schedule_follows(enum swh_channel channel)
{
    for (int f = 0; f < FOLLOWS; f++)
        if (follows[f].channel == channel)
            return true;
    return false;
}

struct track {
    size_t rows;
    double *time, *value[FOLLOWS]; /* blanks filled; NULL if the log lacks the channel */
    bool *keep;
};

static void track_free(struct track *t)
{
    free(t->time);
    free(t->keep);
    for (int f = 0; f < FOLLOWS; f++)
        free(t->value[f]);
}

/* Blanks between readings are bridged by a straight line, at the ends and for the clutch held. */
static void fill(const struct swh_log_memory *log, int f, double *out)
{
    const enum swh_channel ch = follows[f].channel;
    size_t last = log->rows;
    for (size_t i = 0; i < log->rows; i++) {
        const double x = log->row[i].value[ch];
        if (isnan(x)) {
            out[i] = last < log->rows ? out[last] : NAN;
            continue;
        }
        out[i] = x;
        for (size_t k = last < log->rows ? last + 1 : 0; k < i; k++) {
            const double a = last < log->rows ? out[last] : x;
            const double w = last < log->rows ? (double)(k - last) / (double)(i - last) : 0;
            out[k] = f == CLUTCH ? a : a + w * (x - a);
        }
        last = i;
    }
}

static enum swh_status track_make(struct track *t, const struct swh_log_memory *log, struct swh_error *err)
{
    memset(t, 0, sizeof *t);
    t->rows = log->rows;
    t->time = malloc(log->rows * sizeof *t->time);
    t->keep = calloc(log->rows, sizeof *t->keep);
    bool good = t->time && t->keep;
    for (int f = 0; f < FOLLOWS && good; f++) {
        if (!log->has[follows[f].channel])
            continue;
        t->value[f] = malloc(log->rows * sizeof *t->value[f]);
        good = t->value[f] != NULL;
        if (good)
            fill(log, f, t->value[f]);
    }
    if (!good)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the drive of a log");
    const double t0 = log->row[0].value[SWH_CH_time];
    for (size_t i = 0; i < log->rows; i++)
        t->time[i] = log->row[i].value[SWH_CH_time] - t0;
    return SWH_OK;
}

/* The largest miss, in units of what is allowed, of the straight line from a to b; where in *worst. */
static double worst_miss(const struct track *t, size_t a, size_t b, size_t *worst)
{
    double most = 0;
    for (int f = 0; f < CLUTCH; f++) {
        const double *v = t->value[f];
        if (!v)
            continue;
        const double slope = (v[b] - v[a]) / (t->time[b] - t->time[a]);
        for (size_t i = a + 1; i < b; i++) {
            const double miss = fabs(v[i] - v[a] - slope * (t->time[i] - t->time[a])) / follows[f].within;
            if (miss > most) {
                most = miss;
                *worst = i;
            }
        }
    }
    return most;
}

/* Keeps the rows that straight lines need (Douglas and Peucker 1973), pieces of at most `piece` rows. */
static void thin(struct track *t, size_t a, size_t b)
{
    t->keep[a] = t->keep[b] = true;
    while (b > a + 1) {
        size_t worst = a;
        if (worst_miss(t, a, b, &worst) <= 1)
            return;
        t->keep[worst] = true;
        if (worst - a < b - worst) {
            thin(t, a, worst);
            a = worst;
        } else {
            thin(t, worst, b);
            b = worst;
        }
    }
}

static void choose_rows(struct track *t)
{
    size_t from = 0;
    const double *clutch = t->value[CLUTCH];
    for (size_t i = 1; i < t->rows; i++) {
        const bool edge = clutch && (clutch[i] >= 0.5) != (clutch[i - 1] >= 0.5);
        if (!edge && i - from < 300 && i + 1 < t->rows)
            continue;
        thin(t, from, edge ? i - 1 > from ? i - 1 : i : i);
        t->keep[i] = true;
        from = i;
    }
}

static enum swh_status schedule_from(struct swh_schedule *s, const struct track *t, struct swh_error *err)
{
    memset(s, 0, sizeof *s);
    size_t kept = 0;
    for (size_t i = 0; i < t->rows; i++)
        kept += t->keep[i];
    bool good = (s->time = malloc(kept * sizeof *s->time)) != NULL;
    for (int f = 0; f < FOLLOWS && good; f++) {
        if (!t->value[f] || isnan(t->value[f][0]))
            continue;
        s->given[follows[f].input] = true;
        good = (s->column[follows[f].input] = malloc(kept * sizeof *s->time)) != NULL;
    }
    if (!good)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the drive of a log");
    for (size_t i = 0; i < t->rows; i++) {
        if (!t->keep[i])
            continue;
        s->time[s->rows] = t->time[i];
        for (int f = 0; f < FOLLOWS; f++)
            if (s->given[follows[f].input])
                s->column[follows[f].input][s->rows] = t->value[f][i];
        s->rows++;
    }
    return SWH_OK;
}

static double first_reading(const struct swh_log_memory *log, enum swh_channel ch, double within)
{
    const double t0 = log->row[0].value[SWH_CH_time];
    for (size_t i = 0; i < log->rows && log->row[i].value[SWH_CH_time] <= t0 + within; i++)
        if (!isnan(log->row[i].value[ch]))
            return log->row[i].value[ch];
    return NAN;
}

/* Doors are taken as open if the vehicle never moves and the cabin stays within 5 K of the outside air on
 * average; `ambient` [K] where the log has no reading of it. */
static bool doors_look_open(const struct swh_log_memory *log, double ambient)
{
    const struct swh_channel_facts v = swh_log_channel_facts(log, SWH_CH_vehicle_speed);
    const struct swh_channel_facts in = swh_log_channel_facts(log, SWH_CH_cabin_temperature);
    const struct swh_channel_facts out = swh_log_channel_facts(log, SWH_CH_ambient_temperature);
    const double outside = out.readings > 0 ? out.mean : ambient;
    return !(v.highest > 1.5) && in.readings > 0 && fabs(in.mean - outside) < 5;
}

static void set_start(struct swh_case *to, const struct swh_log_memory *log, struct swh_schedule_facts *facts)
{
    struct swh_params *p = &to->params;
    const double liquid = first_reading(log, SWH_CH_liquid_line_temperature, 5);
    facts->start_temperature = isnan(liquid) ? first_reading(log, SWH_CH_ambient_temperature, 60) : liquid;
    facts->start_body_temperature = first_reading(log, SWH_CH_shell_temperature, 60);
    facts->start_cabin_temperature = first_reading(log, SWH_CH_cabin_temperature, 60);
    if (isnan(p->run_start_temperature))
        p->run_start_temperature = facts->start_temperature;
    if (isnan(p->run_start_body_temperature))
        p->run_start_body_temperature = facts->start_body_temperature;
    if (isnan(p->cabin_start_temperature))
        p->cabin_start_temperature = facts->start_cabin_temperature;
}

/* The log's clutch already contains what the vehicle's switches did. */
static void release_controls(struct swh_case *to)
{
    to->choices.controls_cycling = SWH_CYCLING_NONE;
    to->choices.controls_high_pressure = 0;
    to->params.controls_least_off = 0;
    to->params.controls_forced_on = to->params.controls_forced_off = 0;
}

enum swh_status swh_schedule_from_log(struct swh_case *to, const struct swh_case *vehicle,
                                      const struct swh_log_memory *log, bool doors_given,
                                      struct swh_schedule_facts *facts, struct swh_error *err)
{
    *to = *vehicle;
    memset(&to->schedule, 0, sizeof to->schedule);
    memset(facts, 0, sizeof *facts);
    if (log->rows < 2)
        return swh_error_set(err, SWH_ERR_INPUT, "the log has fewer than two rows");
    struct track t;
    enum swh_status status = track_make(&t, log, err);
    if (status == SWH_OK) {
        choose_rows(&t);
        status = schedule_from(&to->schedule, &t, err);
    }
    track_free(&t);
    facts->duration = swh_log_memory_span(log);
    to->params.run_duration = facts->duration;
    facts->clutch_from_log = to->schedule.given[SWH_IN_clutch];
    facts->doors_open = doors_given ? vehicle->conditions.doors_open >= 0.5
                                    : doors_look_open(log, vehicle->conditions.ambient_temperature);
    if (!doors_given)
        to->conditions.doors_open = facts->doors_open;
    set_start(to, log, facts);
    if (facts->clutch_from_log)
        release_controls(to);
    return status;
}
