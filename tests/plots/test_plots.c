/* Pictures: they appear whole, or not at all with an error that says why. The drawn run is invented
 * (plots_demo.c). */
#include "plots/page/page.h"
#include "plots/pictures/series.h"
#include "tests/plots/plots_demo.h"

#include <dirent.h>
#include <math.h>
#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

static struct demo seizing, replayed;
static char folder[64];

/* ---- helpers ---- */

static long file_size(const char *name)
{
    char path[200];
    struct stat st;
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return stat(path, &st) == 0 ? (long)st.st_size : -1;
}

static char *file_text(const char *name)
{
    char path[200];
    const long size = file_size(name);
    assert_true(size >= 0);
    snprintf(path, sizeof path, "%s/%s", folder, name);
    char *text = calloc(1, (size_t)size + 1);
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    assert_non_null(text);
    assert_int_equal(fread(text, 1, (size_t)size, f), size);
    fclose(f);
    return text;
}

static int files_in(const char *path)
{
    int n = 0;
    DIR *d = opendir(path);
    assert_non_null(d);
    for (struct dirent *e = readdir(d); e; e = readdir(d))
        n += e->d_name[0] != '.';
    closedir(d);
    return n;
}

static void empty_folder(void)
{
    char path[400];
    DIR *d = opendir(folder);
    assert_non_null(d);
    for (struct dirent *e = readdir(d); e; e = readdir(d)) {
        snprintf(path, sizeof path, "%s/%s", folder, e->d_name);
        if (e->d_name[0] != '.')
            remove(path);
    }
    closedir(d);
}

/* Width and height from the header of a PNG (ISO/IEC 15948:2004, 11.2.2: IHDR
 * follows the 8-byte signature). */
static void png_size(const char *name, unsigned long *width, unsigned long *height)
{
    unsigned char *b = (unsigned char *)file_text(name);
    assert_memory_equal(b, "\x89PNG\r\n\x1a\n", 8);
    assert_memory_equal(b + 12, "IHDR", 4);
    *width = (unsigned long)b[16] << 24 | (unsigned long)b[17] << 16 | (unsigned long)b[18] << 8 | b[19];
    *height = (unsigned long)b[20] << 24 | (unsigned long)b[21] << 16 | (unsigned long)b[22] << 8 | b[23];
    free(b);
}

static void options(struct swh_plot_options *o, struct swh_error *err, enum swh_plot_format format,
                    bool trade)
{
    demo_options(o, format, trade, folder);
    swh_error_clear(err);
}

static void assert_in_picture(const char *name, const char *words)
{
    char *text = file_text(name);
    if (!strstr(text, words))
        fail_msg("%s does not say: %s", name, words);
    free(text);
}

/* ---- whole pictures ---- */

static void test_every_picture_of_a_run(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    options(&o, &err, SWH_PLOT_PNG, false);
    assert_int_equal(swh_plot_run(&replayed.series, &o, &err), SWH_OK);
    assert_int_equal(files_in(folder), swh_plot_picture_count);
    for (int i = 0; i < swh_plot_picture_count; i++) {
        char name[64];
        unsigned long width, height;
        snprintf(name, sizeof name, "%s.png", swh_plot_pictures[i].name);
        assert_true(file_size(name) > 20000);
        png_size(name, &width, &height);
        assert_int_equal(width, 1400);
        assert_in_range(height, 500, 2000);
    }
}

static void test_a_run_without_readings_has_no_comparison(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    options(&o, &err, SWH_PLOT_SVG, false);
    assert_int_equal(swh_plot_run(&seizing.series, &o, &err), SWH_OK);
    assert_int_equal(file_size("predicted_measured.svg"), -1);
    assert_int_equal(swh_plot_predicted_measured(&seizing.series, &o, &err), SWH_ERR_INPUT);
    assert_non_null(strstr(err.what, "predicted_measured"));
}

static void test_what_drives_a_replay_is_not_compared(void **state)
{
    (void)state;
    struct demo d;
    struct swh_plot_options o;
    struct swh_error err;
    long counts[SWH_CHANNEL_COUNT] = {0};
    options(&o, &err, SWH_PLOT_SVG, false);
    demo_make(&d, 300, 600, 0.1, true);
    for (size_t i = 0; i < 300; i++)
        for (int ch = SWH_CH_suction_pressure; ch <= SWH_CH_discharge_pressure; ch++)
            d.measured[i * SWH_CHANNEL_COUNT + (size_t)ch] = d.value[i * SWH_CHANNEL_COUNT + (size_t)ch];
    assert_int_equal(swh_plot_predicted_measured(&d.series, &o, &err), SWH_OK);
    char *text = file_text("predicted_measured.svg");
    assert_null(strstr(text, "barg"));
    assert_null(strstr(text, ">suction"));
    assert_non_null(strstr(text, ">vent"));
    free(text);
    counts[SWH_CH_discharge_temperature] = 300; /* who knows what was compared says so */
    d.series.compared = counts;
    assert_int_equal(swh_plot_predicted_measured(&d.series, &o, &err), SWH_OK);
    text = file_text("predicted_measured.svg");
    assert_non_null(strstr(text, ">discharge"));
    assert_null(strstr(text, ">vent"));
    free(text);
    demo_free(&d);
}

