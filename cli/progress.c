#include "cli/progress.h"

#include <stdio.h>
#include <time.h>
#include <unistd.h>

enum { BAR = 40 };

static double seconds_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

void swh_progress_begin(struct swh_progress *p, const char *what, long total, long begun_with, bool quiet)
{
    *p = (struct swh_progress){
        what, !quiet && isatty(STDERR_FILENO), total, begun_with, begun_with, seconds_now(), 0};
}

void swh_progress_step(struct swh_progress *p)
{
    p->done++;
    const double now = seconds_now();
    if (!p->on || now < p->said + 0.2)
        return;
    p->said = now;
    const long here = p->done - p->begun_with, open = p->total - p->done;
    const double left = (now - p->started) / (double)here * (double)open;
    const int filled = p->total > 0 ? (int)(BAR * p->done / p->total) : BAR;
    fprintf(stderr, "\r%s [%.*s%*s] %ld of %ld, %.0f min %02.0f s left ", p->what, filled,
            "########################################", BAR - filled, "", p->done, p->total,
            (double)(long)(left / 60), left - 60 * (double)(long)(left / 60));
}

void swh_progress_end(struct swh_progress *p)
{
    if (p->on && p->said > 0)
        fprintf(stderr, "\r%110s\r", "");
}
