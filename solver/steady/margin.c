#include "solver/steady/margin.h"

#include "solver/simulate/engine.h"
#include "solver/simulate/parallel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { STEPS = 8 };               /* in which a range is scanned */
static const double BLUNT = 0.35; /* a fold: the slow rate at the edge is below this share of today's */
static const double SLOWER = 5;   /* a fold: seizure just beyond it takes so many times the usual way back */
static const double ALIKE = 1.4;  /* ratio of two distances from the edge */
static const double UNPAUSED = 300; /* s without a pause before it was lost: the switch gave none any more */
static const double COARSE = 4;     /* tolerance of frozen edges over that of the edge */

const char *swh_edge_word(enum swh_edge_kind kind)
{
    static const char *const words[] = {"none", "fold", "threshold", "limit", "switch"};
    return words[kind];
}

static double tolerance_of(const struct swh_margin_request *q)
{
    return q->tolerance > 0 ? q->tolerance : 0.005 * (q->hi - q->lo);
}

/* ---- one value ---- */

struct prober {
    const struct swh_margin_request *q;
    struct swh_case c;       /* the schedule is shared: it is only read */
    double limit_side;       /* +1: the limit is above today's value, -1: below, 0: none */
    struct swh_steady rest;  /* of the last value tried */
    struct swh_steady holds; /* of the last value that holds */
    double quiet_lost;       /* s without a pause before the last value that was lost */
    struct swh_margin *out;  /* where tries are noted; NULL: nowhere */
    long runs;
};

static void begin_prober(struct prober *p, const struct swh_margin_request *q, struct swh_margin *out)
{
    memset(p, 0, sizeof *p);
    p->q = q;
    p->c = *q->base;
    p->out = out;
}

/* seized or overheated; a stated limit is another matter */
static bool is_lost(const struct swh_steady *r)
{
    return r->result == SWH_CASE_SHOE_SEIZED || r->result == SWH_CASE_BORE_SEIZED ||
           r->result == SWH_CASE_OVERHEATED || r->result == SWH_CASE_BURST || r->overheated;
}

const char *swh_margin_try_word(const struct swh_margin_try *t)
{
    return t->overheated ? "overheated" : swh_case_result_word(t->result);
}

static bool past_limit(const struct prober *p)
{
    if (p->limit_side == 0)
        return false;
    return p->limit_side * (p->rest.mean[p->q->limit_channel] - p->q->limit) > 0;
}

/* when the varied fault sets in: time to seizure counts from there */
static double onset(const struct swh_margin_request *q)
{
    const bool own = q->key.kind == SWH_KEY_OWN_FAULT;
    if (!own && q->key.kind != SWH_KEY_FAULT)
        return 0;
    const struct swh_fault_setting *f =
        own ? &q->base->own_fault[q->key.index].setting : &q->base->fault[q->key.index];
    return f->present && isfinite(f->start) ? f->start : 0;
}

static struct swh_margin_try describe(const struct prober *p, double x)
{
    const struct swh_steady *r = &p->rest;
    const bool lost = is_lost(r), timed = r->result != SWH_CASE_IMPOSSIBLE;
    return (struct swh_margin_try){
        .x = x,
        .result = r->result,
        .cause = r->overheated ? SWH_SEIZURE_COUNT : r->cause,
        .lost = lost || past_limit(p),
        .by_limit = !lost && past_limit(p),
        .overheated = r->overheated,
        .settled = r->settled,
        .cycling = r->cycling,
        .to_seizure = timed ? r->to_seizure - onset(p->q) : NAN,
        .to_loss = timed ? r->to_loss - onset(p->q) : NAN,
        .growth = r->growth,
        .rotor = lost || r->result == SWH_CASE_IMPOSSIBLE ? NAN : r->mean[SWH_CH_rotor_temperature]};
}

/* Only what is shown, or compared with a stated limit, needs its temperatures. */
static enum swh_steady_grade grade_for(const struct prober *p, double x)
{
    const bool shown = p->out && (x == p->q->lo || x == p->q->hi || x == p->out->today);
    return p->q->limit_channel >= 0 || shown ? SWH_REST_EXACT : SWH_REST_VERDICT;
}

