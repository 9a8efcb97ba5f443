/* Units at the edge: words of the user to and from SI, through UDUNITS-2. Everything inside is SI; absolute
 * pressures; rotation in revolutions per second. */
#ifndef SWH_SOLVER_FILES_UNITS_H
#define SWH_SOLVER_FILES_UNITS_H

#include "model/base/status.h"
#include "model/tables/tables.h"

#include <stdbool.h>
#include <stddef.h>

#define SWH_STANDARD_ATMOSPHERE 101325.0 /* Pa; ISO 2533 */

/* SI value = factor * x + offset, and for a gauge pressure + the pressure of the air outside. */
struct swh_unit {
    double factor, offset;
    bool gauge, absolute; /* a pressure whose unit says so: "barg", "bara" */
};

enum swh_show { SWH_SHOW_SI, SWH_SHOW_TRADE, SWH_SHOW_BASE }; /* degC barg kg; degF psig lb; K Pa kg */

struct swh_units; /* the unit system; read-only once created */

/* Reads UDUNITS' tables. NULL with err set if they are not installed. Given back with swh_units_free. */
struct swh_units *swh_units_create(struct swh_error *err);
void swh_units_free(struct swh_units *u);

/* The quantity of a difference of two values: of temperatures, of pressures; else the same. */
enum swh_quantity swh_units_difference(enum swh_quantity quantity);

/* Finds the unit `text` for values of `quantity`. For a pressure bar, psi, ... are absolute and barg, psig,
 * kPag, "bar(g)" ... gauge. SWH_ERR_INPUT if it is unknown or of the wrong kind, saying what was expected. */
enum swh_status swh_unit_find(const struct swh_units *u, const char *text, enum swh_quantity quantity,
                              struct swh_unit *out, struct swh_error *err);
/* `atmosphere` [Pa] is what gauge pressures count from. */
double swh_unit_to_si(const struct swh_unit *unit, double x, double atmosphere);
double swh_unit_from_si(const struct swh_unit *unit, double si, double atmosphere);

/* Reads "12 um", "30psig", "1 3/4 lb", "1 lb 12 oz", "0.4" (no unit: only if the quantity is a plain number).
 * Gauge pressures count from the standard atmosphere. */
enum swh_status swh_units_read(const struct swh_units *u, const char *text, enum swh_quantity quantity,
                               double *si, struct swh_error *err);

/* The same as a workshop writes it: a pressure in psi, bar, kPa, MPa that does not say so counts from the air
 * outside, and *taken_as_gauge is set. Pa are absolute; inches of mercury, which on a gauge count vacuum, are
 * refused. */
enum swh_status swh_units_read_gauge(const struct swh_units *u, const char *text, enum swh_quantity quantity,
                                     bool *taken_as_gauge, double *si, struct swh_error *err);

/* The unit in which a quantity is shown, and its word. */
const struct swh_unit *swh_units_shown(const struct swh_units *u, enum swh_show show,
                                       enum swh_quantity quantity);
const char *swh_units_word(enum swh_show show, enum swh_quantity quantity);
double swh_units_show(const struct swh_units *u, enum swh_show show, enum swh_quantity quantity, double si);
/* "82.5 degC" into out; "-" for NaN. Returns out. */
const char *swh_units_text(const struct swh_units *u, enum swh_show show, enum swh_quantity quantity,
                           double si, char *out, size_t size);

#endif
