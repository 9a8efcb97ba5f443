/* What stands behind the handles of the public headers. Private to solver/api. */
#ifndef SWH_SOLVER_API_HANDLES_H
#define SWH_SOLVER_API_HANDLES_H

#include "solver/files/scenario.h"
#include "solver/simulate/run.h"

#include <swashheat/swashheat.h>

struct swh_setup {
    struct swh_scenario scenario;
    struct swh_units *units;
};

struct swh_record {
    size_t rows, room;
    double *column[SWH_CHANNEL_COUNT];
    double *reading[SWH_CHANNEL_COUNT]; /* all NULL if there is no log */
    bool has_readings;
    struct swh_event_record *event;
    size_t events, event_room;
    struct swh_summary summary;
};

/* An empty record; NULL with err set if there is no memory. */
struct swh_record *swh_record_new(bool has_readings, struct swh_error *err);
/* Sinks that fill it. */
struct swh_sinks swh_record_sinks(struct swh_record *record);
/* Gives a record out with a run's status, or releases it where there is nothing to give. */
enum swh_status swh_record_give(struct swh_record *record, enum swh_status status, struct swh_record **out);

#endif
