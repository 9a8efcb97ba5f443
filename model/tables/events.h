#ifndef SWH_MODEL_TABLES_EVENTS_H
#define SWH_MODEL_TABLES_EVENTS_H

enum swh_event {
#define EVENT(id, help) SWH_EV_##id,
#include "model/tables/events.def"
#undef EVENT
    SWH_EVENT_COUNT
};
struct swh_event_info {
    const char *id, *help;
};
/* what ended a compressor */
enum swh_seizure {
#define SEIZURE(id, words) SWH_BY_##id,
#include "model/tables/seizures.def"
#undef SEIZURE
    SWH_SEIZURE_COUNT /* nothing did */
};
extern const struct swh_event_info swh_seizure_table[SWH_SEIZURE_COUNT];
extern const struct swh_event_info swh_event_table[SWH_EVENT_COUNT];

#endif
