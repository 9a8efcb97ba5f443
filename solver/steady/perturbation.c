#include "solver/steady/perturbation.h"

#include <math.h>
#include <string.h>

/* of a perturbation beyond the forecast */
static const double SOON = 1500;      /* s; time constant of a way whose end is tried */
static const double CREPT = 0.5;      /* K by which its forecast may have risen */
static const double CREEPS = 3e-3;    /* K/s; what goes to and fro may move so fast in the mean */
static const double BEYOND = 0.3;     /* past the forecast, of the way left, ... */
static const double LEAST_BEYOND = 4; /* ... K */
static const double MOST_BEYOND = 5;  /* ... K */
static const double MOST_WAY = 25;    /* K */
static const double MOST_AHEAD = 15;  /* K, to where the rates are expected to be lowest */
static const double LATER = 1000;     /* s, in which oil and cabin get where they are going, ... */
static const double MOST_OIL = 1e-2;  /* ... kg */
static const double MOST_CABIN = 5;   /* ... K */
enum { TRIALS = 4, PATIENCE = 3 };    /* in one run; entries of one */
/* sums of rates that decide [K/s]: once the metal is even, ... */
static const double CLEARLY = 3e-4;                  /* ... at the bottleneck */
static const double WEAK = 1.5e-3;                   /* ... beyond a forecast */
static const double STRONG = 1.5e-2, ROUGHLY = 6e-3; /* before that; for a rough answer */
static const double FADES =
    4; /* what is not even yet fades by a fifth or more from entry to entry: the rest of it */
/* of the bottleneck */
static const double SOME_OIL = 5e-4;  /* kg that may still come or go */
static const double SOME_CABIN = 0.4; /* K that the cabin may still move */
static const double QUICK = 0.08;     /* K/s; sum of the rates in a passage that is no crawl */
static const double RISEN = 1.25;     /* ratio of such sums beyond the bottleneck and there */
static const double BEFORE_IT = 2;    /* K; see refine */
enum { LONGER = 8, LOOKS = 3 };       /* entries of a perturbation; of a machine begun in place */

/* What the metal does together in the k-th entry back: the sum of the rates of rotor, block and oil [K/s], in
 * which what they exchange matters little, and whether all metal goes one way: -1 cools, 1 warms up, 0
 * neither. */
struct common {
    double sum;
    int way;
};

static struct common common_of(const struct swh_cycles *c, int k)
{
    struct common all = {0, 0};
    int cools = 0, warms = 0;
    for (int i = 0; swh_cycles_is_metal(i); i++) {
        const double rate = swh_slow_rate(&c->slow, i, k);
        if (i != SWH_SLOW_CLUTCH_FACE)
            *(rate < 0 ? &cools : &warms) += 1;
        all.sum += i == SWH_SLOW_ROTOR || i == SWH_SLOW_BLOCK || i == SWH_SLOW_OIL ? rate : 0;
    }
    all.way = cools && warms ? 0 : cools ? -1 : 1;
    return all;
}

/* ---- beyond the forecast ---- */

/* Way of a slow state in a perturbation. Oil that leaves and a cabin that warms up would move the rest later:
 * they are put where they are going. */
static double perturbation_way(const struct swh_cycles *c, int i, double metal)
{
    if (swh_cycles_is_metal(i))
        return metal;
    const double growth = swh_slow_growth(&c->slow, i, 1), rate = swh_slow_rate(&c->slow, i, 1);
    const double later = rate * (growth < 0 ? expm1(growth * LATER) / growth : LATER);
    if (i == SWH_SLOW_OIL_MASS)
        return fmax(fmin(later, 0), -MOST_OIL);
    if (i == SWH_SLOW_CABIN || i == SWH_SLOW_INTERIOR)
        return fmin(fmax(later, 0), MOST_CABIN);
    return 0;
}

/* Whether a machine that came down has begun to warm up: where that leads is not known yet. */
static bool turns_up(const struct swh_cycles *c)
{
    return swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, 1) > 0 && swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, 2) < 0 &&
           swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, 3) < 0;
}

/* Beside a fold the forecast creeps up; what goes to and fro has none. */
static bool is_worth_trying(const struct swh_cycles *c, double t)
{
    if (t < c->project_from || c->perturbation.count >= TRIALS || c->slow.entries < 3)
        return false;
    const double growth = swh_slow_growth(&c->slow, SWH_SLOW_ROTOR, 1);
    if (swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, 1) < -CREEPS) /* cools from above: its rest is no forecast */
        return false;
    if (isnan(growth))
        return fabs(swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, 1)) < CREEPS && !turns_up(c);
    const double warmed_up =
        swh_slow_limit(&c->slow, SWH_SLOW_ROTOR, 1, SOON) - swh_slow_limit(&c->slow, SWH_SLOW_ROTOR, 2, SOON);
    return growth * SOON < -1 && !(warmed_up > CREPT);
}

