#include "solver/steady/steady.h"

#include "solver/simulate/moving_params.h"
#include "solver/steady/fold.h"
#include "solver/steady/perturbation.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double WINDOW = 300, INTERVAL = 10; /* s */
static const double TRANSIENT = 300,
                    BRIEF = 60;     /* s at the start, from a state at work, without projections */
static const double QUIET = 900;    /* s without a change of the clutch that are no pause of a cycle */
static const double LEAK_TIME = 60; /* s in which another charge is reached */
static const double LEAST = 600;    /* s of the slow clock before anything is called rest */
static const double APART = 1200;   /* s of it over which what never becomes even has to stay within ... */
static const double EVEN = 0.3;     /* ... so much of what does not matter */
static const double IDLE = 5;       /* W at the shaft */
enum { PER_WINDOW = 30, FEW = 10 }; /* rows of a window; of a mean */
static const double SURELY = 6e-3;  /* K/s; more than a place that is not quite the bottleneck can feign */
enum { MEASURED = 3 };              /* entries that measure a rate */
enum { STRIDE = 3 };                /* rows between samples of the slow rate */

/* When forecasts of the rest agree: how many, over how much of the slow clock [s], how nearly (of `near`), on
 * a way no slower [s] and no longer (of `near`). Beside a fold the forecast creeps by more than a kelvin in
 * such a span. */
static const struct agreement {
    int forecasts;
    double span, share, slowest, far;
    bool tries, settles; /* see swh_perturbation_beyond and swh_perturbation_settle */
    bool hasty;          /* what does no work and cools is taken to be at rest */
} agreement_table[] = {[SWH_REST_EXACT] = {3, 300, 0.6, 1050, 5, false, false, false},
                       [SWH_REST_TOLD] = {2, 250, 1, 800, 10, true, true, false},
                       [SWH_REST_VERDICT] = {2, 250, 1, 800, 10, true, false, true}};

struct sums {
    long rows, engaged_rows;
    double all[SWH_CHANNEL_COUNT], engaged[SWH_CHANNEL_COUNT];
};

/* rest without a cycling clutch: a smaller change from window to window */
static const struct still {
    enum swh_channel channel;
    double change;
} still_table[] = {{SWH_CH_rotor_temperature, 0.02},
                   {SWH_CH_block_temperature, 0.02},
                   {SWH_CH_oil_temperature, 0.02},
                   {SWH_CH_oil_mass, 1e-5},
                   {SWH_CH_cabin_temperature, 1}};

struct watch {
    struct swh_steady_help help; /* from NULL: started as the case says */
    const struct agreement *agreement;
    double earliest; /* before this time [s] nothing counts as rest */
    double end;      /* s, of the slow clock */
    double limit;    /* of the rotor's temperature [K] */
    bool stopped;    /* by us, because it came to rest */
    bool overheated; /* by us, at that limit */
    bool given_up;   /* by us, at the end of the slow clock's time */
    bool settling;   /* put where its rest is to be, after a perturbation */
    bool captured;   /* by a perturbation, below it */
    bool leaves;     /* as a perturbation has shown */
    bool measuring;  /* captured, but the rate at the bottleneck is wanted yet */
    bool foreseen;   /* the rest was forecast, not reached */
    bool cycling;    /* in the last entry of the slow means */
    struct swh_bottleneck measured;
    struct sums now, last, before;
    struct swh_cycles cycles;
    double *rotor; /* one value per row, rows while the clutch stayed in */
    size_t n, room;
};

/* ---- means of all channels ---- */

static void add(struct sums *s, const double *ch)
{
    const bool engaged = ch[SWH_CH_clutch] > 0.5;
    s->rows++;
    s->engaged_rows += engaged;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        s->all[i] += ch[i];
        if (engaged)
            s->engaged[i] += ch[i];
    }
}

static double mean_of(const struct sums *s, enum swh_channel channel)
{
    return s->rows ? s->all[channel] / (double)s->rows : NAN;
}