static void test_a_fit_says_how_well_and_what_it_did_not_see(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    struct swh_plot_series s = replayed.series;
    struct swh_plot_fit fit = *s.fit;
    s.fit = &fit;
    options(&o, &err, SWH_PLOT_SVG, false);
    assert_int_equal(swh_plot_fitted(&s, &o, &err), SWH_OK);
    assert_in_picture("fitted.svg", "valve.area fitted: discharge temperature within 1.2");
    assert_in_picture("fitted.svg", "(unseen part");
    assert_in_picture("fitted.svg", ">before 4.2 K<");
    assert_in_picture("fitted.svg", ">not seen 0.09 bar<");
    assert_in_picture("fitted.svg", "grey: not seen by the fit");
    assert_in_picture("fitted.svg", "valve.area  1.73 mm2  (1.59 to 1.88)");
    char *text = file_text("fitted.svg");
    assert_null(strstr(text, ">vent")); /* read, but not compared by the fit */
    free(text);
    fit.suffix = "second";
    fit.before = NULL;
    fit.hidden_from = NAN;
    for (int ch = 0; ch < SWH_CHANNEL_COUNT; ch++)
        fit.hidden_rms[ch] = fit.before_rms[ch] = NAN;
    assert_int_equal(swh_plot_fitted(&s, &o, &err), SWH_OK);
    text = file_text("fitted-second.svg");
    assert_null(strstr(text, "not seen"));
    assert_null(strstr(text, "unseen"));
    assert_null(strstr(text, "before"));
    free(text);
    s.fit = NULL;
    assert_int_equal(swh_plot_fitted(&s, &o, &err), SWH_ERR_INPUT);
}

/* coordinates of a picture's curves and points, roughly: the more readings are drawn, the larger it is */
static void test_a_fit_on_a_cycling_log_draws_means(void **state)
{
    (void)state;
    struct demo d;
    struct swh_plot_options o;
    struct swh_error err;
    options(&o, &err, SWH_PLOT_SVG, false);
    demo_make(&d, 1200, 1200, 0.1, true);
    demo_fit(&d);
    assert_int_equal(swh_plot_fitted(&d.series, &o, &err), SWH_OK);
    const long readings = file_size("fitted.svg");
    for (size_t i = 0; i < d.series.n; i++)
        d.measured[i * SWH_CHANNEL_COUNT + SWH_CH_clutch] = d.value[i * SWH_CHANNEL_COUNT + SWH_CH_clutch];
    assert_int_equal(swh_plot_fitted(&d.series, &o, &err), SWH_OK);
    assert_in_picture("fitted.svg", "drawn as window means, because the clutch cycles");
    assert_true(file_size("fitted.svg") < readings / 2); /* 38 windows in the place of 1200 readings */
    demo_free(&d);
}

static void test_formats(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    options(&o, &err, SWH_PLOT_PDF, false);
    assert_int_equal(swh_plot_body_temperatures(&seizing.series, &o, &err), SWH_OK);
    char *pdf = file_text("body_temperatures.pdf");
    assert_memory_equal(pdf, "%PDF", 4);
    free(pdf);
    empty_folder();
    options(&o, &err, SWH_PLOT_NONE, false);
    assert_int_equal(swh_plot_run(&seizing.series, &o, &err), SWH_OK);
    assert_int_equal(files_in(folder), 0);
    assert_int_equal(swh_plot_format_find("svg"), SWH_PLOT_SVG);
    assert_int_equal(swh_plot_format_find("gif"), -1);
}

static void test_units_on_the_axes(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    options(&o, &err, SWH_PLOT_SVG, true);
    assert_int_equal(swh_plot_run(&seizing.series, &o, &err), SWH_OK);
    assert_in_picture("body_temperatures.svg", "temperature, \xc2\xb0"
                                               "F");
    assert_in_picture("pressures.svg", "pressure, psig");
    options(&o, &err, SWH_PLOT_SVG, false);
    assert_int_equal(swh_plot_run(&seizing.series, &o, &err), SWH_OK);
    assert_in_picture("body_temperatures.svg", "temperature, \xc2\xb0"
                                               "C");
    assert_in_picture("pressures.svg", "pressure, barg");
    o.shown = NULL;
    assert_int_equal(swh_plot_run(&seizing.series, &o, &err), SWH_OK);
    assert_in_picture("body_temperatures.svg", "temperature, K");
    assert_in_picture("pressures.svg", "pressure, Pa");
}

static void test_the_answer_is_the_title(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    struct swh_plot_series s = seizing.series;
    options(&o, &err, SWH_PLOT_SVG, false);
    assert_int_equal(swh_plot_body_temperatures(&s, &o, &err), SWH_OK);
    assert_in_picture("body_temperatures.svg", "A shoe welds to the plate after 17.5 min");
    assert_in_picture("body_temperatures.svg", "bare metal welds 240");
    assert_in_picture("body_temperatures.svg", "clutch engaged, 7");
    s.outcome = "It died at 99 degC of {/:Italic th_i^r@s~t} \\ & 'dust'";
    assert_int_equal(swh_plot_body_temperatures(&s, &o, &err), SWH_OK);
    assert_in_picture("body_temperatures.svg", "It died at 99 \xc2\xb0"
                                               "C of {/:Italic th_i^r@s~t} \\ &amp; 'dust'");
    s.outcome = NULL;
    s.event_count = 0;
    assert_int_equal(swh_plot_body_temperatures(&s, &o, &err), SWH_OK);
    assert_in_picture("body_temperatures.svg", "The compressor survives 18 min");
}

