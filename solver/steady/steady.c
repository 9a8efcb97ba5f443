#include "solver/steady/steady.h"

#include "solver/simulate/moving_params.h"
#include "solver/steady/cycles.h"
#include "solver/steady/fold.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double WINDOW = 300, INTERVAL = 10; /* s */
static const double TRANSIENT = 300;             /* s at the start, without projections */
static const double QUIET = 900;    /* s without a change of the clutch that are no pause of a cycle */
static const double LEAST = 600;    /* s of the slow clock before anything is called rest */
static const double APART = 1200;   /* s of it over which what never becomes even has to stay within ... */
static const double EVEN = 0.3;     /* ... so much of what does not matter */
static const double IDLE = 5;       /* W at the shaft */
enum { PER_WINDOW = 30, FEW = 10 }; /* rows of a window; of a mean */
enum { STRIDE = 3 };                /* rows between samples of the slow rate */

/* When forecasts of the rest agree: how many, over how much of the slow clock [s], how nearly (of `near`), on
 * a way no slower [s] and no longer (of `near`). Beside a fold the forecast creeps by more than a kelvin in
 * such a span. */
static const struct agreement {
    int forecasts;
    double span, share, slowest, far;
    bool hasty; /* what does no work and cools is taken to be at rest */
} agreement_table[] = {
    [SWH_REST_EXACT] = {3, 300, 0.6, 1050, 5, false}, [SWH_REST_VERDICT] = {2, 250, 1, 800, 10, true}};

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
    const struct agreement *agreement;
    double earliest; /* before this time [s] nothing counts as rest */
    double end;      /* s, of the slow clock */
    double limit;    /* of the rotor's temperature [K] */
    bool stopped;    /* by us, because it came to rest */
    bool overheated; /* by us, at that limit */
    bool given_up;   /* by us, at the end of the slow clock's time */
    bool foreseen;   /* the rest was forecast, not reached */
    bool cycling;    /* in the last entry of the slow means */
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
    (void)err;
    swh_cycles_start(&w->cycles, e, w->earliest, w->earliest + TRANSIENT);
    return SWH_OK;
}

static enum swh_status note_step(struct swh_engine *e, double t, void *user, struct swh_error *err)
{
    (void)err, (void)e;
    struct watch *w = user;
    swh_cycles_step(&w->cycles, t);
    return SWH_OK;
}

/* What an entry of cycles leads to. Once two forecasts agree the third is soonest had by going on. */
static void move_on(struct watch *w, double t)
{
    const int enough = w->agreement->forecasts;
    judge(w, t);
    if (!ended_by_us(w) && !(enough > 2 && is_foreseen(w, enough - 1)))
        swh_cycles_project(&w->cycles, t);
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
        const double rest = swh_slow_limit(&w->cycles.slow, i, 1, w->agreement->slowest);
        const double way_left = rest - out->mean[channel];
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

/* the switch that opened most */
static enum swh_event most_pauses(const struct swh_summary *summary)
{
    static const enum swh_event opens[] = {SWH_EV_low_pressure_open, SWH_EV_frost_open,
                                           SWH_EV_high_pressure_open};
    enum swh_event most = SWH_EVENT_COUNT;
    long count = 0;
    for (size_t i = 0; i < sizeof opens / sizeof opens[0]; i++)
        if (summary->event_count[opens[i]] > count) {
            count = summary->event_count[opens[i]];
            most = opens[i];
        }
    return most;
}

static void fill(const struct watch *w, enum swh_status status, const struct swh_summary *summary, bool quiet,
                 struct swh_steady *out)
{
    const struct sums *whole = w->last.rows ? &w->last : &w->now;
    fill_means(whole, out);
    if (w->foreseen)
        foresee_means(w, out);
    out->overheated = w->overheated || summary->outcome == SWH_OVERHEATED;
    out->settled = w->stopped || (quiet && status == SWH_OK && at_rest(w));
    out->time = swh_cycles_time(&w->cycles, summary->end_time);
    out->to_seizure = swh_cycles_time(&w->cycles, summary->time_to_seizure);
    out->to_loss = out->overheated ? out->time : out->to_seizure;
    out->cause = summary->cause;
    out->quiet = summary->end_time - fmax(w->cycles.last_change, 0);
    out->pauses = most_pauses(summary);
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

static enum swh_status run_case(struct swh_case *own, double horizon, struct watch *w, struct swh_steady *out,
                                struct swh_error *err)
{
    const bool scheduled = own->schedule.rows > 0;
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

enum swh_status swh_steady_run_to(const struct swh_case *c, double horizon, enum swh_steady_grade grade,
                                  struct swh_steady *out, struct swh_error *err)
{
    *out = (struct swh_steady){.result = SWH_CASE_INCOMPLETE, .pauses = SWH_EVENT_COUNT};
    struct swh_case own = *c; /* the schedule is shared: it is only read */
    struct watch *w = calloc(1, sizeof *w);
    if (!w)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory to follow a case");
    w->agreement = &agreement_table[grade];
    const enum swh_status status = run_case(&own, horizon, w, out, err);
    free(w);
    return status;
}

enum swh_status swh_steady_run(const struct swh_case *c, double horizon, struct swh_steady *out,
                               struct swh_error *err)
{
    return swh_steady_run_to(c, horizon, SWH_REST_EXACT, out, err);
}
