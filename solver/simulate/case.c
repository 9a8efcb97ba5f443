#include "solver/simulate/case.h"

#include "model/machine.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void swh_case_default(struct swh_case *c)
{
    memset(c, 0, sizeof *c);
    swh_params_default(&c->params);
    swh_choices_default(&c->choices);
    swh_inputs_default(&c->conditions);
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        c->fault[i].start = -INFINITY;
        c->fault[i].end = INFINITY;
    }
}

void swh_case_fault_always(struct swh_case *c, int fault, double severity)
{
    if (fault >= 0 && severity > 0)
        c->fault[fault] = (struct swh_fault_setting){
            .present = true, .severity = severity, .start = -INFINITY, .end = INFINITY};
}

void swh_case_free(struct swh_case *c)
{
    free(c->schedule.time);
    for (int i = 0; i < SWH_INPUT_COUNT; i++)
        free(c->schedule.column[i]);
    for (int i = 0; i < c->schedule.n_params; i++)
        free(c->schedule.param_column[i]);
    memset(&c->schedule, 0, sizeof c->schedule);
}

static double *copy_column(const double *from, size_t rows)
{
    double *to = malloc(rows * sizeof *to);
    if (to)
        memcpy(to, from, rows * sizeof *to);
    return to;
}

enum swh_status swh_case_copy(struct swh_case *to, const struct swh_case *from, struct swh_error *err)
{
    *to = *from;
    memset(&to->schedule, 0, sizeof to->schedule);
    const struct swh_schedule *s = &from->schedule;
    if (s->rows == 0)
        return SWH_OK;
    int short_of_memory = (to->schedule.time = copy_column(s->time, s->rows)) == NULL;
    for (int i = 0; i < SWH_INPUT_COUNT; i++) {
        if (!s->given[i])
            continue;
        to->schedule.given[i] = true;
        short_of_memory |= (to->schedule.column[i] = copy_column(s->column[i], s->rows)) == NULL;
    }
    to->schedule.rows = s->rows;
    for (int i = 0; i < s->n_params; i++) {
        to->schedule.param[i] = s->param[i];
        to->schedule.n_params = i + 1;
        short_of_memory |= (to->schedule.param_column[i] = copy_column(s->param_column[i], s->rows)) == NULL;
    }
    if (!short_of_memory)
        return SWH_OK;
    swh_case_free(to);
    return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a copy of the drive schedule");
}

void swh_case_hard_hour(struct swh_case *c, double ambient, double speed, double road)
{
    memset(&c->schedule, 0, sizeof c->schedule);
    c->conditions.ambient_temperature = fmax(c->conditions.ambient_temperature, ambient);
    c->conditions.compressor_speed = fmax(c->conditions.compressor_speed, speed);
    c->conditions.vehicle_speed = fmax(c->conditions.vehicle_speed, road);
    c->conditions.doors_open = 1;
    c->params.run_duration = 3600;
    c->params.run_output_interval = 10;
}

const struct swh_fluid *swh_case_refrigerant(const struct swh_case *c)
{
    static const enum swh_refrigerant by_choice[] = {SWH_R134A, SWH_R1234YF,
                                                     SWH_R12}; /* ORDER of choices.def */
    return c->own_refrigerant ? c->own_refrigerant : swh_fluid_get(by_choice[c->choices.vehicle_refrigerant]);
}

double swh_fault_severity(const struct swh_fault_setting *f, double t)
{
    if (!f->present || t < f->start || t >= f->end)
        return 0;
    if (f->ramp <= 0 || t >= f->start + f->ramp)
        return f->severity;
    return f->severity * (t - f->start) / f->ramp;
}

