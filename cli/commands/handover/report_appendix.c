/* The closed end of a page: each picture beside its numbers, every number, how to make them again. */
#include "cli/commands/handover/html.h"
#include "cli/commands/handover/report.h"
#include "cli/commands/handover/report_numbers.h"

#include <string.h>
#include <sys/stat.h>

static const char *text_of(const json_t *o, const char *key)
{
    return json_string_value(json_object_get(o, key));
}

static bool is_result(const struct swh_repair_paper *p)
{
    return p->kind == SWH_PAPER_RANK || p->kind == SWH_PAPER_ACCEPT || p->kind == SWH_PAPER_RUN ||
           p->kind == SWH_PAPER_RESULT;
}

/* ---- pictures ---- */

/* what a picture of a run shows */
static const struct beside {
    const char *stem;
    enum swh_channel ch[8];
    size_t n;
} beside[] = {{"pressures", {SWH_CH_suction_pressure, SWH_CH_discharge_pressure, SWH_CH_clutch}, 3},
              {"body_temperatures",
               {SWH_CH_discharge_temperature, SWH_CH_rotor_temperature, SWH_CH_piston_temperature,
                SWH_CH_block_temperature, SWH_CH_head_temperature, SWH_CH_shell_temperature,
                SWH_CH_oil_temperature, SWH_CH_contact_temperature},
               8},
              {"film_oil",
               {SWH_CH_film_ratio, SWH_CH_boundary_share, SWH_CH_oil_mass, SWH_CH_oil_viscosity,
                SWH_CH_running_clearance},
               5},
              {"charge",
               {SWH_CH_charge, SWH_CH_charge_condenser, SWH_CH_charge_receiver, SWH_CH_charge_evaporator,
                SWH_CH_charge_low_side},
               5},
              {"pressure_enthalpy",
               {SWH_CH_condensing_temperature, SWH_CH_evaporating_temperature, SWH_CH_superheat,
                SWH_CH_subcooling, SWH_CH_discharge_gas_temperature, SWH_CH_mass_flow},
               6}};

static void numbers_beside(struct swh_report *r, const struct swh_repair_paper *run,
                           const struct swh_repair_paper *picture)
{
    const char *base = picture->name + picture->folder + (picture->folder > 0);
    if (!run || run->kind != SWH_PAPER_RUN)
        return;
    for (size_t i = 0; i < sizeof beside / sizeof beside[0]; i++)
        if (strncmp(base, beside[i].stem, strlen(beside[i].stem)) == 0)
            swh_report_channels(r, run->json, "What the picture shows", beside[i].ch, beside[i].n,
                                SWH_GROUP_READING);
    if (strncmp(base, "heat_ledger", 11) == 0)
        swh_report_channels(r, run->json, "What the picture shows", NULL, 0, SWH_GROUP_LEDGER);
}

static void pictures(struct swh_report *r, const struct swh_repair_paper *result)
{
    char name[256], alternative[600];
    for (size_t i = 0; i < r->job->papers; i++) {
        const struct swh_repair_paper *p = &r->job->paper[i];
        if (p->kind != SWH_PAPER_PICTURE || p->photo || !swh_repair_together(p, result))
            continue;
        swh_report_picture_name(p, name, sizeof name);
        snprintf(alternative, sizeof alternative, "%s: %s; its numbers stand beside it or below", name,
                 result->json ? swh_report_run_name(result) : result->name);
        fputs("<div class=\"beside\"><figure>", r->f);
        swh_html_image(r->f, p->path, alternative);
        fputs("<figcaption>", r->f);
        swh_html_text(r->f, name);
        fputs("</figcaption></figure>\n<div>", r->f);
        numbers_beside(r, result, p);
        fputs("</div></div>\n", r->f);
    }
}

/* ---- numbers ---- */

static void percent(struct swh_report *r, const json_t *c, const char *key)
{
    const json_t *v = json_object_get(c, key);
    if (json_is_number(v))
        fprintf(r->f, "%.1f %%", 100 * json_number_value(v));
    else
        fputs("-", r->f);
}

