#include "solver/simulate/schedule_segment.h"

#include <math.h>

void swh_schedule_inputs(const struct swh_schedule_segment *segment, double t, struct swh_inputs *in)
{
    const struct swh_schedule *s = &segment->c->schedule;
    *in = segment->c->conditions;
    if (s->rows == 0)
        return;
    const size_t k = segment->row;
    const size_t next = k + 1 < s->rows ? k + 1 : k;
    const double span = s->time[next] - s->time[k];
    const double w = span > 0 ? (t - s->time[k]) / span : 0;
    for (int i = 0; i < SWH_INPUT_COUNT; i++) {
        if (!s->given[i])
            continue;
        const double a = s->column[i][k], b = s->column[i][next];
        *swh_input_at(in, i) =
            swh_input_table[i].shape == SWH_SHAPE_STEP || k == next || t <= s->time[0] ? a : a + w * (b - a);
    }
}

bool swh_schedule_move(struct swh_schedule_segment *segment, double t)
{
    const struct swh_schedule *s = &segment->c->schedule;
    bool jump = false;
    while (s->rows > 0 && segment->row + 1 < s->rows && s->time[segment->row + 1] <= t + 1e-9) {
        segment->row++;
        for (int i = 0; i < SWH_INPUT_COUNT; i++)
            if (s->given[i] && swh_input_table[i].shape == SWH_SHAPE_STEP)
                jump |= s->column[i][segment->row] != s->column[i][segment->row - 1];
    }
    return jump;
}

double swh_schedule_next(const struct swh_schedule_segment *segment)
{
    const struct swh_schedule *s = &segment->c->schedule;
    if (s->rows == 0 || segment->row + 1 >= s->rows)
        return INFINITY;
    return s->time[segment->row + 1];
}
