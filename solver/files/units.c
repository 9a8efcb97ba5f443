#include "solver/files/units.h"

#include "model/base/constants.h"

#include "solver/files/number.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <udunits2.h>

struct swh_units {
    ut_system *system;
    struct swh_unit shown[3][SWH_QUANTITY_COUNT]; /* by enum swh_show */
};

/* Spellings that UDUNITS reads as something else (mph: milliphot, C: coulomb, oz:
 * fluid ounce) or not at all. */
static const struct alias {
    enum swh_quantity quantity;
    const char *text, *meant;
} aliases[] = {
    {SWH_Q_TEMPERATURE, "C", "degC"},
    {SWH_Q_TEMPERATURE,
     "\xC2\xB0"
     "C",
     "degC"},
    {SWH_Q_TEMPERATURE,
     "\xB0"
     "C",
     "degC"},
    {SWH_Q_TEMPERATURE, "deg C", "degC"},
    {SWH_Q_TEMPERATURE, "F", "degF"},
    {SWH_Q_TEMPERATURE,
     "\xC2\xB0"
     "F",
     "degF"},
    {SWH_Q_TEMPERATURE,
     "\xB0"
     "F",
     "degF"},
    {SWH_Q_TEMPERATURE, "deg F", "degF"},
    {SWH_Q_TEMPERATURE_DIFFERENCE, "C", "K"},
    {SWH_Q_TEMPERATURE_DIFFERENCE, "F", "degF"},
    {SWH_Q_SPEED, "mph", "mile/hour"},
    {SWH_Q_SPEED, "MPH", "mile/hour"},
    {SWH_Q_SPEED, "mi/h", "mile/hour"},
    {SWH_Q_SPEED, "kph", "km/hour"},
    {SWH_Q_SPEED, "kmh", "km/hour"},
    {SWH_Q_SPEED, "kmph", "km/hour"},
    {SWH_Q_PRESSURE, "kg/cm2", "kgf/cm2"},
    {SWH_Q_PRESSURE, "PSI", "psi"},
    {SWH_Q_PRESSURE, "Bar", "bar"},
    {SWH_Q_PRESSURE, "kpa", "kPa"},
    {SWH_Q_PRESSURE_DIFFERENCE, "PSI", "psi"},
    {SWH_Q_MASS, "oz", "lb/16"},
    {SWH_Q_TIME, "sec", "s"},
    {SWH_Q_TIME, "secs", "s"},
};

/* Rotation is counted in revolutions: UDUNITS would slip in 2 pi between Hz and rpm. */
static const struct rotation {
    const char *text;
    double per_second;
} rotations[] = {
    {"rps", 1.0},         {"r/s", 1.0},
    {"rev/s", 1.0},       {"Hz", 1.0},
    {"1/s", 1.0},         {"s-1", 1.0},
    {"rpm", 1.0 / 60},    {"RPM", 1.0 / 60},
    {"r/min", 1.0 / 60},  {"rev/min", 1.0 / 60},
    {"1/min", 1.0 / 60},  {"min-1", 1.0 / 60},
    {"min^-1", 1.0 / 60}, {"rad/s", 0.5 / SWH_PI},
};

static const char *const gauge_endings[] = {" gauge", "_g", "(g)", " (g)", " g", "g"};
static const char *const absolute_endings[] = {" absolute", " abs", "_a", "(a)", " (a)", " a", "a"};
static const char *const pressure_stems[] = {"Pa",  "hPa", "kPa", "kpa", "MPa",   "mbar",
                                             "bar", "Bar", "psi", "PSI", "kg/cm2"};

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

/* UDUNITS' word for the user's */
static const char *meant(const char *text, enum swh_quantity quantity)
{
    for (size_t i = 0; i < COUNT(aliases); i++)
        if (aliases[i].quantity == quantity && strcmp(aliases[i].text, text) == 0)
            return aliases[i].meant;
    return text;
}

static bool is_stem(const char *text, size_t n)
{
    for (size_t i = 0; i < COUNT(pressure_stems); i++)
        if (strlen(pressure_stems[i]) == n && strncmp(pressure_stems[i], text, n) == 0)
            return true;
    return false;
}

/* takes one of the endings off a pressure unit: "barg" becomes "bar" */
static bool take_ending(char *text, const char *const *endings, size_t count)
{
    const size_t n = strlen(text);
    for (size_t i = 0; i < count; i++) {
        const size_t e = strlen(endings[i]);
        if (n > e && strcmp(text + n - e, endings[i]) == 0 && is_stem(text, n - e)) {
            text[n - e] = '\0';
            return true;
        }
    }
    return false;
}