/* At rest the film ratio is nothing: that must not be read as a lost film. */
static void test_the_film_is_judged_while_running(void **state)
{
    (void)state;
    struct demo d;
    struct swh_plot_options o;
    struct swh_error err;
    options(&o, &err, SWH_PLOT_SVG, false);
    demo_make(&d, 1800, 1800, 0.1, false);
    for (size_t i = 0; i < 1800; i++) {
        double *v = d.value + i * SWH_CHANNEL_COUNT;
        v[SWH_CH_film_ratio] = v[SWH_CH_clutch] > 0.5 ? 3.25 : 0.05;
    }
    assert_int_equal(swh_plot_film_oil(&d.series, &o, &err), SWH_OK);
    assert_in_picture("film_oil.svg", "A clear oil film throughout: film ratio at least 3.2");
    assert_in_picture("film_oil.svg", ">3.25<");
    d.event[d.series.event_count++] = (struct swh_plot_event){1200, SWH_EV_film_lost, NULL};
    assert_int_equal(swh_plot_film_oil(&d.series, &o, &err), SWH_OK);
    assert_in_picture("film_oil.svg", "The oil film is lost after 20 min");
    demo_free(&d);
}

/* Windows are whole cycles of the clutch, in order, from the start of the run to its end. */
static void test_windows_follow_the_clutch(void **state)
{
    (void)state;
    enum { MAX = 100 };
    double edge[MAX + 1];
    const double period = 14; /* of the demo's clutch */
    const size_t n = swh_series_windows(&seizing.series, edge, MAX);
    assert_in_range(n, 10, MAX);
    assert_true(edge[0] == 0 && edge[n] == 1080);
    for (size_t w = 1; w < n; w++) {
        assert_true(edge[w] > edge[w - 1]);
        assert_true(fabs(edge[w] / period - round(edge[w] / period)) < 1e-9);
    }
    struct swh_plot_series steady = seizing.series;
    steady.event_count = 0;
    assert_int_equal(swh_series_windows(&steady, edge, MAX), MAX);
    assert_true(fabs(edge[1] - 10.8) < 1e-9);
    steady.n = 3;
    assert_int_equal(swh_series_windows(&steady, edge, MAX), 2);
}

/* The ledger's shares: constant flows of 300 W and 100 W in, 200 W out leave half
 * of the heat in the metal. */
static void test_ledger_shares(void **state)
{
    (void)state;
    enum { ROWS = 50 };
    static double value[ROWS * SWH_CHANNEL_COUNT];
    struct swh_plot_options o;
    struct swh_error err;
    struct swh_plot_series s = {.name = "constant", .n = ROWS, .value = value};
    for (int i = 0; i < ROWS * SWH_CHANNEL_COUNT; i++)
        value[i] = NAN;
    for (int i = 0; i < ROWS; i++) {
        double *v = value + i * SWH_CHANNEL_COUNT;
        v[SWH_CH_time] = 10.0 * i;
        v[SWH_CH_heat_shoe_friction] = 300;
        v[SWH_CH_heat_discharge_gas] = 100;
        v[SWH_CH_heat_suction_block] = -150;
        v[SWH_CH_heat_shell_air] = -50;
    }
    options(&o, &err, SWH_PLOT_SVG, false);
    assert_int_equal(swh_plot_heat_ledger(&s, &o, &err), SWH_OK);
    assert_in_picture("heat_ledger.svg", "Suction gas took 75 %");
    assert_in_picture("heat_ledger.svg", "75 %  friction of shoes on the plate");
    assert_in_picture("heat_ledger.svg", "50 %  kept: the metal got hotter");
    assert_in_picture("heat_ledger.svg", "shares of 196 kJ");
}

static void test_overlay(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    struct swh_plot_series both[2] = {replayed.series, seizing.series};
    options(&o, &err, SWH_PLOT_SVG, false);
    both[0].name = "healthy";
    both[1].name = "70 % short";
    assert_int_equal(swh_plot_overlay(both, 2, NULL, &o, &err), SWH_OK);
    assert_in_picture("overlay.svg", "1 of 2 compressors seizes; first: 70 % short, after 17.5 min");
    assert_int_equal(swh_plot_overlay(both, 0, NULL, &o, &err), SWH_ERR_INPUT);
}

static void test_cycle(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    const double P[] = {3e5, 15e5, 15e5, 3e5}, h[] = {405e3, 445e3, 260e3, 260e3};
    const struct swh_plot_cycle cycle = {"after 10 min", 4, P, h, false};
    options(&o, &err, SWH_PLOT_SVG, true);
    assert_int_equal(swh_plot_pressure_enthalpy(swh_fluid_get(SWH_R134A), &cycle, 1, "A cycle", &o, &err),
                     SWH_OK);
    assert_in_picture("pressure_enthalpy.svg", "after 10 min");
    assert_in_picture("pressure_enthalpy.svg", "evaporates at 33 \xc2\xb0"
                                               "F");
    assert_in_picture("pressure_enthalpy.svg", "absolute pressure, psi");
    assert_in_picture("pressure_enthalpy.svg", "specific enthalpy, BTU/lb");
    assert_int_equal(swh_plot_pressure_enthalpy(swh_fluid_get(SWH_R134A), &cycle, 0, NULL, &o, &err),
                     SWH_ERR_INPUT);
}

