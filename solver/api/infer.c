/* What readings tell, behind the public calls: the same work as the commands fit, rank and accept do. */
#include "solver/api/handles.h"

#include "solver/files/csv_log.h"
#include "solver/files/sheet.h"
#include "solver/infer/accept.h"
#include "solver/infer/fit.h"
#include "solver/infer/plausible.h"
#include "solver/simulate/parallel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct swh_logs {
    struct swh_log_memory log[SWH_FIT_LOGS];
    int logs;
    struct swh_spot_sheet sheet[SWH_FIT_LOGS];
    int sheets;
    double doors; /* 1 or 0 where a log's own column says so; NaN */
};

struct swh_fitted {
    struct swh_fit_result result;
};

struct swh_causes {
    struct swh_ranking ranking;
    char name[SWH_RANK_MAX][80];
};

struct swh_verdict {
    struct swh_acceptance acceptance;
};

static enum swh_status give(const struct swh_error *inside, struct swh_error *err)
{
    if (err)
        *err = *inside;
    return inside->status;
}

/* ---- readings ---- */

enum swh_status swh_logs_new(struct swh_logs **logs, struct swh_error *err)
{
    struct swh_error inside = {0};
    *logs = calloc(1, sizeof **logs);
    if (*logs)
        (*logs)->doors = NAN;
    else
        swh_error_set(&inside, SWH_ERR_MEMORY, "no memory for readings");
    return give(&inside, err);
}

void swh_logs_free(struct swh_logs *logs)
{
    for (int i = 0; logs && i < logs->logs; i++)
        swh_log_memory_free(&logs->log[i]);
    free(logs);
}

static void read_sheet(struct swh_logs *e, const struct swh_sheet_request *request,
                       struct swh_problems *problems)
{
    struct swh_notes notes = {.count = 0};
    if (swh_sheet_read(request, &e->sheet[e->sheets], &notes, problems) == SWH_OK)
        e->sheets++;
}

static void read_log(struct swh_logs *e, const struct swh_log_request *request, struct swh_problems *problems)
{
    struct swh_error err = {0};
    struct swh_log_memory *m = &e->log[e->logs];
    struct swh_log *log = swh_log_open(request, problems);
    bool more = problems->count == 0;
    while (more && err.status == SWH_OK) {
        struct swh_log_row row;
        if (swh_log_next(log, &row, &more, &err) == SWH_OK && more)
            swh_log_memory_add(m, &row, 0.45, &err);
    }
    if (problems->count == 0 && err.status == SWH_OK)
        swh_log_long_enough(m, &err);
    if (problems->count == 0 && err.status == SWH_OK) {
        const double doors = swh_log_doors(log);
        e->doors = isnan(e->doors) ? doors : e->doors;
        e->logs++;
    } else {
        swh_log_memory_free(m);
        swh_error_at(&err, request->path, 0, 0);
        swh_problems_add(problems, &err);
    }
    swh_log_close(log);
}

enum swh_status swh_logs_add(struct swh_logs *logs, const struct swh_setup *setup, const char *path,
                             const char *columns, struct swh_error *err)
{
    struct swh_error inside = {0};
    const struct swh_case *c = &setup->scenario.c;
    const double ratio = c->params.controls_pulley_ratio, atmosphere = c->conditions.ambient_pressure;
    const struct swh_sheet_request sheet = {path, columns, setup->units, atmosphere, ratio};
    const struct swh_log_request log = {.path = path,
                                        .columns = columns,
                                        .units = setup->units,
                                        .atmosphere = atmosphere,
                                        .pulley_ratio = ratio};
    struct swh_problems *problems = calloc(1, sizeof *problems);
    const bool is_sheet = problems && swh_sheet_looks_like(&sheet);
    if (!problems)
        swh_error_set(&inside, SWH_ERR_MEMORY, "no memory to read %.200s", path);
    else if ((is_sheet ? logs->sheets : logs->logs) == SWH_FIT_LOGS)
        swh_error_set(&inside, SWH_ERR_INPUT, "more than %d logs or sheets", (int)SWH_FIT_LOGS);
    else if (is_sheet)
        read_sheet(logs, &sheet, problems);
    else
        read_log(logs, &log, problems);
    if (problems && problems->count > 0)
        inside = problems->item[0];
    free(problems);
    return give(&inside, err);
}

