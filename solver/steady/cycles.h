/* A machine whose clutch cycles, followed by its means over cycles, and faster than cycle by cycle: what is
 * slow (metal, oil, cabin) is followed for a few cycles and then moved along its rates of change, as far as
 * these can be relied on, while everything quick stays as it is and gets some cycles to follow (projective
 * integration, Gear and Kevrekidis 2003, from memory). Rest is where the rates are zero: projections do not
 * move it. Private to solver/. */
#ifndef SWH_SOLVER_STEADY_CYCLES_H
#define SWH_SOLVER_STEADY_CYCLES_H

#include "solver/simulate/engine.h"
#include "solver/steady/slow.h"

enum { SWH_CYCLES_SLOW = 12, SWH_CYCLES_STEP = 3 }; /* slow states; blocks of a step */
enum { SWH_TELLING_WAY = 2 };                       /* K that the rotor went, which show where it leads */

/* indices of swh_cycles_table; metal comes first */
enum {
    SWH_SLOW_ROTOR = 0,
    SWH_SLOW_BLOCK = 2,
    SWH_SLOW_OIL = 5,
    SWH_SLOW_CLUTCH_FACE = 6,
    SWH_SLOW_OIL_MASS = 7,
    SWH_SLOW_CABIN = 10,
    SWH_SLOW_INTERIOR = 11
};

extern const struct swh_cycles_slow {
    enum swh_scalar state;
    int channel;  /* enum swh_channel; -1: none */
    double near;  /* forecasts of the rest this near to each other agree; INFINITY: not asked for */
    double still; /* a rate that is none [1/s] */
    double most;  /* of one project */
} swh_cycles_table[SWH_CYCLES_SLOW];

struct swh_cycles {
    struct swh_engine *e;
    struct swh_slow slow; /* times of the slow clock */
    double projected;     /* s by which the slow clock is ahead of the engine's */
    double begin;         /* s; no block before */
    double project_from;  /* s; no project before; INFINITY: none at all */
    double last_change;   /* of the clutch [s] */
    double block;         /* s; least length of a block */
    bool open;            /* a block is: whole cycles */
    double from, t;       /* its beginning and its end so far, where the states are y */
    double y[SWH_CYCLES_SLOW], sum[SWH_CYCLES_SLOW];
    int blocks; /* of the present step */
    double middle[SWH_CYCLES_STEP], mean[SWH_CYCLES_STEP][SWH_CYCLES_SLOW];
};

void swh_cycles_start(struct swh_cycles *c, struct swh_engine *e, double begin, double project_from);
/* After each step of the integrator. */
void swh_cycles_step(struct swh_cycles *c, double t);
/* When the clutch came in or went out; says whether c->slow has got an entry. */
bool swh_cycles_clutch(struct swh_cycles *c, double t, bool in);
/* Projections, if there is something to go by; to be called while the clutch comes in, after an entry. */
void swh_cycles_project(struct swh_cycles *c, double t);
/* Moves the slow states at the restart that follows, and lets the quick ones relax. */
void swh_cycles_shift(struct swh_cycles *c, double t, const double *way);
/* What the slow clock shows at time t of the engine, not before the last project. */
double swh_cycles_time(const struct swh_cycles *c, double t);

#endif
