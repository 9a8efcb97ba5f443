/* Pictures of results, drawn by gnuplot through a pipe. Knows results only as arrays of channels
 * (model/tables/tables.h); knows nothing of the integrator or of the command line.
 *
 * Every picture is one file FOLDER/NAME.png (1400 pixels wide), .svg or .pdf. It appears whole or not at all:
 * gnuplot writes beside it, and the finished file is renamed. All functions return SWH_OK, or SWH_ERR_OUTPUT
 * gnuplot is not installed, refused the drawing, or the folder cannot be written to; SWH_ERR_INPUT   there is
 * nothing to draw (no finite value where the picture needs one); SWH_ERR_MEMORY  an allocation failed.
 * Nothing is printed and no signal disposition is touched; two threads may draw at the same time.
 *
 * Values are SI everywhere in this interface. NaN is a gap in a curve. Colours are those of Okabe and Ito
 * (Color Universal Design, 2008), together with dash patterns and labels at the lines' ends, so that a grey
 * print can be read. */
#ifndef SWH_PLOTS_PLOTS_H
#define SWH_PLOTS_PLOTS_H

#include "model/base/status.h"
#include "model/refrigerant/refrigerant.h"
#include "model/tables/events.h"
#include "model/tables/tables.h"

#include <stdbool.h>
#include <stddef.h>

enum swh_plot_format { SWH_PLOT_NONE, SWH_PLOT_PNG, SWH_PLOT_SVG, SWH_PLOT_PDF };

/* "png", "svg", "pdf", "none"; -1 if unknown */
int swh_plot_format_find(const char *word);

/* Limits that are drawn as lines. NaN: no line. */
struct swh_plot_limits {
    double discharge_temperature; /* K, design target of the discharge gas */
    double oil_temperature;       /* K, where the oil breaks down */
    double weld_temperature;      /* K, contact temperature at which bare metal welds */
    double film_ratio;            /* below: metal touches */
    double clearance;             /* m, at which a bore seizes */
    double high_switch;           /* Pa, at which the high-pressure switch opens; NaN: none is fitted */
    double low_switch;            /* Pa, at which the low-pressure switch opens; NaN: none is fitted */
};

/* The limits that belong to a machine: 130 degC of discharge gas (design target of car makers, SAE
 * 2013-01-1501), film ratio 1 (textbook: below 1 boundary lubrication), the others from the parameters; no
 * switches. */
void swh_plot_limits_default(struct swh_plot_limits *limits, const struct swh_params *params);

struct swh_plot_options {
    enum swh_plot_format format; /* SWH_PLOT_NONE: every function returns SWH_OK and writes nothing */
    const char *folder;          /* must exist */
    bool slide;                  /* letters for the back row of a class, 1920 x 1080 */
    bool trade;                  /* units: show_trade of quantities.def instead of show_si */
    /* Converts a value from SI to the unit shown (swh_quantities[q].show_si or show_trade). Must be affine.
     * NULL: SI base units are shown as they are. */
    double (*shown)(enum swh_quantity quantity, bool trade, double si, void *user);
    void *user;
    struct swh_plot_limits limits;
    double patience;    /* s that gnuplot may take for a picture; 0: a minute */
    bool (*stop)(void); /* asked while gnuplot works: true ends it, SWH_ERR_SOLVER; NULL: never */
};

struct swh_plot_event {
    double time; /* s */
    enum swh_event event;
    const char *text; /* what happened, in words; NULL: the event's help */
};

/* What a fit made of one log. */
struct swh_plot_fit {
    const char *what;     /* what was fitted, for the title: "valve.area and condenser.ua_air" */
    const char *suffix;   /* the picture is called fitted-SUFFIX; NULL: fitted */
    const double *before; /* the model before the fit, shaped like the series' value; or NULL */
    double seen_from;     /* s; what comes before was left out */
    double window;        /* s; of the means that were compared; 0: not known */
    double hidden_from;   /* s; the fit did not see what follows; NaN: it saw all */
    /* root mean squares of what is left over, SI: in what the fit saw, in what it did not, before it; NaN:
     * not compared */
    double rms[SWH_CHANNEL_COUNT], hidden_rms[SWH_CHANNEL_COUNT], before_rms[SWH_CHANNEL_COUNT];
    const char *const *line; /* estimates in words, below the panels */
    size_t lines;
};

/* A fault that grows through most of a run: the story's own axis. */
struct swh_plot_story {
    const char *words;    /* "% of the charge missing" */
    double begins, grows; /* s: from when, and for how long */
    double most;          /* the number it ends with */
};

