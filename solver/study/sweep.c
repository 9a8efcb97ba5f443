#include "solver/study/sweep.h"
#include "model/base/hash.h"

#include "solver/simulate/parallel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const struct swh_sweep_extreme swh_sweep_extremes[SWH_SWEEP_EXTREME_COUNT] = {
#define COLUMN_1(channel) "peak_" #channel
#define COLUMN_0(channel) "lowest_" #channel
#define SWEEP_EXTREME(channel, highest) {SWH_CH_##channel, highest, COLUMN_##highest(channel)},
    SWH_SWEEP_EXTREMES(SWEEP_EXTREME)
#undef SWEEP_EXTREME
};

const char *swh_case_result_word(enum swh_case_result result)
{
    if (result == SWH_CASE_IMPOSSIBLE)
        return "impossible";
    return swh_outcome_word((enum swh_outcome)result);
}

int swh_sweep_default_threads(void)
{
    return swh_processors();
}

/* ---- setting up ---- */

static enum swh_status check_key(const struct swh_sweep *s, int i, struct swh_error *err)
{
    const struct swh_key *key = &s->key[i];
    const struct swh_range *r = &s->plan.range[i];
    for (int k = 0; k < i; k++)
        if (strcmp(key->name, s->key[k].name) == 0)
            return swh_error_set(err, SWH_ERR_INPUT, "%s is varied twice", key->name);
    if (r->lo < key->lo || r->hi > key->hi) {
        swh_error_set(err, SWH_ERR_INPUT, "the range %g .. %g of %s (SI) leaves its limits", r->lo, r->hi,
                      key->name);
        swh_error_expected(err, "%g .. %g", key->lo, key->hi);
        return SWH_ERR_INPUT;
    }
    return swh_key_check(s->base, key, err);
}

enum swh_status swh_sweep_begin(struct swh_sweep *s, struct swh_error *err)
{
    const enum swh_status status = swh_sampling_begin(&s->plan, err);
    if (status != SWH_OK)
        return status;
    for (int i = 0; i < s->plan.axes; i++)
        if (check_key(s, i, err) != SWH_OK)
            return SWH_ERR_INPUT;
    if (s->shards < 1 || s->shard < 0 || s->shard >= s->shards)
        return swh_error_set(err, SWH_ERR_INPUT, "there is no part %ld of %ld", s->shard + 1, s->shards);
    return SWH_OK;
}

void swh_sweep_free(struct swh_sweep *s)
{
    swh_sampling_free(&s->plan);
}

/* ---- one case ---- */

static enum swh_case_result result_of(enum swh_status status, const struct swh_summary *summary)
{
    if (status == SWH_OK)
        return (enum swh_case_result)summary->outcome;
    return status == SWH_ERR_INPUT ? SWH_CASE_IMPOSSIBLE : SWH_CASE_INCOMPLETE;
}

void swh_sweep_row_fill(enum swh_status status, const struct swh_summary *summary, struct swh_sweep_row *row)
{
    row->result = result_of(status, summary);
    const bool any = row->result != SWH_CASE_IMPOSSIBLE;
    row->cause = any ? summary->cause : SWH_SEIZURE_COUNT;
    row->time_to_seizure = any ? summary->time_to_seizure : NAN;
    row->end_time = any ? summary->end_time : NAN;
    row->duty = any ? summary->duty : NAN;
    row->suction_cooling_share = any ? summary->suction_cooling_share : NAN;
    for (int i = 0; i < SWH_SWEEP_EXTREME_COUNT; i++) {
        const struct swh_sweep_extreme *x = &swh_sweep_extremes[i];
        const double value = any ? (x->highest ? summary->peak : summary->lowest)[x->channel].value : NAN;
        row->extreme[i] = isfinite(value) ? value : NAN;
    }
    row->done = true;
}

enum swh_status swh_sweep_case(const struct swh_sweep *s, long index, struct swh_sweep_row *row,
                               struct swh_error *err)
{
    memset(row, 0, sizeof *row);
    swh_sampling_point(&s->plan, index, row->input);
    struct swh_case c = *s->base; /* the schedule is shared: it is only read */
    for (int i = 0; i < s->plan.axes; i++)
        swh_key_set(&c, &s->key[i], row->input[i]);
    struct swh_summary *summary = calloc(1, sizeof *summary);
    if (!summary)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a case");
    struct swh_error inside = {0};
    const enum swh_status status = swh_run(&c, NULL, summary, &inside);
    if (status != SWH_ERR_MEMORY)
        swh_sweep_row_fill(status, summary, row);
    free(summary);
    if (status != SWH_ERR_MEMORY)
        return SWH_OK;
    if (err && err->status == SWH_OK)
        *err = inside;
    return status;
}

/* ---- all cases ---- */

struct team {
    const struct swh_sweep *s;
    struct swh_sweep_row *rows;
    struct swh_team all;
};

