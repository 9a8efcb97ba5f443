/* The next test: at which point of a catalogue do the leading causes lie furthest apart, and in which
 * reading. */
#ifndef SWH_SOLVER_INFER_TEST_PLAN_H
#define SWH_SOLVER_INFER_TEST_PLAN_H

#include "solver/infer/residuals.h"

enum swh_testpoint {
#define TESTPOINT(id, rotation, road, fan, recirculation, doors, hold, help) SWH_TEST_##id,
#include "solver/infer/testpoints.def"
#undef TESTPOINT
    SWH_TESTPOINT_COUNT
};
struct swh_testpoint_info {
    const char *id;
    double rotation, road, fan, recirculation, doors, hold; /* SI */
    const char *help;
};
extern const struct swh_testpoint_info swh_testpoint_table[SWH_TESTPOINT_COUNT];

enum { SWH_TEST_CAUSES = 5 };
struct swh_test_cause {
    int fault, second; /* enum swh_fault or -1 */
    double severity, second_severity, share;
};

struct swh_test_result {
    enum swh_testpoint point;
    double value[SWH_TEST_CAUSES]
                [SWH_COMPARED]; /* reading at the end of the hold, SI; NaN if it is not reached */
    bool reached[SWH_TEST_CAUSES];
    double separation[SWH_COMPARED]; /* between the first two causes, in standard deviations */
    double total; /* root of the sum of squares over channels, shares counted for all pairs */
    int best;     /* index of the reading that separates the first two best */
    double highest_pressure, highest_discharge_temperature; /* of any cause, SI */
    bool careful;     /* a cause comes beyond SWH_STOP_PRESSURE or SWH_STOP_DISCHARGE_TEMPERATURE */
    double stop_time; /* s, when the first of the causes is predicted to pass a limit; NaN: none does */
    bool barred; /* not to be done: it passes its limit while a harmless test tells as much, or the fan is to
                    be unplugged where the condenser is suspected */
};

/* A test is stopped beyond these: at the high side [Pa; 24 bar on the gauge], at the discharge pipe [K].
 * Common practice, no source. */
#define SWH_STOP_PRESSURE (24e5 + 101325.0)
#define SWH_STOP_DISCHARGE_TEMPERATURE 388.15

/* Standard deviation of a difference between prediction and reading of compared channel i at a test point
 * [SI]: the instrument's offset and the model's slow error. */
double swh_testplan_sigma(const struct swh_params *p, int i);

/* Runs all causes at all points; out[SWH_TESTPOINT_COUNT] best first, those that pass a limit after the
 * others that tell enough, those that are barred last. Ambient and humidity are the vehicle's conditions.
 * SWH_ERR_USAGE for fewer than two or too many causes. */
enum swh_status swh_testplan(const struct swh_case *vehicle, const struct swh_test_cause *cause, int causes,
                             int threads, struct swh_test_result *out, struct swh_error *err);

#endif
