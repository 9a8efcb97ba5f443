#include "solver/simulate/moving_params.h"

#include <math.h>
#include <string.h>

bool swh_param_may_move(int param)
{
    static const char *const fixed[] = {"run", "charge", "uncertainty", "freeze"};
    const struct swh_param_info *info = &swh_param_table[param];
    for (size_t i = 0; i < sizeof fixed / sizeof fixed[0]; i++)
        if (strcmp(info->section, fixed[i]) == 0)
            return false;
    return info->quantity != SWH_Q_VOLUME && info->quantity != SWH_Q_HEAT_CAPACITY &&
           strncmp(info->key, "start_", 6) != 0;
}

/* ---- columns of the schedule ---- */

/* last row not after t; the first one before the schedule begins */
static size_t row_at(const struct swh_schedule *s, double t)
{
    size_t low = 0, high = s->rows;
    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (s->time[middle] <= t)
            low = middle;
        else
            high = middle;
    }
    return low;
}

static double column_at(const struct swh_schedule *s, const double *column, double t)
{
    const size_t k = row_at(s, t), next = k + 1 < s->rows ? k + 1 : k;
    if (t <= s->time[0] || next == k)
        return column[k];
    return column[k] + (t - s->time[k]) / (s->time[next] - s->time[k]) * (column[next] - column[k]);
}

static bool columns_move(const struct swh_schedule *s, double t)
{
    const size_t k = s->n_params > 0 ? row_at(s, t + 1e-9) : 0;
    if (s->n_params == 0 || t < s->time[0] - 1e-9 || k + 1 >= s->rows)
        return false;
    for (int i = 0; i < s->n_params; i++)
        if (s->param_column[i][k] != s->param_column[i][k + 1])
            return true;
    return false;
}

/* ---- the user's own faults ---- */

static void add_own(const struct swh_own_fault *f, double severity, struct swh_params *p)
{
    for (int k = 0; k < f->n_keys && severity > 0; k++) {
        const double base = swh_param_get(p, f->param[k]);
        swh_param_set(p, f->param[k], base + severity * (f->full[k] - base));
    }
}

/* ---- both ---- */

void swh_moving_params(const struct swh_case *c, double t, struct swh_params *p)
{
    const struct swh_schedule *s = &c->schedule;
    for (int i = 0; i < s->n_params; i++)
        swh_param_set(p, s->param[i], column_at(s, s->param_column[i], t));
    for (int i = 0; i < c->n_own_faults; i++)
        add_own(&c->own_fault[i], swh_fault_severity(&c->own_fault[i].setting, t), p);
}

bool swh_params_are_moving(const struct swh_case *c, double t)
{
    for (int i = 0; i < c->n_own_faults; i++) {
        const struct swh_fault_setting *f = &c->own_fault[i].setting;
        if (f->ramp > 0 && t >= f->start && t < f->start + f->ramp)
            return true;
    }
    return columns_move(&c->schedule, t);
}

double swh_moving_params_next(const struct swh_case *c, double t)
{
    double next = INFINITY;
    for (int i = 0; i < c->n_own_faults; i++) {
        const struct swh_fault_setting *f = &c->own_fault[i].setting;
        const double corner[3] = {f->start, f->start + f->ramp, f->end};
        for (int k = 0; k < 3; k++)
            if (corner[k] > t + 1e-9 && corner[k] < next)
                next = corner[k];
    }
    return next;
}
