/* How far from the edge: the value of one number at which the compressor's stable running temperature is
 * lost, on the whole circuit; how long from there to seizure; which feedback carries the runaway; gain and
 * loss of heat over the rotor's temperature. */
#ifndef SWH_SOLVER_STEADY_MARGIN_H
#define SWH_SOLVER_STEADY_MARGIN_H

#include "solver/steady/fold.h"
#include "solver/steady/steady.h"

/* Feedbacks that can be held still (section freeze of the parameters): FEEDBACK(id, words) */
#define SWH_FEEDBACKS(FEEDBACK)                                                                              \
    FEEDBACK(oil_thinning, "hot oil is thin")                                                                \
    FEEDBACK(starvation, "oil stays away from the plate")                                                    \
    FEEDBACK(blow_by, "hot gas leaks back past the pistons")                                                 \
    FEEDBACK(clearance, "pistons grow tight or loose in their bores")                                        \
    FEEDBACK(lost_suction_cooling, "less and warmer suction gas cools less")

enum swh_feedback {
#define FEEDBACK(id, words) SWH_FB_##id,
    SWH_FEEDBACKS(FEEDBACK)
#undef FEEDBACK
        SWH_FEEDBACK_COUNT
};
struct swh_feedback_info {
    const char *id, *words;
};
extern const struct swh_feedback_info swh_feedback_table[SWH_FEEDBACK_COUNT];

/* Holds one feedback at the state `at` (engaged means of a case at rest). */
void swh_feedback_freeze(struct swh_case *c, enum swh_feedback feedback, const struct swh_steady *at);

struct swh_margin_request {
    const struct swh_case *base;
    struct swh_key key;
    double lo, hi;     /* where to look */
    double tolerance;  /* of the critical value, unit of the key; 0: 0.5 % of hi - lo */
    double horizon;    /* s; 0: SWH_REST_HORIZON */
    int limit_channel; /* enum swh_channel whose value at rest may not pass `limit`; -1: none */
    double limit;
    bool feedbacks; /* freeze them one at a time */
    bool band;      /* move what is known worst within its spread */
    int threads;    /* 0: as many as the machine has */
};

enum { SWH_MARGIN_TRIED = 64, SWH_MARGIN_BEYOND = 5 };

/* What was tried on the way. */
struct swh_margin_try {
    double x;
    enum swh_case_result result;
    enum swh_seizure cause; /* of a seizure; else SWH_SEIZURE_COUNT */
    bool lost, by_limit, overheated, settled, cycling;
    double to_seizure, to_loss, growth, rotor; /* s, s (seized or overheated), 1/s, K at rest (NaN if lost) */
};
/* "overheated", "no rest", or the word of its result */
const char *swh_margin_try_word(const struct swh_margin_try *t);

struct swh_feedback_share {
    double critical; /* with this feedback held still; NaN if nothing is lost then within the range */
    double shift;    /* by which the edge moves away (> 0: the feedback drives the runaway) */
    double share;    /* shift over the sum of |shift| of all feedbacks; NaN if it could not be computed */
};

enum swh_edge_kind {
    SWH_EDGE_NONE,      /* no change in the range */
    SWH_EDGE_FOLD,      /* the slow rate goes to zero: the stable temperature vanishes */
    SWH_EDGE_THRESHOLD, /* the film fails or a bore closes while the slow rate is still away from zero */
    SWH_EDGE_LIMIT,     /* the stated limit is passed first */
    SWH_EDGE_SWITCH     /* a switch or thermostat stops giving pauses */
};
const char *swh_edge_word(enum swh_edge_kind kind);

/* What of the model is known worst: SPREAD(id, parameter, uncertainty, words). Each is moved by its share up
 * and down. */
#define SWH_SPREADS(SPREAD)                                                                                  \
    SPREAD(film, friction_film_scale, uncertainty_film_scale, "film thickness")                              \
    SPREAD(supply, oil_plate_full, uncertainty_plate_supply, "oil that the plate needs")                     \
    SPREAD(oil_return, oil_dry_superheat, uncertainty_oil_return, "oil that superheat strands")              \
    SPREAD(charge, charge_nominal, uncertainty_charge_share, "charge that the circuit needs")