/* The vehicle and its logs as an inference takes them. */
struct prepared {
    struct swh_case vehicle; /* shares the setup's schedule */
    bool doors_given;
    struct swh_log_memory log[SWH_FIT_LOGS]; /* without readings that are stuck */
    int logs;
    struct swh_readings first;
};

static void prepared_free(struct prepared *p)
{
    for (int i = 0; p && i < p->logs; i++)
        swh_log_memory_free(&p->log[i]);
    free(p);
}

/* Readings that stop changing are none from then on; such a log cannot drive a replay. */
static enum swh_status leave_out_stretches(struct swh_log_memory *m, bool replays, struct swh_error *err)
{
    for (int i = 0; i < SWH_COMPARED; i++) {
        const enum swh_channel channel = swh_compared[i];
        double from = NAN, to = NAN;
        if (!swh_log_stuck(m, channel, &from, &to))
            continue;
        if (replays && swh_log_drives_replay(channel))
            return swh_error_set(err, SWH_ERR_INPUT, "%s stays where it is from %.6g s to %.6g s",
                                 swh_channel_table[channel].id, from, to);
        swh_log_leave_out_between(m, channel, from, to);
    }
    return SWH_OK;
}

static enum swh_status fill(struct prepared *p, const struct swh_setup *setup, const struct swh_logs *e,
                            bool replays, struct swh_error *err)
{
    enum swh_channel stuck[SWH_COMPARED];
    enum swh_status status = SWH_OK;
    *p = (struct prepared){.vehicle = setup->scenario.c};
    p->doors_given = setup->scenario.conditions[SWH_IN_doors_open] != SWH_FROM_DEFAULT;
    if (!p->doors_given && !isnan(e->doors)) {
        p->vehicle.conditions.doors_open = e->doors;
        p->doors_given = true;
    }
    for (; p->logs < e->logs && status == SWH_OK; p->logs++) {
        for (size_t k = 0; k < e->log[p->logs].rows && status == SWH_OK; k++)
            status = swh_log_memory_add(&p->log[p->logs], &e->log[p->logs].row[k], 0, err);
        swh_log_leave_out_stuck(&p->log[p->logs], replays, stuck);
        if (status == SWH_OK)
            status = leave_out_stretches(&p->log[p->logs], replays, err);
    }
    p->first = (struct swh_readings){.log = p->logs ? &p->log[0] : NULL,
                                     .sheet = !p->logs && e->sheets ? &e->sheet[0] : NULL,
                                     .doors_given = p->doors_given};
    return status;
}

/* NULL with an error */
static struct prepared *prepare(const struct swh_setup *setup, const struct swh_logs *logs, bool replays,
                                struct swh_error *err)
{
    struct prepared *p = calloc(1, sizeof *p);
    if (!p)
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for readings");
    else if (fill(p, setup, logs, replays, err) == SWH_OK)
        return p;
    prepared_free(p);
    return NULL;
}

static int threads_of(int wish)
{
    return wish > 0 ? wish : swh_processors();
}

/* ---- fit ---- */

static enum swh_status take_keys(struct swh_fit_request *q, const char *const *keys, size_t count,
                                 struct swh_error *err)
{
    for (size_t i = 0; i < count; i++) {
        const int param = swh_param_find(keys[i]);
        if (param < 0)
            return swh_error_set(err, SWH_ERR_USAGE, "no parameter '%.100s'", keys[i]);
        if (q->params == SWH_LSQ_MAX)
            return swh_error_set(err, SWH_ERR_USAGE, "too many parameters to fit");
        q->param[q->params++] = param;
    }
    return SWH_OK;
}

static void take_wish(struct swh_fit_request *q, const struct swh_fit_wish *wish)
{
    static const struct swh_fit_wish usual;
    const struct swh_fit_wish *w = wish ? wish : &usual;
    q->with = w->circuit ? SWH_FIT_CIRCUIT : SWH_FIT_REPLAY;
    q->holdout = w->holdout == 0 ? 0.2 : fmax(w->holdout, 0);
    q->starts = w->starts > 0 ? w->starts : 4;
    q->threads = threads_of(w->threads);
    q->robust = true;
    q->profile = w->profile;
    q->keep_unknown = w->keep_unknown;
}