static void next_sums(struct watch *w)
{
    w->before = w->last;
    w->last = w->now;
    w->now = (struct sums){0};
}

/* ---- rest ---- */

static bool ended_by_us(const struct watch *w)
{
    return w->stopped || w->overheated || w->given_up;
}

/* any status ends the run */
static enum swh_status go_on(const struct watch *w)
{
    return ended_by_us(w) ? SWH_ERR_SOLVER : SWH_OK;
}

static bool moved_less(const struct watch *w)
{
    for (size_t i = 0; i < sizeof still_table / sizeof still_table[0]; i++) {
        const enum swh_channel channel = still_table[i].channel;
        if (!(fabs(mean_of(&w->last, channel) - mean_of(&w->before, channel)) < still_table[i].change))
            return false;
    }
    return true;
}

static bool at_rest(const struct watch *w)
{
    return w->cycling ? swh_slow_still(&w->cycles.slow, APART, EVEN) : moved_less(w);
}

static bool is_foreseen(const struct watch *w, int forecasts)
{
    const struct agreement *a = w->agreement;
    return swh_slow_foreseen(&w->cycles.slow, forecasts, a->span, a->share, a->slowest, a->far);
}

static bool only_cools(const struct watch *w)
{
    const struct swh_slow *s = &w->cycles.slow;
    for (int i = 0; i < SWH_CYCLES_SLOW; i++)
        if (swh_cycles_table[i].most == 8 && swh_cycles_table[i].channel >= 0 &&
            !(s->entries >= 2 && swh_slow_rate(s, i, 1) < 0 && swh_slow_rate(s, i, 2) < 0))
            return false;
    return !w->cycling;
}

/* With a cycling clutch every second is dear: once forecasts of the rest agree, it is known before it is
 * reached. So it is where no work is done, which cannot seize. */
static void judge(struct watch *w, double t)
{
    const bool idle = mean_of(&w->last, SWH_CH_shaft_power) < IDLE;
    const double slow_time = swh_cycles_time(&w->cycles, t);
    if (ended_by_us(w) || !(slow_time >= w->earliest + LEAST))
        return;
    w->foreseen = (w->cycling || idle) && is_foreseen(w, w->agreement->forecasts);
    w->stopped = w->foreseen || at_rest(w) || (idle && w->agreement->hasty && only_cools(w));
    w->given_up = !w->stopped && slow_time > w->end;
}

static void set_cycling(struct watch *w, bool cycling)
{
    if (cycling != w->cycling)
        swh_slow_clear(&w->cycles.slow);
    w->cycling = cycling;
}

/* a window without a change of the clutch: an entry of the slow means as one of cycles would be */
static void note_window(struct watch *w, double t)
{
    double mean[SWH_CYCLES_SLOW] = {0}, rate[SWH_CYCLES_SLOW] = {0};
    for (int i = 0; i < SWH_CYCLES_SLOW; i++) {
        if (swh_cycles_table[i].channel < 0)
            continue;
        const double last = mean_of(&w->last, (enum swh_channel)swh_cycles_table[i].channel),
                     before = mean_of(&w->before, (enum swh_channel)swh_cycles_table[i].channel);
        mean[i] = 0.5 * (before + last);
        rate[i] = (last - before) / WINDOW;
    }
    set_cycling(w, false);
    swh_slow_add(&w->cycles.slow, swh_cycles_time(&w->cycles, t - WINDOW), mean, rate);
    judge(w, t);
}

/* what was before the last change of the faults says nothing of the rest */
static void end_window(struct watch *w, double t)
{
    next_sums(w);
    w->overheated = mean_of(&w->last, SWH_CH_rotor_temperature) > w->limit; /* and no seizure all the while */
    if (t - 2 * WINDOW + INTERVAL >= w->earliest && t - QUIET >= w->cycles.last_change)
        note_window(w, t);
}

