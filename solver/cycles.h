/* A machine whose clutch cycles, followed by its means over cycles, and faster than cycle by cycle: what is
 * slow (metal, oil, cabin) is followed for a few cycles and then moved along its rates of change, as far as
 * these can be relied on, while everything quick stays as it is and gets some cycles to follow (projective
 * integration, Gear and Kevrekidis 2003, from memory). Rest is where the rates are zero: leaps do not move
 * it. Private to solver/. */
#ifndef SWH_SOLVER_CYCLES_H
#define SWH_SOLVER_CYCLES_H

#include "solver/engine.h"
#include "solver/slow.h"

enum { SWH_CYCLES_SLOW = 12, SWH_CYCLES_STEP = 3 }; /* slow states; blocks of a step */

/* states of interest: index into swh_cycles_table */
extern const struct swh_cycles_slow {
    enum swh_scalar state;
    int channel;  /* enum swh_channel; -1: none */
    double near;  /* forecasts of the rest this near to each other agree; INFINITY: not asked for */
    double still; /* a rate that is none [1/s] */
    double most;  /* of one leap */
} swh_cycles_table[SWH_CYCLES_SLOW];

/* A trial: the metal is put beyond its forecast rest. If it cools there, its own rest lies below, whatever is
 * slower than the trial. */
struct swh_cycles_trial {
    bool on;
    int count;
    double beyond; /* K past the forecast */
    double growth; /* 1/s; before it, as from, rate */
    double from[SWH_CYCLES_SLOW], rate[SWH_CYCLES_SLOW], way[SWH_CYCLES_SLOW];
};

struct swh_cycles {
    struct swh_engine *e;
    struct swh_slow slow; /* times of the slow clock */
    double leaped;        /* s by which the slow clock is ahead of the engine's */
    double begin;         /* s; no block before */
    double leap_from;     /* s; no leap before; INFINITY: none at all */
    double last_change;   /* of the clutch [s] */
    double block;         /* s; least length of a block */
    bool open;            /* a block is: whole cycles */
    double from, t;       /* its beginning and its end so far, where the states are y */
    double y[SWH_CYCLES_SLOW], sum[SWH_CYCLES_SLOW];
    int blocks; /* of the present step */
    double middle[SWH_CYCLES_STEP], mean[SWH_CYCLES_STEP][SWH_CYCLES_SLOW];
    struct swh_cycles_trial trial;
};

void swh_cycles_start(struct swh_cycles *c, struct swh_engine *e, double begin, double leap_from);
/* After each step of the integrator. */
void swh_cycles_step(struct swh_cycles *c, double t);
/* When the clutch came in or went out; says whether c->slow has got an entry. */
bool swh_cycles_clutch(struct swh_cycles *c, double t, bool in);
/* Leaps, if there is something to go by; to be called while the clutch comes in, after an entry. */
void swh_cycles_leap(struct swh_cycles *c, double t);
/* Begins a trial, if there is a forecast that dies out fast enough; to be called as swh_cycles_leap. Says
 * whether it did. */
bool swh_cycles_try(struct swh_cycles *c, double t);
/* Ends the trial with the entry that it has brought: says whether the machine is trapped below. If it is not,
 * it stays where it is while still on the cool side of any rest, or is put back. To be called as
 * swh_cycles_leap. */
bool swh_cycles_trapped(struct swh_cycles *c, double t);
/* Rest of slow state i once trapped, between the rates before and after the trial. */
double swh_cycles_rest(const struct swh_cycles *c, int i);
/* Puts the machine there, so that the next entry tells its rest more nearly. To be called as swh_cycles_leap.
 */
void swh_cycles_settle(struct swh_cycles *c, double t);
/* What the slow clock shows at time t of the engine, not before the last leap. */
double swh_cycles_time(const struct swh_cycles *c, double t);

#endif
