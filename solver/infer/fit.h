/* Estimates of chosen parameters from logs, with honest uncertainties.
 *
 * Residuals are window means (evidence.h), summed with Huber's loss and minimised by Levenberg-Marquardt from
 * several starts. What drives may be wrong too: readings in a replay (doubt.h), ambient, humidity and bay in
 * a circuit.
 *
 * Replay: weighed by noise and offset of the instruments (offsets with their prior are integrated out). What
 * the first fit leaves over, and for how long it keeps its sign, becomes the slow model error of a second fit
 * (feasible generalised least squares; Seber and Wild, Nonlinear Regression, ch. 6), so that autocorrelated
 * residuals widen the intervals as they must.
 *
 * Circuit: each window mean is weighed by itself; what is left over, with the offsets, widens the intervals
 * afterwards. A parameter without a spread of its own has a weak one, a factor of two round its start: what
 * the logs do not tell stays near where it was. */
#ifndef SWH_SOLVER_INFER_FIT_H
#define SWH_SOLVER_INFER_FIT_H

#include "solver/infer/least_squares.h"
#include "solver/infer/residuals.h"

enum swh_fit_with { SWH_FIT_REPLAY, SWH_FIT_CIRCUIT };
#define SWH_FIT_MISFIT 2.5
enum { SWH_FIT_LOGS = 8, SWH_FIT_WORDS = 8, SWH_FIT_STARTS = 4 /* usually */ };

struct swh_fit_request {
    const struct swh_case *vehicle; /* its `spread`, where given, is a prior */
    bool doors_given;
    const struct swh_log_memory *log; /* [logs] */
    int logs;
    const struct swh_spot_sheet *sheet; /* [sheets], after the logs; only for a circuit */
    int sheets;
    int param[SWH_LSQ_MAX]; /* enum swh_param */
    int params;
    enum swh_fit_with with;
    double holdout;       /* share of each log, at its end, that the fit does not see: 0 to 0.5; a sheet is
                             seen as a whole */
    int starts, threads;  /* at least 1 */
    bool robust, profile; /* Huber's loss; intervals by profile likelihood */
    bool keep_unknown;    /* values also where the logs do not tell; else they stay as they were */
};

struct swh_fit_estimate {
    int param;
    double value, low, high; /* 95 % interval with everything else open, SI */
    double spread;           /* standard deviation with what is held known, SI; 0: held */
    double start;
    /* The logs tell it: within a factor of two either way (from 0 on: a tenth of its range; a range of less
     * than a factor of 16: three tenths), and better than its own spread in the vehicle file by a fifth. */
    bool identified;
    bool held;               /* not told: it stays at its start, and the others are fitted to that */
    bool at_lower, at_upper; /* the fit ends within 1 % of a limit of the parameter table */
    bool profiled;           /* the interval is a profile likelihood's */
};

struct swh_fit_channel {
    int points, held_out;
    double rms, bias, holdout_rms; /* of window means, SI; NaN without points */
    double lag1, durbin_watson;    /* of the weighed residuals in order of time */
    double effective;              /* points that independent residuals would need to tell as much */
    double slow;                   /* slow model error found, SI */
    double allowed;                /* what instruments and the model of a sound vehicle leave, SI */
};

/* One log or sheet alone: root mean squares of window means, SI; NaN without points. */
struct swh_fit_log {
    double seen_from;   /* s of the log: what comes before is left out */
    double window;      /* s */
    double hidden_from; /* s of the log: what follows the fit did not see; NaN: nothing is kept back */
    double before[SWH_COMPARED], rms[SWH_COMPARED], holdout_rms[SWH_COMPARED];
};

struct swh_fit_result {
    struct swh_fit_estimate estimate[SWH_LSQ_MAX];
    int estimates;
    double correlation[SWH_LSQ_MAX * SWH_LSQ_MAX]; /* with what is held known */
    struct swh_fit_channel channel[SWH_COMPARED];  /* over all logs */
    struct swh_fit_log log[SWH_FIT_LOGS];          /* the logs, then the sheets */
    double loss;   /* sum of weighed squares, robust, priors too: what the starts are compared by */
    double spread; /* root of weighed sum over degrees of freedom: 1 if the weights tell the truth */
    double rms, holdout_rms; /* replay: K; circuit: in standard deviations */
    double correlation_time;
    double misfit;      /* largest ratio of what is left of a channel to what is allowed, and the channel */
    int misfit_channel; /* of the compared ones */
    bool fits;          /* the ratio is within SWH_FIT_MISFIT: else nothing is told, whatever the intervals */
    int points, evals, starts_agree, starts;
    char cannot_tell[SWH_FIT_WORDS][256]; /* directions the logs leave open, in words */
    int n_cannot_tell;
    struct swh_params params; /* the vehicle's with the estimates and the model's slow errors */
};

/* SWH_ERR_USAGE for parameters that cannot be fitted, SWH_ERR_INPUT for logs without readings, SWH_ERR_SOLVER
 * if the model cannot be run at the start. */
enum swh_status swh_fit(const struct swh_fit_request *q, struct swh_fit_result *out, struct swh_error *err);

/* Frees what a fit to these sheets usually lets vary (usual.def), as far as they have readings of it and the
 * vehicle has the part, and gives each a spread in `vehicle` where it has none. Returns how many. */
int swh_fit_usual(struct swh_fit_request *q, struct swh_case *vehicle);

/* What the model says along log number `log` (from `logs` on: of a sheet, a row each) with these parameters
 * (the request's, or a result's): the compared channels at each row, rows x SWH_COMPARED, SI; NaN where there
 * is none. SWH_ERR_MEMORY, or what the run says. */
enum swh_status swh_fit_trace(const struct swh_fit_request *q, const struct swh_params *params, int log,
                              double *trace, struct swh_error *err);

#endif
