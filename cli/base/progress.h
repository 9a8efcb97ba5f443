/* A bar on the terminal for work of a known number of parts, with the time left. */
#ifndef SWH_CLI_BASE_PROGRESS_H
#define SWH_CLI_BASE_PROGRESS_H

#include <stdbool.h>

struct swh_progress {
    const char *what;
    bool on;
    long total, begun_with, done;
    double started, said; /* s */
};

/* Nothing is shown unless standard error is a terminal. begun_with: parts that were done before. */
void swh_progress_begin(struct swh_progress *p, const char *what, long total, long begun_with, bool quiet);
void swh_progress_step(struct swh_progress *p);
void swh_progress_end(struct swh_progress *p);

#endif