static enum swh_status probe(double x, struct swh_probe_result *out, void *user, struct swh_error *err)
{
    struct prober *p = user;
    swh_key_set(&p->c, &p->q->key, x);
    struct swh_error inside = {0};
    const double horizon = p->q->horizon > 0 ? p->q->horizon : SWH_REST_HORIZON;
    const enum swh_status status = swh_steady_run_to(&p->c, horizon, grade_for(p, x), &p->rest, &inside);
    p->runs++;
    if (status != SWH_OK &&
        p->rest.result != SWH_CASE_IMPOSSIBLE) { /* what cannot be does not seize either */
        swh_error_at(&inside, p->q->key.name, 0, 0);
        if (err && err->status == SWH_OK)
            *err = inside;
        return status;
    }
    const struct swh_margin_try t = describe(p, x);
    *out = (struct swh_probe_result){t.lost, p->rest.to_loss, t.growth};
    if (t.lost)
        p->quiet_lost = p->rest.quiet;
    else
        p->holds = p->rest;
    if (p->out && p->out->tried_count < SWH_MARGIN_TRIED)
        p->out->tried[p->out->tried_count++] = t;
    return SWH_OK;
}

/* ---- request ---- */

enum swh_status swh_margin_check_range(const struct swh_margin_request *q, struct swh_error *err)
{
    if (!(q->hi > q->lo))
        return swh_error_set(err, SWH_ERR_INPUT, "the range of %s is %s: %g .. %g", q->key.name,
                             q->hi == q->lo ? "empty" : "reversed", q->lo, q->hi);
    if (q->lo >= q->key.lo && q->hi <= q->key.hi)
        return SWH_OK;
    swh_error_set(err, SWH_ERR_INPUT, "the range %g .. %g of %s (SI) leaves its limits", q->lo, q->hi,
                  q->key.name);
    swh_error_expected(err, "%g .. %g", q->key.lo, q->key.hi);
    return SWH_ERR_INPUT;
}

static enum swh_status check(const struct swh_margin_request *q, struct swh_error *err)
{
    const enum swh_status status = swh_margin_check_range(q, err);
    return status == SWH_OK ? swh_key_check(q->base, &q->key, err) : status;
}

/* ---- the edge ---- */

static struct swh_margin_try last_try(const struct swh_margin *m)
{
    return m->tried[m->tried_count - 1];
}

/* Scans one way; out->end_* receives what was found at the end of the range. */
static enum swh_status scan(struct prober *p, const struct swh_probe_result *at_today, bool up,
                            struct swh_fold *fold, struct swh_error *err)
{
    struct swh_margin *m = p->out;
    const double to = up ? p->q->hi : p->q->lo;
    const double width = fabs(to - m->today);
    const int steps = (int)ceil(STEPS * width / (p->q->hi - p->q->lo) - 1e-9);
    const struct swh_fold_search s = {probe, p, tolerance_of(p->q), steps > 0 ? steps : 1};
    const enum swh_status status = swh_fold_scan(&s, m->today, at_today, to, fold, err);
    if (status == SWH_OK && !fold->found)
        *(up ? &m->end_hi : &m->end_lo) = last_try(m);
    return status;
}

/* A stable state that vanishes slows everything down: the way back just before the edge, and the way out just
 * beyond it. Where the clutch cycles there is no rate, and the time beyond decides. */
static bool slows_down(const struct swh_margin *m, double time_beyond)
{
    if (isfinite(m->growth_edge) &&
        isfinite(m->growth_today)) /* above zero: still leaving, too slowly to see */
        return m->growth_edge > -BLUNT * fabs(m->growth_today);
    const double usual = isfinite(m->growth_today) && m->growth_today < 0 ? -1 / m->growth_today : 300;
    return time_beyond > SLOWER * usual;
}

static void note_edge(struct prober *p, const struct swh_fold *fold)
{
    struct swh_margin *m = p->out;
    m->holds = fold->holds;
    m->lost = fold->lost;
    m->critical = fold->critical;
    m->at_holds = p->holds;
    m->growth_edge = p->holds.growth;
    bool by_limit = false;
    for (int i = 0; i < m->tried_count; i++)
        if (m->tried[i].x == fold->lost)
            by_limit = m->tried[i].by_limit;
    const bool paused = p->holds.cycling && !(p->quiet_lost < UNPAUSED);
    m->pauses = p->holds.pauses;
    m->kind = by_limit                            ? SWH_EDGE_LIMIT
              : paused                            ? SWH_EDGE_SWITCH
              : slows_down(m, fold->at_lost.time) ? SWH_EDGE_FOLD
                                                  : SWH_EDGE_THRESHOLD;
}

