/* swashheat report: the folder of a job, or of results, as one page for the customer and the file. */
#include "cli/base/result_folder.h"
#include "cli/commands/handover/html.h"
#include "cli/commands/handover/report.h"
#include "model/base/utf8.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

static const char style[] = {
#include "cli/commands/handover/report.css.inc"
    , 0};

/* ---- what is missing ---- */

void swh_missing_add(struct swh_missing *m, const char *format, ...)
{
    char line[1400];
    va_list a;
    va_start(a, format);
    vsnprintf(line, sizeof line, format, a);
    va_end(a);
    for (size_t i = 0; i < m->count; i++)
        if (strcmp(m->line[i], line) == 0)
            return;
    if (m->count == m->room) {
        const size_t room = m->room ? 2 * m->room : 16;
        char **more = realloc(m->line, room * sizeof *more);
        m->failed |= !more;
        if (!more)
            return;
        m->line = more;
        m->room = room;
    }
    m->line[m->count] = strdup(line);
    m->failed |= !m->line[m->count];
    m->count += m->line[m->count] != NULL;
}

void swh_missing_free(struct swh_missing *m)
{
    for (size_t i = 0; i < m->count; i++)
        free(m->line[i]);
    free(m->line);
}

static void missing(struct swh_report *r)
{
    if (r->missing.count == 0)
        return;
    fputs("<section class=\"missing\" aria-labelledby=\"missing\"><h2 id=\"missing\">Missing in this "
          "report</h2><ul>\n",
          r->f);
    for (size_t i = 0; i < r->missing.count; i++) {
        fputs("<li>", r->f);
        swh_html_text(r->f, r->missing.line[i]);
        fputs("</li>\n", r->f);
    }
    fputs("</ul></section>\n", r->f);
}

/* ---- the page ---- */

const char *swh_report_text(const struct swh_report *r, enum swh_quantity q, double si, char *out,
                            size_t size)
{
    const bool pressure = q == SWH_Q_PRESSURE || q == SWH_Q_PRESSURE_DIFFERENCE;
    if (!pressure || !isfinite(si)) /* a gauge has no more digits than these */
        return swh_units_text(r->session->units, r->show, q, si, out, size);
    snprintf(out, size, r->show == SWH_SHOW_TRADE ? "%.0f %s" : "%.2f %s",
             swh_units_show(r->session->units, r->show, q, si), swh_units_word(r->show, q));
    return out;
}

const struct swh_repair_paper *swh_report_last(const struct swh_report *r, enum swh_paper kind)
{
    for (size_t i = r->job->papers; i > 0; i--)
        if (r->job->paper[i - 1].kind == kind)
            return &r->job->paper[i - 1];
    return NULL;
}

static const char *title_of(const struct swh_report *r)
{
    return r->title          ? r->title
           : r->job->has_job ? "Report on an air conditioning compressor"
                             : "Results of the compressor heat balance";
}

static void head(struct swh_report *r)
{
    fputs("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
          "content=\"width=device-width, initial-scale=1\">\n<title>",
          r->f);
    swh_html_text(r->f, title_of(r));
    fputs("</title>\n<style>\n", r->f);
    fputs(style, r->f);
    fprintf(r->f, "@page { size: %s; margin: 12mm; }\n</style>\n</head>\n<body>\n",
            r->show == SWH_SHOW_TRADE ? "letter" : "A4");
    fputs("<a class=\"skip\" href=\"#page\">To the page</a>\n<main id=\"page\">\n<h1>", r->f);
    swh_html_text(r->f, title_of(r));
    fputs("</h1>\n", r->f);
}

static void cautions(struct swh_report *r)
{
    fputs(
        "<section class=\"caution\" aria-labelledby=\"care\"><h2 id=\"care\">Before acting on this</h2><ul>\n"
        "<li>Computed from a model and readings that may err; a finding is a suspicion until it is "
        "seen.</li>\n"
        "<li>The circuit is under pressure, parts are hot and turn: eye protection, gloves, distance.</li>\n"
        "<li>Never vent refrigerant and never bypass a pressure switch; some refrigerants burn. PAG oil "
        "irritates skin "
        "and draws water.</li>\n"
        "<li>The vehicle maker's manual, local codes and licensed practice come first.</li></ul></section>\n",
        r->f);
}

static void several(struct swh_report *r, enum swh_paper kind, const char *what)
{
    if (swh_repair_count(r->job, kind) > 1)
        swh_missing_add(&r->missing,
                        "on this front, all %s but the last by name (%s): the appendix has all %zu", what,
                        swh_report_last(r, kind)->name, swh_repair_count(r->job, kind));
}