static void test_curves_map_bars(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    const double x[] = {300, 350, 400}, y[] = {100, 220, 180}, z[] = {1, 2, 3, 4, NAN, 6, 7, 8, 9};
    const struct swh_plot_curve curve = {"heat gained", 3, x, y, NULL, NULL};
    const struct swh_plot_mark mark = {350, 220, "the fold"};
    const struct swh_plot_line line = {390, NAN, "limit"};
    const struct swh_plot_axis T = {"temperature", SWH_Q_TEMPERATURE, NAN, NAN},
                               Q = {"heat", SWH_Q_POWER, NAN, NAN}, none = {"share", SWH_Q_NONE, NAN, NAN};
    const struct swh_plot_curves curves = {
        "fold", "Title", NULL, T, Q, &curve, 1, &mark, 1, &line, 1, NULL, {"", SWH_Q_NONE, NAN, NAN}};
    const struct swh_plot_map map = {"map", "Title", "below", T,    T, none, 3, 3,
                                     x,     x,       z,       NULL, 0, NULL, 0, "seizes"};
    const struct swh_plot_bar bar[] = {{"undercharge", 0.7, 0.5, 0.9, "70 %", true},
                                       {"healthy", 0.3, NAN, NAN, NULL, false}};
    const struct swh_plot_bars bars = {"ranking", "Title", NULL, none, bar, 2};
    options(&o, &err, SWH_PLOT_SVG, false);
    assert_int_equal(swh_plot_curves(&curves, &o, &err), SWH_OK);
    assert_in_picture("fold.svg", "the fold");
    assert_int_equal(swh_plot_map(&map, &o, &err), SWH_OK);
    assert_in_picture("map.svg", "seizes");
    assert_int_equal(swh_plot_bars(&bars, &o, &err), SWH_OK);
    assert_in_picture("ranking.svg", "undercharge");
}

/* ---- judgements ---- */

/* many causes with long names: two that read alike stand together with their sum, a pair has two lines, what
 * is under a per cent is summed up */
static void test_causes(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    static const char line[] = "lost fraction of the line's inner diameter at its narrowest place";
    const struct swh_plot_cause cause[] = {
        {"liquid line restricted", NULL, 0.40, 0.74, 0.57, 0.92, NAN, line, NULL, 7, true},
        {"liquid line restricted", "hot air recirculation", 0.30, 0.4, 0.2, 0.6, 0.7, line, line, 0, false},
        {"valve starving", NULL, 0.25, 0.67, 0.49, 0.84, NAN, "lost fraction of the largest opening", NULL, 7,
         false},
        {"healthy", NULL, 0.04, NAN, NAN, NAN, NAN, NULL, NULL, 0, false},
        {"overcharge", NULL, 0.006, 0.1, 0, 0.2, NAN, "excess", NULL, 0, false},
        {"oil short", NULL, 0.004, 0.1, 0, 0.2, NAN, "lost fraction of the oil", NULL, 0, false},
    };
    struct swh_plot_causes causes = {"Title", "below", cause, 6};
    unsigned long width, height, fewer;
    options(&o, &err, SWH_PLOT_SVG, false);
    assert_int_equal(swh_plot_causes(&causes, &o, &err), SWH_OK);
    assert_in_picture("causes.svg", ">read alike,<");
    assert_in_picture("causes.svg", ">sum 65 %<"); /* 40 + 25, though a cause with 30 % stands between them */
    assert_in_picture("causes.svg", ">and hot air recirculation<");
    assert_in_picture("causes.svg", ">0.40 (0.20 to 0.60) and 0.70<");
    assert_in_picture("causes.svg", ">2 others together<");
    assert_in_picture("causes.svg", ">1 %<");
    assert_in_picture("causes.svg", ">overcharge, oil short<");
    assert_in_picture("causes.svg", ">no fault<");
    options(&o, &err, SWH_PLOT_PNG, false);
    assert_int_equal(swh_plot_causes(&causes, &o, &err), SWH_OK);
    png_size("causes.png", &width, &height);
    assert_int_equal(width, 1400);
    causes.causes = 2;
    assert_int_equal(swh_plot_causes(&causes, &o, &err), SWH_OK);
    png_size("causes.png", &width, &fewer);
    assert_true(fewer < height);
    causes.causes = 0;
    assert_int_equal(swh_plot_causes(&causes, &o, &err), SWH_ERR_INPUT);
}

