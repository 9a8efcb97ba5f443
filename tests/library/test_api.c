/* The public headers from C: limits are judged, errors are values, what is set is read back, steps agree with
 * a run. */
#include <swashheat/swashheat.h>

#include "tests/check.h"

#include <stdio.h>
#include <stdlib.h>

static char scenarios[400];

static struct swh_setup *load(const char *name)
{
    struct swh_error err;
    struct swh_setup *s = NULL;
    char path[500], text[1200];
    snprintf(path, sizeof path, "%s/%s", scenarios, name);
    if (swh_setup_load(&s, path, NULL, &err) != SWH_OK)
        fail_msg("%s", swh_error_text(&err, text, sizeof text));
    return s;
}

static double value_of(const struct swh_setup *s, const char *key, const char *unit)
{
    double x = 0;
    assert_int_equal(swh_setup_get(s, key, unit, &x, NULL), SWH_OK);
    return x;
}

static void test_units(void **state)
{
    (void)state;
    struct swh_error err;
    struct swh_setup *s;
    assert_int_equal(swh_setup_new(&s, &err), SWH_OK);
    /* 100 degF = 310.927778 K, 1 psi = 6894.757 Pa: NIST SP 811 (2008), app. B.8, from memory */
    assert_int_equal(swh_setup_set(s, "conditions.ambient_temperature", 100, "degF", &err), SWH_OK);
    CHECK_CLOSE(value_of(s, "conditions.ambient_temperature", NULL), 310.927778, 0, 1e-6);
    assert_int_equal(swh_setup_set(s, "controls.high_open", 400, "psig", &err), SWH_OK);
    CHECK_CLOSE(value_of(s, "controls.high_open", NULL), 101325 + 400 * 6894.757, 0, 1);
    CHECK_CLOSE(value_of(s, "controls.high_open", "psig"), 400, 0, 1e-9);
    assert_int_equal(swh_setup_set_text(s, "film.none", "1", &err), SWH_ERR_INPUT);
    assert_int_equal(swh_setup_set(s, "conditions.ambient_temperature", 3, "barg", &err), SWH_ERR_INPUT);
    assert_non_null(strstr(err.what, "barg"));
    swh_setup_free(s);
}

static void test_limits_are_judged(void **state)
{
    (void)state;
    struct swh_error err;
    struct swh_setup *s = load("healthy.ini");
    char text[1200];
    const double before = value_of(s, "charge.fraction", NULL);
    assert_int_equal(swh_setup_set(s, "charge.fraction", -3, NULL, &err), SWH_ERR_INPUT);
    assert_non_null(strstr(swh_error_text(&err, text, sizeof text), "charge.fraction = -3"));
    assert_int_equal(swh_setup_set(s, "charge.fraction", NAN, NULL, &err), SWH_ERR_INPUT);
    assert_int_equal(swh_setup_set(s, "nonsense.key", 1, NULL, &err), SWH_ERR_INPUT);
    assert_int_equal(swh_setup_set(s, "nonsense.key", 1, NULL, NULL),
                     SWH_ERR_INPUT); /* without an error too */
    assert_int_equal(swh_setup_set(s, "fault.undercharge.severity", 1.01, NULL, &err), SWH_ERR_INPUT);
    assert_true(value_of(s, "charge.fraction", NULL) == before);
    /* what no single value shows */
    assert_int_equal(swh_setup_set(s, "fault.undercharge.severity", 0.2, NULL, &err), SWH_OK);
    assert_int_equal(swh_setup_check(s, &err), SWH_OK);
    assert_int_equal(swh_setup_set(s, "fault.overcharge.severity", 0.2, NULL, &err), SWH_OK);
    assert_int_equal(swh_setup_check(s, &err), SWH_ERR_INPUT);
    struct swh_record *r;
    assert_int_equal(swh_setup_run(s, &r, &err), SWH_ERR_INPUT);
    assert_null(r);
    swh_setup_free(s);
}

static void test_every_key(void **state)
{
    (void)state;
    struct swh_setup *s;
    struct swh_key_entry k;
    assert_int_equal(swh_setup_new(&s, NULL), SWH_OK);
    assert_true(swh_key_count() > 200);
    for (size_t i = 0; i < swh_key_count(); i++) {
        assert_int_equal(swh_key_describe(i, &k), 0);
        assert_true(k.lowest < k.highest && strlen(k.help) > 2);
        if (swh_setup_set(s, k.name, k.usual, NULL, NULL) != SWH_OK)
            fail_msg("%s = %g", k.name, k.usual);
        const double x = value_of(s, k.name, NULL);
        assert_true(x == k.usual || (isnan(x) && isnan(k.usual)));
        assert_int_equal(swh_setup_set(s, k.name, k.highest + 1 + fabs(k.highest), NULL, NULL),
                         SWH_ERR_INPUT);
    }
    assert_int_equal(swh_key_describe(swh_key_count(), &k), -1);
    swh_setup_free(s);
}

