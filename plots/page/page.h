/* A page of panels: what the pictures are composed of. Places are in pixels from the top left corner of a
 * page that is SWH_PAGE_WIDTH wide; values are SI and are converted on the way out. Nothing here fails: a
 * page that ran out of memory says so when it is finished. */
#ifndef SWH_PLOTS_PAGE_PAGE_H
#define SWH_PLOTS_PAGE_PAGE_H

#include "plots/plots.h"

#include <stdio.h>

enum {
    SWH_PAGE_WIDTH = 1400,
    SWH_SLIDE_HEIGHT = 788, /* 16:9 */
    SWH_SLIDE_LEFT = 112,
    SWH_SLIDE_RIGHT = 940,
    SWH_PAGE_LEFT = 90,    /* where panels begin: room for the numbers of the y axis */
    SWH_PAGE_RIGHT = 1060, /* where they end: room for the labels at the lines' ends */
    SWH_LINE_HEIGHT = 22,  /* of a label */
    SWH_LABELS_MAX = 32
};

struct swh_style {
    const char *colour; /* "#rrggbb" */
    double width;       /* pixels */
    const char *dash;   /* gnuplot dash type: "solid", "(12,4)" */
};
/* Style number i of eight that differ in colour, in lightness and in dash. */
struct swh_style swh_style(size_t i);
extern const struct swh_style swh_style_limit; /* of limit lines */

struct swh_page {
    const struct swh_plot_options *o;
    double scale[SWH_QUANTITY_COUNT], offset[SWH_QUANTITY_COUNT]; /* shown = scale * si + offset */
    int top, height;                                              /* content begins at top */
    double letters;      /* how much larger than usual the letters are */
    FILE *plots, *words; /* panels; texts and leaders over the whole page */
    char *plots_text, *words_text;
    size_t plots_size, words_size;
    int blocks; /* data blocks so far */
    char subtitle[240];
    bool bands;  /* some line was drawn as crests over a band: the subtitle says so */
    bool failed; /* memory ran out on the way */
};

/* Learns the units only: enough for swh_page_shown, swh_page_unit and swh_page_value, which titles need. */
void swh_page_units(struct swh_page *p, const struct swh_plot_options *o);
/* Begins a page with its title (wrapped if long) and a grey line below it (may be NULL); content_height
 * pixels follow below page->top (of a slide: what is left of SWH_SLIDE_HEIGHT). */
void swh_page_begin(struct swh_page *p, const struct swh_plot_options *o, int content_height,
                    const char *title, const char *subtitle);
/* Draws the page to FOLDER/NAME.ENDING and releases it. */
enum swh_status swh_page_end(struct swh_page *p, const char *name, struct swh_error *err);

double swh_page_shown(const struct swh_page *p, enum swh_quantity q, double si);
/* "degC" -> the unit in which q is shown, with the degree sign; "" for a number */
const char *swh_page_unit(const struct swh_page *p, enum swh_quantity q, char *out, size_t n);
/* "83.4 unit": rounded to a sensible number of digits */
const char *swh_page_value(const struct swh_page *p, enum swh_quantity q, double si, char *out, size_t n);
/* The same for a number that is round already: "80 unit". */
const char *swh_page_round(const struct swh_page *p, enum swh_quantity q, double si, char *out, size_t n);

/* Text at a pixel; align "left", "center", "right"; style words after it, e.g. "textcolor rgb '#666666'". */
void swh_page_text(struct swh_page *p, double x, double y, const char *align, const char *text,
                   const char *how);
/* for swh_page_text: on a white ground, to be read over lines */
#define SWH_TEXT_BOXED "boxed front"
void swh_page_bold(struct swh_page *p, double x, double y, const char *align, const char *text, int points);
/* The point size that looks like `size` of pngcairo: the terminals disagree. */
double swh_page_point(const struct swh_page *p, double size);
void swh_page_dot(struct swh_page *p, double x, double y);
/* A line between two pixels. */
void swh_page_stroke(struct swh_page *p, double x0, double y0, double x1, double y1,
                     const struct swh_style *style);
/* A filled rectangle. */
void swh_page_block(struct swh_page *p, double x0, double y0, double x1, double y1, const char *colour);

/* The same that meets its neighbours without a seam. */
void swh_page_tile(struct swh_page *p, double x0, double y0, double x1, double y1, const char *colour);
/* A hatched grey rectangle. */
void swh_page_hatch(struct swh_page *p, double x0, double y0, double x1, double y1);

/* Estimated width of a text in pixels, on the safe side. */
double swh_text_width(const char *text);