static void test_evidence(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    const enum swh_channel channel[] = {SWH_CH_discharge_pressure, SWH_CH_condenser_air_out_temperature,
                                        SWH_CH_cabin_temperature};
    const struct swh_plot_steady rest[] = {{"condenser blocked",
                                            NULL,
                                            0.9,
                                            {0.4, 0.1, NAN},
                                            {0.2, 0.3, 0},
                                            {21000, -0.04, NAN},
                                            {SWH_PLOT_SPEAKS_FOR},
                                            {2.5, 0}},
                                           {"liquid line restricted",
                                            "hot air recirculation",
                                            0.0995,
                                            {-12, 1, NAN},
                                            {1, 0.3, 0},
                                            {-123000, 2, NAN},
                                            {SWH_PLOT_SPEAKS_AGAINST},
                                            {-0.9, 0}},
                                           {"healthy",
                                            NULL,
                                            0.0005,
                                            {4.5, NAN, NAN},
                                            {0.2, 0, 0},
                                            {5.29e5, NAN, NAN},
                                            {SWH_PLOT_SPEAKS_AGAINST},
                                            {-2.1, 0}}};
    const char *const finding[] = {"condenser face: 40 %", "oil dark: yes"};
    struct swh_plot_evidence evidence = {"Title", "below", channel, 3, 0, rest, 3, finding, 2};
    options(&o, &err, SWH_PLOT_SVG, false);
    assert_int_equal(swh_plot_evidence(&evidence, &o, &err), SWH_OK);
    assert_in_picture("evidence.svg", ">condenser face: 40 %<");
    assert_in_picture("evidence.svg", ">strongly for<");
    assert_in_picture("evidence.svg", ">against<");
    assert_in_picture("evidence.svg", ">strongly against<");
    assert_in_picture("evidence.svg", ">says nothing<");
    assert_in_picture("evidence.svg", ">+0.21 bar<");
    assert_in_picture("evidence.svg", ">-1.23 bar<");
    assert_in_picture("evidence.svg", ">0.0 K<"); /* not -0.0 */
    assert_in_picture("evidence.svg", ">condenser air out temperature<");
    assert_in_picture("evidence.svg", ">liquid line restricted and<");
    assert_in_picture("evidence.svg", "share &lt; 0.1 %");
    assert_in_picture("evidence.svg", ">against<");
    char *text = file_text("evidence.svg");
    assert_null(strstr(text, "cabin")); /* nothing was compared */
    free(text);
    options(&o, &err, SWH_PLOT_SVG, true);
    assert_int_equal(swh_plot_evidence(&evidence, &o, &err), SWH_OK);
    assert_in_picture("evidence.svg", ">-17.8 psi<"); /* 1.23 bar; NIST SP 811: 1 psi = 6.894757 kPa */
    evidence.rests = 0;
    assert_int_equal(swh_plot_evidence(&evidence, &o, &err), SWH_ERR_INPUT);
}

/* Where a cause is singled out: two normal densities with one standard deviation s and means a < b have the
 * ratio 3 at (a + b)/2 - s^2 ln 3/(b - a) (by hand: ln of the ratio is ((x - b)^2 - (x - a)^2)/(2 s^2)). */
static void test_plan(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    const struct swh_plot_suspect cause[] = {{"undercharge", NULL},
                                             {"valve starving", NULL},
                                             {"oil short", "liquid line restricted"},
                                             {"fan dead", NULL}};
    const double value[] = {20e5, 22e5, 22.1e5, NAN};
    struct swh_plot_prediction reading = {SWH_CH_discharge_pressure, 15e3, 50e3, 25e5, value};
    struct swh_plot_plan plan = {"Title", "below", cause, 4, &reading, 1, 3, "where to stop", true};
    options(&o, &err, SWH_PLOT_SVG, false);
    assert_int_equal(swh_plot_plan(&plan, &o, &err), SWH_OK);
    /* 21 bar - 0.25 bar2 * 1.0986/(2 bar) = 20.863 bar, less an atmosphere of 1.01325 bar: 19.85 barg */
    assert_in_picture("plan.svg", ">believe it below 19.8 barg<");
    assert_in_picture("plan.svg", ">not told by this reading alone<"); /* two that are all but equal */
    assert_in_picture("plan.svg", ">does not get through this test<");
    assert_in_picture("plan.svg", ">stop at once above 24.0 barg<");
    assert_in_picture("plan.svg", "where to stop");
    assert_in_picture("plan.svg", ">and liquid line restricted<");
    reading.limit = 60e5; /* far away: not drawn */
    assert_int_equal(swh_plot_plan(&plan, &o, &err), SWH_OK);
    char *text = file_text("plan.svg");
    assert_null(strstr(text, "stop at once"));
    free(text);
    const double nowhere[] = {NAN, NAN, NAN, NAN};
    reading.value = nowhere;
    assert_int_equal(swh_plot_plan(&plan, &o, &err), SWH_ERR_INPUT);
}