static void test_words(void **state)
{
    (void)state;
    struct swh_error err;
    struct swh_setup *s = load("healthy.ini");
    char word[32];
    assert_int_equal(swh_setup_set_text(s, "vehicle.refrigerant", "R1234yf", &err), SWH_OK);
    assert_int_equal(swh_setup_get_text(s, "vehicle.refrigerant", word, sizeof word, &err), SWH_OK);
    assert_string_equal(word, "R1234yf");
    assert_int_equal(swh_setup_set_text(s, "vehicle.refrigerant", "R999", &err), SWH_ERR_INPUT);
    assert_non_null(strstr(err.expected, "R134a"));
    assert_int_equal(swh_setup_set_text(s, "compressor.bore", "31 mm", &err), SWH_OK);
    CHECK_CLOSE(value_of(s, "compressor.bore", NULL), 0.031, 0, 1e-12);
    assert_int_equal(swh_setup_set_text(s, "compressor.bore", "31", &err), SWH_ERR_INPUT);
    swh_setup_free(s);
}

static void test_files_that_are_wrong(void **state)
{
    (void)state;
    struct swh_error err;
    struct swh_setup *s;
    struct swh_record *r;
    char path[] = "/tmp/swashheat-XXXXXX", text[1200];
    const int fd = mkstemp(path);
    FILE *f = fdopen(fd, "w");
    fputs("[compressor]\nbore = 31 mm\nstrike = 23 mm\n", f);
    fclose(f);
    assert_int_equal(swh_setup_load(&s, path, NULL, &err), SWH_ERR_INPUT);
    assert_null(s);
    assert_int_equal(err.line, 3);
    assert_non_null(strstr(swh_error_text(&err, text, sizeof text), ":3:1: "));
    assert_non_null(strstr(text, "'stroke'"));
    assert_int_equal(swh_setup_load(&s, "/nowhere/at/all.ini", NULL, &err), SWH_ERR_INPUT);
    struct swh_setup *van = load("vehicle-logs.ini");
    assert_int_equal(swh_setup_replay(van, path, NULL, &r, &err), SWH_ERR_INPUT);
    assert_null(r);
    assert_int_equal(swh_setup_drive(van, path, NULL, &err), SWH_ERR_INPUT);
    swh_setup_free(van);
    remove(path);
}

enum { COMPARED = 5 };
static const char *const compared[COMPARED] = {"discharge_temperature", "rotor_temperature",
                                               "suction_pressure", "oil_mass", "cabin_temperature"};

/* Steps along the rows of a run; the largest difference of each channel over all
 * rows, and that of its mean. */
static void step_along(const char *name, double *worst, double *of_mean)
{
    struct swh_error err;
    struct swh_setup *s = load(name);
    struct swh_record *r;
    struct swh_stepper *m;
    assert_int_equal(swh_setup_run(s, &r, &err), SWH_OK);
    assert_int_equal(swh_stepper_new(&m, s, &err), SWH_OK);
    swh_setup_free(s);
    const double *t = swh_record_column(r, swh_channel_find("time"));
    const size_t rows = swh_record_rows(r);
    double sum[COMPARED] = {0};
    memset(worst, 0, COMPARED * sizeof *worst);
    for (size_t k = 1; k < rows; k++) {
        assert_int_equal(swh_stepper_advance(m, t[k], &err), SWH_OK);
        for (int i = 0; i < COMPARED; i++) {
            const int ch = swh_channel_find(compared[i]);
            const double d = swh_stepper_channel(m, ch) - swh_record_column(r, ch)[k];
            if (t[k] > 10) /* the first stroke of the clutch is over: pressures fall by bars a second there */
                worst[i] = fmax(worst[i], fabs(d));
            sum[i] += d;
        }
    }
    for (int i = 0; i < COMPARED; i++)
        of_mean[i] = fabs(sum[i]) / (double)(rows - 1);
    assert_string_equal(swh_stepper_outcome(m), swh_record_outcome(r));
    assert_int_equal(swh_stepper_advance(m, t[rows - 1] - 1, &err), SWH_ERR_INPUT);
    swh_stepper_free(m);
    swh_record_free(r);
}

