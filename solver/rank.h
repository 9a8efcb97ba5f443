/* Causes in the order in which they explain a log and what lay on the bench.
 *
 * Every fault alone, no fault, and pairs of the best few are run on the closed circuit driven by the log; the
 * severity that fits best is sought for each. Criterion: quasi-BIC (Schwarz 1978; overdispersion after
 * Burnham and Anderson 2002): chi2/c + k ln n - 2 ln(bench), with chi2 the weighed squares of window means
 * (offsets, slow model error, ambient, humidity and bay integrated out: evidence.h), c the chi2 per point of
 * the best explanation, at least 1, k the number of severities, n the number of independent windows. Shares
 * are exp(-criterion/2), normalised; before the log was seen all causes are equal but for pairs (a hundredth), a
 * partly dead fan (0.3) and recirculated air (0.5). */
#ifndef SWH_SOLVER_RANK_H
#define SWH_SOLVER_RANK_H

#include "solver/evidence.h"

/* ---- bench findings ---- */

enum swh_finding {
#define FINDING(id, kind, channel, extreme, threshold, width, help, place) SWH_FINDING_##id,
#include "model/findings.def"
#undef FINDING
    SWH_FINDING_COUNT
};
enum swh_finding_kind { SWH_FINDING_SIGN, SWH_FINDING_AMOUNT };
enum swh_finding_extreme { SWH_FINDING_PEAK, SWH_FINDING_LOWEST, SWH_FINDING_FINAL };
struct swh_finding_info {
    const char *id;
    enum swh_finding_kind kind;
    enum swh_channel channel;
    enum swh_finding_extreme extreme;
    double threshold, width;
    const char *help, *place;
};
extern const struct swh_finding_info swh_finding_table[SWH_FINDING_COUNT];
int swh_finding_find(const char *id); /* -1 if unknown */

/* value: SIGN 1 yes, 0 no; AMOUNT in SI; NaN: not looked at. */
struct swh_bench {
    double value[SWH_FINDING_COUNT];
};
/* Findings that exclude each other. SWH_ERR_INPUT naming both. */
enum swh_status swh_bench_check(const struct swh_bench *b, const struct swh_case *vehicle,
                                struct swh_error *err);
/* ln of the likelihood of what was found, given how a hard hour with the fault went. Each finding counts at
 * most as a chance of one in fifty against. */
double swh_bench_likelihood(const struct swh_bench *b, const struct swh_summary *hard);

/* ---- ranking ---- */

enum { SWH_RANK_PAIRS = 3, SWH_RANK_MAX = 1 + SWH_FAULT_COUNT + SWH_RANK_PAIRS, SWH_HEALTHY = -1 };

struct swh_rank_request {
    const struct swh_case *vehicle;
    bool doors_given;
    const struct swh_log_memory *log;
    const struct swh_bench *bench; /* NULL: none */
    int threads;
    bool pairs;
    void (*progress)(double part, void *user); /* may be NULL */
    void *user;
};

struct swh_cause {
    int fault, second; /* SWH_HEALTHY: none */
    double share, severity, low, high, second_severity;
    double chi2, criterion, bench; /* bench: ln likelihood */
    int runs;
    bool dropped;                 /* found hopeless after a coarse look */
    double against[SWH_COMPARED]; /* chi2 of each channel taken alone, per point */
    double mean[SWH_COMPARED],
        last[SWH_COMPARED];  /* mean difference prediction - reading, and over the last third */
    struct swh_summary hard; /* how a hard hour went (only with a bench) */
};

struct swh_ranking {
    struct swh_cause cause[SWH_RANK_MAX]; /* best first */
    int causes;
    int points, runs, nuisances;
    double spread;    /* chi2 per point of the best */
    bool cannot_tell; /* the best two are less than a factor of three apart */
    struct swh_drive_facts drive;
};

/* SWH_ERR_INPUT for a log that says nothing, SWH_ERR_SOLVER if the healthy vehicle cannot be run on it. */
enum swh_status swh_rank(const struct swh_rank_request *q, struct swh_ranking *out, struct swh_error *err);

/* "undercharge", "healthy", "undercharge+condenser_blocked" into out. Returns out. */
const char *swh_cause_name(const struct swh_cause *c, char *out, size_t size);
/* The largest severity a cause is run with. */
#define SWH_SEVERITY_MOST 0.95

#endif
