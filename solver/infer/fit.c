#include "solver/infer/fit_inside.h"

#include "solver/infer/spot.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* Two runs of a replay at the usual tolerance differ by 0.1 K in a window mean, for no other reason than that
 * their steps fell differently; at a tenth of it by 0.01 K, for a quarter more time (measured on 25 minutes
 * with noisy drives). A circuit driven by the two healthy demo logs likewise: all residuals together, each
 * over its standard deviation, differ by a length of 0.6 at 0.4 of the usual tolerance, by 0.04 at 0.04 and
 * by 0.006 at 0.008 of it; a change of 1 % in a conductance or an area moves them by 0.5 to 0.7. CVODES's
 * forward sensitivities would have no such noise, but each parameter costs them one more integration of the
 * same equations, as a difference does, and clutch edges would have to be carried over by hand. */
static const double replay_tolerance = 0.1, circuit_tolerance = 0.04;
static const double replay_move = 4, circuit_move = 0.4;
/* Windows of a circuit that count as one: an error of its model keeps its sign for some eight minutes. With
 * one for one, the windows outweigh what is known of the drives and of the parameters, and a fit of many
 * parameters takes the model's faults for a humidity or an efficiency that nobody has seen (measured: 1, 4,
 * 16, 50). */
static const double windows_together = 16;
/* Standard deviation of ln(parameter) round its start, in a circuit, where nobody gave one. */
static const double weak_prior = 0.7;
/* How far apart starts are, in the logistic variable: between a quarter and three quarters of the range (of
 * its logarithm) for one that starts in the middle. At half of that all of four starts of a circuit with half
 * its charge stayed on the receiver's plateau, where charge shows in nothing. */
static const double far_start = 0.7;
static const double huber = 2.5; /* weighed residuals beyond it count linearly; 1.345 to 3 are usual */

int swh_fit_records(const struct swh_fit_request *q)
{
    return q->logs + q->sheets;
}

bool swh_fit_is_sheet(const struct swh_fit_request *q, int record)
{
    return record >= q->logs;
}

static struct swh_readings readings_of(const struct swh_fit_request *q, int record)
{
    struct swh_readings r = {.doors_given = q->doors_given};
    if (swh_fit_is_sheet(q, record))
        r.sheet = &q->sheet[record - q->logs];
    else
        r.log = &q->log[record];
    return r;
}

/* Windows that count as one: each row of a sheet is a test of its own. */
static double together(const struct swh_fit_request *q, int record)
{
    return swh_fit_is_sheet(q, record) ? 1 : windows_together;
}

static double fine_tolerance(const struct swh_fit_request *q)
{
    return q->with == SWH_FIT_CIRCUIT ? circuit_tolerance : replay_tolerance;
}

/* ---- what is varied ---- */

static void list_variables(struct swh_fit_view *v)
{
    v->n = 0;
    for (int i = 0; i < v->f->q->params; i++) {
        if (!isnan(v->held[i]))
            continue;
        v->lo[v->n] = v->f->lo[i];
        v->hi[v->n] = v->f->hi[i];
        v->place[v->n++] = i;
    }
}

void swh_fit_view_all(struct swh_fit_view *v, const struct swh_fit_work *f)
{
    v->f = f;
    for (int i = 0; i < SWH_LSQ_MAX; i++)
        v->held[i] = NAN;
    list_variables(v);
}

void swh_fit_view_hold(struct swh_fit_view *v, int place, double value)
{
    v->held[place] = value;
    list_variables(v);
}

/* values of all parameters that are free by the request, from those of the variables */
static void all_values(const struct swh_fit_view *v, const double *p, double *all)
{
    memcpy(all, v->held, sizeof v->held);
    for (int k = 0; k < v->n; k++)
        all[v->place[k]] = p[k];
}

/* ---- residuals at a set of parameters ---- */

enum swh_status swh_fit_run(const struct swh_fit_work *f, int log, const double *all, struct swh_residuals *r,
                            struct swh_error *err)
{
    const struct swh_fit_request *q = f->q;
    struct swh_case c = f->driven[log]; /* the schedule is shared, the parameters are this run's */
    for (int i = 0; i < q->params; i++)
        swh_param_set(&c.params, q->param[i], all[i]);
    c.params.run_tolerance *= fine_tolerance(q);
    const struct swh_readings read = readings_of(q, log);
    if (q->with == SWH_FIT_CIRCUIT)
        return swh_residuals_run(&c, &read, r, err);
    return swh_residuals_replay(&c, &f->drive[log], &q->log[log], r, err);
}

