/* Readers of logs, schedules and scenarios: dialects, places of mistakes, random bytes. */
#include "tests/check.h"

#include "solver/files/csv_log.h"
#include "solver/files/csv_names.h"
#include "solver/files/scenario.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static struct swh_units *units;
static char folder[64] = "/tmp/swh_files_XXXXXX";

static int begin(void **state)
{
    (void)state;
    units = swh_units_create(NULL);
    return units && mkdtemp(folder) && chdir(folder) == 0 ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    swh_units_free(units);
    return chdir("/") + rmdir(folder);
}

static void write_file(const char *name, const char *text, size_t n)
{
    FILE *f = fopen(name, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(text, 1, n, f), n);
    fclose(f);
}

/* ---- logs ---- */

struct reading {
    long rows;
    double first[SWH_CHANNEL_COUNT], last[SWH_CHANNEL_COUNT];
    struct swh_problems problems;
    struct swh_notes notes;
};

static void read_log(struct reading *r, const char *text, size_t n, const char *map)
{
    struct swh_log_row row;
    bool more = true;
    memset(r, 0, sizeof *r);
    write_file("log.csv", text, n);
    if (map)
        write_file("map.ini", map, strlen(map));
    struct swh_log_request request = {
        .path = "log.csv", .columns = map ? "map.ini" : NULL, .units = units, .atmosphere = 101325};
    request.required[SWH_CH_suction_pressure] = true;
    struct swh_log *log = swh_log_open(&request, &r->problems);
    while (log && more && !swh_log_broken(log)) {
        struct swh_error err = {0};
        if (swh_log_next(log, &row, &more, &err) == SWH_OK && more)
            memcpy(r->rows++ ? r->last : r->first, row.value, sizeof r->first);
        swh_problems_add(&r->problems, &err);
    }
    if (log) {
        swh_log_note_columns(log, &r->notes);
        swh_log_note_oddities(log, &r->notes);
    }
    swh_log_close(log);
    unlink("log.csv");
    unlink("map.ini");
}

static void log_is(const char *text, double time, double pressure, double temperature)
{
    struct reading r;
    read_log(&r, text, strlen(text), NULL);
    if (r.problems.count > 0)
        print_error("%s: %s (expected %s)\n", text, r.problems.item[0].what, r.problems.item[0].expected);
    assert_int_equal(r.problems.count, 0);
    assert_int_equal(r.rows, 2);
    CHECK_CLOSE(r.last[SWH_CH_time], time, 1e-9, 0);
    CHECK_CLOSE(r.last[SWH_CH_suction_pressure], pressure, 1e-6, 0);
    if (isnan(temperature))
        assert_true(isnan(r.last[SWH_CH_suction_temperature]));
    else
        CHECK_CLOSE(r.last[SWH_CH_suction_temperature], temperature, 1e-9, 0);
}

static void test_dialects(void **state)
{
    (void)state;
    const double P = 201325;
    log_is("time[s],suction_pressure[barg],suction_temperature[degC]\n1,1,20\n2,1.0,21.5\n", 2, P, 294.65);
    log_is("\xEF\xBB\xBFtime[s];suction_pressure[barg];suction_temperature[degC]\r\n1;1;20\r\n2;1,0;21,5\r\n",
           2, P, 294.65);
    log_is("time[s];suction_pressure[barg];suction_temperature[degC]\n1;1;20\n2;1.0;21.5\n", 2, P, 294.65);
    log_is("time[s]\tsuction_pressure[barg]\tsuction_temperature[degC]\n1\t1\t20\n2\t1,0\tNaN\n", 2, P, NAN);
    log_is("time[s]\tsuction_pressure[barg]\tsuction_temperature[degC]\n1\t1\t20\n2\t1,0\t\n", 2, P, NAN);
    log_is(
        "# "
        "invented\n\ntime[min],suction_pressure[kPag],suction_temperature[K]\n1,1,280\n\n2,100,294.65\n,,\n",
        120, P, 294.65);
    log_is("\"time[s]\", \"suction_pressure[barg]\" ,suction_temperature[degC]\r1,1,20\r2,\"1\", 21.5 \r", 2,
           P, 294.65);
    log_is("time[s],suction_pressure[barg],suction_temperature[degC],\n1,1,20,\n2,1,,\n", 2, P, NAN);
    log_is("time[s],suction_pressure[Pa],suction_temperature[degC]\n1,1e5,20\n2,201325,21.5", 2, P, 294.65);
}