static void test_steps_agree_with_a_run(void **state)
{
    (void)state;
    static const double within[COMPARED] = {0.15, 0.05, 600, 5e-5, 0.02};
    double worst[COMPARED], of_mean[COMPARED];
    step_along("healthy.ini", worst, of_mean);
    for (int i = 0; i < COMPARED; i++) {
        print_message("%s: %g at most\n", compared[i], worst[i]);
        CHECK_BETWEEN(worst[i], 0, within[i]);
    }
    step_along("summer_drive.ini", worst, of_mean); /* a schedule; the clutch's cycles drift apart in time */
    for (int i = 0; i < COMPARED; i++) {
        print_message("%s: %g in the mean\n", compared[i], of_mean[i]);
        CHECK_BETWEEN(of_mean[i], 0, 4 * within[i]);
    }
}

static void test_inputs_of_a_stepper(void **state)
{
    (void)state;
    struct swh_error err;
    struct swh_setup *s = load("healthy.ini");
    struct swh_stepper *m;
    assert_int_equal(swh_stepper_new(&m, s, &err), SWH_OK);
    const int speed = swh_channel_find("compressor_speed"), power = swh_channel_find("shaft_power");
    assert_int_equal(swh_stepper_advance(m, 300, &err), SWH_OK);
    const double slow = swh_stepper_channel(m, power);
    assert_int_equal(swh_stepper_input(m, "conditions.compressor_speed", 50, &err), SWH_OK);
    assert_int_equal(swh_stepper_advance(m, 360, &err), SWH_OK);
    CHECK_CLOSE(swh_stepper_channel(m, speed), 50, 0, 0.5);
    assert_true(swh_stepper_channel(m, power) > 1.2 * slow); /* twice the speed at about the same pressures */
    assert_int_equal(swh_stepper_input(m, "clutch", 0, &err), SWH_OK);
    assert_int_equal(swh_stepper_advance(m, 370, &err), SWH_OK);
    assert_true(swh_stepper_channel(m, swh_channel_find("clutch")) == 0);
    assert_int_equal(swh_stepper_input(m, "compressor_speed", 1e4, &err), SWH_ERR_INPUT);
    assert_int_equal(swh_stepper_input(m, "speed_of_light", 1, &err), SWH_ERR_INPUT);
    assert_true(isnan(swh_stepper_channel(m, -1)) && isnan(swh_stepper_channel(m, 100000)));
    swh_stepper_free(m);
    swh_setup_free(s);
}

static void test_logs(void **state)
{
    (void)state;
    struct swh_error err;
    struct swh_setup *s = load("vehicle-logs.ini"), *copy;
    struct swh_record *r;
    char path[500];
    snprintf(path, sizeof path, "%s/logs/bay-healthy.csv", scenarios);
    assert_int_equal(swh_setup_replay(s, path, NULL, &r, &err), SWH_OK);
    const int pipe = swh_channel_find("discharge_temperature");
    const double *said = swh_record_column(r, pipe), *read = swh_record_reading(r, pipe);
    double sum = 0, n = 0;
    for (size_t k = 0; k < swh_record_rows(r); k++)
        if (!isnan(read[k]))
            sum += pow(said[k] - read[k], 2), n++;
    assert_true(n > 100 && sqrt(sum / n) < 6); /* the vehicle file was fitted on this log */
    swh_record_free(r);
    assert_int_equal(swh_setup_copy(&copy, s, &err), SWH_OK);
    assert_int_equal(swh_setup_drive(copy, path, NULL, &err), SWH_OK);
    assert_int_equal(swh_setup_set(copy, "conditions.compressor_speed", 20, NULL, &err),
                     SWH_ERR_INPUT); /* the log drives it */
    assert_int_equal(swh_setup_set(s, "conditions.compressor_speed", 20, NULL, &err), SWH_OK);
    assert_int_equal(swh_setup_run(copy, &r, &err), SWH_OK);
    assert_null(swh_record_reading(r, pipe));
    assert_true(swh_record_complete(r) && swh_record_figure(r, "end_time_s") > 1000);
    assert_true(isnan(swh_record_figure(r, "no such figure")));
    assert_null(swh_record_column(r, -1));
    swh_record_free(r);
    swh_setup_free(copy);
    swh_setup_free(s);
}

