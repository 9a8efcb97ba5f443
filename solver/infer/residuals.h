/* What a log says about a case: the closed circuit is driven by the log, and the differences between
 * prediction and reading are averaged over windows, weighed by everything that may be wrong without a fault
 * (noise, offsets of the instruments, slow errors of the model, ambient, humidity, bay), and summed up. */
#ifndef SWH_SOLVER_INFER_RESIDUALS_H
#define SWH_SOLVER_INFER_RESIDUALS_H

#include "solver/infer/readings.h"
#include "solver/simulate/parallel.h"
#include "solver/simulate/schedule_from_log.h"

/* the first SWH_USUAL are what a bench log has; the others are extra probes, not missed where absent */
enum {
    SWH_COMPARED = 11,
    SWH_USUAL = 8,
    SWH_WINDOWS_MAX = 60,
    SWH_POINTS_MAX = SWH_COMPARED * SWH_WINDOWS_MAX
};

/* The compared channels, in order, and the parameter that holds the model's slow error of each. */
extern const enum swh_channel swh_compared[SWH_COMPARED];
extern const enum swh_param swh_compared_error[SWH_COMPARED];

/* Mean difference (prediction - reading) per compared channel and window, SI; count 0: nothing to compare. */
struct swh_residuals {
    int windows;
    double length, skip; /* of a window, left out at the start [s] */
    double mean[SWH_COMPARED][SWH_WINDOWS_MAX];
    double count[SWH_COMPARED][SWH_WINDOWS_MAX];
    double worst;  /* largest mean square over five minutes, over offset and slow error of the channels */
    bool complete; /* the run reached the end of the log */
    struct swh_summary summary;
};

/* Runs a case against what was read: a driven case (see swh_schedule_from_log) against its log, or a vehicle
 * at the points of a sheet (see swh_spot_residuals). A run that cannot go on or ends in seizure is not an
 * error: complete = false and the windows not reached have count 0. Thread-safe. */
enum swh_status swh_residuals_run(const struct swh_case *driven, const struct swh_readings *read,
                                  struct swh_residuals *out, struct swh_error *err);

/* The same; a log is given up (complete = false) as soon as the squares of the differences, over offset and
 * slow error of their channels, have a mean above `hopeless` over five minutes. */
enum swh_status swh_residuals_try(const struct swh_case *driven, const struct swh_readings *read,
                                  double hopeless, struct swh_residuals *out, struct swh_error *err);

/* The same for a replay: the pressures of `drive` (the log, or its averages) drive the body; discharge and
 * shell temperature are compared with every reading of the log. */
enum swh_status swh_residuals_replay(const struct swh_case *vehicle, const struct swh_log_memory *drive,
                                     const struct swh_log_memory *log, struct swh_residuals *out,
                                     struct swh_error *err);

/* One of the two again (drive NULL: the closed circuit), with the predictions themselves: `trace` holds the
 * compared channels at each row of the log, rows x SWH_COMPARED, SI; NaN where there is none. */
enum swh_status swh_residuals_trace(const struct swh_case *c, const struct swh_log_memory *drive,
                                    const struct swh_log_memory *log, double *trace,
                                    struct swh_residuals *out, struct swh_error *err);

/* The weighing of residuals of one log: points = (channel, window) pairs with readings. */
struct swh_error_covariance {
    int points;
    short channel[SWH_POINTS_MAX], window[SWH_POINTS_MAX];
    double *covariance; /* points x points; its Cholesky factor (lower) after swh_error_covariance_factor */
};

/* What a vehicle file is worth, by the mark that a fit of the circuit leaves in it (section [fitted]). */
enum swh_knowledge {
    SWH_KNOWN_BY_PAPERS, /* never fitted */
    SWH_KNOWN_BY_ROWS,   /* fitted to rows of a gauge table or a spot sheet */
    SWH_KNOWN_BY_LOGS,
    SWH_KNOWN_WHOLLY /* only its surroundings are uncertain: what a fit takes for granted */
};
enum swh_knowledge swh_knowledge_of(const struct swh_params *p);
/* Has the fit seen compared channel i? */
bool swh_fit_has_seen(const struct swh_params *p, int i);
/* Writes the mark: what a fit to so many logs and rows left of each compared channel [SI], NaN: not seen. */
void swh_mark_fitted(struct swh_params *p, int logs, int rows, const double left[SWH_COMPARED]);

