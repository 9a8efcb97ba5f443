/* Units and numbers as text. */
#include "tests/check.h"

#include "solver/files/number.h"
#include "solver/files/suggest.h"
#include "solver/files/unit_system.h"
#include "solver/files/units.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct swh_units *units;

static int begin(void **state)
{
    (void)state;
    units = swh_units_create(NULL);
    return units ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    swh_units_free(units);
    return 0;
}

static double read_ok(const char *text, enum swh_quantity q)
{
    struct swh_error err = {0};
    double si = NAN;
    if (swh_units_read(units, text, q, &si, &err) != SWH_OK)
        print_error("%s: %s (expected %s)\n", text, err.what, err.expected);
    return si;
}

/* Conversion factors: NIST Special Publication 811 (2008), appendix B.8: inch 0.0254 m, mile 1609.344 m, lb
 * 0.45359237 kg, Btu(IT) 1055.056 J, psi 6894.757 Pa, atmosphere 101325 Pa, degF = (K * 9/5) - 459.67, ft lbf
 * 1.355818 J. */
static void test_values(void **state)
{
    (void)state;
    CHECK_CLOSE(read_ok("12 um", SWH_Q_LENGTH), 12e-6, 1e-12, 0);
    CHECK_CLOSE(read_ok("1 inch", SWH_Q_LENGTH), 0.0254, 1e-12, 0);
    CHECK_CLOSE(read_ok("35 degC", SWH_Q_TEMPERATURE), 308.15, 1e-12, 0);
    CHECK_CLOSE(read_ok("95 degF", SWH_Q_TEMPERATURE), 308.15, 1e-12, 0);
    CHECK_CLOSE(read_ok("-40degF", SWH_Q_TEMPERATURE), 233.15, 1e-12, 0);
    CHECK_CLOSE(read_ok("35 \xC2\xB0"
                        "C",
                        SWH_Q_TEMPERATURE),
                308.15, 1e-12, 0);
    CHECK_CLOSE(read_ok("8 K", SWH_Q_TEMPERATURE_DIFFERENCE), 8, 1e-12, 0);
    CHECK_CLOSE(read_ok("9 degF", SWH_Q_TEMPERATURE_DIFFERENCE), 5, 1e-12, 0);
    CHECK_CLOSE(read_ok("8 degC", SWH_Q_TEMPERATURE_DIFFERENCE), 8, 1e-12, 0);
    CHECK_CLOSE(read_ok("30 mph", SWH_Q_SPEED), 30 * 1609.344 / 3600, 1e-12, 0);
    CHECK_CLOSE(read_ok("36 km/h", SWH_Q_SPEED), 10, 1e-12, 0);
    CHECK_CLOSE(read_ok("2 lb", SWH_Q_MASS), 0.90718474, 1e-12, 0);
    CHECK_CLOSE(read_ok("4 oz", SWH_Q_MASS), 0.45359237 / 4, 1e-12, 0);
    CHECK_CLOSE(read_ok("1 BTU/lb", SWH_Q_SPECIFIC_ENERGY), 1055.056 / 0.45359237, 1e-6, 0);
    CHECK_CLOSE(read_ok("10 ft lbf", SWH_Q_TORQUE), 13.55818, 1e-6, 0);
    CHECK_CLOSE(read_ok("40 %", SWH_Q_NONE), 0.4, 1e-12, 0);
    CHECK_CLOSE(read_ok("0.4", SWH_Q_NONE), 0.4, 1e-15, 0);
    CHECK_CLOSE(read_ok("10 min", SWH_Q_TIME), 600, 1e-12, 0);
}

static void test_pressures(void **state)
{
    (void)state;
    CHECK_CLOSE(read_ok("30 psig", SWH_Q_PRESSURE), 30 * 6894.757 + 101325, 1e-7, 0);
    CHECK_CLOSE(read_ok("30 psi", SWH_Q_PRESSURE), 30 * 6894.757, 1e-7, 0);
    CHECK_CLOSE(read_ok("30psia", SWH_Q_PRESSURE), 30 * 6894.757, 1e-7, 0);
    CHECK_CLOSE(read_ok("3 barg", SWH_Q_PRESSURE), 401325, 1e-12, 0);
    CHECK_CLOSE(read_ok("3 bar(g)", SWH_Q_PRESSURE), 401325, 1e-12, 0);
    CHECK_CLOSE(read_ok("3 bar", SWH_Q_PRESSURE), 300000, 1e-12, 0);
    CHECK_CLOSE(read_ok("3 bara", SWH_Q_PRESSURE), 300000, 1e-12, 0);
    CHECK_CLOSE(read_ok("250 kPag", SWH_Q_PRESSURE), 351325, 1e-12, 0);
    CHECK_CLOSE(read_ok("0.2 MPa", SWH_Q_PRESSURE), 200000, 1e-12, 0);
    CHECK_CLOSE(read_ok("1 atm", SWH_Q_PRESSURE), 101325, 1e-12, 0);
    CHECK_CLOSE(read_ok("3 bar", SWH_Q_PRESSURE_DIFFERENCE), 300000, 1e-12, 0);
    struct swh_unit gauge;
    assert_int_equal(swh_unit_find(units, "barg", SWH_Q_PRESSURE, &gauge, NULL), SWH_OK);
    CHECK_CLOSE(swh_unit_to_si(&gauge, 1, 80000), 180000, 1e-12, 0); /* on a mountain */
    CHECK_CLOSE(swh_unit_from_si(&gauge, 180000, 80000), 1, 1e-12, 0);
}

