/* swashheat rank: causes in the order in which they explain a log. */
#include "cli/base/findings_file.h"
#include "cli/base/shop_words.h"
#include "cli/commands/infer/finding_words.h"
#include "cli/commands/infer/live_rank.h"
#include "cli/commands/infer/steps.h"
#include "cli/commands/infer/trust_words.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- words ---- */

static const char *repair_of(const struct swh_cause *c)
{
    return c->fault == SWH_HEALTHY ? "nothing to repair" : swh_fault_table[c->fault].repair;
}

/* channels that a cause leaves unexplained, or explains where the healthy vehicle does not */
static void channel_words(const struct swh_cause *c, const struct swh_cause *healthy, bool speaks_for,
                          char *out, size_t size)
{
    out[0] = '\0';
    for (int i = 0; i < SWH_COMPARED; i++) {
        const bool against = swh_cause_speaks_against(c, i);
        if (!(speaks_for ? !against && swh_cause_speaks_for(c, healthy, i) : against))
            continue;
        const size_t used = strlen(out);
        snprintf(out + used, size - used, "%s%s", used ? ", " : "", swh_channel_table[swh_compared[i]].id);
    }
}

/* why no answer can be drawn from the log whatever the shares say; NULL: it can */
static const char *doubtful(const struct swh_log_command *j)
{
    const struct swh_readings read = swh_log_command_readings(j);
    if (j->impossible)
        return "No vehicle can have given these readings; what follows is worth nothing "
               "before that "
               "is put right";
    if (j->clutch_off)
        return "The clutch is never on in these readings: they cannot tell what ails a compressor at work";
    return read.log && swh_log_memory_at_work(read.log) < SWH_LEAST_AT_WORK
               ? "The log is too short to tell: less than 5 minutes with the clutch engaged, which the "
                 "compressor's metal "
                 "needs to warm"
               : NULL;
}

static const char *this_kind(const struct swh_log_command *j)
{
    return j->logs ? "This log" : j->sheets ? "This sheet" : "These findings";
}

/* all causes that the log leaves open: within a factor of three of the first */
static void open_question(const struct swh_log_command *j, const struct swh_ranking *r, char *out,
                          size_t size)
{
    char name[80];
    size_t used = (size_t)snprintf(out, size, "%s cannot tell these apart:", this_kind(j));
    for (int i = 0; i < r->causes && 3 * r->cause[i].share > r->cause[0].share && used < size; i++)
        used += (size_t)snprintf(out + used, size - used, "%s %s (share %.0f %%)", i ? "," : "",
                                 swh_cause_name(&r->cause[i], name, sizeof name), 100 * r->cause[i].share);
}

static const struct {
    enum swh_fault a, b;
    const char *text;
} looks[] = {
#define LOOK(a, b, text) {SWH_FAULT_##a, SWH_FAULT_##b, text},
#include "cli/base/looks.def"
#undef LOOK
};

static bool is_open(const struct swh_ranking *r, enum swh_fault fault)
{
    for (int i = 0; i < r->causes && 3 * r->cause[i].share > r->cause[0].share; i++)
        if (r->cause[i].fault == (int)fault && r->cause[i].second == SWH_HEALTHY)
            return true;
    return false;
}

static const char *look_for(const struct swh_ranking *r)
{
    for (size_t i = 0; i < sizeof looks / sizeof looks[0]; i++)
        if (r->cannot_tell && is_open(r, looks[i].a) && is_open(r, looks[i].b))
            return looks[i].text;
    return NULL;
}

static void sentence(const struct swh_log_command *j, const struct swh_ranking *r, char *out, size_t size)
{
    char a[80], b[80], much[160];
    const struct swh_cause *c = &r->cause[0];
    swh_cause_name(c, a, sizeof a);
    swh_cause_name(&r->cause[1], b, sizeof b);
    if (r->none_fits && !doubtful(j))
        swh_none_fits_text(j, r, out, size);
    else if (doubtful(j))
        snprintf(out, size, "%s (%s has a share of %.0f %%, %s of %.0f %%)", doubtful(j), a, 100 * c->share,
                 b, 100 * r->cause[1].share);
    else if (r->cannot_tell)
        open_question(j, r, out, size);
    else if (c->fault == SWH_HEALTHY)
        snprintf(out, size, "%s fit%s a healthy vehicle: %s (share %.0f %%); next comes %s (%.0f %%)",
                 this_kind(j), j->logs + j->sheets ? "s" : "", swh_share_word(c->share), 100 * c->share, b,
                 100 * r->cause[1].share);
    else if (c->second != SWH_HEALTHY)
        snprintf(out, size, "Two faults together, %s: %s (share %.0f %%)", swh_share_word(c->share), a,
                 100 * c->share);
    else
        snprintf(out, size, "%s, %s: %s (share %.0f %%)", a, swh_share_word(c->share),
                 swh_severity_range_words(c->fault, c->severity, c->low, c->high, much, sizeof much),
                 100 * c->share);
}