static double soften(const struct swh_fit_work *f, int log, double u)
{
    const double limit = huber * f->scale[log];
    if (!f->robust || fabs(u) <= limit)
        return u;
    return copysign(sqrt(2 * limit * fabs(u) - limit * limit), u);
}

static double prior_of(const struct swh_fit_work *f, int i, double value)
{
    const struct swh_fit_request *q = f->q;
    const double sigma = swh_param_get(&q->vehicle->spread, q->param[i]);
    const double start = swh_param_get(&q->vehicle->params, q->param[i]);
    if (sigma > 0)
        return (value - start) / sigma;
    if (q->with == SWH_FIT_CIRCUIT && start > 0)
        return log(fmax(value, 1e-6 * start) / start) / weak_prior;
    return NAN; /* none */
}

static int add_priors(const struct swh_fit_work *f, const double *all, double *r)
{
    int count = 0;
    for (int i = 0; i < f->q->params; i++) {
        const double prior = prior_of(f, i, all[i]);
        if (!isnan(prior))
            r[count++] = prior;
    }
    return count;
}

static enum swh_status fit_residuals(const double *p, double *r, void *user, struct swh_error *err)
{
    const struct swh_fit_view *v = user;
    const struct swh_fit_work *f = v->f;
    double all[SWH_LSQ_MAX];
    all_values(v, p, all);
    struct swh_residuals *one = malloc(sizeof *one);
    if (!one) {
        swh_team_note_memory(f->team);
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    }
    int at = 0;
    enum swh_status status = SWH_OK;
    for (int log = 0; log < swh_fit_records(f->q) && status == SWH_OK; log++) {
        status = swh_fit_run(f, log, all, one, err);
        if (status != SWH_OK)
            break;
        swh_error_covariance_apply(&f->loss[log], one, r + at);
        for (int i = 0; i < f->weights[log].points; i++)
            r[at + i] = soften(f, log, r[at + i]);
        at += f->weights[log].points;
    }
    free(one);
    add_priors(f, all, r + at);
    if (status == SWH_ERR_MEMORY)
        swh_team_note_memory(f->team);
    return status;
}

double swh_fit_sum(const struct swh_fit_view *v, const double *p)
{
    const int m = v->f->points + v->f->priors;
    double *r = malloc((size_t)m * sizeof *r), sum = 0;
    if (!r)
        swh_team_note_memory(v->f->team);
    if (!r || fit_residuals(p, r, (void *)(uintptr_t)v, NULL) != SWH_OK)
        sum = INFINITY;
    for (int k = 0; k < m && isfinite(sum); k++)
        sum += r[k] * r[k];
    free(r);
    return sum;
}

/* ---- weights ---- */

static void free_weights(struct swh_fit_work *f)
{
    for (int log = 0; log < swh_fit_records(f->q); log++)
        swh_error_covariance_free(&f->weights[log]);
}

static enum swh_status weigh_plainly(struct swh_fit_work *f, struct swh_error *err)
{
    f->points = 0;
    for (int log = 0; log < swh_fit_records(f->q); log++) {
        const enum swh_status status =
            swh_error_covariance_make_plain(&f->plain[log], &f->at_start[log], f->doubt[log], f->doubts[log],
                                            together(f->q, log), 0, f->first_hidden[log], err);
        if (status != SWH_OK)
            return status;
        f->points += f->plain[log].points;
        f->scale[log] = 1 / sqrt(together(f->q, log));
    }
    f->loss = f->plain;
    return SWH_OK;
}

static enum swh_status weigh(struct swh_fit_work *f, const struct swh_params *model_errors,
                             struct swh_error *err)
{
    struct swh_params own = *model_errors, *errors = &own;
    own.uncertainty_unseen = own.uncertainty_papers_lasting = 0; /* these logs are the ones that it sees */
    own.fitted_logs = own.fitted_rows = 0;
    free_weights(f);
    f->points = 0;
    if (f->q->with == SWH_FIT_REPLAY)
        f->loss = f->weights;
    for (int log = 0; log < swh_fit_records(f->q); log++) {
        const struct swh_residuals *r = &f->at_start[log];
        const enum swh_status status = swh_error_covariance_make(
            &f->weights[log], r, errors, f->doubt[log], f->doubts[log], 0, f->first_hidden[log], err);
        if (status != SWH_OK)
            return status;
        f->points += f->weights[log].points;
    }
    return SWH_OK;
}

