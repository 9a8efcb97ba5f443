#include "model/tables/tables.h"

#include "model/tables/events.h"

#include <stdio.h>
#include <string.h>

const struct swh_quantity_info swh_quantities[SWH_QUANTITY_COUNT] = {
#define QUANTITY(id, si, show_si, show_trade, help) {#id, si, show_si, show_trade, help},
#include "model/tables/quantities.def"
#undef QUANTITY
};

const struct swh_param_info swh_param_table[SWH_PARAM_COUNT] = {
#define PARAM(section, key, quantity, unit, value, lo, hi, source, help)                                     \
    {#section, #key, #section "." #key, SWH_Q_##quantity, unit, value, lo, hi, source, help},
#include "model/tables/params.def"
#undef PARAM
};

const struct swh_choice_info swh_choice_table[SWH_CHOICE_COUNT] = {
#define CHOICE(section, key, value, options, help) {#section, #key, #section "." #key, value, options, help},
#include "model/tables/choices.def"
#undef CHOICE
};

const struct swh_input_info swh_input_table[SWH_INPUT_COUNT] = {
#define INPUT(id, quantity, shape, value, lo, hi, help)                                                      \
    {#id, SWH_Q_##quantity, SWH_SHAPE_##shape, (double)(value), lo, hi, help},
#include "model/tables/inputs.def"
#undef INPUT
};

const struct swh_channel_info swh_channel_table[SWH_CHANNEL_COUNT] = {
#define CHANNEL(id, quantity, group, lo, hi, sigma, offset, lag, help)                                       \
    {#id, SWH_Q_##quantity, SWH_GROUP_##group, lo, hi, sigma, offset, lag, help},
#include "model/tables/channels.def"
#undef CHANNEL
};

const struct swh_oil_info swh_oils[] = {
#define OIL(name, v40, v100, density, help) {#name, v40, v100, density, help},
#include "model/tables/oils.def"
#undef OIL
};
const int swh_oil_count = (int)(sizeof swh_oils / sizeof swh_oils[0]);

const struct swh_compressor_info swh_compressors[] = {
#define COMPRESSOR(name, displacement, bore, stroke, radius, help)                                           \
    {#name, displacement, bore, stroke, radius, help},
#include "model/tables/compressors.def"
#undef COMPRESSOR
};
const int swh_compressor_count = (int)(sizeof swh_compressors / sizeof swh_compressors[0]);

const struct swh_fault_info swh_fault_table[SWH_FAULT_COUNT] = {
#define FAULT(id, change, acts_on, severity, seen, repair, often)                                            \
    {#id, acts_on, severity, seen, repair, often},
#include "model/tables/faults.def"
#undef FAULT
};

void swh_params_default(struct swh_params *p)
{
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        swh_param_set(p, i, swh_param_table[i].value);
}

int swh_param_find(const char *name)
{
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        if (strcmp(name, swh_param_table[i].name) == 0)
            return i;
    return -1;
}

double swh_param_get(const struct swh_params *p, int param)
{
    return ((const double *)p)[param];
}

void swh_param_set(struct swh_params *p, int param, double value)
{
    ((double *)p)[param] = value;
}

void swh_choices_default(struct swh_choices *c)
{
    for (int i = 0; i < SWH_CHOICE_COUNT; i++)
        swh_choice_set(c, i, swh_choice_table[i].value);
}

int swh_choice_find(const char *name)
{
    for (int i = 0; i < SWH_CHOICE_COUNT; i++)
        if (strcmp(name, swh_choice_table[i].name) == 0)
            return i;
    return -1;
}

/* start and length of option number `option` in "a|b|c"; NULL if there is none */
static const char *option_at(const char *options, int option, size_t *length)
{
    const char *s = options;
    for (int i = 0; i < option && s; i++) {
        s = strchr(s, '|');
        if (s)
            s++;
    }
    if (s)
        *length = strcspn(s, "|");
    return s;
}

int swh_choice_option(int choice, const char *word)
{
    size_t length = 0;
    for (int i = 0;; i++) {
        const char *s = option_at(swh_choice_table[choice].options, i, &length);
        if (!s)
            return -1;
        if (strlen(word) == length && strncmp(s, word, length) == 0)
            return i;
    }
}

void swh_choice_set(struct swh_choices *c, int choice, int option)
{
    ((int *)c)[choice] = option;
}

int swh_choice_get(const struct swh_choices *c, int choice)
{
    return ((const int *)c)[choice];
}

int swh_choice_word(int choice, int option, char *out, unsigned n)
{
    size_t length = 0;
    const char *s = option_at(swh_choice_table[choice].options, option, &length);
    if (!s)
        return -1;
    snprintf(out, n, "%.*s", (int)length, s);
    return 0;
}

void swh_inputs_default(struct swh_inputs *in)
{
    for (int i = 0; i < SWH_INPUT_COUNT; i++)
        *swh_input_at(in, i) = swh_input_table[i].value;
}

int swh_input_find(const char *id)
{
    for (int i = 0; i < SWH_INPUT_COUNT; i++)
        if (strcmp(id, swh_input_table[i].id) == 0)
            return i;
    return -1;
}

int swh_channel_find(const char *id)
{
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        if (strcmp(id, swh_channel_table[i].id) == 0)
            return i;
    return -1;
}

double swh_swept_volume(const struct swh_params *p)
{
    const double pi = 3.14159265358979323846;
    return p->compressor_cylinders * 0.25 * pi * p->compressor_bore * p->compressor_bore *
           p->compressor_stroke;
}

int swh_oil_set(struct swh_params *p, const char *name)
{
    for (int i = 0; i < swh_oil_count; i++) {
        if (strcmp(name, swh_oils[i].name) != 0)
            continue;
        p->oil_viscosity_40 = swh_oils[i].viscosity_40;
        p->oil_viscosity_100 = swh_oils[i].viscosity_100;
        p->oil_density = swh_oils[i].density;
        return 0;
    }
    return -1;
}

int swh_usual_set(struct swh_params *p, const char *refrigerant)
{
    static const struct {
        const char *refrigerant, *oil;
        double area;
    } usual[] = {
#define USUAL(refrigerant, oil, area) {#refrigerant, oil, area},
#include "model/tables/usual.def"
#undef USUAL
    };
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++)
        if (strcmp(refrigerant, usual[i].refrigerant) == 0) {
            p->valve_area = usual[i].area;
            return swh_oil_set(p, usual[i].oil);
        }
    return -1;
}

int swh_compressor_set(struct swh_params *p, const char *name)
{
    for (int i = 0; i < swh_compressor_count; i++) {
        if (strcmp(name, swh_compressors[i].name) != 0)
            continue;
        p->compressor_displacement = swh_compressors[i].displacement;
        p->compressor_bore = swh_compressors[i].bore;
        p->compressor_stroke = swh_compressors[i].stroke;
        p->compressor_plate_radius = swh_compressors[i].plate_radius;
        return 0;
    }
    return -1;
}

int swh_fault_find(const char *id)
{
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        if (strcmp(id, swh_fault_table[i].id) == 0)
            return i;
    return -1;
}

void swh_fault_apply(struct swh_params *p, enum swh_fault fault, double severity)
{
    const double s = severity;
    if (s == 0)
        return;
    switch (fault) {
#define FAULT(id, change, acts_on, severity_text, seen, repair, often)                                       \
    case SWH_FAULT_##id:                                                                                     \
        change;                                                                                              \
        break;
#include "model/tables/faults.def"
#undef FAULT
    case SWH_FAULT_COUNT:
        break;
    }
}

const struct swh_event_info swh_seizure_table[SWH_SEIZURE_COUNT] = {
#define SEIZURE(id, words) {#id, words},
#include "model/tables/seizures.def"
#undef SEIZURE
};

const struct swh_event_info swh_event_table[SWH_EVENT_COUNT] = {
#define EVENT(id, help) {#id, help},
#include "model/tables/events.def"
#undef EVENT
};
