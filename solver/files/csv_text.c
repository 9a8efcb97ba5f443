#include "solver/files/csv_text.h"

#include "solver/files/text_file.h"

#include <csv.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct swh_csv {
    FILE *file;
    bool (*interrupted)(void); /* NULL: a read is never given up */
    char path[256];
    struct csv_parser parser;
    char separator;
    bool at_end;       /* nothing more to read from the file */
    bool finished;     /* csv_fini has been called */
    size_t start, end; /* of what is unread in text */
    long line;         /* number of the line that was fed last */
    size_t line_start, line_length;
    struct swh_cell cell[SWH_CSV_CELLS];
    int cells;
    bool begun, done, too_much;
    long row_line;
    size_t used; /* of store */
    char text[SWH_CSV_LINE];
    char store[SWH_CSV_LINE + SWH_CSV_CELLS]; /* the cells' text */
};

static enum swh_status wrong(const struct swh_csv *csv, long column, const char *what, const char *expected,
                             struct swh_error *err)
{
    swh_error_set(err, SWH_ERR_INPUT, "%s", what);
    swh_error_at(err, csv->path, csv->line, column);
    swh_error_expected(err, "%s", expected);
    return SWH_ERR_INPUT;
}

/* ---- lines ---- */

static enum swh_status refill(struct swh_csv *csv, struct swh_error *err)
{
    memmove(csv->text, csv->text + csv->start, csv->end - csv->start);
    csv->end -= csv->start;
    csv->start = 0;
    /* not fread, which waits for a full buffer: a growing log is taken as it comes */
    ssize_t n = -1;
    do
        n = read(fileno(csv->file), csv->text + csv->end, SWH_CSV_LINE - csv->end);
    while (n < 0 && errno == EINTR && !(csv->interrupted && csv->interrupted()));
    if (n < 0 && errno != EINTR)
        return wrong(csv, 0, strerror(errno), "a readable file", err);
    csv->at_end = n <= 0; /* interrupted: what has come so far is the log */
    csv->end += n > 0 ? (size_t)n : 0;
    return SWH_OK;
}

/* length of the first line in the unread text, its end included; 0 if that is not in sight */
static size_t line_in_sight(const struct swh_csv *csv)
{
    const char *s = csv->text + csv->start;
    const size_t n = csv->end - csv->start;
    const char *lf = memchr(s, '\n', n);
    const char *cr = memchr(s, '\r', lf ? (size_t)(lf - s) : n);
    if (cr && !lf && cr == s + n - 1 && !csv->at_end)
        return 0; /* a line feed may follow */
    if (cr && cr + 1 != lf)
        return (size_t)(cr - s) + 1;
    return lf ? (size_t)(lf - s) + 1 : 0;
}

/* makes the next line the present one; false at the end of the file */
static bool take_line(struct swh_csv *csv, struct swh_error *err, enum swh_status *status)
{
    size_t n = 0;
    *status = SWH_OK;
    while ((n = line_in_sight(csv)) == 0 && !csv->at_end) {
        if (csv->end - csv->start == SWH_CSV_LINE) {
            csv->line++;
            *status = wrong(csv, SWH_CSV_LINE, "a line of more than 65536 characters", "a shorter line", err);
            return false;
        }
        if ((*status = refill(csv, err)) != SWH_OK)
            return false;
    }
    if (n == 0)
        n = csv->end - csv->start; /* the last line, without its end */
    if (n == 0)
        return false;
    csv->line_start = csv->start;
    csv->line_length = n;
    csv->start += n;
    csv->line++;
    return true;
}

/* ---- cells ---- */

static void take_cell(void *text, size_t length, void *user)
{
    struct swh_csv *csv = user;
    if (!csv->begun)
        csv->row_line = csv->line;
    csv->begun = true;
    if (csv->cells == SWH_CSV_CELLS || csv->used + length > sizeof csv->store) {
        csv->too_much = true;
        return;
    }
    char *to = csv->store + csv->used;
    if (length > 0)
        memcpy(to, text, length);
    csv->cell[csv->cells++] = (struct swh_cell){to, length};
    csv->used += length;
}

static void take_row(int c, void *user)
{
    (void)c;
    struct swh_csv *csv = user;
    csv->done = true;
}

static void forget_row(struct swh_csv *csv)
{
    csv->cells = 0;
    csv->used = 0;
    csv->begun = csv->done = csv->too_much = false;
}

static bool all_blank(const struct swh_csv *csv)
{
    return csv->used == 0;
}

static enum swh_status feed(struct swh_csv *csv, struct swh_error *err)
{
    const char *s = csv->text + csv->line_start;
    const bool mid_row = csv->begun || csv->parser.quoted;
    const char *zero = memchr(s, '\0', csv->line_length);
    if (zero)
        return wrong(csv, zero - s + 1, "a zero byte in the line",
                     "text in UTF-8, not in UTF-16; save the file again as CSV UTF-8", err);
    if (!mid_row && *s == '#')
        return SWH_OK;
    const size_t n = csv_parse(&csv->parser, s, csv->line_length, take_cell, take_row, csv);
    if (n < csv->line_length)
        return wrong(csv, (long)n + 1, "a quotation mark inside a cell",
                     "quotation marks round the whole cell, doubled inside it", err);
    if (csv->too_much || csv_get_buffer_size(&csv->parser) > (size_t)2 * SWH_CSV_LINE)
        return wrong(csv, 1, "too many cells or too long a cell", "at most 256 cells and 65536 characters",
                     err);
    return SWH_OK;
}

