#include "cli/base/vehicle_words.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

#define OUNCE 0.028349523125 /* kg; NIST SP 811 */

const char *swh_mass_text(double mass, char *out, size_t size)
{
    snprintf(out, size, "%.0f g (%.1f oz)", 1e3 * mass, mass / OUNCE);
    return out;
}

struct printer {
    const struct swh_session *s;
    const struct swh_scenario *v;
    FILE *f;
    bool told[SWH_PARAM_COUNT];
};

static bool is_set(const struct printer *p, int param)
{
    return p->v->params[param] != SWH_FROM_DEFAULT;
}

static const char *usual(bool set)
{
    return set ? "" : "   (usual, not set)";
}

static void line(const struct printer *p, const char *name, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
static void line(const struct printer *p, const char *name, const char *format, ...)
{
    va_list ap;
    fprintf(p->f, "    %-34s ", name);
    va_start(ap, format);
    vfprintf(p->f, format, ap);
    va_end(ap);
    fputc('\n', p->f);
}

static const char *text(const struct printer *p, int param, char *out, size_t size)
{
    return swh_units_text(p->s->units, swh_session_show(p->s), swh_param_table[param].quantity,
                          swh_param_get(&p->v->c.params, param), out, size);
}

static void print_switch(struct printer *p, const char *name, int open, int close)
{
    char a[48], b[48];
    line(p, name, "opens at %s, closes at %s%s", text(p, open, a, sizeof a), text(p, close, b, sizeof b),
         usual(is_set(p, open) || is_set(p, close)));
    p->told[open] = p->told[close] = true;
}

static const char *grade(const struct swh_params *p)
{
    for (int i = 0; i < swh_oil_count; i++)
        if (fabs(swh_oils[i].viscosity_40 - p->oil_viscosity_40) < 1e-9 &&
            fabs(swh_oils[i].viscosity_100 - p->oil_viscosity_100) < 1e-9)
            return swh_oils[i].name;
    return "oil of its own";
}

static void print_fill(struct printer *p)
{
    const struct swh_params *q = &p->v->c.params;
    char mass[64];
    const char *word = swh_refrigerant_name(swh_fluid_eos(swh_case_refrigerant(&p->v->c)));
    line(p, "refrigerant", "%s, %s%s", word, swh_mass_text(q->charge_nominal, mass, sizeof mass),
         usual(is_set(p, SWH_P_charge_nominal)));
    line(p, "oil", "%s, %s, %.0f cm3%s", grade(q), swh_mass_text(q->oil_total, mass, sizeof mass),
         1e6 * q->oil_total / q->oil_density, usual(is_set(p, SWH_P_oil_total)));
    p->told[SWH_P_charge_nominal] = p->told[SWH_P_oil_total] = true;
    p->told[SWH_P_oil_viscosity_40] = p->told[SWH_P_oil_viscosity_100] = p->told[SWH_P_oil_density] = true;
}

/* A displacement does not say of what: where nothing is said of the cylinders, those of another size stay. */
static void print_cylinders(struct printer *p)
{
    const struct swh_params *q = &p->v->c.params;
    const double made = swh_swept_volume(q);
    if (fabs(made - q->compressor_displacement) > 0.03 * q->compressor_displacement)
        line(p, "its cylinders", "%.0f of %.3g mm bore and %.3g mm stroke, of a machine of %.0f cm3%s",
             q->compressor_cylinders, 1e3 * q->compressor_bore, 1e3 * q->compressor_stroke, 1e6 * made,
             usual(false));
}

static void print_machine(struct printer *p)
{
    const struct swh_params *q = &p->v->c.params;
    const bool valve = p->v->c.choices.vehicle_expansion == SWH_EXPANSION_VALVE;
    line(p, "expansion", "%s", valve ? "valve (TXV) with receiver" : "orifice tube with accumulator");
    line(p, "compressor", "%.0f cm3 per revolution%s", 1e6 * q->compressor_displacement,
         usual(is_set(p, SWH_P_compressor_displacement)));
    print_cylinders(p);
    line(p, "pulley ratio", "%.3g, so %.0f rpm at an engine's idle of 750 rpm%s", q->controls_pulley_ratio,
         750 * q->controls_pulley_ratio, usual(is_set(p, SWH_P_controls_pulley_ratio)));
    p->told[SWH_P_compressor_displacement] = p->told[SWH_P_controls_pulley_ratio] = true;
}

static void print_switches(struct printer *p)
{
    const struct swh_choices *c = &p->v->c.choices;
    const int cycling = c->controls_cycling;
    if (cycling == SWH_CYCLING_LOW || cycling == SWH_CYCLING_BOTH)
        print_switch(p, "low-pressure switch", SWH_P_controls_low_open, SWH_P_controls_low_close);
    if (cycling == SWH_CYCLING_FROST || cycling == SWH_CYCLING_BOTH)
        print_switch(p, "frost thermostat", SWH_P_controls_frost_open, SWH_P_controls_frost_close);
    if (cycling == SWH_CYCLING_NONE)
        line(p, "cold side", "nothing cycles the clutch");
    if (c->controls_high_pressure)
        print_switch(p, "high-pressure switch", SWH_P_controls_high_open, SWH_P_controls_high_close);
    else
        line(p, "high-pressure switch", "none");
    if (p->v->c.params.controls_fan_on > 0)
        print_switch(p, "fan switch", SWH_P_controls_fan_off, SWH_P_controls_fan_on);
}

/* what else the file sets, by its keys; then how much it leaves */
static void print_rest(const struct printer *p)
{
    int set = 0, more = 0;
    char value[64];
    for (int i = 0; i < SWH_PARAM_COUNT; i++) {
        set += is_set(p, i);
        if (!is_set(p, i) || p->told[i])
            continue;
        if (more++ < 12)
            line(p, swh_param_table[i].name, "%s", text(p, i, value, sizeof value));
    }
    if (more > 12)
        line(p, "", "and %d more", more - 12);
    line(p, "everything else", "generic: %d numbers", (int)SWH_PARAM_COUNT - set);
}

void swh_vehicle_print(const struct swh_session *s, const struct swh_scenario *v, FILE *f)
{
    struct printer p = {.s = s, .v = v, .f = f};
    fprintf(f, "  The vehicle, as it was understood\n");
    print_fill(&p);
    print_machine(&p);
    print_switches(&p);
    print_rest(&p);
    for (int i = 0; i < v->notes.count; i++)
        fprintf(f, "  Note: %s%s\n", v->notes.text[i], swh_note_end(v->notes.text[i]));
}
