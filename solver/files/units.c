#include "solver/files/units.h"

#include "model/base/constants.h"

#include "solver/files/number.h"
#include "solver/files/unit_system.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct swh_units {
    struct swh_unit_system *system;
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
    {SWH_Q_MASS, "lbs", "lb"},
    {SWH_Q_MASS, "LB", "lb"},
    {SWH_Q_MASS, "OZ", "lb/16"},
    {SWH_Q_VOLUME, "cc", "cm3"},
    {SWH_Q_VOLUME, "ccm", "cm3"},
    {SWH_Q_VOLUME, "ml", "cm3"},
    {SWH_Q_VOLUME, "mL", "cm3"},
    {SWH_Q_VOLUME, "fl oz", "US_fluid_ounce"},
    {SWH_Q_VOLUME, "fl. oz", "US_fluid_ounce"},
    {SWH_Q_VOLUME, "fl.oz.", "US_fluid_ounce"},
    {SWH_Q_VOLUME, "floz", "US_fluid_ounce"},
    {SWH_Q_VOLUME, "fl oz.", "US_fluid_ounce"},
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

static bool convertible(const struct swh_units *u, const char *text, const char *si, struct swh_unit *out)
{
    out->gauge = out->absolute = false;
    return !is_odd(text) &&
           swh_unit_system_ask(u->system, text, si, &out->factor, &out->offset) == SWH_UNIT_CONVERTS;
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
    if (!err)
        return SWH_ERR_INPUT; /* nobody asks why, and looking for what it is instead takes long */
    if (swh_unit_system_unread(u->system)) {
        swh_error_set(err, SWH_ERR_INPUT, "unit '%.60s' cannot be looked up: UDUNITS-2 lacks its data files",
                      text);
        swh_error_expected(err, "its data files to be installed (Debian: libudunits2-data)");
        return SWH_ERR_INPUT;
    }
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
    u->system = swh_unit_system_new();
    if (!u->system) {
        free(u);
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for the table of units");
        return NULL;
    }
    find_shown(u);
    return u;
}

void swh_units_free(struct swh_units *u)
{
    if (!u)
        return;
    swh_unit_system_free(u->system);
    free(u);
}

double swh_unit_to_si(const struct swh_unit *unit, double x, double atmosphere)
{
    return unit->factor * x + unit->offset + (unit->gauge ? atmosphere : 0.0);
}

