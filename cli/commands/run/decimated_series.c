#include "cli/commands/run/decimated_series.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WIDTH SWH_CHANNEL_COUNT

enum swh_status swh_keep_begin(struct swh_keep *k, bool with_measured, struct swh_error *err)
{
    memset(k, 0, sizeof *k);
    k->stride = 1;
    k->value = malloc(sizeof(double) * WIDTH * SWH_KEEP_ROWS);
    k->event = malloc(sizeof *k->event * SWH_KEEP_EVENTS);
    if (with_measured)
        k->measured = malloc(sizeof(double) * WIDTH * SWH_KEEP_ROWS);
    if (k->value && k->event && (k->measured || !with_measured))
        return SWH_OK;
    return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the rows of the pictures");
}

void swh_keep_free(struct swh_keep *k)
{
    free(k->value);
    free(k->measured);
    free(k->event);
    memset(k, 0, sizeof *k);
}

/* Puts the least and the greatest of count values, `step` apart, in the order in which they occur. Blanks
 * (NaN) do not count. */
static void extremes(const double *v, int count, ptrdiff_t step, double *first, double *second)
{
    int least = -1, most = -1;
    for (int i = 0; i < count; i++) {
        const double x = v[i * step];
        if (isnan(x))
            continue;
        if (least < 0 || x < v[least * step])
            least = i;
        if (most < 0 || x > v[most * step])
            most = i;
    }
    const double a = least < 0 ? NAN : v[(least < most ? least : most) * step];
    const double b = least < 0 ? NAN : v[(least < most ? most : least) * step];
    *first = a;
    *second = b;
}

/* four rows into two, in place at `to` <= `from`; times are the first and the last */
static void merge(double *table, int from, int to)
{
    const double *in = table + (size_t)from * WIDTH;
    double *out = table + (size_t)to * WIDTH;
    const double t0 = in[SWH_CH_time], t1 = in[3 * WIDTH + SWH_CH_time];
    for (int c = 0; c < WIDTH; c++) {
        double a, b;
        extremes(in + c, 4, WIDTH, &a, &b);
        out[c] = a;
        out[WIDTH + c] = b;
    }
    out[SWH_CH_time] = t0;
    out[WIDTH + SWH_CH_time] = t1;
}

static void halve(struct swh_keep *k)
{
    for (int i = 0; i + 4 <= k->rows; i += 4) {
        merge(k->value, i, i / 2);
        if (k->measured)
            merge(k->measured, i, i / 2);
    }
    k->rows /= 2;
    k->stride = k->stride == 1 ? 4 : 2 * k->stride;
}

/* widens the open bucket's two rows (the first holds what came first) by one more row */
static void widen(double *first, double *second, const double *row)
{
    const double t0 = first[SWH_CH_time];
    for (int c = 0; c < WIDTH; c++) {
        const double three[3] = {first[c], second[c], row[c]};
        extremes(three, 3, 1, &first[c], &second[c]);
    }
    first[SWH_CH_time] = t0;
    second[SWH_CH_time] = row[SWH_CH_time];
}

static void put(double *table, int rows, const double *row)
{
    memcpy(table + (size_t)rows * WIDTH, row, sizeof(double) * WIDTH);
}

static void open_bucket(struct swh_keep *k, const struct swh_row *row)
{
    const int copies = k->stride == 1 ? 1 : 2;
    for (int i = 0; i < copies; i++, k->rows++) {
        put(k->value, k->rows, row->value);
        if (k->measured)
            put(k->measured, k->rows, row->measured);
    }
    k->in_bucket = 1;
}

void swh_keep_row(struct swh_keep *k, const struct swh_row *row)
{
    if (k->stride > 1 && k->in_bucket < k->stride) {
        double *v = k->value + (size_t)(k->rows - 2) * WIDTH;
        widen(v, v + WIDTH, row->value);
        double *m = k->measured ? k->measured + (size_t)(k->rows - 2) * WIDTH : NULL;
        if (m)
            widen(m, m + WIDTH, row->measured);
        k->in_bucket++;
        return;
    }
    if (k->rows == SWH_KEEP_ROWS)
        halve(k);
    open_bucket(k, row);
}

void swh_keep_end(struct swh_keep *k)
{
    if (k->stride > 1 && k->in_bucket == 1)
        k->rows--; /* the copy of a row that nothing was merged with */
    k->in_bucket = k->stride;
}

void swh_keep_event(struct swh_keep *k, const struct swh_event_record *event)
{
    if (k->events == SWH_KEEP_EVENTS) {
        k->events_lost++;
        return;
    }
    k->event[k->events++] = *event;
}
