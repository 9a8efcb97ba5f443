/* swashheat sweep: many cases in parallel. */
#include "cli/base/frame.h"
#include "cli/base/progress.h"
#include "cli/base/range_option.h"
#include "cli/commands/sweep/journal.h"
#include "cli/commands/sweep/sweep_result.h"

#include <stdlib.h>
#include <string.h>

struct job {
    struct swh_frame frame; /* first */
    struct swh_sweep sweep;
    struct swh_sweep_row *rows;
    struct swh_journal journal;
    struct swh_progress progress;
    int column;
};

/* ---- the command line ---- */

static enum swh_status read_count(const struct job *j, enum swh_option option, long fallback, long *out,
                                  struct swh_error *err)
{
    const char *text = swh_option_value(j->frame.session, option);
    *out = fallback;
    return text ? swh_vary_count(text, "command line", 1, 10000000, out, err) : SWH_OK;
}

static enum swh_status read_shard(struct job *j, struct swh_error *err)
{
    const char *text = swh_option_value(j->frame.session, SWH_OPT_shard);
    j->sweep.shard = 0;
    j->sweep.shards = 1;
    if (!text)
        return SWH_OK;
    int used = 0;
    long part = 0, parts = 0;
    if (sscanf(text, "%ld/%ld%n", &part, &parts, &used) != 2 || text[used] != '\0' || part < 1 ||
        part > parts) {
        swh_error_set(err, SWH_ERR_USAGE, "'%.40s' for --shard", text);
        swh_error_expected(err, "I/N with I from 1 to N, for example 2/4");
        return SWH_ERR_USAGE;
    }
    j->sweep.shard = part - 1;
    j->sweep.shards = parts;
    return SWH_OK;
}

static enum swh_status read_axes(struct job *j, struct swh_error *err)
{
    const char *vary[SWH_OPTIONS_MAX];
    const int n = swh_option_values(j->frame.session, SWH_OPT_vary, vary);
    struct swh_sampling *plan = &j->sweep.plan;
    if (n == 0 || n > SWH_SAMPLE_AXES) {
        swh_error_set(err, SWH_ERR_USAGE, n ? "too many keys to vary" : "nothing to vary");
        swh_error_expected(err, "1 to %d times --vary KEY=LO..HI:N", (int)SWH_SAMPLE_AXES);
        return SWH_ERR_USAGE;
    }
    plan->axes = n;
    for (int i = 0; i < n; i++) {
        const enum swh_status status = swh_vary_read(j->frame.session->units, &j->frame.scenario.c, vary[i],
                                                     &j->sweep.key[i], &plan->range[i], err);
        if (status != SWH_OK)
            return status;
        const bool counted = plan->range[i].n > 0;
        if (counted == (plan->design == SWH_DESIGN_GRID))
            continue;
        swh_error_set(err, SWH_ERR_USAGE, "%.100s: %s", vary[i],
                      counted ? "a sample has no :N" : "how many values?");
        swh_error_expected(err, counted ? "KEY=LO..HI with --sample" : "KEY=LO..HI:N, or --sample N");
        return SWH_ERR_USAGE;
    }
    return SWH_OK;
}

static enum swh_status read_column(struct job *j, struct swh_error *err)
{
    const char *name = swh_option_value(j->frame.session, SWH_OPT_result);
    j->column = swh_sweep_column_find(name ? name : "peak_rotor_temperature");
    if (j->column >= 0)
        return SWH_OK;
    swh_error_set(err, SWH_ERR_USAGE, "there is no column '%.60s'", name);
    swh_error_expected(err, "a column of cases.csv, for example peak_contact_temperature or time_to_seizure");
    return SWH_ERR_USAGE;
}

static enum swh_status read_options(struct job *j, struct swh_error *err)
{
    struct swh_sampling *plan = &j->sweep.plan;
    long seed = 1, threads = 0;
    enum swh_status status = read_count(j, SWH_OPT_sample, 0, &plan->sample, err);
    if (status == SWH_OK)
        status = read_count(j, SWH_OPT_seed, 1, &seed, err);
    if (status == SWH_OK)
        status = read_count(j, SWH_OPT_threads, 0, &threads, err);
    if (status == SWH_OK && swh_given(j->frame.session, SWH_OPT_sobol) && plan->sample == 0)
        status = swh_error_set(err, SWH_ERR_USAGE, "--sobol needs --sample N");
    if (status != SWH_OK)
        return status;
    plan->seed = (uint64_t)seed;
    j->sweep.threads = (int)threads;
    plan->design = plan->sample == 0                            ? SWH_DESIGN_GRID
                   : swh_given(j->frame.session, SWH_OPT_sobol) ? SWH_DESIGN_SALTELLI
                                                                : SWH_DESIGN_LATIN;
    status = read_axes(j, err);
    if (status == SWH_OK)
        status = read_shard(j, err);
    return status == SWH_OK ? read_column(j, err) : status;
}

static enum swh_status prepare(void *job, struct swh_error *err)
{
    struct job *j = job;
    j->journal.fd = -1;
    j->sweep.base = &j->frame.scenario.c;
    enum swh_status status = read_options(j, err);
    if (status == SWH_OK)
        status = swh_sweep_begin(&j->sweep, err);
    return swh_vary_judged(status, "--vary", err);
}

