/* One finished simulation and how it is told: summary.json and a summary in words. */
#ifndef SWH_CLI_BASE_RESULT_H
#define SWH_CLI_BASE_RESULT_H

#include "solver/files/notes.h"
#include "solver/files/scenario.h"
#include "solver/simulate/run.h"

#include <jansson.h>
#include <stdio.h>

struct swh_result {
    const struct swh_scenario *scenario;
    const struct swh_summary *summary;
    const struct swh_notes *notes;
    const struct swh_error *stopped; /* why the integrator could not go on; holds no error if it could */
    const char *folder;              /* of the results */
    bool replay;
    double warming; /* K/min of the rotor over the last ten minutes; NaN: not known */
};
/* From here on a rotor is not at rest [K/min]. */
#define SWH_STILL_WARMS 0.05

/* The summary as JSON, values in SI base units; NULL if memory is short. The caller decrefs. */
json_t *swh_result_json(const struct swh_result *r);
/* A JSON text; what is not UTF-8 (a header in an old code page) becomes '?' rather than be lost, what is
 * beyond 1023 bytes is cut off. */
json_t *swh_json_text(const char *s);
/* A JSON number, null for NaN and infinities. */
json_t *swh_json_number(double x);
/* {"value": x, "unit": "K"} in the SI base unit of `quantity` */
json_t *swh_json_quantity(double x, enum swh_quantity quantity);
/* A parameter's value with its standard deviation: {"value": x, "unit": "K", "spread": s}, SI. */
json_t *swh_json_param(int param, double value, double spread);
/* Writes JSON as all of the program's JSON is written: indented, 12 digits. false
 * if it did not get through. */
bool swh_json_write(const json_t *json, FILE *f);

/* Several finished simulations side by side: outcome, readings, duty. */
void swh_result_print_table(const struct swh_result *r, int count, const struct swh_units *units,
                            enum swh_show show, FILE *f);
/* Every channel: least, greatest, mean and last value. */
void swh_result_print_channels(const struct swh_result *r, const struct swh_units *units, enum swh_show show,
                               FILE *f);
/* The summary in words. */
void swh_result_print(const struct swh_result *r, const struct swh_units *units, enum swh_show show, FILE *f);
/* One sentence: the answer. Returns out. */
const char *swh_result_answer(const struct swh_result *r, const struct swh_units *units, enum swh_show show,
                              char *out, size_t size);

/* Is this ledger path one of the compressor metal's own balance (others are outside it)? */
bool swh_ledger_of_body(int channel);

#endif