static void begin_perturbation(struct swh_cycles *c, double t)
{
    struct swh_perturbation *perturbation = &c->perturbation;
    for (int i = 0; i < SWH_CYCLES_SLOW; i++) {
        perturbation->from[i] = swh_slow_mean(&c->slow, i, 1);
        perturbation->rate[i] = swh_slow_rate(&c->slow, i, 1);
    }
    perturbation->growth = swh_slow_growth(&c->slow, SWH_SLOW_ROTOR, 1);
    perturbation->slow = c->slow;
    perturbation->begin = t;
    swh_engine_save(c->e, &perturbation->state);
    perturbation->on = true;
    perturbation->entries = 0;
    perturbation->count++;
}

static void try_beyond(struct swh_cycles *c, double t, double left, double beyond, bool vague)
{
    struct swh_perturbation *perturbation = &c->perturbation;
    begin_perturbation(c, t);
    perturbation->narrow = false;
    perturbation->beyond = beyond;
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        perturbation->way[i] = perturbation_way(c, i, (left + beyond) * (vague ? 1 : swh_cycles_share(c, i)));
    if (vague)
        swh_cycles_lengthen(c);
    swh_cycles_shift(c, t, perturbation->way);
}

/* Where the rates of the last three entries, as a parabola over the rotor's temperature, are lowest: way to
 * there and the rate there. */
static bool is_narrow_ahead(const struct swh_cycles *c, double *way, double *rate)
{
    double T[3], r[3];
    for (int k = 0; k < 3; k++) {
        T[k] = swh_slow_mean(&c->slow, SWH_SLOW_ROTOR, k + 1);
        r[k] = swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, k + 1);
    }
    if (!(T[0] - T[1] > SWH_TELLING_WAY && T[1] - T[2] > SWH_TELLING_WAY))
        return false;
    const double last = (r[0] - r[1]) / (T[0] - T[1]), before = (r[1] - r[2]) / (T[1] - T[2]);
    const double bend = (last - before) / (T[0] - T[2]); /* half the second derivative */
    const double slope = last + bend * (T[0] - T[1]);
    if (!(bend > 0 && slope < 0))
        return false;
    *way = -0.5 * slope / bend;
    *rate = r[0] + 0.5 * slope * *way;
    return true;
}

static bool try_ahead(struct swh_cycles *c, double t)
{
    double way, rate;
    if (t < c->project_from || c->perturbation.count >= TRIALS || c->slow.entries < 3 ||
        !is_narrow_ahead(c, &way, &rate) || !(rate < -CLEARLY) || way > MOST_AHEAD)
        return false;
    try_beyond(c, t, way - MOST_BEYOND, MOST_BEYOND, false);
    return true;
}

bool swh_perturbation_beyond(struct swh_cycles *c, double t)
{
    if (!is_worth_trying(c, t))
        return try_ahead(c, t);
    const double rate = swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, 1),
                 growth = swh_slow_growth(&c->slow, SWH_SLOW_ROTOR, 1);
    const bool vague = isnan(growth);
    const double left = fmax(rate * (vague ? SOON : -1 / growth), 0);
    const double beyond = vague ? MOST_BEYOND : fmin(fmax(BEYOND * left, LEAST_BEYOND), MOST_BEYOND);
    if (left + beyond > MOST_WAY)
        return false;
    try_beyond(c, t, left, beyond, vague);
    return true;
}

/* ---- at the bottleneck ---- */

static bool are_others_still(const struct swh_cycles *c)
{
    return fabs(swh_slow_rate(&c->slow, SWH_SLOW_OIL_MASS, 1)) * LATER < SOME_OIL &&
           fabs(swh_slow_rate(&c->slow, SWH_SLOW_CABIN, 1)) * LATER < SOME_CABIN;
}

/* Whether no oil comes back and no cabin cools down that could still save the machine. */
static bool is_without_help(const struct swh_cycles *c)
{
    return swh_slow_rate(&c->slow, SWH_SLOW_OIL_MASS, 1) * LATER < SOME_OIL &&
           swh_slow_rate(&c->slow, SWH_SLOW_CABIN, 1) * LATER > -SOME_CABIN;
}