static void test_clocks(void **state)
{
    (void)state;
    log_is("Time,suction_pressure[barg],suction_temperature[degC]\n00:00:01.0,1,20\n01:02:03.5,1,21.5\n",
           3723.5, 201325, 294.65);
    log_is("Time;suction_pressure[barg];suction_temperature[degC]\n23:59:59,5;1;20\n00:00:01,5;1;21,5\n",
           86401.5, 201325, 294.65);
    log_is("time[hh:mm:ss],suction_pressure[barg],suction_temperature[degC]\n9:00:01,1,20\n9:00:02,1,21.5\n",
           32402, 201325, 294.65);
}

static void test_foreign_headers(void **state)
{
    (void)state;
    const double psi = 30 * 6894.757 + 101325;
    log_is("Time,Low side (psi),Suction (F)\n1,30,70\n2,30,95\n", 2, psi, 308.15);
    log_is("Elapsed (s),Low side (psig),Suction temp \xC2\xB0"
           "F\n1,30,70\n2,30,95\n",
           2, psi, 308.15);
    log_is("t,LP [psia],T_suction (\xB0"
           "C)\n1,44,20\n2,44.695949,35\n",
           2, 44.695949 * 6894.757, 308.15);
}

/* Each spelling of the list finds itself, whatever words that say nothing stand with it, and no name is found
 * that only begins as one does. */
static void test_spellings(void **state)
{
    (void)state;
    static const char *const words[] = {
#define HEADER(words, id, unit) words,
#include "solver/files/headers.def"
#undef HEADER
    };
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        char plain[96], more[200];
        swh_plain_words(words[i], plain, sizeof plain);
        assert_string_equal(plain, words[i]);
        assert_non_null(swh_spelling_of(words[i], 0));
        snprintf(more, sizeof more, "The  %s-SENSOR", words[i]);
        assert_ptr_equal(swh_spelling_of(more, 0), swh_spelling_of(words[i], 0));
        snprintf(more, sizeof more, "%s xyzzy", words[i]);
        assert_null(swh_spelling_of(more, 0));
    }
    assert_string_equal(swh_spelling_of("Suct. side temp.", 0)->id, "suction_temperature");
    assert_null(swh_spelling_of("the sensor of", 0));
    assert_null(swh_spelling_of("", 0));
}

static void test_map(void **state)
{
    (void)state;
    struct reading r;
    const char *log = "Zeit;ND, Niederdruck;Saugrohr\n1;2,5;20\n2;2,5;21\n";
    const char *map = "[columns]\ntime = Zeit, s\nsuction_pressure = ND, Niederdruck, "
                      "bar(g)\nsuction_temperature = Saugrohr, degC\n";
    read_log(&r, log, strlen(log), map);
    assert_int_equal(r.problems.count, 0);
    CHECK_CLOSE(r.last[SWH_CH_suction_pressure], 351325, 1e-9, 0);
    read_log(&r, log, strlen(log), "[columns]\ntime = Zeit, s\nsuction_presure = ND, bar\n");
    assert_string_equal(r.problems.item[0].where, "map.ini");
    assert_int_equal(r.problems.item[0].line, 3);
    assert_non_null(strstr(r.problems.item[0].expected, "suction_pressure"));
}

/* the first problem's place and words */
static void log_fails(const char *text, long line, long column, const char *what, const char *expected)
{
    struct reading r;
    read_log(&r, text, strlen(text), NULL);
    assert_true(r.problems.count > 0);
    const struct swh_error *e = &r.problems.item[0];
    if (e->line != line || e->column != column || !strstr(e->what, what) || !strstr(e->expected, expected)) {
        print_error("%s: %ld:%ld: %s (expected %s)\n", text, e->line, e->column, e->what, e->expected);
        fail();
    }
    assert_string_equal(e->where, "log.csv");
    assert_int_equal(e->status, SWH_ERR_INPUT);
}

