/* Several simulations at a time: a loop whose rounds are independent is shared out among threads, and the
 * first thing that goes wrong in any of them is kept. A thread that cannot be made is no error: those that
 * can do the work, in the end the caller's own. (OpenMP's run-time library ends the program there, with a
 * status that means something else.) */
#ifndef SWH_SOLVER_SIMULATE_PARALLEL_H
#define SWH_SOLVER_SIMULATE_PARALLEL_H

#include "model/base/status.h"

#include <pthread.h>

/* Processors that this process was given, at least 1: those that it may run on, and no more than
 * SLURM_CPUS_PER_TASK and OMP_NUM_THREADS say where they are set. */
int swh_processors(void);
/* Calls each(i, user) once for every i in 0 .. count - 1, in this and up to threads - 1 further threads, and
 * returns when all are done. Rounds are given out in rising order, one at a time. A loop inside a round stays
 * in its thread. */
void swh_parallel(long count, int threads, void (*each)(long i, void *user), void *user);

/* What the threads of a loop tell each other. */
struct swh_team {
    pthread_mutex_t lock;
    struct swh_error first; /* what went wrong first; none: SWH_OK */
};
void swh_team_begin(struct swh_team *team);
/* Only one thread at a time is between these. */
void swh_team_enter(struct swh_team *team);
void swh_team_leave(struct swh_team *team);
/* Keeps the first status that is not SWH_OK, with what *inside says of it (may be NULL). Returns status. */
enum swh_status swh_team_note(struct swh_team *team, enum swh_status status, const struct swh_error *inside);
/* The same for a failed allocation. team may be NULL. */
void swh_team_note_memory(struct swh_team *team);
/* The first status so far. */
enum swh_status swh_team_status(struct swh_team *team);
/* Hands the first error over to err (may be NULL) and returns its status. */
enum swh_status swh_team_end(struct swh_team *team, struct swh_error *err);

#endif