/* the three values nearest to the edge that hold, have a rate and came to rest */
static void extrapolate(struct swh_margin *m)
{
    double x[3], growth[3];
    size_t n = 0;
    for (int i = m->tried_count - 1; i >= 0 && n < 3; i--) {
        const struct swh_margin_try *t = &m->tried[i];
        if (t->lost || !(t->growth < 0))
            continue;
        x[n] = t->x;
        growth[n++] = t->growth;
    }
    m->critical_by_rate = n >= 2 ? swh_fold_extrapolate(x, growth, n) : NAN;
}

/* which side of the limit today is on; a limit already passed counts as lost */
static void choose_side(struct prober *p)
{
    if (p->q->limit_channel < 0)
        return;
    /* temperatures, pressures and powers are bounded from above; film, clearance, oil
     * and the like from below */
    static const enum swh_channel from_below[] = {
        SWH_CH_film_ratio,       SWH_CH_running_clearance, SWH_CH_oil_mass,  SWH_CH_oil_viscosity,
        SWH_CH_suction_pressure, SWH_CH_subcooling,        SWH_CH_mass_flow, SWH_CH_cooling_capacity};
    p->limit_side = 1;
    for (size_t i = 0; i < sizeof from_below / sizeof from_below[0]; i++)
        if ((int)from_below[i] == p->q->limit_channel)
            p->limit_side = -1;
}

static enum swh_status find_edge(struct prober *p, struct swh_error *err)
{
    struct swh_margin *m = p->out;
    struct swh_probe_result at_today;
    choose_side(p);
    enum swh_status status = probe(m->today, &at_today, p, err);
    if (status == SWH_OK && p->rest.result == SWH_CASE_IMPOSSIBLE)
        status = swh_steady_run(&p->c, 1, &p->rest, err); /* the same again: says why */
    if (status != SWH_OK)
        return status;
    m->today_lost = at_today.lost;
    m->at_today = p->rest;
    m->growth_today = p->rest.growth;
    m->end_lo = m->end_hi = last_try(m);
    /* what holds is left upward, what is lost is regained downward, as with a fault's severity */
    const bool first_up = !m->today_lost;
    for (int way = 0; way < 2; way++) {
        const bool up = (way == 0) == first_up;
        if (m->today == (up ? p->q->hi : p->q->lo))
            continue;
        struct swh_fold fold;
        status = scan(p, &at_today, up, &fold, err);
        if (status != SWH_OK)
            return status;
        if (fold.found) {
            note_edge(p, &fold);
            extrapolate(m);
            return SWH_OK;
        }
    }
    return SWH_OK;
}

/* ---- beyond ---- */

/* what the threads of one of the loops below share */
struct team {
    const struct swh_margin_request *q;
    struct swh_margin *m;
    const struct swh_case *held; /* of the curves of gain and loss */
    struct swh_heat_curves *curves;
    struct swh_team all;
};

static void count_runs(struct team *t, long runs)
{
    swh_team_enter(&t->all);
    t->m->runs += runs;
    swh_team_leave(&t->all);
}

static int threads_of(int asked)
{
    return asked > 0 ? asked : swh_sweep_default_threads();
}

/* What was tried at about that distance past the edge; NULL: nothing. */
static const struct swh_margin_try *tried_at(const struct swh_margin *m, double x)
{
    const double wanted = x - m->critical;
    for (int i = 0; i < m->tried_count; i++) {
        const double ratio = (m->tried[i].x - m->critical) / wanted;
        if (m->tried[i].lost && isfinite(m->tried[i].to_loss) && ratio > 1 / ALIKE && ratio < ALIKE)
            return &m->tried[i];
    }
    return NULL;
}