/* one turn is one turn: UDUNITS alone would count radians */
static void test_rotation(void **state)
{
    (void)state;
    CHECK_CLOSE(read_ok("3000 rpm", SWH_Q_ROTATION), 50, 1e-15, 0);
    CHECK_CLOSE(read_ok("50 rps", SWH_Q_ROTATION), 50, 1e-15, 0);
    CHECK_CLOSE(read_ok("50 Hz", SWH_Q_ROTATION), 50, 1e-15, 0);
    CHECK_CLOSE(read_ok("50 1/s", SWH_Q_ROTATION), 50, 1e-15, 0);
    CHECK_CLOSE(read_ok("314.1592653589793 rad/s", SWH_Q_ROTATION), 50, 1e-12, 0);
    CHECK_CLOSE(swh_units_show(units, SWH_SHOW_SI, SWH_Q_ROTATION, 25), 1500, 1e-12, 0);
}

static void refused(const char *text, enum swh_quantity q, const char *what, const char *expected)
{
    struct swh_error err = {0};
    double si = 0;
    assert_int_equal(swh_units_read(units, text, q, &si, &err), SWH_ERR_INPUT);
    if (!strstr(err.what, what) || !strstr(err.expected, expected)) {
        print_error("'%s': %s (expected %s)\n", text, err.what, err.expected);
        fail();
    }
}

static void test_refusals(void **state)
{
    (void)state;
    refused("12", SWH_Q_LENGTH, "no unit", "a length");
    refused("12 degC", SWH_Q_LENGTH, "for a temperature", "a length");
    refused("12 um", SWH_Q_PRESSURE, "for a length", "barg");
    refused("12 furlongz", SWH_Q_LENGTH, "unknown", "a length");
    refused("barg", SWH_Q_PRESSURE, "not a number", "a pressure");
    refused("", SWH_Q_PRESSURE, "no value", "a pressure");
    refused("3 barg", SWH_Q_PRESSURE_DIFFERENCE, "for a pressure", "a pressure difference");
    refused("3 5 K", SWH_Q_TEMPERATURE, "more than one number", "one number");
    refused("3 s@0", SWH_Q_TIME, "unknown", "a time");
    refused("0x10 K", SWH_Q_TEMPERATURE, "unknown", "a temperature");
    refused("nan", SWH_Q_NONE, "not a number", "a number");
    refused("inf K", SWH_Q_TEMPERATURE, "not a number", "a temperature");
    refused("3 rpm", SWH_Q_SPEED, "a rotational speed", "a road");
    refused("3 1/s", SWH_Q_TIME, "a rotational speed", "a time");
}

/* every unit of the tables can be read back */
static void test_tables(void **state)
{
    (void)state;
    char text[64];
    for (int show = 0; show < 3; show++)
        for (int q = 0; q < SWH_QUANTITY_COUNT; q++) {
            snprintf(text, sizeof text, "1.5 %s", swh_units_word((enum swh_show)show, (enum swh_quantity)q));
            const double si = read_ok(text, (enum swh_quantity)q);
            CHECK_CLOSE(swh_units_show(units, (enum swh_show)show, (enum swh_quantity)q, si), 1.5, 1e-10, 0);
        }
    for (int i = 0; i < SWH_PARAM_COUNT; i++) {
        snprintf(text, sizeof text, "1 %s", swh_param_table[i].unit);
        assert_true(isfinite(read_ok(text, swh_param_table[i].quantity)));
    }
}

/* against the C library's printf and strtod */
static void test_numbers(void **state)
{
    (void)state;
    char own[SWH_NUMBER_MAX + 1], theirs[64];
    srand(1);
    for (int i = 0; i < 200000; i++) {
        const double x =
            (rand() - RAND_MAX / 2) * pow(10.0, rand() % 40 - 20) * (1.0 + rand() / (double)RAND_MAX);
        const size_t n = swh_number_write(own, x);
        own[n] = '\0';
        snprintf(theirs, sizeof theirs, "%.9g", x);
        if (strcmp(own, theirs) != 0)
            CHECK_CLOSE(strtod(own, NULL), x, 5.0000001e-9, 0); /* a tie, rounded the other way */
        double back = 0;
        snprintf(theirs, sizeof theirs, "%.*g", 1 + rand() % 17, x);
        const char *end = theirs + strlen(theirs);
        assert_ptr_equal(swh_number_read(theirs, end, '.', &back), end);
        CHECK_CLOSE(back, strtod(theirs, NULL), 2.3e-16, 0);
    }
}

