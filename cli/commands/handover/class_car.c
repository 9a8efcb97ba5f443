#include "cli/commands/handover/class_car.h"

#include "solver/infer/rank.h"
#include "solver/infer/spot.h"
#include "solver/infer/test_plan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const double swh_class_speed[SWH_CLASS_POINTS] = {17.5, 25.0, 41.7};
const char *const swh_class_point[SWH_CLASS_POINTS] = {"idle", "1500 rpm", "2500 rpm"};
const enum swh_channel swh_class_channel[SWH_CLASS_CHANNELS] = {
    SWH_CH_suction_pressure,      SWH_CH_discharge_pressure,  SWH_CH_suction_temperature,
    SWH_CH_discharge_temperature, SWH_CH_shell_temperature,   SWH_CH_liquid_line_temperature,
    SWH_CH_vent_temperature,      SWH_CH_ambient_temperature, SWH_CH_compressor_speed};

/* streams of random numbers: of a car's weather and cause, of its instruments' constant errors and noise */
enum { WEATHER, CAUSE, OFFSET, NOISE, STREAMS };
enum { TRIES = 60, POINT_MINUTES = 5 };

static double uniform(const struct swh_class_car *car, int stream, int i)
{
    return swh_random_uniform(car->seed, (uint64_t)(car->number * STREAMS + stream), (uint64_t)i);
}

/* ---- readings at the points ---- */

enum swh_status swh_class_read(const struct swh_case *c, struct swh_class_readings *out,
                               struct swh_error *err)
{
    for (int k = 0; k < SWH_CLASS_POINTS; k++) {
        struct swh_spot_row row;
        struct swh_case held;
        struct swh_error inside = {0};
        swh_spot_row_empty(&row);
        row.doors_open = 1;
        row.value[SWH_CH_compressor_speed] = swh_class_speed[k];
        row.value[SWH_CH_vehicle_speed] = 0;
        swh_spot_case(&held, c, &row, true);
        if (!swh_spot_run(&held, out->value[k], NULL, &inside) && inside.status != SWH_OK)
            return swh_error_set(err, inside.status, "%s", inside.what);
    }
    return SWH_OK;
}

double swh_class_apart(const struct swh_params *p, const struct swh_class_readings *a,
                       const struct swh_class_readings *b, int *point, enum swh_channel *channel)
{
    double most = 0;
    for (int k = 0; k < SWH_CLASS_POINTS; k++)
        for (int i = 0; i < SWH_COMPARED; i++) {
            bool read = false;
            for (int q = 0; q < SWH_CLASS_CHANNELS; q++)
                read |= swh_class_channel[q] == swh_compared[i];
            const enum swh_channel ch = swh_compared[i];
            const double apart = fabs(a->value[k][ch] - b->value[k][ch]) / swh_testplan_sigma(p, i);
            if (!read || !(apart > most))
                continue;
            most = apart;
            if (point)
                *point = k;
            if (channel)
                *channel = ch;
        }
    return most;
}

/* ---- drawing a car ---- */

static void draw_weather(struct swh_class_car *car)
{
    car->c.conditions.ambient_temperature = 298.15 + 13 * uniform(car, WEATHER, 0); /* 25 to 38 degC */
    car->c.conditions.ambient_humidity = 0.3 + 0.4 * uniform(car, WEATHER, 1);
    car->c.conditions.vehicle_speed = 0;
    car->c.conditions.doors_open = 1;
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        car->c.fault[i].present = false;
}

/* one of those not taken, as often as it occurs; none as often as a middling fault; -2 if none is left */
static int draw_cause(const struct swh_class_car *car, const bool *taken, int try)
{
    double whole = taken[SWH_FAULT_COUNT] ? 0 : 1;
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        whole += taken[i] ? 0 : swh_fault_table[i].often;
    double x = whole * uniform(car, CAUSE, 2 * try);
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        x -= taken[i] ? 0 : swh_fault_table[i].often;
        if (!taken[i] && x < 0)
            return i;
    }
    return taken[SWH_FAULT_COUNT] ? -2 : SWH_HEALTHY;
}

/* idle, 1500, 2500 rpm, five minutes each */
static enum swh_status put_schedule(struct swh_case *c, struct swh_error *err)
{
    enum { ROWS = 2 * SWH_CLASS_POINTS };
    struct swh_schedule *s = &c->schedule;
    memset(s, 0, sizeof *s);
    s->time = malloc(ROWS * sizeof *s->time);
    s->column[SWH_IN_compressor_speed] = malloc(ROWS * sizeof *s->time);
    if (!s->time || !s->column[SWH_IN_compressor_speed])
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a car's test");
    s->rows = ROWS;
    s->given[SWH_IN_compressor_speed] = true;
    for (int k = 0; k < SWH_CLASS_POINTS; k++)
        for (int end = 0; end < 2; end++) {
            s->time[2 * k + end] = POINT_MINUTES * 60 * (k + end) + (end || k == 0 ? 0 : 10);
            s->column[SWH_IN_compressor_speed][2 * k + end] = swh_class_speed[k];
        }
    c->params.run_duration = POINT_MINUTES * 60 * SWH_CLASS_POINTS;
    c->params.run_output_interval = 2;
    return SWH_OK;
}