/* ---- JSON ---- */

static json_t *cause_json(const struct swh_cause *c, const struct swh_cause *healthy)
{
    char name[80], text[400];
    json_t *o = json_object(), *channels = json_object();
    json_object_set_new(o, "fault", json_string(swh_cause_name(c, name, sizeof name)));
    json_object_set_new(o, "share", swh_json_number(c->share));
    json_object_set_new(o, "severity", swh_json_number(c->severity));
    json_object_set_new(o, "severity_low", swh_json_number(c->low));
    json_object_set_new(o, "severity_high", swh_json_number(c->high));
    if (c->second != SWH_HEALTHY)
        json_object_set_new(o, "second_severity", swh_json_number(c->second_severity));
    json_object_set_new(o, "chi2", swh_json_number(c->chi2));
    json_object_set_new(o, "criterion", swh_json_number(c->criterion));
    json_object_set_new(o, "dropped_early", json_boolean(c->dropped));
    channel_words(c, healthy, true, text, sizeof text);
    json_object_set_new(o, "speaks_for", swh_json_text(text));
    channel_words(c, healthy, false, text, sizeof text);
    json_object_set_new(o, "speaks_against", swh_json_text(text));
    for (int i = 0; i < SWH_COMPARED && !c->dropped; i++)
        if (isfinite(c->mean[i]))
            json_object_set_new(channels, swh_channel_table[swh_compared[i]].id,
                                json_pack("{s:o, s:o, s:o}", "mean", swh_json_number(c->mean[i]),
                                          "last_third", swh_json_number(c->last[i]), "chi2_per_window",
                                          swh_json_number(c->against[i])));
    json_object_set_new(o, "channels", channels);
    json_object_set_new(o, "repair", json_string(repair_of(c)));
    return o;
}

/* what predictions are computed for: plan takes it up */
static json_t *conditions_json(const struct swh_log_command *j)
{
    const struct swh_inputs *in = &j->frame.scenario.c.conditions;
    const enum swh_origin *who = j->frame.scenario.conditions;
    json_t *o = json_object();
    json_object_set_new(o, "ambient_temperature",
                        who[SWH_IN_ambient_temperature] == SWH_FROM_DEFAULT
                            ? json_null()
                            : swh_json_quantity(in->ambient_temperature, SWH_Q_TEMPERATURE));
    json_object_set_new(o, "ambient_humidity",
                        who[SWH_IN_ambient_humidity] == SWH_FROM_DEFAULT
                            ? json_null()
                            : swh_json_number(in->ambient_humidity));
    return o;
}

static json_t *rank_json(const struct swh_log_command *j, const struct swh_ranking *r,
                         const struct swh_steps *steps)
{
    char text[512];
    const struct swh_readings read = swh_log_command_readings(j);
    json_t *o = json_object(), *a = json_array();
    for (int i = 0; i < r->causes; i++)
        json_array_append_new(a, cause_json(&r->cause[i], swh_ranking_healthy(r)));
    json_object_set_new(o, "ranking", a);
    sentence(j, r, text, sizeof text);
    json_object_set_new(o, "answer", swh_json_text(text));
    json_object_set_new(o, "cannot_tell", json_boolean(r->cannot_tell || r->none_fits || doubtful(j)));
    json_object_set_new(o, "none_fits", json_boolean(r->none_fits));
    json_object_set_new(o, "fitted", json_string(swh_knowledge_word(r->knowledge)));
    json_object_set_new(o, "vehicle_file",
                        swh_json_text(swh_knowledge_text(&j->frame.scenario.c.params, text, sizeof text)));
    json_object_set_new(o, "assumed", swh_json_text(swh_assumed_text(j, r, text, sizeof text)));
    if (r->points > 0)
        json_object_set_new(o, "misfit",
                            json_pack("{s:s, s:o}", "channel",
                                      swh_channel_table[swh_compared[r->farthest]].id, "deviations",
                                      swh_json_number(r->misfit)));
    if (look_for(r))
        json_object_set_new(o, "look", json_string(look_for(r)));
    json_object_set_new(o, "findings", swh_findings_json(j->frame.session, j->bench, r));
    json_object_set_new(o, "readings", json_string(swh_log_command_kind(j)));
    json_object_set_new(o, "conditions", conditions_json(j));
    json_object_set_new(o, "direct", steps ? swh_steps_direct_json(j, steps) : json_array());
    json_object_set_new(o, "told_apart", json_boolean(steps && steps->told));
    json_object_set_new(o, "stop", swh_stop_json(j));
    json_object_set_new(o, "next_reading", steps ? swh_steps_next_json(steps) : json_null());
    json_object_set_new(o, "chi2_per_window", swh_json_number(r->spread));
    json_object_set_new(o, "time_at_work_s", swh_json_number(swh_readings_at_work(&read)));
    json_object_set_new(o, "windows", json_integer(r->points));
    json_object_set_new(o, "runs", json_integer(r->runs));
    json_object_set_new(o, "doors_open", json_boolean(r->drive.doors_open));
    swh_frame_notes_json(&j->frame, o);
    return o;
}

