/* Ratios within one run: a sweep on two threads against one and against the plain loop over swh_run;
 * processor time of a margin over that of one run of 30 minutes. */
#include "solver/margin.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <time.h>

static double clock_of(clockid_t id)
{
    struct timespec t;
    clock_gettime(id, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double sweep_time(struct swh_sweep *s, int threads, struct swh_sweep_row *rows)
{
    for (long i = 0; i < s->plan.count; i++)
        rows[i].done = false;
    s->threads = threads;
    const double from = clock_of(CLOCK_MONOTONIC);
    swh_sweep_run(s, rows, NULL);
    return clock_of(CLOCK_MONOTONIC) - from;
}

static double loop_time(const struct swh_sweep *s)
{
    static struct swh_summary summary;
    const double from = clock_of(CLOCK_MONOTONIC);
    for (long i = 0; i < s->plan.count; i++) {
        double x[SWH_SAMPLE_AXES];
        struct swh_case c = *s->base;
        swh_plan_point(&s->plan, i, x);
        for (int k = 0; k < s->plan.axes; k++)
            swh_key_set(&c, &s->key[k], x[k]);
        swh_run(&c, NULL, &summary, NULL);
    }
    return clock_of(CLOCK_MONOTONIC) - from;
}

static long memory_kB(void)
{
    struct rusage u;
    getrusage(RUSAGE_SELF, &u);
    return u.ru_maxrss;
}

static int bench_sweep(const struct swh_case *c)
{
    struct swh_sweep s = {.base = c, .shards = 1};
    s.plan = (struct swh_plan){
        .design = SWH_DESIGN_LATIN, .axes = 2, .range = {{0, 0.6, 0}, {15, 45, 0}}, .sample = 200, .seed = 1};
    if (swh_key_find("fault.undercharge.severity", &s.key[0], NULL) ||
        swh_key_find("conditions.compressor_speed", &s.key[1], NULL) || swh_sweep_begin(&s, NULL))
        return 1;
    struct swh_sweep_row *rows = calloc((size_t)s.plan.count, sizeof *rows);
    if (!rows)
        return 1;
    sweep_time(&s, 2, rows);
    const long before = memory_kB();
    double ratio[2], loop[2];
    for (int i = 0; i < 2; i++) { /* turn and turn about, so that other load hits all alike */
        const double two = sweep_time(&s, 2, rows), one = sweep_time(&s, 1, rows), plain = loop_time(&s);
        ratio[i] = one / two;
        loop[i] = plain / two;
    }
    printf("sweep of %ld cases, one thread over two: %.2f %.2f\n", s.plan.count, ratio[0], ratio[1]);
    printf("plain loop over run over two threads: %.2f %.2f\n", loop[0], loop[1]);
    printf("memory: %ld kB more after another %ld cases; %zu bytes a row\n", memory_kB() - before,
           5 * s.plan.count, sizeof *rows);
    free(rows);
    swh_sweep_free(&s);
    return 0;
}

static void bench_margin(const struct swh_case *c)
{
    static struct swh_margin m;
    static struct swh_summary summary;
    struct swh_margin_request q = {.base = c, .lo = 0, .hi = 0.95, .limit_channel = -1, .threads = 1};
    swh_key_of_fault(SWH_FAULT_undercharge, &q.key);
    const double a = clock_of(CLOCK_PROCESS_CPUTIME_ID);
    swh_run(c, NULL, &summary, NULL);
    const double b = clock_of(CLOCK_PROCESS_CPUTIME_ID);
    swh_margin_find(&q, &m, NULL);
    const double d = clock_of(CLOCK_PROCESS_CPUTIME_ID);
    q.feedbacks = true;
    swh_margin_find(&q, &m, NULL);
    const double e = clock_of(CLOCK_PROCESS_CPUTIME_ID);
    printf(
        "margin to 0.5 %% (critical %.3f) over one run of 30 minutes: %.1f (%.2f s); with feedbacks %.1f\n",
        m.critical, (d - b) / (b - a), d - b, (e - d) / (b - a));
}

int main(void)
{
    struct swh_case c;
    setvbuf(stdout, NULL, _IOLBF, 0);
    swh_case_default(&c);
    c.conditions.ambient_temperature = 305.15;
    c.conditions.doors_open = 1;
    c.params.run_duration = 600;
    if (bench_sweep(&c))
        return 1;
    c.conditions.compressor_speed = 50;
    c.fault[SWH_FAULT_never_cycling].present = true;
    c.fault[SWH_FAULT_never_cycling].severity = 1;
    c.params.run_duration = 1800;
    bench_margin(&c);
    return 0;
}
