/* Rows on an axis that they share: dots with intervals, bars, words beside them. */
#ifndef SWH_PLOTS_PAGE_ROWS_H
#define SWH_PLOTS_PAGE_ROWS_H

#include "plots/page/page.h"

/* for swh_page_text: over lines and blocks */
#define SWH_TEXT_GREY "front textcolor rgb '#555555'"
#define SWH_TEXT_FRONT "front"

#define SWH_ROW_STRONG "#D55E00" /* what the title speaks of; bold words beside it */
#define SWH_ROW_PALE "#8fb8d4"

/* A panel for rows between two pixels each way: x from x0 to x1 [SI] with `foot` below it (NULL: no numbers),
 * y without numbers. It is closed: what is drawn afterwards lies over its grid. */
struct swh_rows {
    int left, right, top, bottom;
    enum swh_quantity quantity;
    double from, to; /* SI */
    const char *foot;
    double ground_from, ground_to; /* a grey ground between these two [SI]; NaN: none */
};
void swh_rows_open(struct swh_panel *n, struct swh_page *page, const struct swh_rows *rows);

/* All x are SI; what lies beyond the panel is cut off at its edge, a line or a dot with an arrowhead. */
void swh_row_interval(struct swh_panel *n, double y, double low, double high, double width);
void swh_row_block(struct swh_panel *n, double y0, double y1, double low, double high, const char *colour);
void swh_row_dot(struct swh_panel *n, double y, double x, bool open);

/* The name of a row, its right end at x; of a pair in two lines. */
void swh_row_name(struct swh_page *p, double x, double y, const char *label, const char *second, bool bold);

/* "58 %", "0.3 %", "< 0.1 %". Returns out. */
const char *swh_row_share(double share, char *out, size_t n);

/* As much of a list as has room: "a, b and 3 more". Returns out. */
const char *swh_row_list(const char *const *word, size_t words, double room, char *out, size_t n);

#endif
