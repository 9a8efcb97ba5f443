/* swashheat state: refrigerant properties and pressure-temperature charts. */
#include "cli/base/result.h"
#include "cli/base/session.h"
#include "cli/commands/look/chart.h"
#include "solver/files/refrigerant_file.h"
#include "solver/files/suggest.h"

#include <math.h>
#include <string.h>

/* what two properties a state can be given by */
enum given { PRESSURE, TEMPERATURE, ENTHALPY, ENTROPY, DENSITY, QUALITY, GIVEN_COUNT };
static const struct {
    const char *name;
    enum swh_quantity quantity;
} properties[GIVEN_COUNT] = {
    {"pressure", SWH_Q_PRESSURE},        {"temperature", SWH_Q_TEMPERATURE},
    {"enthalpy", SWH_Q_SPECIFIC_ENERGY}, {"entropy", SWH_Q_SPECIFIC_ENTROPY},
    {"density", SWH_Q_DENSITY},          {"quality", SWH_Q_NONE},
};

static const struct {
    enum given first, second;
    enum swh_pair pair;
} pairs[] = {
    {PRESSURE, TEMPERATURE, SWH_PT}, {PRESSURE, ENTHALPY, SWH_PH},     {PRESSURE, ENTROPY, SWH_PS},
    {PRESSURE, DENSITY, SWH_PRHO},   {PRESSURE, QUALITY, SWH_PX},      {TEMPERATURE, ENTHALPY, SWH_TH},
    {TEMPERATURE, ENTROPY, SWH_TS},  {TEMPERATURE, DENSITY, SWH_TRHO}, {TEMPERATURE, QUALITY, SWH_TX},
    {ENTHALPY, ENTROPY, SWH_HS},     {DENSITY, ENTHALPY, SWH_RHOH},    {DENSITY, ENTROPY, SWH_RHOS},
};

static double property_of(const struct swh_state *s, enum given what)
{
    const double v[GIVEN_COUNT] = {s->P, s->T, s->h, s->s, s->rho, s->x};
    return v[what];
}

/* ---- a quality with something else than pressure or temperature: along the saturation line ---- */

static double off(const struct swh_eos *r, double T, double x, enum given what, double target)
{
    struct swh_state s;
    return swh_state_exact(r, SWH_TX, T, x, &s, NULL) == SWH_OK ? property_of(&s, what) - target : NAN;
}

static double bisect(const struct swh_eos *r, double lo, double hi, double x, enum given what, double target)
{
    const double at_lo = off(r, lo, x, what, target);
    for (int i = 0; i < 60; i++) {
        const double mid = 0.5 * (lo + hi);
        if ((off(r, mid, x, what, target) < 0) == (at_lo < 0))
            lo = mid;
        else
            hi = mid;
    }
    return 0.5 * (lo + hi);
}

static enum swh_status along_saturation(const struct swh_eos *r, double x, enum given what, double target,
                                        struct swh_state *out, struct swh_error *err)
{
    enum { STEPS = 500 };
    const double hot = swh_critical_temperature(r) - 0.01, cold = 0.45 * hot;
    double found = NAN, before = NAN;
    int count = 0;
    for (int i = 0; i <= STEPS; i++) {
        const double T = cold + (hot - cold) * i / STEPS, now = off(r, T, x, what, target);
        if (isfinite(now) && isfinite(before) && (now < 0) != (before < 0) && ++count)
            found = bisect(r, T - (hot - cold) / STEPS, T, x, what, target);
        before = now;
    }
    if (count == 1)
        return swh_state_exact(r, SWH_TX, found, x, out, err);
    swh_error_set(err, SWH_ERR_RANGE, "%s states have that quality and that %s", count ? "several" : "no",
                  properties[what].name);
    swh_error_expected(err, "a pair that belongs to one state; give pressure or temperature");
    return SWH_ERR_RANGE;
}

/* ---- the command line ---- */

struct ask {
    const struct swh_eos *fluid;
    struct swh_eos from_file;
    char remark[SWH_REFRIGERANT_REMARK]; /* what the file does not say */
    bool given[GIVEN_COUNT];
    double value[GIVEN_COUNT];
};

static int property_called(const char *name, size_t length)
{
    for (int i = 0; i < GIVEN_COUNT; i++)
        if (strlen(properties[i].name) == length && strncmp(properties[i].name, name, length) == 0)
            return i;
    return -1;
}

