/* The front of a job's page: what the customer and the file get. */
#include "cli/base/frame.h"
#include "cli/base/shop_words.h"
#include "cli/commands/handover/html.h"
#include "cli/commands/handover/report.h"
#include "solver/files/ini.h"
#include "solver/infer/rank.h"

#include <string.h>

/* ---- who, what, when ---- */

static void pair(struct swh_report *r, const char *name, const char *value)
{
    fputs("<li><span>", r->f);
    swh_html_words(r->f, name);
    fputs("</span> <strong>", r->f);
    swh_html_text(r->f, value);
    fputs("</strong></li>\n", r->f);
}

static bool among(const char *word, const char *const *list, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(word, list[i]) == 0)
            return true;
    return false;
}

void swh_report_who(struct swh_report *r)
{
    static const char *const usual[] = {"customer", "vehicle",    "plate",    "odometer",
                                        "date",     "technician", "complaint"};
    enum { USUAL = (int)(sizeof usual / sizeof usual[0]) };
    fputs("<section aria-labelledby=\"who\"><h2 id=\"who\" class=\"quiet\">The job</h2><ul class=\"who\">\n",
          r->f);
    for (size_t i = 0; i < USUAL; i++) {
        const char *value = swh_repair_value(r->job, "job", usual[i]);
        if (value)
            pair(r, usual[i], value);
        else
            swh_missing_add(&r->missing, "the %s of the job", usual[i]);
    }
    for (size_t i = 0; i < r->job->entries; i++) {
        const struct swh_repair_entry *e = &r->job->entry[i];
        if (strcmp(e->section, "job") == 0 && !among(e->key, usual, USUAL))
            pair(r, e->key, e->value);
    }
    fputs("</ul></section>\n", r->f);
}

/* ---- why, and how sure ---- */

static const char *text_of(const json_t *o, const char *key)
{
    return json_string_value(json_object_get(o, key));
}

static double number_of(const json_t *o, const char *key)
{
    const json_t *v = json_object_get(o, key);
    return json_is_number(v) ? json_number_value(v) : NAN;
}

static const char *mechanism_of(int fault)
{
    static const struct {
        enum swh_fault fault;
        const char *text;
    } table[] = {
#define MECHANISM(id, text) {SWH_FAULT_##id, text},
#include "cli/commands/handover/mechanism.def"
#undef MECHANISM
    };
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        if ((int)table[i].fault == fault)
            return table[i].text;
    return NULL;
}

/* the fault of a cause by its name in rank.json, the first of two; -1: healthy or none of this version */
static int fault_of(const char *name)
{
    char first[64];
    snprintf(first, sizeof first, "%.*s", (int)strcspn(name, "+"), name);
    return swh_fault_find(first);
}

/* "undercharge: 66 % of the charge missing, 48 to 85 %" */
static void say_cause(struct swh_report *r, const json_t *cause)
{
    const char *name = text_of(cause, "fault");
    const int fault = name ? fault_of(name) : -1;
    const double severity = number_of(cause, "severity"), low = number_of(cause, "severity_low"),
                 high = number_of(cause, "severity_high");
    char words[200];
    swh_html_words(r->f, name ? name : "a cause without a name");
    if (fault < 0 || !isfinite(severity))
        return;
    fputs(": ", r->f);
    if (isfinite(low) && isfinite(high))
        swh_html_text(r->f, swh_severity_range_words(fault, severity, low, high, words, sizeof words));
    else
        swh_html_text(r->f, swh_severity_words(fault, severity, words, sizeof words));
}

/* the causes that the readings leave open */
static void open_causes(struct swh_report *r, const json_t *rank)
{
    const json_t *list = json_object_get(rank, "ranking");
    fputs("What was read and found leaves several causes open: ", r->f);
    for (size_t i = 0; i < json_array_size(list) && i < 4; i++) {
        const json_t *c = json_array_get(list, i);
        const double share = number_of(c, "share");
        if (i > 1 && !(share >= 0.1))
            break;
        fputs(i ? "; <strong>" : "<strong>", r->f);
        say_cause(r, c);
        fprintf(r->f, "</strong> (%s)", swh_share_word(share));
    }
    fputs(". ", r->f);
}

