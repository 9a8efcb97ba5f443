/* Perturbations on a machine whose clutch cycles: its metal is put where it would get to much later, and what
 * it does there tells where it is going. Beside a fold the way leads past a bottleneck, where the machine
 * warms up most slowly (normal form of a saddle-node: rate = a + b z^2, textbook); whether it has a rest
 * below is told there and nowhere else. Private to solver/. */
#ifndef SWH_SOLVER_STEADY_PERTURBATION_H
#define SWH_SOLVER_STEADY_PERTURBATION_H

#include "solver/steady/cycles.h"

enum swh_perturbation_verdict {
    SWH_PERTURBATION_GOES_ON,
    SWH_PERTURBATION_TRAPPED, /* all metal cools: the rest lies below */
    SWH_PERTURBATION_WARMS,   /* all metal warms up at the bottleneck: goes on from there */
    SWH_PERTURBATION_STAYS,   /* still on the cool side of any rest; goes on from there */
    SWH_PERTURBATION_FAILED   /* says nothing; all is as before it */
};

/* Begins a perturbation, if there is a forecast that dies out fast enough; to be called as
 * swh_cycles_project. Says whether it did. */
bool swh_perturbation_beyond(struct swh_cycles *c, double t);
/* The same at the bottleneck that a neighbour passed, once oil and cabin have come to rest. */
bool swh_perturbation_at(struct swh_cycles *c, double t, const struct swh_bottleneck *guess);
/* The same whatever else: to measure the rate there. */
void swh_perturbation_measure(struct swh_cycles *c, double t, const struct swh_bottleneck *guess);
/* What the entries that a perturbation has brought say. To be called as swh_cycles_project. */
enum swh_perturbation_verdict swh_perturbation_classify(struct swh_cycles *c, double t);
/* Whether a machine that warmed up in a perturbation at the bottleneck has been seen to do so faster and
 * faster from there or from a later place: then there is no rest below. `any`: also without such a
 * perturbation. */
bool swh_perturbation_leaves(const struct swh_cycles *c, bool any);
/* For a rough answer: whether metal moves so slowly, in the last two entries, that it is at rest or the edge
 * not far, once it is alone: oil and cabin have come to rest. */
bool swh_perturbation_is_slow(const struct swh_cycles *c);
bool swh_perturbation_is_alone(const struct swh_cycles *c);
/* What a machine that was begun at the bottleneck does in its first entries, if that is clear. */
enum swh_perturbation_verdict swh_perturbation_in_place(const struct swh_cycles *c);
/* The place and the rate that the perturbation has measured. */
struct swh_bottleneck swh_perturbation_measured(const struct swh_cycles *c);
/* The bottleneck that a machine passed on its way to be lost; not known unless it was a slow one. */
struct swh_bottleneck swh_perturbation_passed(const struct swh_cycles *c);
/* Rest of slow state i once captured, between the rates before and after the perturbation. */
double swh_perturbation_rest(const struct swh_cycles *c, int i);
/* Puts the machine there, so that the next entry tells its rest more nearly. To be
 * called as swh_cycles_project. */
void swh_perturbation_settle(struct swh_cycles *c, double t);
/* After each entry that belongs to no perturbation: remembers where the machine was slowest. */
void swh_perturbation_watch(struct swh_cycles *c);

#endif