#define HEAD "time[s],suction_pressure[barg]\n"
static void test_mistakes(void **state)
{
    (void)state;
    log_fails("", 1, 1, "empty", "names");
    log_fails("\n\n", 1, 1, "empty", "names");
    log_fails(HEAD, 1, 1, "without rows", "two rows");
    log_fails(HEAD "1,2\n", 2, 1, "one row", "two rows");
    log_fails(HEAD "1,2\n2,abc\n", 3, 3, "'abc' is not a number", "a number");
    log_fails(HEAD "1,2\n2,3x\n", 3, 3, "'3x'", "a number");
    log_fails(HEAD "1,2\n2,0x10\n", 3, 3, "'0x10'", "a number");
    log_fails(HEAD "1,2\n1,2\n", 3, 1, "a second time", "line 2");
    log_fails(HEAD "5,2\n1,2\n", 3, 1, "goes back", "line 2");
    log_fails(HEAD "1,2\n2,145\n", 3, 3, "out of range", "psig");
    log_fails(HEAD "1,2\n2,-3\n", 3, 3, "out of range", "barg");
    log_fails(HEAD "1,2\n2\n", 3, 1, "1 cells", "2 cells");
    log_fails(HEAD "1,2\n2,3,4\n", 3, 5, "3 cells", "2");
    log_fails(HEAD "1,2\n2,3\n3", 4, 1, "cut off", "2 cells");
    log_fails(HEAD "1,2\n,3\n", 3, 1, "no time", "hh:mm:ss");
    log_fails(HEAD "1,2\n12:xx:00,3\n", 3, 1, "12:xx:00", "hh:mm:ss");
    log_fails(HEAD "1,2\n2,\"3\n4,5\n", 4, 0, "quoted", "quotation mark");
    log_fails(HEAD "1,2\n2,\"3\"4\n", 3, 6, "quotation mark", "whole cell");
    log_fails("time[s],suction_pressure[degC]\n1,2\n2,3\n", 1, 9, "for a temperature", "a pressure");
    log_fails("time[s],suction_pressure[foo]\n1,2\n2,3\n", 1, 9, "unknown", "a pressure");
    log_fails("time[s],suction_pressure\n1,2\n2,3\n", 1, 9, "no unit", "suction_pressure[barg]");
    log_fails("time[s],suction_presure[barg]\n1,2\n2,3\n", 1, 1, "no column of suction_pressure",
              "suction_presure");
    log_fails("suction_pressure[barg],clutch[1]\n1,0\n2,0\n", 1, 1, "no column of times", "time[s]");
    log_fails("time[s],suction_pressure[barg],Low side (psi)\n1,2,3\n2,2,3\n", 2, 5, "disagrees with", "one");
    log_fails("\xFF\xFEt\0i\0", 1, 1, "UTF-16", "UTF-8");
    log_fails("time[s],suction_pressure[barg],clutch[1]\n1,2,0\n2,3,on\n3,3,maybe\n", 4, 5, "'maybe'",
              "a number");
    log_fails("time[s],suction_pressure[barg],suction_temperature[degC]\n1,3,86,12,2\n", 2, 8, "5 cells",
              "semicolons");
}

static void test_oddities(void **state)
{
    (void)state;
    struct reading r;
    const char *wrong_unit =
        "time[s],suction_pressure[psig],discharge_pressure[psig]\n1,3,15\n2,3,16\n3,3,16\n";
    read_log(&r, wrong_unit, strlen(wrong_unit), NULL);
    assert_int_equal(r.problems.count, 0);
    assert_int_equal(r.notes.count, 2);
    assert_non_null(strstr(r.notes.text[0], "never rises above"));
    assert_non_null(strstr(r.notes.text[1], "lasts 2 s: too short to tell"));
    const char *gap = "time[s],suction_pressure[barg],odd\n1,3,1\n2,3,1\n3,3,1\n4,3,1\n5,3,1\n6,3,1\n7,3,"
                      "1\n300,3,1\n301,3,1";
    read_log(&r, gap, strlen(gap), NULL);
    assert_int_equal(r.notes.count, 3);
    assert_non_null(strstr(r.notes.text[0], "'odd' is not used"));
    assert_non_null(strstr(r.notes.text[1], "gap of 293 s"));
    assert_non_null(strstr(r.notes.text[2], "cut off"));
}