static bool is_true(const json_t *o, const char *key)
{
    return json_is_true(json_object_get(o, key));
}

static void first_sentence(struct swh_report *r, const json_t *rank, const json_t *best)
{
    const char *name = text_of(best, "fault"), *answer = text_of(rank, "answer");
    if (is_true(rank, "none_fits"))
        swh_html_words(r->f, answer ? answer : "No cause that the program knows explains the readings");
    if (is_true(rank, "none_fits"))
        fputs(". ", r->f);
    else if (is_true(rank, "cannot_tell"))
        open_causes(r, rank);
    else if (name && strcmp(name, "healthy") == 0)
        fputs("The readings fit a healthy system: they do not say why a compressor failed. ", r->f);
    else {
        fprintf(r->f, "The %s cause is <strong>", swh_share_word(number_of(best, "share")));
        say_cause(r, best);
        fputs("</strong>. ", r->f);
    }
}

static void second_sentence(struct swh_report *r, const json_t *rank, const json_t *best)
{
    const char *name = text_of(best, "fault");
    const int fault = name ? fault_of(name) : -1;
    if (fault < 0 || is_true(rank, "none_fits"))
        return;
    if (is_true(rank, "cannot_tell")) {
        fputs("What the first would do: ", r->f);
    }
    if (mechanism_of(fault))
        swh_html_print(r->f, "%s ", mechanism_of(fault));
    else
        swh_html_print(r->f, "%s. ", swh_fault_table[fault].seen);
}

static void third_sentence(struct swh_report *r, const json_t *rank, const json_t *best)
{
    if (is_true(rank, "none_fits"))
        return;
    const char *for_it = text_of(best, "speaks_for"), *against = text_of(best, "speaks_against");
    if (for_it && for_it[0]) {
        fputs(is_true(rank, "cannot_tell") ? "These readings speak for the first: "
                                           : "These readings speak for it: ",
              r->f);
        swh_html_words(r->f, for_it);
        fputs(against && against[0] ? "; these against it: " : "; none speaks against it.", r->f);
    } else
        fputs(against && against[0] ? "These readings speak against it: " : "No single reading decides it.",
              r->f);
    if (against && against[0]) {
        swh_html_words(r->f, against);
        fputc('.', r->f);
    }
}

static void how_sure_line(struct swh_report *r, const json_t *rank)
{
    const json_t *list = json_object_get(rank, "ranking");
    fputs("<p><strong>How sure:</strong> ", r->f);
    for (size_t i = 0; i < json_array_size(list) && i < 4; i++) {
        const json_t *c = json_array_get(list, i);
        const double share = number_of(c, "share");
        if (i > 0 && !(share >= 0.03))
            break;
        fputs(i ? "; " : "", r->f);
        swh_html_words(r->f, text_of(c, "fault"));
        if (share > 0.99)
            swh_html_print(r->f, " is %s (over 99 in 100)", swh_share_word(share));
        else
            swh_html_print(r->f, " is %s (%.0f in 100)", swh_share_word(share), 100 * share);
    }
    fputs(". This compares the causes that the program knows, for the vehicle as its file describes it; a "
          "cause "
          "is a suspicion until it is seen.</p>\n",
          r->f);
    if (text_of(rank, "look")) {
        fputs("<p><strong>A look tells:</strong> ", r->f);
        swh_html_words(r->f, text_of(rank, "look"));
        fputs(".</p>\n", r->f);
    }
}

