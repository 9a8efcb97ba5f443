/* The ranking of a live log as it firms up: while rows come in, one ranking at a time is made of what there
 * is, beside the reading, so that the log's writer is never kept waiting; what it finds goes to the standard
 * error. */
#ifndef SWH_CLI_COMMANDS_INFER_LIVE_RANK_H
#define SWH_CLI_COMMANDS_INFER_LIVE_RANK_H

#include "cli/base/live_monitor.h"
#include "cli/commands/infer/log_command.h"
#include "solver/infer/rank.h"

#include <pthread.h>
#include <stdatomic.h>

struct swh_live_rank {
    const struct swh_log_command *judge;
    const struct swh_findings *bench; /* NULL: none */
    struct swh_live_monitor beside;
    struct swh_log_memory copy; /* what the present ranking looks at */
    struct swh_ranking *ranking;
    pthread_t worker;
    bool working;
    atomic_bool finished;
    enum swh_status status;
    double begun; /* s, clock when the first row came; 0: none yet */
    double next;  /* s of the log from which on the next ranking is made */
};

void swh_live_rank_begin(struct swh_live_rank *l, const struct swh_log_command *j,
                         const struct swh_findings *bench);
/* After each row. Once a minute of the log prediction and readings are laid beside each other; from five
 * minutes on causes are ranked, each time the log has grown by a third, unless the rows come as fast as a
 * file's. */
void swh_live_rank_row(struct swh_live_rank *l, const struct swh_log_memory *log);
/* Waits for a ranking under way. */
void swh_live_rank_end(struct swh_live_rank *l);

#endif