static enum swh_status unknown_property(struct swh_session *s, const char *text)
{
    char word[64], expected[128];
    snprintf(word, sizeof word, "%.*s", (int)strcspn(text, "="), text);
    struct swh_nearest near = {word, NULL, 0};
    for (int i = 0; i < GIVEN_COUNT; i++)
        swh_nearest_offer(&near, properties[i].name);
    snprintf(expected, sizeof expected, "NAME=VALUE, for example pressure=3barg%s",
             swh_nearest_said(&near).text);
    return swh_misuse(s, expected, "'%s' is no property of a state", text);
}

static enum swh_status take_property(struct swh_session *s, const char *text, struct ask *ask)
{
    struct swh_error err = {0};
    const size_t length = strcspn(text, "=");
    const int i = property_called(text, length);
    if (i < 0 || text[length] != '=')
        return unknown_property(s, text);
    if (ask->given[i])
        return swh_misuse(s, "two different properties", "%s given twice", properties[i].name);
    ask->given[i] = true;
    if (swh_units_read(s->units, text + length + 1, properties[i].quantity, &ask->value[i], &err) == SWH_OK)
        return SWH_OK;
    swh_error_at(&err, properties[i].name, 0, 0);
    err.status = SWH_ERR_USAGE;
    return swh_fail(s, &err);
}

static enum swh_status find_fluid(struct swh_session *s, struct ask *ask)
{
    char expected[128];
    struct swh_error err = {0};
    if (swh_refrigerant_names_file(s->argument[0])) {
        ask->fluid = &ask->from_file;
        return swh_refrigerant_read(s->argument[0], &ask->from_file, ask->remark, &err) == SWH_OK
                   ? SWH_OK
                   : swh_fail(s, &err);
    }
    struct swh_nearest near = {s->argument[0], NULL, 0};
    const int fluid = swh_refrigerant_find(s->argument[0]);
    for (int i = 0; i < SWH_REFRIGERANT_COUNT; i++)
        swh_nearest_offer(&near, swh_refrigerant_name(swh_eos_get((enum swh_refrigerant)i)));
    snprintf(expected, sizeof expected, "a known one, or a fluid file (.json)%s",
             swh_nearest_said(&near).text);
    if (fluid < 0)
        return swh_misuse(s, expected, "unknown refrigerant '%s'", s->argument[0]);
    ask->fluid = swh_eos_get((enum swh_refrigerant)fluid);
    return SWH_OK;
}

static enum swh_status solve(const struct ask *ask, struct swh_state *out, struct swh_error *err)
{
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++)
        if (ask->given[pairs[i].first] && ask->given[pairs[i].second])
            return swh_state_exact(ask->fluid, pairs[i].pair, ask->value[pairs[i].first],
                                   ask->value[pairs[i].second], out, err);
    const enum given other = ask->given[ENTHALPY] ? ENTHALPY : ask->given[ENTROPY] ? ENTROPY : DENSITY;
    return along_saturation(ask->fluid, ask->value[QUALITY], other, ask->value[other], out, err);
}

/* ---- telling it ---- */

enum { SHOWN_MAX = 16 };
struct shown {
    const char *name;
    enum swh_quantity quantity;
    double value;
};

static const char *phase_of(const struct swh_state *s, const struct swh_eos *r)
{
    if (s->x >= 0 && s->x <= 1)
        return "two-phase";
    if (s->P > swh_critical_pressure(r) && s->T > swh_critical_temperature(r))
        return "supercritical";
    return s->x < 0 ? "liquid" : "vapour";
}

