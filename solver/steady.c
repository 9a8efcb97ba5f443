#include "solver/steady.h"

#include "solver/fold.h"

#include <math.h>
#include <stdlib.h>

static const double WINDOW = 300, INTERVAL = 10; /* s */
enum { PER_WINDOW = 30, STRIDE = 3 };            /* rows of a window; rows between samples of the slow rate */
enum { SLOW = 5, HISTORY = 8 };                  /* slow quantities; windows remembered of each */
enum { FORESEEN = 5 };                           /* windows before a rest is forecast */
static const double STEADILY = 0.75, NEARLY = 15;

struct sums {
    long rows, engaged_rows;
    double all[SWH_CHANNEL_COUNT], engaged[SWH_CHANNEL_COUNT];
};

struct watch {
    double earliest; /* before this time [s] nothing counts as rest */
    double limit;    /* of the rotor's temperature [K] */
    bool stopped;    /* by us, because it came to rest */
    bool overheated; /* by us, at that limit */
    bool foreseen;   /* the rest was forecast, not reached */
    struct sums now, last, before;
    double history[HISTORY][SLOW]; /* means of the last windows, the newest at `windows` - 1, in a ring */
    long windows;
    double *rotor; /* one value per row, rows while the clutch stayed in */
    size_t n, room;
};

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

static const struct slow {
    enum swh_channel channel;
    double still; /* a smaller change from window to window is rest */
    double near;  /* forecasts of the rest this near to each other agree */
} slow_table[SLOW] = {
    {SWH_CH_rotor_temperature, 0.02, 0.3},
    {SWH_CH_block_temperature, 0.02, 0.3},
    {SWH_CH_oil_temperature, 0.02, 0.3},
    {SWH_CH_oil_mass, 1e-5, 3e-4},
    {SWH_CH_cabin_temperature, 1, 0.3}}; /* slow to settle, and may change how the clutch cycles */

static void remember(struct watch *w)
{
    for (int i = 0; i < SLOW; i++)
        w->history[w->windows % HISTORY][i] = mean_of(&w->last, slow_table[i].channel);
    w->windows++;
}

/* mean of the k-th window back, 1: the last */
static double back(const struct watch *w, int i, int k)
{
    return w->history[(w->windows - k) % HISTORY][i];
}

static bool is_cycling(const struct watch *w)
{
    return w->last.engaged_rows < w->last.rows;
}

/* change from the windows `half` .. 2 half - 1 back to the last `half` ones */
static double change(const struct watch *w, int i, int half)
{
    double sum = 0;
    for (int k = 1; k <= 2 * half; k++)
        sum += (k <= half ? 1 : -1) * back(w, i, k);
    return sum / half;
}

/* A cycling clutch leaves no whole number of cycles in a window: four together are compared, fifteen times as
 * loosely. */
static bool at_rest(const struct watch *w)
{
    const bool cycling = is_cycling(w);
    const int half = cycling ? HISTORY / 2 : 1;
    if (w->windows < 2 * half)
        return false;
    for (int i = 0; i < SLOW; i++)
        if (!(fabs(change(w, i, half)) < slow_table[i].still * (cycling ? 15 : 1)))
            return false;
    return true;
}

/* Where the windows k+2, k+1, k back are heading if their differences go on shrinking as they do (Aitken
 * 1926); NaN unless they shrink by a quarter or more from one to the next, which rules out the crawl beside a
 * fold. What hardly moves is taken as it is. */
static double heading_for(const struct watch *w, int i, int k)
{
    const double a = back(w, i, k + 2), b = back(w, i, k + 1), c = back(w, i, k);
    if (fabs(b - a) < slow_table[i].near && fabs(c - b) < slow_table[i].near)
        return c;
    const double ratio = (c - b) / (b - a);
    return ratio >= 0 && ratio <= STEADILY ? c + (c - b) * ratio / (1 - ratio) : NAN;
}

/* With a cycling clutch every second is dear. Once two forecasts of the rest in a row agree and little of the
 * way is left, the rest is known before it is reached. */