static void plan_beyond(const struct swh_margin_request *q, struct swh_margin *m)
{
    static const double part[SWH_MARGIN_BEYOND] = {0.02, 0.05, 0.1, 0.2, 0.4};
    const double toward = m->lost > m->holds ? 1 : -1;
    const double span = fmax(fabs(m->critical - m->today), 0.1 * (q->hi - q->lo));
    for (int i = 0; i < SWH_MARGIN_BEYOND; i++) {
        const double x = m->critical + toward * fmax(part[i] * span, 2 * tolerance_of(q));
        const struct swh_margin_try *known = tried_at(m, x);
        const double last = m->beyond_count ? m->beyond[m->beyond_count - 1].x : m->critical;
        if (toward * ((known ? known->x : x) - last) <= 0) /* each value once */
            continue;
        if (known)
            m->beyond[m->beyond_count++] = *known;
        else if (x <= q->hi && x >= q->lo)
            m->beyond[m->beyond_count++] =
                (struct swh_margin_try){.x = x, .result = SWH_CASE_RESULT_COUNT, .cause = SWH_SEIZURE_COUNT};
    }
}

static void one_beyond(long i, void *user)
{
    struct team *t = user;
    struct swh_margin_try *beyond = &t->m->beyond[i];
    struct prober p;
    struct swh_probe_result r;
    struct swh_error inside = {0};
    if (beyond->result != SWH_CASE_RESULT_COUNT) /* known */
        return;
    begin_prober(&p, t->q, NULL);
    swh_team_note(&t->all, probe(beyond->x, &r, &p, &inside), &inside);
    *beyond = describe(&p, beyond->x);
    count_runs(t, p.runs);
}

static enum swh_status go_beyond(const struct swh_margin_request *q, struct swh_margin *m,
                                 struct swh_error *err)
{
    plan_beyond(q, m);
    struct team team = {.q = q, .m = m};
    swh_team_begin(&team.all);
    swh_parallel(m->beyond_count, threads_of(q->threads), one_beyond, &team);
    return swh_team_end(&team.all, err);
}

/* ---- feedbacks ---- */

const struct swh_feedback_info swh_feedback_table[SWH_FEEDBACK_COUNT] = {
#define FEEDBACK(id, words) {#id, words},
    SWH_FEEDBACKS(FEEDBACK)
#undef FEEDBACK
};

void swh_feedback_freeze(struct swh_case *c, enum swh_feedback feedback, const struct swh_steady *at)
{
    struct swh_params *p = &c->params;
    const double *v = at->engaged;
    switch (feedback) {
    case SWH_FB_oil_thinning:
        p->freeze_oil_temperature = v[SWH_CH_rotor_temperature];
        break;
    case SWH_FB_starvation:
        p->freeze_oil_supply = v[SWH_CH_oil_supply];
        break;
    case SWH_FB_blow_by:
        p->freeze_blowby_share = v[SWH_CH_blowby_share];
        break;
    case SWH_FB_clearance:
        p->freeze_clearance = v[SWH_CH_running_clearance];
        break;
    case SWH_FB_lost_suction_cooling:
        p->freeze_suction_temperature = v[SWH_CH_suction_gas_temperature];
        p->freeze_suction_flow = v[SWH_CH_mass_flow] / (1 - v[SWH_CH_blowby_share]);
        p->freeze_suction_density = v[SWH_CH_suction_gas_density];
        break;
    case SWH_FEEDBACK_COUNT:
        break;
    }
}

static double inside(const struct swh_margin_request *q, double x)
{
    return fmin(fmax(x, q->lo), q->hi);
}

/* The edge with something changed, searched from beside the known edge in the direction in which it moved. */
static enum swh_status moved_edge(struct prober *p, const struct swh_margin *m, double tolerance,
                                  struct swh_fold *fold, struct swh_error *err)
{
    const struct swh_margin_request *q = p->q;
    const double way = m->lost > m->holds ? 1 : -1;
    const double end = way > 0 ? q->hi : q->lo, start = way > 0 ? q->lo : q->hi;
    const double past = inside(q, m->critical + 0.5 * way * tolerance),
                 before = inside(q, m->critical - 0.5 * way * tolerance);
    const struct swh_fold_search s = {probe, p, tolerance, 3};
    struct swh_probe_result r;
    enum swh_status status = probe(past, &r, p, err);
    if (status == SWH_OK && !r.lost)
        return swh_fold_scan(&s, past, &r, end, fold, err);
    if (status == SWH_OK)
        status = probe(before, &r, p, err);
    if (status != SWH_OK)
        return status;
    if (r.lost)
        return swh_fold_scan(&s, before, &r, start, fold, err);
    *fold = (struct swh_fold){.found = true, .critical = m->critical};
    return SWH_OK;
}