/* ---- what a run tells on its way ---- */

static enum swh_status take_engine(struct swh_engine *e, void *user, struct swh_error *err)
{
    struct watch *w = user;
    swh_cycles_start(&w->cycles, e, w->earliest, w->earliest + (w->help.from ? BRIEF : TRANSIENT));
    return w->help.from ? swh_engine_resume(e, w->help.from, err) : SWH_OK;
}

static enum swh_status note_step(struct swh_engine *e, double t, void *user, struct swh_error *err)
{
    (void)err, (void)e;
    struct watch *w = user;
    swh_cycles_step(&w->cycles, t);
    return SWH_OK;
}

/* of slow state i */
static double rest_of(const struct watch *w, int i)
{
    if (w->settling)
        return swh_slow_mean(&w->cycles.slow, i, 1);
    return w->captured ? swh_perturbation_rest(&w->cycles, i)
                       : swh_slow_limit(&w->cycles.slow, i, 1, w->agreement->slowest);
}

static void save_rest(const struct watch *w)
{
    swh_engine_save(w->cycles.e, w->help.to);
    for (int i = 0; i < SWH_CYCLES_SLOW && w->captured; i++)
        w->help.to->y[w->cycles.e->machine.l.scalar + (int)swh_cycles_table[i].state] +=
            rest_of(w, i) - swh_slow_mean(&w->cycles.slow, i, 1);
}

/* The machine is held below: its rest may have to be told more nearly, or the rate at the bottleneck. */
static void end_trapped(struct watch *w, double t)
{
    const struct swh_bottleneck *guess = w->help.guess;
    const bool narrow = w->cycles.perturbation.narrow;
    w->captured = true;
    w->settling = w->agreement->settles;
    w->measuring = !w->settling && !narrow && guess && guess->known;
    w->stopped = !w->settling && !w->measuring;
    if (narrow)
        w->measured = swh_perturbation_measured(&w->cycles);
    if (w->settling)
        swh_perturbation_settle(&w->cycles, t);
    if (w->measuring)
        swh_perturbation_measure(&w->cycles, t, guess);
}

/* It warms up at the bottleneck: lost if that is the place, and faster than what is not quite the place
 * can feign; else it goes on from there. */
static void end_warm(struct watch *w, double t)
{
    const struct swh_bottleneck measured = swh_perturbation_measured(&w->cycles);
    w->leaves = w->help.guess->sure && measured.rate > w->help.guess->least + SURELY;
    w->stopped = w->leaves;
    if (w->leaves)
        w->measured = measured;
    else
        swh_cycles_project(&w->cycles, t);
}

/* what the entries of a perturbation lead to */
static void end_perturbation(struct watch *w, double t)
{
    struct swh_cycles *c = &w->cycles;
    const enum swh_perturbation_verdict verdict = swh_perturbation_classify(c, t);
    if (w->measuring) {
        w->stopped = verdict != SWH_PERTURBATION_GOES_ON || c->perturbation.entries >= MEASURED;
        w->measured = swh_perturbation_measured(c);
    } else if (verdict == SWH_PERTURBATION_TRAPPED) {
        end_trapped(w, t);
    } else if (verdict == SWH_PERTURBATION_WARMS) {
        end_warm(w, t);
    } else if (verdict == SWH_PERTURBATION_FAILED) {
        swh_cycles_project(c, t);
    }
}

/* past the bottleneck, and warming up faster and faster */
static bool is_leaving(struct watch *w)
{
    w->leaves = swh_perturbation_leaves(&w->cycles, w->help.untimed);
    w->stopped = w->leaves;
    if (w->leaves)
        w->measured = swh_perturbation_passed(&w->cycles);
    return w->leaves;
}