static bool wanted(const struct team *t, long i)
{
    return i % t->s->shards == t->s->shard && !t->rows[i].done;
}

static void hand_over(struct team *t, long i, const struct swh_sweep_row *row, enum swh_status status,
                      const struct swh_error *inside)
{
    struct swh_error unkept = {0};
    enum swh_status kept = status;
    swh_team_enter(&t->all);
    if (status == SWH_OK) {
        t->rows[i] = *row;
        if (t->s->finished && t->all.first.status == SWH_OK)
            kept = t->s->finished(i, row, t->s->user, &unkept);
    }
    swh_team_leave(&t->all);
    swh_team_note(&t->all, kept, status == SWH_OK ? &unkept : inside);
}

static void one_of_team(long i, void *user)
{
    struct team *t = user;
    if (swh_team_status(&t->all) != SWH_OK || !wanted(t, i))
        return;
    struct swh_sweep_row row;
    struct swh_error inside = {0};
    const enum swh_status status = swh_sweep_case(t->s, i, &row, &inside);
    hand_over(t, i, &row, status, &inside);
}

enum swh_status swh_sweep_run(const struct swh_sweep *s, struct swh_sweep_row *rows, struct swh_error *err)
{
    struct team team = {.s = s, .rows = rows};
    const int threads = s->threads > 0 ? s->threads : swh_sweep_default_threads();
    swh_team_begin(&team.all);
    swh_parallel(s->plan.count, threads, one_of_team, &team);
    return swh_team_end(&team.all, err);
}

/* ---- fingerprint ---- */

static uint64_t hash_double(uint64_t h, double x)
{
    if (isnan(x)) /* all NaNs mean the same: not given */
        return swh_hash(h, "NaN", 3);
    return swh_hash(h, &x, sizeof x);
}

static uint64_t hash_own(uint64_t h, const struct swh_own_fault *f)
{
    h = hash_double(hash_double(h, f->setting.severity), f->setting.start);
    h = hash_double(hash_double(h, f->setting.ramp), f->setting.end);
    for (int k = 0; k < f->n_keys; k++)
        h = hash_double(swh_hash(h, &f->param[k], sizeof f->param[k]), f->full[k]);
    return h;
}

static uint64_t hash_case(uint64_t h, const struct swh_case *c)
{
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        h = hash_double(swh_hash(h, swh_param_table[i].name, strlen(swh_param_table[i].name)),
                        swh_param_get(&c->params, i));
    for (int i = 0; i < SWH_CHOICE_COUNT; i++) {
        const int option = swh_choice_get(&c->choices, i);
        h = swh_hash(h, &option, sizeof option);
    }
    if (c->own_refrigerant) {
        const uint64_t own = swh_eos_hash(swh_fluid_eos(c->own_refrigerant));
        h = swh_hash(h, &own, sizeof own);
    }
    struct swh_inputs in = c->conditions;
    for (int i = 0; i < SWH_INPUT_COUNT; i++)
        h = hash_double(h, *swh_input_at(&in, i));
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        const struct swh_fault_setting *f = &c->fault[i];
        if (!f->present)
            continue;
        h = swh_hash(h, &i, sizeof i);
        h = hash_double(hash_double(h, f->severity), f->start);
        h = hash_double(hash_double(h, f->ramp), f->end);
    }
    for (int i = 0; i < c->n_own_faults; i++)
        h = hash_own(h, &c->own_fault[i]);
    return h;
}

static uint64_t hash_schedule(uint64_t h, const struct swh_schedule *s)
{
    for (size_t r = 0; r < s->rows; r++) {
        h = hash_double(h, s->time[r]);
        for (int i = 0; i < SWH_INPUT_COUNT; i++)
            if (s->given[i])
                h = hash_double(swh_hash(h, &i, sizeof i), s->column[i][r]);
        for (int i = 0; i < s->n_params; i++)
            h = hash_double(swh_hash(h, &s->param[i], sizeof s->param[i]), s->param_column[i][r]);
    }
    return h;
}

uint64_t swh_sweep_fingerprint(const struct swh_sweep *s)
{
    uint64_t h = SWH_HASH_START;
    h = hash_schedule(hash_case(h, s->base), &s->base->schedule);
    const long plan[] = {(long)s->plan.design, s->plan.axes, s->plan.sample, SWH_SWEEP_EXTREME_COUNT};
    h = swh_hash(swh_hash(h, plan, sizeof plan), &s->plan.seed, sizeof s->plan.seed);
    for (int i = 0; i < s->plan.axes; i++) {
        const struct swh_range *r = &s->plan.range[i];
        h = swh_hash(h, s->key[i].name, strlen(s->key[i].name));
        h = swh_hash(hash_double(hash_double(h, r->lo), r->hi), &r->n, sizeof r->n);
    }
    return h;
}