/* s: of edges that are searched more coarsely than the edge itself */
static double coarse_tolerance(const struct swh_margin_request *q, const struct swh_margin *m)
{
    return (m->at_holds.cycling ? 2 * COARSE : COARSE) * tolerance_of(q);
}

/* the edge, or the end of the range by which it left: where all is lost the one on the side that holds */
static double reach_of(const struct swh_margin_request *q, const struct swh_fold *fold, bool up)
{
    if (fold->found)
        return fold->critical;
    return fold->at_end.lost == up ? q->lo : q->hi;
}

static void one_feedback(long k, void *user)
{
    struct team *t = user;
    struct swh_margin *m = t->m;
    struct prober p;
    struct swh_fold fold = {.critical = NAN};
    struct swh_error inside = {0};
    begin_prober(&p, t->q, NULL);
    choose_side(&p);
    swh_feedback_freeze(&p.c, (enum swh_feedback)k, m->today_lost ? &m->at_holds : &m->at_today);
    const enum swh_status status = moved_edge(&p, m, coarse_tolerance(t->q, m), &fold, &inside);
    struct swh_feedback_share *f = &m->feedback[k];
    const bool up = m->lost > m->holds;
    f->critical = status == SWH_OK && fold.found ? fold.critical : NAN;
    f->shift = f->share = NAN;
    if (status == SWH_ERR_MEMORY)
        swh_team_note(&t->all, status, &inside);
    if (status == SWH_OK)
        f->shift = (up ? 1 : -1) * (reach_of(t->q, &fold, up) - m->critical);
    count_runs(t, p.runs);
}

static enum swh_status share_feedbacks(const struct swh_margin_request *q, struct swh_margin *m,
                                       struct swh_error *err)
{
    struct team team = {.q = q, .m = m};
    swh_team_begin(&team.all);
    swh_parallel(SWH_FEEDBACK_COUNT, threads_of(q->threads), one_feedback, &team);
    double sum = 0;
    for (int k = 0; k < SWH_FEEDBACK_COUNT; k++)
        sum += isnan(m->feedback[k].shift) ? 0 : fabs(m->feedback[k].shift);
    for (int k = 0; k < SWH_FEEDBACK_COUNT; k++)
        m->feedback[k].share = sum > 0 ? m->feedback[k].shift / sum : isnan(m->feedback[k].shift) ? NAN : 0;
    m->has_feedbacks = true;
    return swh_team_end(&team.all, err);
}

/* ---- what is known worst ---- */

const struct swh_spread_info swh_spread_table[SWH_SPREAD_COUNT] = {
#define SPREAD(id, parameter, uncertainty, words) {#id, words},
    SWH_SPREADS(SPREAD)
#undef SPREAD
};

/* more: 1 up, 0 down */
static void spread(struct swh_params *p, enum swh_spread k, int more)
{
    const double sign = more ? 1 : -1;
    switch (k) {
#define SPREAD(id, parameter, uncertainty, words)                                                            \
    case SWH_SPREAD_##id:                                                                                    \
        p->parameter *= 1 + sign * p->uncertainty;                                                           \
        break;
        SWH_SPREADS(SPREAD)
#undef SPREAD
    case SWH_SPREAD_COUNT:
        break;
    }
}

/* Where there was no edge one may come into the range: searched from today's value as the edge was. */
static enum swh_status new_edge(struct prober *p, const struct swh_margin *m, double tolerance,
                                struct swh_fold *fold, struct swh_error *err)
{
    const struct swh_margin_request *q = p->q;
    const double end = m->today == q->hi ? q->lo : q->hi;
    const struct swh_fold_search s = {probe, p, tolerance, STEPS / 2};
    struct swh_probe_result r;
    const enum swh_status status = probe(m->today, &r, p, err);
    return status == SWH_OK ? swh_fold_scan(&s, m->today, &r, end, fold, err) : status;
}

