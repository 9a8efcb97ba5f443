/* One case with uncertain parameters: many draws, bands over time, probability of seizure. */
#ifndef SWH_SOLVER_STUDY_ENSEMBLE_H
#define SWH_SOLVER_STUDY_ENSEMBLE_H

#include "solver/study/sweep.h"

#include <stdint.h>

enum { SWH_ENSEMBLE_TIMES = 121, SWH_ENSEMBLE_CHANNELS = 8, SWH_ENSEMBLE_BANDS = 3 };
extern const enum swh_channel swh_ensemble_channels[SWH_ENSEMBLE_CHANNELS];

struct swh_ensemble_request {
    const struct swh_case *base; /* spread: standard deviations */
    long members;                /* 1 .. 100000 */
    uint64_t seed;
    int threads;                  /* 0: as many as the machine has */
    struct swh_sweep_row *rows;   /* [members], how each went; NULL if nobody asks */
    void (*finished)(void *user); /* a member is done; one thread at a time; may be NULL */
    void *user;
};

struct swh_ensemble {
    long members, seized, incomplete;
    double probability, low, high; /* of seizure within the run, with its 95 % interval (Wilson 1927) */
    double time_low, time_median,
        time_high;                   /* to seizure, 5, 50, 95 % of those that seize [s]; NaN if none */
    double time[SWH_ENSEMBLE_TIMES]; /* s */
    /* 5, 50, 95 % of the members; one that has seized keeps its last value; NaN if all failed */
    double band[SWH_ENSEMBLE_CHANNELS][SWH_ENSEMBLE_BANDS][SWH_ENSEMBLE_TIMES];
};

/* Parameters of member i: each with a spread is drawn from a normal distribution, again if it falls outside
 * the parameter's limits; those with correlations together, all again if one of them falls outside. Depends
 * on (base, seed, i) only. */
void swh_ensemble_draw(const struct swh_case *base, uint64_t seed, long i, struct swh_params *out);
/* SWH_ERR_INPUT: no parameter has a spread, or the case is wrong; SWH_ERR_MEMORY. Members that the integrator
 * could not finish are counted and left out of the probability. */
enum swh_status swh_ensemble_run(const struct swh_ensemble_request *request, struct swh_ensemble *out,
                                 struct swh_error *err);
/* Wilson's interval for k of n at 95 %. */
void swh_wilson_interval(long k, long n, double *low, double *high);

#endif
