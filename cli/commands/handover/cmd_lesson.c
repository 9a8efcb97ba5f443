/* swashheat lesson: one file for a class that computes the model itself, offline, in any browser. */
#include "cli/base/frame.h"
#include "cli/base/result.h"
#include "cli/commands/handover/html.h"
#include "cli/commands/handover/lesson_data.h"

#include <stdlib.h>
#include <string.h>

static const unsigned char page_html[] = {
#include "solver/web/page.html.inc"
    , 0};
static const unsigned char page_css[] = {
#include "solver/web/page.css.inc"
    , 0};
static const unsigned char page_js[] = {
#include "solver/web/page.js.inc"
    , 0};
static const unsigned char worker_js[] = {
#include "solver/web/worker.js.inc"
    , 0};
static const unsigned char wasm[] = {
/* one byte, if it was not built */
#include "solver/web/swashheat.wasm.inc"
};

static bool computes(void)
{
    return sizeof wasm > 8 && memcmp(wasm, "\0asm", 4) == 0;
}

/* ---- the file ---- */

/* JSON inside <script>: no '<' may end it */
static int put_json(const char *text, size_t size, void *user)
{
    FILE *f = user;
    for (size_t i = 0; i < size; i++)
        if (text[i] == '<')
            fputs("\\u003c", f);
        else
            fputc(text[i], f);
    return 0;
}

static void write_page(FILE *f, const json_t *data, const char *title)
{
    fputs("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
          "content=\"width=device-width, initial-scale=1\">\n<title>",
          f);
    swh_html_text(f, title);
    fprintf(f, "</title>\n<style>\n%s</style>\n</head>\n<body>\n%s", (const char *)page_css,
            (const char *)page_html);
    fputs("<script type=\"application/json\" id=\"data\">", f);
    json_dump_callback(data, put_json, f, JSON_COMPACT | JSON_REAL_PRECISION(12));
    fprintf(f, "</script>\n<script type=\"text/plain\" id=\"worker\">\n%s</script>\n<script>\n",
            (const char *)worker_js);
    fputs("const WASM = '", f);
    if (computes())
        swh_html_base64(f, wasm, sizeof wasm);
    fprintf(f, "';\n%s</script>\n</body>\n</html>\n", (const char *)page_js);
}

/* FILE.html after --out, or results/lesson.html, as folder and name */
static enum swh_status place(struct swh_session *s, char folder[512], char name[64])
{
    const char *out = swh_option_value(s, SWH_OPT_out), *path = out ? out : "results/lesson.html";
    const char *slash = strrchr(path, '/'), *base = slash ? slash + 1 : path;
    const size_t n = strlen(base);
    if (n < 6 || n >= 64 || strcmp(base + n - 5, ".html") != 0 || (slash && slash - path >= 512))
        return swh_misuse(s, "-o FILE.html", "'%s' as the file of a lesson", path);
    snprintf(folder, 512, "%.*s", slash ? (int)(slash - path) : 1, slash ? path : ".");
    snprintf(name, 64, "%s", base);
    return SWH_OK;
}

static enum swh_status write_file(struct swh_session *s, const json_t *data, const char *title)
{
    struct swh_error err = {0};
    struct swh_out out = {0};
    char folder[512], name[64];
    if (place(s, folder, name) != SWH_OK)
        return swh_problems_status(&s->problems);
    enum swh_status status = swh_out_begin_shared(&out, folder, SWH_OUT_TOGETHER, &err);
    FILE *f = status == SWH_OK ? swh_out_file(&out, name, &err) : NULL;
    if (f) {
        write_page(f, data, title);
        status = swh_out_commit(&out, &err);
    } else
        swh_out_abort(&out);
    if (err.status != SWH_OK)
        return swh_fail(s, &err);
    if (!swh_given(s, SWH_OPT_quiet)) {
        printf("Lesson: %s/%s\n", folder, name);
        if (!computes())
            printf("  It shows the runs that it carries and computes nothing: this program was built without "
                   "-DSWH_WEB=ON.\n");
    }
    return status;
}

/* ---- the stories ---- */

static enum swh_status add_story(struct swh_session *s, const char *path, json_t *stories)
{
    struct swh_error err = {0};
    struct swh_frame frame = {0};
    enum swh_status status = swh_frame_load(&frame, s, path, swh_option_value(s, SWH_OPT_vehicle));
    if (status == SWH_OK && frame.scenario.c.choices.vehicle_circuit != SWH_CIRCUIT_CLOSED)
        swh_error_set(&err, SWH_ERR_INPUT,
                      "a lesson computes the whole circuit, this story's pressures are given");
    else if (status == SWH_OK && frame.scenario.c.own_refrigerant)
        swh_error_set(&err, SWH_ERR_INPUT, "a lesson's page has the program's own refrigerants only");
    json_t *story = status == SWH_OK && err.status == SWH_OK ? swh_lesson_story(&frame.scenario, &err) : NULL;
    if (story)
        json_array_append_new(stories, story);
    else if (status == SWH_OK) {
        swh_error_at(&err, path, 0, 0);
        status = swh_fail(s, &err);
    }
    swh_scenario_free(&frame.scenario);
    return status;
}

enum swh_status swh_cmd_lesson(struct swh_session *s)
{
    json_t *stories = json_array(), *data = swh_lesson_tables(s->units);
    const char *given = swh_option_value(s, SWH_OPT_title),
               *title = given ? given : "What kills a compressor";
    if (!data || !stories) {
        json_decref(data);
        json_decref(stories);
        return swh_no_memory(s, "a lesson");
    }
    enum swh_status status = SWH_OK;
    for (int i = 0; i < s->arguments; i++) {
        const enum swh_status one = add_story(s, s->argument[i], stories);
        status = status == SWH_OK ? one : status;
    }
    json_object_set_new(data, "title", json_string(title));
    json_object_set(data, "stories", stories);
    if (status == SWH_OK)
        status = write_file(s, data, title);
    json_decref(stories);
    json_decref(data);
    return status;
}
