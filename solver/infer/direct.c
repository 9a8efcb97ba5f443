#include "solver/infer/direct.h"

#include "model/refrigerant/refrigerant.h"

#include <math.h>

enum { SWH_FINDING_NONE = -1 };
const struct swh_direct_info swh_direct_table[SWH_DIRECT_COUNT] = {
#define DIRECT(id, finding, minutes, rest, how) {#id, SWH_FINDING_##finding, minutes, rest, how},
#define WATCHES(test, fault, with, without)
#include "solver/infer/direct_tests.def"
#undef DIRECT
#undef WATCHES
};

static const struct watch {
    enum swh_direct test;
    enum swh_fault fault;
    double with, without;
} watches[] = {
#define DIRECT(id, finding, minutes, rest, how)
#define WATCHES(test, fault, with, without) {SWH_DIRECT_##test, SWH_FAULT_##fault, with, without},
#include "solver/infer/direct_tests.def"
#undef DIRECT
#undef WATCHES
};

bool swh_direct_is_sign(enum swh_direct test)
{
    const int f = swh_direct_table[test].finding;
    return f < 0 || swh_finding_is_sign((enum swh_finding)f);
}

/* ---- signs ---- */

static double chance_of_watch(enum swh_direct test, int fault, double severity)
{
    double chance = NAN;
    for (size_t i = 0; i < sizeof watches / sizeof watches[0]; i++) {
        const struct watch *w = &watches[i];
        if (w->test != test)
            continue;
        if ((int)w->fault == fault)
            return w->without + (w->with - w->without) * fmin(severity / 0.4, 1);
        chance = w->without;
    }
    return chance;
}

static double chance_of_look(enum swh_finding f, const struct swh_case *vehicle, int fault, double severity)
{
    struct swh_findings b;
    double part[SWH_FINDING_COUNT] = {0};
    for (int i = 0; i < SWH_FINDING_COUNT; i++)
        b.value[i] = NAN;
    b.value[f] = 1;
    swh_findings_on_vehicle(&b, vehicle, fault, severity, part);
    return exp(part[f]);
}

/* ---- values ---- */

static double at_rest(const struct swh_case *c, int fault, double severity)
{
    struct swh_saturation s;
    const double T = c->conditions.ambient_temperature;
    if (swh_saturation_T(swh_fluid_eos(swh_case_refrigerant(c)), T, &s, NULL) != SWH_OK)
        return NAN;
    if (fault == SWH_FAULT_air_in_system)
        return s.P + severity * 4e5 * T / 323.15;
    /* below a sixth of the charge all is vapour, as in swh_finding_empty */
    return fault == SWH_FAULT_undercharge ? s.P * fmin(1, (1 - severity) / 0.17) : s.P;
}

static double value_of(enum swh_finding f, const struct swh_case *c, int fault, double severity)
{
    const struct swh_params *p = &c->params;
    const double missing = fault == SWH_FAULT_undercharge  ? severity
                           : fault == SWH_FAULT_overcharge ? -severity
                                                           : 0;
    switch (f) {
    case SWH_FINDING_refrigerant_recovered:
        return p->charge_nominal * (p->charge_fraction - missing);
    case SWH_FINDING_standing_pressure:
        return at_rest(c, fault, severity);
    case SWH_FINDING_condenser_face:
        return fault == SWH_FAULT_condenser_blocked ? severity : 0;
    case SWH_FINDING_oil_drained:
        return p->oil_total * (fault == SWH_FAULT_oil_short ? 1 - severity : 1);
    case SWH_FINDING_pulley_ratio:
        return fault == SWH_FAULT_overspeed ? 1 + severity : 1;
    default:
        return NAN;
    }
}

/* how far scale, gauge and eye may be off, with what stays in hoses and oil; common practice */
static double sigma_of(enum swh_finding f, const struct swh_case *c)
{
    return f == SWH_FINDING_refrigerant_recovered ? 0.06 * c->params.charge_nominal
           : f == SWH_FINDING_standing_pressure   ? 0.3e5
           : f == SWH_FINDING_oil_drained         ? 0.15 * c->params.oil_total
           : f == SWH_FINDING_pulley_ratio        ? 0.03
                                                  : 0.15;
}

double swh_direct_expects(enum swh_direct test, const struct swh_case *vehicle, int fault, double severity)
{
    const int f = swh_direct_table[test].finding;
    if (f < 0)
        return chance_of_watch(test, fault, severity);
    return swh_finding_is_sign((enum swh_finding)f)
               ? chance_of_look((enum swh_finding)f, vehicle, fault, severity)
               : value_of((enum swh_finding)f, vehicle, fault, severity);
}

double swh_direct_apart(enum swh_direct test, const struct swh_case *vehicle, int a, double severity_a, int b,
                        double severity_b)
{
    const double x = swh_direct_expects(test, vehicle, a, severity_a),
                 y = swh_direct_expects(test, vehicle, b, severity_b);
    double z;
    if (swh_direct_is_sign(test))
        z = sqrt((x - y) * log(x * (1 - y) / (y * (1 - x))));
    else
        z = fabs(x - y) / sigma_of((enum swh_finding)swh_direct_table[test].finding, vehicle);
    return isfinite(z) ? z : 0;
}
