#include "solver/files/ini.h"

#include "model/base/utf8.h"
#include "solver/files/text_file.h"

#include <ctype.h>
#include <ini.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

enum {
    LONGEST = 190,     /* inih's own buffer holds 200 */
    LINES_MOST = 5000, /* what reads the entries takes the square of their number */
    SKIPPED_MOST = 1 << 16
};

struct reader {
    FILE *stream;
    const char *path;
    swh_ini_handler handler;
    void *user;
    struct swh_problems *problems;
    char line[LONGEST + 2]; /* as it stands in the file, without its end */
    char section[LONGEST + 2];
    long number;
    bool over;     /* too long to be read on */
    bool answered; /* inih has called back for this line, or it needs no call */
};

static void complain(struct reader *r, long column, const char *what, const char *expected)
{
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_INPUT, "%s", what);
    swh_error_at(&err, r->path, r->number, column);
    swh_error_expected(&err, "%s", expected);
    swh_problems_add(r->problems, &err);
}

static size_t skip_space(const char *s)
{
    size_t n = 0;
    while (isspace((unsigned char)s[n]))
        n++;
    return n;
}

static void cut_comment(char *s)
{
    for (size_t i = 0; s[i]; i++)
        if ((s[i] == '#' || s[i] == ';') && (i == 0 || isspace((unsigned char)s[i - 1]))) {
            s[i] = '\0';
            return;
        }
}

/* An escape sequence in a title would go on to terminals. */
static void check_characters(struct reader *r)
{
    for (char *s = r->line; *s; s++)
        if (*s == '\t' || (*s == '\r' && s[1] == '\0'))
            *s = ' ';
    if (!swh_utf8_controls(r->line))
        return;
    long column = 1;
    for (const char *s = r->line; swh_utf8_character(s) > 0 || (unsigned char)*s >= 0x80; s++)
        column++;
    complain(r, column, "a control character in the line", "a text file");
    r->line[0] = '\0';
}

/* reads one line into r->line; false at the end of the file */
static bool read_line(struct reader *r)
{
    size_t n = 0, length = 0;
    bool zero = false;
    int c = r->over ? EOF : getc(r->stream);
    if (c == EOF)
        return false;
    r->number++;
    for (; c != EOF && c != '\n' && length < SKIPPED_MOST; c = getc(r->stream), length++) {
        zero = zero || c == '\0';
        if (n < LONGEST + 1)
            r->line[n++] = (char)c;
    }
    r->line[n] = '\0';
    r->over = length == SKIPPED_MOST || r->number > LINES_MOST;
    if (n > LONGEST)
        complain(r, LONGEST, "a line of more than 190 characters", "a shorter line");
    else if (zero)
        complain(r, 1, "a zero byte in the line", "a text file");
    else if (r->number > LINES_MOST)
        complain(r, 1, "more than 5000 lines", "a shorter file");
    else
        check_characters(r);
    if (n > LONGEST || zero || r->over)
        r->line[0] = '\0';
    if (r->number == 1 && strncmp(r->line, "\xEF\xBB\xBF", 3) == 0)
        memmove(r->line, r->line + 3, strlen(r->line + 3) + 1);
    return true;
}

static void tell_head(struct reader *r, const char *text)
{
    const size_t n = strcspn(text + 1, "]");
    if (text[1 + n] != ']') {
        complain(r, text - r->line + 1, "a section's head without its end", "']'");
        return;
    }
    memcpy(r->section, text + 1, n);
    r->section[n] = '\0';
    const struct swh_ini_entry e = {r->path, r->section, NULL, NULL, r->number, text - r->line + 2, 0};
    r->handler(&e, r->user);
}

/* the previous line ought to have been an entry, but inih found none in it */
static void judge_last(struct reader *r)
{
    if (!r->answered)
        complain(r, (long)skip_space(r->line) + 1, "neither an entry nor a section's head",
                 "'key = value' or '[section]'");
    r->answered = true;
}

/* inih's fgets: hands it the line without leading space, so that no line continues the one before. Heads stay
 * here: inih forgets all but their first letters. */
static char *next_line(char *out, int size, void *stream)
{
    struct reader *r = stream;
    judge_last(r);
    if (!read_line(r))
        return NULL;
    char clean[LONGEST + 2];
    memcpy(clean, r->line, sizeof clean);
    cut_comment(clean);
    const char *text = clean + skip_space(clean);
    r->answered = *text == '\0' || *text == '[';
    if (*text == '[')
        tell_head(r, r->line + (text - clean));
    snprintf(out, (size_t)size, "%s\n", r->answered ? "" : text);
    return out;
}

static int take_entry(void *user, const char *section, const char *name, const char *value)
{
    (void)section;
    struct reader *r = user;
    r->answered = true;
    const size_t key = skip_space(r->line), mark = strcspn(r->line, "=:") + 1;
    const char *rest = r->line[mark - 1] ? r->line + mark : r->line + mark - 1;
    /* inih cuts long names short: take the name from the line */
    char whole[LONGEST + 2];
    size_t n = mark > key ? mark - 1 - key : 0;
    while (n > 0 && isspace((unsigned char)r->line[key + n - 1]))
        n--;
    memcpy(whole, r->line + key, n);
    whole[n] = '\0';
    const long at = rest - r->line + (long)skip_space(rest) + 1;
    const struct swh_ini_entry e = {
        r->path, r->section, strlen(name) < n ? whole : name, value, r->number, (long)key + 1, at};
    r->handler(&e, r->user);
    return 1;
}

void swh_ini_read(const char *path, swh_ini_handler handler, void *user, struct swh_problems *problems)
{
    struct swh_error err = {0};
    struct reader r = {
        .path = path, .handler = handler, .user = user, .problems = problems, .answered = true};
    if (swh_text_open(path, &r.stream, &err) != SWH_OK) {
        swh_problems_add(problems, &err);
        return;
    }
    ini_parse_stream(next_line, &r, take_entry, &r);
    if (ferror(r.stream))
        complain(&r, 0, "the file cannot be read to its end", "a readable file");
    swh_text_close(r.stream);
}
