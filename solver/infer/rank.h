/* Causes in the order in which they explain a log and what lay on the bench.
 *
 * Every fault alone and no fault are run on the closed circuit driven by the log, at several severities;
 * pairs of the best few where no single fault explains it. Evidence: the likelihood of window means
 * (evidence.h: noise, offsets, slow model errors, ambient, humidity, bay, the model's coils, delivery and
 * friction integrated out; a fault's effect on each channel known to within a share only), integrated over
 * the severity with its prior (Kass and Raftery 1995), for pairs its maximum with Schwarz's penalty (1978).
 * Only uncertainty.evidence_share of the log-likelihood counts (less where the vehicle file was fitted to
 * rows only or never; power posterior, from memory: Holmes and Walker 2017), because a model is wrong in more
 * ways than are written down; and if even the best leaves more than one per reading, all are judged by that
 * measure (overdispersion, Burnham and Anderson 2002). A severity is believed to within uncertainty.severity
 * at best: what is 0.5 for the model may be 0.55 for the vehicle. Causes that do the same to a log (throttles
 * before the probe, the condenser's air at standstill) share what it says for them. Times how often a fault
 * occurs, times the likelihood of what lay on the bench; normalised to shares. */
#ifndef SWH_SOLVER_INFER_RANK_H
#define SWH_SOLVER_INFER_RANK_H

#include "solver/infer/findings.h"
#include "solver/infer/unknowns.h"

/* ---- ranking ---- */

enum { SWH_RANK_PAIRS = 3, SWH_RANK_MAX = 1 + SWH_FAULT_COUNT + SWH_RANK_PAIRS, SWH_HEALTHY = -1 };

struct swh_rank_request {
    const struct swh_case *vehicle;
    bool doors_given;
    const struct swh_log_memory *log;   /* NULL: none */
    const struct swh_spot_sheet *sheet; /* NULL: none; else it is ranked, not the log */
    const struct swh_findings *bench;   /* NULL: none; needed where nothing was read */
    int threads;
    bool pairs;
    void (*progress)(double part, void *user); /* may be NULL */
    void *user;
};

struct swh_cause {
    int fault, second; /* SWH_HEALTHY: none */
    double share, severity, low, high, second_severity;
    double chi2, criterion;         /* chi2 NaN if dropped; criterion -2 ln of the evidence, bench included */
    double bench, bench_alone;      /* ln likelihood of what was found, with what was read and without */
    double said[SWH_FINDING_COUNT]; /* of each finding at this severity; NaN: not looked at */
    double odds;                    /* ln: how likely severities like this are before the log was seen */
    double deviance;                /* of a pair: -2 ln of its greatest likelihood */
    int runs;
    bool dropped;                 /* not among the best of the first look; not looked at more closely */
    int alike;                    /* causes with one number that is not 0 do the same to this log */
    double against[SWH_COMPARED]; /* chi2 of each channel taken alone, per point */
    double off[SWH_COMPARED];     /* mean over points of the difference over its standard deviation */
    double mean[SWH_COMPARED],
        last[SWH_COMPARED]; /* mean difference prediction - reading, and over the last third */
};

/* A reading may lie this many times its possible error (swh_possible_error) from what the best cause gives on
 * average (tests/bench/rank_study.py); of causes whose share is above
 * SWH_RANK_OPEN times the first's the one that leaves least counts. */
#define SWH_RANK_MISFIT 4.0
#define SWH_RANK_OPEN (1.0 / 3)

struct swh_ranking {
    struct swh_cause cause[SWH_RANK_MAX]; /* best first */
    int causes;
    int points, runs, nuisances;
    double mean_sigma[SWH_COMPARED]; /* of a channel's mean difference from the healthy vehicle, without a
                                        fault; NaN without readings */
    double spread;                   /* deviance per point of the best single cause */
    enum swh_knowledge knowledge;    /* what the vehicle file was worth */
    bool cannot_tell;                /* the best two are less than a factor of three apart */
    bool none_fits; /* no cause of the list explains what was read: something is wrong with speed, doors,
                       ambient, units or gauges, or it is a cause that is not on the list */
    int farthest;   /* compared channel that lies farthest off with the best cause, and by how many */
    double misfit;  /* standard deviations of its mean; 0 if nothing was read */
    struct swh_schedule_facts drive;
};

/* May two faults be a cause together? Not two that undo or repeat each other. */
bool swh_rank_may_pair(int a, int b);
/* SWH_ERR_INPUT for a log that says nothing or nothing at all, SWH_ERR_SOLVER if the healthy vehicle cannot
 * be run on it. */
enum swh_status swh_rank(const struct swh_rank_request *q, struct swh_ranking *out, struct swh_error *err);

/* The cause "healthy" of a ranking. */
const struct swh_cause *swh_ranking_healthy(const struct swh_ranking *r);
/* "undercharge", "healthy", "undercharge+condenser_blocked" into out. Returns out. */
const char *swh_cause_name(const struct swh_cause *c, char *out, size_t size);
/* The largest severity (0..1) a fault is run with: a fan that stands moves no air at all; nothing else is
 * lost to the last hundredth (a circuit without refrigerant or a face without air is no vehicle that somebody
 * drove in). */
double swh_severity_most(int fault);

#endif
