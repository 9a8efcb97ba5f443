/* A gnuplot process: a script goes in, a picture comes out of its standard output into a file that we opened.
 * No name of a file or a folder reaches it. */
#ifndef SWH_PLOTS_PAGE_GNUPLOT_PROCESS_H
#define SWH_PLOTS_PAGE_GNUPLOT_PROCESS_H

#include "model/base/status.h"

#include <stdbool.h>
#include <stddef.h>

struct swh_gnuplot_work {
    const char *script;
    size_t length;
    int picture;        /* descriptor that takes what gnuplot draws */
    double patience;    /* s; a gnuplot that takes longer is ended */
    bool (*stop)(void); /* true: end gnuplot and give up; NULL: never */
};

/* Starts gnuplot, tells it the script, takes the picture, waits for its end. SWH_ERR_OUTPUT if it cannot be
 * started, fails, says that it failed, draws more than 256 MB, or takes too long; SWH_ERR_SOLVER if it was
 * stopped. */
enum swh_status swh_gnuplot_process(const struct swh_gnuplot_work *work, struct swh_error *err);

#endif
