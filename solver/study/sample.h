/* Where to look in a space of several ranges: grids, Latin hypercubes, Saltelli's design; and the small
 * generator behind them. Every point follows from (plan, seed, its index) alone, so that parts of a plan can
 * be computed anywhere, in any order, with the same result. */
#ifndef SWH_SOLVER_STUDY_SAMPLE_H
#define SWH_SOLVER_STUDY_SAMPLE_H

#include "model/base/status.h"

#include <stdbool.h>
#include <stdint.h>

enum { SWH_SAMPLE_AXES = 8 };

/* Number `counter` of stream `stream`: 64 mixed bits (SplitMix64: Steele, Lea and Flood 2014). Stateless. */
uint64_t swh_random_bits(uint64_t seed, uint64_t stream, uint64_t counter);
/* uniform in the open interval (0, 1) */
double swh_random_uniform(uint64_t seed, uint64_t stream, uint64_t counter);
/* standard normal (Box and Muller 1958) */
double swh_random_normal(uint64_t seed, uint64_t stream, uint64_t counter);

enum swh_design {
    SWH_DESIGN_GRID,    /* every combination of n_i equally spaced values; the last axis runs fastest */
    SWH_DESIGN_LATIN,   /* Latin hypercube: each of `sample` equal strata of each axis is hit once (McKay,
                           Beckman   and Conover 1979) */
    SWH_DESIGN_SALTELLI /* for Sobol indices: for each of `sample` base points A, B, then A with one
                           coordinate of B each (Saltelli 2002); sample (axes + 2) points */
};

struct swh_range {
    double lo, hi;
    long n; /* values, ends included (grid only; 1: lo alone) */
};

struct swh_sampling {
    enum swh_design design;
    int axes;
    struct swh_range range[SWH_SAMPLE_AXES];
    long sample;
    uint64_t seed;
    /* private */
    long count;
    uint32_t *stratum; /* a permutation of 0 .. sample-1 per column */
};

/* Checks a plan and makes it ready; design, axes, range, sample, seed are set by the caller. SWH_ERR_INPUT:
 * no axis, a reversed or empty range, a count below 1 or above ten millions. SWH_ERR_MEMORY. Free in either
 * case. */
enum swh_status swh_sampling_begin(struct swh_sampling *plan, struct swh_error *err);
void swh_sampling_free(struct swh_sampling *plan);
/* Coordinates of point i (0 .. plan->count - 1) into x[axes]. */
void swh_sampling_point(const struct swh_sampling *plan, long i, double *x);

#endif