/* What drives may be wrong too: readings in a replay; ambient, humidity and bay in a circuit. */
static enum swh_status nuisance_inputs(struct swh_fit_work *f, int log, struct swh_error *err)
{
    const struct swh_fit_request *q = f->q;
    struct swh_team team;
    swh_team_begin(&team);
    if (q->with == SWH_FIT_CIRCUIT) {
        struct swh_case driven = f->driven[log];
        driven.params.run_tolerance *= fine_tolerance(q);
        const struct swh_readings read = readings_of(q, log);
        struct swh_case vehicle = *q->vehicle;
        vehicle.params.run_tolerance *= fine_tolerance(q);
        const int known = swh_nuisances(&driven, &read, &f->at_start[log], SWH_KNOWN_WHOLLY, q->threads,
                                        f->doubt[log], &team);
        f->doubts[log] = known + swh_circuit_drive_nuisances(&vehicle, &read, &f->at_start[log], q->threads,
                                                             &f->doubt[log][known], &team);
        return swh_team_end(&team, err);
    }
    struct swh_case c = *q->vehicle;
    c.params.run_tolerance *= fine_tolerance(q);
    const struct swh_nuisance_request d = {&c,       &f->drive[log], &q->log[log], &f->at_start[log],
                                           q->param, q->params,      q->threads,   &team};
    f->doubts[log] = swh_gauge_nuisances(&d, f->doubt[log]);
    return swh_team_end(&team, err);
}

/* which windows there are, and which of them are kept back */
static enum swh_status lay_out(struct swh_fit_work *f, struct swh_error *err)
{
    double p[SWH_LSQ_MAX];
    for (int i = 0; i < f->q->params; i++)
        p[i] = swh_param_get(&f->q->vehicle->params, f->q->param[i]);
    for (int log = 0; log < swh_fit_records(f->q); log++) {
        struct swh_residuals *r = &f->at_start[log];
        const enum swh_status status = swh_fit_run(f, log, p, r, err);
        if (status != SWH_OK)
            return status;
        if (!r->complete)
            return swh_error_set(err, SWH_ERR_SOLVER,
                                 "with the vehicle's present parameters the model does not get through %s %d "
                                 "(it ends at %.0f s): the fit has no place to start",
                                 swh_fit_is_sheet(f->q, log) ? "sheet" : "log",
                                 log + 1 - (swh_fit_is_sheet(f->q, log) ? f->q->logs : 0),
                                 r->summary.end_time);
        const enum swh_status doubted = nuisance_inputs(f, log, err);
        if (doubted != SWH_OK)
            return doubted;
        f->first_hidden[log] =
            swh_fit_is_sheet(f->q, log) ? r->windows : (int)ceil(r->windows * (1 - f->q->holdout));
    }
    return SWH_OK;
}

/* ---- starts ---- */

static void start_point(const struct swh_fit_work *f, int start, double *p)
{
    struct swh_lsq limits = swh_fit_limits(f);
    for (int i = 0; i < f->q->params; i++) {
        p[i] = swh_param_get(&f->q->vehicle->params, f->q->param[i]);
        if (start == 0)
            continue;
        /* start 1 up, 2 down, then alternating from variable to variable */
        const double side = start <= 2 ? (start == 1 ? 1 : -1) : ((i >> (start - 3)) & 1 ? 1 : -1);
        p[i] = swh_lsq_from_z(&limits, i, swh_lsq_to_z(&limits, i, p[i]) + far_start * side);
    }
}

struct swh_lsq swh_fit_problem(struct swh_fit_view *v)
{
    const struct swh_fit_request *q = v->f->q;
    return (struct swh_lsq){.m = v->f->points + v->f->priors,
                            .n = v->n,
                            .residuals = fit_residuals,
                            .user = v,
                            .lo = v->lo,
                            .hi = v->hi,
                            .noise = 1e-5,
                            .change = 0.03,
                            .move = q->with == SWH_FIT_CIRCUIT ? circuit_move : replay_move,
                            .evals_max = 40 * (v->n + 1),
                            .threads = q->threads};
}

