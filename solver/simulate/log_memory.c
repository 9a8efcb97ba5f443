#include "solver/simulate/log_memory.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static bool clutch_changes(const struct swh_log_row *a, const struct swh_log_row *b)
{
    const double x = a->value[SWH_CH_clutch], y = b->value[SWH_CH_clutch];
    return isfinite(x) && isfinite(y) && (x >= 0.5) != (y >= 0.5);
}

static enum swh_status grow(struct swh_log_memory *m, struct swh_error *err)
{
    if (m->rows < m->capacity)
        return SWH_OK;
    const size_t capacity = m->capacity ? 2 * m->capacity : 1024;
    struct swh_log_row *row = realloc(m->row, capacity * sizeof *row);
    if (!row)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a log of %zu rows", capacity);
    m->row = row;
    m->capacity = capacity;
    return SWH_OK;
}

enum swh_status swh_log_memory_add(struct swh_log_memory *m, const struct swh_log_row *row, double spacing,
                                   struct swh_error *err)
{
    if (m->rows > 0) {
        const struct swh_log_row *last = &m->row[m->rows - 1];
        const double step = row->value[SWH_CH_time] - last->value[SWH_CH_time];
        if (step < spacing - 1e-6 && !clutch_changes(last, row))
            return SWH_OK;
    }
    const enum swh_status status = grow(m, err);
    if (status != SWH_OK)
        return status;
    m->row[m->rows++] = *row;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        m->has[i] |= !isnan(row->value[i]);
    return SWH_OK;
}

/* mean of rows [a, b) */
static struct swh_log_row mean_row(const struct swh_log_memory *m, size_t a, size_t b)
{
    struct swh_log_row out;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        double sum = 0;
        int n = 0;
        for (size_t k = a; k < b; k++)
            if (!isnan(m->row[k].value[i])) {
                sum += m->row[k].value[i];
                n++;
            }
        out.value[i] = n ? sum / n : NAN;
    }
    return out;
}

enum swh_status swh_log_memory_average(struct swh_log_memory *to, const struct swh_log_memory *from,
                                       double span, struct swh_error *err)
{
    memset(to, 0, sizeof *to);
    enum swh_status status = SWH_OK;
    for (size_t a = 0; a < from->rows && status == SWH_OK;) {
        size_t b = a + 1;
        const double t0 = from->row[a].value[SWH_CH_time];
        const bool edge = a == 0 || clutch_changes(&from->row[a - 1], &from->row[a]);
        while (!edge && b < from->rows && from->row[b].value[SWH_CH_time] < t0 + span - 1e-9 &&
               !clutch_changes(&from->row[b - 1], &from->row[b]))
            b++;
        if (b < from->rows && b > a + 1 && clutch_changes(&from->row[b - 1], &from->row[b]))
            b--; /* the last row before an edge stays by itself, so that the edge keeps its place */
        const struct swh_log_row row = mean_row(from, a, b);
        status = swh_log_memory_add(to, &row, 0, err);
        a = b;
    }
    return status;
}

double swh_log_memory_thin(struct swh_log_memory *m)
{
    for (size_t i = 0; 2 * i < m->rows; i++)
        m->row[i] = m->row[2 * i];
    m->rows = (m->rows + 1) / 2;
    return m->rows < 2 ? 0 : swh_log_memory_span(m) / (double)(m->rows - 1);
}

void swh_log_memory_free(struct swh_log_memory *m)
{
    free(m->row);
    memset(m, 0, sizeof *m);
}

double swh_log_memory_span(const struct swh_log_memory *m)
{
    return m->rows < 2 ? 0 : m->row[m->rows - 1].value[SWH_CH_time] - m->row[0].value[SWH_CH_time];
}

static enum swh_status cursor_next(void *user, struct swh_log_row *row, bool *more, struct swh_error *err)
{
    (void)err;
    struct swh_log_cursor *c = user;
    *more = c->next < c->log->rows;
    if (*more)
        *row = c->log->row[c->next++];
    return SWH_OK;
}

struct swh_log_source swh_log_cursor_source(struct swh_log_cursor *cursor, const struct swh_log_memory *log)
{
    *cursor = (struct swh_log_cursor){log, 0};
    struct swh_log_source s = {.next = cursor_next, .user = cursor};
    memcpy(s.has, log->has, sizeof s.has);
    return s;
}

struct swh_channel_facts swh_log_channel_facts(const struct swh_log_memory *m, enum swh_channel channel)
{
    struct swh_channel_facts f = {0, NAN, NAN, NAN};
    double sum = 0;
    for (size_t i = 0; i < m->rows; i++) {
        const double x = m->row[i].value[channel];
        if (isnan(x))
            continue;
        f.lowest = f.readings ? fmin(f.lowest, x) : x;
        f.highest = f.readings ? fmax(f.highest, x) : x;
        f.readings++;
        sum += x;
    }
    if (f.readings)
        f.mean = sum / (double)f.readings;
    return f;
}

double swh_log_memory_at_work(const struct swh_log_memory *m)
{
    const double usual = m->rows < 2 ? 0 : swh_log_memory_span(m) / (double)(m->rows - 1);
    const double most = fmax(3 * usual, 10);
    bool engaged = !m->has[SWH_CH_clutch];
    double sum = 0;
    for (size_t i = 0; i < m->rows; i++) {
        const double *v = m->row[i].value;
        if (!isnan(v[SWH_CH_clutch]))
            engaged = v[SWH_CH_clutch] >= 0.5;
        const bool stands = v[SWH_CH_compressor_speed] < 1; /* false for a blank */
        if (i > 0 && engaged && !stands)
            sum += fmin(v[SWH_CH_time] - m->row[i - 1].value[SWH_CH_time], most);
    }
    return sum;
}

double swh_log_memory_covered(const struct swh_log_memory *m, enum swh_channel channel)
{
    double sum = 0, last = NAN;
    for (size_t i = 0; i < m->rows; i++) {
        const double t = m->row[i].value[SWH_CH_time];
        if (isnan(m->row[i].value[channel]))
            continue;
        if (t - last <= 60)
            sum += t - last;
        last = t;
    }
    return sum;
}