/* Whether oil and cabin have come to where they stay: then only metal is left to be moved. */
static bool is_ready(const struct swh_cycles *c, const struct swh_bottleneck *guess)
{
    const struct swh_slow *s = &c->slow;
    return s->entries >= 2 && swh_slow_rate(s, SWH_SLOW_ROTOR, 1) > 0 &&
           swh_slow_mean(s, SWH_SLOW_ROTOR, 1) < guess->z[SWH_SLOW_ROTOR] + LEAST_BEYOND &&
           are_others_still(c);
}

bool swh_perturbation_at(struct swh_cycles *c, double t, const struct swh_bottleneck *guess)
{
    if (t < c->project_from || c->perturbation.count >= TRIALS || !guess->known || !is_ready(c, guess))
        return false;
    swh_perturbation_measure(c, t, guess);
    return true;
}

void swh_perturbation_measure(struct swh_cycles *c, double t, const struct swh_bottleneck *guess)
{
    struct swh_perturbation *perturbation = &c->perturbation;
    begin_perturbation(c, t);
    perturbation->narrow = true;
    perturbation->least = guess->least;
    perturbation->neighbour = guess->rate;
    perturbation->beyond = 0;
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        perturbation->way[i] = swh_cycles_is_metal(i) ? guess->z[i] - perturbation->from[i] : 0;
    swh_cycles_shift(c, t, perturbation->way);
}

/* ---- the way past the bottleneck ---- */

/* Whether oil and cabin stay about what they are while the machine warms up by some kelvins. */
static bool is_crawl(const struct swh_cycles *c)
{
    const double through = fmin(LEAST_BEYOND / swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, 1), 2 * LATER); /* s */
    return fabs(swh_slow_rate(&c->slow, SWH_SLOW_OIL_MASS, 1)) * through < 3 * SOME_OIL &&
           fabs(swh_slow_rate(&c->slow, SWH_SLOW_CABIN, 1)) * through < MOST_CABIN;
}

/* Whether the slowest entry was only the turn of a machine that had come down, and its rates fall now. */
static bool has_turned(const struct swh_cycles *c, struct common now)
{
    const struct swh_perturbation_pass *p = &c->pass;
    const struct common before = c->slow.entries >= 2 ? common_of(c, 2) : (struct common){0, 0};
    return p->seen == 2 && !p->before_known && !p->from_perturbation && before.way > 0 &&
           now.sum < before.sum;
}

void swh_perturbation_watch(struct swh_cycles *c)
{
    struct swh_perturbation_pass *p = &c->pass;
    const struct swh_slow *s = &c->slow;
    const struct common now = common_of(c, 1);
    if (now.way <= 0)
        return;
    if (is_without_help(c))
        p->low = p->low > 0 ? fmin(p->low, swh_slow_mean(s, SWH_SLOW_ROTOR, 1))
                            : swh_slow_mean(s, SWH_SLOW_ROTOR, 1);
    if (has_turned(c, now))
        p->seen = 0;
    const bool slowest = (p->seen == 0 || now.sum < p->sum) && is_crawl(c);
    p->highest = slowest ? now.sum : fmax(p->highest, now.sum);
    if (slowest) {
        const struct common before = s->entries >= 2 ? common_of(c, 2) : (struct common){0, 0};
        p->seen = 1;
        p->sum = now.sum;
        p->before_known = before.way > 0;
        p->sum_before = before.sum;
    } else if (p->seen == 1) {
        p->seen = 2;
        p->sum_after = now.sum;
    } else {
        return;
    }
    for (int i = 0; i < SWH_CYCLES_SLOW; i++) {
        if (slowest && p->before_known)
            p->before[i] = swh_slow_mean(s, i, 2);
        *(slowest ? &p->z[i] : &p->after[i]) = swh_slow_mean(s, i, 1);
    }
}

/* ---- what a perturbation says ---- */

/* What that sum comes to once the metal has become even, from the last two entries of a perturbation: what is
 * not even yet fades as FADES says. */
static double sum_to_come(const struct swh_cycles *c)
{
    const double now = common_of(c, 1).sum, before = common_of(c, 2).sum;
    return c->perturbation.entries < 2 ? now : now + FADES * (now - before);
}

/* Whether the rate of the rotor's temperature still falls with it, by a parabola through the rates before and
 * after and the growth before: then no rest has been passed. */