static bool rest_in_sight(const struct watch *w)
{
    if (!is_cycling(w) || w->windows < FORESEEN)
        return false;
    for (int i = 0; i < SLOW; i++) {
        const double now = heading_for(w, i, 1), before = heading_for(w, i, 2);
        const double near = slow_table[i].near;
        if (!(fabs(now - before) < near && fabs(now - back(w, i, 1)) < NEARLY * near))
            return false;
    }
    return true;
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
    if (w->now.rows < PER_WINDOW)
        return SWH_OK;
    w->before = w->last;
    w->last = w->now;
    w->now = (struct sums){0};
    remember(w);
    w->overheated = mean_of(&w->last, SWH_CH_rotor_temperature) > w->limit; /* and no seizure for a window */
    if (w->overheated)
        return SWH_ERR_SOLVER;
    if (ch[SWH_CH_time] - WINDOW + INTERVAL <
        w->earliest) /* what was before the last change says nothing of the rest */
        w->windows = 0;
    if (ch[SWH_CH_time] >= w->earliest + 2 * WINDOW && !w->stopped) {
        w->foreseen = rest_in_sight(w);
        w->stopped = w->foreseen || at_rest(w);
    }
    return w->stopped ? SWH_ERR_SOLVER : SWH_OK; /* any status ends the run; `stopped` tells ours */
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
    return last;
}

static void fill_means(const struct sums *s, struct swh_rest *out)
{
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        out->mean[i] = s->rows ? s->all[i] / (double)s->rows : NAN;
        out->engaged[i] = s->engaged_rows ? s->engaged[i] / (double)s->engaged_rows : NAN;
    }
    out->cycling = s->engaged_rows > 0 && s->engaged_rows < s->rows;
}

/* puts the forecast in the place of what was reached */
static void foresee_means(const struct watch *w, struct swh_rest *out)
{
    for (int i = 0; i < SLOW; i++) {
        const enum swh_channel channel = slow_table[i].channel;
        const double way_left = heading_for(w, i, 1) - out->mean[channel];
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
                 struct swh_rest *out)
{
    const struct sums *whole = w->last.rows ? &w->last : &w->now;
    fill_means(whole, out);
    if (w->foreseen)
        foresee_means(w, out);
    out->overheated = w->overheated || summary->too_hot;
    out->settled = w->stopped || (quiet && status == SWH_OK && at_rest(w));
    out->time = summary->end_time;
    out->to_seizure = summary->time_to_seizure;
    out->to_loss = out->overheated ? out->time : out->to_seizure;
    out->drift =
        (mean_of(&w->last, SWH_CH_rotor_temperature) - mean_of(&w->before, SWH_CH_rotor_temperature)) /
        WINDOW;
    out->growth = out->cycling || isfinite(out->to_loss) ? NAN : slow_rate(w);
    out->result = status == SWH_OK || w->stopped ? (enum swh_case_result)summary->outcome
                  : status == SWH_ERR_INPUT      ? SWH_CASE_IMPOSSIBLE
                                                 : SWH_CASE_INCOMPLETE;
}

static enum swh_status follow(const struct swh_case *c, double earliest, struct watch *w,
                              struct swh_summary *summary, struct swh_rest *out, struct swh_error *err)
{
    w->earliest = earliest;
    const struct swh_sinks sinks = {.row = keep_row, .user = w};
    struct swh_error inside = {0};
    const enum swh_status status = swh_run(c, &sinks, summary, &inside);
    fill(w, status, summary, isfinite(earliest), out);
    if (status == SWH_OK || w->stopped || out->overheated)
        return SWH_OK;
    if (err && err->status == SWH_OK)
        *err = inside;
    return status;
}

enum swh_status swh_rest_run(const struct swh_case *c, double horizon, struct swh_rest *out,
                             struct swh_error *err)
{
    *out = (struct swh_rest){.result = SWH_CASE_INCOMPLETE};
    struct swh_case own = *c; /* the schedule is shared: it is only read */
    const bool scheduled = c->schedule.rows > 0;
    const double quiet_from = last_change(c);
    own.choices.controls_after_seizure = 0;
    own.params.run_output_interval = INTERVAL;
    if (!scheduled)
        own.params.run_duration = quiet_from + horizon;
    struct watch *w = calloc(1, sizeof *w);
    struct swh_summary *summary = calloc(1, sizeof *summary);
    const size_t room = (size_t)(own.params.run_duration / INTERVAL) + 8;
    double *rotor = malloc(room * sizeof *rotor);
    enum swh_status status = SWH_ERR_MEMORY;
    if (w && summary && rotor) {
        w->limit = own.params.friction_weld_temperature;
        w->rotor = rotor;
        w->room = room;
        status = follow(&own, scheduled ? INFINITY : quiet_from, w, summary, out, err);
    } else
        swh_error_set(err, SWH_ERR_MEMORY, "no memory to follow a case");
    free(rotor);
    free(summary);
    free(w);
    return status;
}
