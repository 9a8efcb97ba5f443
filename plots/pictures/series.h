/* What the pictures of one run share: columns of a series, its events as marks and strips, its answer in
 * words. */
#ifndef SWH_PLOTS_PICTURES_SERIES_H
#define SWH_PLOTS_PICTURES_SERIES_H

#include "plots/page/page.h"

struct swh_xy swh_series_column(const struct swh_plot_series *s, enum swh_channel ch);
struct swh_xy swh_series_measured(const struct swh_plot_series *s, enum swh_channel ch);
bool swh_series_has(const struct swh_plot_series *s, enum swh_channel ch); /* any finite value */
bool swh_series_has_measured(const struct swh_plot_series *s, enum swh_channel ch);
double swh_series_value(const struct swh_plot_series *s, size_t row, enum swh_channel ch);
double swh_series_start(const struct swh_plot_series *s); /* s */
double swh_series_end(const struct swh_plot_series *s);   /* s */
/* Largest and last finite value; NaN if there is none. */
double swh_series_peak(const struct swh_plot_series *s, enum swh_channel ch);
double swh_series_least(const struct swh_plot_series *s, enum swh_channel ch);
double swh_series_last(const struct swh_plot_series *s, enum swh_channel ch);
/* Time-weighted mean of the finite values. */

/* "film_ratio" -> "film ratio", "heat_bracket" -> "bracket", "shell_temperature" -> "shell" if `bare` */
const char *swh_channel_words(enum swh_channel ch, bool bare, char *out, size_t n);
/* "197 s", "17.2 min", "5 h" */
const char *swh_time_words(double seconds, char *out, size_t n);

/* First event of a kind; NULL if it never happened. */
const struct swh_plot_event *swh_series_event(const struct swh_plot_series *s, enum swh_event event);
size_t swh_series_count(const struct swh_plot_series *s, enum swh_event event);
/* Sentence that answers what became of the run. */
void swh_series_answer(const struct swh_plot_series *s, const struct swh_page *units,
                       const struct swh_plot_limits *l, char *out, size_t n);

/* Marks: the events that end a compressor, with words above the first panel and lines through the panels. */
struct swh_mark {
    double time;
    char text[160];
    double x; /* pixel */
    int row;
    bool to_left; /* the words stand left of the line */
};
enum { SWH_MARKS_MAX = 6 };
struct swh_marks {
    struct swh_mark mark[SWH_MARKS_MAX];
    int count, rows;
};
/* Finds the marks and places their words in rows that do not overlap. */
void swh_marks_find(struct swh_marks *m, const struct swh_plot_series *s);
/* Writes the words, the lowest row `bottom` pixels from the page's top. */
void swh_marks_words(const struct swh_marks *m, struct swh_page *p, int bottom);
/* Draws the lines through a panel. */
void swh_marks_lines(const struct swh_marks *m, struct swh_panel *n);

/* Strips: when the clutch was engaged and which switches were open, one thin row each. */
int swh_strips_height(const struct swh_plot_series *s); /* pixels */
void swh_strips(struct swh_page *p, const struct swh_plot_series *s, int top);

/* Channels that are compared with readings, in the order in which they are wanted. */
enum { SWH_COMPARE_WANTED = 11 };
extern const enum swh_channel swh_compare_wanted[SWH_COMPARE_WANTED];

/* Whether a series holds what a picture needs. */
bool swh_body_possible(const struct swh_plot_series *s);
bool swh_fitted_possible(const struct swh_plot_series *s);
bool swh_compare_possible(const struct swh_plot_series *s);
bool swh_ledger_possible(const struct swh_plot_series *s);
bool swh_pressures_possible(const struct swh_plot_series *s);
bool swh_film_possible(const struct swh_plot_series *s);
bool swh_charge_possible(const struct swh_plot_series *s);

/* Whether the clutch goes on and off so often that single cycles cannot be shown. */
bool swh_series_cycling(const struct swh_plot_series *s);
/* Cuts the run into at most `max` windows of time (s->n > 1): whole clutch cycles if it cycles, where windows
 * of one length would beat with the cycle. edge[0 .. windows]; returns the number of windows. */
size_t swh_series_windows(const struct swh_plot_series *s, double *edge, size_t max);
/* Middles of n windows; the first and the last stand at the ends of the run. */
void swh_series_middles(const double *edge, size_t n, double *x);

/* Draws a channel that has a meaning only while the compressor runs: gaps, or means over cycles if they are
 * many. */
void swh_series_running(struct swh_panel *n, const struct swh_plot_series *s, enum swh_channel ch,
                        const struct swh_style *style, const char *label);
/* Draws any channel. Of a run whose clutch cycles (or where `means`: one of the runs beside it does) the line
 * is the mean with the clutch engaged, window by window, over a pale band of its whole swing, so that a line
 * says what a gauge with the clutch in says; where the clutch stays out, the mean of what there is. */
void swh_series_swing(struct swh_panel *n, const struct swh_plot_series *s, enum swh_channel ch,
                      const struct swh_style *style, const char *label, bool means);
/* What that line says in its window nearest to time t [s]; the value itself where the clutch does not cycle.
 * NaN if there is none. */
double swh_series_line_at(const struct swh_plot_series *s, enum swh_channel ch, double t);
/* A sentence of how a channel went: "Head climbs from 16.1 to 27.4 barg", "low side stands at 2.0 barg"; ""
 * without values. Returns out. */
const char *swh_series_course(const struct swh_plot_series *s, const struct swh_page *units,
                              enum swh_channel ch, const char *name, char *out, size_t n);
/* Mean over the rows between two times [s] with the clutch engaged (or not known); NaN if there is none. */
double swh_series_running_mean(const struct swh_plot_series *s, enum swh_channel ch, double from, double to);

/* The clauses common to time panels: opens a panel over the whole run. */
void swh_series_panel(struct swh_panel *n, struct swh_page *p, const struct swh_plot_series *s, int top,
                      int bottom, enum swh_quantity q, const char *heading);

#endif