static enum swh_status from_starts(struct swh_fit_work *f, struct swh_lsq_result *best,
                                   struct swh_fit_result *out, struct swh_error *err)
{
    struct swh_fit_view view;
    swh_fit_view_all(&view, f);
    struct swh_lsq q = swh_fit_problem(&view);
    q.rough = true;
    double sums[16];
    enum swh_status status = SWH_OK;
    const int starts = f->q->starts < 16 ? f->q->starts : 16;
    for (int start = 0; start < starts; start++) {
        struct swh_lsq_result one;
        double p[SWH_LSQ_MAX];
        start_point(f, start, p);
        struct swh_error inside = {0};
        status = swh_lsq_solve(&q, p, &one, start == 0 ? err : &inside);
        sums[start] = status == SWH_OK ? one.sum : INFINITY;
        if (status == SWH_ERR_MEMORY && err && err->status == SWH_OK)
            *err = inside;
        if ((start == 0 && status != SWH_OK) || status == SWH_ERR_MEMORY)
            return status;
        out->evals += one.evals;
        if (start == 0 || sums[start] < best->sum)
            *best = one;
    }
    out->starts = starts;
    out->starts_agree = 0;
    for (int start = 0; start < starts; start++)
        out->starts_agree += sums[start] <= 1.02 * best->sum + 1e-9;
    return SWH_OK;
}

/* ---- the mark ---- */

/* What rank trusts each reading by. */
static void leave_mark(const struct swh_fit_work *f, struct swh_fit_result *out)
{
    double left[SWH_COMPARED];
    int rows = 0;
    for (int i = 0; i < SWH_COMPARED; i++)
        left[i] = out->channel[i].points > 0 ? out->channel[i].rms : NAN;
    for (int i = 0; i < f->q->sheets; i++)
        rows += (int)f->q->sheet[i].rows;
    swh_mark_fitted(&out->params, f->q->logs, rows, left);
}

/* ---- what a drive must tell ---- */

/* A clutch whose edges lie between rows as far apart as half of its times engaged: what the machine did is
 * not in the log. */
static enum swh_status check_edges(const struct swh_fit_request *q, int log, struct swh_error *err)
{
    const struct swh_drive_facts facts = swh_drive_facts(&q->log[log]);
    if (2 * facts.between <= facts.shortest_on || q->keep_unknown)
        return SWH_OK;
    swh_error_set(
        err, SWH_ERR_INPUT,
        "log %d: the clutch stays in for %.0f s at a time and there is a row every %.0f s: what the "
        "compressor did is not in the log",
        log + 1, facts.shortest_on, facts.between);
    swh_error_expected(err, "a row every %.2g s", fmax(facts.shortest_on / 6, 0.5));
    return SWH_ERR_INPUT;
}

/* ---- what acts at all ---- */

static bool same_means(const struct swh_residuals *a, const struct swh_residuals *b)
{
    return a->complete == b->complete && memcmp(a->mean, b->mean, sizeof a->mean) == 0 &&
           memcmp(a->count, b->count, sizeof a->count) == 0;
}

/* Does any reading depend on parameter i, moved a little and moved far? */
static enum swh_status does_act(const struct swh_fit_work *f, int i, bool *acts, struct swh_error *err)
{
    static const double far[] = {0.2, 3, -3}; /* of the logistic variable */
    const struct swh_lsq limits = swh_fit_limits(f);
    double p[SWH_LSQ_MAX];
    struct swh_residuals *r = malloc(sizeof *r);
    if (!r)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    start_point(f, 0, p);
    const double z = swh_lsq_to_z(&limits, i, p[i]);
    enum swh_status status = SWH_OK;
    *acts = false;
    for (int k = 0; k < 3 && !*acts && status == SWH_OK; k++) {
        p[i] = swh_lsq_from_z(&limits, i, z + far[k]);
        for (int log = 0; log < swh_fit_records(f->q) && !*acts && status == SWH_OK; log++) {
            status = swh_fit_run(f, log, p, r, err);
            *acts = !same_means(r, &f->at_start[log]);
        }
    }
    free(r);
    return status;
}

/* A key that says nothing of the vehicle, or that no reading depends on, cannot be fitted. */
static enum swh_status check_acting(const struct swh_fit_work *f, struct swh_error *err)
{
    double readings = 0;
    for (int log = 0; log < swh_fit_records(f->q); log++)
        for (int i = 0; i < SWH_COMPARED * SWH_WINDOWS_MAX; i++)
            readings += f->at_start[log].count[i / SWH_WINDOWS_MAX][i % SWH_WINDOWS_MAX];
    if (readings == 0)
        return SWH_OK; /* said where they are weighed */
    for (int i = 0; i < f->q->params; i++) {
        bool acts = true;
        const enum swh_status status = does_act(f, i, &acts, err);
        if (status != SWH_OK)
            return status;
        if (acts)
            continue;
        swh_error_set(err, SWH_ERR_USAGE, "nothing that was read depends on %s: it cannot be fitted",
                      swh_param_table[f->q->param[i]].name);
        swh_error_expected(err, f->q->with == SWH_FIT_REPLAY
                                    ? "what the compressor's body depends on; --with circuit for the rest of "
                                      "the vehicle"
                                    : "what the readings depend on");
        return SWH_ERR_USAGE;
    }
    return SWH_OK;
}

