#include "cli/commands/run/series_csv.h"

#include "solver/files/number.h"

#include <csv.h>
#include <math.h>
#include <string.h>

#define ROW_MAX ((size_t)2 * SWH_CHANNEL_COUNT * (SWH_NUMBER_MAX + 1))
_Static_assert(ROW_MAX < (size_t)SWH_ROWFILE_BUFFER, "a row fits into the buffer");

void swh_rowfile_begin(struct swh_rowfile *s, FILE *file, const bool *measured)
{
    s->file = file;
    s->values = s->n_measured = 0;
    s->begun = false;
    s->used = 0;
    memset(s->measured, 0, sizeof s->measured);
    if (measured)
        memcpy(s->measured, measured, sizeof s->measured);
}

static void write_header(struct swh_rowfile *s)
{
    for (int i = 0; i < s->values; i++) {
        const struct swh_channel_info *c = &swh_channel_table[s->value_column[i]];
        fprintf(s->file, "%s%s[%s]", i ? "," : "", c->id, swh_quantities[c->quantity].si);
    }
    for (int i = 0; i < s->n_measured; i++) {
        const struct swh_channel_info *c = &swh_channel_table[s->measured_column[i]];
        fprintf(s->file, ",measured_%s[%s]", c->id, swh_quantities[c->quantity].si);
    }
    fputc('\n', s->file);
}

static void choose_columns(struct swh_rowfile *s, const struct swh_row *row)
{
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        if (!isnan(row->value[i]) || i == SWH_CH_volumetric_efficiency) /* blank while nothing turns */
            s->value_column[s->values++] = i;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        if (s->measured[i] && row->measured && i != SWH_CH_time)
            s->measured_column[s->n_measured++] = i;
    s->begun = true;
    write_header(s);
}

static char *write_columns(char *p, const double *value, const int *column, int count)
{
    for (int i = 0; i < count; i++) {
        p += swh_number_write(p, value[column[i]]);
        *p++ = ',';
    }
    return p;
}

static void flush(struct swh_rowfile *s)
{
    fwrite(s->buffer, 1, s->used, s->file);
    s->used = 0;
}

void swh_rowfile_row(struct swh_rowfile *s, const struct swh_row *row)
{
    if (!s->begun)
        choose_columns(s, row);
    if (s->used + ROW_MAX > sizeof s->buffer)
        flush(s);
    char *p = write_columns(s->buffer + s->used, row->value, s->value_column, s->values);
    if (row->measured)
        p = write_columns(p, row->measured, s->measured_column, s->n_measured);
    p[-1] = '\n'; /* over the last comma; there is always the time */
    s->used = (size_t)(p - s->buffer);
}

void swh_rowfile_end(struct swh_rowfile *s)
{
    flush(s);
}

void swh_events_begin(FILE *file)
{
    fputs("time[s],event,value,text\n", file);
}

void swh_events_row(FILE *file, const struct swh_event_record *event)
{
    char number[SWH_NUMBER_MAX];
    fwrite(number, 1, swh_number_write(number, event->time), file);
    fprintf(file, ",%s,", swh_event_table[event->event].id);
    fwrite(number, 1, swh_number_write(number, event->value), file);
    fputc(',', file);
    csv_fwrite(file, event->text, strlen(event->text));
    fputc('\n', file);
}