/* ---- the work ---- */

static enum swh_status finished(long index, const struct swh_sweep_row *row, void *user,
                                struct swh_error *err)
{
    struct job *j = user;
    const enum swh_status status = swh_journal_add(&j->journal, index, row, err);
    if (status == SWH_OK)
        swh_progress_step(&j->progress);
    return status;
}

static long shard_size(const struct swh_sweep *s)
{
    return (s->plan.count - s->shard + s->shards - 1) / s->shards;
}

static enum swh_status compute(struct job *j, long restored, struct swh_error *err)
{
    enum swh_status status = swh_journal_open(&j->journal, j->frame.folder, &j->sweep, err);
    if (status != SWH_OK)
        return status;
    const bool quiet = swh_given(j->frame.session, SWH_OPT_quiet);
    if (restored > 0 && !quiet)
        fprintf(stderr, "swashheat: %ld of %ld cases were done before\n", restored, shard_size(&j->sweep));
    swh_progress_begin(&j->progress, j->frame.scenario.c.name, shard_size(&j->sweep), restored, quiet);
    j->sweep.finished = finished;
    j->sweep.user = j;
    status = swh_sweep_run(&j->sweep, j->rows, err);
    swh_progress_end(&j->progress);
    swh_journal_close(&j->journal);
    return status;
}

static enum swh_status all_there(const struct job *j, struct swh_error *err)
{
    long missing = 0, first = -1;
    for (long k = 0; k < j->sweep.plan.count; k++)
        if (!j->rows[k].done) {
            missing++;
            first = first < 0 ? k : first;
        }
    if (missing == 0)
        return SWH_OK;
    swh_error_set(err, SWH_ERR_INPUT, "%ld of %ld cases are not there, the first is number %ld", missing,
                  j->sweep.plan.count, first + 1);
    swh_error_at(err, j->frame.folder, 0, 0);
    swh_error_expected(err, "the journals of all parts of this very sweep in the results folder");
    return SWH_ERR_INPUT;
}

static enum swh_status tell(struct job *j, const struct swh_sweep_result *r, struct swh_error *err)
{
    if (swh_given(j->frame.session, SWH_OPT_json))
        return swh_frame_tell_json(swh_sweep_result_json(r), err);
    if (!swh_given(j->frame.session, SWH_OPT_quiet))
        swh_sweep_result_print(r, j->frame.session->units, swh_session_show(j->frame.session), stdout);
    return SWH_OK;
}

static enum swh_status write_results(struct job *j, struct swh_error *err)
{
    struct swh_sweep_result r = {.sweep = &j->sweep,
                                 .rows = j->rows,
                                 .name = j->frame.scenario.c.name,
                                 .folder = j->frame.folder,
                                 .column = j->column};
    enum swh_status status = swh_sweep_result_make(&r, err);
    FILE *csv = status == SWH_OK ? swh_frame_file(&j->frame, "cases.csv", err) : NULL;
    if (!csv)
        return status != SWH_OK ? status : SWH_ERR_OUTPUT;
    swh_sweep_result_csv(&r, csv);
    status = swh_frame_put_json(&j->frame, "sweep.json", swh_sweep_result_json(&r), err);
    if (status == SWH_OK)
        status = swh_frame_commit(&j->frame, err);
    if (status != SWH_OK)
        return status;
    swh_journal_remove(j->frame.folder, &j->sweep);
    status = swh_sweep_result_draw(&r, j->frame.session, err);
    return status == SWH_OK ? tell(j, &r, err) : status;
}

static enum swh_status work(void *job, struct swh_error *err)
{
    struct job *j = job;
    const bool merge = swh_given(j->frame.session, SWH_OPT_merge);
    j->rows = calloc((size_t)j->sweep.plan.count, sizeof *j->rows);
    if (!j->rows)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for %ld cases", j->sweep.plan.count);
    enum swh_status status = swh_out_begin_shared(
        &j->frame.out, j->frame.folder, j->sweep.shards > 1 ? SWH_OUT_TOGETHER : SWH_OUT_ALONE, err);
    long restored = 0;
    if (status == SWH_OK)
        status = swh_journal_restore(j->frame.folder, &j->sweep, merge, j->rows, &restored, err);
    if (status == SWH_OK && !merge)
        status = compute(j, restored, err);
    if (status == SWH_OK && j->sweep.shards == 1)
        status = all_there(j, err);
    if (status == SWH_OK && j->sweep.shards == 1)
        return write_results(j, err);
    if (status == SWH_OK && !swh_given(j->frame.session, SWH_OPT_quiet))
        printf("Part %ld of %ld is done. When all parts are: the same command with --merge instead of "
               "--shard.\n",
               j->sweep.shard + 1, j->sweep.shards);
    return status;
}

static void release(void *job)
{
    struct job *j = job;
    swh_sweep_free(&j->sweep);
    free(j->rows);
}

enum swh_status swh_cmd_sweep(struct swh_session *s)
{
    static const struct swh_frame_kind kind = {"sweep", sizeof(struct job), prepare, work, release};
    return swh_frame_do(s, &kind);
}
