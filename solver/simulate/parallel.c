#define _GNU_SOURCE /* sched_getaffinity: the set of processors that this process may use */
#include "solver/simulate/parallel.h"

#include <sched.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdlib.h>
#include <unistd.h>

enum { THREADS_MOST = 1024 };

struct loop {
    atomic_long next;
    long count;
    void (*each)(long i, void *user);
    void *user;
};

static long allowed(void)
{
    cpu_set_t set;
    if (sched_getaffinity(0, sizeof set, &set) == 0)
        return CPU_COUNT(&set);
    return sysconf(_SC_NPROCESSORS_ONLN); /* more processors than a set of the usual size holds */
}

/* no more than a variable of the environment says; what is no count says nothing. A list of counts by level
 * begins with the outermost. */
static long limited(long n, const char *variable)
{
    const char *text = getenv(variable);
    char *end = NULL;
    const long most = text ? strtol(text, &end, 10) : 0;
    return text && end != text && (*end == '\0' || *end == ',') && most >= 1 && most < n ? most : n;
}

int swh_processors(void)
{
    const long n = limited(limited(allowed(), "SLURM_CPUS_PER_TASK"), "OMP_NUM_THREADS");
    return n < 1 ? 1 : n > THREADS_MOST ? THREADS_MOST : (int)n;
}

/* A loop inside another one's round has the processors taken already. */
static _Thread_local bool in_a_loop;

static void *work(void *shared)
{
    struct loop *l = shared;
    const bool was = in_a_loop;
    in_a_loop = true;
    for (long i = atomic_fetch_add(&l->next, 1); i < l->count; i = atomic_fetch_add(&l->next, 1))
        l->each(i, l->user);
    in_a_loop = was;
    return NULL;
}

void swh_parallel(long count, int threads, void (*each)(long i, void *user), void *user)
{
    struct loop l = {.count = count, .each = each, .user = user};
    pthread_t helper[THREADS_MOST];
    int helpers = 0;
    const long most = in_a_loop ? 1 : count < THREADS_MOST ? count : THREADS_MOST;
    while (helpers + 1 < threads && helpers + 1 < most &&
           pthread_create(&helper[helpers], NULL, work, &l) == 0)
        helpers++;
    work(&l);
    for (int i = 0; i < helpers; i++)
        pthread_join(helper[i], NULL);
}

void swh_team_begin(struct swh_team *team)
{
    pthread_mutex_init(&team->lock, NULL); /* cannot fail: it takes no memory (glibc, POSIX allows it to) */
    team->first.status = SWH_OK;
    swh_error_clear(&team->first);
}

void swh_team_enter(struct swh_team *team)
{
    pthread_mutex_lock(&team->lock);
}

void swh_team_leave(struct swh_team *team)
{
    pthread_mutex_unlock(&team->lock);
}

enum swh_status swh_team_note(struct swh_team *team, enum swh_status status, const struct swh_error *inside)
{
    swh_team_enter(team);
    if (status != SWH_OK && team->first.status == SWH_OK) {
        if (inside)
            team->first = *inside;
        team->first.status = status;
    }
    swh_team_leave(team);
    return status;
}

void swh_team_note_memory(struct swh_team *team)
{
    struct swh_error err = {0};
    if (team)
        swh_team_note(team, swh_error_set(&err, SWH_ERR_MEMORY, "no memory for a simulation"), &err);
}

enum swh_status swh_team_status(struct swh_team *team)
{
    swh_team_enter(team);
    const enum swh_status status = team->first.status;
    swh_team_leave(team);
    return status;
}

enum swh_status swh_team_end(struct swh_team *team, struct swh_error *err)
{
    const enum swh_status status = team->first.status;
    pthread_mutex_destroy(&team->lock);
    if (status != SWH_OK && err && err->status == SWH_OK)
        *err = team->first;
    return status;
}