enum swh_quantity swh_units_difference(enum swh_quantity quantity)
{
    return quantity == SWH_Q_TEMPERATURE ? SWH_Q_TEMPERATURE_DIFFERENCE
           : quantity == SWH_Q_PRESSURE  ? SWH_Q_PRESSURE_DIFFERENCE
                                         : quantity;
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

static enum swh_status two_numbers(const char *text, struct swh_error *err)
{
    swh_error_set(err, SWH_ERR_INPUT, "'%.80s' is more than one number", text);
    swh_error_expected(err, "one number, as 1.75 or 1 3/4, and one unit");
    return SWH_ERR_INPUT;
}

/* "3/4" behind the whole part of a mixed number; NULL if it is none */
static const char *read_fraction(const char *s, double *x)
{
    double above = 0, below = 0;
    const char *end = s + strlen(s);
    if (!isdigit((unsigned char)*s))
        return NULL;
    const char *slash = swh_number_read(s, end, '.', &above);
    if (!slash || *slash != '/' || !isdigit((unsigned char)slash[1]))
        return NULL;
    const char *rest = swh_number_read(slash + 1, end, '.', &below);
    if (!rest || !(below > 0) || above != floor(above) || below != floor(below))
        return NULL;
    *x = above / below;
    return rest;
}

/* A number as people write it: "1.75", "1 3/4", "1-3/4", "3/4". Returns what follows it without spaces, NULL
 * if there is none. */
static const char *read_mixed(const char *text, double *x)
{
    double part = 0;
    const char *rest = read_fraction(text, x);
    if (!rest) {
        rest = swh_number_read(text, text + strlen(text), '.', x);
        const char *next = rest ? rest + strspn(rest, " \t") : NULL;
        if (next && *next == '-' && next == rest)
            next++;
        const char *fraction = next && next > rest && *x == floor(*x) ? read_fraction(next, &part) : NULL;
        if (fraction) {
            *x += *x < 0 ? -part : part;
            rest = fraction;
        }
    }
    return rest ? rest + strspn(rest, " \t") : NULL;
}

/* "1 lb 12 oz": what is left after the first unit, NULL if nothing is; `unit` gets the first one */
static const char *split_unit(const char *text, char *unit, size_t size)
{
    size_t n = strlen(text);
    const char *more = NULL;
    for (const char *s = text; *s && !more; s++)
        if (isspace((unsigned char)s[0]) && isdigit((unsigned char)s[1])) {
            n = (size_t)(s - text);
            more = s + 1;
        }
    while (n > 0 && isspace((unsigned char)text[n - 1]))
        n--;
    snprintf(unit, size, "%.*s", (int)n, text);
    return more;
}

/* on a gauge, inches of mercury count vacuum */
static enum swh_status no_mercury(const char *text, struct swh_error *err)
{
    swh_error_set(err, SWH_ERR_INPUT, "'%.80s': inches of mercury count vacuum on a gauge", text);
    swh_error_expected(err, "psig, barg or kPag above the air outside, with a minus sign for vacuum");
    return SWH_ERR_INPUT;
}

static enum swh_status read_one(const struct swh_units *u, const char *text, enum swh_quantity quantity,
                                bool *gauge, double *si, struct swh_error *err)
{
    double x = 0;
    char unit_text[80];
    const char *rest = read_mixed(text, &x);
    if (!rest)
        return no_number(text, quantity, err);
    if (*rest == '\0' && quantity != SWH_Q_NONE)
        return no_unit(text, quantity, err);
    if (isdigit((unsigned char)*rest) && strncmp(rest, "1/", 2) != 0 && strcmp(rest, "1") != 0)
        return two_numbers(text, err);
    const char *more = split_unit(rest, unit_text, sizeof unit_text);
    if (more && quantity != SWH_Q_MASS)
        return two_numbers(text, err);
    struct swh_unit unit = {1.0, 0.0, false, false};
    const enum swh_status s = *rest ? swh_unit_find(u, unit_text, quantity, &unit, err) : SWH_OK;
    if (s != SWH_OK)
        return s;
    if (gauge && quantity == SWH_Q_PRESSURE && strstr(unit_text, "Hg"))
        return no_mercury(text, err);
    if (gauge && quantity == SWH_Q_PRESSURE && !unit.gauge && !unit.absolute && strcmp(unit_text, "Pa") != 0)
        unit.gauge = *gauge = true;
    *si = swh_unit_to_si(&unit, x, SWH_STANDARD_ATMOSPHERE);
    double second = 0;
    if (!more)
        return SWH_OK;
    if (read_one(u, more, quantity, gauge, &second, err) != SWH_OK || !(second < *si) || x != floor(x)) {
        swh_error_clear(err);
        return two_numbers(text, err);
    }
    *si += second;
    return SWH_OK;
}

enum swh_status swh_units_read(const struct swh_units *u, const char *text, enum swh_quantity quantity,
                               double *si, struct swh_error *err)
{
    return read_one(u, text, quantity, NULL, si, err);
}

enum swh_status swh_units_read_gauge(const struct swh_units *u, const char *text, enum swh_quantity quantity,
                                     bool *taken_as_gauge, double *si, struct swh_error *err)
{
    *taken_as_gauge = false;
    return read_one(u, text, quantity, taken_as_gauge, si, err);
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

/* digits behind the point as gauges, clamps and scales show them */
static int digits_of(enum swh_quantity quantity, enum swh_show show, double x)
{
    switch (quantity) {
    case SWH_Q_TEMPERATURE:
    case SWH_Q_TEMPERATURE_DIFFERENCE:
        return 1;
    case SWH_Q_PRESSURE:
        return show == SWH_SHOW_TRADE ? 0 : fabs(x) < 10 ? 2 : 1;
    case SWH_Q_PRESSURE_DIFFERENCE:
        return fabs(x) < 0.1 ? -1 : show == SWH_SHOW_TRADE ? 1 : 2;
    case SWH_Q_ROTATION:
    case SWH_Q_SPEED:
        return 0;
    default:
        return -1;
    }
}

/* small things in the unit that people have for them; false: none is better than the table's */
static bool small_text(enum swh_show show, enum swh_quantity quantity, double si, char *out, size_t size)
{
    const bool trade = show == SWH_SHOW_TRADE;
    const double ounces = si / 0.028349523125; /* NIST SP 811 */
    if (show == SWH_SHOW_BASE)
        return false;
    if (quantity == SWH_Q_LENGTH && fabs(si) < 1e-3)
        snprintf(out, size, "%.4g um", 1e6 * si); /* clearances and films */
    else if (quantity == SWH_Q_AREA && fabs(si) < 1e-3)
        snprintf(out, size, "%.4g mm2", 1e6 * si);
    else if (quantity == SWH_Q_MASS && trade && fabs(ounces) < 64)
        snprintf(out, size, "%.1f oz", ounces);
    else if (quantity == SWH_Q_MASS && !trade && fabs(si) < 1)
        snprintf(out, size, "%.*f g", fabs(si) < 0.01 ? 2 : 0, 1e3 * si);
    else
        return false;
    return true;
}

const char *swh_units_text(const struct swh_units *u, enum swh_show show, enum swh_quantity quantity,
                           double si, char *out, size_t size)
{
    double x = swh_units_show(u, show, quantity, si);
    const char *word = swh_units_word(show, quantity);
    const int digits = show == SWH_SHOW_BASE ? -1 : digits_of(quantity, show, x);
    if (digits >= 0 && fabs(x) < 0.5 * pow(10, -digits))
        x = 0; /* without a sign */
    if (isnan(x))
        snprintf(out, size, "-");
    else if (quantity == SWH_Q_NONE)
        snprintf(out, size, "%.4g", x);
    else if (small_text(show, quantity, si, out, size))
        return out;
    else if (digits >= 0)
        snprintf(out, size, "%.*f %s", digits, x, word);
    else
        snprintf(out, size, "%.4g %s", x, word);
    return out;
}
