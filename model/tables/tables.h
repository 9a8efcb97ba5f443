/* The tables (*.def) as C: enums, structs of doubles, and descriptions to look up. Everything SI. */
#ifndef SWH_MODEL_TABLES_TABLES_H
#define SWH_MODEL_TABLES_TABLES_H

#include <math.h>

/* ---- quantities ---- */
enum swh_quantity {
#define QUANTITY(id, si, show_si, show_trade, help) SWH_Q_##id,
#include "model/tables/quantities.def"
#undef QUANTITY
    SWH_QUANTITY_COUNT
};
struct swh_quantity_info {
    const char *id, *si, *show_si, *show_trade, *help;
};
extern const struct swh_quantity_info swh_quantities[SWH_QUANTITY_COUNT];

/* ---- parameters: a struct of doubles that is also an array, indexed by enum swh_param ---- */
enum swh_param {
#define PARAM(section, key, quantity, unit, value, lo, hi, source, help) SWH_P_##section##_##key,
#include "model/tables/params.def"
#undef PARAM
    SWH_PARAM_COUNT
};
struct swh_params {
#define PARAM(section, key, quantity, unit, value, lo, hi, source, help) double section##_##key;
#include "model/tables/params.def"
#undef PARAM
};
_Static_assert(sizeof(struct swh_params) == SWH_PARAM_COUNT * sizeof(double),
               "parameters are an array of doubles");

struct swh_param_info {
    const char *section, *key, *name; /* name = "section.key" */
    enum swh_quantity quantity;
    const char *unit;     /* in which it is shown */
    double value, lo, hi; /* default and limits [SI] */
    const char *source, *help;
};
extern const struct swh_param_info swh_param_table[SWH_PARAM_COUNT];

void swh_params_default(struct swh_params *p);
int swh_param_find(const char *name); /* "section.key"; -1 if unknown */
double swh_param_get(const struct swh_params *p, int param);
void swh_param_set(struct swh_params *p, int param, double value);

/* ---- choices ---- */
enum swh_choice {
#define CHOICE(section, key, value, options, help) SWH_C_##section##_##key,
#include "model/tables/choices.def"
#undef CHOICE
    SWH_CHOICE_COUNT
};
struct swh_choices {
#define CHOICE(section, key, value, options, help) int section##_##key;
#include "model/tables/choices.def"
#undef CHOICE
};
struct swh_choice_info {
    const char *section, *key, *name;
    int value;
    const char *options; /* "a|b|c" */
    const char *help;
};
extern const struct swh_choice_info swh_choice_table[SWH_CHOICE_COUNT];
void swh_choices_default(struct swh_choices *c);
int swh_choice_find(const char *name);               /* "section.key"; -1 if unknown */
int swh_choice_option(int choice, const char *word); /* index of the option; -1 if unknown */
void swh_choice_set(struct swh_choices *c, int choice, int option);
int swh_choice_get(const struct swh_choices *c, int choice);
/* Copies the word of option `option` into out (size n); returns 0, or -1 if there is no such option. */
int swh_choice_word(int choice, int option, char *out, unsigned n);

enum { SWH_EXPANSION_VALVE = 0, SWH_EXPANSION_ORIFICE = 1 };                     /* ORDER of choices.def */
enum { SWH_CIRCUIT_CLOSED = 0, SWH_CIRCUIT_PORTS = 1 };                          /* ORDER of choices.def */
enum { SWH_CYCLING_NONE, SWH_CYCLING_LOW, SWH_CYCLING_FROST, SWH_CYCLING_BOTH }; /* ORDER of choices.def */
enum { SWH_LIQUID_AT_CONDENSER, SWH_LIQUID_AT_VALVE };                           /* ORDER of choices.def */

/* ---- inputs ---- */
enum swh_input {
#define INPUT(id, quantity, shape, value, lo, hi, help) SWH_IN_##id,
#include "model/tables/inputs.def"
#undef INPUT
    SWH_INPUT_COUNT
};
struct swh_inputs {
#define INPUT(id, quantity, shape, value, lo, hi, help) double id;
#include "model/tables/inputs.def"
#undef INPUT
};
enum swh_shape { SWH_SHAPE_LINEAR, SWH_SHAPE_STEP };
struct swh_input_info {
    const char *id;
    enum swh_quantity quantity;
    enum swh_shape shape;
    double value, lo, hi;
    const char *help;
};
extern const struct swh_input_info swh_input_table[SWH_INPUT_COUNT];
void swh_inputs_default(struct swh_inputs *in);
int swh_input_find(const char *id);
static inline double *swh_input_at(struct swh_inputs *in, int i)
{
    return (double *)in + i;
}

/* ---- channels ---- */
enum swh_channel {
#define CHANNEL(id, quantity, group, lo, hi, sigma, offset, lag, help) SWH_CH_##id,
#include "model/tables/channels.def"
#undef CHANNEL
    SWH_CHANNEL_COUNT
};
enum swh_channel_group { SWH_GROUP_READING, SWH_GROUP_INSIDE, SWH_GROUP_LEDGER };
struct swh_channel_info {
    const char *id;
    enum swh_quantity quantity;
    enum swh_channel_group group;
    double lo, hi, sigma, offset_sigma, lag;
    const char *help;
};
extern const struct swh_channel_info swh_channel_table[SWH_CHANNEL_COUNT];
int swh_channel_find(const char *id);

/* ---- oils, compressors ---- */
struct swh_oil_info {
    const char *name;
    double viscosity_40, viscosity_100, density;
    const char *help;
};
extern const struct swh_oil_info swh_oils[];
extern const int swh_oil_count;
struct swh_compressor_info {
    const char *name;
    double displacement, bore, stroke, plate_radius;
    const char *help;
};
extern const struct swh_compressor_info swh_compressors[];
extern const int swh_compressor_count;
/* Oil and valve area that vehicles of a refrigerant usually have (usual.def); 0, or -1 if unknown. */
int swh_usual_set(struct swh_params *p, const char *refrigerant);
/* Volume that cylinders, bore and stroke sweep in a revolution [m3]. */
double swh_swept_volume(const struct swh_params *p);
int swh_oil_set(struct swh_params *p, const char *name);        /* 0, or -1 if unknown */
int swh_compressor_set(struct swh_params *p, const char *name); /* 0, or -1 if unknown */

/* ---- faults ---- */
enum swh_fault {
#define FAULT(id, change, acts_on, severity, seen, repair, often) SWH_FAULT_##id,
#include "model/tables/faults.def"
#undef FAULT
    SWH_FAULT_COUNT
};
struct swh_fault_info {
    const char *id, *acts_on, *severity, *seen, *repair;
    double often; /* against the other faults, before any reading; common practice, no source */
};
extern const struct swh_fault_info swh_fault_table[SWH_FAULT_COUNT];
int swh_fault_find(const char *id);
/* Changes the effective parameters by one fault of severity 0..1. Severity 0 changes no bit. */
void swh_fault_apply(struct swh_params *p, enum swh_fault fault, double severity);

#endif