/* What no vehicle can have read is not fitted. */
static enum swh_status check_readings(const struct prepared *p, const struct swh_fit_request *q,
                                      struct swh_error *err)
{
    struct swh_implausible found[SWH_IMPLAUSIBLE_MAX];
    for (int i = 0; i < p->logs && !q->keep_unknown; i++) {
        const struct swh_readings read = {.log = &p->log[i]};
        const int n = swh_implausible_find(&read, swh_case_refrigerant(&p->vehicle), found);
        for (int k = 0; k < n; k++)
            if (found[k].fatal || swh_implausible_at_rest(&found[k]))
                return swh_error_set(err, SWH_ERR_INPUT,
                                     "no vehicle can have given the readings of log %d: look at their units",
                                     i + 1);
    }
    return SWH_OK;
}

enum swh_status swh_setup_fit(const struct swh_setup *setup, const struct swh_logs *logs,
                              const char *const *keys, size_t count, const struct swh_fit_wish *wish,
                              struct swh_fitted **fitted, struct swh_error *err)
{
    struct swh_error inside = {0};
    struct swh_fit_request q = {.logs = logs->logs, .sheet = logs->sheet, .sheets = logs->sheets};
    struct prepared *p = NULL;
    struct swh_fitted *f = calloc(1, sizeof *f);
    *fitted = NULL;
    take_wish(&q, wish);
    if (!f)
        swh_error_set(&inside, SWH_ERR_MEMORY, "no memory for a fit");
    else if (take_keys(&q, keys, count, &inside) == SWH_OK)
        p = prepare(setup, logs, q.with == SWH_FIT_REPLAY, &inside);
    if (p) {
        q.vehicle = &p->vehicle;
        q.doors_given = p->doors_given;
        q.log = p->log;
        if (check_readings(p, &q, &inside) == SWH_OK && swh_fit(&q, &f->result, &inside) == SWH_OK)
            *fitted = f;
    }
    prepared_free(p);
    if (!*fitted)
        free(f);
    return give(&inside, err);
}

void swh_fitted_free(struct swh_fitted *fitted)
{
    free(fitted);
}

size_t swh_fitted_count(const struct swh_fitted *fitted)
{
    return (size_t)fitted->result.estimates;
}

int swh_fitted_get(const struct swh_fitted *fitted, size_t index, struct swh_fit_told *told)
{
    if (index >= swh_fitted_count(fitted))
        return -1;
    const struct swh_fit_estimate *e = &fitted->result.estimate[index];
    *told = (struct swh_fit_told){.key = swh_param_table[e->param].name,
                                  .value = e->value,
                                  .low = e->low,
                                  .high = e->high,
                                  .spread = e->held ? 0 : e->spread,
                                  .start = e->start,
                                  .identified = e->identified,
                                  .held = e->held,
                                  .at_limit = e->at_lower || e->at_upper};
    return 0;
}

double swh_fitted_correlation(const struct swh_fitted *fitted, size_t a, size_t b)
{
    const size_t n = swh_fitted_count(fitted);
    return a < n && b < n ? fitted->result.correlation[a * n + b] : NAN;
}

double swh_fitted_figure(const struct swh_fitted *fitted, const char *name)
{
    const struct swh_fit_result *r = &fitted->result;
    const struct {
        const char *name;
        double value;
    } figure[] = {{"spread", r->spread},           {"rms", r->rms},
                  {"holdout_rms", r->holdout_rms}, {"loss", r->loss},
                  {"points", r->points},           {"runs", r->evals},
                  {"starts", r->starts},           {"starts_agree", r->starts_agree},
                  {"misfit", r->misfit},           {"fits", r->fits}};
    for (size_t i = 0; i < sizeof figure / sizeof figure[0]; i++)
        if (strcmp(figure[i].name, name) == 0)
            return figure[i].value;
    return NAN;
}

const char *swh_fitted_open(const struct swh_fitted *fitted, size_t index)
{
    return index < (size_t)fitted->result.n_cannot_tell ? fitted->result.cannot_tell[index] : NULL;
}

void swh_fitted_apply(const struct swh_fitted *fitted, struct swh_setup *setup)
{
    const struct swh_fit_result *r = &fitted->result;
    setup->scenario.c.params = r->params;
    for (int i = 0; i < r->estimates; i++) {
        const struct swh_fit_estimate *e = &r->estimate[i];
        if (e->held)
            continue;
        swh_param_set(&setup->scenario.c.spread, e->param, e->spread);
        setup->scenario.params[e->param] = SWH_FROM_SET;
    }
    for (int i = 0; i < r->estimates; i++)
        for (int k = 0; k < i; k++)
            if (!r->estimate[i].held && !r->estimate[k].held)
                swh_joint_set(&setup->scenario.c.joint, r->estimate[i].param, r->estimate[k].param,
                              r->correlation[i * r->estimates + k]);
}