static bool tries(struct watch *w, double t)
{
    const struct swh_bottleneck *guess = w->help.guess;
    if (!w->agreement->tries)
        return false;
    if (w->cycles.pass.from_perturbation || (w->help.rough && swh_perturbation_is_slow(&w->cycles)))
        return false;
    if (w->help.from && !w->help.rough &&
        !swh_perturbation_is_alone(&w->cycles)) /* the neighbour's oil and cabin yet */
        return false;
    if (guess && swh_perturbation_at(&w->cycles, t, guess))
        return true;
    return (!guess || !guess->known || w->cycles.perturbation.count == 0) &&
           swh_perturbation_beyond(&w->cycles, t);
}

static bool is_clear_in_place(struct watch *w)
{
    if (!w->help.in_place || !w->help.from)
        return false;
    const enum swh_perturbation_verdict verdict = swh_perturbation_in_place(&w->cycles);
    w->leaves = verdict == SWH_PERTURBATION_WARMS;
    w->stopped = w->leaves || verdict == SWH_PERTURBATION_TRAPPED;
    return w->stopped;
}

/* What an entry of cycles leads to. Once two forecasts agree the third is soonest had by going on. */
static void move_on(struct watch *w, double t)
{
    struct swh_cycles *c = &w->cycles;
    const int enough = w->agreement->forecasts;
    if (w->settling) {
        w->stopped = true;
        return;
    }
    if (c->perturbation.on) {
        end_perturbation(w, t);
        return;
    }
    if (is_leaving(w) || is_clear_in_place(w))
        return;
    judge(w, t);
    w->stopped = w->stopped || (w->help.rough && swh_perturbation_is_slow(c) && swh_perturbation_is_alone(c));
    if (ended_by_us(w) || (enough > 2 && is_foreseen(w, enough - 1)))
        return;
    if (!tries(w, t))
        swh_cycles_project(c, t);
}

/* The clutch that comes in at the start ends no cycle. */
static enum swh_status note_clutch(const struct swh_event_record *event, void *user, struct swh_error *err)
{
    (void)err;
    struct watch *w = user;
    const bool in = event->event == SWH_EV_clutch_on;
    if ((!in && event->event != SWH_EV_clutch_off) || event->time == 0)
        return SWH_OK;
    if (in && event->time >= w->cycles.begin)
        set_cycling(w, true);
    if (!swh_cycles_clutch(&w->cycles, event->time, in))
        return go_on(w);
    if (w->now.rows >= FEW)
        next_sums(w);
    move_on(w, event->time);
    if (w->stopped && !w->leaves && w->help.to)
        save_rest(w);
    return go_on(w);
}

static enum swh_status keep_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    struct watch *w = user;
    const double *ch = row->value;
    if (ch[SWH_CH_clutch] < 0.5)
        w->n = 0;
    else if (w->n < w->room)
        w->rotor[w->n++] = ch[SWH_CH_rotor_temperature];
    add(&w->now, ch);
    if (w->now.rows == PER_WINDOW)
        end_window(w, ch[SWH_CH_time]);
    return go_on(w);
}

/* when the last fault has stopped changing */
static double last_change(const struct swh_case *c)
{
    double last = 0;
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        const struct swh_fault_setting *f = &c->fault[i];
        if (!f->present)
            continue;
        if (isfinite(f->start))
            last = fmax(last, f->start + fmax(f->ramp, 30.0));
        if (isfinite(f->end))
            last = fmax(last, f->end);
    }
    for (double t = swh_moving_params_next(c, last); isfinite(t); t = swh_moving_params_next(c, t))
        last = t;
    return last;
}

static void fill_means(const struct sums *s, struct swh_steady *out)
{
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        out->mean[i] = s->rows ? s->all[i] / (double)s->rows : NAN;
        out->engaged[i] = s->engaged_rows ? s->engaged[i] / (double)s->engaged_rows : NAN;
    }
    out->cycling = s->engaged_rows > 0 && s->engaged_rows < s->rows;
}