/* ---- print ---- */

static void print_cause(const struct swh_ranking *r, int i)
{
    const struct swh_cause *c = &r->cause[i];
    char text[512], name[80];
    printf("  %-34s %-12s %4.0f %%   ", swh_cause_name(c, name, sizeof name), swh_share_word(c->share),
           100 * c->share);
    if (c->second != SWH_HEALTHY)
        printf("%s; ", swh_severity_words(c->fault, c->severity, text, sizeof text));
    if (c->second != SWH_HEALTHY)
        printf("%s\n", swh_severity_words(c->second, c->second_severity, text, sizeof text));
    else if (c->fault == SWH_HEALTHY)
        printf("nothing to repair\n");
    else
        printf("%s\n", swh_severity_range_words(c->fault, c->severity, c->low, c->high, text, sizeof text));
    channel_words(c, swh_ranking_healthy(r), true, text, sizeof text);
    if (text[0] && i < 3)
        printf("      fits, where a healthy vehicle would not: %s\n", text);
    channel_words(c, swh_ranking_healthy(r), false, text, sizeof text);
    if (text[0] && i < 3)
        printf("      does not fit: %s\n", text);
}

/* all that are possible, at least five; the others in one line, or each with -v */
static void print_causes(const struct swh_log_command *j, const struct swh_ranking *r)
{
    const bool all = swh_given(j->frame.session, SWH_OPT_verbose);
    double rest = 0;
    int others = 0;
    printf("\n  %-34s %-12s %6s   %s\n", "cause", "how likely", "share", "how much (95 %)");
    for (int i = 0; i < r->causes; i++) {
        if (all || i < 5 || r->cause[i].share > 0.02) {
            print_cause(r, i);
            continue;
        }
        rest += r->cause[i].share;
        others++;
    }
    if (others > 0)
        printf("  %d other%s, together%*s%4.0f %%   (-v lists them)\n", others, others == 1 ? "" : "s",
               others > 9 ? 28 : 29, "", 100 * rest);
}

static void print_ranking(const struct swh_log_command *j, const struct swh_ranking *r,
                          const struct swh_steps *steps)
{
    char text[512];
    if (swh_knowledge_text(&j->frame.scenario.c.params, text, sizeof text)[0])
        printf("%s.\n", text);
    if (swh_assumed_text(j, r, text, sizeof text)[0])
        printf("Assumed: %s.\n", text);
    sentence(j, r, text, sizeof text);
    printf("%s.\n", text);
    for (int i = 0; i < j->doubts; i++)
        printf("  ! %s%s\n", j->frame.notes.text[i], swh_note_end(j->frame.notes.text[i]));
    print_causes(j, r);
    swh_findings_print(j->frame.session, j->bench, r, stdout);
    if (look_for(r))
        printf("\n  A look tells: %s.\n", look_for(r));
    if (steps)
        swh_steps_print_next(j, steps, stdout);
    if (r->cause[0].fault != SWH_HEALTHY && !r->cannot_tell && !r->none_fits && !doubtful(j))
        printf("\n  Repair: %s. The vehicle maker's manual and local rules decide.\n",
               repair_of(&r->cause[0]));
    swh_frame_print_notes(&j->frame, stdout);
}

/* ---- live ---- */

static enum swh_status follow(struct swh_log_command *j, struct swh_log_memory *log, struct swh_error *err)
{
    (void)err;
    swh_live_rank_row(j->row_user, log);
    return SWH_OK;
}