/* Sections that describe the computation, not the vehicle. */
static enum swh_status check_kind(int param, struct swh_error *err)
{
    static const char *const others[] = {"run", "uncertainty", "fitted"};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
        if (strcmp(swh_param_table[param].section, others[i]) == 0) {
            swh_error_set(err, SWH_ERR_USAGE, "%s is no property of a vehicle: it cannot be fitted",
                          swh_param_table[param].name);
            swh_error_expected(err, "a parameter of another section than run, uncertainty and fitted");
            return SWH_ERR_USAGE;
        }
    return SWH_OK;
}

/* ---- all of it ---- */

static enum swh_status prepare(struct swh_fit_work *f, struct swh_error *err)
{
    const struct swh_fit_request *q = f->q;
    if (swh_fit_records(q) < 1 || swh_fit_records(q) > SWH_FIT_LOGS)
        return swh_error_set(err, SWH_ERR_USAGE, "%d logs and sheets: between 1 and %d can be fitted at once",
                             swh_fit_records(q), SWH_FIT_LOGS);
    if (q->sheets > 0 && q->with != SWH_FIT_CIRCUIT)
        return swh_error_set(err, SWH_ERR_USAGE, "a sheet cannot drive a body: it needs the circuit");
    if (q->params < 1 || q->params > SWH_LSQ_MAX)
        return swh_error_set(err, SWH_ERR_USAGE, "%d parameters: between 1 and %d can be fitted", q->params,
                             SWH_LSQ_MAX);
    for (int i = 0; i < q->params; i++) {
        const enum swh_status kind = check_kind(q->param[i], err);
        if (kind != SWH_OK)
            return kind;
        f->lo[i] = swh_param_table[q->param[i]].lo;
        f->hi[i] = swh_param_table[q->param[i]].hi;
        f->priors += !isnan(prior_of(f, i, swh_param_get(&q->vehicle->params, q->param[i])));
        if (isnan(swh_param_get(&q->vehicle->params, q->param[i])))
            return swh_error_set(err, SWH_ERR_USAGE, "%s has no value to start from",
                                 swh_param_table[q->param[i]].name);
    }
    for (int log = 0; log < swh_fit_records(q); log++) {
        const struct swh_readings read = readings_of(q, log);
        enum swh_status status = swh_fit_is_sheet(q, log) ? SWH_OK : check_edges(q, log, err);
        if (status != SWH_OK)
            return status;
        if (q->with == SWH_FIT_CIRCUIT)
            status = swh_circuit_drive(&f->driven[log], q->vehicle, &read, &swh_drive_as_read, err);
        else
            f->driven[log] = *q->vehicle;
        if (status == SWH_OK && q->with == SWH_FIT_REPLAY)
            status = swh_replay_drive(&f->drive[log], &q->log[log], &swh_drive_as_read, err);
        if (status != SWH_OK)
            return status;
    }
    const enum swh_status laid = lay_out(f, err);
    return laid == SWH_OK ? check_acting(f, err) : laid;
}

/* ---- covariance of a circuit ---- */

/* Columns of the Jacobian with what the residuals really do in the place of how they are weighed: the
 * products of two columns make J' S J with S the covariance of the weighed residuals. Priors err as they are
 * weighed. */
static void let_err_together(const struct swh_fit_work *f, int n, double *J)
{
    const int m = f->points + f->priors;
    for (int i = 0; i < n; i++)
        for (int log = 0, at = i * m; log < swh_fit_records(f->q); at += f->plain[log++].points) {
            swh_error_covariance_solve_root(&f->plain[log], J + at);
            swh_error_covariance_apply_root(&f->weights[log], J + at);
        }
}

/* Covariance of n estimates whose residuals are weighed in one way and err in another: (J'J)^-1 J' S J
 * (J'J)^-1 (White, Econometrica 48 (1980) 817). Destroys J. */