static void ranking(struct swh_report *r, const json_t *list)
{
    fputs("<table><caption>Causes compared</caption><thead><tr><th scope=\"col\">Cause</th><th "
          "scope=\"col\">Share</th><th scope=\"col\">Severity</th><th scope=\"col\">From</th><th "
          "scope=\"col\">To</th><th scope=\"col\">For it</th><th scope=\"col\">Against "
          "it</th></tr></thead><tbody>\n",
          r->f);
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *c = json_array_get(list, i);
        fputs("<tr><th scope=\"row\">", r->f);
        swh_html_words(r->f, text_of(c, "fault"));
        static const char *const columns[] = {"share", "severity", "severity_low", "severity_high"};
        fputs("</th>", r->f);
        for (size_t k = 0; k < sizeof columns / sizeof columns[0]; k++) {
            fputs("<td>", r->f);
            percent(r, c, columns[k]);
            fputs("</td>", r->f);
        }
        fputs("<td>", r->f);
        swh_html_words(r->f, text_of(c, "speaks_for"));
        fputs("</td><td>", r->f);
        swh_html_words(r->f, text_of(c, "speaks_against"));
        fputs("</td></tr>\n", r->f);
    }
    fputs("</tbody></table>\n", r->f);
}

static void ranking_details(struct swh_report *r, const json_t *list)
{
    static const char *const told[] = {"fault",         "share",      "severity",       "severity_low",
                                       "severity_high", "speaks_for", "speaks_against", NULL};
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *c = json_array_get(list, i);
        char caption[128];
        snprintf(caption, sizeof caption, "More of %s",
                 text_of(c, "fault") ? text_of(c, "fault") : "a cause");
        if (json_is_object(c))
            swh_report_object(r, c, caption, told);
    }
}

static void numbers(struct swh_report *r, const struct swh_repair_paper *p)
{
    static const char *const told[] = {"peak",    "lowest", "final", "mean", "units",
                                       "ranking", "answer", "name",  NULL};
    char text[256];
    if (text_of(p->json, "answer")) {
        fputs("<p class=\"answer\">", r->f);
        swh_html_words(r->f, text_of(p->json, "answer"));
        fputs("</p>\n", r->f);
    }
    if (p->kind == SWH_PAPER_RUN) {
        fputs("<p class=\"answer\">", r->f);
        swh_html_words(r->f, swh_report_outcome(r, p->json, text, sizeof text));
        fputs(".</p>\n", r->f);
        swh_report_channels(r, p->json, "What could be read", NULL, 0, SWH_GROUP_READING);
        swh_report_channels(r, p->json, "What cannot be seen", NULL, 0, SWH_GROUP_INSIDE);
        swh_report_channels(r, p->json, "Flows of heat", NULL, 0, SWH_GROUP_LEDGER);
    }
    if (p->kind == SWH_PAPER_RANK) {
        ranking(r, json_object_get(p->json, "ranking"));
        ranking_details(r, json_object_get(p->json, "ranking"));
    }
    swh_report_object(r, p->json, "All else that the program found", told);
}

/* ---- how to make it again ---- */

static void command_line(struct swh_report *r, const struct swh_repair_paper *p)
{
    const char *scenario = text_of(p->json, "scenario"), *vehicle = text_of(p->json, "vehicle");
    fputs("<p>How to make it again: ", r->f);
    if (p->kind == SWH_PAPER_RUN && scenario) {
        fputs("<code>swashheat run ", r->f);
        swh_html_text(r->f, scenario);
        fputs("</code>", r->f);
        if (vehicle) {
            fputs(", with the vehicle <code>", r->f);
            swh_html_text(r->f, vehicle);
            fputs("</code>", r->f);
        }
        fputs(" and the settings among its notes", r->f);
    } else if (p->kind == SWH_PAPER_RANK || p->kind == SWH_PAPER_ACCEPT)
        fprintf(r->f,
                "<code>swashheat %s LOG --vehicle VEHICLE.ini</code>, with the log and the vehicle file of "
                "this job",
                p->kind == SWH_PAPER_RANK ? "rank" : "accept");
    else
        fputs("this result does not say how it was made", r->f);
    fputs(".</p>\n", r->f);
}