static void test_acceptance(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    const struct swh_plot_judged channel[] = {
        {SWH_CH_suction_pressure, 3.5e5, 3.4e5, 0.2e5, true, true, NULL},
        {SWH_CH_condenser_air_out_temperature, 340, 320, 2, false, true, NULL},
        {SWH_CH_vent_temperature, NAN, NAN, NAN, true, false, "no readings, but needed"}};
    const struct swh_plot_demand demand[] = {{"evidence for a fault", "far more", 30, false},
                                             {"shoe contact in the worst hour", "up to here", 0.4, true}};
    struct swh_plot_acceptance accept = {"Title", "below", 3, channel, 3, demand, 2, "What else is asked"};
    options(&o, &err, SWH_PLOT_SVG, false);
    assert_int_equal(swh_plot_acceptance(&accept, &o, &err), SWH_OK);
    assert_in_picture("accept.svg",
                      ">2.49 barg (healthy: 1.79 to 2.99)<"); /* 3.4 bar +- 3 * 0.2 bar, gauge */
    assert_in_picture("accept.svg", ">no readings, but needed<");
    assert_in_picture("accept.svg", ">FAIL<");
    assert_in_picture("accept.svg", ">What else is asked<");
    accept.channels = 0;
    assert_int_equal(swh_plot_acceptance(&accept, &o, &err), SWH_ERR_INPUT);
    empty_folder();
    options(&o, &err, SWH_PLOT_NONE, false);
    accept.channels = 3;
    assert_int_equal(swh_plot_acceptance(&accept, &o, &err), SWH_OK);
    assert_int_equal(files_in(folder), 0);
}

/* ---- what can go wrong ---- */

/* Runs a drawing with another PATH. */
static enum swh_status draw_with_path(const char *path, const struct swh_plot_series *s,
                                      struct swh_error *err)
{
    struct swh_plot_options o;
    char before[4000];
    options(&o, err, SWH_PLOT_PNG, false);
    snprintf(before, sizeof before, "%s", getenv("PATH"));
    setenv("PATH", path, 1);
    const enum swh_status status = swh_plot_body_temperatures(s, &o, err);
    setenv("PATH", before, 1);
    return status;
}

static void test_missing_gnuplot(void **state)
{
    (void)state;
    struct swh_error err;
    assert_int_equal(draw_with_path("/nowhere", &seizing.series, &err), SWH_ERR_OUTPUT);
    assert_non_null(strstr(err.what, "cannot start gnuplot"));
    assert_non_null(strstr(err.expected, "gnuplot-nox"));
    assert_non_null(strstr(err.where, "body_temperatures.png"));
    assert_int_equal(files_in(folder), 0);
}

static void fake_gnuplot(const char *script)
{
    char path[100];
    snprintf(path, sizeof path, "%s/.fake", folder);
    assert_true(mkdir(path, 0700) == 0 || access(path, X_OK) == 0);
    snprintf(path, sizeof path, "%s/.fake/gnuplot", folder);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fprintf(f, "#!/bin/sh\n%s\n", script);
    fclose(f);
    chmod(path, 0700);
}

/* A gnuplot that goes away without reading, while we still write: no SIGPIPE ends us, nothing is left. */
static void test_failing_gnuplot(void **state)
{
    (void)state;
    char path[100];
    struct swh_error err;
    struct demo d;
    demo_make(&d, 20000, 1800, 0.1, false);
    snprintf(path, sizeof path, "%s/.fake", folder);
    fake_gnuplot("echo 'no such terminal' >&2; exit 3");
    assert_int_equal(draw_with_path(path, &d.series, &err), SWH_ERR_OUTPUT);
    assert_non_null(strstr(err.what, "no such terminal"));
    fake_gnuplot("kill -9 $$");
    assert_int_equal(draw_with_path(path, &d.series, &err), SWH_ERR_OUTPUT);
    assert_non_null(strstr(err.what, "signal 9"));
    fake_gnuplot("exit 0");
    assert_int_equal(draw_with_path(path, &d.series, &err), SWH_ERR_OUTPUT);
    assert_int_equal(files_in(folder), 0);
    demo_free(&d);
}

static double seconds_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static bool stop_now(void)
{
    return true;
}

/* A gnuplot that hangs, one that talks or draws without end, one that closes its ends and stays: each is
 * ended when its time is over, with what it started, and leaves nothing. */
static void test_gnuplot_without_end(void **state)
{
    (void)state;
    static const char *const endless[] = {"sleep 1000", "yes >&2",
                                          "cat >/dev/null; sleep 1000 & exec sleep 1000",
                                          "exec <&- >&- 2>&-; sleep 1000", "trap '' TERM INT; sleep 1000"};
    char path[100], before[4000];
    struct swh_plot_options o;
    struct swh_error err;
    options(&o, &err, SWH_PLOT_PNG, false);
    o.patience = 0.5;
    snprintf(path, sizeof path, "%s/.fake", folder);
    snprintf(before, sizeof before, "%s", getenv("PATH"));
    char both[4200];
    snprintf(both, sizeof both, "%s:%s", path, before);
    for (size_t i = 0; i < sizeof endless / sizeof endless[0]; i++) {
        fake_gnuplot(endless[i]);
        setenv("PATH", both, 1);
        const double began = seconds_now();
        swh_error_clear(&err);
        assert_int_equal(swh_plot_body_temperatures(&seizing.series, &o, &err), SWH_ERR_OUTPUT);
        setenv("PATH", before, 1);
        assert_non_null(strstr(err.what, "did not finish a picture within 0.5 s"));
        assert_true(seconds_now() - began < 20);
        assert_int_equal(files_in(folder), 0);
    }
    o.stop = stop_now;
    setenv("PATH", both, 1);
    swh_error_clear(&err);
    assert_int_equal(swh_plot_body_temperatures(&seizing.series, &o, &err), SWH_ERR_SOLVER);
    setenv("PATH", before, 1);
    assert_int_equal(files_in(folder), 0);
}