static void front_of_job(struct swh_report *r)
{
    swh_report_who(r);
    swh_report_why(r);
    swh_report_bench(r);
    swh_report_gauges(r);
    swh_report_done(r);
    swh_report_test(r);
    swh_report_watch(r);
    several(r, SWH_PAPER_RANK, "rankings of causes");
    several(r, SWH_PAPER_ACCEPT, "tests after the repair");
}

static void front_of_results(struct swh_report *r)
{
    swh_report_compare_runs(r);
    if (swh_report_last(r, SWH_PAPER_RANK))
        swh_report_why(r);
    if (swh_report_last(r, SWH_PAPER_ACCEPT))
        swh_report_test(r);
    several(r, SWH_PAPER_RANK, "rankings of causes");
    several(r, SWH_PAPER_ACCEPT, "tests after the repair");
    for (size_t i = 0; i < r->job->papers; i++)
        if (r->job->paper[i].kind == SWH_PAPER_RUN)
            swh_report_run(r, &r->job->paper[i]);
    swh_missing_add(
        &r->missing,
        "who, what and when, readings before and after, what was done: the folder has no job.ini");
}

/* The appendix is written into memory first, so that what it finds missing still stands on the front. */
static enum swh_status page(struct swh_report *r, struct swh_error *err)
{
    FILE *out = r->f;
    char *appendix = NULL;
    size_t size = 0;
    r->f = open_memstream(&appendix, &size);
    if (!r->f) {
        r->f = out;
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a report");
    }
    swh_report_appendix(r);
    const bool failed = ferror(r->f) != 0;
    if (fclose(r->f) != 0 || failed)
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for a report");
    r->f = out;
    head(r);
    if (r->job->has_job)
        front_of_job(r);
    else
        front_of_results(r);
    cautions(r);
    missing(r);
    fwrite(appendix, 1, size, out);
    fputs("</main>\n</body>\n</html>\n", out);
    free(appendix);
    if (r->missing.failed)
        swh_error_set(err, SWH_ERR_MEMORY, "no memory for a report");
    return err->status;
}

/* ---- the command ---- */

static enum swh_status write_page(struct swh_session *s, struct swh_report *r, const char *folder)
{
    struct swh_error err = {0};
    struct swh_out out = {0};
    enum swh_status status = swh_out_begin(&out, folder, &err);
    r->f = status == SWH_OK ? swh_out_file(&out, "report.html", &err) : NULL;
    if (r->f) {
        status = page(r, &err);
        if (status == SWH_OK)
            status = swh_out_commit(&out, &err);
    }
    if (status != SWH_OK || !r->f)
        swh_out_abort(&out);
    if (err.status != SWH_OK)
        return swh_fail(s, &err);
    if (!swh_given(s, SWH_OPT_quiet)) {
        char shown[512];
        printf("Report: %s/report.html\n", swh_utf8_clean(shown, sizeof shown, folder));
        for (size_t i = 0; i < r->missing.count; i++)
            printf("  Missing: %s.\n", r->missing.line[i]);
    }
    return status;
}

/* is there anything that makes a report? */
static bool worth_it(const struct swh_repair_folder *j)
{
    return j->has_job || swh_repair_first(j, SWH_PAPER_RANK) || swh_repair_first(j, SWH_PAPER_ACCEPT) ||
           swh_repair_first(j, SWH_PAPER_RUN) || swh_repair_first(j, SWH_PAPER_RESULT) ||
           swh_repair_first(j, SWH_PAPER_PICTURE);
}

static enum swh_status no_results(struct swh_session *s, const char *folder)
{
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_INPUT, "no results in this folder");
    swh_error_expected(&err, "job.ini, or what another command wrote: summary.json, rank.json, pictures");
    swh_error_at(&err, folder, 0, 0);
    return swh_fail(s, &err);
}

enum swh_status swh_cmd_report(struct swh_session *s)
{
    const char *folder = s->argument[0], *out = swh_option_value(s, SWH_OPT_out);
    struct swh_repair_folder job;
    struct swh_repair_readings *readings = calloc(1, sizeof *readings);
    enum swh_status status = swh_repair_folder_read(&job, folder, &s->problems);
    struct swh_report r = {.session = s,
                           .show = swh_session_show(s),
                           .job = &job,
                           .readings = readings,
                           .title = swh_option_value(s, SWH_OPT_title)};
    if (!readings)
        status = swh_no_memory(s, "a report");
    else if (status == SWH_OK && !worth_it(&job))
        status = no_results(s, folder);
    else if (status == SWH_OK) {
        if (job.has_job)
            swh_repair_readings_take(readings, &job, s);
        status = write_page(s, &r, out ? out : folder);
    }
    swh_missing_free(&r.missing);
    swh_repair_folder_free(&job);
    free(readings);
    return status;
}
