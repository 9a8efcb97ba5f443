#include "cli/commands/run/ensemble.h"

#include "cli/base/frame.h"
#include "cli/base/progress.h"
#include "cli/base/range_option.h"
#include "cli/base/result.h"
#include "cli/commands/run/fit_file.h"
#include "model/base/utf8.h"
#include "solver/files/number.h"
#include "solver/study/ensemble.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct job {
    struct swh_frame frame; /* first */
    struct swh_ensemble_request request;
    struct swh_ensemble result;
    struct swh_progress progress;
};

static const char *const band_names[SWH_ENSEMBLE_BANDS] = {"low", "median", "high"};

static enum swh_status prepare(void *job, struct swh_error *err)
{
    struct job *j = job;
    const char *seed_text = swh_option_value(j->frame.session, SWH_OPT_seed),
               *threads_text = swh_option_value(j->frame.session, SWH_OPT_threads);
    long seed = 1, threads = 0;
    enum swh_status status = swh_vary_count(swh_option_value(j->frame.session, SWH_OPT_ensemble),
                                            "--ensemble", 1, 100000, &j->request.members, err);
    if (status == SWH_OK && seed_text)
        status = swh_vary_count(seed_text, "--seed", 1, 1000000000, &seed, err);
    if (status == SWH_OK && threads_text)
        status = swh_vary_count(threads_text, "--threads", 1, 1024, &threads, err);
    j->request.seed = (uint64_t)seed;
    j->request.threads = (int)threads;
    j->request.base = &j->frame.scenario.c;
    const char *from = swh_option_value(j->frame.session, SWH_OPT_from);
    status = swh_vary_judged(status, "--ensemble", err);
    return status == SWH_OK && from ? swh_fit_file_apply(from, &j->frame.scenario, err) : status;
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
        swh_number_put(f, "", r->time[k]);
        for (int c = 0; c < SWH_ENSEMBLE_CHANNELS; c++)
            for (int b = 0; b < SWH_ENSEMBLE_BANDS; b++)
                swh_number_put(f, ",", r->band[c][b][k]);
        fputc('\n', f);
    }
}

/* ---- the members ---- */

static void put_members_head(const struct job *j, FILE *f)
{
    fputs("member", f);
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        if (swh_param_get(&j->frame.scenario.c.spread, i) > 0)
            fprintf(f, ",%s[%s]", swh_param_table[i].name, swh_quantities[swh_param_table[i].quantity].si);
    fputs(",outcome,time_to_seizure[s],end_time[s],duty[1]", f);
    for (int i = 0; i < SWH_SWEEP_EXTREME_COUNT; i++)
        fprintf(f, ",%s[%s]", swh_sweep_extremes[i].column,
                swh_quantities[swh_channel_table[swh_sweep_extremes[i].channel].quantity].si);
    fputc('\n', f);
}

/* One row a member: what was drawn for it, and how it went. */
static void put_members(const struct job *j, FILE *f)
{
    const struct swh_case *base = &j->frame.scenario.c;
    put_members_head(j, f);
    for (long k = 0; k < j->request.members; k++) {
        const struct swh_sweep_row *row = &j->request.rows[k];
        struct swh_params drawn;
        swh_ensemble_draw(base, j->request.seed, k, &drawn);
        fprintf(f, "%ld", k + 1);
        for (int i = 0; i < SWH_PARAM_COUNT; i++)
            if (swh_param_get(&base->spread, i) > 0)
                swh_number_put(f, ",", swh_param_get(&drawn, i));
        fprintf(f, ",%s", swh_case_result_word(row->result));
        swh_number_put(f, ",", row->time_to_seizure);
        swh_number_put(f, ",", row->end_time);
        swh_number_put(f, ",", row->duty);
        for (int i = 0; i < SWH_SWEEP_EXTREME_COUNT; i++)
            swh_number_put(f, ",", row->extreme[i]);
        fputc('\n', f);
    }
}

static json_t *spread_json(const struct swh_case *c)
{
    json_t *all = json_object();
    for (int i = 0; i < SWH_PARAM_COUNT; i++) {
        const double spread = swh_param_get(&c->spread, i);
        if (spread > 0)
            json_object_set_new(all, swh_param_table[i].name,
                                swh_json_param(i, swh_param_get(&c->params, i), spread));
    }
    return all;
}

static json_t *json_of(const struct job *j)
{
    const struct swh_ensemble *r = &j->result;
    json_t *root = json_object();
    json_object_set_new(root, "scenario", swh_json_text(j->frame.scenario.c.name));
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
    json_object_set_new(root, "band_level", json_real(0.9)); /* low and high: 5 and 95 % of the members */
    json_object_set_new(root, "drawn", spread_json(&j->frame.scenario.c));
    return root;
}

