#include "solver/api/handles.h"

#include "solver/simulate/engine.h"
#include "solver/simulate/schedule_segment.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct swh_stepper {
    struct swh_engine e;
    struct swh_case c;
    struct swh_own_refrigerant
        *refrigerant; /* that the case is filled with; NULL: one of the program's own */
    struct swh_schedule_segment segment;
    bool held[SWH_INPUT_COUNT]; /* inputs that were set from outside */
    struct swh_inputs value;
    bool changed; /* since the integrator was last started */
    bool ended;
    double time;
    struct swh_summary summary;
    struct swh_sinks sinks;
    double channel[SWH_CHANNEL_COUNT];
};

static void inputs_at(double t, struct swh_inputs *in, void *user)
{
    struct swh_stepper *s = user;
    swh_schedule_inputs(&s->segment, t, in);
    for (int i = 0; i < SWH_INPUT_COUNT; i++)
        if (s->held[i])
            *swh_input_at(in, i) = *swh_input_at(&s->value, i);
}

static enum swh_status take_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    struct swh_stepper *s = user;
    (void)err;
    memcpy(s->channel, row->value, sizeof s->channel);
    return SWH_OK;
}

static enum swh_status emit_nothing(struct swh_engine *e, double t, void *user, struct swh_error *err)
{
    (void)e, (void)t, (void)user, (void)err;
    return SWH_OK;
}

static enum swh_status start(struct swh_stepper *s, const struct swh_setup *setup, struct swh_error *err)
{
    enum swh_status status = swh_case_check(&setup->scenario.c, err);
    if (status == SWH_OK)
        status = swh_case_copy(&s->c, &setup->scenario.c, err);
    if (status != SWH_OK)
        return status;
    s->refrigerant = swh_own_refrigerant_keep(setup->scenario.refrigerant);
    s->segment.c = &s->c;
    s->e.inputs = inputs_at;
    s->e.inputs_user = s;
    s->sinks = (struct swh_sinks){.row = take_row, .user = s};
    status = swh_engine_start(&s->e, &s->c, 0, &s->sinks, &s->summary, err);
    if (status != SWH_OK)
        return status;
    swh_schedule_move(&s->segment, 0);
    return swh_engine_row(&s->e, 0, NULL, err);
}

enum swh_status swh_stepper_new(struct swh_stepper **stepper, const struct swh_setup *setup,
                                struct swh_error *err)
{
    struct swh_error inside = {0};
    struct swh_stepper *s = calloc(1, sizeof *s);
    *stepper = NULL;
    if (!s)
        swh_error_set(&inside, SWH_ERR_MEMORY, "no memory for a machine");
    else if (start(s, setup, &inside) == SWH_OK)
        *stepper = s;
    else
        swh_stepper_free(s);
    if (err)
        *err = inside;
    return inside.status;
}

void swh_stepper_free(struct swh_stepper *stepper)
{
    if (!stepper)
        return;
    swh_engine_free(&stepper->e);
    swh_case_free(&stepper->c);
    swh_own_refrigerant_leave(stepper->refrigerant);
    free(stepper);
}

enum swh_status swh_stepper_input(struct swh_stepper *stepper, const char *name, double value,
                                  struct swh_error *err)
{
    static const char prefix[] = "conditions.";
    struct swh_error inside = {0};
    const size_t n = sizeof prefix - 1;
    const int i = swh_input_find(strncmp(name, prefix, n) == 0 ? name + n : name);
    const struct swh_input_info *info = i >= 0 ? &swh_input_table[i] : NULL;
    if (!info) {
        swh_error_set(&inside, SWH_ERR_INPUT, "there is no condition called '%.100s'", name);
        swh_error_expected(&inside, "ambient_temperature, for example");
    } else if (!(value >= info->lo && value <= info->hi) && !(isnan(value) && isnan(info->value))) {
        swh_error_set(&inside, SWH_ERR_INPUT, "%s = %.9g %s is out of range", info->id, value,
                      swh_quantities[info->quantity].si);
        swh_error_expected(&inside, "%.9g to %.9g %s", info->lo, info->hi, swh_quantities[info->quantity].si);
    } else {
        stepper->changed |= !stepper->held[i] || *swh_input_at(&stepper->value, i) != value;
        stepper->held[i] = true;
        *swh_input_at(&stepper->value, i) = value;
    }
    if (err)
        *err = inside;
    return inside.status;
}

static enum swh_status go_on(struct swh_stepper *s, double time, struct swh_error *err)
{
    struct swh_engine *e = &s->e;
    enum swh_status status = SWH_OK;
    while (status == SWH_OK && !s->ended && swh_ode_time(e->ode) < time - 1e-9) {
        const bool jump = swh_schedule_move(&s->segment, swh_ode_time(e->ode));
        status = swh_engine_settle(e, jump || s->changed, err);
        s->changed = false;
        if (status == SWH_OK)
            status = swh_engine_advance(e, fmin(time, swh_schedule_next(&s->segment)), emit_nothing, s,
                                        &s->ended, err);
    }
    return status == SWH_OK ? swh_engine_row(e, swh_ode_time(e->ode), NULL, err) : status;
}

enum swh_status swh_stepper_advance(struct swh_stepper *stepper, double time, struct swh_error *err)
{
    struct swh_error inside = {0};
    enum swh_status status = SWH_OK;
    if (!(time >= stepper->time) || isinf(time)) {
        status = swh_error_set(&inside, SWH_ERR_INPUT, "a step to %.9g s", time);
        swh_error_expected(&inside, "a time not before %.9g s", stepper->time);
    } else if (!stepper->ended && time > stepper->time) {
        status = go_on(stepper, time, &inside);
    }
    if (status == SWH_OK)
        stepper->time = time;
    if (err)
        *err = inside;
    return status;
}

double swh_stepper_time(const struct swh_stepper *stepper)
{
    return stepper->time;
}

double swh_stepper_channel(const struct swh_stepper *stepper, int channel)
{
    if (channel == SWH_CH_time)
        return stepper->time;
    return channel >= 0 && channel < SWH_CHANNEL_COUNT ? stepper->channel[channel] : NAN;
}

const char *swh_stepper_outcome(const struct swh_stepper *stepper)
{
    return swh_outcome_word(stepper->summary.outcome);
}