static void test_old_picture_survives_a_failure(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    options(&o, &err, SWH_PLOT_PNG, false);
    assert_int_equal(swh_plot_body_temperatures(&seizing.series, &o, &err), SWH_OK);
    const long size = file_size("body_temperatures.png");
    assert_int_equal(draw_with_path("/nowhere", &seizing.series, &err), SWH_ERR_OUTPUT);
    assert_int_equal(file_size("body_temperatures.png"), size);
    assert_int_equal(files_in(folder), 1);
}

static void test_unwritable_folder(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    options(&o, &err, SWH_PLOT_PNG, false);
    o.folder = "/nowhere/at/all";
    assert_int_equal(swh_plot_body_temperatures(&seizing.series, &o, &err), SWH_ERR_OUTPUT);
    assert_string_equal(err.where, "/nowhere/at/all/body_temperatures.png");
    swh_error_clear(&err);
    o.folder = "/dev/null";
    assert_int_equal(swh_plot_body_temperatures(&seizing.series, &o, &err), SWH_ERR_OUTPUT);
    if (geteuid() == 0) /* nothing is forbidden to the superuser */
        return;
    swh_error_clear(&err);
    o.folder = folder;
    chmod(folder, 0500);
    const enum swh_status status = swh_plot_body_temperatures(&seizing.series, &o, &err);
    chmod(folder, 0700);
    assert_int_equal(status, SWH_ERR_OUTPUT);
    assert_int_equal(files_in(folder), 0);
}

/* Names are data: quotes in them neither break the drawing nor become commands of gnuplot. */
static void test_hostile_names(void **state)
{
    (void)state;
    struct swh_plot_options o;
    struct swh_error err;
    struct swh_plot_series s = seizing.series;
    char inner[120], name[200];
    options(&o, &err, SWH_PLOT_SVG, false);
    snprintf(inner, sizeof inner, "%s/it's \"here\"", folder);
    assert_int_equal(mkdir(inner, 0700), 0);
    o.folder = inner;
    snprintf(name, sizeof name, "van'\n system('touch %s/owned') \\ {/Bold x} $d1", folder);
    s.name = name;
    assert_int_equal(swh_plot_body_temperatures(&s, &o, &err), SWH_OK);
    assert_int_equal(files_in(inner), 1);
    assert_int_equal(file_size("owned"), -1);
    snprintf(name, sizeof name, "%s/body_temperatures.svg", inner);
    assert_int_equal(remove(name), 0);
}

static void *draw_in_thread(void *user)
{
    const struct swh_plot_picture *picture = user;
    struct swh_plot_options o;
    struct swh_error err;
    options(&o, &err, SWH_PLOT_PNG, false);
    return picture->draw(&seizing.series, &o, &err) == SWH_OK ? NULL : user;
}

static void test_two_threads(void **state)
{
    (void)state;
    pthread_t one, two;
    void *a = NULL, *b = NULL;
    assert_int_equal(pthread_create(&one, NULL, draw_in_thread, (void *)&swh_plot_pictures[1]), 0);
    assert_int_equal(pthread_create(&two, NULL, draw_in_thread, (void *)&swh_plot_pictures[4]), 0);
    pthread_join(one, &a);
    pthread_join(two, &b);
    assert_null(a);
    assert_null(b);
    assert_int_equal(files_in(folder), 2);
}

/* ---- the parts a page is made of ---- */

static void test_labels_are_spread(void **state)
{
    (void)state;
    double apart[] = {10, 50, 90}, near[] = {50, 51, 52, 53}, low[] = {0, 1, 2}, many[] = {1, 2, 3, 4, 5};
    swh_spread(apart, 3, 20, 0, 100);
    assert_true(apart[0] == 10 && apart[1] == 50 && apart[2] == 90); /* nothing to do: nothing moves */
    swh_spread(near, 4, 20, 0, 100);
    for (int i = 1; i < 4; i++)
        assert_true(near[i] - near[i - 1] >= 20 - 1e-9);
    /* least squares: the mean stays where it was */
    assert_true(fabs((near[0] + near[1] + near[2] + near[3]) / 4 - 51.5) < 1e-9);
    swh_spread(low, 3, 20, 0, 100);
    assert_true(low[0] >= 0 && low[1] >= 20 && low[2] >= 40 && low[2] <= 41);
    swh_spread(many, 5, 50, 0, 100); /* more than fit: evenly */
    assert_true(many[0] >= -1e-9 && many[4] <= 100 + 1e-9 && fabs(many[1] - 25) < 1e-9);
}

static void test_steps_are_round(void **state)
{
    (void)state;
    assert_true(fabs(swh_nice_step(100, 10) - 10) < 1e-12);
    assert_true(fabs(swh_nice_step(37, 10) - 5) < 1e-12);
    assert_true(fabs(swh_nice_step(0.011, 10) - 0.001) < 1e-15);
    assert_true(fabs(swh_nice_step(0.027, 10) - 0.002) < 1e-15);
    assert_true(fabs(swh_nice_step(230, 10) - 25) < 1e-12);
    assert_true(swh_nice_step(0, 10) > 0);
    assert_true(swh_nice_step(NAN, 10) > 0);
}