/* ---- rank ---- */

/* NULL with an error, also where nothing was read */
static struct prepared *prepare_cause(const struct swh_setup *setup, const struct swh_logs *logs,
                                      struct swh_error *err)
{
    if (logs->logs + logs->sheets > 0)
        return prepare(setup, logs, false, err);
    swh_error_set(err, SWH_ERR_INPUT, "nothing was read");
    swh_error_expected(err, "a log or a spot sheet");
    return NULL;
}

static struct swh_rank_request rank_request(const struct prepared *p, int threads)
{
    return (struct swh_rank_request){.vehicle = &p->vehicle,
                                     .doors_given = p->doors_given,
                                     .log = p->first.log,
                                     .sheet = p->first.sheet,
                                     .threads = threads_of(threads)};
}

enum swh_status swh_setup_rank(const struct swh_setup *setup, const struct swh_logs *logs, int threads,
                               struct swh_causes **causes, struct swh_error *err)
{
    struct swh_error inside = {0};
    struct swh_causes *c = calloc(1, sizeof *c);
    struct prepared *p = c ? prepare_cause(setup, logs, &inside) : NULL;
    *causes = NULL;
    if (!c)
        swh_error_set(&inside, SWH_ERR_MEMORY, "no memory for a ranking");
    if (p) {
        struct swh_rank_request q = rank_request(p, threads);
        q.pairs = true;
        if (swh_rank(&q, &c->ranking, &inside) == SWH_OK)
            *causes = c;
    }
    for (int i = 0; *causes && i < c->ranking.causes; i++)
        swh_cause_name(&c->ranking.cause[i], c->name[i], sizeof c->name[i]);
    prepared_free(p);
    if (!*causes)
        free(c);
    return give(&inside, err);
}

void swh_causes_free(struct swh_causes *causes)
{
    free(causes);
}

size_t swh_causes_count(const struct swh_causes *causes)
{
    return (size_t)causes->ranking.causes;
}

int swh_causes_get(const struct swh_causes *causes, size_t index, struct swh_cause_told *told)
{
    if (index >= swh_causes_count(causes))
        return -1;
    const struct swh_cause *c = &causes->ranking.cause[index];
    *told = (struct swh_cause_told){causes->name[index], c->share, c->severity, c->low, c->high};
    return 0;
}

int swh_causes_open(const struct swh_causes *causes)
{
    return causes->ranking.cannot_tell;
}

int swh_causes_none_fits(const struct swh_causes *causes)
{
    return causes->ranking.none_fits;
}

/* ---- accept ---- */

enum swh_status swh_setup_accept(const struct swh_setup *setup, const struct swh_logs *logs, int threads,
                                 struct swh_verdict **verdict, struct swh_error *err)
{
    struct swh_error inside = {0};
    struct swh_verdict *v = calloc(1, sizeof *v);
    struct prepared *p = v ? prepare_cause(setup, logs, &inside) : NULL;
    *verdict = NULL;
    if (!v)
        swh_error_set(&inside, SWH_ERR_MEMORY, "no memory for a judgement");
    if (p) {
        const struct swh_rank_request q = rank_request(p, threads);
        if (swh_accept(&q, SWH_ACCEPT_AMBIENT, SWH_ACCEPT_SPEED, &v->acceptance, &inside) == SWH_OK)
            *verdict = v;
    }
    prepared_free(p);
    if (!*verdict)
        free(v);
    return give(&inside, err);
}

void swh_verdict_free(struct swh_verdict *verdict)
{
    free(verdict);
}

int swh_verdict_pass(const struct swh_verdict *verdict)
{
    return verdict->acceptance.pass;
}

int swh_verdict_found(const struct swh_verdict *verdict)
{
    return verdict->acceptance.found;
}

const char *swh_verdict_fault(const struct swh_verdict *verdict)
{
    const int fault = verdict->acceptance.fault;
    return fault == SWH_HEALTHY ? "healthy" : swh_fault_table[fault].id;
}

double swh_verdict_deviation(const struct swh_verdict *verdict, int channel)
{
    for (int i = 0; i < SWH_COMPARED; i++)
        if ((int)swh_compared[i] == channel)
            return verdict->acceptance.deviation[i];
    return NAN;
}

const char *swh_verdict_worst(const struct swh_verdict *verdict)
{
    return swh_outcome_word(verdict->acceptance.worst.outcome);
}