/* One run or replay. */
struct swh_plot_series {
    const char *name;
    const struct swh_fluid *refrigerant;
    size_t n;               /* rows, times increasing */
    const double *value;    /* n x SWH_CHANNEL_COUNT, row-major */
    const double *measured; /* same shape, or NULL */
    size_t event_count;
    const struct swh_plot_event *event;
    const char *saved_by; /* the switch that kept the compressor alive and what it did, in words; else NULL */
    const char *outcome;  /* one sentence: the answer; NULL: composed from the series and its events */
    /* SWH_CHANNEL_COUNT means of the last minutes with the clutch engaged, where lines of a cycling run end;
     * NULL, or NaN: taken from the rows */
    const double *gauge;
    const struct swh_plot_story *story; /* NULL: none */
    const double *ledger; /* SWH_CHANNEL_COUNT energies [J] over the run, or NULL: summed from the rows */
    /* SWH_CHANNEL_COUNT numbers of readings that were compared with a prediction. NULL: temperatures other
     * than the suction's, and pressures that differ from their readings by more than the gauge's noise. */
    const long *compared;
    const struct swh_plot_fit *fit; /* NULL: none */
};

/* ---- one run ---- */

/* predicted_measured: every measured temperature and pressure against its prediction, the residual below, the
 * root mean square in the title. Discharge and shell temperature come first. */
enum swh_status swh_plot_predicted_measured(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                            struct swh_error *err);
/* body_temperatures: the metal, the oil and the contact, with limit lines, events and switch strips. */
enum swh_status swh_plot_body_temperatures(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                           struct swh_error *err);
/* heat_ledger: what heats the metal (up) and what cools it (down) over time, and the balance of the whole
 * run. */
enum swh_status swh_plot_heat_ledger(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                     struct swh_error *err);
/* pressures: both pressures with saturation temperatures on the right axis, superheat, subcooling, switch
 * strips. */
enum swh_status swh_plot_pressures(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                   struct swh_error *err);
/* film_oil: film ratio, oil in the compressor, viscosity, running clearance. */
enum swh_status swh_plot_film_oil(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                  struct swh_error *err);
/* charge: where the refrigerant sits, stacked over time. */
enum swh_status swh_plot_charge(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                struct swh_error *err);
/* slide: pressures and what gets hot, two panels with large letters; drawn instead of all others where
 * options ask for slides. */
enum swh_status swh_plot_slide(const struct swh_plot_series *s, const struct swh_plot_options *o,
                               struct swh_error *err);
/* fitted: readings, the model with and before the fitted parameters, channel by channel; the part that the
 * fit did not see is grey. Only of a series with a fit. */
enum swh_status swh_plot_fitted(const struct swh_plot_series *s, const struct swh_plot_options *o,
                                struct swh_error *err);

/* Pictures of one run by name, in the order in which a reader wants them. */
struct swh_plot_picture {
    const char *name; /* of the file, without its ending */
    const char *help;
    enum swh_status (*draw)(const struct swh_plot_series *s, const struct swh_plot_options *o,
                            struct swh_error *err);
    bool (*possible)(const struct swh_plot_series *s); /* the series holds what the picture needs */
};
extern const struct swh_plot_picture swh_plot_pictures[];
extern const int swh_plot_picture_count;

/* Draws every possible picture of one run; stops at the first error. */
enum swh_status swh_plot_run(const struct swh_plot_series *s, const struct swh_plot_options *o,
                             struct swh_error *err);

/* Writes FOLDER/NAME.ENDING to out (size n); what the functions above call the file. */
void swh_plot_path(const struct swh_plot_options *o, const char *name, char *out, size_t n);

/* ---- several runs ---- */

/* overlay: the main channels of up to SWH_PLOT_OVERLAY_MAX runs laid over each
 * other. title NULL: composed. */
#define SWH_PLOT_OVERLAY_MAX 8
enum swh_status swh_plot_overlay(const struct swh_plot_series *s, size_t count, const char *title,
                                 const struct swh_plot_options *o, struct swh_error *err);

/* ---- the cycle in the pressure-enthalpy plane ---- */

struct swh_plot_cycle {
    const char *label;   /* "10 min" */
    size_t n;            /* points in the order of the flow; the last is joined to the first */
    const double *P, *h; /* Pa, J/kg */
    bool healthy;        /* drawn in grey, to compare with */
};
/* Place of the point in front of the expansion device among a cycle's pressures [Pa], where one follows it; 0
 * if there is none. */
