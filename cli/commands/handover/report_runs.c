/* Simulated runs: one sentence, a small table, their pictures; all of them beside each other. */
#include "cli/commands/handover/html.h"
#include "cli/commands/handover/report.h"
#include "model/tables/events.h"

#include <string.h>

static const char *text_of(const json_t *o, const char *key)
{
    return json_string_value(json_object_get(o, key));
}

static double number_of(const json_t *o, const char *key)
{
    const json_t *v = json_object_get(o, key);
    return json_is_number(v) ? json_number_value(v) : NAN;
}

static double peak_of(const json_t *run, enum swh_channel ch)
{
    return number_of(json_object_get(json_object_get(run, "peak"), swh_channel_table[ch].id), "value");
}

const char *swh_report_run_name(const struct swh_repair_paper *p)
{
    const char *name = text_of(p->json, "name");
    return name && name[0] ? name : p->name;
}

static long times_opened(const json_t *run, const char *event)
{
    return (long)json_integer_value(json_object_get(json_object_get(run, "event_count"), event));
}

static const char *event_words(const char *id)
{
    for (int i = 0; i < SWH_EVENT_COUNT; i++)
        if (strcmp(swh_event_table[i].id, id) == 0)
            return swh_event_table[i].help;
    return id;
}

const char *swh_report_outcome(const struct swh_report *r, const json_t *run, char *out, size_t size)
{
    const char *outcome = text_of(run, "outcome"), *by = text_of(run, "protected_by");
    const double after = number_of(run, "time_to_seizure_s");
    char hot[64];
    if (outcome && strcmp(outcome, "shoe_seized") == 0)
        snprintf(out, size, "A shoe welds to the swash plate after %.1f min", after / 60);
    else if (outcome && strcmp(outcome, "bore_seized") == 0)
        snprintf(out, size, "A piston seizes in its bore after %.1f min", after / 60);
    else if (json_is_false(json_object_get(run, "complete")))
        snprintf(out, size, "No answer, the run stopped after %.1f min", number_of(run, "end_time_s") / 60);
    else if (outcome && strcmp(outcome, "protected") == 0 && by)
        snprintf(out, size, "The compressor is kept alive by a switch: %s %ld time%s", event_words(by),
                 times_opened(run, by), times_opened(run, by) == 1 ? "" : "s");
    else
        snprintf(
            out, size, "The compressor survives; its rotor reaches %s",
            swh_report_text(r, SWH_Q_TEMPERATURE, peak_of(run, SWH_CH_rotor_temperature), hot, sizeof hot));
    return out;
}

/* ---- beside each other ---- */

static const struct {
    enum swh_channel ch;
    const char *name;
} compared[] = {{SWH_CH_discharge_pressure, "Highest head"},
                {SWH_CH_discharge_gas_temperature, "Hottest gas"},
                {SWH_CH_rotor_temperature, "Hottest rotor"},
                {SWH_CH_shell_temperature, "Hottest shell"}};
enum { COMPARED = (int)(sizeof compared / sizeof compared[0]) };

static void compare_row(struct swh_report *r, const struct swh_repair_paper *p)
{
    char text[256];
    fputs("<tr><th scope=\"row\">", r->f);
    swh_html_words(r->f, swh_report_run_name(p));
    fputs("</th><td>", r->f);
    swh_html_words(r->f, swh_report_outcome(r, p->json, text, sizeof text));
    fputs("</td>", r->f);
    for (size_t i = 0; i < COMPARED; i++) {
        fputs("<td>", r->f);
        swh_html_text(r->f, swh_report_text(r, swh_channel_table[compared[i].ch].quantity,
                                            peak_of(p->json, compared[i].ch), text, sizeof text));
        fputs("</td>", r->f);
    }
    fprintf(r->f, "<td>%.0f %%</td></tr>\n", 100 * number_of(p->json, "duty"));
}

void swh_report_compare_runs(struct swh_report *r)
{
    if (swh_repair_count(r->job, SWH_PAPER_RUN) < 2)
        return;
    fputs("<section aria-labelledby=\"runs\"><h2 id=\"runs\">The runs beside each "
          "other</h2>\n<table><caption>Simulated, "
          "highest values of each run</caption><thead><tr><th scope=\"col\">Run</th><th scope=\"col\">How it "
          "ends</th>",
          r->f);
    for (size_t i = 0; i < COMPARED; i++)
        fprintf(r->f, "<th scope=\"col\">%s</th>", compared[i].name);
    fputs("<th scope=\"col\">Clutch engaged</th></tr></thead>\n<tbody>\n", r->f);
    for (size_t i = 0; i < r->job->papers; i++)
        if (r->job->paper[i].kind == SWH_PAPER_RUN)
            compare_row(r, &r->job->paper[i]);
    fputs("</tbody></table></section>\n", r->f);
}

/* ---- one by itself ---- */

const char *swh_report_picture_name(const struct swh_repair_paper *p, char *out, size_t size)
{
    char base[256];
    snprintf(base, sizeof base, "%s", p->name + p->folder + (p->folder > 0));
    char *dot = strrchr(base, '.');
    if (dot)
        *dot = '\0';
    swh_keys_as_words(base, out, size);
    for (char *c = out; *c; c++)
        *c = *c == '-' ? ' ' : *c;
    if (out[0] >= 'a' && out[0] <= 'z')
        out[0] = (char)(out[0] - 'a' + 'A');
    return out;
}

static void small_picture(struct swh_report *r, const struct swh_repair_paper *run, const char *stem)
{
    char name[256], alternative[600];
    for (size_t i = 0; i < r->job->papers; i++) {
        const struct swh_repair_paper *p = &r->job->paper[i];
        const char *base = p->name + p->folder + (p->folder > 0);
        if (p->kind != SWH_PAPER_PICTURE || !swh_repair_together(p, run) ||
            strncmp(base, stem, strlen(stem)) != 0 || base[strlen(stem)] != '.')
            continue;
        swh_report_picture_name(p, name, sizeof name);
        snprintf(alternative, sizeof alternative, "%s over time: %s", name, swh_report_run_name(run));
        fputs("<figure>", r->f);
        swh_html_image(r->f, p->path, alternative);
        fputs("<figcaption>", r->f);
        swh_html_text(r->f, name);
        fputs("</figcaption></figure>\n", r->f);
        return;
    }
}

void swh_report_run(struct swh_report *r, const struct swh_repair_paper *p)
{
    char text[256];
    fputs("<section class=\"run\"><h2>", r->f);
    swh_html_words(r->f, swh_report_run_name(p));
    fputs("</h2>\n<p class=\"answer\">", r->f);
    swh_html_words(r->f, swh_report_outcome(r, p->json, text, sizeof text));
    fputs(".</p>\n<ul class=\"who\">", r->f);
    for (size_t i = 0; i < COMPARED; i++) {
        fprintf(r->f, "<li><span>%s</span> <strong>", compared[i].name);
        swh_html_text(r->f, swh_report_text(r, swh_channel_table[compared[i].ch].quantity,
                                            peak_of(p->json, compared[i].ch), text, sizeof text));
        fputs("</strong></li>\n", r->f);
    }
    fprintf(r->f,
            "<li><span>Clutch engaged</span> <strong>%.0f %% of the time</strong></li></ul>\n<div "
            "class=\"photos\">\n",
            100 * number_of(p->json, "duty"));
    small_picture(r, p, "pressures");
    small_picture(r, p, "body_temperatures");
    small_picture(r, p, "film_oil");
    fputs("</div></section>\n", r->f);
}