/* ---- scenarios ---- */

static enum swh_status load(struct swh_scenario *s, struct swh_problems *p, const char *scenario,
                            const char *vehicle, const char *const *set, int sets)
{
    memset(p, 0, sizeof *p);
    write_file("s.ini", scenario, strlen(scenario));
    write_file("v.ini", vehicle, strlen(vehicle));
    const struct swh_scenario_request request = {"s.ini", NULL, set, sets};
    const enum swh_status status = swh_scenario_load(s, &request, units, p);
    unlink("s.ini");
    unlink("v.ini");
    return status;
}

static void test_scenario(void **state)
{
    (void)state;
    static struct swh_scenario s;
    static struct swh_problems p;
    const char *vehicle =
        "\xEF\xBB\xBF[oil]\r\nviscosity_40 = 50 mm2/s\r\ngrade = PAG100 # the label's\r\n"
        "[compressor]\nmodel=ten_150\n  clearance : 12 um +- 2 um ; as built\n[charge]\nnominal = 700 g\n";
    const char *scenario =
        "[scenario]\nvehicle = v.ini\ntitle = A story\n[charge]\nnominal = 1.5 lb\n"
        "[conditions]\nambient_temperature = 95 degF\nsuction_pressure =\n"
        "[fault undercharge]\nseverity = 40 %\n[fault fan_dead]\nseverity=1\nstart = 10 min\nramp = 5 s\n";
    const char *const set[] = {"charge.fraction=0.9", "fault.fan_dead.severity=0.5", "controls.cycling=none"};
    load(&s, &p, scenario, vehicle, set, 3);
    if (p.count > 0)
        print_error("%s:%ld:%ld %s (%s)\n", p.item[0].where, p.item[0].line, p.item[0].column, p.item[0].what,
                    p.item[0].expected);
    assert_int_equal(p.count, 0);
    assert_string_equal(
        s.c.name, "A story, with charge.fraction=0.9, fault.fan_dead.severity=0.5, controls.cycling=none");
    CHECK_CLOSE(s.c.params.oil_viscosity_40, 50e-6, 1e-12, 0); /* an explicit key beats the grade */
    CHECK_CLOSE(s.c.params.oil_viscosity_100, 20e-6, 1e-12, 0);
    CHECK_CLOSE(s.c.params.compressor_displacement, 150e-6, 1e-12, 0);
    CHECK_CLOSE(s.c.params.compressor_clearance, 12e-6, 1e-12, 0);
    CHECK_CLOSE(s.c.spread.compressor_clearance, 2e-6, 1e-12, 0);
    CHECK_CLOSE(s.c.params.charge_nominal, 1.5 * 0.45359237, 1e-12, 0); /* the scenario beats the vehicle */
    CHECK_CLOSE(s.c.params.charge_fraction, 0.9, 1e-12, 0);
    CHECK_CLOSE(s.c.conditions.ambient_temperature, 308.15, 1e-12, 0);
    assert_true(isnan(s.c.conditions.suction_pressure));
    assert_true(s.c.fault[SWH_FAULT_undercharge].present &&
                s.c.fault[SWH_FAULT_undercharge].start == -INFINITY);
    CHECK_CLOSE(s.c.fault[SWH_FAULT_undercharge].severity, 0.4, 1e-12, 0);
    CHECK_CLOSE(s.c.fault[SWH_FAULT_fan_dead].severity, 0.5, 1e-12, 0);
    CHECK_CLOSE(s.c.fault[SWH_FAULT_fan_dead].start, 600, 1e-12, 0);
    assert_true(s.c.fault[SWH_FAULT_fan_dead].end == INFINITY);
    assert_int_equal(s.c.choices.controls_cycling, SWH_CYCLING_NONE);
    assert_int_equal(s.params[SWH_P_charge_nominal], SWH_FROM_SCENARIO);
    assert_int_equal(s.params[SWH_P_charge_fraction], SWH_FROM_SET);
    swh_scenario_free(&s);
}

