/* swashheat report: one HTML page from a folder of results. */
#include "cli/base/result.h"
#include "cli/base/result_folder.h"
#include "cli/base/session.h"
#include "solver/files/text_file.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { DEPTH_MAX = 8 };

struct files {
    char (*path)[512];
    size_t count, room;
};

/* false if memory is short */
static bool keep(struct files *f, const char *path)
{
    if (f->count == f->room) {
        const size_t room = f->room ? 2 * f->room : 64;
        void *more = realloc(f->path, room * sizeof f->path[0]);
        if (!more)
            return false;
        f->path = more;
        f->room = room;
    }
    snprintf(f->path[f->count++], sizeof f->path[0], "%s", path);
    return true;
}

static void unread(const char *path, const char *why, struct swh_error *err)
{
    swh_error_set(err, SWH_ERR_INPUT, "%s", why);
    swh_error_expected(err, "all results readable, so that none is missing in the report");
    swh_error_at(err, path, 0, 0);
}

/* All files of a folder and of folders in it; what cannot be read is an error, nothing is passed over. */
static void collect(struct files *f, const char *folder, int depth, struct swh_error *err)
{
    DIR *d = opendir(folder);
    if (!d) {
        unread(folder, "this folder cannot be read", err);
        return;
    }
    for (struct dirent *e = readdir(d); e && err->status == SWH_OK; e = readdir(d)) {
        char path[512];
        struct stat st;
        if (e->d_name[0] == '.')
            continue;
        if (snprintf(path, sizeof path, "%s/%s", folder, e->d_name) >= (int)sizeof path ||
            stat(path, &st) != 0)
            unread(folder, "a file of this folder cannot be read", err);
        else if (S_ISDIR(st.st_mode) && depth == DEPTH_MAX)
            unread(path, "folders lie too deep in each other", err);
        else if (S_ISDIR(st.st_mode))
            collect(f, path, depth + 1, err);
        else if (S_ISREG(st.st_mode) && !keep(f, path))
            unread(path, "no memory for a report", err);
    }
    closedir(d);
}

static int by_name(const void *a, const void *b)
{
    return strcmp(a, b);
}

static bool ends(const char *path, const char *ending)
{
    const size_t n = strlen(path), k = strlen(ending);
    return n >= k && strcmp(path + n - k, ending) == 0;
}

/* ---- HTML ---- */

static void text(FILE *f, const char *s)
{
    for (; s && *s; s++)
        switch (*s) {
        case '&':
            fputs("&amp;", f);
            break;
        case '<':
            fputs("&lt;", f);
            break;
        case '>':
            fputs("&gt;", f);
            break;
        case '"':
            fputs("&quot;", f);
            break;
        default:
            fputc(*s, f);
        }
}

static void value(FILE *f, const json_t *v);

static void object(FILE *f, const json_t *o)
{
    const char *key;
    json_t *v;
    fputs("<table>", f);
    json_object_foreach((json_t *)o, key, v)
    {
        fputs("<tr><th>", f);
        text(f, key);
        fputs("</th><td>", f);
        value(f, v);
        fputs("</td></tr>\n", f);
    }
    fputs("</table>", f);
}

static void quantity(FILE *f, const json_t *o)
{
    fprintf(f, "%.5g ", json_number_value(json_object_get(o, "value")));
    text(f, json_string_value(json_object_get(o, "unit")));
}

static void value(FILE *f, const json_t *v)
{
    if (json_is_string(v))
        text(f, json_string_value(v));
    else if (json_is_boolean(v))
        fputs(json_is_true(v) ? "yes" : "no", f);
    else if (json_is_number(v))
        fprintf(f, "%.5g", json_number_value(v));
    else if (json_is_object(v) && json_object_size(v) == 2 && json_object_get(v, "unit") &&
             json_is_number(json_object_get(v, "value")) && json_is_string(json_object_get(v, "unit")))
        quantity(f, v);
    else if (json_is_object(v))
        object(f, v);
    else if (json_is_array(v))
        for (size_t i = 0; i < json_array_size(v); i++) {
            fputs("<div>", f);
            value(f, json_array_get(v, i));
            fputs("</div>", f);
        }
    else
        fputs("-", f);
}

static void ranking(FILE *f, const json_t *r)
{
    fputs("<table><tr><th>cause</th><th>share</th><th>severity</th><th>speaks for "
          "it</th><th>against</th></tr>\n",
          f);
    for (size_t i = 0; i < json_array_size(r); i++) {
        const json_t *c = json_array_get(r, i);
        const char *name = json_string_value(json_object_get(c, "fault"));
        const char *speaks = json_string_value(json_object_get(c, "speaks_for"));
        const char *against = json_string_value(json_object_get(c, "speaks_against"));
        fputs("<tr><td>", f);
        text(f, name ? name : "");
        fprintf(f, "</td><td>%.1f %%</td><td>%.2f (%.2f to %.2f)</td><td>",
                100 * json_number_value(json_object_get(c, "share")),
                json_number_value(json_object_get(c, "severity")),
                json_number_value(json_object_get(c, "severity_low")),
                json_number_value(json_object_get(c, "severity_high")));
        text(f, speaks ? speaks : "");
        fputs("</td><td>", f);
        text(f, against ? against : "");
        fputs("</td></tr>\n", f);
    }
    fputs("</table>", f);
}

