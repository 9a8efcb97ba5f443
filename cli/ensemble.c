#include "cli/ensemble.h"

#include "cli/number.h"
#include "cli/out.h"
#include "cli/progress.h"
#include "cli/result.h"
#include "cli/scenario.h"
#include "cli/vary.h"
#include "plots/plots.h"
#include "solver/ensemble.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct job {
    struct swh_session *session;
    struct swh_scenario scenario;
    struct swh_ensemble_request request;
    struct swh_ensemble result;
    struct swh_progress progress;
    struct swh_out out;
    char folder[512];
};

static const char *const band_names[SWH_ENSEMBLE_BANDS] = {"low", "median", "high"};

static enum swh_status load(struct job *j, struct swh_error *err)
{
    struct swh_session *s = j->session;
    const char *set[SWH_OPTIONS_MAX];
    const struct swh_scenario_request request = {s->argument[0], swh_option_value(s, SWH_OPT_vehicle), set,
                                                 swh_option_values(s, SWH_OPT_set, set)};
    enum swh_status status = swh_scenario_load(&j->scenario, &request, s->units, &s->problems);
    if (status != SWH_OK)
        return status; /* noted already */
    const char *out = swh_option_value(s, SWH_OPT_out), *seed_text = swh_option_value(s, SWH_OPT_seed);
    snprintf(j->folder, sizeof j->folder, out ? "%s" : "results/%s-ensemble", out ? out : j->scenario.stem);
    long seed = 1;
    status = swh_vary_count(swh_option_value(s, SWH_OPT_ensemble), "--ensemble", 1, 100000,
                            &j->request.members, err);
    if (status == SWH_OK && seed_text)
        status = swh_vary_count(seed_text, "--seed", 1, 1000000000, &seed, err);
    j->request.seed = (uint64_t)seed;
    j->request.base = &j->scenario.c;
    return status;
}

static void put_number(FILE *f, double x)
{
    char text[SWH_NUMBER_MAX];
    fputc(',', f);
    fwrite(text, 1, swh_number_write(text, x), f);
}

static void put_csv(const struct swh_ensemble *r, FILE *f)
{
    fputs("time[s]", f);
    for (int c = 0; c < SWH_ENSEMBLE_CHANNELS; c++)
        for (int b = 0; b < SWH_ENSEMBLE_BANDS; b++)
            fprintf(f, ",%s_%s[%s]", swh_channel_table[swh_ensemble_channels[c]].id, band_names[b],
                    swh_quantities[swh_channel_table[swh_ensemble_channels[c]].quantity].si);
    fputc('\n', f);
    for (int k = 0; k < SWH_ENSEMBLE_TIMES; k++) {
        char text[SWH_NUMBER_MAX];
        fwrite(text, 1, swh_number_write(text, r->time[k]), f);
        for (int c = 0; c < SWH_ENSEMBLE_CHANNELS; c++)
            for (int b = 0; b < SWH_ENSEMBLE_BANDS; b++)
                put_number(f, r->band[c][b][k]);
        fputc('\n', f);
    }
}

static json_t *json_of(const struct job *j)
{
    const struct swh_ensemble *r = &j->result;
    json_t *root = json_object();
    json_object_set_new(root, "scenario", json_string(j->scenario.c.name));
    json_object_set_new(root, "members", json_integer(r->members));
    json_object_set_new(root, "seed", json_integer((json_int_t)j->request.seed));
    json_object_set_new(root, "seized", json_integer(r->seized));
    json_object_set_new(root, "incomplete", json_integer(r->incomplete));
    json_object_set_new(root, "probability_of_seizure", swh_json_number(r->probability));
    json_object_set_new(root, "probability_low", swh_json_number(r->low));
    json_object_set_new(root, "probability_high", swh_json_number(r->high));
    json_object_set_new(root, "time_to_seizure_low_s", swh_json_number(r->time_low));
    json_object_set_new(root, "time_to_seizure_median_s", swh_json_number(r->time_median));
    json_object_set_new(root, "time_to_seizure_high_s", swh_json_number(r->time_high));
    return root;
}

static void answer(const struct job *j, char *out, size_t size)
{
    const struct swh_ensemble *r = &j->result;
    snprintf(out, size, "%ld of %ld draws seize: probability %.0f %% (%.0f to %.0f %%)", r->seized,
             r->members, 100 * r->probability, 100 * r->low, 100 * r->high);
}

static double shown(enum swh_quantity quantity, bool trade, double si, void *user)
{
    return swh_units_show(user, trade ? SWH_SHOW_TRADE : SWH_SHOW_SI, quantity, si);
}