static void scenario_fails(const char *text, long line, long column, const char *what, const char *expected)
{
    static struct swh_scenario s;
    static struct swh_problems p;
    assert_int_equal(load(&s, &p, text, "", NULL, 0), SWH_ERR_INPUT);
    const struct swh_error *e = &p.item[0];
    if (e->line != line || e->column != column || !strstr(e->what, what) || !strstr(e->expected, expected)) {
        print_error("%s: %ld:%ld: %s (expected %s)\n", text, e->line, e->column, e->what, e->expected);
        fail();
    }
    swh_scenario_free(&s);
}

static void test_scenario_mistakes(void **state)
{
    (void)state;
    scenario_fails("[charge]\nfracton = 1\n", 2, 1, "unknown key 'fracton'", "'fraction'");
    scenario_fails("[charge]\n  viscosity_40 = 1\n", 2, 3, "unknown key", "[oil]");
    scenario_fails("[chrage]\nfraction = 1\n", 1, 2, "unknown section [chrage]", "[charge]");
    scenario_fails("[fault undercharg]\nseverity = 1\n", 1, 2, "unknown fault", "'undercharge'");
    scenario_fails("[fault undercharge]\nseverity = 2\n", 2, 12, "out of range", "0 to 1");
    scenario_fails("[fault undercharge]\nseverty = 1\n", 2, 1, "unknown key", "'severity'");
    scenario_fails("[fault undercharge]\nstart = 5 s\n", 1, 2, "no severity", "missing fraction");
    scenario_fails("[fault fan_dead]\nseverity = 1\nramp = 5 s\n", 3, 1, "ramp and no start", "start");
    scenario_fails("[fault fan_dead]\nseverity = 1\nstart = 5 s\nend = 1 s\n", 4, 7, "ends before",
                   "after 5 s");
    scenario_fails("[compressor]\nclearance = 14\n", 2, 13, "no unit", "14 mm");
    scenario_fails("[compressor]\nclearance = 14 K\n", 2, 13, "for a temperature", "a length");
    scenario_fails("[compressor]\nclearance = 14 mm\n", 2, 13, "out of range", "4 um to 100 um");
    scenario_fails("[compressor]\nclearance =\n", 2, 12, "no value", "a length");
    scenario_fails("[compressor]\nclearance = 14 um +- 2\n", 2, 13, "no unit", "a length");
    scenario_fails("[compressor]\nmodel = ten_171\n", 2, 9, "compressor model", "'ten_17");
    scenario_fails("[vehicle]\nexpansion = valv\n", 2, 13, "unknown word", "'valve'");
    scenario_fails("[charge]\nfraction = 1\nfraction = 2\n", 3, 1, "second time", "line 2");
    scenario_fails("fraction = 1\n", 1, 1, "before the first section", "[conditions]");
    scenario_fails("[charge]\nfraction\n", 2, 1, "neither an entry", "key = value");
    scenario_fails("[charge\nfraction = 1\n", 1, 1, "without its end", "']'");
    scenario_fails("[scenario]\nvehicle = none.ini\n", 0, 0, "No such file", "readable");
    scenario_fails("[scenario]\nschedule = none.csv\n", 0, 0, "No such file", "readable");
    scenario_fails("[controls]\nlow_open = 3 bara\nlow_close = 2.5 bara\n", 0, 0, "low_close", "");
    char longest[400] = "[charge]\nfraction = 1 # ";
    memset(longest + strlen(longest), 'x', 300);
    scenario_fails(longest, 2, 190, "more than 190", "shorter");
}

static void test_schedule(void **state)
{
    (void)state;
    static struct swh_scenario s;
    static struct swh_problems p;
    const char *good = "time[s];compressor_speed[rpm];clutch[1]\n0;1500;1\n10;3000,5;\n20;600;0\n";
    write_file("d.csv", good, strlen(good));
    load(&s, &p, "[scenario]\nschedule = d.csv\n", "", NULL, 0);
    assert_int_equal(p.count, 0);
    assert_int_equal(s.c.schedule.rows, 3);
    CHECK_CLOSE(s.c.schedule.column[SWH_IN_compressor_speed][1], 3000.5 / 60, 1e-12, 0);
    CHECK_CLOSE(s.c.schedule.column[SWH_IN_clutch][1], 1, 0, 0); /* a blank holds */
    assert_null(s.c.schedule.column[SWH_IN_sun]);
    swh_scenario_free(&s);
    const char *bad = "time[s],compresor_speed[rpm]\n0,1500\n0,1500\n";
    write_file("d.csv", bad, strlen(bad));
    load(&s, &p, "[scenario]\nschedule = d.csv\n", "", NULL, 0);
    assert_int_equal(p.count, 2);
    assert_non_null(strstr(p.item[0].expected, "compressor_speed"));
    assert_int_equal(p.item[1].line, 3);
    swh_scenario_free(&s);
    unlink("d.csv");
}

