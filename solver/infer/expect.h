/* What gauges, clamps and the vent would read on a vehicle with each cause, and how long its compressor would
 * live. */
#ifndef SWH_SOLVER_INFER_EXPECT_H
#define SWH_SOLVER_INFER_EXPECT_H

#include "solver/infer/spot.h"

/* A point of the table: the vehicle's conditions, at this speed and road speed. */
struct swh_expect_point {
    double compressor_speed; /* rps */
    double vehicle_speed;    /* m/s */
};
struct swh_expect_cause {
    int fault;       /* enum swh_fault; -1: healthy */
    double severity; /* 0..1 */
};
/* How an hour at the point ends, from a soaked vehicle. */
struct swh_expect_end {
    enum swh_outcome outcome;
    double time;    /* s to seizure, overheating or bursting; NaN: none */
    double warming; /* K/min of the rotor over the last ten minutes; NaN: it did not last */
};
struct swh_expect_cell {
    bool reached;                    /* the readings below were reached */
    double value[SWH_CHANNEL_COUNT]; /* at the end of a hold of SWH_EXPECT_HELD, as swh_spot_run takes them;
                                        SI */
    double duty;                     /* share of the hour with the clutch engaged */
    struct swh_expect_end with;      /* its own switches */
    struct swh_expect_end bridged;   /* all pressure and frost switches bridged: computed only */
};

enum { SWH_EXPECT_POINTS = 8, SWH_EXPECT_CAUSES = 80 };
#define SWH_EXPECT_HELD 480.0 /* s */
#define SWH_EXPECT_HOUR 3600.0

struct swh_expect_request {
    const struct swh_case *vehicle; /* with its conditions */
    const struct swh_expect_point *point;
    int points;
    const struct swh_expect_cause *cause; /* the first is healthy */
    int causes;
    int threads;
};

/* cell[points * causes], the causes of the first point first. A run that cannot go on leaves its cell
 * unreached. SWH_ERR_MEMORY only. */
enum swh_status swh_expect(const struct swh_expect_request *q, struct swh_expect_cell *cell,
                           struct swh_error *err);

#endif
