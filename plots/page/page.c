#include "plots/page/page.h"

#include "model/base/utf8.h"
#include "plots/page/gnuplot.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Okabe and Ito 2008, without the yellow, which vanishes on white. In grey: black 0, blue 42, vermilion 50,
 * green 53, purple 63, orange 70, sky 66 % of white; the dash carries the difference where two are near. */
static const struct swh_style styles[] = {
    {"#D55E00", 2.6, "solid"},      {"#0072B2", 2.2, "(18,5)"},    {"#009E73", 2.4, "(5,4)"},
    {"#CC79A7", 2.6, "(18,5,3,5)"}, {"#000000", 1.6, "solid"},     {"#56B4E9", 3.6, "solid"},
    {"#E69F00", 2.8, "(10,4)"},     {"#555555", 2.2, "(2.5,3.5)"},
};
const struct swh_style swh_style_limit = {"#000000", 1.3, "(7,5)"};

struct swh_style swh_style(size_t i)
{
    return styles[i % (sizeof styles / sizeof styles[0])];
}

/* A text is then 3 % of the height of a slide. */
static const double SLIDE_LETTERS = 1.45;

/* ---- units ---- */

void swh_page_units(struct swh_page *p, const struct swh_plot_options *o)
{
    memset(p, 0, sizeof *p);
    p->o = o;
    p->letters = o->slide ? SLIDE_LETTERS : 1;
    for (int q = 0; q < SWH_QUANTITY_COUNT; q++) {
        p->scale[q] = 1;
        p->offset[q] = 0;
        if (!p->o->shown)
            continue;
        const enum swh_quantity quantity = (enum swh_quantity)q;
        p->offset[q] = p->o->shown(quantity, p->o->trade, 0.0, p->o->user);
        p->scale[q] = p->o->shown(quantity, p->o->trade, 1.0, p->o->user) - p->offset[q];
    }
}

double swh_page_shown(const struct swh_page *p, enum swh_quantity q, double si)
{
    return p->scale[q] * si + p->offset[q];
}

const char *swh_page_unit(const struct swh_page *p, enum swh_quantity q, char *out, size_t n)
{
    const struct swh_quantity_info *info = &swh_quantities[q];
    const char *unit = !p->o->shown ? info->si : p->o->trade ? info->show_trade : info->show_si;
    if (strcmp(unit, "1") == 0)
        unit = "";
    const char *degree = strstr(unit, "deg");
    if (degree)
        snprintf(out, n, "%.*s\xc2\xb0%s", (int)(degree - unit), unit, degree + 3);
    else
        snprintf(out, n, "%s", unit);
    return out;
}

static bool is_temperature(enum swh_quantity q)
{
    return q == SWH_Q_TEMPERATURE || q == SWH_Q_TEMPERATURE_DIFFERENCE;
}

const char *swh_page_value(const struct swh_page *p, enum swh_quantity q, double si, char *out, size_t n)
{
    char unit[24], number[32];
    const double v = swh_page_shown(p, q, si);
    const double a = fabs(v);
    if (a < 0.005 && is_temperature(q))
        snprintf(number, sizeof number, "0");
    else if (a < 1)
        snprintf(number, sizeof number, is_temperature(q) || q == SWH_Q_PRESSURE ? "%.2f" : "%.3g", v);
    else
        snprintf(number, sizeof number, "%.*f", a >= 100 ? 0 : a >= 10 || is_temperature(q) ? 1 : 2, v);
    swh_page_unit(p, q, unit, sizeof unit);
    snprintf(out, n, "%s%s%s", number, unit[0] ? " " : "", unit);
    return out;
}

const char *swh_page_round(const struct swh_page *p, enum swh_quantity q, double si, char *out, size_t n)
{
    char unit[24];
    const double v = swh_page_shown(p, q, si);
    swh_page_unit(p, q, unit, sizeof unit);
    snprintf(out, n, "%.4g%s%s", fabs(v) < 1e-9 ? 0 : v, unit[0] ? " " : "", unit);
    return out;
}

/* ---- texts ---- */