size_t swh_plot_cycle_liquid(const double *P, size_t n);
/* pressure_enthalpy: saturation dome, lines of equal quality and temperature, and the given cycles. */
enum swh_status swh_plot_pressure_enthalpy(const struct swh_fluid *refrigerant,
                                           const struct swh_plot_cycle *cycle, size_t count,
                                           const char *title, const struct swh_plot_options *o,
                                           struct swh_error *err);

/* ---- pictures of any numbers: margins, sweeps, rankings ---- */

struct swh_plot_axis {
    const char *label; /* without unit */
    enum swh_quantity quantity;
    double from, to; /* SI; NaN: from the data */
};
struct swh_plot_curve {
    const char *label;
    size_t n;
    const double *x, *y;
    const double *low, *high; /* band round the curve, or NULL */
};
struct swh_plot_mark {
    double x, y;
    const char *text;
};
struct swh_plot_line { /* a limit: vertical if y is NaN, horizontal if x is NaN */
    double x, y;
    const char *text;
};

/* NAME: curves y(x) with marked points and limit lines. */
struct swh_plot_curves {
    const char *name, *title, *subtitle; /* subtitle may be NULL */
    struct swh_plot_axis x, y;
    const struct swh_plot_curve *curve;
    size_t curves;
    const struct swh_plot_mark *mark;
    size_t marks;
    const struct swh_plot_line *line;
    size_t lines;
    /* a curve of another quantity over the same x, in a panel of its own below; NULL: none */
    const struct swh_plot_curve *below;
    struct swh_plot_axis below_y;
};
enum swh_status swh_plot_curves(const struct swh_plot_curves *c, const struct swh_plot_options *o,
                                struct swh_error *err);

/* NAME: z over a grid as colours (light to dark) with labelled lines of equal z.
 * NaN cells stay hatched grey. */
struct swh_plot_map {
    const char *name, *title, *subtitle;
    struct swh_plot_axis x, y, z;
    size_t nx, ny;
    const double *x_at, *y_at; /* increasing */
    const double *z_at;        /* ny x nx, row-major: z_at[j * nx + i] at x_at[i], y_at[j] */
    const double *iso;         /* values of z to draw lines at; isos 0: chosen */
    size_t isos;
    const struct swh_plot_mark *mark;
    size_t marks;
    const char *missing; /* what a NaN cell means, e.g. "seizes"; NULL: "no result" */
};
enum swh_status swh_plot_map(const struct swh_plot_map *m, const struct swh_plot_options *o,
                             struct swh_error *err);

/* NAME: horizontal bars, the first on top, with intervals and a note at the end of each. */
struct swh_plot_bar {
    const char *label;
    double value, low, high; /* NaN: no interval */
    const char *note;        /* written behind the bar; NULL: the value */
    bool strong;             /* the one the title speaks of */
};
struct swh_plot_bars {
    const char *name, *title, *subtitle;
    struct swh_plot_axis x;
    const struct swh_plot_bar *bar;
    size_t bars;
};
enum swh_status swh_plot_bars(const struct swh_plot_bars *b, const struct swh_plot_options *o,
                              struct swh_error *err);

/* ---- judgements of a log, and the next test ---- */

enum { SWH_PLOT_CAUSES_MAX = 32, SWH_PLOT_CHANNELS_MAX = 16, SWH_PLOT_FINDINGS_MAX = 32 };

struct swh_plot_cause {
    const char *label, *second;           /* in words; of a pair the second, else NULL */
    double share;                         /* 0..1 */
    double severity, low, high;           /* with its 95 % interval; NaN: none (a healthy vehicle) */
    double second_severity;               /* of a pair; else NaN */
    const char *meaning, *second_meaning; /* of a severity, in words */
    int alike; /* causes with one number that is not 0 read alike; listed together, their shares summed up */
    bool strong; /* the one the title speaks of */
};
/* causes: share of each cause of one per cent and more (of two at least) and of the rest together; severities
 * with their intervals and meanings. The causes come by descending share, SWH_PLOT_CAUSES_MAX at most. */
struct swh_plot_causes {
    const char *title, *subtitle;
    const struct swh_plot_cause *cause;
    size_t causes;
};
enum swh_status swh_plot_causes(const struct swh_plot_causes *c, const struct swh_plot_options *o,
                                struct swh_error *err);

