#include "solver/cycles.h"

#include <math.h>
#include <string.h>

static const double SHORT = 25, LONG = 50; /* s; whole cycles that last at least as long are one block */
static const double HEAL = 45;             /* s that the quick states get after a leap */
static const double PART = 1;              /* of the time in which the slow rates change by a factor e */
static const double LONGEST = 1500;        /* s */
/* of a trial */
static const double SOON = 1500;      /* s; time constant of a way whose end is tried */
static const double CREPT = 0.5;      /* K by which its forecast may have risen */
static const double CREEPS = 3e-3;    /* K/s; what goes to and fro may move so fast in the mean */
static const double BEYOND = 0.3;     /* past the forecast, of the way left, ... */
static const double LEAST_BEYOND = 4; /* ... K */
static const double MOST_BEYOND = 5;  /* ... K */
static const double MOST_WAY = 25;    /* K */
static const double LATER = 1000;     /* s, in which oil and cabin get where they are going, ... */
static const double MOST_OIL = 1e-2;  /* ... kg */
static const double MOST_CABIN = 5;   /* ... K */
enum { TRIALS = 2 };
/* of the table */
enum { ROTOR = 0, BLOCK_METAL = 2, OIL = 5, CLUTCH_FACE = 6, OIL_MASS = 7, CABIN = 10, INTERIOR = 11 };

const struct swh_cycles_slow swh_cycles_table[SWH_CYCLES_SLOW] = {
    {SWH_S_rotor, SWH_CH_rotor_temperature, 1, 2e-4, 8},
    {SWH_S_piston, -1, INFINITY, INFINITY, 8},
    {SWH_S_block, SWH_CH_block_temperature, 1, 2e-4, 8},
    {SWH_S_head, -1, INFINITY, INFINITY, 8},
    {SWH_S_shell, -1, INFINITY, INFINITY, 8},
    {SWH_S_oil, SWH_CH_oil_temperature, 1, 2e-4, 8},
    {SWH_S_clutch_face, -1, INFINITY, INFINITY, 10},
    {SWH_S_oil_comp, SWH_CH_oil_mass, 1e-3, 6e-6, 5e-3},
    {SWH_S_oil_evap, -1, INFINITY, INFINITY, 5e-3},
    {SWH_S_supply, -1, INFINITY, INFINITY, 0.05},
    {SWH_S_cabin, SWH_CH_cabin_temperature, 1, 3e-3, 1}, /* may change how the clutch cycles */
    {SWH_S_interior, -1, INFINITY, INFINITY, 1}};

static void slow_states(const struct swh_cycles *c, double *y)
{
    const struct swh_layout *l = &c->e->machine.l;
    const double *state = swh_ode_state(c->e->ode) + l->scalar;
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        y[i] = (int)swh_cycles_table[i].state < l->n_scalars ? state[swh_cycles_table[i].state] : 0;
}

static void open_block(struct swh_cycles *c, double t)
{
    c->open = true;
    c->from = c->t = t;
    memset(c->sum, 0, sizeof c->sum);
    slow_states(c, c->y);
}

void swh_cycles_start(struct swh_cycles *c, struct swh_engine *e, double begin, double leap_from)
{
    *c = (struct swh_cycles){.e = e,
                             .begin = begin,
                             .leap_from = leap_from,
                             .block = SHORT,
                             .last_change = -INFINITY,
                             .slow.n = SWH_CYCLES_SLOW};
    for (int i = 0; i < SWH_CYCLES_SLOW; i++) {
        c->slow.near[i] = swh_cycles_table[i].near;
        c->slow.still[i] = swh_cycles_table[i].still;
    }
}

double swh_cycles_time(const struct swh_cycles *c, double t)
{
    return t + c->leaped;
}

void swh_cycles_step(struct swh_cycles *c, double t)
{
    double y[SWH_CYCLES_SLOW];
    if (!c->open)
        return;
    slow_states(c, y);
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        c->sum[i] += 0.5 * (t - c->t) * (c->y[i] + y[i]);
    c->t = t;
    memcpy(c->y, y, sizeof y);
}

