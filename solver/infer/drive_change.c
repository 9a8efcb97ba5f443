#include "solver/infer/drive_change.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const struct swh_drive_change swh_drive_as_read = {.gap_place = 0.5};
static const double BESIDE = 0.02; /* s between the rows of an edge that is put in */
static const double LONG_GAP = 60; /* s */
static const double RAMP = 0.25;   /* of a gap */
enum { STEPS = 4096 };

static double time_of(const struct swh_log_memory *m, size_t i)
{
    return m->row[i].value[SWH_CH_time];
}

/* ---- gaps ---- */

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double swh_log_gap(const struct swh_log_memory *log)
{
    double step[STEPS];
    size_t n = 0;
    const size_t every = 1 + log->rows / STEPS;
    for (size_t i = 1; i < log->rows && n < STEPS; i += every)
        step[n++] = time_of(log, i) - time_of(log, i - 1);
    if (n == 0)
        return INFINITY;
    qsort(step, n, sizeof *step, ascending);
    return fmax(3 * step[n / 2], 10);
}

/* a value between two rows; NaN if one of them is blank */
static double between(const struct swh_log_row *a, const struct swh_log_row *b, int channel, double w)
{
    return a->value[channel] + w * (b->value[channel] - a->value[channel]);
}

struct maker {
    struct swh_log_memory *to;
    const struct swh_log_memory *from;
    const bool *drives;
    const struct swh_drive_change *change;
    double mean[SWH_CHANNEL_COUNT];
    struct swh_error *err;
};

static enum swh_status put(struct maker *m, const struct swh_log_row *values, double t, double clutch)
{
    struct swh_log_row row;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        row.value[i] = m->drives[i] ? values->value[i] : NAN;
    row.value[SWH_CH_time] = t;
    if (!isnan(clutch))
        row.value[SWH_CH_clutch] = clutch;
    return swh_log_memory_add(m->to, &row, 0, m->err);
}

/* Rows within the gap between two rows: as before it, then as behind it. */
static enum swh_status cross_gap(struct maker *m, const struct swh_log_row *a, const struct swh_log_row *b)
{
    const double t = a->value[SWH_CH_time], gap = b->value[SWH_CH_time] - t;
    const double begins = t + gap * (0.01 + (0.98 - RAMP) * m->change->gap_place);
    const bool usual = m->change->gap_usual && gap >= LONG_GAP;
    struct swh_log_row middle;
    memcpy(middle.value, m->mean, sizeof middle.value);
    middle.value[SWH_CH_clutch] = a->value[SWH_CH_clutch];
    enum swh_status status = put(m, a, usual ? t + 0.05 * gap : begins, NAN);
    if (status == SWH_OK && usual)
        status = put(m, &middle, t + 0.2 * gap, NAN);
    if (status == SWH_OK && usual)
        status = put(m, &middle, t + 0.8 * gap, NAN);
    return status == SWH_OK ? put(m, b, usual ? t + 0.95 * gap : begins + RAMP * gap, NAN) : status;
}

/* ---- edges of the clutch ---- */

static bool engaged(const struct swh_log_row *row)
{
    return row->value[SWH_CH_clutch] >= 0.5;
}

static bool is_edge(const struct swh_log_memory *log, size_t i)
{
    return i > 0 && isfinite(log->row[i].value[SWH_CH_clutch]) &&
           isfinite(log->row[i - 1].value[SWH_CH_clutch]) &&
           engaged(&log->row[i]) != engaged(&log->row[i - 1]);
}

/* the edge before row i as the replay takes it: in the middle */
static double edge_time(const struct swh_log_memory *log, size_t i)
{
    return 0.5 * (time_of(log, i) + time_of(log, i - 1));
}

static size_t next_edge(const struct swh_log_memory *log, size_t i)
{
    while (i < log->rows && !is_edge(log, i))
        i++;
    return i;
}

/* Where the edge before row i is moved to. */
static double moved_edge(const struct maker *m, size_t i)
{
    const struct swh_log_memory *log = m->from;
    const double at = edge_time(log, i);
    const size_t next = next_edge(log, i + 1);
    const double end = next < log->rows ? edge_time(log, next) : time_of(log, log->rows - 1);
    const double by = engaged(&log->row[i]) ? m->change->engage_later : m->change->release_later;
    double before = time_of(log, 0);
    for (size_t k = i - 1; k > 0; k--)
        if (is_edge(log, k)) {
            before = edge_time(log, k);
            break;
        }
    return fmin(fmax(at + by, at - (at - before) / 3), at + (end - at) / 3);
}