static enum swh_status draw(const struct job *j, struct swh_error *err)
{
    const char *format = swh_option_value(j->session, SWH_OPT_plot);
    struct swh_plot_options o = {.format = format ? (enum swh_plot_format)swh_plot_format_find(format)
                                                  : SWH_PLOT_PNG,
                                 .folder = j->folder,
                                 .trade = swh_session_show(j->session) == SWH_SHOW_TRADE,
                                 .shown = shown,
                                 .user = j->session->units};
    swh_plot_limits_default(&o.limits, &j->scenario.c.params);
    char title[160];
    answer(j, title, sizeof title);
    struct swh_plot_curve curve[2];
    for (int i = 0; i < 2; i++) /* rotor and contact */
        curve[i] =
            (struct swh_plot_curve){i ? "contact" : "rotor", SWH_ENSEMBLE_TIMES,   j->result.time,
                                    j->result.band[i][1],    j->result.band[i][0], j->result.band[i][2]};
    const struct swh_plot_curves c = {.name = "ensemble",
                                      .title = title,
                                      .subtitle = "median and 5 to 95 % of the draws still running",
                                      .x = {"time", SWH_Q_TIME, NAN, NAN},
                                      .y = {"temperature", SWH_Q_TEMPERATURE, NAN, NAN},
                                      .curve = curve,
                                      .curves = 2};
    return swh_plot_curves(&c, &o, err);
}

static enum swh_status write_files(struct job *j, struct swh_error *err)
{
    enum swh_status status = swh_out_begin(&j->out, j->folder, err);
    FILE *csv = status == SWH_OK ? swh_out_file(&j->out, "ensemble.csv", err) : NULL;
    FILE *summary = csv ? swh_out_file(&j->out, "ensemble.json", err) : NULL;
    if (!summary)
        return SWH_ERR_OUTPUT;
    put_csv(&j->result, csv);
    json_t *json = json_of(j);
    if (json)
        swh_json_write(json, summary); /* a failure shows when the file is closed */
    json_decref(json);
    return swh_out_commit(&j->out, err);
}

static enum swh_status tell(const struct job *j, struct swh_error *err)
{
    if (swh_given(j->session, SWH_OPT_json)) {
        json_t *json = json_of(j);
        const bool written = json && swh_json_write(json, stdout);
        json_decref(json);
        return written ? SWH_OK : swh_error_set(err, SWH_ERR_OUTPUT, "the standard output cannot be written");
    }
    if (swh_given(j->session, SWH_OPT_quiet))
        return SWH_OK;
    char text[160];
    answer(j, text, sizeof text);
    printf("%s\n%s.\n", j->scenario.c.name, text);
    if (j->result.seized > 0)
        printf("  Time to seizure: %.0f s, 90 %% of them between %.0f and %.0f s.\n", j->result.time_median,
               j->result.time_low, j->result.time_high);
    printf("  Bands: %s/ensemble.csv\n", j->folder);
    return SWH_OK;
}

static void finished(void *user)
{
    swh_progress_step(user);
}

static enum swh_status work(struct job *j, struct swh_error *err)
{
    swh_progress_begin(&j->progress, j->scenario.c.name, j->request.members, 0,
                       swh_given(j->session, SWH_OPT_quiet));
    j->request.finished = finished;
    j->request.user = &j->progress;
    enum swh_status status = swh_ensemble_run(&j->request, &j->result, err);
    swh_progress_end(&j->progress);
    if (status == SWH_ERR_INPUT)
        swh_error_at(err, j->scenario.path, 0, 0);
    if (status == SWH_OK)
        status = write_files(j, err);
    if (status == SWH_OK)
        status = draw(j, err);
    return status == SWH_OK ? tell(j, err) : status;
}

enum swh_status swh_run_ensemble(struct swh_session *s)
{
    if (s->arguments != 1)
        return swh_misuse(s, "one scenario", "--ensemble with several scenarios");
    struct swh_error err = {0};
    struct job *j = calloc(1, sizeof *j);
    if (!j)
        return swh_misuse(s, NULL, "no memory");
    j->session = s;
    enum swh_status status = load(j, &err);
    if (status == SWH_OK) {
        status = work(j, &err);
        if (status != SWH_OK)
            swh_out_abort(&j->out);
    }
    if (err.status != SWH_OK)
        swh_fail(s, &err);
    swh_scenario_free(&j->scenario);
    free(j);
    return status;
}