static void one_spread(long i, void *user)
{
    struct team *t = user;
    struct swh_margin *m = t->m;
    const int k = (int)(i / 2), more = (int)(i % 2);
    struct prober p;
    struct swh_fold fold = {.critical = NAN};
    struct swh_error inside = {0};
    begin_prober(&p, t->q, NULL);
    choose_side(&p);
    spread(&p.c.params, (enum swh_spread)k, more);
    const double tolerance = coarse_tolerance(t->q, m);
    const enum swh_status status = m->kind == SWH_EDGE_NONE ? new_edge(&p, m, tolerance, &fold, &inside)
                                                            : moved_edge(&p, m, tolerance, &fold, &inside);
    m->band.critical[k][more] = status == SWH_OK && fold.found ? fold.critical : NAN;
    const bool up = m->kind == SWH_EDGE_NONE ? m->today != t->q->hi : m->lost > m->holds;
    m->band.reach[k][more] = reach_of(t->q, &fold, up);
    m->band.moved[k][more] = status == SWH_OK;
    if (status == SWH_ERR_MEMORY)
        swh_team_note(&t->all, status, &inside);
    count_runs(t, p.runs);
}

static enum swh_status find_band(const struct swh_margin_request *q, struct swh_margin *m,
                                 struct swh_error *err)
{
    struct team team = {.q = q, .m = m};
    struct swh_margin_band *b = &m->band;
    swh_team_begin(&team.all);
    swh_parallel(2L * SWH_SPREAD_COUNT, threads_of(q->threads), one_spread, &team);
    const bool none = m->kind == SWH_EDGE_NONE, up = none ? m->today != q->hi : m->lost > m->holds;
    const double end = up ? q->hi : q->lo, here = none ? end : m->critical;
    double below = 0, above = 0;
    for (int i = 0; i < 2 * SWH_SPREAD_COUNT; i++) {
        const double shift = b->moved[i / 2][i % 2] ? b->reach[i / 2][i % 2] - here : 0;
        *(shift < 0 ? &below : &above) += shift * shift;
        b->known |= b->moved[i / 2][i % 2] && (!none || shift != 0);
    }
    b->low = fmax(here - sqrt(below), q->lo);
    b->high = fmin(here + sqrt(above), q->hi);
    return swh_team_end(&team.all, err);
}

/* ---- the whole ---- */

enum swh_status swh_margin_find(const struct swh_margin_request *q, struct swh_margin *m,
                                struct swh_error *err)
{
    memset(m, 0, sizeof *m);
    m->critical = m->holds = m->lost = m->growth_today = m->growth_edge = m->critical_by_rate = NAN;
    enum swh_status status = check(q, err);
    if (status != SWH_OK)
        return status;
    m->today = swh_key_get(q->base, &q->key);
    if (!(m->today >= q->lo && m->today <= q->hi))
        return swh_error_set(err, SWH_ERR_INPUT,
                             "today's value of %s, %g (SI), is outside the range %g .. %g", q->key.name,
                             m->today, q->lo, q->hi);
    struct prober p;
    begin_prober(&p, q, m);
    status = find_edge(&p, err);
    m->runs = p.runs;
    if (status == SWH_OK && m->kind != SWH_EDGE_NONE)
        status = go_beyond(q, m, err);
    if (status == SWH_OK && q->band && !(m->kind == SWH_EDGE_NONE && m->today_lost))
        status = find_band(q, m, err);
    /* a stated limit, or a switch that gives no pauses, is not a runaway: there is nothing to share out */
    if (status == SWH_OK && q->feedbacks && (m->kind == SWH_EDGE_FOLD || m->kind == SWH_EDGE_THRESHOLD))
        status = share_feedbacks(q, m, err);
    return status;
}

/* ---- two numbers ---- */

static double predicted(const double *critical, int i)
{
    if (i >= 2 && isfinite(critical[i - 1]) && isfinite(critical[i - 2]))
        return 2 * critical[i - 1] - critical[i - 2];
    return i >= 1 && isfinite(critical[i - 1]) ? critical[i - 1] : NAN;
}

/* the edge of one case: near the guess, or in the whole range while there is none */
static enum swh_status edge_near(const struct swh_margin_request *q, double guess, bool *up, double *critical,
                                 struct swh_error *err)
{
    struct swh_margin m = {.critical = NAN};
    struct prober p;
    begin_prober(&p, q, &m);
    choose_side(&p);
    if (isnan(guess)) {
        m.today = fmin(fmax(swh_key_get(q->base, &q->key), q->lo), q->hi);
        const enum swh_status status = find_edge(&p, err);
        *critical = m.critical;
        *up = isnan(m.critical) ? *up : m.lost > m.holds;
        return status;
    }
    const struct swh_fold_search s = {probe, &p, tolerance_of(q), STEPS};
    struct swh_fold fold;
    const enum swh_status status =
        swh_fold_near(&s, guess, 2 * tolerance_of(q), q->lo, q->hi, *up, &fold, err);
    *critical = fold.critical;
    return status;
}