/* puts the forecast in the place of what was reached */
static void foresee_means(const struct watch *w, struct swh_steady *out)
{
    for (int i = 0; i < SWH_CYCLES_SLOW; i++) {
        const int channel = swh_cycles_table[i].channel;
        if (channel < 0)
            continue;
        const double way_left = rest_of(w, i) - out->mean[channel];
        out->mean[channel] += way_left;
        out->engaged[channel] += way_left;
    }
}

static double slow_rate(const struct watch *w)
{
    const size_t n = w->n / STRIDE, first = w->n - n * STRIDE;
    double *every = w->rotor; /* thinned in place: the samples are not needed again */
    for (size_t k = 0; k < n; k++)
        every[k] = w->rotor[first + (k + 1) * STRIDE - 1];
    return swh_growth_rate(every, n, STRIDE * INTERVAL, 1.5, 2e-3);
}

static void fill(const struct watch *w, enum swh_status status, const struct swh_summary *summary, bool quiet,
                 struct swh_steady *out)
{
    const struct sums *whole = w->last.rows ? &w->last : &w->now;
    fill_means(whole, out);
    if (w->foreseen || w->captured)
        foresee_means(w, out);
    out->overheated = w->overheated || summary->outcome == SWH_OVERHEATED;
    out->leaves = w->leaves;
    out->settled = (w->stopped && !w->leaves) || (quiet && status == SWH_OK && at_rest(w));
    out->time = swh_cycles_time(&w->cycles, summary->end_time);
    out->to_seizure = swh_cycles_time(&w->cycles, summary->time_to_seizure);
    out->to_loss = out->overheated ? out->time : out->to_seizure;
    out->cause = summary->cause;
    out->growth = w->cycling || out->cycling || isfinite(out->to_loss) ? NAN : slow_rate(w);
    out->result = status == SWH_OK || ended_by_us(w) ? (enum swh_case_result)summary->outcome
                  : status == SWH_ERR_INPUT          ? SWH_CASE_IMPOSSIBLE
                                                     : SWH_CASE_INCOMPLETE;
}

static enum swh_status follow(const struct swh_case *c, double earliest, double horizon, struct watch *w,
                              struct swh_summary *summary, struct swh_steady *out, struct swh_error *err)
{
    w->earliest = earliest;
    w->end = isfinite(earliest) ? earliest + horizon : INFINITY;
    const struct swh_sinks sinks = {.row = keep_row, .event = note_clutch, .user = w};
    const struct swh_run_hooks watch = {take_engine, note_step, w};
    struct swh_error inside = {0};
    const enum swh_status status = swh_run_with_hooks(c, &sinks, &watch, summary, &inside);
    fill(w, status, summary, isfinite(earliest), out);
    if (status == SWH_OK || ended_by_us(w) || out->overheated)
        return SWH_OK;
    if (err && err->status == SWH_OK)
        *err = inside;
    return status;
}

/* refrigerant that a case has once its faults have stopped changing [kg] */
static double last_charge(const struct swh_case *c)
{
    struct swh_params p = c->params;
    double lost = 0;
    for (int i = SWH_FAULT_undercharge; i <= SWH_FAULT_overcharge; i++) {
        const struct swh_fault_setting *f = &c->fault[i];
        if (f->present && isfinite(f->start))
            lost += (i == SWH_FAULT_undercharge ? 1 : -1) * f->severity * p.charge_nominal;
        else if (f->present)
            swh_fault_apply(&p, (enum swh_fault)i, f->severity);
    }
    return p.charge_nominal * p.charge_fraction - lost;
}

/* Makes a case go on from a state at work: what its faults have come to is there from the beginning, but
 * charge is let out or filled in until it is what the case asks for. */