static void answer(const struct job *j, char *out, size_t size)
{
    const struct swh_ensemble *r = &j->result;
    snprintf(out, size, "%ld of %ld draws seize: probability %.0f %% (%.0f to %.0f %%)", r->seized,
             r->members, 100 * r->probability, 100 * r->low, 100 * r->high);
}

static enum swh_status draw(const struct job *j, struct swh_error *err)
{
    const struct swh_plot_options o =
        swh_frame_plot_options(j->frame.session, j->frame.folder, &j->frame.scenario.c.params);
    char title[160], subtitle[256];
    answer(j, title, sizeof title);
    snprintf(subtitle, sizeof subtitle,
             "%.150s; median, 5 to 95 %% of the draws; what has seized stays as it was",
             j->frame.scenario.c.name);
    struct swh_plot_curve curve[2];
    for (int i = 0; i < 2; i++) /* rotor and contact */
        curve[i] =
            (struct swh_plot_curve){i ? "contact" : "rotor", SWH_ENSEMBLE_TIMES,   j->result.time,
                                    j->result.band[i][1],    j->result.band[i][0], j->result.band[i][2]};
    const struct swh_plot_line median = {j->result.time_median, NAN, "half of the seizures"};
    const struct swh_plot_curves c = {.name = "ensemble",
                                      .title = title,
                                      .subtitle = subtitle,
                                      .x = {"time", SWH_Q_TIME, NAN, NAN},
                                      .y = {"temperature", SWH_Q_TEMPERATURE, NAN, NAN},
                                      .curve = curve,
                                      .curves = 2,
                                      .line = &median,
                                      .lines = isfinite(median.x) ? 1 : 0};
    return swh_plot_curves(&c, &o, err);
}

static enum swh_status write_files(struct job *j, struct swh_error *err)
{
    FILE *csv = swh_frame_file(&j->frame, "ensemble.csv", err);
    if (!csv)
        return SWH_ERR_OUTPUT;
    put_csv(&j->result, csv);
    FILE *members = swh_frame_file(&j->frame, "members.csv", err);
    if (!members)
        return SWH_ERR_OUTPUT;
    put_members(j, members);
    const enum swh_status status = swh_frame_put_json(&j->frame, "ensemble.json", json_of(j), err);
    return status == SWH_OK ? swh_frame_commit(&j->frame, err) : status;
}

static enum swh_status tell(const struct job *j, struct swh_error *err)
{
    if (swh_given(j->frame.session, SWH_OPT_json))
        return swh_frame_tell_json(json_of(j), err);
    if (swh_given(j->frame.session, SWH_OPT_quiet))
        return SWH_OK;
    char text[160];
    answer(j, text, sizeof text);
    printf("%s\n%s.\n", j->frame.scenario.c.name, text);
    if (j->result.seized > 0)
        printf("  Time to seizure: %.0f s, 90 %% of them between %.0f and %.0f s.\n", j->result.time_median,
               j->result.time_low, j->result.time_high);
    char folder[512];
    printf("  Bands of 90 %%, and each draw: ensemble.csv and members.csv in %s\n",
           swh_utf8_clean(folder, sizeof folder, j->frame.folder));
    return SWH_OK;
}

static void finished(void *user)
{
    swh_progress_step(user);
}

static enum swh_status work(void *job, struct swh_error *err)
{
    struct job *j = job;
    j->request.rows = calloc((size_t)j->request.members, sizeof *j->request.rows);
    if (!j->request.rows)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for %ld members", j->request.members);
    swh_progress_begin(&j->progress, j->frame.scenario.c.name, j->request.members, 0,
                       swh_given(j->frame.session, SWH_OPT_quiet));
    j->request.finished = finished;
    j->request.user = &j->progress;
    enum swh_status status = swh_ensemble_run(&j->request, &j->result, err);
    swh_progress_end(&j->progress);
    if (status == SWH_ERR_INPUT)
        swh_error_at(err, j->frame.scenario.path, 0, 0);
    if (status == SWH_OK)
        status = write_files(j, err);
    if (status == SWH_OK)
        status = draw(j, err);
    return status == SWH_OK ? tell(j, err) : status;
}

static void release(void *job)
{
    struct job *j = job;
    free(j->request.rows);
}

enum swh_status swh_run_ensemble(struct swh_session *s)
{
    if (s->arguments != 1)
        return swh_misuse(s, "one scenario", "--ensemble with several scenarios");
    static const struct swh_frame_kind kind = {"ensemble", sizeof(struct job), prepare, work, release};
    return swh_frame_do(s, &kind);
}