/* what the ranking took for granted, but for how it read columns */
static void assumed(struct swh_report *r, const json_t *rank)
{
    static const char *const keys[] = {"assumed", "assumptions", "notes"};
    int n = 0;
    const char *whole = text_of(rank, "assumed");
    if (whole && whole[0]) {
        fputs("<p><strong>Taken for granted:</strong> ", r->f);
        swh_html_words(r->f, whole);
        n++;
    }
    for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++) {
        const json_t *list = json_object_get(rank, keys[k]);
        for (size_t i = 0; i < json_array_size(list); i++) {
            const char *s = json_string_value(json_array_get(list, i));
            if (!s || (strncmp(s, "column ", 7) == 0 && strstr(s, " is read as ")))
                continue;
            fputs(n++ ? "; " : "<p><strong>Taken for granted:</strong> ", r->f);
            swh_html_words(r->f, s);
        }
    }
    fputs(n ? ".</p>\n" : "", r->f);
}

static void never_fitted(struct swh_report *r, const json_t *rank)
{
    const char *fitted = text_of(rank, "fitted");
    if (fitted && strcmp(fitted, "never") == 0)
        fputs("<p><strong>This vehicle's file was never fitted to its own healthy readings:</strong> the "
              "shares are not to be "
              "believed, they are a list of what to look at.</p>\n",
              r->f);
}

void swh_report_why(struct swh_report *r)
{
    const struct swh_repair_paper *p = swh_report_last(r, SWH_PAPER_RANK);
    fputs("<section aria-labelledby=\"why\"><h2 id=\"why\">Why the compressor failed</h2>\n", r->f);
    const json_t *best = p ? json_array_get(json_object_get(p->json, "ranking"), 0) : NULL;
    if (!best) {
        fputs("<p>Not known: no causes were compared in this folder.</p></section>\n", r->f);
        swh_missing_add(&r->missing, "a ranking of causes (made by: swashheat rank)");
        return;
    }
    fputs("<p class=\"answer\">", r->f);
    first_sentence(r, p->json, best);
    second_sentence(r, p->json, best);
    third_sentence(r, p->json, best);
    fputs("</p>\n", r->f);
    how_sure_line(r, p->json);
    never_fitted(r, p->json);
    assumed(r, p->json);
    fputs("</section>\n", r->f);
}

/* ---- on the bench ---- */

static void list_section(struct swh_report *r, const char *section)
{
    for (size_t i = 0; i < r->job->entries; i++) {
        const struct swh_repair_entry *e = &r->job->entry[i];
        if (strcmp(e->section, section) != 0)
            continue;
        fputs("<li><strong>", r->f);
        swh_html_words(r->f, e->key);
        fputs(":</strong> ", r->f);
        swh_html_text(r->f, e->value);
        fputs("</li>\n", r->f);
    }
}

struct findings {
    struct swh_report *r;
    int n;
};

static void take_finding(const struct swh_ini_entry *e, void *user)
{
    struct findings *q = user;
    if (!e->key || strcmp(e->section, "findings") != 0)
        return;
    const int i = swh_finding_find(e->key);
    fputs("<li>", q->r->f);
    if (i >= 0)
        swh_html_words(q->r->f, swh_finding_table[i].help);
    else
        swh_html_words(q->r->f, e->key);
    fputs(": ", q->r->f);
    swh_html_text(q->r->f, e->value);
    fputs("</li>\n", q->r->f);
    q->n++;
}

static int list_findings(struct swh_report *r)
{
    struct findings q = {r, 0};
    for (size_t i = 0; i < r->job->papers; i++) {
        struct swh_problems problems = {0};
        if (r->job->paper[i].kind != SWH_PAPER_FINDINGS)
            continue;
        swh_ini_read(r->job->paper[i].path, take_finding, &q, &problems);
        if (problems.count > 0)
            swh_missing_add(&r->missing, "part of %s: %s", r->job->paper[i].name, problems.item[0].what);
    }
    return q.n;
}

