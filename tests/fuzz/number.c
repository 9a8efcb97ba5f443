/* Numbers, units, ranges and times. What is read is finite or named as such; what is written reads back. The
 * last byte says of which quantity it is. */
#include "solver/files/number.h"
#include "cli/base/range_option.h"
#include "solver/files/csv_time.h"
#include "tests/fuzz/fuzz.h"

#include <math.h>
#include <string.h>

static void round_trip(double x)
{
    char out[SWH_NUMBER_MAX];
    double back = 0;
    const size_t n = swh_number_write(out, x);
    fuzz_demand(n < sizeof out, "room for a number");
    if (!isfinite(x) || n == 0)
        return;
    const char *end = swh_number_read(out, out + n, '.', &back);
    fuzz_demand(end == out + n, "a number that was written reads back");
    fuzz_demand(fabs(back - x) <= 6e-9 * fabs(x) + 1e-290, "nine digits");
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size == 0)
        return 0;
    const enum swh_quantity q = (enum swh_quantity)(data[size - 1] % SWH_QUANTITY_COUNT);
    char *text = fuzz_text(data, size - 1);
    double x = 0;
    const size_t n = strlen(text);
    if (swh_number_read(text, text + n, '.', &x))
        round_trip(x);
    swh_number_read(text, text + n, ',', &x);
    struct swh_error err = {0};
    struct swh_unit unit;
    swh_units_read(fuzz_units(), text, q, &x, &err);
    if (swh_unit_find(fuzz_units(), text, q, &unit, NULL) == SWH_OK)
        fuzz_demand(isfinite(unit.offset) && unit.factor > 0, "a unit is a straight line that rises");
    struct swh_key key;
    struct swh_range range;
    err = (struct swh_error){0};
    static struct swh_case base;
    swh_case_default(&base);
    swh_vary_read(fuzz_units(), &base, text, &key, &range, &err);
    struct swh_time_style style = {false, false, false, 0};
    for (char *line = text; line && *line; line = strchr(line, '\n') ? strchr(line, '\n') + 1 : NULL)
        if (swh_time_read(line, strcspn(line, "\n"), '.', &style, &x))
            fuzz_demand(!isnan(x), "a time is a number");
    return 0;
}
