#include "solver/files/csv_time.h"

#include "solver/files/number.h"

#include <ctype.h>
#include <math.h>
#include <string.h>
#include <strings.h>

#define DAY 86400.0

/* what is left to read */
struct text {
    const char *s, *end;
    char point;
};

static void skip_spaces(struct text *t)
{
    while (t->s < t->end && isspace((unsigned char)*t->s))
        t->s++;
}

/* a whole number of at most nine digits; the count of digits, 0 if there is none */
static int read_whole(struct text *t, int *x)
{
    int digits = 0;
    *x = 0;
    for (; t->s < t->end && isdigit((unsigned char)*t->s) && digits < 9; digits++)
        *x = *x * 10 + (*t->s++ - '0');
    return digits;
}

static bool take(struct text *t, char c)
{
    if (t->s >= t->end || *t->s != c)
        return false;
    t->s++;
    return true;
}

/* days since 1970-01-01 in the Gregorian calendar; Richards 2013 (civil date to day number), from memory */
static double day_number(int year, int month, int day)
{
    const int y = month <= 2 ? year - 1 : year;
    const int era = (y >= 0 ? y : y - 399) / 400, in_era = y - era * 400;
    const int of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    const int of_era = in_era * 365 + in_era / 4 - in_era / 100 + of_year;
    return era * 146097.0 + of_era - 719468.0;
}

/* three numbers into a day: year first, or last with the day before the month after points, behind it after
 * slashes */
static bool find_day(const int part[3], int first_digits, char sign, double *day)
{
    const bool year_first = first_digits == 4;
    const bool day_first = sign == '.' || part[0] > 12;
    int year = part[year_first ? 0 : 2];
    const int month = part[year_first ? 1 : day_first ? 1 : 0];
    const int of_month = part[year_first ? 2 : day_first ? 0 : 1];
    if (year < 100)
        year += 2000;
    if (year < 1970 || year > 2200 || month < 1 || month > 12 || of_month < 1 || of_month > 31)
        return false;
    *day = day_number(year, month, of_month);
    return true;
}

/* a date in front; the text is left as it was if there is none */
static bool read_date(struct text *t, double *day)
{
    struct text at = *t;
    int part[3];
    const int digits = read_whole(&at, &part[0]);
    const char sign = at.s < at.end ? *at.s : '\0';
    if (digits == 0 || !strchr("-/.", sign) || sign == '\0' || !take(&at, sign) ||
        !read_whole(&at, &part[1]) || !take(&at, sign) || !read_whole(&at, &part[2]) ||
        !find_day(part, digits, sign, day))
        return false;
    if (!take(&at, 'T'))
        skip_spaces(&at);
    take(&at, ',');
    skip_spaces(&at);
    *t = at;
    return true;
}

/* "PM" adds half a day, but not to 12 o'clock */
static bool read_half(struct text *t, double *hours)
{
    skip_spaces(t);
    const size_t n = (size_t)(t->end - t->s);
    const bool am =
        (n >= 2 && strncasecmp(t->s, "am", 2) == 0) || (n >= 4 && strncasecmp(t->s, "a.m.", 4) == 0);
    const bool pm =
        (n >= 2 && strncasecmp(t->s, "pm", 2) == 0) || (n >= 4 && strncasecmp(t->s, "p.m.", 4) == 0);
    if (!am && !pm)
        return true;
    if (*hours < 1 || *hours > 12)
        return false;
    *hours = fmod(*hours, 12) + (pm ? 12 : 0);
    t->s += t->s[1] == '.' ? 4 : 2;
    return true;
}

/* "Z", "+02:00": the same in all rows, so without meaning here */
static bool read_offset(struct text *t)
{
    int x = 0;
    skip_spaces(t);
    if (take(t, 'Z') || t->s == t->end)
        return t->s == t->end;
    if (!take(t, '+') && !take(t, '-'))
        return false;
    if (read_whole(t, &x) == 0)
        return false;
    if (take(t, ':') && read_whole(t, &x) == 0)
        return false;
    return t->s == t->end;
}

static bool read_part(struct text *t, double *x)
{
    int whole = 0;
    const struct text at = *t;
    if (read_whole(t, &whole) == 0)
        return false;
    *x = whole;
    if (t->s < t->end && *t->s == t->point) {
        const char *rest = swh_number_read(at.s, t->end, t->point, x);
        t->s = rest ? rest : t->s;
    }
    return true;
}

/* two or three parts with colons between; returns how many */
static int read_parts(struct text *t, double part[3])
{
    int n = 0;
    while (n < 3 && read_part(t, &part[n])) {
        n++;
        if (n == 3 || !take(t, ':'))
            break;
    }
    return n;
}

static bool read_clock(struct text *t, struct swh_time_style *style, double *seconds)
{
    double part[3] = {0, 0, 0};
    const int n = read_parts(t, part);
    const bool no_half = t->s == t->end;
    if (n < 2 || !read_half(t, &part[0]) || !read_offset(t) || part[1] >= 60 || part[2] >= 60)
        return false;
    /* a stopwatch begins with no whole hour; a clock of a workshop does not begin at midnight */
    if (n == 2 && !style->begun && no_half && !style->dated && part[0] == 0)
        style->minutes_first = true;
    *seconds =
        n == 2 && style->minutes_first ? part[0] * 60 + part[1] : part[0] * 3600 + part[1] * 60 + part[2];
    return true;
}

bool swh_time_read(const char *s, size_t n, char point, struct swh_time_style *style, double *seconds)
{
    struct text t = {s, s + n, point};
    double day = 0;
    skip_spaces(&t);
    while (t.end > t.s && isspace((unsigned char)t.end[-1]))
        t.end--;
    const bool dated = read_date(&t, &day);
    if (style->begun && dated != style->dated)
        return false;
    style->dated = dated;
    if (!read_clock(&t, style, seconds))
        return false;
    if (dated && !style->begun)
        style->first_day = day * DAY;
    if (dated)
        *seconds += day * DAY - style->first_day;
    style->begun = true;
    return true;
}

bool swh_time_since_1970(struct swh_time_style *style, double *seconds)
{
    /* three years: no log lasts so long; 1e17 microseconds: no log is so late */
    if (!(*seconds > 1e8 && *seconds < 1e17))
        return false;
    *seconds *= *seconds > 1e14 ? 1e-6 : *seconds > 1e11 ? 1e-3 : 1;
    if (!style->begun)
        style->first_day = floor(*seconds / DAY) * DAY;
    style->begun = true;
    *seconds -= style->first_day;
    return true;
}
