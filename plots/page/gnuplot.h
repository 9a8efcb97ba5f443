/* The one door to gnuplot: a drawing in its language goes in, a picture file comes out. */
#ifndef SWH_PLOTS_PAGE_GNUPLOT_H
#define SWH_PLOTS_PAGE_GNUPLOT_H

#include "plots/plots.h"

/* Draws `script` (length bytes, without terminal and output settings) to FOLDER/NAME.ENDING, `height` pixels
 * high for a width of SWH_PAGE_WIDTH. See plots.h for the errors. */
enum swh_status swh_gnuplot_draw(const struct swh_plot_options *o, const char *name, int height,
                                 const char *script, size_t length, struct swh_error *err);

/* How much larger than SWH_PAGE_WIDTH a page comes out. */
double swh_gnuplot_enlarged(const struct swh_plot_options *o);

#endif