/* Moves n sorted places so that neighbours are at least `gap` apart and all lie within [lo, hi], with the
 * smallest sum of squared moves (pool adjacent violators). If they do not fit, the gap shrinks. */
void swh_spread(double *place, size_t n, double gap, double lo, double hi);

struct swh_label {
    double at;      /* pixel from the page's top: the line's end */
    char text[128]; /* copied */
    struct swh_style style;
    bool bold;
};

/* A stretch of axis in shown units. */
struct swh_scale {
    double from, to;             /* NaN: from the data */
    bool log, nonnegative, wide; /* wide: leave room at both ends */
};

struct swh_panel {
    struct swh_page *page;
    int left, right, top, bottom;
    enum swh_quantity xq, yq;
    bool time;        /* x is a time: shown in s, min or h to suit its length */
    double unit_time; /* s per unit of the time axis */
    struct swh_scale x, y;
    double lo, hi;       /* of the data so far, shown units */
    const char *heading; /* what y is; the unit follows it */
    int label_gap;       /* pixels between the panel and its labels, for a second axis */
    bool label_values;   /* labels end with the value of the line's end */
    double band_opacity; /* of swinging and noisy lines */
    bool foot_below;     /* the foot stands below the axis, not at its end */
    bool y_numbers_off;  /* the y axis carries no numbers */
    bool x_grid;         /* grid lines at the numbers of the x axis */
    const char *foot;    /* what x is; NULL: the x axis carries no numbers */
    FILE *clauses;
    char *clauses_text;
    size_t clauses_size;
    struct swh_label label[SWH_LABELS_MAX];
    double label_value[SWH_LABELS_MAX]; /* y of the line's end, shown units */
    size_t labels;
};

/* Opens a panel between two pixels of height, x from x0 to x1 [SI]. */
void swh_panel_open(struct swh_panel *n, struct swh_page *page, int top, int bottom, enum swh_quantity xq,
                    double x0, double x1, enum swh_quantity yq, const char *heading);
/* Draws it. */
void swh_panel_close(struct swh_panel *n);

/* n values, `stride` doubles apart */
struct swh_column {
    const double *at;
    size_t stride;
};
struct swh_xy {
    size_t n;
    struct swh_column x, y;
};

/* A line with its label at the last finite value (label NULL: none). */
void swh_panel_line(struct swh_panel *n, const struct swh_xy *xy, const struct swh_style *style,
                    const char *label);
/* The same; a line that swings with the clutch, faster than a page can show, becomes its crests over a pale
 * band that reaches down to its troughs (troughs true: its troughs under a band up to the crests). */
void swh_panel_swing(struct swh_panel *n, const struct swh_xy *xy, const struct swh_style *style,
                     const char *label, bool troughs);
/* The same for a noisy line: means over a pale band between least and greatest. */
void swh_panel_noise(struct swh_panel *n, const struct swh_xy *xy, const struct swh_style *style,
                     const char *label);
/* Points (a subset if there are many), open circles. */
void swh_panel_points(struct swh_panel *n, const struct swh_xy *xy, const struct swh_style *style,
                      const char *label);
/* The area between two columns; of one length. */
void swh_panel_band(struct swh_panel *n, const struct swh_xy *low, const struct swh_column *high,
                    const char *colour, double opacity);
/* A horizontal limit line at y [SI], labelled in the column of labels; widens the axis to show it only if
 * `show`. */
void swh_panel_limit(struct swh_panel *n, double y, const char *label, bool show);
/* A vertical line at x [SI]. */
void swh_panel_vertical(struct swh_panel *n, double x, const struct swh_style *style);
/* A cross on a curve at x [SI], on its crest (or trough) there. */
void swh_panel_cross(struct swh_panel *n, double x, const struct swh_xy *xy, const struct swh_style *style,
                     bool trough);
/* Marked points with their words, which keep off one another and off the curves; the panel must be closed. */
void swh_panel_marks(struct swh_panel *n, const struct swh_plot_mark *mark, size_t count,
                     const struct swh_xy *curve, size_t curves);
/* A label in the column at y [SI] */
void swh_panel_label(struct swh_panel *n, double y, const char *text, const struct swh_style *style);

/* pixel of x [SI]; valid once the panel is open */
double swh_panel_pixel(const struct swh_panel *n, double x);
/* pixel of y [SI]; valid once the panel is closed */
double swh_panel_pixel_y(const struct swh_panel *n, double y);
/* Takes y [SI] into the range of the axis. */
void swh_panel_reach(struct swh_panel *n, double y);

/* A step of 1, 2, 2.5 (from 25 on) or 5 times a power of ten that divides `range` into about `parts`. */
double swh_nice_step(double range, int parts);

#endif