/* A machine that cannot be computed is no car for a class;
 * what fails for want of memory is another matter. */
static bool is_no_car(enum swh_status status)
{
    return status == SWH_ERR_SOLVER || status == SWH_ERR_RANGE || status == SWH_ERR_INPUT;
}

static enum swh_status survives(const struct swh_case *c, bool *lives, struct swh_error *err)
{
    struct swh_summary summary;
    struct swh_error inside = {0};
    const enum swh_status status = swh_run(c, NULL, &summary, &inside);
    *lives = status == SWH_OK && (summary.outcome == SWH_SURVIVES || summary.outcome == SWH_PROTECTED);
    return status == SWH_OK || is_no_car(status) ? SWH_OK : swh_error_set(err, status, "%s", inside.what);
}

/* whether it tells, and the car survives it */
static enum swh_status try_severity(const struct swh_class_car *car, const struct swh_class_readings *healthy,
                                    bool *good, struct swh_error *err)
{
    struct swh_class_readings readings;
    struct swh_error inside = {0};
    const enum swh_status status = swh_class_read(&car->c, &readings, &inside);
    *good = status == SWH_OK &&
            swh_class_apart(&car->c.params, &readings, healthy, NULL, NULL) >= SWH_CLASS_TELLS;
    if (*good)
        return survives(&car->c, good, err);
    return status == SWH_OK || is_no_car(status) ? SWH_OK : swh_error_set(err, status, "%s", inside.what);
}

/* Finds a severity that tells and that the car survives, at or near the one drawn. */
static enum swh_status settle(struct swh_class_car *car, const struct swh_class_readings *healthy,
                              bool *found, struct swh_error *err)
{
    static const double near[] = {0, -0.1, 0.1, -0.2, 0.2, -0.3, 0.3, -0.4, 0.4};
    const double drawn = car->severity, most = swh_severity_most(car->fault);
    *found = car->fault == SWH_HEALTHY;
    for (size_t i = 0; i < sizeof near / sizeof near[0] && !*found; i++) {
        car->severity = fmin(fmax(drawn + near[i], 0.1), 0.95 * most);
        swh_case_fault_always(&car->c, car->fault, car->severity);
        const enum swh_status status = try_severity(car, healthy, found, err);
        if (status != SWH_OK)
            return status;
    }
    if (!*found)
        car->c.fault[car->fault].present = false;
    return SWH_OK;
}

enum swh_status swh_class_draw(struct swh_class_car *car, const struct swh_case *vehicle, unsigned long seed,
                               int number, bool *taken, struct swh_error *err)
{
    struct swh_class_readings healthy;
    bool tried[SWH_FAULT_COUNT + 1];
    memcpy(tried, taken, sizeof tried);
    *car = (struct swh_class_car){.c = *vehicle, .seed = seed, .number = number};
    draw_weather(car);
    enum swh_status status = put_schedule(&car->c, err);
    if (status == SWH_OK)
        status = swh_class_read(&car->c, &healthy, err);
    for (int try = 0; try < TRIES && status == SWH_OK; try++) {
        car->fault = draw_cause(car, tried, try);
        if (car->fault < SWH_HEALTHY)
            break;
        car->severity = car->fault == SWH_HEALTHY ? 0 : 0.35 + 0.5 * uniform(car, CAUSE, 2 * try + 1);
        const int flag = car->fault == SWH_HEALTHY ? SWH_FAULT_COUNT : car->fault;
        tried[flag] = true;
        bool found = false;
        status = settle(car, &healthy, &found, err);
        if (!found)
            continue;
        taken[flag] = true;
        return SWH_OK;
    }
    return status != SWH_OK
               ? status
               : swh_error_set(err, SWH_ERR_INPUT, "no cause is left that shows in this vehicle's readings");
}

/* ---- instruments ---- */

static double resolution(enum swh_quantity q)
{
    return q == SWH_Q_PRESSURE ? 5e3 : q == SWH_Q_ROTATION ? 10.0 / 60 : q == SWH_Q_TEMPERATURE ? 0.1 : 0;
}

double swh_class_instrument(const struct swh_class_car *car, enum swh_channel ch, double true_value,
                            long reading)
{
    const struct swh_channel_info *info = &swh_channel_table[ch];
    const double step = resolution(info->quantity);
    const uint64_t base = (uint64_t)(car->number * STREAMS);
    double x = true_value + info->offset_sigma * swh_random_normal(car->seed, base + OFFSET, (uint64_t)ch);
    x += info->sigma *
         swh_random_normal(car->seed, base + NOISE, (uint64_t)(reading * SWH_CHANNEL_COUNT + (long)ch));
    if (step > 0 && isfinite(x))
        x = step * round(x / step);
    return x < info->lo ? info->lo : x > info->hi ? info->hi : x;
}
