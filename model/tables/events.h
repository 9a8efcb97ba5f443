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
extern const struct swh_event_info swh_event_table[SWH_EVENT_COUNT];

#endif