static void test_number_edges(void **state)
{
    (void)state;
    static const struct {
        double x;
        const char *text;
    } cases[] = {{0, "0"},
                 {-0.0, "0"},
                 {1, "1"},
                 {-1.5, "-1.5"},
                 {1e9, "1e+09"},
                 {999999999.6, "1e+09"},
                 {123456789, "123456789"},
                 {0.0001, "0.0001"},
                 {0.00001, "1e-05"},
                 {1e300, "1e+300"},
                 {-2.5e-200, "-2.5e-200"},
                 {INFINITY, "inf"},
                 {NAN, ""},
                 {9.9999999999, "10"}};
    char own[SWH_NUMBER_MAX + 1];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        own[swh_number_write(own, cases[i].x)] = '\0';
        assert_string_equal(own, cases[i].text);
    }
    double x = 0;
    const char *comma = "3,86";
    assert_ptr_equal(swh_number_read(comma, comma + 4, ',', &x), comma + 4);
    CHECK_CLOSE(x, 3.86, 1e-15, 0);
    const char *minus = "-";
    assert_null(swh_number_read(minus, minus + 1, '.', &x));
    const char *unit = "5e";
    assert_ptr_equal(swh_number_read(unit, unit + 2, '.', &x), unit + 1);
}

static void test_nearest(void **state)
{
    (void)state;
    assert_int_equal(swh_edit_distance("kitten", "sitting"), 3); /* the textbook pair */
    assert_int_equal(swh_edit_distance("", "abc"), 3);
    assert_int_equal(swh_edit_distance("fualts", "faults"), 1);
    struct swh_nearest near = {"condensor", NULL, 0};
    swh_nearest_offer(&near, "compressor");
    swh_nearest_offer(&near, "condenser");
    assert_string_equal(near.best, "condenser");
    assert_string_equal(swh_nearest_said(&near).text, "; the nearest is 'condenser'");
    near = (struct swh_nearest){"my_fault", NULL, 0}; /* beyond a third of the word there is nothing to say */
    swh_nearest_offer(&near, "oil_short");
    assert_string_equal(swh_nearest_said(&near).text, "");
    near = (struct swh_nearest){"ambient", NULL, 0}; /* but what was cut short is known */
    swh_nearest_offer(&near, "clutch");
    swh_nearest_offer(&near, "ambient_temperature");
    assert_string_equal(swh_nearest_said(&near).text, "; the nearest is 'ambient_temperature'");
}

/* The table that the build made says what UDUNITS says; in brackets a word is not looked up in it. Words that
 * the program shows are all in it. */
static void test_known_units(void **state)
{
    (void)state;
    struct swh_unit_system *s = swh_unit_system_new();
    assert_non_null(s);
    assert_true(swh_known_unit_count > 50);
    for (int i = 0; i < swh_known_unit_count; i++) {
        const struct swh_known_unit *k = &swh_known_units[i];
        char bracketed[64];
        double factor = 0, offset = 0;
        snprintf(bracketed, sizeof bracketed, "(%s)", k->text);
        assert_int_equal(swh_unit_system_ask(s, bracketed, k->si, &factor, &offset), SWH_UNIT_CONVERTS);
        CHECK_CLOSE(factor, k->factor, 1e-15, 0);
        CHECK_CLOSE(offset, k->offset, 1e-15, 0);
    }
    double x = 0;
    assert_int_equal(swh_unit_system_ask(s, "mm", "K", &x, &x), SWH_UNIT_DOES_NOT);
    assert_int_equal(swh_unit_system_ask(s, "furlong", "m", &x, &x), SWH_UNIT_CONVERTS);
    assert_int_equal(swh_unit_system_ask(s, "furlnog", "m", &x, &x), SWH_UNIT_DOES_NOT);
    swh_unit_system_free(s);
    /* a machine without UDUNITS' data files */
    setenv("UDUNITS2_XML_PATH", "/nowhere.xml", 1);
    s = swh_unit_system_new();
    assert_int_equal(swh_unit_system_ask(s, "degC", "K", &x, &x), SWH_UNIT_CONVERTS);
    assert_false(swh_unit_system_unread(s));
    assert_int_equal(swh_unit_system_ask(s, "furlong", "m", &x, &x), SWH_UNIT_UNREAD);
    assert_true(swh_unit_system_unread(s));
    swh_unit_system_free(s);
    struct swh_units *u = swh_units_create(NULL);
    for (int q = 0; q < SWH_QUANTITY_COUNT; q++)
        for (int show = 0; show < 3; show++)
            assert_true(swh_units_shown(u, (enum swh_show)show, (enum swh_quantity)q)->factor > 0);
    swh_units_free(u);
    unsetenv("UDUNITS2_XML_PATH");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_values),       cmocka_unit_test(test_pressures),
        cmocka_unit_test(test_rotation),     cmocka_unit_test(test_refusals),
        cmocka_unit_test(test_tables),       cmocka_unit_test(test_numbers),
        cmocka_unit_test(test_number_edges), cmocka_unit_test(test_nearest),
        cmocka_unit_test(test_known_units),
    };
    return cmocka_run_group_tests(tests, begin, end);
}
