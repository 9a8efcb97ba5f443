/* A car of a class set: a vehicle with a fault that its readings can show, in weather of its own, and what a
 * workshop's instruments read on it. All of it follows from seed and number. */
#ifndef SWH_CLI_COMMANDS_HANDOVER_CLASS_CAR_H
#define SWH_CLI_COMMANDS_HANDOVER_CLASS_CAR_H

#include "solver/infer/residuals.h"
#include "solver/study/sample.h"

enum { SWH_CLASS_CARS = 10, SWH_CLASS_POINTS = 3 };

/* Where a class takes its readings: idle, 1500 and 2500 rpm at the compressor, standing, doors open. */
extern const double swh_class_speed[SWH_CLASS_POINTS];      /* rps */
extern const char *const swh_class_point[SWH_CLASS_POINTS]; /* in words */

/* What a class set's instruments read, a log's and a sheet's columns. */
enum { SWH_CLASS_CHANNELS = 9 };
extern const enum swh_channel swh_class_channel[SWH_CLASS_CHANNELS];

struct swh_class_car {
    struct swh_case c; /* with its fault and weather; owns its schedule */
    int fault;         /* enum swh_fault; SWH_HEALTHY */
    double severity;
    unsigned long seed;
    int number;
};

/* Readings of a case held at the points, SI; NaN where the run does not get there. */
struct swh_class_readings {
    double value[SWH_CLASS_POINTS][SWH_CHANNEL_COUNT];
};
/* SWH_ERR_MEMORY */
enum swh_status swh_class_read(const struct swh_case *c, struct swh_class_readings *out,
                               struct swh_error *err);
/* The largest difference of two cars in the readings of a class, in standard deviations of instrument and
 * model; where and in which channel (may be NULL). */
double swh_class_apart(const struct swh_params *p, const struct swh_class_readings *a,
                       const struct swh_class_readings *b, int *point, enum swh_channel *channel);

/* Differences below this many standard deviations do not tell two causes apart. */
#define SWH_CLASS_TELLS 3.0

/* Draws car `number` of a seed: weather, a cause that none of `taken` (SWH_FAULT_COUNT + 1 flags, the last
 * one for no fault) has, a severity that tells in the readings and that the car survives. SWH_ERR_INPUT if no
 * cause is left that does. */
enum swh_status swh_class_draw(struct swh_class_car *car, const struct swh_case *vehicle, unsigned long seed,
                               int number, bool *taken, struct swh_error *err);

/* One reading as an instrument gives it [SI]: constant error of its own, noise of the reading, resolution. */
double swh_class_instrument(const struct swh_class_car *car, enum swh_channel ch, double true_value,
                            long reading);

#endif
