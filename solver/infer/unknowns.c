#include "solver/infer/unknowns.h"

#include "solver/simulate/parallel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const struct swh_unknown_info swh_unknown_table[SWH_UNKNOWN_COUNT] = {
#define UNKNOWN(param, share) {SWH_P_##param, share},
#include "solver/infer/unknowns.def"
#undef UNKNOWN
};

/* A case and its sheet (NULL: a log drives it), to be moved. */
struct moved {
    struct swh_case c;
    struct swh_spot_sheet *sheet;
};

static void shift_sheet(struct swh_spot_sheet *s, enum swh_channel ch, double by)
{
    for (size_t i = 0; i < s->rows; i++)
        s->row[i].value[ch] += by; /* blanks stay NaN */
}

static void shift_column(struct swh_schedule *s, enum swh_input input, double by)
{
    for (size_t i = 0; s->given[input] && i < s->rows; i++)
        s->column[input][i] += by;
}

static void shift(struct moved *m, enum swh_input input, enum swh_channel ch, double by)
{
    *swh_input_at(&m->c.conditions, (int)input) += by;
    shift_column(&m->c.schedule, input, by);
    if (m->sheet)
        shift_sheet(m->sheet, ch, by);
}

/* what a fit leaves open of a sound vehicle, part by part: it shows in several channels at once */
static bool disturb_fitted(struct swh_params *p, int which)
{
    double size = 0;
    switch (which) {
    case 0:
        size = p->uncertainty_condenser_share;
        p->condenser_ua_air *= 1 + size;
        p->condenser_fan_air *= 1 + size;
        p->condenser_ram_air *= 1 + size;
        break;
    case 1:
        size = p->uncertainty_evaporator_share;
        p->evaporator_air *= 1 + size;
        p->evaporator_ua_air *= 1 + size;
        break;
    case 2:
        size = p->uncertainty_flow_share;
        p->compressor_displacement *= 1 + size;
        break;
    case 3: /* a valve that healthy logs never saw wide open */
        size = p->uncertainty_valve_share;
        p->valve_area *= 1 + size;
        p->orifice_coefficient *= 1 + size;
        break;
    default:
        size = p->uncertainty_friction_share;
        p->friction_load_factor *= 1 + size;
        p->friction_bearing_torque *= 1 + size;
        p->friction_bearing_viscous *= 1 + size;
        p->compressor_ua_discharge_heads *= 1 + 0.5 * size;
        break;
    }
    return size > 0;
}

/* A column of the root of what the fit says of its parameters, up or, where a limit is in the way, down. What
 * rows of a table leave open is wide and bent: a part of it is
 * moved, and what that does taken times as much. */
static const double PART = 0.4;
static bool disturb_together(struct swh_params *p, const struct swh_joint_root *root, int column)
{
    double sign = 1;
    for (int i = column; i < root->n; i++) {
        const struct swh_param_info *info = &swh_param_table[root->param[i]];
        const double x = swh_param_get(p, root->param[i]) + PART * root->root[i][column];
        if (x < info->lo || x > info->hi)
            sign = -1;
    }
    for (int i = column; i < root->n; i++) {
        const struct swh_param_info *info = &swh_param_table[root->param[i]];
        const double x = swh_param_get(p, root->param[i]) + PART * sign * root->root[i][column];
        swh_param_set(p, root->param[i], fmin(fmax(x, info->lo), info->hi));
    }
    return true;
}

/* by the spread that the file gives, or else by the usual one between vehicles of one kind */
static bool disturb_unknown(struct swh_params *p, const struct swh_params *spread, int which)
{
    const int param = (int)swh_unknown_table[which].param;
    const double x = swh_param_get(p, param), own = swh_param_get(spread, param);
    const double factor = exp(p->uncertainty_papers_share * swh_unknown_table[which].share);
    const double up = own > 0 ? x + own : x * factor, down = own > 0 ? x - own : x / factor;
    const double moved = up <= swh_param_table[param].hi ? up : fmax(down, swh_param_table[param].lo);
    if (!(x > 0) || moved == x)
        return false;
    swh_param_set(p, param, moved);
    return true;
}