/* what UDUNITS may not be asked: it would read "5 K" or "s@0" as a unit */
static bool is_odd(const char *text)
{
    return strchr(text, '@') ||
           (isdigit((unsigned char)text[0]) && strcmp(text, "1") != 0 && text[1] != '/') || text[0] == '-' ||
           text[0] == '+' || text[0] == '.' || strlen(text) > 60;
}

/* factor and offset of `unit` over `si`, if it can be converted by a straight line */
static bool affine(ut_unit *unit, ut_unit *si, struct swh_unit *out)
{
    cv_converter *c = ut_are_convertible(unit, si) ? ut_get_converter(unit, si) : NULL;
    if (!c)
        return false;
    const double at0 = cv_convert_double(c, 0.0), at1 = cv_convert_double(c, 1.0),
                 at2 = cv_convert_double(c, 2.0);
    cv_free(c);
    out->factor = at1 - at0;
    out->offset = at0;
    out->gauge = out->absolute = false;
    return isfinite(at0) && out->factor > 0 && fabs(at2 - 2 * at1 + at0) <= 1e-9 * (fabs(at0) + fabs(at2));
}

static bool convertible(const struct swh_units *u, const char *text, const char *si, struct swh_unit *out)
{
    if (is_odd(text))
        return false;
    ut_unit *unit = ut_parse(u->system, text, UT_UTF8);
    ut_unit *base = ut_parse(u->system, si, UT_UTF8);
    const bool ok = unit && base && affine(unit, base, out);
    ut_free(unit);
    ut_free(base);
    return ok;
}

static bool find_rotation(const char *text, struct swh_unit *out)
{
    for (size_t i = 0; i < COUNT(rotations); i++)
        if (strcmp(rotations[i].text, text) == 0) {
            *out = (struct swh_unit){rotations[i].per_second, 0.0, false, false};
            return true;
        }
    return false;
}

static bool find_pressure(const struct swh_units *u, const char *text, struct swh_unit *out)
{
    char stem[64];
    snprintf(stem, sizeof stem, "%s", text);
    const bool gauge = take_ending(stem, gauge_endings, COUNT(gauge_endings));
    const bool absolute = !gauge && take_ending(stem, absolute_endings, COUNT(absolute_endings));
    const bool ok = convertible(u, meant(stem, SWH_Q_PRESSURE), "Pa", out);
    out->gauge = gauge;
    out->absolute = absolute;
    return ok;
}

static bool find_unit(const struct swh_units *u, const char *text, enum swh_quantity quantity,
                      struct swh_unit *out)
{
    if (text[0] == '\0')
        return false;
    if (quantity == SWH_Q_ROTATION)
        return find_rotation(text, out);
    if (quantity == SWH_Q_PRESSURE)
        return find_pressure(u, text, out);
    if (!convertible(u, meant(text, quantity), swh_quantities[quantity].si, out))
        return false;
    if (quantity == SWH_Q_TEMPERATURE_DIFFERENCE)
        out->offset = 0.0;
    return true;
}

/* the quantity that `text` is a unit of, -1 if of none */
static int kind_of(const struct swh_units *u, const char *text)
{
    struct swh_unit unit;
    for (int q = 0; q < SWH_QUANTITY_COUNT; q++)
        if (find_unit(u, text, (enum swh_quantity)q, &unit))
            return q;
    return -1;
}

enum swh_status swh_unit_find(const struct swh_units *u, const char *text, enum swh_quantity quantity,
                              struct swh_unit *out, struct swh_error *err)
{
    if (find_unit(u, text, quantity, out))
        return SWH_OK;
    const int kind = kind_of(u, text);
    if (kind >= 0)
        swh_error_set(err, SWH_ERR_INPUT, "unit '%s' is for %s", text, swh_quantities[kind].help);
    else
        swh_error_set(err, SWH_ERR_INPUT, "unit '%.60s' is unknown", text);
    swh_error_expected(err, "%s, for example in '%s'", swh_quantities[quantity].help,
                       swh_quantities[quantity].show_si);
    return SWH_ERR_INPUT;
}

static void find_shown(struct swh_units *u)
{
    for (int q = 0; q < SWH_QUANTITY_COUNT; q++)
        for (int show = 0; show < 3; show++)
            find_unit(u, swh_units_word((enum swh_show)show, (enum swh_quantity)q), (enum swh_quantity)q,
                      &u->shown[show][q]);
}