static void photos(struct swh_report *r)
{
    int shown = 0;
    for (size_t i = 0; i < r->job->entries; i++) {
        const struct swh_repair_entry *e = &r->job->entry[i];
        if (strcmp(e->section, "photos") != 0)
            continue;
        const struct swh_repair_paper *p = swh_repair_paper_named(r->job, e->key);
        if (!p || !swh_image_type(p->path)) {
            swh_missing_add(&r->missing, "the photo %s (%s): %s", e->key, e->value,
                            p ? "no picture that a browser shows" : "it is not in the folder");
            continue;
        }
        fputs(shown++ ? "<figure>" : "<div class=\"photos\"><figure>", r->f);
        swh_html_image(r->f, p->path, e->value);
        fputs("<figcaption>", r->f);
        swh_html_text(r->f, e->value);
        fputs("</figcaption></figure>\n", r->f);
    }
    fputs(shown ? "</div>\n" : "", r->f);
    if (swh_repair_section_size(r->job, "photos") == 0)
        swh_missing_add(&r->missing, "photos of what lay on the bench");
}

void swh_report_bench(struct swh_report *r)
{
    fputs("<section aria-labelledby=\"bench\"><h2 id=\"bench\">What lay on the bench</h2>\n<ul "
          "class=\"found\">\n",
          r->f);
    list_section(r, "found");
    const int n = list_findings(r);
    if (n == 0 && swh_repair_section_size(r->job, "found") == 0) {
        fputs("<li>Nothing was written down.</li>\n", r->f);
        swh_missing_add(&r->missing, "what was found on the bench");
    }
    fputs("</ul>\n", r->f);
    photos(r);
    fputs("</section>\n", r->f);
}

/* ---- gauges ---- */

static void cell(struct swh_report *r, bool there, enum swh_channel ch, double si)
{
    char text[64];
    fputs("<td>", r->f);
    if (there && isfinite(si))
        swh_html_text(r->f, swh_report_text(r, swh_channel_table[ch].quantity, si, text, sizeof text));
    else
        fputs("<span class=\"none\">not read</span>", r->f);
    fputs("</td>", r->f);
}

static void gauge_row(struct swh_report *r, enum swh_channel ch, const char *name, bool drives)
{
    const struct swh_repair_reading *b = &r->readings->before, *a = &r->readings->after;
    const bool any = (b->there && isfinite(b->read[ch])) || (a->there && isfinite(a->read[ch]));
    if (!any)
        return;
    fputs("<tr><th scope=\"row\">", r->f);
    swh_html_text(r->f, name);
    fputs("</th>", r->f);
    cell(r, b->there, ch, b->read[ch]);
    if (b->has_healthy && !drives)
        cell(r, true, ch, b->healthy[ch]);
    else if (b->has_healthy)
        fputs("<td>the same</td>", r->f);
    cell(r, a->there, ch, a->read[ch]);
    if (a->has_healthy && !drives)
        cell(r, true, ch, a->healthy[ch]);
    else if (a->has_healthy)
        fputs("<td>the same</td>", r->f);
    fputs("</tr>\n", r->f);
}