/* A peak of one row in a log of 10 Hz must be in the picture, and a gap must stay one. */
static void test_thinning_keeps_peaks_and_gaps(void **state)
{
    (void)state;
    enum { ROWS = 18000 };
    static double x[ROWS], y[ROWS];
    struct swh_page page;
    struct swh_panel panel;
    struct swh_plot_options o;
    struct swh_error err;
    const struct swh_style style = swh_style(0);
    for (int i = 0; i < ROWS; i++) {
        x[i] = 0.1 * i;
        y[i] = i > 9000 && i < 9100 ? NAN : 300;
    }
    y[7777] = 412.75;
    options(&o, &err, SWH_PLOT_SVG, false);
    o.shown = NULL;
    swh_page_begin(&page, &o, 400, "Title", NULL);
    swh_panel_open(&panel, &page, 100, 300, SWH_Q_TIME, 0, 1800, SWH_Q_TEMPERATURE, "temperature");
    const struct swh_xy xy = {ROWS, {x, 1}, {y, 1}};
    swh_panel_line(&panel, &xy, &style, "line");
    fflush(page.plots);
    assert_non_null(strstr(page.plots_text, " 412.75\n"));
    assert_non_null(strstr(page.plots_text, "\n\n"));
    assert_true(page.plots_size < 100000);
    swh_panel_close(&panel);
    assert_int_equal(swh_page_end(&page, "thin", &err), SWH_OK);
}

/* Styles must differ without colour: no two have the same dash and about the same width and lightness. */
static void test_styles_differ_in_grey(void **state)
{
    (void)state;
    for (size_t i = 0; i < 8; i++)
        for (size_t j = 0; j < i; j++) {
            const struct swh_style a = swh_style(i), b = swh_style(j);
            const bool same = strcmp(a.dash, b.dash) == 0 && fabs(a.width - b.width) < 0.9;
            assert_false(same);
        }
}

static int set_up(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/swh_plots_XXXXXX");
    demo_make(&seizing, 1200, 1080, 0.72, false);
    demo_make(&replayed, 1200, 1200, 0.1, true);
    demo_fit(&replayed);
    return mkdtemp(folder) ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    char command[100];
    demo_free(&seizing);
    demo_free(&replayed);
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

static int clean(void **state)
{
    (void)state;
    empty_folder();
    return 0;
}

/* what enters the expansion device is the last point of the high side, and there is none without a low side
 * behind it */
static void test_liquid_of_a_cycle(void **state)
{
    (void)state;
    static const double P[] = {2e5, 16.2e5, 16e5, 15.8e5, 2.4e5, 2.2e5};
    assert_int_equal(swh_plot_cycle_liquid(P, 6), 3);
    assert_int_equal(swh_plot_cycle_liquid(P, 4), 0);
    assert_int_equal(swh_plot_cycle_liquid(P, 3), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(test_every_picture_of_a_run, clean),
        cmocka_unit_test_teardown(test_a_run_without_readings_has_no_comparison, clean),
        cmocka_unit_test_teardown(test_what_drives_a_replay_is_not_compared, clean),
        cmocka_unit_test_teardown(test_a_fit_says_how_well_and_what_it_did_not_see, clean),
        cmocka_unit_test_teardown(test_a_fit_on_a_cycling_log_draws_means, clean),
        cmocka_unit_test_teardown(test_formats, clean),
        cmocka_unit_test_teardown(test_units_on_the_axes, clean),
        cmocka_unit_test_teardown(test_the_answer_is_the_title, clean),
        cmocka_unit_test_teardown(test_the_film_is_judged_while_running, clean),
        cmocka_unit_test(test_liquid_of_a_cycle),
        cmocka_unit_test(test_windows_follow_the_clutch),
        cmocka_unit_test_teardown(test_ledger_shares, clean),
        cmocka_unit_test_teardown(test_overlay, clean),
        cmocka_unit_test_teardown(test_cycle, clean),
        cmocka_unit_test_teardown(test_curves_map_bars, clean),
        cmocka_unit_test_teardown(test_causes, clean),
        cmocka_unit_test_teardown(test_evidence, clean),
        cmocka_unit_test_teardown(test_plan, clean),
        cmocka_unit_test_teardown(test_acceptance, clean),
        cmocka_unit_test_teardown(test_missing_gnuplot, clean),
        cmocka_unit_test_teardown(test_failing_gnuplot, clean),
        cmocka_unit_test_teardown(test_gnuplot_without_end, clean),
        cmocka_unit_test_teardown(test_old_picture_survives_a_failure, clean),
        cmocka_unit_test_teardown(test_unwritable_folder, clean),
        cmocka_unit_test_teardown(test_hostile_names, clean),
        cmocka_unit_test_teardown(test_two_threads, clean),
        cmocka_unit_test(test_labels_are_spread),
        cmocka_unit_test(test_steps_are_round),
        cmocka_unit_test_teardown(test_thinning_keeps_peaks_and_gaps, clean),
        cmocka_unit_test(test_styles_differ_in_grey),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
