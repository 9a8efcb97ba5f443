/* Ratios within one run: a sweep on two threads against one and against the plain loop over swh_run;
 * processor time of margins over that of one run of 30 minutes. Other load on the machine lengthens some of
 * the repetitions: they take turns and the shortest of each kind counts. Processor time per case on two
 * threads over that on one is what threads cost each other (locks, shared cache lines, the allocator); it
 * hardly feels other load. */
#include "solver/steady/margin.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double clock_of(clockid_t id)
{
    struct timespec t;
    clock_gettime(id, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

enum { REPEATS = 4 };

struct cost {
    double wall, cpu; /* s, the least of the repetitions; 0: none yet */
};

static void note_least(struct cost *c, double wall_from, double cpu_from)
{
    const double wall = clock_of(CLOCK_MONOTONIC) - wall_from,
                 cpu = clock_of(CLOCK_PROCESS_CPUTIME_ID) - cpu_from;
    c->wall = c->wall > 0 && c->wall < wall ? c->wall : wall;
    c->cpu = c->cpu > 0 && c->cpu < cpu ? c->cpu : cpu;
}

static void time_sweep(struct swh_sweep *s, int threads, struct swh_sweep_row *rows, struct cost *c)
{
    for (long i = 0; i < s->plan.count; i++)
        rows[i].done = false;
    s->threads = threads;
    const double wall = clock_of(CLOCK_MONOTONIC), cpu = clock_of(CLOCK_PROCESS_CPUTIME_ID);
    swh_sweep_run(s, rows, NULL);
    note_least(c, wall, cpu);
}

static void time_loop(const struct swh_sweep *s, struct cost *c)
{
    static struct swh_summary summary;
    const double wall = clock_of(CLOCK_MONOTONIC), cpu = clock_of(CLOCK_PROCESS_CPUTIME_ID);
    for (long i = 0; i < s->plan.count; i++) {
        double x[SWH_SAMPLE_AXES];
        struct swh_case one = *s->base;
        swh_sampling_point(&s->plan, i, x);
        for (int k = 0; k < s->plan.axes; k++)
            swh_key_set(&one, &s->key[k], x[k]);
        swh_run(&one, NULL, &summary, NULL);
    }
    note_least(c, wall, cpu);
}

/* two processes with every second case each: nothing shared at all, the most that two cores give under the
 * load of now */
static void time_processes(const struct swh_sweep *s, struct cost *c)
{
    const double wall = clock_of(CLOCK_MONOTONIC), cpu = clock_of(CLOCK_PROCESS_CPUTIME_ID);
    pid_t child[2];
    for (int half = 0; half < 2; half++) {
        child[half] = fork();
        if (child[half] != 0)
            continue;
        struct swh_sweep_row row;
        for (long i = half; i < s->plan.count; i += 2)
            swh_sweep_case(s, i, &row, NULL);
        _exit(0);
    }
    for (int half = 0; half < 2; half++)
        waitpid(child[half], NULL, 0);
    note_least(c, wall, cpu);
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
    s.plan = (struct swh_sampling){
        .design = SWH_DESIGN_LATIN, .axes = 2, .range = {{0, 0.6, 0}, {15, 45, 0}}, .sample = 200, .seed = 1};
    if (swh_key_find("fault.undercharge.severity", &s.key[0], NULL) ||
        swh_key_find("conditions.compressor_speed", &s.key[1], NULL) || swh_sweep_begin(&s, NULL))
        return 1;
    struct swh_sweep_row *rows = calloc((size_t)s.plan.count, sizeof *rows);
    if (!rows)
        return 1;
    struct cost one = {0}, two = {0}, plain = {0}, warm = {0}, apart = {0};
    time_sweep(&s, 2, rows, &warm);
    const long before = memory_kB();
    for (int i = 0; i < REPEATS; i++) {
        time_sweep(&s, 2, rows, &two);
        time_sweep(&s, 1, rows, &one);
        time_loop(&s, &plain);
        time_processes(&s, &apart);
    }
    printf("sweep of %ld cases, least of %d: one thread over two %.2f, plain loop over two threads %.2f\n",
           s.plan.count, (int)REPEATS, one.wall / two.wall, plain.wall / two.wall);
    printf("two processes that share nothing over two threads: %.2f\n", apart.wall / two.wall);
    printf("processor time per case: two threads over one %.3f, one thread over the plain loop %.3f\n",
           two.cpu / one.cpu, one.cpu / plain.cpu);
    printf("memory: %ld kB more after another %ld cases; %zu bytes a row, so 10,000 cases hold %.1f MB\n",
           memory_kB() - before, 3 * REPEATS * s.plan.count, sizeof *rows, 1e4 * (double)sizeof *rows / 1e6);
    free(rows);
    swh_sweep_free(&s);
    return 0;
}

/* processor time of a margin over `range` of a fault, beside one run of 30 minutes of the same case */
static void bench_margin(const struct swh_case *c, const char *what, enum swh_fault fault, double hi)
{
    static struct swh_margin m;
    static struct swh_summary summary;
    struct swh_margin_request q = {.base = c, .lo = 0, .hi = hi, .limit_channel = -1, .threads = 1};
    swh_key_of_fault(fault, &q.key);
    struct cost run = {0}, margin = {0}, whole = {0};
    for (int i = 0; i < 3; i++) {
        for (int k = 0; k < 2; k++) {
            const double wall = clock_of(CLOCK_MONOTONIC), cpu = clock_of(CLOCK_PROCESS_CPUTIME_ID);
            q.feedbacks = k;
            swh_margin_find(&q, &m, NULL);
            note_least(k ? &whole : &margin, wall, cpu);
        }
        const double wall = clock_of(CLOCK_MONOTONIC), cpu = clock_of(CLOCK_PROCESS_CPUTIME_ID);
        swh_run(c, NULL, &summary, NULL);
        note_least(&run, wall, cpu);
    }
    printf("margin to 0.5 %%, %s (edge: %s, %ld runs) over one run of 30 minutes: %.1f (%.2f s); with "
           "feedbacks %.1f (%.2f s)\n",
           what, swh_edge_word(m.kind), m.runs, margin.cpu / run.cpu, margin.cpu, whole.cpu / run.cpu,
           whole.cpu);
}

static void bench_margins(const struct swh_case *base)
{
    struct swh_case low = *base, high = *base, on = *base;
    bench_margin(&low, "cycling, oil lost", SWH_FAULT_oil_short, 1);
    bench_margin(&low, "cycling, condenser blocked", SWH_FAULT_condenser_blocked, 1);
    bench_margin(&low, "cycling, valve starving", SWH_FAULT_valve_starving, 1);
    high.conditions.ambient_temperature = 311.15;
    swh_case_fault_always(&high, SWH_FAULT_condenser_blocked, 0.8);
    bench_margin(&high, "on the high-pressure switch, fan dying", SWH_FAULT_fan_dead, 1);
    bench_margin(&high, "on the high-pressure switch, oil of a wrong grade", SWH_FAULT_oil_wrong_grade, 1);
    bench_margin(&high, "on the high-pressure switch, oil not coming back", SWH_FAULT_oil_return_lost, 1);
    bench_margin(&high, "on the high-pressure switch, reeds leaking", SWH_FAULT_reed_leaking, 1);
    on.conditions.compressor_speed = 50;
    swh_case_fault_always(&on, SWH_FAULT_never_cycling, 1);
    bench_margin(&on, "switches defeated, charge lost", SWH_FAULT_undercharge, 0.95);
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
    c.params.run_duration = 1800;
    bench_margins(&c);
    return 0;
}