static void test_seizure(void **state)
{
    (void)state;
    struct swh_error err;
    struct swh_setup *s = load("healthy.ini");
    struct swh_record *r;
    struct swh_stepper *m;
    struct swh_happening e = {0};
    assert_int_equal(swh_setup_set(s, "oil.total", 0.001, NULL, &err), SWH_OK);
    assert_int_equal(swh_setup_set(s, "conditions.compressor_speed", 60, NULL, &err), SWH_OK);
    assert_int_equal(swh_setup_run(s, &r, &err), SWH_OK);
    const double when = swh_record_figure(r, "time_to_seizure_s");
    assert_true(strstr(swh_record_outcome(r), "seized") != NULL && when > 0);
    for (size_t i = 0; i < swh_record_events(r) && !(e.name && strstr(e.name, "seizure")); i++)
        assert_int_equal(swh_record_event(r, i, &e), 0);
    assert_non_null(strstr(e.name, "seizure"));
    CHECK_CLOSE(e.time, when, 0, 1e-9);
    assert_int_equal(swh_record_event(r, swh_record_events(r), &e), -1);
    assert_int_equal(swh_stepper_new(&m, s, &err), SWH_OK);
    assert_int_equal(swh_stepper_advance(m, when + 100, &err), SWH_OK); /* time goes on, nothing changes */
    assert_true(swh_stepper_time(m) == when + 100);
    assert_string_equal(swh_stepper_outcome(m), swh_record_outcome(r));
    swh_stepper_free(m);
    swh_record_free(r);
    swh_setup_free(s);
}

/* A refrigerant of a fluid file belongs to all setups and steppers that were made of one, whichever goes
 * first. */
static void test_own_refrigerant(void **state)
{
    (void)state;
    struct swh_error err;
    struct swh_setup *own = load("healthy.ini"), *known = load("healthy.ini"), *copy;
    struct swh_stepper *machine;
    struct swh_record *r, *plain;
    char path[500], *text;
    setenv("XDG_CACHE_HOME", "/dev/null/none", 1); /* nothing is kept: the tables are made here */
    snprintf(path, sizeof path, "%s/../tests/cli/fluids/r134a.json", scenarios);
    assert_int_equal(swh_setup_set_text(own, "vehicle.refrigerant", "none.json", &err), SWH_ERR_INPUT);
    assert_non_null(strstr(err.where, "none.json"));
    assert_int_equal(swh_setup_set_text(own, "vehicle.refrigerant", path, &err), SWH_OK);
    assert_int_equal(swh_setup_set(own, "run.duration", 120, NULL, &err), SWH_OK);
    assert_int_equal(swh_setup_set(known, "run.duration", 120, NULL, &err), SWH_OK);
    assert_int_equal(swh_setup_text(own, "s.csv", &text, &err), SWH_OK);
    assert_non_null(strstr(text, "r134a.json"));
    swh_text_free(text);
    assert_int_equal(swh_setup_copy(&copy, own, &err), SWH_OK);
    assert_int_equal(swh_stepper_new(&machine, own, &err), SWH_OK);
    swh_setup_free(own);
    assert_int_equal(swh_stepper_advance(machine, 30, &err), SWH_OK);
    assert_int_equal(swh_setup_run(copy, &r, &err), SWH_OK);
    assert_int_equal(swh_setup_run(known, &plain, &err), SWH_OK);
    const int channel = swh_channel_find("discharge_pressure");
    CHECK_CLOSE(swh_record_column(r, channel)[100], swh_record_column(plain, channel)[100], 1e-4, 0);
    assert_int_equal(swh_setup_set_text(copy, "vehicle.refrigerant", "R134a", &err), SWH_OK); /* and back */
    swh_record_free(r);
    assert_int_equal(swh_setup_run(copy, &r, &err), SWH_OK);
    assert_true(swh_record_column(r, channel)[100] == swh_record_column(plain, channel)[100]);
    swh_record_free(r);
    swh_record_free(plain);
    swh_setup_free(copy);
    swh_setup_free(known);
    assert_int_equal(swh_stepper_advance(machine, 60, &err), SWH_OK);
    swh_stepper_free(machine);
}

static void test_nothing(void **state)
{
    (void)state;
    swh_setup_free(NULL);
    swh_record_free(NULL);
    swh_stepper_free(NULL);
    swh_logs_free(NULL);
    swh_fitted_free(NULL);
    swh_causes_free(NULL);
    swh_verdict_free(NULL);
    assert_string_equal(swh_version(), SWH_VERSION);
    assert_true(strlen(swh_commit()) > 0);
}

int main(int argc, char **argv)
{
    if (argc != 2)
        return 2;
    snprintf(scenarios, sizeof scenarios, "%s", argv[1]);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_units),
        cmocka_unit_test(test_limits_are_judged),
        cmocka_unit_test(test_every_key),
        cmocka_unit_test(test_words),
        cmocka_unit_test(test_files_that_are_wrong),
        cmocka_unit_test(test_steps_agree_with_a_run),
        cmocka_unit_test(test_inputs_of_a_stepper),
        cmocka_unit_test(test_logs),
        cmocka_unit_test(test_seizure),
        cmocka_unit_test(test_own_refrigerant),
        cmocka_unit_test(test_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