/* The slow error of compared channel i on readings that no fit has seen [SI]: what the fit left over, at
 * least uncertainty.unseen times the generic one; of a channel that the fit did not see at least what pipes
 * and gauges of vehicles of one kind differ by. */
double swh_slow_error(const struct swh_params *p, int i);
/* The error of the channel's level that lasts through a log or a sheet besides [SI]: of a vehicle that was
 * never fitted; else 0. What a reading does between two points is believed, where it stands is not. */
double swh_level_error(const struct swh_params *p, int i);

/* How far a reading's mean can lie from what a true cause gives [SI]: `sigma`, its standard deviation by
 * everything that is written down, and part of what sound vehicles of one kind differ by: all of it for one
 * that was never fitted, half for one fitted to rows, less than a third for one fitted to logs. */
double swh_possible_error(const struct swh_params *p, int i, double sigma);

/* What may be wrong without a fault, as a change of all residuals by one standard deviation. */
struct swh_nuisance {
    double change[SWH_COMPARED][SWH_WINDOWS_MAX];
};

/* Lays out points for the windows [first, last) that have readings; covariance from noise, offsets and slow
 * errors of `p` (of their variance, uncertainty.persistent lasts for the whole log, uncertainty.scatter is
 * new in each window, the rest keeps its sign for uncertainty.correlation_time) and the channel table plus
 * `nuisance`s. SWH_ERR_INPUT if nothing can be compared. */
enum swh_status swh_error_covariance_make(struct swh_error_covariance *w, const struct swh_residuals *r,
                                          const struct swh_params *p, const struct swh_nuisance *nuisance,
                                          int nuisances, int first, int last, struct swh_error *err);
/* The same with every window mean erring independently of the others, by its noise, its instrument's offset
 * and a quarter of a generic vehicle's slow error together; only the `nuisance`s reach
 * from one to another. */
enum swh_status swh_error_covariance_make_plain(struct swh_error_covariance *w, const struct swh_residuals *r,
                                                const struct swh_nuisance *nuisance, int nuisances,
                                                double together, int first, int last, struct swh_error *err);
void swh_error_covariance_free(struct swh_error_covariance *w);
/* Residuals at the points with the covariance's root divided out: independent, of unit variance if the case
 * is true. Windows that a run did not reach count as ten standard deviations. */
void swh_error_covariance_apply(const struct swh_error_covariance *w, const struct swh_residuals *r,
                                double *white);
/* In place, with C = L L' the covariance: L'^-1 u, and L' u. */
void swh_error_covariance_solve_root(const struct swh_error_covariance *w, double *u);
void swh_error_covariance_apply_root(const struct swh_error_covariance *w, double *u);
/* Sum of their squares. */
double swh_error_covariance_chi2(const struct swh_error_covariance *w, const struct swh_residuals *r);
/* -2 ln of the likelihood of a case whose residuals are r, up to a constant that all cases share: each
 * channel of the case differs from `healthy` by a change that may be wrong by a share of itself (normal,
 * independent between channels; uncertainty.fault_share of it all through the log, .fault_stretch anew in
 * each stretch), so that a cause is believed for the pattern of its effects and not for their exact size.
 * With r = healthy: swh_error_covariance_chi2. Covariance C + U U', U the changes by channel: Woodbury's
 * identity (Golub and Van Loan, Matrix Computations, sec. 2.1). NaN: memory is short. */
double swh_error_covariance_deviance(const struct swh_error_covariance *w, const struct swh_residuals *r,
                                     const struct swh_residuals *healthy, const struct swh_params *p);
/* Standard deviation of one point, everything included. */
double swh_error_covariance_sigma(const struct swh_error_covariance *w, int point);
/* The same of a compared channel's mean over all its points; NaN without points. */
double swh_error_covariance_mean_sigma(const struct swh_error_covariance *w, int channel);

#endif