static bool is_cool_side(const struct swh_cycles *c)
{
    const struct swh_perturbation *perturbation = &c->perturbation;
    const double moved = swh_slow_mean(&c->slow, SWH_SLOW_ROTOR, 1) - perturbation->from[SWH_SLOW_ROTOR];
    return 2 * (swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, 1) - perturbation->rate[SWH_SLOW_ROTOR]) / moved <
           perturbation->growth;
}

/* keeps the metal where the perturbation has put it, and nothing else */
static void stay(struct swh_cycles *c, double t)
{
    struct swh_perturbation *perturbation = &c->perturbation;
    const double now = swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, 1),
                 before = perturbation->rate[SWH_SLOW_ROTOR];
    double way[SWH_CYCLES_SLOW];
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        way[i] = swh_cycles_is_metal(i) ? 0 : -perturbation->way[i];
    swh_cycles_shift(c, t, way);
    c->projected += (swh_slow_mean(&c->slow, SWH_SLOW_ROTOR, 1) - perturbation->from[SWH_SLOW_ROTOR]) *
                    log(before / now) / (before - now);
    swh_slow_date(&c->slow, swh_cycles_time(c, t));
}

static void put_back(struct swh_cycles *c, double t)
{
    struct swh_perturbation *perturbation = &c->perturbation;
    c->slow = perturbation->slow;
    c->projected -= t - perturbation->begin;
    c->begin = t;
    c->open = false;
    c->blocks = 0;
    swh_engine_restore(c->e, &perturbation->state);
}

/* at the bottleneck, where what remains to come may be small */
static enum swh_perturbation_verdict verdict_narrow(const struct swh_cycles *c)
{
    const struct common now = common_of(c, 1);
    const double edge = c->perturbation.least, sum = now.sum - edge, to_come = sum_to_come(c) - edge;
    const int entries = c->perturbation.entries;
    const double least = entries < 3 ? STRONG : CLEARLY;
    if (now.way < 0 && -sum > least && -to_come > least)
        return SWH_PERTURBATION_TRAPPED;
    if (entries > 1 &&
        now.sum > c->perturbation.neighbour) /* faster than where more is amiss: far beyond the place */
        return SWH_PERTURBATION_FAILED;
    if (now.way > 0 && sum > least && to_come > least)
        return SWH_PERTURBATION_WARMS;
    if (entries < LONGER)
        return SWH_PERTURBATION_GOES_ON;
    return sum < 0 ? SWH_PERTURBATION_TRAPPED : SWH_PERTURBATION_WARMS; /* at the edge: either is right */
}

static enum swh_perturbation_verdict verdict_of(const struct swh_cycles *c)
{
    const struct swh_perturbation *perturbation = &c->perturbation;
    const struct common now = common_of(c, 1), last = common_of(c, 2);
    const double rotor = swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, 1);
    const bool first = perturbation->entries == 1;
    if (now.way < 0 && now.sum < -(first ? perturbation->beyond / SOON : WEAK))
        return SWH_PERTURBATION_TRAPPED;
    if (first && rotor > 0 && rotor < perturbation->rate[SWH_SLOW_ROTOR] && is_cool_side(c))
        return SWH_PERTURBATION_STAYS;
    const bool warms = now.way > 0 || now.sum > STRONG || (!first && now.sum > 0 && now.sum > last.sum);
    return warms || perturbation->entries >= PATIENCE ? SWH_PERTURBATION_FAILED : SWH_PERTURBATION_GOES_ON;
}

/* Goes on from the perturbation; whether the rates rise from there, or how far they fall yet, remains to be
 * seen. */
static void pass_from_here(struct swh_cycles *c)
{
    c->pass = (struct swh_perturbation_pass){.from_perturbation = true};
    swh_perturbation_watch(c);
    c->pass.before_known = false;
    c->pass.sum = fmin(c->pass.sum, sum_to_come(c));
}

bool swh_perturbation_leaves(const struct swh_cycles *c, bool any)
{
    const struct common now = common_of(c, 1);
    const bool fell = any && c->pass.before_known && c->pass.sum_before > c->pass.sum && is_without_help(c);
    return (fell || (c->pass.from_perturbation && are_others_still(c))) && c->pass.seen == 2 && now.way > 0 &&
           now.sum > RISEN * c->pass.sum &&
           swh_slow_mean(&c->slow, SWH_SLOW_ROTOR, 1) > c->pass.z[SWH_SLOW_ROTOR] + SWH_TELLING_WAY;
}

bool swh_perturbation_is_slow(const struct swh_cycles *c)
{
    return c->slow.entries >= 3 && fabs(common_of(c, 1).sum) < ROUGHLY && fabs(common_of(c, 2).sum) < ROUGHLY;
}

