#include "solver/steady/cycles.h"

#include <math.h>
#include <string.h>

static const double SHORT = 25, LONG = 50; /* s; whole cycles that last at least as long are one block */
static const double RELAXATION = 45;       /* s that gas, walls and film get after a projective step */
static const double PART = 1;              /* of the time in which the slow rates change by a factor e */
static const double LONGEST = 1500;        /* s */

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

void swh_cycles_start(struct swh_cycles *c, struct swh_engine *e, double begin, double project_from)
{
    *c = (struct swh_cycles){.e = e,
                             .begin = begin,
                             .project_from = project_from,
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
    return t + c->projected;
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

/* moves the slow states at the restart that follows, and lets the quick ones relax */
void swh_cycles_shift(struct swh_cycles *c, double t, const double *way)
{
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        if ((int)swh_cycles_table[i].state < c->e->machine.l.n_scalars)
            c->e->shift[swh_cycles_table[i].state] = way[i];
    c->e->shifted = true;
    c->begin = t + RELAXATION;
    c->open = false;
    c->blocks = 0;
}

static bool is_metal(int i)
{
    return i < SWH_SLOW_OIL_MASS;
}

/* Ways of the metal per way of the rotor: as it has just gone, if that was far enough to tell, or goes. */
static double share_of(const struct swh_cycles *c, int i)
{
    const double rotor =
        swh_slow_mean(&c->slow, SWH_SLOW_ROTOR, 1) - swh_slow_mean(&c->slow, SWH_SLOW_ROTOR, 2);
    const double share = fabs(rotor) > SWH_TELLING_WAY
                             ? (swh_slow_mean(&c->slow, i, 1) - swh_slow_mean(&c->slow, i, 2)) / rotor
                             : swh_slow_rate(&c->slow, i, 1) / swh_slow_rate(&c->slow, SWH_SLOW_ROTOR, 1);
    return fmin(fmax(share, 0.4), 1.2);
}

/* Shares out the way of the metal as it has just gone: what its parts exchange after a project would grow
 * from project to project otherwise. */
static void straighten(const struct swh_cycles *c, double *way)
{
    const double gone =
        swh_slow_mean(&c->slow, SWH_SLOW_ROTOR, 1) - swh_slow_mean(&c->slow, SWH_SLOW_ROTOR, 2);
    const double all = way[SWH_SLOW_ROTOR] + way[SWH_SLOW_BLOCK] + way[SWH_SLOW_OIL];
    if (!(fabs(gone) > SWH_TELLING_WAY) || !(all * gone > 0) || c->slow.entries < 3)
        return;
    const double rotor = all / (1 + share_of(c, SWH_SLOW_BLOCK) + share_of(c, SWH_SLOW_OIL));
    for (int i = 0; is_metal(i); i++)
        way[i] = rotor * (i == SWH_SLOW_ROTOR ? 1 : share_of(c, i));
}

static bool alternates(const struct swh_cycles *c)
{
    const struct swh_slow *s = &c->slow;
    return s->entries >= 3 && swh_slow_rate(s, SWH_SLOW_ROTOR, 1) * swh_slow_rate(s, SWH_SLOW_ROTOR, 2) < 0 &&
           swh_slow_rate(s, SWH_SLOW_ROTOR, 2) * swh_slow_rate(s, SWH_SLOW_ROTOR, 3) < 0;
}

static void lengthen(struct swh_cycles *c)
{
    if (alternates(c))
        c->block = fmin(2 * c->block, LONG);
}

void swh_cycles_project(struct swh_cycles *c, double t)
{
    static const int lead[] = {SWH_SLOW_ROTOR, SWH_SLOW_BLOCK};
    double most[SWH_CYCLES_SLOW], way[SWH_CYCLES_SLOW];
    if (t < c->project_from)
        return;
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        most[i] = swh_cycles_table[i].most;
    const double time = swh_slow_project(&c->slow, lead, 2, PART, LONGEST, most, way);
    if (isnan(time))
        lengthen(c);
    if (!(time > RELAXATION)) /* costs more than it brings */
        return;
    straighten(c, way);
    swh_cycles_shift(c, t, way);
    c->projected += time;
}