static enum swh_status finish(struct swh_csv *csv, struct swh_error *err)
{
    csv->finished = true;
    if (csv_fini(&csv->parser, take_cell, take_row, csv) != 0)
        return wrong(csv, 0, "the file ends inside a quoted cell", "a closing quotation mark", err);
    return SWH_OK;
}

enum swh_status swh_csv_next(struct swh_csv *csv, struct swh_csv_row *row, bool *more, struct swh_error *err)
{
    enum swh_status status = SWH_OK;
    forget_row(csv);
    while (!csv->done && !csv->finished) {
        if (take_line(csv, err, &status))
            status = feed(csv, err);
        else if (status == SWH_OK)
            status = finish(csv, err);
        if (status != SWH_OK)
            return status;
        if (csv->done && all_blank(csv))
            forget_row(csv);
    }
    *more = csv->done;
    *row = (struct swh_csv_row){csv->cell, csv->cells, csv->row_line, csv->finished};
    return SWH_OK;
}

long swh_csv_column(const struct swh_csv *csv, int cell)
{
    const char *s = csv->text + csv->line_start;
    bool quoted = false;
    size_t i = 0;
    if (csv->row_line != csv->line)
        return 0;
    for (; i < csv->line_length && cell > 0; i++) {
        quoted ^= s[i] == '"';
        cell -= !quoted && s[i] == csv->separator;
    }
    while (i + 1 < csv->line_length && s[i] == ' ')
        i++;
    return (long)i + 1;
}

/* ---- opening ---- */

/* The separator of a line, and how many it has: the semicolon and the tab count before the comma, which may
 * stand inside a name or for a decimal point */
static char find_separator(const char *s, size_t n, size_t *count)
{
    size_t tabs = 0, semicolons = 0, commas = 0;
    bool quoted = false;
    for (size_t i = 0; i < n; i++) {
        quoted ^= s[i] == '"';
        tabs += !quoted && s[i] == '\t';
        semicolons += !quoted && s[i] == ';';
        commas += !quoted && s[i] == ',';
    }
    const char c = tabs > 0 && tabs >= semicolons ? '\t' : semicolons > 0 ? ';' : ',';
    *count = c == '\t' ? tabs : c == ';' ? semicolons : commas;
    return c;
}

/* Of the lines in sight, from the first with something in it, the one with the most separators decides: lines
 * about the device may stand before the names, and have none or others. */
static char choose_separator(const struct swh_csv *csv, const char *s)
{
    enum { LINES = 40 };
    const char *end = csv->text + csv->end;
    char best = ',';
    size_t most = 0;
    for (int line = 0; line < LINES && s < end; line++) {
        const char *stop = s;
        while (stop < end && *stop != '\n' && *stop != '\r')
            stop++;
        size_t count = 0;
        const char c = find_separator(s, (size_t)(stop - s), &count);
        if (*s != '#' && count > most) {
            best = c;
            most = count;
        }
        s = stop + 1;
    }
    return best;
}

/* reads on to the first line with something in it, without consuming it; skips a byte-order mark */
static enum swh_status look_ahead(struct swh_csv *csv, struct swh_error *err)
{
    enum swh_status status = refill(csv, err);
    const unsigned char *u = (const unsigned char *)csv->text;
    if (csv->end >= 2 && ((u[0] == 0xFF && u[1] == 0xFE) || (u[0] == 0xFE && u[1] == 0xFF))) {
        csv->line = 1;
        return wrong(csv, 1, "text in UTF-16", "text in UTF-8; save the file again as CSV UTF-8", err);
    }
    if (csv->end >= 3 && memcmp(u, "\xEF\xBB\xBF", 3) == 0)
        csv->start = 3;
    while (status == SWH_OK && take_line(csv, err, &status)) {
        const char *s = csv->text + csv->line_start;
        if (*s == '#' || *s == '\n' || *s == '\r')
            continue;
        csv->separator = choose_separator(csv, s);
        csv->start = csv->line_start;
        csv->line--;
        return SWH_OK;
    }
    csv->line = 1;
    return status != SWH_OK ? status
                            : wrong(csv, 1, "the file is empty", "a line of names and rows of numbers", err);
}

struct swh_csv *swh_csv_open(const char *path, bool (*interrupted)(void), struct swh_error *err)
{
    struct swh_csv *csv = calloc(1, sizeof *csv);
    if (!csv) {
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for reading %s", path);
        return NULL;
    }
    csv->interrupted = interrupted;
    snprintf(csv->path, sizeof csv->path, "%s", path);
    if (swh_text_open(path, &csv->file, err) != SWH_OK) {
        free(csv);
        return NULL;
    }
    csv_init(&csv->parser, CSV_STRICT | CSV_STRICT_FINI);
    if (look_ahead(csv, err) != SWH_OK) {
        swh_csv_close(csv);
        return NULL;
    }
    csv_set_delim(&csv->parser, (unsigned char)csv->separator);
    return csv;
}

void swh_csv_close(struct swh_csv *csv)
{
    if (!csv)
        return;
    csv_free(&csv->parser);
    swh_text_close(csv->file);
    free(csv);
}

char swh_csv_separator(const struct swh_csv *csv)
{
    return csv->separator;
}