static int list_properties(const struct ask *ask, const struct swh_state *s, struct shown out[SHOWN_MAX])
{
    struct swh_saturation sat;
    const bool wet = s->x >= 0 && s->x <= 1;
    const bool below =
        s->P < swh_critical_pressure(ask->fluid) && swh_saturation_P(ask->fluid, s->P, &sat, NULL) == SWH_OK;
    const struct shown all[] = {
        {"pressure", SWH_Q_PRESSURE, s->P},
        {"temperature", SWH_Q_TEMPERATURE, s->T},
        {"density", SWH_Q_DENSITY, s->rho},
        {"enthalpy", SWH_Q_SPECIFIC_ENERGY, s->h},
        {"entropy", SWH_Q_SPECIFIC_ENTROPY, s->s},
        {"internal_energy", SWH_Q_SPECIFIC_ENERGY, s->u},
        {"quality", SWH_Q_NONE, wet ? s->x : NAN},
        {"saturation_temperature", SWH_Q_TEMPERATURE, below ? sat.T : NAN},
        {"superheat", SWH_Q_TEMPERATURE_DIFFERENCE, below && s->x > 1 ? s->T - sat.T : NAN},
        {"subcooling", SWH_Q_TEMPERATURE_DIFFERENCE, below && s->x < 0 ? sat.T - s->T : NAN},
        {"specific_heat_cp", SWH_Q_SPECIFIC_ENTROPY, s->cp},
        {"specific_heat_cv", SWH_Q_SPECIFIC_ENTROPY, s->cv},
        {"speed_of_sound", SWH_Q_SPEED, s->w},
        {"viscosity", SWH_Q_VISCOSITY, s->mu},
    };
    memcpy(out, all, sizeof all);
    return (int)(sizeof all / sizeof all[0]);
}

static void print_state(const struct swh_session *s, const struct ask *ask, const struct swh_state *state)
{
    struct shown shown[SHOWN_MAX];
    const enum swh_show show = swh_session_show(s);
    const int n = list_properties(ask, state, shown);
    printf("%s, %s\n", swh_refrigerant_name(ask->fluid), phase_of(state, ask->fluid));
    for (int i = 0; i < n; i++) {
        /* the speed of sound is not a road speed */
        const enum swh_show in = shown[i].quantity == SWH_Q_SPEED ? SWH_SHOW_BASE : show;
        if (isfinite(shown[i].value))
            printf("  %-24s %12.6g %s\n", shown[i].name,
                   swh_units_show(s->units, in, shown[i].quantity, shown[i].value),
                   shown[i].quantity == SWH_Q_NONE ? "" : swh_units_word(in, shown[i].quantity));
    }
    printf("  %-24s %12.6g %s\n", "absolute pressure",
           swh_units_show(s->units, show, SWH_Q_PRESSURE_DIFFERENCE, state->P),
           swh_units_word(show, SWH_Q_PRESSURE_DIFFERENCE));
    if (ask->remark[0])
        printf("%s.\n", ask->remark);
}

static void write_state(const struct ask *ask, const struct swh_state *state)
{
    struct shown shown[SHOWN_MAX];
    const int n = list_properties(ask, state, shown);
    json_t *o = json_pack("{s:s, s:s}", "fluid", swh_refrigerant_name(ask->fluid), "phase",
                          phase_of(state, ask->fluid));
    for (int i = 0; i < n; i++)
        json_object_set_new(o, shown[i].name, swh_json_quantity(shown[i].value, shown[i].quantity));
    if (ask->remark[0])
        json_object_set_new(o, "remark", json_string(ask->remark));
    swh_json_write(o, stdout);
    json_decref(o);
}

static enum swh_status tell_state(struct swh_session *s, const struct ask *ask)
{
    struct swh_error err = {0};
    struct swh_state state;
    if (solve(ask, &state, &err) != SWH_OK) {
        err.status = SWH_ERR_USAGE; /* what was asked for does not exist */
        return swh_fail(s, &err);
    }
    if (swh_given(s, SWH_OPT_json))
        write_state(ask, &state);
    else
        print_state(s, ask, &state);
    return SWH_OK;
}

enum swh_status swh_cmd_state(struct swh_session *s)
{
    struct ask ask = {0};
    enum swh_status status = find_fluid(s, &ask);
    if (status != SWH_OK)
        return status;
    if (swh_given(s, SWH_OPT_chart))
        return s->arguments == 1 ? swh_chart(s, ask.fluid)
                                 : swh_misuse(s, "the refrigerant only", "a chart at '%s'", s->argument[1]);
    for (int i = 1; i < s->arguments && status == SWH_OK; i++)
        status = take_property(s, s->argument[i], &ask);
    if (status != SWH_OK)
        return status;
    if (s->arguments != 3)
        return swh_misuse(
            s, "two of pressure, temperature, enthalpy, entropy, density, quality, or --chart=FROM:TO:STEP",
            "%d properties", s->arguments - 1);
    return tell_state(s, &ask);
}