static void take_sandwich(const struct swh_fit_work *f, int n, double *J, struct swh_lsq_result *best)
{
    const int m = f->points + f->priors;
    double meat[SWH_LSQ_MAX * SWH_LSQ_MAX] = {0}, out[SWH_LSQ_MAX * SWH_LSQ_MAX] = {0};
    const double *bread = best->covariance;
    let_err_together(f, n, J);
    for (int i = 0; i < n * n; i++)
        for (int k = 0; k < m; k++)
            meat[i] += J[i / n * m + k] * J[i % n * m + k];
    for (int i = 0; i < n * n; i++)
        for (int k = 0; k < n * n; k++)
            out[i] += bread[i / n * n + k / n] * meat[k] * bread[k % n * n + i % n];
    swh_lsq_take_covariance(n, out, best);
}

/* ---- all of it, from a fit of all parameters on ---- */

static enum swh_status look(const struct swh_fit_work *f, const double *all, struct swh_fit_result *out,
                            double *white2, struct swh_error *err)
{
    struct swh_fit_left left[SWH_COMPARED];
    const enum swh_status status = swh_fit_look(f, all, left, out->log, err);
    if (status != SWH_OK)
        return status;
    out->points = f->points;
    swh_fit_say_channels(left, out, f->q->with == SWH_FIT_REPLAY);
    *white2 = 0;
    for (int i = 0; i < SWH_COMPARED; i++)
        *white2 += left[i].white2;
    return SWH_OK;
}

/* The vehicle that the fit leaves behind. */
static void say_params(const struct swh_fit_work *f, const struct swh_params *errors,
                       struct swh_fit_result *out)
{
    const struct swh_fit_request *q = f->q;
    const bool circuit = q->with == SWH_FIT_CIRCUIT;
    out->params = q->vehicle->params;
    for (int i = 0; i < SWH_COMPARED && circuit; i++)
        swh_param_set(&out->params, (int)swh_compared_error[i],
                      swh_param_get(errors, (int)swh_compared_error[i]));
    if (circuit)
        out->params.uncertainty_correlation_time = errors->uncertainty_correlation_time;
    for (int i = 0; i < q->params; i++)
        swh_param_set(&out->params, q->param[i], out->estimate[i].value);
    if (circuit)
        leave_mark(f, out);
}

/* Fits what is varied once more, from values of all. */
static enum swh_status refit(struct swh_fit_work *f, struct swh_fit_view *view, const double *all,
                             struct swh_lsq_result *best, struct swh_fit_result *out, struct swh_error *err)
{
    const size_t m = (size_t)(f->points + f->priors);
    double p[SWH_LSQ_MAX], *J = malloc(m * (size_t)f->q->params * sizeof *J);
    if (!J)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    struct swh_lsq q = swh_fit_problem(view);
    q.jacobian = J;
    for (int k = 0; k < view->n; k++)
        p[k] = all[view->place[k]];
    enum swh_status status = swh_lsq_solve(&q, p, best, err);
    if (status == SWH_OK)
        status = swh_lsq_check(&q, 1.96, best, err);
    if (status == SWH_OK && f->q->with == SWH_FIT_CIRCUIT)
        take_sandwich(f, view->n, J, best);
    out->evals += best->evals;
    free(J);
    return status;
}

/* Holds what is not told and fits the others to that, until all that is varied is told. */
static enum swh_status hold_open(struct swh_fit_work *f, struct swh_fit_view *view,
                                 struct swh_lsq_result *best, struct swh_fit_result *out,
                                 struct swh_error *err)
{
    double all[SWH_LSQ_MAX];
    enum swh_status status = SWH_OK;
    all_values(view, best->p, all);
    while (status == SWH_OK && view->n > 0 && swh_fit_hold_open(f, best, view, out) > 0) {
        if (view->n == 0)
            break;
        status = refit(f, view, all, best, out, err);
        if (status == SWH_OK)
            all_values(view, best->p, all);
    }
    return status;
}

