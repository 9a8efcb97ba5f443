/* After the repair: does the log look like a healthy vehicle, and does the
 * compressor live in the worst hour? */
#ifndef SWH_SOLVER_INFER_ACCEPT_H
#define SWH_SOLVER_INFER_ACCEPT_H

#include "solver/infer/rank.h"

/* Without these no vehicle is accepted: each tells something that no other reading does (common practice, no
 * source). */
enum { SWH_ACCEPT_LEAST = 5 };
struct swh_least_reading {
    enum swh_channel channel;
    const char *tells; /* "whether ..." */
};
extern const struct swh_least_reading swh_accept_least[SWH_ACCEPT_LEAST];

/* A channel may lie this many standard deviations off, a fault explain the log better than health by this
 * much (strong evidence by Kass and Raftery 1995: 2 ln of the Bayes factor above 6), and metal carry this
 * share of the shoes' load on average in the worst hour. */
#define SWH_ACCEPT_DEVIATIONS 3.0
#define SWH_ACCEPT_ADVANTAGE 6.0
#define SWH_ACCEPT_METAL 0.5

/* The worst hour unless the vehicle's conditions go beyond it: 43 degC [K] and 3000 rpm [rps]. */
#define SWH_ACCEPT_AMBIENT 316.15
#define SWH_ACCEPT_SPEED 50.0

struct swh_acceptance {
    struct swh_ranking ranking;
    double deviation[SWH_COMPARED]; /* mean difference of a channel from the healthy vehicle, in standard
                                       deviations; NaN without readings */
    bool channel_ok[SWH_COMPARED];  /* within 3, or not judged */
    bool judged[SWH_COMPARED];      /* its readings cover at least half of the log or of the rows */
    bool missing[SWH_ACCEPT_LEAST]; /* not judged, and without it no vehicle is accepted */
    int fault;        /* the fault that explains the log clearly better than health; SWH_HEALTHY: none */
    double advantage; /* by how much, 2 ln of the likelihood ratio less its price */
    double severity;  /* of that fault */
    struct swh_summary worst;          /* the worst hour, with the fault that was found */
    double blind[SWH_FAULT_COUNT];     /* the least severity that these readings would show; NaN: none */
    double worst_ambient, worst_speed; /* K, rps */
    bool lives;     /* no seizure, and metal carries less than half of the load on average */
    double at_work; /* s with the clutch in */
    bool enough;    /* the log is long enough to judge: SWH_FAIR_AT_WORK */
    bool found;     /* something speaks against the vehicle (a channel, a fault, the worst hour), in
                       SWH_LEAST_AT_WORK at least */
    bool pass;      /* nothing does, and all that is needed was read for long enough */
};

/* Judges a log. The worst hour runs at the vehicle's conditions, but at least at `ambient` [K] and `speed`
 * [rps]. Errors as swh_rank. */
enum swh_status swh_accept(const struct swh_rank_request *q, double ambient, double speed,
                           struct swh_acceptance *out, struct swh_error *err);

#endif
