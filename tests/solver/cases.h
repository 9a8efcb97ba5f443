/* Cases for tests of the whole machine: the invented vans, set up without files. */
#ifndef SWH_TESTS_SOLVER_CASES_H
#define SWH_TESTS_SOLVER_CASES_H

#include "solver/simulate/run.h"

/* expansion-valve van, doors open, 1500 rpm, no sun, standing */
static inline void swh_case_valve(struct swh_case *c, double ambient_degC)
{
    swh_case_default(c);
    c->conditions.doors_open = 1;
    c->conditions.ambient_temperature = 273.15 + ambient_degC;
    c->params.run_output_interval = 10;
}

/* orifice-tube van, as scenarios/van-orifice.ini */
static inline void swh_case_orifice(struct swh_case *c, double ambient_degC)
{
    swh_case_valve(c, ambient_degC);
    c->choices.vehicle_expansion = SWH_EXPANSION_ORIFICE;
    c->choices.controls_cycling = SWH_CYCLING_LOW;
    c->params.controls_low_open = 101325 + 24 * 6894.76;
    c->params.controls_low_close = 101325 + 43 * 6894.76;
    c->params.orifice_diameter = 1.72e-3;
    c->params.charge_nominal = 0.74;
    c->params.oil_total = 0.21;
}

static inline void swh_case_fault(struct swh_case *c, enum swh_fault fault, double severity)
{
    c->fault[fault].present = true;
    c->fault[fault].severity = severity;
}

static inline struct swh_summary swh_case_run(const struct swh_case *c)
{
    struct swh_summary s;
    struct swh_error err = {0};
    if (swh_run(c, NULL, &s, &err) != SWH_OK)
        print_error("%s (%s)\n", err.what, err.expected);
    return s;
}

#endif