static enum swh_status finish(struct swh_fit_work *f, const struct swh_lsq_result *whole,
                              const struct swh_params *errors, struct swh_fit_result *out,
                              struct swh_error *err)
{
    struct swh_fit_view view;
    struct swh_lsq_result best = *whole;
    double white2 = 0, all[SWH_LSQ_MAX];
    swh_fit_view_all(&view, f);
    enum swh_status status = look(f, whole->p, out, &white2, err);
    if (status != SWH_OK)
        return status;
    swh_fit_say_intervals(f, whole, white2, out);
    if (f->q->profile)
        swh_fit_profile(f, whole, out);
    if (!f->q->keep_unknown)
        status = hold_open(f, &view, &best, out, err);
    if (status != SWH_OK)
        return status;
    swh_fit_say_values(f, &view, &best, out);
    swh_fit_say_open(f, whole, out);
    say_params(f, errors, out);
    all_values(&view, best.p, all);
    status = look(f, all, out, &white2, err);
    for (int i = 0; i < f->q->params; i++)
        out->estimate[i].identified = out->estimate[i].identified && out->fits;
    return status;
}

/* Replay: generalised least squares, twice. A driven body errs less than a whole circuit; what is left over
 * by the first pass shows how it errs. */
static enum swh_status fit_replay(struct swh_fit_work *f, struct swh_fit_result *out, struct swh_error *err)
{
    struct swh_params errors = f->q->vehicle->params;
    errors.uncertainty_persistent = errors.uncertainty_scatter = 0;
    for (int i = 0; i < SWH_COMPARED; i++)
        swh_param_set(&errors, (int)swh_compared_error[i],
                      0.25 * swh_param_get(&errors, (int)swh_compared_error[i]));
    struct swh_lsq_result best, last;
    struct swh_fit_left left[SWH_COMPARED];
    struct swh_fit_view view;
    enum swh_status status = weigh(f, &errors, err);
    if (status == SWH_OK)
        status = from_starts(f, &best, out, err);
    if (status == SWH_OK)
        status = swh_fit_look(f, best.p, left, out->log, err);
    if (status != SWH_OK)
        return status;
    swh_fit_learn_errors(f, left, &errors, out);
    status = weigh(f, &errors, err);
    f->robust = f->q->robust;
    swh_fit_view_all(&view, f);
    const struct swh_lsq q = swh_fit_problem(&view);
    if (status == SWH_OK)
        status = swh_lsq_solve(&q, best.p, &last, err);
    if (status == SWH_OK)
        status = swh_lsq_check(&q, 1.96, &last, err);
    if (status != SWH_OK)
        return status;
    out->evals += last.evals;
    return finish(f, &last, &errors, out, err);
}

/* The whole fit of a circuit from where a start ended; *errors: learned from what it leaves over. */
static enum swh_status solve_circuit(struct swh_fit_work *f, const double *p, double *J,
                                     struct swh_params *errors, struct swh_lsq_result *last,
                                     struct swh_fit_result *out, struct swh_error *err)
{
    const int n = f->q->params;
    struct swh_fit_left left[SWH_COMPARED];
    struct swh_fit_view view;
    swh_fit_view_all(&view, f);
    struct swh_lsq q = swh_fit_problem(&view);
    q.jacobian = J;
    enum swh_status status = swh_lsq_solve(&q, p, last, err);
    if (status == SWH_OK)
        status = swh_lsq_check(&q, 1.96, last, err);
    if (status == SWH_OK)
        status = swh_fit_look(f, last->p, left, out->log, err);
    if (status != SWH_OK)
        return status;
    out->evals += last->evals;
    swh_fit_learn_errors(f, left, errors, out);
    status = weigh(f, errors, err);
    for (int i = 0; i < n; i++)
        f->naive[i] = last->covariance[i * n + i];
    if (status == SWH_OK)
        take_sandwich(f, n, J, last);
    return status;
}

/* Circuit: robust least squares, residuals weighed as if independent but for the drives. A model of a
 * whole circuit is wrong in ways that no covariance describes; generalised least squares, which believes its
 * own, trades lasting errors of several instruments for the shape of a few transients and ends at parameters
 * that no vehicle has. The intervals allow for what the residuals do together. */
static enum swh_status fit_circuit(struct swh_fit_work *f, struct swh_fit_result *out, struct swh_error *err)
{
    struct swh_params errors = f->q->vehicle->params;
    struct swh_lsq_result best, last;
    enum swh_status status = weigh_plainly(f, err);
    if (status == SWH_OK)
        status = weigh(f, &errors, err); /* until what is left over shows how the model errs */
    f->robust = f->q->robust;
    if (status == SWH_OK)
        status = from_starts(f, &best, out, err);
    if (status != SWH_OK)
        return status;
    double *J = malloc((size_t)(f->points + f->priors) * (size_t)f->q->params * sizeof *J);
    if (!J)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    status = solve_circuit(f, best.p, J, &errors, &last, out, err);
    free(J);
    return status == SWH_OK ? finish(f, &last, &errors, out, err) : status;
}

