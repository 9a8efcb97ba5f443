/* Finished rows of a sweep on disk, each made durable before the next is begun: whatever stops the program,
 * what was done is done, and the same command goes on from there. Rows are kept bit for bit. A journal
 * belongs to one fingerprint (scenario and plan); others in the same folder are left alone. */
#ifndef SWH_CLI_COMMANDS_SWEEP_JOURNAL_H
#define SWH_CLI_COMMANDS_SWEEP_JOURNAL_H

#include "solver/study/sweep.h"

struct swh_journal {
    char path[768];
    int axes;
    int fd; /* -1: not open */
};

/* Reads the rows of every journal of this sweep in the folder into rows (plan.count of them), or of this
 * shard's own if there are several shards and `all` is false. *restored: how many. A line that is not whole
 * is left out. SWH_ERR_OUTPUT if a journal cannot be read. */
enum swh_status swh_journal_restore(const char *folder, const struct swh_sweep *sweep, bool all,
                                    struct swh_sweep_row *rows, long *restored, struct swh_error *err);
/* Opens this shard's journal to add to it. SWH_ERR_OUTPUT; also if another process has it open. */
enum swh_status swh_journal_open(struct swh_journal *j, const char *folder, const struct swh_sweep *sweep,
                                 struct swh_error *err);
enum swh_status swh_journal_add(struct swh_journal *j, long index, const struct swh_sweep_row *row,
                                struct swh_error *err);
void swh_journal_close(struct swh_journal *j);
/* Removes every journal of this sweep from the folder: its rows stand in the result now. */
void swh_journal_remove(const char *folder, const struct swh_sweep *sweep);

#endif
