#include "plots/page/gnuplot.h"

#include "plots/page/page.h"

#include "plots/page/gnuplot_process.h"
#include "plots/part_file.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATIENCE = 60 }; /* s; a picture usually takes a third of a second */

static const char *const endings[] = {"", "png", "svg", "pdf"};

int swh_plot_format_find(const char *word)
{
    if (strcmp(word, "none") == 0)
        return SWH_PLOT_NONE;
    for (int i = SWH_PLOT_PNG; i <= SWH_PLOT_PDF; i++)
        if (strcmp(word, endings[i]) == 0)
            return i;
    return -1;
}

void swh_plot_path(const struct swh_plot_options *o, const char *name, char *out, size_t n)
{
    snprintf(out, n, "%s/%s.%s", o->folder, name, endings[o->format]);
}

double swh_gnuplot_enlarged(const struct swh_plot_options *o)
{
    return o->slide ? 1920.0 / SWH_PAGE_WIDTH : 1;
}

/* The terminal. Fonts: DejaVu Sans comes with every Debian that has fontconfig; a browser that shows
 * the SVG has its own sans-serif. */
static int heading(const struct swh_plot_options *o, int height, char *out, size_t n)
{
    /* pdfcairo wants inches: 100 pixels of the others are one inch, its fonts scale
     * from points accordingly */
    static const char png[] =
        "pngcairo size %.0f,%.0f font 'DejaVu Sans,%.1f' linewidth %.2f noenhanced background rgb 'white'";
    static const char svg[] =
        "svg size %.0f,%.0f font 'sans-serif,%.1f' linewidth %.2f enhanced background rgb 'white'";
    static const char pdf[] =
        "pdfcairo size %.1f/100,%.1f/100 font 'DejaVu Sans,%.1f' fontscale 0.72 linewidth %.2f "
        "noenhanced background rgb 'white'";
    static const char *const terminal[] = {"", png, svg, pdf};
    char set[200];
    struct swh_page units;
    const double k = swh_gnuplot_enlarged(o);
    swh_page_units(&units, o);
    const double font = (o->format == SWH_PLOT_SVG ? 16 : 13) * k * units.letters;
    snprintf(set, sizeof set, terminal[o->format], k * SWH_PAGE_WIDTH, k * height, font, k);
    return snprintf(out, n, "set terminal %s\nset output\n", set);
}

/* heading and script as one text; the caller n_free. NULL: no memory */
static char *whole(const struct swh_plot_options *o, int height, const char *script, size_t *length)
{
    static const char end[] = "\nset output\n";
    char head[300];
    const size_t n = (size_t)heading(o, height, head, sizeof head);
    char *text = malloc(n + *length + sizeof end);
    if (!text)
        return NULL;
    memcpy(text, head, n);
    memcpy(text + n, script, *length);
    memcpy(text + n + *length, end, sizeof end);
    *length += n + sizeof end - 1;
    return text;
}

static bool holds_something(int fd)
{
    struct stat st;
    return fstat(fd, &st) == 0 && st.st_size > 0;
}

static enum swh_status unwritable(struct swh_error *err)
{
    return swh_error_set(err, SWH_ERR_OUTPUT, "cannot write the picture: %s", strerror(errno));
}

static enum swh_status draw_into(const struct swh_plot_options *o, int height, int picture,
                                 const char *script, size_t length, struct swh_error *err)
{
    char *text = whole(o, height, script, &length);
    if (!text)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory left for a picture");
    const struct swh_gnuplot_work work = {text, length, picture, o->patience > 0 ? o->patience : PATIENCE,
                                          o->stop};
    enum swh_status status = swh_gnuplot_process(&work, err);
    free(text);
    if (status == SWH_OK && !holds_something(picture))
        status = swh_error_set(err, SWH_ERR_OUTPUT, "gnuplot drew nothing");
    return status;
}

enum swh_status swh_gnuplot_draw(const struct swh_plot_options *o, const char *name, int height,
                                 const char *script, size_t length, struct swh_error *err)
{
    char path[600], beside[660], file[80];
    if (strlen(o->folder) + strlen(name) + 8 > sizeof path)
        return swh_error_set(err, SWH_ERR_OUTPUT, "the folder's name is too long: %.200s", o->folder);
    swh_plot_path(o, name, path, sizeof path);
    snprintf(file, sizeof file, "%s.%s", name, endings[o->format]);
    const int picture = swh_part_open(o->folder, file, beside, sizeof beside);
    enum swh_status status = picture < 0 ? unwritable(err) : SWH_OK;
    if (status == SWH_OK)
        status = draw_into(o, height, picture, script, length, err);
    if (picture >= 0 && close(picture) != 0 && status == SWH_OK)
        status = unwritable(err);
    if (status == SWH_OK && rename(beside, path) != 0)
        status = unwritable(err);
    if (status != SWH_OK && picture >= 0)
        unlink(beside);
    if (status != SWH_OK)
        swh_error_at(err, path, 0, 0);
    return status;
}