enum swh_status swh_fit(const struct swh_fit_request *q, struct swh_fit_result *out, struct swh_error *err)
{
    memset(out, 0, sizeof *out);
    struct swh_fit_work *f = calloc(1, sizeof *f);
    if (!f)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    f->q = q;
    f->wider = 1;
    for (int log = 0; log < SWH_FIT_LOGS; log++)
        f->scale[log] = 1;
    struct swh_team team;
    swh_team_begin(&team);
    f->team = &team;
    enum swh_status status = prepare(f, err);
    if (status == SWH_OK)
        status = q->with == SWH_FIT_CIRCUIT ? fit_circuit(f, out, err) : fit_replay(f, out, err);
    const enum swh_status inside = swh_team_end(&team, err);
    status = status == SWH_OK ? inside : status;
    free_weights(f);
    for (int log = 0; log < swh_fit_records(q) && log < SWH_FIT_LOGS; log++)
        swh_error_covariance_free(&f->plain[log]);
    for (int log = 0; log < swh_fit_records(q) && log < SWH_FIT_LOGS; log++) {
        if (q->with == SWH_FIT_CIRCUIT)
            swh_case_free(&f->driven[log]);
        swh_log_memory_free(&f->drive[log]);
    }
    free(f);
    return status;
}

/* ---- what is usually freed ---- */

static const struct {
    int param;
    double share;
    enum swh_channel channel;
} usual[] = {
#define USUAL(param, share, channel) {SWH_P_##param, share, SWH_CH_##channel},
#include "solver/infer/usual.def"
#undef USUAL
};

/* of a valve or of an orifice tube, whichever the vehicle has not */
static bool is_of_other_device(const struct swh_case *vehicle, int param)
{
    const bool orifice = vehicle->choices.vehicle_expansion == SWH_EXPANSION_ORIFICE;
    const bool of_valve = param == SWH_P_valve_area || param == SWH_P_valve_spring;
    return orifice ? of_valve : param == SWH_P_orifice_coefficient;
}

int swh_fit_usual(struct swh_fit_request *q, struct swh_case *vehicle)
{
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++) {
        const int param = usual[i].param;
        bool read = false;
        for (int k = 0; k < q->sheets; k++)
            read |= q->sheet[k].has[usual[i].channel];
        if (!read || is_of_other_device(vehicle, param) || q->params == SWH_LSQ_MAX)
            continue;
        q->param[q->params++] = param;
        if (!(swh_param_get(&vehicle->spread, param) > 0))
            swh_param_set(&vehicle->spread, param, usual[i].share * swh_param_get(&vehicle->params, param));
    }
    return q->params;
}

/* ---- the model along a log ---- */

static enum swh_status trace_case(const struct swh_case *c, const struct swh_fit_request *q, int log,
                                  const struct swh_log_memory *drive, double *trace, struct swh_error *err)
{
    struct swh_residuals *r = malloc(sizeof *r);
    if (!r)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a fit");
    const struct swh_readings read = readings_of(q, log);
    const enum swh_status status = read.sheet
                                       ? swh_spot_residuals(c, read.sheet, read.doors_given, r, trace, err)
                                       : swh_residuals_trace(c, drive, read.log, trace, r, err);
    free(r);
    return status;
}

enum swh_status swh_fit_trace(const struct swh_fit_request *q, const struct swh_params *params, int log,
                              double *trace, struct swh_error *err)
{
    struct swh_case vehicle = *q->vehicle, driven = {0};
    struct swh_log_memory drive = {0};
    const struct swh_readings read = readings_of(q, log);
    vehicle.params = *params;
    vehicle.params.run_tolerance *= fine_tolerance(q);
    if (q->with == SWH_FIT_CIRCUIT) {
        enum swh_status status = swh_circuit_drive(&driven, &vehicle, &read, &swh_drive_as_read, err);
        if (status == SWH_OK)
            status = trace_case(&driven, q, log, NULL, trace, err);
        swh_case_free(&driven);
        return status;
    }
    enum swh_status status = swh_replay_drive(&drive, &q->log[log], &swh_drive_as_read, err);
    if (status == SWH_OK)
        status = trace_case(&vehicle, q, log, &drive, trace, err);
    swh_log_memory_free(&drive);
    return status;
}