/* the two rows of an edge at t, before row k, with readings interpolated in the log */
static enum swh_status put_edge(struct maker *m, size_t k, double t, double before, double after)
{
    const struct swh_log_memory *log = m->from;
    const double w = (t - time_of(log, k - 1)) / (time_of(log, k) - time_of(log, k - 1));
    struct swh_log_row row;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        row.value[i] = between(&log->row[k - 1], &log->row[k], i, w);
    const enum swh_status status = put(m, &row, t - 0.5 * BESIDE, before);
    return status == SWH_OK ? put(m, &row, t + 0.5 * BESIDE, after) : status;
}

/* ---- all rows ---- */

static bool moves_edges(const struct swh_drive_change *c)
{
    return c->engage_later != 0 || c->release_later != 0;
}

/* Copies the log's rows with edges moved: what lies between an edge and where it is moved to keeps or takes
 * the other state. */
static enum swh_status copy_rows(struct maker *m)
{
    const struct swh_log_memory *log = m->from;
    const double gap = swh_log_gap(log);
    size_t edge = moves_edges(m->change) ? next_edge(log, 1) : log->rows;
    double at = edge < log->rows ? moved_edge(m, edge) : INFINITY;
    double state = log->row[0].value[SWH_CH_clutch];
    enum swh_status status = SWH_OK;
    for (size_t i = 0; i < log->rows && status == SWH_OK; i++) {
        while (i > 0 && at < time_of(log, i) && status == SWH_OK) {
            const double after = log->row[edge].value[SWH_CH_clutch];
            status = put_edge(m, i, at, state, after);
            state = after;
            edge = next_edge(log, edge + 1);
            at = edge < log->rows ? moved_edge(m, edge) : INFINITY;
        }
        const bool both = moves_edges(m->change) && is_edge(log, i);
        if (status == SWH_OK && i > 0 && time_of(log, i) - time_of(log, i - 1) > gap && !both)
            status = cross_gap(m, &log->row[i - 1], &log->row[i]);
        struct swh_log_row row = log->row[i];
        if (moves_edges(m->change) && isfinite(row.value[SWH_CH_clutch]))
            row.value[SWH_CH_clutch] = state;
        const double last = m->to->rows > 0 ? time_of(m->to, m->to->rows - 1) : -INFINITY;
        if (status == SWH_OK && time_of(log, i) > last + 1e-3)
            status = swh_log_memory_add(m->to, &row, 0, m->err);
    }
    return status;
}

enum swh_status swh_drive_change(struct swh_log_memory *to, const struct swh_log_memory *from,
                                 const bool drives[SWH_CHANNEL_COUNT], const struct swh_drive_change *change,
                                 struct swh_error *err)
{
    memset(to, 0, sizeof *to);
    struct maker m = {.to = to, .from = from, .drives = drives, .change = change, .err = err};
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        m.mean[i] = swh_log_channel_facts(from, (enum swh_channel)i).mean;
    return copy_rows(&m);
}

struct swh_drive_facts swh_drive_facts(const struct swh_log_memory *log)
{
    struct swh_drive_facts f = {0};
    double on[STEPS], gap = swh_log_gap(log), last = NAN;
    int n = 0;
    for (size_t i = 1; i < log->rows; i++) {
        const double step = time_of(log, i) - time_of(log, i - 1);
        f.gaps += step > gap;
        f.long_gaps += step > gap && step >= LONG_GAP;
        f.longest_gap = step > gap ? fmax(f.longest_gap, step) : f.longest_gap;
        if (!is_edge(log, i))
            continue;
        f.between = fmax(f.between, step > gap ? 0 : step);
        f.restarts += engaged(&log->row[i]) && edge_time(log, i) - last >= 3;
        if (!engaged(&log->row[i]) && isfinite(last) && n < STEPS)
            on[n++] = edge_time(log, i) - last;
        last = edge_time(log, i);
    }
    if (n > 0)
        qsort(on, (size_t)n, sizeof *on, ascending);
    f.shortest_on = n > 0 ? on[n / 2] : INFINITY;
    return f;
}