struct swh_units *swh_units_create(struct swh_error *err)
{
    struct swh_units *u = calloc(1, sizeof *u);
    if (!u) {
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for the table of units");
        return NULL;
    }
    ut_set_error_message_handler(ut_ignore);
    u->system = ut_read_xml(NULL);
    if (!u->system) {
        free(u);
        swh_error_set(err, SWH_ERR_INPUT, "the table of units of UDUNITS-2 cannot be read");
        swh_error_expected(err, "its data files to be installed (Debian: libudunits2-data)");
        return NULL;
    }
    find_shown(u);
    return u;
}

void swh_units_free(struct swh_units *u)
{
    if (!u)
        return;
    ut_free_system(u->system);
    free(u);
}

double swh_unit_to_si(const struct swh_unit *unit, double x, double atmosphere)
{
    return unit->factor * x + unit->offset + (unit->gauge ? atmosphere : 0.0);
}

double swh_unit_from_si(const struct swh_unit *unit, double si, double atmosphere)
{
    return (si - unit->offset - (unit->gauge ? atmosphere : 0.0)) / unit->factor;
}

static enum swh_status no_number(const char *text, enum swh_quantity quantity, struct swh_error *err)
{
    const struct swh_quantity_info *q = &swh_quantities[quantity];
    if (text[0] == '\0')
        swh_error_set(err, SWH_ERR_INPUT, "no value");
    else
        swh_error_set(err, SWH_ERR_INPUT, "'%.80s' is not a number", text);
    if (quantity == SWH_Q_NONE)
        swh_error_expected(err, "a number");
    else
        swh_error_expected(err, "%s: a number and a unit, for example in '%s'", q->help, q->show_si);
    return SWH_ERR_INPUT;
}

static enum swh_status no_unit(const char *text, enum swh_quantity quantity, struct swh_error *err)
{
    const struct swh_quantity_info *q = &swh_quantities[quantity];
    swh_error_set(err, SWH_ERR_INPUT, "'%.80s' has no unit", text);
    swh_error_expected(err, "%s with its unit, for example '%.40s %s'", q->help, text, q->show_si);
    return SWH_ERR_INPUT;
}

enum swh_status swh_units_read(const struct swh_units *u, const char *text, enum swh_quantity quantity,
                               double *si, struct swh_error *err)
{
    double x = 0;
    const char *unit_text = swh_number_read(text, text + strlen(text), '.', &x);
    if (!unit_text)
        return no_number(text, quantity, err);
    while (isspace((unsigned char)*unit_text))
        unit_text++;
    if (*unit_text == '\0' && quantity != SWH_Q_NONE)
        return no_unit(text, quantity, err);
    struct swh_unit unit = {1.0, 0.0, false, false};
    const enum swh_status s = *unit_text ? swh_unit_find(u, unit_text, quantity, &unit, err) : SWH_OK;
    if (s == SWH_OK)
        *si = swh_unit_to_si(&unit, x, SWH_STANDARD_ATMOSPHERE);
    return s;
}

const struct swh_unit *swh_units_shown(const struct swh_units *u, enum swh_show show,
                                       enum swh_quantity quantity)
{
    return &u->shown[show][quantity];
}

const char *swh_units_word(enum swh_show show, enum swh_quantity quantity)
{
    const struct swh_quantity_info *q = &swh_quantities[quantity];
    return show == SWH_SHOW_SI ? q->show_si : show == SWH_SHOW_TRADE ? q->show_trade : q->si;
}

double swh_units_show(const struct swh_units *u, enum swh_show show, enum swh_quantity quantity, double si)
{
    return swh_unit_from_si(swh_units_shown(u, show, quantity), si, SWH_STANDARD_ATMOSPHERE);
}

const char *swh_units_text(const struct swh_units *u, enum swh_show show, enum swh_quantity quantity,
                           double si, char *out, size_t size)
{
    const double x = swh_units_show(u, show, quantity, si);
    const char *word = swh_units_word(show, quantity);
    if (isnan(x))
        snprintf(out, size, "-");
    else if (quantity == SWH_Q_NONE)
        snprintf(out, size, "%.4g", x);
    else if (quantity == SWH_Q_LENGTH && show == SWH_SHOW_SI && fabs(si) < 1e-4)
        snprintf(out, size, "%.4g um", 1e6 * si); /* clearances and films */
    else if (quantity == SWH_Q_TEMPERATURE)
        snprintf(out, size, "%.1f %s", x, word);
    else
        snprintf(out, size, "%.4g %s", x, word);
    return out;
}