static enum swh_status check_controls(const struct swh_case *c, struct swh_error *err)
{
    const struct swh_params *p = &c->params;
    if (p->controls_low_close <= p->controls_low_open)
        return swh_error_set(
            err, SWH_ERR_INPUT,
            "controls.low_close (%.2f bar abs) is not above controls.low_open (%.2f bar abs)",
            1e-5 * p->controls_low_close, 1e-5 * p->controls_low_open);
    if (p->controls_frost_close <= p->controls_frost_open)
        return swh_error_set(err, SWH_ERR_INPUT, "controls.frost_close is not above controls.frost_open");
    if (p->controls_high_close >= p->controls_high_open)
        return swh_error_set(err, SWH_ERR_INPUT, "controls.high_close is not below controls.high_open");
    if (p->controls_relief_close >= p->controls_relief_open)
        return swh_error_set(err, SWH_ERR_INPUT, "controls.relief_close is not below controls.relief_open");
    if (p->controls_fan_on > 0 && p->controls_fan_off >= p->controls_fan_on)
        return swh_error_set(err, SWH_ERR_INPUT, "controls.fan_off is not below controls.fan_on");
    if ((p->controls_forced_on > 0) != (p->controls_forced_off > 0))
        return swh_error_set(err, SWH_ERR_INPUT,
                             "a forced duty cycle needs both controls.forced_on and controls.forced_off");
    return SWH_OK;
}

static enum swh_status check_oil(const struct swh_case *c, struct swh_error *err)
{
    const struct swh_params *p = &c->params;
    if (p->oil_viscosity_100 < p->oil_viscosity_40)
        return SWH_OK;
    return swh_error_set(
        err, SWH_ERR_INPUT,
        "oil.viscosity_100 (%.3g mm2/s) is not below oil.viscosity_40 (%.3g mm2/s): oil thins with heat",
        1e6 * p->oil_viscosity_100, 1e6 * p->oil_viscosity_40);
}

static enum swh_status check_faults(const struct swh_case *c, struct swh_error *err)
{
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        const struct swh_fault_setting *f = &c->fault[i];
        if (!f->present)
            continue;
        if (!(f->severity >= 0 && f->severity <= 1)) {
            swh_error_set(err, SWH_ERR_INPUT, "fault %s has severity %g", swh_fault_table[i].id, f->severity);
            swh_error_expected(err, "0 to 1");
            return SWH_ERR_INPUT;
        }
        if (f->end <= f->start || f->ramp < 0)
            return swh_error_set(err, SWH_ERR_INPUT, "fault %s ends before it starts", swh_fault_table[i].id);
    }
    if (c->fault[SWH_FAULT_undercharge].present && c->fault[SWH_FAULT_overcharge].present)
        return swh_error_set(err, SWH_ERR_INPUT,
                             "undercharge and overcharge act on the same quantity (charge.fraction)");
    if (c->fault[SWH_FAULT_valve_starving].present && c->fault[SWH_FAULT_valve_flooding].present)
        return swh_error_set(err, SWH_ERR_INPUT,
                             "valve_starving and valve_flooding act on the same quantity (the opening)");
    return SWH_OK;
}

static enum swh_status check_ports(const struct swh_case *c, struct swh_error *err)
{
    if (c->choices.vehicle_circuit == SWH_CIRCUIT_CLOSED)
        return SWH_OK;
    static const enum swh_input needed[] = {SWH_IN_suction_pressure, SWH_IN_discharge_pressure,
                                            SWH_IN_suction_temperature};
    struct swh_inputs in = c->conditions;
    for (int i = 0; i < 3; i++)
        if (isnan(*swh_input_at(&in, (int)needed[i])) && !c->schedule.given[needed[i]]) {
            swh_error_set(err, SWH_ERR_INPUT, "vehicle.circuit = ports, but %s is not given",
                          swh_input_table[needed[i]].id);
            swh_error_expected(err, "a constant in [conditions] or a column of the schedule");
            return SWH_ERR_INPUT;
        }
    return SWH_OK;
}

enum swh_status swh_case_check(const struct swh_case *c, struct swh_error *err)
{
    enum swh_status status = check_controls(c, err);
    if (status == SWH_OK)
        status = check_oil(c, err);
    if (status == SWH_OK)
        status = check_faults(c, err);
    if (status == SWH_OK)
        status = check_ports(c, err);
    return status;
}