enum swh_plot_speaks { SWH_PLOT_SPEAKS_NOT, SWH_PLOT_SPEAKS_FOR, SWH_PLOT_SPEAKS_AGAINST };
/* What a cause leaves over of a log, by channel. */
struct swh_plot_steady {
    const char *label, *second; /* as in swh_plot_cause */
    double share;
    /* reading less prediction, of window means: mean over their standard deviation, scatter round that, mean
     * [SI]; NaN: not compared */
    double off[SWH_PLOT_CHANNELS_MAX], scatter[SWH_PLOT_CHANNELS_MAX], difference[SWH_PLOT_CHANNELS_MAX];
    enum swh_plot_speaks speaks[SWH_PLOT_CHANNELS_MAX];
    double says[SWH_PLOT_FINDINGS_MAX]; /* how much each finding speaks for it: ln of a ratio; 0: nothing */
};
/* evidence: what each of up to four causes leaves over, side by side, a row for each channel; and what was
 * found on bench and vehicle says of it. */
struct swh_plot_evidence {
    const char *title, *subtitle;
    const enum swh_channel *channel;
    size_t channels;
    int parting; /* index of the channel that the title speaks of; -1: none */
    const struct swh_plot_steady *rest;
    size_t rests;
    const char *const *finding; /* "shoe seized: yes": rows of their own, below the readings */
    size_t findings;
};
enum swh_status swh_plot_evidence(const struct swh_plot_evidence *e, const struct swh_plot_options *o,
                                  struct swh_error *err);

/* One reading of a test, as each of some causes predicts it. */
struct swh_plot_prediction {
    enum swh_channel channel;
    double instrument, sigma; /* SI: standard deviations of the instrument, and of instrument and model */
    double limit;             /* SI: at which the test is to be stopped; NaN: none */
    const double *value;      /* SI, one for each cause; NaN: it does not get that far */
};
struct swh_plot_suspect {
    const char *label, *second; /* as in swh_plot_cause */
};
/* plan: predictions of one test's readings, the chosen one first, and where each singles a cause out: makes
 * it `factor` times as likely as any other. */
struct swh_plot_plan {
    const char *title, *subtitle;
    const struct swh_plot_suspect *cause;
    size_t causes;
    const struct swh_plot_prediction *reading;
    size_t readings;
    double factor;
    const char *foot; /* a line below: where to stop */
    bool careful;     /* one of the causes comes near a limit */
};
enum swh_status swh_plot_plan(const struct swh_plot_plan *p, const struct swh_plot_options *o,
                              struct swh_error *err);

/* A channel's mean beside what a healthy vehicle gives. */
struct swh_plot_judged {
    enum swh_channel channel;
    double read, healthy, sigma; /* SI: means, and how far they may lie apart (standard deviation); NaN: no
                                    readings */
    bool ok, judged;
    const char *why_not; /* not judged: why, in words; else NULL */
};
/* What else is asked of a vehicle: how much of what is allowed it takes. */
struct swh_plot_demand {
    const char *label, *text; /* text: the numbers in words */
    double share;             /* 1: all of it; NaN: not known */
    bool ok;
};
/* accept: channels against the band of a healthy vehicle, then the other demands. */
struct swh_plot_acceptance {
    const char *title, *subtitle;
    double most; /* standard deviations that a channel may lie off */
    const struct swh_plot_judged *channel;
    size_t channels;
    const struct swh_plot_demand *demand;
    size_t demands;
    const char *demands_title;
};
enum swh_status swh_plot_acceptance(const struct swh_plot_acceptance *a, const struct swh_plot_options *o,
                                    struct swh_error *err);

/* ---- a table to hang beside the bench ---- */

enum { SWH_PLOT_TABLE_COLUMNS = 16 };
struct swh_plot_table_row {
    const char *text[SWH_PLOT_TABLE_COLUMNS]; /* the first is the row's name; NULL: empty */
    int sign[SWH_PLOT_TABLE_COLUMNS];         /* -1, 1: below, above what it is compared with; shaded */
    bool heading;                             /* only its name, bold, over the whole width */
    bool strong;                              /* bold */
};
/* NAME: a table of words and numbers with its column heads repeated below each heading. */
struct swh_plot_table {
    const char *name, *title, *subtitle, *foot;
    const char *head[SWH_PLOT_TABLE_COLUMNS], *unit[SWH_PLOT_TABLE_COLUMNS];
    int width[SWH_PLOT_TABLE_COLUMNS]; /* pixels; 1344 in all */
    bool left[SWH_PLOT_TABLE_COLUMNS]; /* its texts begin at its left edge, instead of ending at its right */
    size_t columns;
    const struct swh_plot_table_row *row;
    size_t rows;
};
enum swh_status swh_plot_table(const struct swh_plot_table *t, const struct swh_plot_options *o,
                               struct swh_error *err);

#endif