/* Three blocks make an entry. Its rate is that between the outer two, in which what alternates from block to
 * block cancels. */
static void note_step(struct swh_cycles *c)
{
    double mean[SWH_CYCLES_SLOW], rate[SWH_CYCLES_SLOW];
    for (int i = 0; i < SWH_CYCLES_SLOW; i++) {
        mean[i] = 0.25 * (c->mean[0][i] + 2 * c->mean[1][i] + c->mean[2][i]);
        rate[i] = (c->mean[2][i] - c->mean[0][i]) / (c->middle[2] - c->middle[0]);
    }
    swh_slow_add(&c->slow, swh_cycles_time(c, c->middle[1]), mean, rate);
    memcpy(c->mean[0], c->mean[2], sizeof c->mean[0]);
    c->middle[0] = c->middle[2];
    c->blocks = 1;
}

bool swh_cycles_clutch(struct swh_cycles *c, double t, bool in)
{
    c->last_change = t;
    if (!in || t < c->begin)
        return false;
    if (!c->open) {
        open_block(c, t);
        return false;
    }
    if (t < c->from + c->block)
        return false;
    const int k = c->blocks++;
    c->middle[k] = 0.5 * (c->from + t);
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        c->mean[k][i] = c->sum[i] / (t - c->from);
    open_block(c, t);
    if (c->blocks < SWH_CYCLES_STEP)
        return false;
    note_step(c);
    return true;
}

/* moves the slow states at the restart that follows, and lets the quick ones heal */
static void shift(struct swh_cycles *c, double t, const double *way)
{
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        if ((int)swh_cycles_table[i].state < c->e->machine.l.n_scalars)
            c->e->shift[swh_cycles_table[i].state] = way[i];
    c->e->shifted = true;
    c->begin = t + HEAL;
    c->open = false;
    c->blocks = 0;
}

void swh_cycles_leap(struct swh_cycles *c, double t)
{
    static const int lead[] = {ROTOR, BLOCK_METAL};
    double most[SWH_CYCLES_SLOW], way[SWH_CYCLES_SLOW];
    if (t < c->leap_from)
        return;
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        most[i] = swh_cycles_table[i].most;
    const double time = swh_slow_leap(&c->slow, lead, 2, PART, LONGEST, most, way);
    if (isnan(time)) /* what alternates over several cycles needs longer means */
        c->block = fmin(2 * c->block, LONG);
    if (!(time > HEAL)) /* costs more than it brings */
        return;
    shift(c, t, way);
    c->leaped += time;
}

static bool is_metal(int i)
{
    return i < OIL_MASS;
}

/* Way of a slow state in a trial. Oil that leaves and a cabin that warms up would move the rest later: they
 * are put where they are going. */
static double trial_way(const struct swh_cycles *c, int i, double metal)
{
    const double later = swh_slow_rate(&c->slow, i, 1) * LATER;
    if (is_metal(i))
        return metal;
    if (i == OIL_MASS)
        return fmax(fmin(later, 0), -MOST_OIL);
    if (i == CABIN || i == INTERIOR)
        return fmin(fmax(later, 0), MOST_CABIN);
    return 0;
}

/* All metal cools, and together as fast as a rest so far below would have it at least. */
static bool all_cool(const struct swh_cycles *c)
{
    double sum = 0;
    for (int i = 0; i < SWH_CYCLES_SLOW; i++) {
        const double rate = swh_slow_rate(&c->slow, i, 1);
        if (is_metal(i) && i != CLUTCH_FACE && !(rate < 0))
            return false;
        sum += i == ROTOR || i == BLOCK_METAL || i == OIL ? rate : 0;
    }
    return sum < -c->trial.beyond / SOON;
}

