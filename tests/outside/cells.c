/* What a machine with so many cells an exchanger says, on average over a quarter of an hour: condenser's and
 * evaporator's charge [g], capacity [W] and the missing share of charge at which subcooling is lost, one line
 * a case. Built twice (CMakeLists.txt), compared by cells.py. */
#include "tests/check.h"

#include "tests/solver/cases.h"

#include <stdio.h>

typedef void (*set_case)(struct swh_case *, double);

static struct swh_summary run(set_case set, double ambient, double rpm, double missing)
{
    struct swh_case c;
    set(&c, ambient);
    c.conditions.compressor_speed = rpm / 60;
    c.params.run_duration = 900;
    c.choices.controls_high_pressure = 0;
    c.choices.controls_cycling = SWH_CYCLING_NONE;
    swh_case_fault(&c, SWH_FAULT_undercharge, missing);
    return swh_case_run(&c);
}

/* subcooling below 1 K is what no technician tells from none */
static double lost(set_case set)
{
    double low = 0.1, high = 0.7;
    for (int k = 0; k < 7; k++) {
        const double middle = 0.5 * (low + high);
        *(run(set, 35, 1500, middle).final[SWH_CH_subcooling] > 1 ? &low : &high) = middle;
    }
    return 0.5 * (low + high);
}

int main(void)
{
    static const struct {
        const char *name;
        set_case set;
    } vehicle[] = {{"valve", swh_case_valve}, {"orifice", swh_case_orifice}};
    static const double at[][2] = {{32, 800}, {32, 1500}, {43, 1500}};
    for (unsigned v = 0; v < 2; v++) {
        for (unsigned k = 0; k < sizeof at / sizeof *at; k++) {
            const struct swh_summary s = run(vehicle[v].set, at[k][0], at[k][1], 0);
            printf("%s %g %g %.2f %.2f %.1f\n", vehicle[v].name, at[k][0], at[k][1],
                   1e3 * s.mean[SWH_CH_charge_condenser], 1e3 * s.mean[SWH_CH_charge_evaporator],
                   s.mean[SWH_CH_cooling_capacity]);
        }
        printf("%s lost %.4f\n", vehicle[v].name, lost(vehicle[v].set));
    }
    return 0;
}