enum swh_spread {
#define SPREAD(id, parameter, uncertainty, words) SWH_SPREAD_##id,
    SWH_SPREADS(SPREAD)
#undef SPREAD
        SWH_SPREAD_COUNT
};
struct swh_spread_info {
    const char *id, *words;
};
extern const struct swh_spread_info swh_spread_table[SWH_SPREAD_COUNT];

/* How far the edge moves with what is known worst: each on its own, and all together as independent errors
 * (root of the sum of squares on either side). */
struct swh_margin_band {
    bool known;
    double low, high;                     /* the range's ends where an edge leaves it */
    double critical[SWH_SPREAD_COUNT][2]; /* with the parameter less, more; NaN: no edge in the range */
    double reach[SWH_SPREAD_COUNT][2];    /* the same, or the end by which the edge left the range */
    bool moved[SWH_SPREAD_COUNT][2];      /* it could be told */
};

struct swh_margin {
    double today;
    bool today_lost;
    enum swh_edge_kind kind;
    double critical, holds, lost;         /* middle and ends of the last bracket; NaN if none */
    struct swh_steady at_today, at_holds; /* at_holds: the last value that holds */
    struct swh_margin_try end_lo, end_hi; /* outcome at both ends, if no edge was found */
    double growth_today, growth_edge;     /* 1/s; NaN if unknown (the clutch cycles) */
    double critical_by_rate;              /* where growth^2 would reach zero; NaN if unknown */
    int beyond_count;
    struct swh_margin_try beyond[SWH_MARGIN_BEYOND]; /* past the edge, the nearest first */
    struct swh_feedback_share feedback[SWH_FEEDBACK_COUNT];
    bool has_feedbacks;
    enum swh_event pauses; /* the switch whose pauses end at an edge of kind SWITCH */
    struct swh_margin_band band;
    int tried_count;
    struct swh_margin_try tried[SWH_MARGIN_TRIED]; /* in the order tried */
    long runs;
};

/* Whether the range is one: not empty or reversed, within the limits of its key. Returns SWH_OK or
 * SWH_ERR_INPUT. */
enum swh_status swh_margin_check_range(const struct swh_margin_request *request, struct swh_error *err);

/* Finds the margin: first from today's value upward, then downward; if today's value is already lost, the
 * nearest value that holds. Two values nearer than an eighth of the range are told apart only if the verdict
 * differs at their ends. SWH_ERR_INPUT: empty or reversed range, a key that changes nothing; else what
 * swh_run says. */
enum swh_status swh_margin_find(const struct swh_margin_request *request, struct swh_margin *out,
                                struct swh_error *err);

/* The edge in `request` while a second number goes from `from` to `to` in n equal steps: critical[i] at
 * second value at[i] (n each), NaN where there is no edge in the range. Each point starts from the line
 * through the two before it. */
enum swh_status swh_margin_follow(const struct swh_margin_request *request, const struct swh_key *second,
                                  double from, double to, int n, double *at, double *critical,
                                  struct swh_error *err);

/* Heat that the body of the compressor gains and loses [W] with its rotor held at temperature T[i],
 * everything else at rest: gain = friction, gas under compression, discharge gas, clutch, as far as they
 * heat; loss = the rest. */
struct swh_heat_curves {
    int n;
    double *T, *gain, *loss; /* NaN where no rest was reached (a bore closed, ...) */
};
enum swh_crossing_kind { SWH_CROSSING_STABLE, SWH_CROSSING_UNSTABLE };
struct swh_crossing {
    enum swh_crossing_kind kind;
    double T, heat;
};
enum swh_status swh_heat_curves_compute(const struct swh_case *c, double T_from, double T_to, int n,
                                        int threads, struct swh_heat_curves *out, struct swh_error *err);
void swh_heat_curves_free(struct swh_heat_curves *h);
/* Crossings of gain and loss in the order of T; returns how many were written (at most room). */
int swh_heat_crossings(const struct swh_heat_curves *h, struct swh_crossing *out, int room);

#endif