/* the logs; a live one is ranked on the way */
static enum swh_status read_logs(struct swh_log_command *j, const struct swh_findings *bench)
{
    if (j->frame.session->arguments == 0 || strcmp(j->frame.session->argument[0], "-") != 0 ||
        swh_given(j->frame.session, SWH_OPT_quiet))
        return swh_log_command_logs(j, NULL);
    struct swh_live_rank live;
    swh_live_rank_begin(&live, j, bench);
    j->row_user = &live;
    const enum swh_status status = swh_log_command_logs(j, follow);
    swh_live_rank_end(&live);
    return status;
}

/* ---- the command ---- */

/* The next step, from what was read of the conditions, if there is one. SWH_ERR_MEMORY: nobody knows. */
static enum swh_status plan_next(struct swh_log_command *j, const struct swh_ranking *r,
                                 struct swh_steps *steps, bool *planned, struct swh_error *err)
{
    struct swh_error inside = {0};
    double ambient, humidity;
    swh_steps_read_conditions(j, &ambient, &humidity);
    swh_steps_conditions(j, ambient, humidity);
    steps->locked = j->logs + j->sheets == 0;
    swh_steps_from_ranking(steps, r);
    const enum swh_status status = swh_steps_make(j, steps, &inside);
    *planned = status == SWH_OK;
    return status == SWH_ERR_MEMORY ? swh_error_set(err, status, "%s", inside.what) : SWH_OK;
}

static enum swh_status draw_ranking(struct swh_log_command *j, const struct swh_ranking *r,
                                    const struct swh_steps *steps)
{
    struct swh_error err = {0};
    char text[512];
    const struct swh_rank_drawing drawing = {j, r, steps ? steps->next : NULL,
                                             doubtful(j)    ? doubtful(j)
                                             : r->none_fits ? swh_none_fits_text(j, r, text, sizeof text)
                                                            : NULL};
    return swh_rank_draw(&drawing, &err) == SWH_OK ? SWH_OK : swh_fail(j->frame.session, &err);
}

/* files, words and picture of a ranking */
static enum swh_status tell_ranking(struct swh_log_command *j, const struct swh_ranking *r,
                                    struct swh_steps *steps)
{
    struct swh_error err = {0};
    bool planned = false;
    if (plan_next(j, r, steps, &planned, &err) != SWH_OK)
        return swh_fail(j->frame.session, &err);
    const struct swh_steps *next = planned ? steps : NULL;
    swh_log_command_folder(j, "rank");
    const enum swh_status status = swh_log_command_write(j, rank_json(j, r, next), "rank.json", NULL);
    if (status == SWH_OK && swh_frame_talks(&j->frame))
        print_ranking(j, r, next);
    return status == SWH_OK ? draw_ranking(j, r, next) : status;
}

static enum swh_status rank_log(struct swh_log_command *j, const struct swh_findings *bench)
{
    struct swh_error err = {0};
    struct swh_ranking *r = calloc(1, sizeof *r);
    struct swh_steps *steps = calloc(1, sizeof *steps);
    const struct swh_readings read = swh_log_command_readings(j);
    const struct swh_rank_request q = {.vehicle = &j->frame.scenario.c,
                                       .doors_given = j->doors_given,
                                       .log = read.log,
                                       .sheet = read.sheet,
                                       .bench = bench,
                                       .threads = swh_frame_threads(),
                                       .pairs = true};
    if (!r || !steps) {
        free(r);
        free(steps);
        return swh_no_memory(j->frame.session, "a ranking");
    }
    enum swh_status status = swh_rank(&q, r, &err);
    if (status != SWH_OK) {
        swh_error_at(&err, j->frame.session->arguments ? j->frame.session->argument[0] : "--bench", 0, 0);
        swh_fail(j->frame.session, &err);
    } else
        status = tell_ranking(j, r, steps);
    free(r);
    free(steps);
    return status;
}

enum swh_status swh_cmd_rank(struct swh_session *s)
{
    struct swh_log_command *j = calloc(1, sizeof *j);
    struct swh_findings bench;
    const char *file = swh_option_value(s, SWH_OPT_bench);
    if (!j)
        return swh_no_memory(s, "a ranking");
    enum swh_status status = swh_log_command_vehicle(j, s);
    if (status == SWH_OK && !file && s->arguments == 0)
        status = swh_misuse(s, "LOG, a sheet, or --bench FILE", "nothing was read and nothing looked at");
    if (status == SWH_OK && file)
        status = swh_findings_read(s, file, &j->frame.scenario.c, &bench);
    j->bench = file ? &bench : NULL;
    if (status == SWH_OK)
        status = read_logs(j, file ? &bench : NULL);
    if (status == SWH_OK)
        status = swh_log_command_ask(j);
    if (status == SWH_OK)
        status = rank_log(j, file ? &bench : NULL);
    swh_log_command_free(j);
    free(j);
    return status;
}