static void gauge_rows(struct swh_report *r)
{
    static const struct {
        enum swh_channel ch;
        const char *name;
        bool drives;
    } rows[] = {{SWH_CH_ambient_temperature, "Air outside", true},
                {SWH_CH_compressor_speed, "Compressor speed", true},
                {SWH_CH_suction_pressure, "Low side", false},
                {SWH_CH_discharge_pressure, "High side", false},
                {SWH_CH_vent_temperature, "Air from the vent", false},
                {SWH_CH_suction_temperature, "Suction pipe", false},
                {SWH_CH_discharge_temperature, "Discharge pipe", false},
                {SWH_CH_liquid_line_temperature, "Liquid line", false},
                {SWH_CH_valve_inlet_temperature, "Before the valve", false},
                {SWH_CH_shell_temperature, "Compressor shell", false},
                {SWH_CH_condenser_air_in_temperature, "Air into the condenser", false},
                {SWH_CH_condenser_air_out_temperature, "Air behind the condenser", false},
                {SWH_CH_cabin_temperature, "Cabin air", false}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        gauge_row(r, rows[i].ch, rows[i].name, rows[i].drives);
}

static void say_missing_reading(struct swh_report *r, const struct swh_repair_reading *q, const char *when)
{
    if (q->problem[0])
        swh_missing_add(&r->missing, "readings %s the repair: %s", when, q->problem);
    else if (!q->there)
        swh_missing_add(&r->missing,
                        "readings %s the repair (a log or sheet whose name begins with \"%s\", or job.ini, "
                        "[readings] %s = FILE)",
                        when, when, when);
    else if (!q->has_healthy && !r->readings->vehicle_problem[0])
        swh_missing_add(&r->missing, "what a healthy vehicle reads %s",
                        r->readings->vehicle[0]
                            ? "in the minutes of this log: the vehicle could not be run on it"
                            : "(a vehicle.ini in the folder, or job.ini, [readings] vehicle = FILE)");
}

static void gauge_head(struct swh_report *r)
{
    const struct swh_repair_reading *b = &r->readings->before, *a = &r->readings->after;
    fputs("<table class=\"gauges\"><caption>Means over the last ten minutes at most of each log, with the "
          "clutch "
          "engaged. A healthy vehicle: computed for the same air and speeds.</caption>\n<thead><tr><th "
          "scope=\"col\">Reading</th><th scope=\"col\">Before</th>",
          r->f);
    fputs(b->has_healthy ? "<th scope=\"col\">A healthy one then</th>" : "", r->f);
    fputs("<th scope=\"col\">After</th>", r->f);
    fputs(a->has_healthy ? "<th scope=\"col\">A healthy one then</th>" : "", r->f);
    fputs("</tr></thead>\n<tbody>\n", r->f);
}

void swh_report_gauges(struct swh_report *r)
{
    say_missing_reading(r, &r->readings->before, "before");
    say_missing_reading(r, &r->readings->after, "after");
    if (r->readings->vehicle_problem[0])
        swh_missing_add(&r->missing, "what a healthy vehicle reads: %s", r->readings->vehicle_problem);
    fputs("<section aria-labelledby=\"gauges\"><h2 id=\"gauges\">What the gauges read</h2>\n", r->f);
    if (r->readings->before.there || r->readings->after.there) {
        gauge_head(r);
        gauge_rows(r);
        fputs("</tbody></table>\n", r->f);
    } else
        fputs("<p>No readings in this folder.</p>\n", r->f);
    fputs("</section>\n", r->f);
}

/* ---- what was done, the test, what to watch ---- */

void swh_report_done(struct swh_report *r)
{
    static const struct {
        const char *key, *words;
    } needed[] = {{"refrigerant", "how much refrigerant went in (job.ini, [done] refrigerant)"},
                  {"oil", "how much oil went in (job.ini, [done] oil)"}};
    fputs("<section aria-labelledby=\"done\"><h2 id=\"done\">What was done</h2>\n<ul>\n", r->f);
    list_section(r, "done");
    if (swh_repair_section_size(r->job, "done") == 0) {
        fputs("<li>Nothing was written down.</li>\n", r->f);
        swh_missing_add(&r->missing, "what was replaced (job.ini, [done])");
    }
    for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
        if (!swh_repair_value(r->job, "done", needed[i].key))
            swh_missing_add(&r->missing, "%s", needed[i].words);
    fputs("</ul></section>\n", r->f);
}

static void string_list(struct swh_report *r, const json_t *list)
{
    fputs(json_array_size(list) ? "<ul>\n" : "", r->f);
    for (size_t i = 0; i < json_array_size(list); i++) {
        fputs("<li>", r->f);
        swh_html_words(r->f, json_string_value(json_array_get(list, i)));
        fputs("</li>\n", r->f);
    }
    fputs(json_array_size(list) ? "</ul>\n" : "", r->f);
}

/* A command's picture from the folder of its result. */
static void picture_of(struct swh_report *r, const struct swh_repair_paper *result, const char *stem,
                       const char *caption)
{
    for (size_t i = 0; i < r->job->papers; i++) {
        const struct swh_repair_paper *p = &r->job->paper[i];
        const char *base = p->name + p->folder + (p->folder > 0);
        if (p->kind != SWH_PAPER_PICTURE || !result || !swh_repair_together(p, result) ||
            strncmp(base, stem, strlen(stem)) != 0)
            continue;
        fputs("<figure>", r->f);
        swh_html_image(r->f, p->path, caption);
        fprintf(r->f, "<figcaption>%s</figcaption></figure>\n", caption);
        return;
    }
}

void swh_report_test(struct swh_report *r)
{
    const struct swh_repair_paper *p = swh_report_last(r, SWH_PAPER_ACCEPT);
    fputs("<section aria-labelledby=\"test\"><h2 id=\"test\">The test after the repair</h2>\n", r->f);
    if (p) {
        fputs("<p class=\"answer\">", r->f);
        swh_html_words(r->f, text_of(p->json, "answer")                       ? text_of(p->json, "answer")
                             : json_is_true(json_object_get(p->json, "pass")) ? "PASS"
                                                                              : "FAIL");
        fputs(".</p>\n", r->f);
        string_list(r, json_object_get(p->json, "reasons"));
    } else {
        fputs("<p>No test of the repaired vehicle is in this folder: nothing here says that the new "
              "compressor will "
              "live.</p>\n",
              r->f);
        swh_missing_add(&r->missing, "the test after the repair (made by: swashheat accept)");
    }
    fputs("<div class=\"pair\">\n", r->f);
    picture_of(r, swh_report_last(r, SWH_PAPER_RANK), "evidence",
               "Before: the readings beside what each cause would give");
    picture_of(r, p, "accept", "After: the readings beside a healthy vehicle's");
    fputs("</div>\n", r->f);
    fputs("</section>\n", r->f);
}

static void still_open(struct swh_report *r)
{
    const struct swh_repair_paper *rank = swh_report_last(r, SWH_PAPER_RANK),
                                  *accept = swh_report_last(r, SWH_PAPER_ACCEPT);
    const json_t *next = rank ? json_object_get(rank->json, "next_reading") : NULL;
    if (rank && json_is_true(json_object_get(rank->json, "cannot_tell")) && text_of(next, "where")) {
        fputs("<li>Still open between two causes; the reading that tells them apart: ", r->f);
        swh_html_words(r->f, text_of(next, "where"));
        fputs(text_of(next, "how") ? ", at " : "", r->f);
        swh_html_words(r->f, text_of(next, "how"));
        fputs(".</li>\n", r->f);
    }
    const json_t *left = accept ? json_object_get(accept->json, "not_judged") : NULL;
    for (size_t i = 0; i < json_array_size(left); i++) {
        fputs(i ? ", " : "<li>Not read in the test after the repair: ", r->f);
        swh_html_words(r->f, json_string_value(json_array_get(left, i)));
    }
    fputs(json_array_size(left) ? ".</li>\n" : "", r->f);
}

void swh_report_watch(struct swh_report *r)
{
    fputs("<section aria-labelledby=\"watch\"><h2 id=\"watch\">What to watch</h2>\n<ul>\n", r->f);
    list_section(r, "watch");
    still_open(r);
    fputs("<li>Stop the air conditioning and come back at once if the compressor gets loud, smells hot, or "
          "the air turns "
          "warm: minutes count.</li>\n"
          "<li>Have pressures, vent and traces of oil looked at again after some 1000 km or a month (common "
          "practice, no "
          "source).</li>\n</ul></section>\n",
          r->f);
}