/* of what surrounds the vehicle */
static bool disturb_surroundings(struct moved *m, const struct swh_readings *read, int which)
{
    const struct swh_params *p = &m->c.params;
    switch (which) {
    case 0:
        shift(m, SWH_IN_ambient_temperature, SWH_CH_ambient_temperature, p->uncertainty_ambient);
        return p->uncertainty_ambient > 0;
    case 1:
        shift(m, SWH_IN_ambient_humidity, SWH_CH_ambient_humidity,
              m->c.conditions.ambient_humidity > 0.6 ? -p->uncertainty_humidity : p->uncertainty_humidity);
        return p->uncertainty_humidity > 0 && !swh_readings_have(read, SWH_CH_ambient_humidity);
    default:
        m->c.params.bay_rise_at_rest += p->uncertainty_bay_rise;
        return p->uncertainty_bay_rise > 0 && !swh_readings_have(read, SWH_CH_underhood_temperature);
    }
}

static enum swh_status begin_move(struct moved *m, const struct swh_case *driven,
                                  const struct swh_readings *read)
{
    if (read->sheet) {
        m->sheet = malloc(sizeof *m->sheet);
        if (!m->sheet)
            return SWH_ERR_MEMORY;
        *m->sheet = *read->sheet;
    }
    return swh_case_copy(&m->c, driven, NULL);
}

struct nuisances {
    const struct swh_case *driven;
    const struct swh_readings *read;
    const struct swh_residuals *at;
    enum swh_knowledge knowledge;
    struct swh_joint_root root;
    struct swh_nuisance *out;
    struct swh_team *team;
    bool good[SWH_NUISANCES];
};

/* how many doubts there are about a vehicle that is known so well */
static int doubts_of(const struct nuisances *n)
{
    switch (n->knowledge) {
    case SWH_KNOWN_WHOLLY:
        return SWH_DOUBTS_SURROUNDINGS;
    case SWH_KNOWN_BY_PAPERS:
        return SWH_DOUBTS_SURROUNDINGS + (int)SWH_UNKNOWN_COUNT;
    default:
        return (int)SWH_DOUBTS_SURROUNDINGS + (int)SWH_DOUBTS_PARTS + n->root.n;
    }
}

/* moves by about one standard deviation (*part: by that part of it); false if this doubt does not apply */
static bool disturb(struct moved *m, const struct nuisances *n, int which, double *part)
{
    *part = 1;
    const int vehicle = which - SWH_DOUBTS_SURROUNDINGS, together = vehicle - SWH_DOUBTS_PARTS;
    if (vehicle < 0)
        return disturb_surroundings(m, n->read, which);
    if (n->knowledge == SWH_KNOWN_BY_PAPERS)
        return disturb_unknown(&m->c.params, &m->c.spread, vehicle);
    if (together < 0)
        return disturb_fitted(&m->c.params, vehicle);
    *part = PART;
    return disturb_together(&m->c.params, &n->root, together);
}

static void nuisance_of(long which, void *user)
{
    struct nuisances *n = user;
    struct moved m = {.sheet = NULL};
    double part = 1;
    struct swh_residuals *r = malloc(sizeof *r);
    enum swh_status status = r ? begin_move(&m, n->driven, n->read) : SWH_ERR_MEMORY;
    bool good = status == SWH_OK && disturb(&m, n, (int)which, &part);
    const struct swh_readings moved = {n->read->log, m.sheet, n->read->doors_given};
    if (good)
        status = swh_residuals_run(&m.c, &moved, r, NULL);
    if (status == SWH_ERR_MEMORY)
        swh_team_note_memory(n->team);
    good = good && status == SWH_OK && r->complete;
    for (int i = 0; i < SWH_COMPARED && good; i++)
        for (int k = 0; k < r->windows; k++) /* a reading that drives has moved with its row */
            n->out[which].change[i][k] = (r->mean[i][k] - n->at->mean[i][k]) / part;
    n->good[which] = good;
    free(r);
    free(m.sheet);
    swh_case_free(&m.c);
}

int swh_nuisances(const struct swh_case *driven, const struct swh_readings *read,
                  const struct swh_residuals *at, enum swh_knowledge knowledge, int threads,
                  struct swh_nuisance out[SWH_NUISANCES], struct swh_team *team)
{
    struct nuisances n = {
        .driven = driven, .read = read, .at = at, .knowledge = knowledge, .out = out, .team = team};
    if (!at->complete)
        return 0;
    swh_joint_make_root(&driven->joint, &driven->spread, &n.root);
    const int kinds = doubts_of(&n);
    swh_parallel(kinds, threads, nuisance_of, &n);
    int found = 0;
    for (int i = 0; i < kinds; i++)
        if (n.good[i])
            out[found++] = out[i];
    return found;
}
