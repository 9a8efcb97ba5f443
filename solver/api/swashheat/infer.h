/**
 * \file
 * What readings tell: parameters with their intervals, causes in their order,
 * and whether a repaired vehicle is sound. The same answers as those of the commands fit, rank and accept. */
#ifndef SWASHHEAT_INFER_H
#define SWASHHEAT_INFER_H

#include <swashheat/error.h>
#include <swashheat/setup.h>

#ifdef __cplusplus
extern "C" {
#endif

struct swh_logs;    /**< logs and spot sheets taken on one vehicle */
struct swh_fitted;  /**< what a fit found */
struct swh_causes;  /**< causes, best first */
struct swh_verdict; /**< judgement of a repaired vehicle */

/** How a fit is to go; all zero: as the command does without options. */
struct swh_fit_wish {
    int circuit;      /**< 1: the closed circuit is computed; 0: the readings drive the compressor's body */
    int profile;      /**< 1: intervals by profile likelihood */
    int keep_unknown; /**< 1: values also where the readings do not tell */
    int starts;       /**< number of starts, 1 to 16; 0: 4 */
    int threads;      /**< 0: as many as the process was given */
    double holdout; /**< share of each log that the fit does not see, up to 0.5; 0: a fifth; below 0: none */
};

/** A parameter as a fit found it [SI]. */
struct swh_fit_told {
    const char *key; /**< "body.block_shell" */
    double value;    /**< estimate */
    double low;      /**< lower end of the 95 % interval */
    double high;     /**< upper end */
    double spread;   /**< standard deviation with what is held known; 0: held */
    double start;    /**< where the search began */
    int identified;  /**< 1 if the readings tell it */
    int held;        /**< 1 if it was left at its start */
    int at_limit;    /**< 1 if it ends at a limit of what it may be */
};

/** A cause and how well it explains the readings. */
struct swh_cause_told {
    const char *fault; /**< "undercharge", "healthy", or two with a plus between them */
    double share;      /**< of what speaks for any cause, 0 to 1 */
    double severity;   /**< 0 to 1 */
    double low;        /**< lower end of its 95 % interval */
    double high;       /**< upper end */
};

/**
 * Makes an empty collection of readings.
 * \param logs receives it, NULL on failure; release with swh_logs_free()
 * \param err what went wrong; may be NULL
 * \return SWH_OK, SWH_ERR_MEMORY */
enum swh_status swh_logs_new(struct swh_logs **logs, struct swh_error *err);
/**
 * Releases it.
 * \param logs may be NULL */
void swh_logs_free(struct swh_logs *logs);
/**
 * Reads a log or a spot sheet into it; at most eight of each.
 * \param logs is changed unless something is wrong
 * \param setup vehicle that it was taken on: the air that gauges count from, the pulleys' ratio
 * \param path CSV file
 * \param columns INI file that names its columns; NULL if they need none
 * \param err the first thing that is wrong, with file, line and column; may be NULL
 * \return SWH_OK, SWH_ERR_INPUT, SWH_ERR_MEMORY */
enum swh_status swh_logs_add(struct swh_logs *logs, const struct swh_setup *setup, const char *path,
                             const char *columns, struct swh_error *err);

/**
 * Estimates parameters.
 * \param setup vehicle where the search starts; spreads of its parameters are what is known before
 * \param logs logs, or sheets for the circuit
 * \param keys the parameters, for example "body.block_shell"
 * \param count number of keys
 * \param wish how; NULL: as the command does without options
 * \param fitted receives the answer, NULL on failure; release with swh_fitted_free()
 * \param err what went wrong; may be NULL
 * \return SWH_OK; SWH_ERR_USAGE for what cannot be fitted; SWH_ERR_INPUT for readings that tell nothing;
 * SWH_ERR_SOLVER, SWH_ERR_MEMORY */
enum swh_status swh_setup_fit(const struct swh_setup *setup, const struct swh_logs *logs,
                              const char *const *keys, size_t count, const struct swh_fit_wish *wish,
                              struct swh_fitted **fitted, struct swh_error *err);
/**
 * Releases it.
 * \param fitted may be NULL */
void swh_fitted_free(struct swh_fitted *fitted);
/**
 * Number of estimates.
 * \param fitted of them
 * \return how many keys were fitted */
size_t swh_fitted_count(const struct swh_fitted *fitted);
/**
 * One estimate.
 * \param fitted of it
 * \param index 0 to swh_fitted_count() - 1, in the order of the keys
 * \param told is filled
 * \return 0, or -1 if there is no such index */
int swh_fitted_get(const struct swh_fitted *fitted, size_t index, struct swh_fit_told *told);
/**
 * How two estimates err together.
 * \param fitted of them
 * \param a index of one
 * \param b index of the other
 * \return correlation, -1 to 1; NaN if there is no such index */
double swh_fitted_correlation(const struct swh_fitted *fitted, size_t a, size_t b);
/**
 * One figure of a fit: "spread" (what is left over times what was allowed for), "rms", "holdout_rms" (replay:
 * K; circuit: standard deviations), "loss", "points", "runs", "starts", "starts_agree", "misfit" (of the
 * worst channel: what is left over, over what instruments and a sound model leave), "fits" (1: within 2.5 of
 * that; else nothing is told). \param fitted of it \param name of the figure \return its value; NaN for an
 * unknown name */
double swh_fitted_figure(const struct swh_fitted *fitted, const char *name);
/**
 * What the readings leave open, in words.
 * \param fitted of it
 * \param index from 0 on
 * \return a sentence, as long as the fit is there; NULL behind the last */
const char *swh_fitted_open(const struct swh_fitted *fitted, size_t index);
/**
 * Gives a vehicle what was fitted: values, their spreads, and the mark that it was.
 * \param fitted of it
 * \param setup is
 * changed */
void swh_fitted_apply(const struct swh_fitted *fitted, struct swh_setup *setup);

/**
 * Orders causes by how well each explains the first log, or without one the first sheet.
 * \param setup the vehicle, healthy
 * \param logs readings
 * \param threads 0: as many as the process was given
 * \param causes receives the answer, NULL on failure; release with swh_causes_free()
 * \param err what went wrong; may be NULL
 * \return SWH_OK, SWH_ERR_INPUT, SWH_ERR_SOLVER, SWH_ERR_MEMORY */
enum swh_status swh_setup_rank(const struct swh_setup *setup, const struct swh_logs *logs, int threads,
                               struct swh_causes **causes, struct swh_error *err);
/**
 * Releases them.
 * \param causes may be NULL */
void swh_causes_free(struct swh_causes *causes);
/**
 * Number of causes.
 * \param causes of them
 * \return how many */
size_t swh_causes_count(const struct swh_causes *causes);
/**
 * One cause.
 * \param causes of it
 * \param index 0 to swh_causes_count() - 1, best first
 * \param told is filled; its words stay as long as the causes are there
 * \return 0, or -1 if there is no such index */
int swh_causes_get(const struct swh_causes *causes, size_t index, struct swh_cause_told *told);
/**
 * Whether the best two are less than a factor of three apart.
 * \param causes of them
 * \return 1 if they cannot be told apart, else 0 */
int swh_causes_open(const struct swh_causes *causes);
/**
 * Whether no cause of the list explains what was read: then speed, doors, ambient, units or gauges are to be
 * looked at first.
 * \param causes of them
 * \return 1 if none fits, else 0 */
int swh_causes_none_fits(const struct swh_causes *causes);

/**
 * Judges a repaired vehicle by its first log or sheet, and by an hour of hard work at 43 degC and 3000 rpm or
 * what the vehicle's conditions have beyond that.
 * \param setup the vehicle, healthy
 * \param logs readings
 * \param threads 0: as many as the process was given
 * \param verdict receives the answer, NULL on failure; release with swh_verdict_free()
 * \param err what went wrong; may be NULL
 * \return SWH_OK (whatever the judgement is), SWH_ERR_INPUT, SWH_ERR_SOLVER, SWH_ERR_MEMORY */
enum swh_status swh_setup_accept(const struct swh_setup *setup, const struct swh_logs *logs, int threads,
                                 struct swh_verdict **verdict, struct swh_error *err);
/**
 * Releases it.
 * \param verdict may be NULL */
void swh_verdict_free(struct swh_verdict *verdict);
/**
 * Whether it passes: nothing speaks against the vehicle, and all that is needed was read for long enough.
 * \param verdict of it
 * \return 1 or 0 */
int swh_verdict_pass(const struct swh_verdict *verdict);
/**
 * Whether something speaks against it; neither this nor a pass: the readings do not suffice to judge.
 * \param verdict of it
 * \return 1 or 0 */
int swh_verdict_found(const struct swh_verdict *verdict);
/**
 * The fault that explains the readings clearly better than health.
 * \param verdict of it
 * \return its name, "healthy" if there is none */
const char *swh_verdict_fault(const struct swh_verdict *verdict);
/**
 * Mean difference of a reading from the healthy vehicle.
 * \param verdict of it
 * \param channel index, see swh_channel_find()
 * \return standard deviations; NaN if it was not judged */
double swh_verdict_deviation(const struct swh_verdict *verdict, int channel);
/**
 * How the hour of hard work ends.
 * \param verdict of it
 * \return an outcome, as of swh_record_outcome() */
const char *swh_verdict_worst(const struct swh_verdict *verdict);

#ifdef __cplusplus
}
#endif

#endif
