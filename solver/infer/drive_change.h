/* A log's drive as it may have been where the log does not say: across gaps, and where the clutch moved
 * between two rows. */
#ifndef SWH_SOLVER_INFER_DRIVE_CHANGE_H
#define SWH_SOLVER_INFER_DRIVE_CHANGE_H

#include "solver/simulate/log_memory.h"

struct swh_drive_change {
    double engage_later,
        release_later; /* s; negative: earlier. At most a third of the time to the next edge */
    /* Across a gap the drive stays what it was, changes within a quarter of it and stays what it then is;
     * this is where that quarter lies: 0 at its beginning, 1 at its end. */
    double gap_place;
    bool gap_usual; /* in a gap of a minute and more it is what it is on average over the log instead */
};

/* What lies in the middle: edges where they are read, gaps that change in their middle. */
extern const struct swh_drive_change swh_drive_as_read;

/* `to` is new, with rows put in that carry the channels of `drives` only; others are blank there.
 * SWH_ERR_MEMORY. */
enum swh_status swh_drive_change(struct swh_log_memory *to, const struct swh_log_memory *from,
                                 const bool drives[SWH_CHANNEL_COUNT], const struct swh_drive_change *change,
                                 struct swh_error *err);

/* A step that is a gap [s]: thrice the usual one, and 10 s at least. */
double swh_log_gap(const struct swh_log_memory *log);
/* What the log's clock leaves open. */
struct swh_drive_facts {
    int gaps, long_gaps;         /* long: a minute and more */
    double longest_gap;          /* s */
    int restarts;                /* of the clutch, after three seconds off at least */
    double shortest_on, between; /* s: a middling time engaged between two edges; of the rows beside edges */
};
struct swh_drive_facts swh_drive_facts(const struct swh_log_memory *log);

#endif