static size_t letters(const char *text)
{
    size_t n = 0;
    for (; *text; text++)
        n += ((unsigned char)*text & 0xC0) != 0x80; /* UTF-8: not a continuation byte */
    return n;
}

double swh_text_width(const char *text)
{
    return 9.4 * (double)letters(text);
}

/* One letter of a text between single quotes, as gnuplot takes it literally; control characters become
 * spaces, bytes that are no letter question marks, and the degree sign takes the place of "deg" in units that
 * others wrote. Returns the
 * text after it. */
static const char *put_letter(FILE *f, const char *text)
{
    if (strncmp(text, "degC", 4) == 0 || strncmp(text, "degF", 4) == 0) {
        fputs("\xc2\xb0", f);
        return text + 3;
    }
    if (*text == '\'')
        fputc('\'', f);
    const size_t n = swh_utf8_character(text);
    if (n == 0)
        fputc((unsigned char)*text < 0x80 ? ' ' : '?', f);
    else
        fwrite(text, 1, n, f);
    return text + (n > 0 ? n : 1);
}

static void put_quoted(FILE *f, const char *text)
{
    fputc('\'', f);
    while (*text)
        text = put_letter(f, text);
    fputc('\'', f);
}

void swh_page_text(struct swh_page *p, double x, double y, const char *align, const char *text,
                   const char *how)
{
    if (!p->words)
        return; /* no memory: swh_page_end says so */
    fprintf(p->words, "set label ");
    put_quoted(p->words, text);
    fprintf(p->words, " at screen %.6f,%.6f %s noenhanced %s\n", x / SWH_PAGE_WIDTH, 1 - y / p->height, align,
            how ? how : "");
}

/* SVG has no family of bold letters: there a text becomes bold by gnuplot's mark-up, in which these
 * characters mean something unless a backslash stands before them. */
static void put_marked_bold(FILE *f, const char *text)
{
    fputs("'{/:Bold ", f);
    while (*text) {
        if (strchr("{}^_@&~\\", *text))
            fputc('\\', f);
        text = put_letter(f, text);
    }
    fputs("}'", f);
}

void swh_page_bold(struct swh_page *p, double x, double y, const char *align, const char *text, int points)
{
    char how[64];
    const double size = points * p->letters * swh_gnuplot_enlarged(p->o);
    snprintf(how, sizeof how, "font 'DejaVu Sans Bold,%.1f'", size);
    if (p->o->format != SWH_PLOT_SVG || !p->words) {
        swh_page_text(p, x, y, align, text, how);
        return;
    }
    fprintf(p->words, "set label ");
    put_marked_bold(p->words, text);
    fprintf(p->words, " at screen %.6f,%.6f %s enhanced font 'sans-serif,%.0f'\n", x / SWH_PAGE_WIDTH,
            1 - y / p->height, align, 1.2 * size);
}

double swh_page_point(const struct swh_page *p, double size)
{
    return p->o->format == SWH_PLOT_SVG ? 0.6 * size : size;
}

void swh_page_dot(struct swh_page *p, double x, double y)
{
    char how[64];
    snprintf(how, sizeof how, "point pt 7 ps %g lc rgb '#000000'", swh_page_point(p, 1.3));
    swh_page_text(p, x, y, "center", "", how);
}

void swh_page_stroke(struct swh_page *p, double x0, double y0, double x1, double y1,
                     const struct swh_style *style)
{
    if (!p->words)
        return;
    fprintf(p->words, "set arrow from screen %.6f,%.6f to screen %.6f,%.6f nohead lw %g lc rgb '%s' dt %s\n",
            x0 / SWH_PAGE_WIDTH, 1 - y0 / p->height, x1 / SWH_PAGE_WIDTH, 1 - y1 / p->height, style->width,
            style->colour, style->dash);
}

static void rectangle(struct swh_page *p, double x0, double y0, double x1, double y1, const char *how)
{
    if (!p->words)
        return;
    fprintf(p->words, "set object rectangle from screen %.6f,%.6f to screen %.6f,%.6f %s\n",
            x0 / SWH_PAGE_WIDTH, 1 - y1 / p->height, x1 / SWH_PAGE_WIDTH, 1 - y0 / p->height, how);
}

