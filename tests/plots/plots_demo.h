/* An invented run for the tests of plots/: smooth curves of plausible size, nothing computed. Stands for a
 * delivery van of a market garden that is 70 % short of refrigerant. */
#ifndef SWH_TESTS_PLOTS_PLOTS_DEMO_H
#define SWH_TESTS_PLOTS_PLOTS_DEMO_H

#include "plots/plots.h"

struct demo {
    struct swh_plot_series series;
    double *value, *measured, *before;
    struct swh_plot_fit fit;
    struct swh_plot_event event[1000];
};

/* n rows over `end` seconds; short_of: 0 healthy .. 1 empty (above 0.6 a shoe welds near the end) */
void demo_make(struct demo *d, size_t n, double end, double short_of, bool replay);
/* Makes it the picture of a fit: before it, the model read 3 K and half a bar too high. */
void demo_fit(struct demo *d);
void demo_free(struct demo *d);

/* Options with conversions to the shown units. */
void demo_options(struct swh_plot_options *o, enum swh_plot_format format, bool trade, const char *folder);

#endif