/* Beside a fold the forecast creeps up; what goes to and fro has none. */
static bool is_worth_trying(const struct swh_cycles *c, double t)
{
    if (t < c->leap_from || c->trial.count >= TRIALS || c->slow.entries < 3)
        return false;
    const double growth = swh_slow_growth(&c->slow, ROTOR, 1);
    if (isnan(growth))
        return fabs(swh_slow_rate(&c->slow, ROTOR, 1)) < CREEPS;
    const double crept = swh_slow_rest(&c->slow, ROTOR, 1, SOON) - swh_slow_rest(&c->slow, ROTOR, 2, SOON);
    return growth * SOON < -1 && !(crept > CREPT);
}

bool swh_cycles_try(struct swh_cycles *c, double t)
{
    struct swh_cycles_trial *trial = &c->trial;
    if (!is_worth_trying(c, t))
        return false;
    const double rate = swh_slow_rate(&c->slow, ROTOR, 1), growth = swh_slow_growth(&c->slow, ROTOR, 1);
    const bool vague = isnan(growth);
    const double left = fmax(rate * (vague ? SOON : -1 / growth), 0);
    const double beyond = vague ? MOST_BEYOND : fmin(fmax(BEYOND * left, LEAST_BEYOND), MOST_BEYOND);
    if (left + beyond > MOST_WAY)
        return false;
    trial->growth = growth;
    trial->beyond = beyond;
    for (int i = 0; i < SWH_CYCLES_SLOW; i++) {
        trial->from[i] = swh_slow_mean(&c->slow, i, 1);
        trial->rate[i] = swh_slow_rate(&c->slow, i, 1);
        const double share = vague ? 1 : fmin(fmax(trial->rate[i] / rate, 0.4), 1.2);
        trial->way[i] = trial_way(c, i, (left + beyond) * share);
    }
    c->block = vague ? fmin(2 * c->block, LONG) : c->block;
    shift(c, t, trial->way);
    trial->on = true;
    trial->count++;
    return true;
}

/* Whether the rate of the rotor's temperature still falls with it, by a parabola through the rates before and
 * after and the growth before: then no rest has been passed. */
static bool is_cool_side(const struct swh_cycles *c)
{
    const struct swh_cycles_trial *trial = &c->trial;
    const double moved = swh_slow_mean(&c->slow, ROTOR, 1) - trial->from[ROTOR];
    return 2 * (swh_slow_rate(&c->slow, ROTOR, 1) - trial->rate[ROTOR]) / moved < trial->growth;
}

double swh_cycles_rest(const struct swh_cycles *c, int i)
{
    const struct swh_cycles_trial *trial = &c->trial;
    const double now = swh_slow_mean(&c->slow, i, 1), after = swh_slow_rate(&c->slow, i, 1);
    return is_metal(i) ? now + (trial->from[i] - now) * after / (after - fmax(trial->rate[i], 0))
                       : now - trial->way[i];
}

void swh_cycles_settle(struct swh_cycles *c, double t)
{
    double way[SWH_CYCLES_SLOW];
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        way[i] = swh_cycles_rest(c, i) - swh_slow_mean(&c->slow, i, 1);
    shift(c, t, way);
}

bool swh_cycles_trapped(struct swh_cycles *c, double t)
{
    struct swh_cycles_trial *trial = &c->trial;
    const double now = swh_slow_rate(&c->slow, ROTOR, 1), before = trial->rate[ROTOR];
    trial->on = false;
    if (all_cool(c))
        return true;
    const bool stays = now > 0 && now < before && is_cool_side(c);
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        trial->way[i] = stays && is_metal(i) ? 0 : -trial->way[i];
    shift(c, t, trial->way);
    if (!stays) {
        swh_slow_forget(&c->slow);
        return false;
    }
    c->leaped +=
        (swh_slow_mean(&c->slow, ROTOR, 1) - trial->from[ROTOR]) * log(before / now) / (before - now);
    swh_slow_date(&c->slow, swh_cycles_time(c, t));
    return false;
}