void swh_page_block(struct swh_page *p, double x0, double y0, double x1, double y1, const char *colour)
{
    char how[64];
    snprintf(how, sizeof how, "fs solid noborder fc rgb '%s'", colour);
    rectangle(p, x0, y0, x1, y1, how);
}

void swh_page_tile(struct swh_page *p, double x0, double y0, double x1, double y1, const char *colour)
{
    /* One pixel more to the right and upwards, which the next tile covers: where two tiles half cover a pixel
     * each, the white ground would shine through. */
    swh_page_block(p, x0, y0 - 1, x1 + 1, y1, colour);
}

void swh_page_hatch(struct swh_page *p, double x0, double y0, double x1, double y1)
{
    swh_page_block(p, x0, y0, x1, y1, "#e2e2e2");
    rectangle(p, x0, y0, x1, y1, "fs pattern 5 noborder fc rgb '#777777'");
}

/* ---- pages ---- */

enum { SUBTITLE_LETTERS = 146, TITLE_LETTERS = 92, TITLE_HEIGHT = 32, TITLE_LINES = 3 };

/* letters of a title that one line holds */
static size_t title_room(const struct swh_page *p)
{
    return (size_t)(TITLE_LETTERS / p->letters);
}

static int title_lines(const struct swh_page *p, const char *title)
{
    const size_t lines = letters(title) / title_room(p) + 1;
    return lines < TITLE_LINES ? (int)lines : TITLE_LINES;
}

/* Bytes of the first of `lines` lines of about equal length: as many words as fit. */
static size_t line_length(const struct swh_page *p, const char *text, int lines)
{
    const size_t all = letters(text);
    const size_t room = lines < 2 ? title_room(p) : all / (size_t)lines + 8;
    size_t best = 0, seen = 0;
    if (all <= room || lines < 2)
        return strlen(text);
    for (const char *s = text; *s && seen <= room; s++) {
        seen += ((unsigned char)*s & 0xC0) != 0x80;
        if (*s == ' ' && s > text && (s[-1] < '0' || s[-1] > '9')) /* a number stays with its unit */
            best = (size_t)(s - text);
    }
    return best > 0 ? best : strlen(text);
}

static void put_title(struct swh_page *p, const char *title)
{
    const int lines = title_lines(p, title);
    const char *s = title;
    double y = 32 * p->letters;
    for (int i = 0; *s && i < lines; i++, y += TITLE_HEIGHT * p->letters) {
        char line[400];
        const size_t length = line_length(p, s, lines - i);
        snprintf(line, sizeof line, "%.*s", (int)length, s);
        swh_page_bold(p, 28, y, "left", line, 18);
        s += length;
        while (*s == ' ')
            s++;
    }
}

void swh_page_begin(struct swh_page *p, const struct swh_plot_options *o, int content_height,
                    const char *title, const char *subtitle)
{
    swh_page_units(p, o);
    p->top = (int)(p->letters * (28 + title_lines(p, title) * TITLE_HEIGHT + (subtitle ? 26 : 0)));
    p->height = o->slide ? SWH_SLIDE_HEIGHT : p->top + content_height;
    p->plots = open_memstream(&p->plots_text, &p->plots_size);
    p->words = open_memstream(&p->words_text, &p->words_size);
    if (!p->plots || !p->words)
        return;
    fprintf(p->plots, "set encoding utf8\nset multiplot\nset border 3 lw 1 lc rgb '#555555'\nunset key\n"
                      "set style fill transparent solid 1 noborder\nset style textbox opaque fillcolor rgb "
                      "'white' noborder margins 0.6,0.4\n");
    put_title(p, title);
    swh_utf8_clean(p->subtitle, sizeof p->subtitle, subtitle ? subtitle : "");
}