bool swh_perturbation_is_alone(const struct swh_cycles *c)
{
    return are_others_still(c);
}

enum swh_perturbation_verdict swh_perturbation_in_place(const struct swh_cycles *c)
{
    const struct common now = common_of(c, 1);
    if (c->slow.entries > LOOKS || now.way * now.sum < ROUGHLY)
        return SWH_PERTURBATION_GOES_ON;
    return now.way < 0 ? SWH_PERTURBATION_TRAPPED : SWH_PERTURBATION_WARMS;
}

enum swh_perturbation_verdict swh_perturbation_classify(struct swh_cycles *c, double t)
{
    c->perturbation.entries++;
    const enum swh_perturbation_verdict verdict = c->perturbation.narrow ? verdict_narrow(c) : verdict_of(c);
    c->perturbation.on = verdict == SWH_PERTURBATION_GOES_ON;
    if (verdict == SWH_PERTURBATION_STAYS)
        stay(c, t);
    if (verdict == SWH_PERTURBATION_WARMS)
        pass_from_here(c);
    if (verdict == SWH_PERTURBATION_FAILED)
        put_back(c, t);
    return verdict;
}

struct swh_bottleneck swh_perturbation_measured(const struct swh_cycles *c)
{
    struct swh_bottleneck b = {.known = true, .rate = sum_to_come(c)};
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        b.z[i] = swh_slow_mean(&c->slow, i, 1);
    return b;
}

/* ---- the bottleneck passed ---- */

/* Moves b to somewhat before the lowest point of the parabola through the three rates: a machine put there
 * still passes that point. */
static void refine(const struct swh_perturbation_pass *p, struct swh_bottleneck *b)
{
    const double left = p->z[SWH_SLOW_ROTOR] - p->before[SWH_SLOW_ROTOR],
                 right = p->after[SWH_SLOW_ROTOR] - p->z[SWH_SLOW_ROTOR];
    if (!(left > 0 && right > 0))
        return;
    const double down = (b->rate - p->sum_before) / left, up = (p->sum_after - b->rate) / right;
    const double bend = (up - down) / (left + right), slope = (up * left + down * right) / (left + right);
    const double lowest = fmin(fmax(-0.5 * slope / bend, -0.5 * left), 0.5 * right),
                 way = fmax(lowest - BEFORE_IT, -left);
    if (!(bend > 0))
        return;
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        b->z[i] += way > 0 ? way * (p->after[i] - p->z[i]) / right : way * (p->z[i] - p->before[i]) / left;
    b->rate = fmax(b->rate + lowest * (slope + bend * lowest), 0.5 * b->rate);
    b->bend = bend;
    b->parts = 1 + (p->after[SWH_SLOW_BLOCK] - p->before[SWH_SLOW_BLOCK] + p->after[SWH_SLOW_OIL] -
                    p->before[SWH_SLOW_OIL]) /
                       (left + right);
}

struct swh_bottleneck swh_perturbation_passed(const struct swh_cycles *c)
{
    const struct swh_perturbation_pass *p = &c->pass;
    struct swh_bottleneck b = {.rate = p->sum};
    const bool from_below = p->before_known && p->before[SWH_SLOW_ROTOR] < p->z[SWH_SLOW_ROTOR];
    if (p->seen < 2 || !(from_below || p->from_perturbation) || b.rate > QUICK || p->highest < RISEN * b.rate)
        return b;
    b.known = true;
    memcpy(b.z, p->z, sizeof b.z);
    if (from_below && !p->from_perturbation)
        refine(p, &b);
    return b;
}

double swh_perturbation_rest(const struct swh_cycles *c, int i)
{
    const struct swh_perturbation *perturbation = &c->perturbation;
    const double now = swh_slow_mean(&c->slow, i, 1), after = swh_slow_rate(&c->slow, i, 1);
    if (perturbation->narrow && !(after < 0)) /* warms up so slowly that it holds for the time wanted */
        return now;
    return swh_cycles_is_metal(i)
               ? now + (perturbation->from[i] - now) * after / (after - fmax(perturbation->rate[i], 0))
               : now - perturbation->way[i];
}

void swh_perturbation_settle(struct swh_cycles *c, double t)
{
    double way[SWH_CYCLES_SLOW];
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        way[i] = swh_perturbation_rest(c, i) - swh_slow_mean(&c->slow, i, 1);
    swh_cycles_shift(c, t, way);
}