/* ---- random bytes: no crash, no hang, and never silence about nonsense ---- */

static size_t random_text(char *out, size_t size, const char *const *words, int count)
{
    size_t n = 0;
    while (n + 40 < size && rand() % 60 != 0) {
        const char *w = words[rand() % count];
        if (rand() % 8 == 0)
            out[n++] = (char)(rand() % 256);
        else
            n += (size_t)snprintf(out + n, size - n, "%s", w);
    }
    return n;
}

static void test_random_logs(void **state)
{
    (void)state;
    static const char *const words[] = {"time[s]",
                                        ",",
                                        ",",
                                        ";",
                                        "\t",
                                        "\n",
                                        "\n",
                                        "\r\n",
                                        "\"",
                                        "1",
                                        "2.5",
                                        "-3",
                                        "1e9",
                                        "nan",
                                        "suction_pressure[barg]",
                                        "Low side (psi)",
                                        "Time",
                                        "00:00:01",
                                        " ",
                                        "#",
                                        "(",
                                        "[",
                                        "]",
                                        ")",
                                        "clutch",
                                        "1e999",
                                        "-",
                                        ":",
                                        "\xEF\xBB\xBF",
                                        "time[s],suction_pressure[barg]\n1,2\n"};
    static char text[4096];
    static struct reading r;
    srand(2);
    for (int i = 0; i < 1500; i++) {
        const size_t n = random_text(text, sizeof text, words, (int)(sizeof words / sizeof words[0]));
        read_log(&r, text, n, i % 3 ? NULL : text);
        assert_true(r.problems.count > 0 || r.rows >= 2);
    }
}

static void test_random_scenarios(void **state)
{
    (void)state;
    static const char *const words[] = {"[",
                                        "]",
                                        "\n",
                                        "\n",
                                        "=",
                                        " ",
                                        "#",
                                        ";",
                                        "charge",
                                        "fraction",
                                        "[charge]\n",
                                        "fraction = 1\n",
                                        "[fault undercharge]\n",
                                        "severity",
                                        "0.5",
                                        "[scenario]\nvehicle = v.ini\n",
                                        "1 um",
                                        "+-",
                                        "oil",
                                        "grade",
                                        "[oil]\n",
                                        "PAG46",
                                        "conditions",
                                        "\r",
                                        "title",
                                        "nan",
                                        "\t",
                                        "[fault ",
                                        "1e400 K"};
    static char text[4096];
    static struct swh_scenario s;
    static struct swh_problems p;
    srand(3);
    for (int i = 0; i < 1500; i++) {
        const size_t n = random_text(text, sizeof text - 1, words, (int)(sizeof words / sizeof words[0]));
        text[n] = '\0';
        const char *const set[] = {text};
        load(&s, &p, text, text, set, i % 2);
        for (int k = 0; k < SWH_PARAM_COUNT; k++) {
            const double x = swh_param_get(&s.c.params, k);
            const struct swh_param_info *info = &swh_param_table[k];
            assert_true(isnan(info->value) ||
                        (x >= info->lo * (1 - 1e-6) - 1e-9 && x <= info->hi * (1 + 1e-6)));
        }
        swh_scenario_free(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dialects),
        cmocka_unit_test(test_clocks),
        cmocka_unit_test(test_foreign_headers),
        cmocka_unit_test(test_spellings),
        cmocka_unit_test(test_map),
        cmocka_unit_test(test_mistakes),
        cmocka_unit_test(test_oddities),
        cmocka_unit_test(test_scenario),
        cmocka_unit_test(test_scenario_mistakes),
        cmocka_unit_test(test_schedule),
        cmocka_unit_test(test_random_logs),
        cmocka_unit_test(test_random_scenarios),
    };
    return cmocka_run_group_tests(tests, begin, end);
}