static void reproduce(struct swh_report *r, const struct swh_repair_paper *p)
{
    for (size_t i = 0; i < r->job->papers; i++) {
        const struct swh_repair_paper *q = &r->job->paper[i];
        const bool here = swh_repair_together(p, q);
        if (here && q->kind == SWH_PAPER_PROVENANCE)
            swh_report_object(r, q->json, "How it was made, and from what", NULL);
        if (here && strcmp(q->name + q->folder + (q->folder > 0), "case.ini") == 0) {
            fputs("<p>The complete case, to run it again: <code>swashheat run ", r->f);
            swh_html_text(r->f, q->name);
            fputs("</code></p>\n", r->f);
        }
    }
    command_line(r, p);
}

/* ---- files ---- */

static void files(struct swh_report *r)
{
    static const char *const what[] = {[SWH_PAPER_JOB] = "the job, in words",
                                       [SWH_PAPER_FINDINGS] = "findings",
                                       [SWH_PAPER_SETTINGS] = "settings: vehicle, scenario or columns",
                                       [SWH_PAPER_READINGS] = "readings",
                                       [SWH_PAPER_SERIES] = "a table that a command wrote",
                                       [SWH_PAPER_RANK] = "causes compared",
                                       [SWH_PAPER_ACCEPT] = "test after the repair",
                                       [SWH_PAPER_RUN] = "a simulated run",
                                       [SWH_PAPER_RESULT] = "a result",
                                       [SWH_PAPER_PROVENANCE] = "how a result was made",
                                       [SWH_PAPER_BROKEN] = "cannot be read",
                                       [SWH_PAPER_PICTURE] = "a picture, shown in this page",
                                       [SWH_PAPER_OTHER] = "not known to the program, not shown"};
    fputs("<section><h3>All files of the folder</h3><table><caption>What lies in the folder of this "
          "page</caption><thead><tr><th "
          "scope=\"col\">File</th><th scope=\"col\">What it is</th><th "
          "scope=\"col\">Bytes</th></tr></thead><tbody>\n",
          r->f);
    for (size_t i = 0; i < r->job->papers; i++) {
        struct stat st;
        const struct swh_repair_paper *p = &r->job->paper[i];
        fputs("<tr><th scope=\"row\"><code>", r->f);
        swh_html_text(r->f, p->name);
        fprintf(r->f, "</code></th><td>%s</td><td>%lld</td></tr>\n", what[p->kind],
                stat(p->path, &st) == 0 ? (long long)st.st_size : 0);
    }
    fputs("</tbody></table></section>\n", r->f);
}

/* ---- all of it ---- */

static void result(struct swh_report *r, const struct swh_repair_paper *p, bool first_of_folder)
{
    fputs("<section><h3>", r->f);
    swh_html_words(r->f, p->kind == SWH_PAPER_RUN ? swh_report_run_name(p) : p->name);
    fputs("</h3>\n", r->f);
    if (first_of_folder)
        pictures(r, p);
    numbers(r, p);
    reproduce(r, p);
    fputs("</section>\n", r->f);
}

/* is it the first result (or, with `pictures`, the first picture) of its folder? */
static bool first_here(const struct swh_repair_folder *j, size_t i, bool of_pictures)
{
    for (size_t k = 0; k < j->papers; k++) {
        const bool earlier = k < i || of_pictures;
        const bool counts =
            is_result(&j->paper[k]) ||
            (of_pictures && k < i && j->paper[k].kind == SWH_PAPER_PICTURE && !j->paper[k].photo);
        if (earlier && counts && swh_repair_together(&j->paper[k], &j->paper[i]))
            return false;
    }
    return true;
}

void swh_report_appendix(struct swh_report *r)
{
    fputs("<details class=\"appendix\"><summary>Appendix: every number, each picture beside its numbers, and "
          "how to make "
          "them again (left out in print)</summary>\n<h2>Appendix</h2>\n",
          r->f);
    if (r->job->has_job)
        swh_report_compare_runs(r);
    for (size_t i = 0; i < r->job->papers; i++) {
        const struct swh_repair_paper *p = &r->job->paper[i];
        if (is_result(p))
            result(r, p, first_here(r->job, i, false));
        else if (p->kind == SWH_PAPER_PICTURE && !p->photo && first_here(r->job, i, true)) {
            fputs("<section><h3>Pictures without numbers</h3>\n", r->f);
            pictures(r, p);
            fputs("</section>\n", r->f);
        } else if (p->kind == SWH_PAPER_BROKEN)
            swh_missing_add(&r->missing, "the result %s: %s", p->name, p->problem);
    }
    files(r);
    fputs("</details>\n", r->f);
}
