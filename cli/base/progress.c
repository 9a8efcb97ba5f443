#include "cli/base/progress.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum {
    BAR = 20,
    WHAT = 22
}; /* with counts and time all stays within 80 columns: a longer line would scroll */

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
    const bool cut = strlen(p->what) > WHAT;
    fprintf(stderr, "\r%.*s%s [%.*s%*s] %ld of %ld, %.0f min %02.0f s left ", cut ? WHAT - 2 : WHAT, p->what,
            cut ? ".." : "", filled, "####################", BAR - filled, "", p->done, p->total,
            floor(left / 60), floor(fmod(left, 60)));
}

void swh_progress_end(struct swh_progress *p)
{
    if (p->on && p->said > 0)
        fprintf(stderr, "\r%79s\r", "");
}