static void begin_at_work(struct swh_case *c, const struct swh_engine_state *from)
{
    const double missing = (from->charge - last_charge(c)) / c->params.charge_nominal;
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        struct swh_fault_setting *f = &c->fault[i];
        f->present =
            f->present && !isfinite(f->end) && i != SWH_FAULT_undercharge && i != SWH_FAULT_overcharge;
        f->start = -INFINITY;
        f->ramp = 0;
    }
    for (int i = 0; i < c->n_own_faults; i++) {
        struct swh_fault_setting *f = &c->own_fault[i].setting;
        if (isfinite(f->end))
            f->severity = 0;
        f->start = -INFINITY;
        f->ramp = 0;
    }
    if (fabs(missing) < 1e-9)
        return;
    c->fault[missing > 0 ? SWH_FAULT_undercharge : SWH_FAULT_overcharge] =
        (struct swh_fault_setting){true, fabs(missing), 0, LEAK_TIME, INFINITY};
}

static enum swh_status run_case(struct swh_case *own, double horizon, struct watch *w, struct swh_steady *out,
                                struct swh_error *err)
{
    const bool scheduled = own->schedule.rows > 0;
    if (w->help.from)
        begin_at_work(own, w->help.from);
    const double quiet_from = last_change(own);
    own->choices.controls_after_seizure = 0;
    own->params.run_output_interval = INTERVAL;
    if (!scheduled)
        own->params.run_duration = quiet_from + horizon;
    w->limit = own->params.friction_weld_temperature;
    w->room = (size_t)(own->params.run_duration / INTERVAL) + 8;
    w->rotor = malloc(w->room * sizeof *w->rotor);
    struct swh_summary *summary = calloc(1, sizeof *summary);
    const enum swh_status status =
        w->rotor && summary ? follow(own, scheduled ? INFINITY : quiet_from, horizon, w, summary, out, err)
                            : swh_error_set(err, SWH_ERR_MEMORY, "no memory to follow a case");
    free(summary);
    free(w->rotor);
    return status;
}

/* how a search is helped: only what can be used */
static struct swh_steady_help usable(const struct swh_case *c, const struct swh_steady_help *help)
{
    struct swh_steady_help h = help ? *help : (struct swh_steady_help){0};
    if (!h.from || !h.from->known || !(h.from->oil > 0) || c->schedule.rows > 0)
        h.from = NULL;
    if (h.to) {
        h.to->known = false;
        h.to->charge = last_charge(c);
    }
    return h;
}

enum swh_status swh_steady_run_from(const struct swh_case *c, double horizon, enum swh_steady_grade grade,
                                    const struct swh_steady_help *help, struct swh_steady *out,
                                    struct swh_error *err)
{
    *out = (struct swh_steady){.result = SWH_CASE_INCOMPLETE, .cause = SWH_SEIZURE_COUNT};
    struct swh_case own = *c; /* the schedule is shared: it is only read */
    struct watch *w = calloc(1, sizeof *w);
    if (!w)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory to follow a case");
    w->help = usable(c, help);
    w->agreement = &agreement_table[grade];
    enum swh_status status = run_case(&own, horizon, w, out, err);
    const bool by_perturbation = w->cycles.perturbation.on || w->captured;
    if (status == SWH_OK && isfinite(out->to_loss) && by_perturbation) { /* says nothing of the case */
        struct agreement patient = *w->agreement;
        struct swh_steady_help less = w->help;
        patient.tries = w->measuring;
        less.guess = NULL;
        *w = (struct watch){.help = less, .agreement = &patient};
        own = *c;
        status = run_case(&own, horizon, w, out, err);
    }
    if (w->help.low)
        *w->help.low = w->cycles.pass.low;
    if (w->help.narrow)
        *w->help.narrow =
            w->measured.known || !isfinite(out->to_loss) ? w->measured : swh_perturbation_passed(&w->cycles);
    free(w);
    return status;
}

enum swh_status swh_steady_run(const struct swh_case *c, double horizon, struct swh_steady *out,
                               struct swh_error *err)
{
    return swh_steady_run_from(c, horizon, SWH_REST_EXACT, NULL, out, err);
}
