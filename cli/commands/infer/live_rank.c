#include "cli/commands/infer/live_rank.h"

#include "solver/infer/residuals.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static const double first = 300, growth = 4.0 / 3; /* s of log */
static const double file_time = 2;                 /* s; a file has been read by then */

static double seconds_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* ---- prediction beside reading ---- */

/* the last window that is full, of a healthy vehicle driven by the log so far */
static void lay_beside(struct swh_live_rank *l, const struct swh_log_memory *log, double now)
{
    struct swh_case driven;
    struct swh_schedule_facts facts;
    struct swh_residuals *r = malloc(sizeof *r);
    if (!r)
        return;
    if (swh_schedule_from_log(&driven, &l->judge->frame.scenario.c, log, l->judge->doors_given, &facts,
                              NULL) == SWH_OK &&
        swh_residuals_run(&driven, &(struct swh_readings){.log = log}, r, NULL) == SWH_OK && r->windows > 1)
        for (int i = 0; i < SWH_COMPARED; i++)
            if (r->count[i][r->windows - 2] > 0)
                swh_live_monitor_take(&l->beside, now, swh_compared[i], -r->mean[i][r->windows - 2]);
    swh_case_free(&driven);
    free(r);
}

/* ---- ranking beside reading ---- */

static void *work(void *user)
{
    struct swh_live_rank *l = user;
    const struct swh_rank_request q = {.vehicle = &l->judge->frame.scenario.c,
                                       .doors_given = l->judge->doors_given,
                                       .log = &l->copy,
                                       .bench = l->bench,
                                       .threads = swh_frame_threads()};
    l->status = swh_rank(&q, l->ranking, NULL);
    atomic_store(&l->finished, true);
    return NULL;
}

static void say(const struct swh_live_rank *l)
{
    const struct swh_ranking *r = l->ranking;
    char name[80];
    fprintf(stderr, "%.0f s: so far", l->copy.row[l->copy.rows - 1].value[SWH_CH_time]);
    for (int i = 0; i < r->causes && i < 3; i++)
        fprintf(stderr, "%s %s %.0f %%", i ? "," : "", swh_cause_name(&r->cause[i], name, sizeof name),
                100 * r->cause[i].share);
    const bool early = swh_log_memory_at_work(&l->copy) < SWH_LEAST_AT_WORK;
    fprintf(stderr, "%s\n", r->cannot_tell || early ? "; cannot tell yet" : "");
}

static void gather(struct swh_live_rank *l)
{
    pthread_join(l->worker, NULL);
    l->working = false;
    if (l->status == SWH_OK)
        say(l);
    free(l->ranking);
    l->ranking = NULL;
    swh_log_memory_free(&l->copy);
}

static void start(struct swh_live_rank *l, const struct swh_log_memory *log)
{
    l->ranking = calloc(1, sizeof *l->ranking);
    enum swh_status status = l->ranking ? SWH_OK : SWH_ERR_MEMORY;
    for (size_t i = 0; i < log->rows && status == SWH_OK; i++)
        status = swh_log_memory_add(&l->copy, &log->row[i], 0, NULL);
    atomic_store(&l->finished, false);
    l->working = status == SWH_OK && pthread_create(&l->worker, NULL, work, l) == 0;
    if (l->working)
        return;
    free(l->ranking); /* no memory or no thread: the ranking at the end needs neither */
    l->ranking = NULL;
    swh_log_memory_free(&l->copy);
}

/* ---- the log ---- */

void swh_live_rank_begin(struct swh_live_rank *l, const struct swh_log_command *j,
                         const struct swh_findings *bench)
{
    memset(l, 0, sizeof *l);
    l->judge = j;
    l->bench = bench;
    l->next = first;
    l->beside = (struct swh_live_monitor){.session = j->frame.session, .params = &j->frame.scenario.c.params};
}

void swh_live_rank_row(struct swh_live_rank *l, const struct swh_log_memory *log)
{
    if (log->rows < 2)
        return;
    const double now = log->row[log->rows - 1].value[SWH_CH_time];
    const double span = swh_log_memory_span(log), before = now - log->row[log->rows - 2].value[SWH_CH_time];
    if (l->begun == 0)
        l->begun = seconds_now();
    if (span >= 120 && floor(span / 60) > floor((span - before) / 60))
        lay_beside(l, log, now);
    if (l->working && atomic_load(&l->finished))
        gather(l);
    if (l->working || span < l->next || seconds_now() < l->begun + file_time)
        return;
    l->next = span * growth;
    start(l, log);
}

void swh_live_rank_end(struct swh_live_rank *l)
{
    if (l->working)
        gather(l);
}
