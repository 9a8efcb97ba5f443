/* Writes the table of units that unit_system.c knows without UDUNITS' data files: every word of the tables,
 * and a few that workshops write, in every SI unit that it converts to. Run while the library is built. */
#include "model/tables/tables.h"
#include "solver/files/unit_system.h"

#include <stdio.h>
#include <string.h>

/* the table is what is being made */
const struct swh_known_unit swh_known_units[] = {{"1", "1", 1, 0}};
const int swh_known_unit_count = 1;

static const char *const words[] = {
#define QUANTITY(id, si, show_si, show_trade, help) si, show_si, show_trade,
#include "model/tables/quantities.def"
#undef QUANTITY
#define PARAM(section, key, quantity, unit, value, lo, hi, source, help) unit,
#include "model/tables/params.def"
#undef PARAM
    "bar", "Pa",  "kPa", "MPa", "mbar", "hPa",     "psi",       "kgf/cm2", "degC", "degF", "K",
    "s",   "min", "h",   "ms",  "km/h", "km/hour", "mile/hour", "m/s",     "mm",   "um",   "g",
    "kg",  "lb",  "cm3", "ml",  "L",    "%",       "W",         "kW",      "N m",  "Hz"};

static int known_before(size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (strcmp(words[k], words[i]) == 0)
            return 1;
    return 0;
}

int main(int argc, char **argv)
{
    FILE *f = argc == 2 ? fopen(argv[1], "w") : NULL;
    struct swh_unit_system *s = swh_unit_system_new();
    int rows = 0;
    for (size_t i = 0; f && s && i < sizeof words / sizeof words[0]; i++)
        for (int q = 0; q < SWH_QUANTITY_COUNT && !known_before(i); q++) {
            double factor = 0, offset = 0;
            int again = 0;
            for (int k = 0; k < q; k++)
                again |= strcmp(swh_quantities[k].si, swh_quantities[q].si) == 0;
            if (again || strlen(words[i]) == 0 ||
                swh_unit_system_ask(s, words[i], swh_quantities[q].si, &factor, &offset) != SWH_UNIT_CONVERTS)
                continue;
            fprintf(f, "{\"%s\", \"%s\", %.17g, %.17g},\n", words[i], swh_quantities[q].si, factor, offset);
            rows++;
        }
    swh_unit_system_free(s);
    return !f || fclose(f) != 0 || rows < 20;
}
