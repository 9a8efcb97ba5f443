/* Trials on a machine whose clutch cycles: its metal is put where it would get to much later, and what it
 * does there tells where it is going. Beside a fold the way leads past a narrowest place, where the machine
 * warms up most slowly (normal form of a saddle-node: rate = a + b z^2, textbook); whether it has a rest
 * below is told there and nowhere else. Private to solver/. */
#ifndef SWH_SOLVER_STEADY_TRIAL_H
#define SWH_SOLVER_STEADY_TRIAL_H

#include "solver/steady/cycles.h"

enum swh_trial_verdict {
    SWH_TRIAL_GOES_ON,
    SWH_TRIAL_TRAPPED, /* all metal cools: the rest lies below */
    SWH_TRIAL_WARMS,   /* all metal warms up at the narrowest place: goes on from there */
    SWH_TRIAL_STAYS,   /* still on the cool side of any rest; goes on from there */
    SWH_TRIAL_FAILED   /* says nothing; all is as before it */
};

/* Begins a trial, if there is a forecast that dies out fast enough; to be called as swh_cycles_leap. Says
 * whether it did. */
bool swh_trial_beyond(struct swh_cycles *c, double t);
/* The same at the narrowest place that a neighbour passed, once oil and cabin have come to rest. */
bool swh_trial_at(struct swh_cycles *c, double t, const struct swh_bottleneck *guess);
/* The same whatever else: to measure the rate there. */
void swh_trial_measure(struct swh_cycles *c, double t, const struct swh_bottleneck *guess);
/* What the entries that a trial has brought say. To be called as swh_cycles_leap. */
enum swh_trial_verdict swh_trial_classify(struct swh_cycles *c, double t);
/* Whether a machine that warmed up in a trial at the narrowest place has been seen to do so faster and faster
 * from there or from a later place: then there is no rest below. `any`: also without such a trial. */
bool swh_trial_leaves(const struct swh_cycles *c, bool any);
/* For a rough answer: whether metal moves so slowly, in the last two entries, that it is at rest or the edge
 * not far, once it is alone: oil and cabin have come to rest. */
bool swh_trial_is_slow(const struct swh_cycles *c);
bool swh_trial_is_alone(const struct swh_cycles *c);
/* What a machine that was begun at the narrowest place does in its first entries, if that is clear. */
enum swh_trial_verdict swh_trial_in_place(const struct swh_cycles *c);
/* The place and the rate that the trial has measured. */
struct swh_bottleneck swh_trial_measured(const struct swh_cycles *c);
/* The narrowest place that a machine passed on its way to be lost; not known unless it was a slow one. */
struct swh_bottleneck swh_trial_passed(const struct swh_cycles *c);
/* Rest of slow state i once trapped, between the rates before and after the trial. */
double swh_trial_rest(const struct swh_cycles *c, int i);
/* Puts the machine there, so that the next entry tells its rest more nearly. To be called as swh_cycles_leap.
 */
void swh_trial_settle(struct swh_cycles *c, double t);
/* After each entry that belongs to no trial: remembers where the machine was slowest. */
void swh_trial_watch(struct swh_cycles *c);

#endif
