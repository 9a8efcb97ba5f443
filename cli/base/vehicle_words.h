/* A vehicle as the program understood it, in the words of its label. */
#ifndef SWH_CLI_BASE_VEHICLE_WORDS_H
#define SWH_CLI_BASE_VEHICLE_WORDS_H

#include "cli/base/session.h"
#include "solver/files/scenario.h"

/* Prints refrigerant, charge, oil, compressor, switches, what else is set and how much is left generic; then
 * how doubtful words were taken. */
void swh_vehicle_print(const struct swh_session *s, const struct swh_scenario *v, FILE *f);
/* "794 g (28.0 oz)" */
const char *swh_mass_text(double mass, char *out, size_t size);

#endif
