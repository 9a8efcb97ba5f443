/* Where slow quantities are heading: their means and rates of change at a few times, and the rest that
 * follows if the rates go on dying out as they do. Knows nothing of compressors. Private to solver/. */
#ifndef SWH_SOLVER_STEADY_SLOW_H
#define SWH_SOLVER_STEADY_SLOW_H

#include <stdbool.h>

enum { SWH_SLOW_MAX = 12, SWH_SLOW_HISTORY = 16 }; /* quantities; entries remembered of each */

struct swh_slow {
    int n;                      /* quantities, at most SWH_SLOW_MAX */
    double near[SWH_SLOW_MAX];  /* difference that does not matter, unit of each; INFINITY: never asked for */
    double still[SWH_SLOW_MAX]; /* rate that is none, unit of each per s */
    long entries;               /* since the last clearing */
    double time[SWH_SLOW_HISTORY]; /* s, in a ring */
    double mean[SWH_SLOW_HISTORY][SWH_SLOW_MAX], rate[SWH_SLOW_HISTORY][SWH_SLOW_MAX];
};

void swh_slow_clear(struct swh_slow *s);
void swh_slow_add(struct swh_slow *s, double time, const double *mean, const double *rate);
void swh_slow_date(struct swh_slow *s, double time); /* the last entry belongs to another time */
/* Mean and rate of quantity i in the k-th entry back, 1: the last; k <= entries and <= SWH_SLOW_HISTORY. */
double swh_slow_mean(const struct swh_slow *s, int i, int k);
double swh_slow_rate(const struct swh_slow *s, int i, int k);
/* Rate at which the rate of quantity i changes from the (k+1)-th to the k-th entry back [1/s]: < 0 while it
 * dies out. NaN if its direction changed. */
double swh_slow_growth(const struct swh_slow *s, int i, int k);
/* Forecast of the rest of quantity i from the entries k+1 and k back, by Aitken's rule (1926): exact if one
 * exponential is left. NaN unless the rate dies out with a time constant below `slowest` [s], which rules out
 * the crawl beside a fold. What hardly moves is taken as it is. */
double swh_slow_limit(const struct swh_slow *s, int i, int k, double slowest);
/* Whether the last n forecasts of every quantity, and as many more as make them span `span` s, lie within
 * `share` times its `near`, and the way left is less than `far` times `near`. */
bool swh_slow_foreseen(const struct swh_slow *s, int n, double span, double share, double slowest,
                       double far);
/* Whether the last entries and as many before them, `apart` s apart in the mean, lie within `share` times
 * `near` of each other in every quantity: for what never becomes even. */
bool swh_slow_still(const struct swh_slow *s, double apart, double share);
/* Way [unit of i] and time [s] of a project along the last rates, with their growth: as far as `part` of the
 * time in which the rates of the quantities in `lead` (n_lead of them) change by a factor e, at most
 * `longest` [s], and no quantity by more than most[i]. Toward a rest such a project falls short of it.
 * Returns the time, 0 if there is nothing to go by yet, NaN if a leading quantity goes to and fro. */
double swh_slow_project(const struct swh_slow *s, const int *lead, int n_lead, double part, double longest,
                        const double *most, double *way);

#endif