enum swh_status swh_margin_follow(const struct swh_margin_request *q, const struct swh_key *second,
                                  double from, double to, int n, double *at, double *critical,
                                  struct swh_error *err)
{
    enum swh_status status = check(q, err);
    if (status == SWH_OK)
        status = swh_key_check(q->base, second, err);
    bool up = true;
    for (int i = 0; i < n && status == SWH_OK; i++) {
        at[i] = n > 1 ? from + (to - from) * i / (n - 1) : from;
        struct swh_case c = *q->base;
        swh_key_set(&c, second, at[i]);
        struct swh_margin_request here = *q;
        here.base = &c;
        status = edge_near(&here, predicted(critical, i), &up, &critical[i], err);
    }
    return status;
}

/* ---- gain and loss ---- */

/* The rotor is held by giving it a capacity without end; nothing seizes, so that the curves go on. */
static void hold_rotor(struct swh_case *c, double T)
{
    c->params.body_rotor_capacity = 1e12;
    c->params.run_start_body_temperature = T;
    c->params.friction_film_loss_time = c->params.friction_weld_time = c->params.friction_soften_time = 1e15;
}

static void gain_and_loss(const double *heat, double *gain, double *loss)
{
    *gain = *loss = 0;
    for (int path = SWH_CH_heat_shoe_friction; path <= SWH_CH_heat_clutch; path++)
        *(heat[path] > 0 ? gain : loss) += fabs(heat[path]);
}

static void one_point(long i, void *user)
{
    struct team *team = user;
    struct swh_heat_curves *h = team->curves;
    struct swh_case c = *team->held;
    struct swh_steady rest;
    struct swh_error inside = {0};
    hold_rotor(&c, h->T[i]);
    const enum swh_status status = swh_steady_run(&c, SWH_REST_HORIZON, &rest, &inside);
    h->gain[i] = h->loss[i] = NAN;
    if (status == SWH_ERR_MEMORY || status == SWH_ERR_INPUT)
        swh_team_note(&team->all, status, &inside);
    if (status == SWH_OK && !is_lost(&rest))
        gain_and_loss(rest.mean, &h->gain[i], &h->loss[i]);
}

enum swh_status swh_heat_curves_compute(const struct swh_case *c, double T_from, double T_to, int n,
                                        int threads, struct swh_heat_curves *h, struct swh_error *err)
{
    *h = (struct swh_heat_curves){0};
    if (n < 2 || !(T_to > T_from))
        return swh_error_set(err, SWH_ERR_INPUT, "curves need at least two temperatures in rising order");
    double *memory = malloc(3 * (size_t)n * sizeof *memory);
    if (!memory)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for curves of %d points", n);
    *h = (struct swh_heat_curves){n, memory, memory + n, memory + 2 * n};
    for (int i = 0; i < n; i++)
        h->T[i] = T_from + (T_to - T_from) * i / (n - 1);
    struct team team = {.held = c, .curves = h};
    swh_team_begin(&team.all);
    swh_parallel(n, threads_of(threads), one_point, &team);
    return swh_team_end(&team.all, err);
}

void swh_heat_curves_free(struct swh_heat_curves *h)
{
    free(h->T);
    *h = (struct swh_heat_curves){0};
}

int swh_heat_crossings(const struct swh_heat_curves *h, struct swh_crossing *out, int room)
{
    int count = 0;
    for (int i = 0; i + 1 < h->n && count < room; i++) {
        const double a = h->gain[i] - h->loss[i], b = h->gain[i + 1] - h->loss[i + 1];
        if (!(a * b <= 0) || a == b || b == 0)
            continue;
        const double w = a / (a - b);
        out[count++] = (struct swh_crossing){a > 0 || b < 0 ? SWH_CROSSING_STABLE : SWH_CROSSING_UNSTABLE,
                                             h->T[i] + w * (h->T[i + 1] - h->T[i]),
                                             h->gain[i] + w * (h->gain[i + 1] - h->gain[i])};
    }
    return count;
}