static void put_words(struct swh_page *p)
{
    fprintf(
        p->plots,
        "set lmargin at screen 0\nset rmargin at screen 1\nset bmargin at screen 0\nset tmargin at screen 1\n"
        "unset border\nunset tics\nunset xlabel\nunset logscale\nset xrange [0:1]\nset yrange [0:1]\n");
    fwrite(p->words_text, 1, p->words_size, p->plots);
    fprintf(p->plots, "plot 2 notitle\nunset multiplot\n");
}

/* Cuts a text to at most `most` letters, with an ellipsis. */
static void cut(char *text, size_t most)
{
    if (letters(text) <= most)
        return;
    size_t seen = 0;
    char *s = text;
    for (; *s && seen < most; s++)
        seen += ((unsigned char)*s & 0xC0) != 0x80;
    snprintf(s - 1, 4, "\xe2\x80\xa6");
}

static void put_subtitle(struct swh_page *p)
{
    char text[300];
    const char *bands = p->bands ? "; pale bands: swing with the clutch" : "";
    cut(p->subtitle, (size_t)(SUBTITLE_LETTERS / p->letters) - letters(bands));
    snprintf(text, sizeof text, "%s%s", p->subtitle, bands);
    if (p->subtitle[0])
        swh_page_text(p, 28, p->top - 18 * p->letters, "left", text, "textcolor rgb '#555555'");
}

static bool close_stream(FILE **f)
{
    if (!*f)
        return false;
    const bool good = !ferror(*f);
    const bool closed = fclose(*f) == 0;
    *f = NULL;
    return good && closed;
}

enum swh_status swh_page_end(struct swh_page *p, const char *name, struct swh_error *err)
{
    if (p->words)
        put_subtitle(p);
    bool good = close_stream(&p->words) && !p->failed;
    if (p->plots && good)
        put_words(p);
    good = close_stream(&p->plots) && good;
    enum swh_status status = SWH_OK;
    if (!good)
        status = swh_error_set(err, SWH_ERR_MEMORY, "no memory left for a picture");
    else
        status = swh_gnuplot_draw(p->o, name, p->height, p->plots_text, p->plots_size, err);
    free(p->plots_text);
    free(p->words_text);
    return status;
}

/* ---- numbers ---- */

double swh_nice_step(double range, int parts)
{
    const double rough = range / parts;
    if (!(rough > 0) || !isfinite(rough))
        return 1;
    const double power = pow(10, floor(log10(rough)));
    const double digit = rough / power;
    if (digit < 1.4)
        return power;
    if (digit < 2.3)
        return 2 * power;
    if (digit < 3.2)
        return (power >= 10 ? 2.5 : 2) * power;
    return (digit < 7.1 ? 5 : 10) * power;
}

/* One pass of pool adjacent violators on place[i] - i gap. `weight` and `mean` are scratch. */
static size_t pool(const double *place, size_t n, double gap, double *mean, double *weight)
{
    size_t blocks = 0;
    for (size_t i = 0; i < n; i++) {
        mean[blocks] = place[i] - (double)i * gap;
        weight[blocks] = 1;
        blocks++;
        while (blocks > 1 && mean[blocks - 1] < mean[blocks - 2]) {
            const double w = weight[blocks - 2] + weight[blocks - 1];
            mean[blocks - 2] =
                (mean[blocks - 2] * weight[blocks - 2] + mean[blocks - 1] * weight[blocks - 1]) / w;
            weight[blocks - 2] = w;
            blocks--;
        }
    }
    return blocks;
}

void swh_spread(double *place, size_t n, double gap, double lo, double hi)
{
    double mean[SWH_LABELS_MAX], weight[SWH_LABELS_MAX];
    if (n == 0 || n > SWH_LABELS_MAX)
        return;
    if ((double)(n - 1) * gap > hi - lo)
        gap = n > 1 ? (hi - lo) / (double)(n - 1) : 0;
    const size_t blocks = pool(place, n, gap, mean, weight);
    const double top = hi - (double)(n - 1) * gap; /* of place[i] - i gap, for every i */
    size_t i = 0;
    for (size_t b = 0; b < blocks; b++)
        for (int k = 0; k < (int)weight[b]; k++, i++)
            place[i] = fmin(fmax(mean[b], lo), top) + (double)i * gap;
}