static void json_section(FILE *f, const char *path)
{
    json_t *o = json_load_file(path, 0, NULL);
    if (!o)
        return;
    fputs("<section><h2>", f);
    text(f, path);
    fputs("</h2>\n", f);
    const char *answer = json_string_value(json_object_get(o, "answer"));
    if (answer) {
        fputs("<p class=answer>", f);
        text(f, answer);
        fputs(".</p>", f);
    }
    if (json_object_get(o, "ranking")) {
        ranking(f, json_object_get(o, "ranking"));
        json_object_del(o, "ranking");
    }
    fputs("<details open><summary>numbers</summary>", f);
    object(f, o);
    fputs("</details></section>\n", f);
    json_decref(o);
}

static void base64(FILE *in, FILE *f)
{
    static const char digit[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    unsigned char b[3];
    size_t n;
    while ((n = fread(b, 1, 3, in)) > 0) {
        const unsigned x = (unsigned)b[0] << 16 | (n > 1 ? (unsigned)b[1] << 8 : 0) | (n > 2 ? b[2] : 0);
        fputc(digit[x >> 18], f);
        fputc(digit[x >> 12 & 63], f);
        fputc(n > 1 ? digit[x >> 6 & 63] : '=', f);
        fputc(n > 2 ? digit[x & 63] : '=', f);
    }
}

static void picture(FILE *f, const char *path)
{
    FILE *in = fopen(path, "rb");
    if (!in)
        return;
    const char *slash = strrchr(path, '/');
    fprintf(f, "<figure><img alt=\"");
    text(f, slash ? slash + 1 : path);
    fprintf(f, "\" src=\"data:image/%s;base64,", ends(path, ".svg") ? "svg+xml" : "png");
    base64(in, f);
    fputs("\"><figcaption>", f);
    text(f, path);
    fputs("</figcaption></figure>\n", f);
    fclose(in);
}

static void page(FILE *f, const struct files *files, const char *folder)
{
    fputs("<!DOCTYPE html>\n<html lang=en><head><meta charset=utf-8><title>Compressor heat "
          "report</title>\n<style>"
          "body{font:15px/1.4 sans-serif;max-width:60em;margin:2em auto;padding:0 1em;color:#111}"
          "table{border-collapse:collapse;margin:.4em 0}th,td{border:1px solid #999;padding:.15em "
          ".5em;text-align:left;"
          "vertical-align:top}th{background:#eee}img{max-width:100%}figure{margin:1em 0;break-inside:avoid}"
          ".answer{font-weight:bold;font-size:1.15em}.caution{border:2px solid #111;padding:.5em 1em}"
          "@media print{body{margin:0;max-width:none}section{break-inside:auto}}</style></head><body>\n"
          "<h1>Compressor heat report</h1>\n<p>Results in ",
          f);
    text(f, folder);
    fputs(
        ".</p>\n<div class=caution><b>Before acting on this</b><ul>"
        "<li>Computed from a model and readings that may err; a finding is a suspicion until it is seen.</li>"
        "<li>The circuit is under pressure, parts are hot and turn: eye protection, gloves, distance.</li>"
        "<li>Never vent refrigerant and never bridge a pressure switch; some refrigerants burn.</li>"
        "<li>PAG oil irritates skin and draws water.</li>"
        "<li>The vehicle maker's manual, local rules and licensed practice come first.</li></ul></div>\n",
        f);
    for (size_t i = 0; i < files->count; i++)
        if (ends(files->path[i], ".json"))
            json_section(f, files->path[i]);
    for (size_t i = 0; i < files->count; i++)
        if (ends(files->path[i], ".png") || ends(files->path[i], ".svg"))
            picture(f, files->path[i]);
    fputs("</body></html>\n", f);
}

static enum swh_status write_page(struct swh_session *s, const struct files *files, const char *from)
{
    struct swh_error err = {0};
    struct swh_out out = {0};
    const char *folder = swh_option_value(s, SWH_OPT_out);
    enum swh_status status = swh_out_begin(&out, folder ? folder : from, &err);
    FILE *f = status == SWH_OK ? swh_out_file(&out, "report.html", &err) : NULL;
    if (f) {
        page(f, files, from);
        status = swh_out_commit(&out, &err);
    } else
        swh_out_abort(&out);
    if (err.status != SWH_OK)
        return swh_fail(s, &err);
    if (!swh_given(s, SWH_OPT_quiet))
        printf("Report: %s/report.html\n", folder ? folder : from);
    return status;
}

enum swh_status swh_cmd_report(struct swh_session *s)
{
    const char *folder = s->argument[0];
    struct swh_error err = {0};
    struct files files = {0};
    collect(&files, folder, 0, &err);
    if (files.count > 0)
        qsort(files.path, files.count, sizeof files.path[0], by_name);
    int useful = 0;
    for (size_t i = 0; i < files.count; i++)
        useful += ends(files.path[i], ".json") || ends(files.path[i], ".png") || ends(files.path[i], ".svg");
    if (err.status == SWH_OK && useful == 0) {
        swh_error_set(&err, SWH_ERR_INPUT, "no results in this folder");
        swh_error_expected(&err,
                           "a folder that another command wrote, with summary.json, rank.json or pictures");
        swh_error_at(&err, folder, 0, 0);
    }
    const enum swh_status status = err.status != SWH_OK ? swh_fail(s, &err) : write_page(s, &files, folder);
    free(files.path);
    return status;
}
