/* Vehicle and scenario files: what is taken is a case whose parameters all lie within their limits. */
#include "solver/files/scenario.h"
#include "tests/fuzz/fuzz.h"

#include <math.h>

static void look_at(const struct swh_case *c)
{
    for (int i = 0; i < SWH_PARAM_COUNT; i++) {
        const double x = swh_param_get(&c->params, i);
        const struct swh_param_info *p = &swh_param_table[i];
        const double slack = 1e-6 * (fabs(p->lo) + fabs(p->hi));
        fuzz_demand(isnan(x) || (x >= p->lo - slack && x <= p->hi + slack), "parameters within their limits");
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct swh_scenario s;
    struct swh_problems problems = {.count = 0};
    const struct swh_scenario_request request = {.path = fuzz_file(0, data, size)};
    if (swh_scenario_load(&s, &request, fuzz_units(), &problems) == SWH_OK)
        look_at(&s.c);
    swh_scenario_free(&s);
    return 0;
}
