/* Pictures of a ranking: how much each cause is to be believed, and which reading says so. */
#include "cli/commands/infer/draw.h"

#include "cli/base/findings_file.h"
#include "cli/base/frame.h"
#include "cli/base/shop_words.h"
#include "cli/commands/infer/finding_words.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

_Static_assert((int)SWH_RANK_MAX <= (int)SWH_PLOT_CAUSES_MAX, "all causes fit into the picture");
_Static_assert((int)SWH_COMPARED <= (int)SWH_PLOT_CHANNELS_MAX, "all channels fit into the picture");

/* ---- what all judges' pictures share ---- */

enum swh_status swh_log_command_draw(const struct swh_log_command *j, swh_log_command_painter draw,
                                     const void *what, size_t size, const char *kept, struct swh_error *err)
{
    struct swh_error inside = {0};
    const struct swh_plot_options o =
        swh_frame_plot_options(j->frame.session, j->frame.folder, &j->frame.scenario.c.params);
    if (o.format == SWH_PLOT_NONE)
        return SWH_OK;
    void *room = calloc(1, size);
    if (!room)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the pictures");
    enum swh_status status = draw(what, room, &o, &inside);
    free(room);
    status = swh_frame_forgive_picture(status, &inside, err);
    return status == SWH_OK ? SWH_OK : swh_frame_no_pictures(kept, err);
}

const char *swh_log_command_text(const struct swh_log_command *j, enum swh_quantity q, double si, char *out,
                                 size_t size)
{
    return swh_units_text(j->frame.session->units, swh_session_show(j->frame.session), q, si, out, size);
}

/* ---- words ---- */

bool swh_cause_speaks_for(const struct swh_cause *c, const struct swh_cause *healthy, int i)
{
    return !c->dropped && !swh_cause_speaks_against(c, i) && c->against[i] < 0.5 * healthy->against[i] &&
           healthy->against[i] > 1.5;
}

bool swh_cause_speaks_against(const struct swh_cause *c, int i)
{
    return !c->dropped && c->against[i] > 4;
}

const char *swh_cause_words(int fault, int second, struct swh_cause_words *out)
{
    swh_frame_words(fault == SWH_HEALTHY ? "healthy" : swh_fault_table[fault].id, out->first,
                    sizeof out->first);
    out->second[0] = '\0';
    if (second != SWH_HEALTHY)
        swh_frame_words(swh_fault_table[second].id, out->second, sizeof out->second);
    return second == SWH_HEALTHY ? NULL : out->second;
}

static void add(char *out, size_t size, const char *text)
{
    const size_t used = strlen(out);
    snprintf(out + used, size - used, "%s", text);
}

/* "condenser blocked (59 %)" behind what is there */
static void add_cause(const struct swh_cause *c, char *out, size_t size)
{
    struct swh_cause_words w;
    char text[160], share[32];
    const bool pair = swh_cause_words(c->fault, c->second, &w);
    snprintf(share, sizeof share, c->share < 0.001 ? "under 0.1" : "%.*f", c->share < 0.0095 ? 1 : 0,
             100 * c->share);
    snprintf(text, sizeof text, "%s%s%s (%s %%)", w.first, pair ? " and " : "", w.second, share);
    add(out, size, text);
}

static bool is_open(const struct swh_ranking *r, int i)
{
    return i == 0 || (r->cannot_tell && 3 * r->cause[i].share > r->cause[0].share);
}

/* "The log cannot tell A (40 %), B (30 %) and C (20 %) apart" */
static void open_title(const struct swh_ranking *r, char *out, size_t size)
{
    int n = 0;
    bool alike = true;
    while (n < r->causes && is_open(r, n)) {
        alike &= r->cause[n].alike != 0 && r->cause[n].alike == r->cause[0].alike;
        n++;
    }
    snprintf(out, size, "The log cannot tell ");
    for (int i = 0; i < n; i++) {
        add(out, size, i == 0 ? "" : n == 2 ? " from " : i + 1 == n ? " and " : ", ");
        add_cause(&r->cause[i], out, size);
    }
    add(out, size, n > 2 ? " apart" : "");
    add(out, size, alike ? ": they count as reading alike" : "");
}

static void causes_title(const struct swh_rank_drawing *q, char *out, size_t size)
{
    const struct swh_ranking *r = q->ranking;
    const struct swh_cause *c = &r->cause[0];
    char severity[160];
    out[0] = '\0';
    if (q->doubtful) {
        add(out, size, q->doubtful);
        return;
    }
    if (r->cannot_tell) {
        open_title(r, out, size);
        return;
    }
    if (c->fault == SWH_HEALTHY)
        add(out, size,
            q->judge->sheets ? "The sheet fits a healthy vehicle: " : "The log fits a healthy vehicle: ");
    add_cause(c, out, size);
    if (c->fault != SWH_HEALTHY) {
        if (c->second == SWH_HEALTHY) {
            swh_severity_range_words(c->fault, c->severity, c->low, c->high, severity, sizeof severity);
            add(out, size, ": ");
            add(out, size, severity);
        }
    }
    if (r->cause[1].share >= 0.01) {
        add(out, size, "; next comes ");
        add_cause(&r->cause[1], out, size);
    }
    out[0] = (char)toupper((unsigned char)out[0]);
}

static void log_name(const struct swh_log_command *j, char *out, size_t size)
{
    const char *path =
        j->frame.session->arguments ? j->frame.session->argument[0] : "findings on bench and vehicle";
    if (j->frame.session->arguments == 0)
        snprintf(out, size, "%s", path);
    else if (strcmp(path, "-") == 0)
        snprintf(out, size, "live log");
    else
        swh_stem(path, out, size);
}

static void subtitle(const struct swh_rank_drawing *q, char *out, size_t size)
{
    char channel[64];
    log_name(q->judge, out, size);
    if (!q->next)
        return;
    swh_frame_words(swh_channel_table[swh_compared[q->next->best]].id, channel, sizeof channel);
    add(out, size, "; next reading: ");
    add(out, size, channel);
    add(out, size, ", ");
    add(out, size, swh_testpoint_table[q->next->point].help);
}

/* ---- causes ---- */

struct drawing {
    char title[512], subtitle[300];
    struct swh_cause_words words[SWH_RANK_MAX];
    struct swh_plot_cause cause[SWH_RANK_MAX];
    struct swh_plot_steady rest[SWH_RANK_MAX];
    char finding_text[SWH_FINDING_COUNT][96];
    const char *finding[SWH_FINDING_COUNT];
    int found[SWH_FINDING_COUNT];
    size_t findings;
};

static void lay_cause(const struct swh_rank_drawing *q, int i, struct drawing *d)
{
    const struct swh_cause *c = &q->ranking->cause[i];
    const bool healthy = c->fault == SWH_HEALTHY, pair = c->second != SWH_HEALTHY;
    const char *second = swh_cause_words(c->fault, c->second, &d->words[i]);
    d->cause[i] = (struct swh_plot_cause){.label = d->words[i].first,
                                          .second = second,
                                          .share = c->share,
                                          .severity = healthy ? NAN : c->severity,
                                          .low = c->low,
                                          .high = c->high,
                                          .second_severity = pair ? c->second_severity : NAN,
                                          .meaning = healthy ? NULL : swh_fault_table[c->fault].severity,
                                          .second_meaning = pair ? swh_fault_table[c->second].severity : NULL,
                                          .alike = c->alike,
                                          .strong = !q->doubtful && is_open(q->ranking, i)};
}

static enum swh_status draw_causes(const struct swh_rank_drawing *q, struct drawing *d,
                                   const struct swh_plot_options *o, struct swh_error *err)
{
    for (int i = 0; i < q->ranking->causes; i++)
        lay_cause(q, i, d);
    causes_title(q, d->title, sizeof d->title);
    subtitle(q, d->subtitle, sizeof d->subtitle);
    const struct swh_plot_causes causes = {d->title, d->subtitle, d->cause, (size_t)q->ranking->causes};
    return swh_plot_causes(&causes, o, err);
}

/* ---- evidence ---- */

/* Causes whose residuals are shown: the first three that were looked at closely, and health to measure them
 * by. Returns their number. */
enum { SHOWN = 4 };
static int choose(const struct swh_ranking *r, const struct swh_cause *out[SHOWN])
{
    const struct swh_cause *healthy = swh_ranking_healthy(r);
    bool has_healthy = false;
    int n = 0;
    for (int i = 0; i < r->causes && n < SHOWN - 1; i++) {
        const struct swh_cause *c = &r->cause[i];
        if (c->dropped || (n >= 2 && c->share < 0.01))
            continue;
        has_healthy |= c == healthy;
        out[n++] = c;
    }
    if (!has_healthy)
        out[n++] = healthy;
    return n;
}

static void lay_rest(const struct swh_ranking *r, const struct swh_cause *c, struct swh_cause_words *words,
                     struct swh_plot_steady *out)
{
    const struct swh_cause *healthy = swh_ranking_healthy(r);
    *out = (struct swh_plot_steady){.share = c->share};
    out->second = swh_cause_words(c->fault, c->second, words);
    out->label = words->first;
    for (int i = 0; i < SWH_COMPARED; i++) {
        out->off[i] = -c->off[i];
        out->scatter[i] = sqrt(fmax(c->against[i] - c->off[i] * c->off[i], 0));
        out->difference[i] = -c->mean[i];
        out->speaks[i] = swh_cause_speaks_against(c, i)                        ? SWH_PLOT_SPEAKS_AGAINST
                         : c != healthy && swh_cause_speaks_for(c, healthy, i) ? SWH_PLOT_SPEAKS_FOR
                                                                               : SWH_PLOT_SPEAKS_NOT;
    }
}

_Static_assert((int)SWH_FINDING_COUNT <= (int)SWH_PLOT_FINDINGS_MAX, "all findings fit into the picture");

static void lay_findings(const struct swh_rank_drawing *q, struct drawing *d)
{
    const struct swh_findings *b = q->judge->bench;
    for (int f = 0; b && f < SWH_FINDING_COUNT; f++) {
        char words[48], value[40];
        if (!isfinite(b->value[f]))
            continue;
        swh_frame_words(swh_finding_table[f].id, words, sizeof words);
        snprintf(
            d->finding_text[d->findings], sizeof d->finding_text[0], "%s: %s", words,
            swh_finding_text(q->judge->frame.session, (enum swh_finding)f, b->value[f], value, sizeof value));
        d->finding[d->findings] = d->finding_text[d->findings];
        d->found[d->findings++] = f;
    }
}

/* The channel in which two causes lie furthest apart; by how many standard deviations into *apart. -1 if that
 * is next to nothing. */
static const double NOTHING = 0.5;
static int parting_of(const struct swh_cause *a, const struct swh_cause *b, double *apart)
{
    int best = -1;
    *apart = NOTHING;
    for (int i = 0; i < SWH_COMPARED; i++)
        if (fabs(a->off[i] - b->off[i]) > *apart) { /* false for a NaN */
            *apart = fabs(a->off[i] - b->off[i]);
            best = i;
        }
    return best;
}

static void evidence_title(const struct swh_rank_drawing *q, const struct swh_cause *a,
                           const struct swh_cause *b, int parting, double apart, char *out, size_t size)
{
    char channel[64], text[160];
    out[0] = '\0';
    if (q->doubtful) {
        add(out, size, q->doubtful);
        return;
    }
    add_cause(a, out, size);
    add(out, size, ", ");
    add_cause(b, out, size);
    out[0] = (char)toupper((unsigned char)out[0]);
    if (parting < 0) {
        const bool told = a->share > 3 * b->share;
        add(out, size,
            q->judge->logs + q->judge->sheets == 0 ? ": by what was found on bench and vehicle"
            : told                                 ? ": by what was found, and by many small differences"
                                                   : ": no reading parts them");
        return;
    }
    swh_frame_words(swh_channel_table[swh_compared[parting]].id, channel, sizeof channel);
    snprintf(text, sizeof text,
             a->alike != 0 && a->alike == b->alike
                 ? ": they count as reading alike, though %s parts them by %.1f standard deviations"
                 : ": %s parts them most, by %.1f standard deviations",
             channel, apart);
    add(out, size, text);
}

static enum swh_status draw_evidence(const struct swh_rank_drawing *q, struct drawing *d,
                                     const struct swh_plot_options *o, struct swh_error *err)
{
    const struct swh_cause *shown[SHOWN];
    double apart;
    const int n = choose(q->ranking, shown);
    const int parting = n > 1 ? parting_of(shown[0], shown[1], &apart) : -1;
    lay_findings(q, d);
    for (int i = 0; i < n; i++) {
        lay_rest(q->ranking, shown[i], &d->words[i], &d->rest[i]);
        for (size_t k = 0; k < d->findings; k++)
            d->rest[i].says[k] = swh_finding_says(q->ranking, shown[i], (enum swh_finding)d->found[k]);
    }
    if (n < 2)
        return SWH_OK;
    evidence_title(q, shown[0], shown[1], parting, apart, d->title, sizeof d->title);
    log_name(q->judge, d->subtitle, sizeof d->subtitle);
    add(d->subtitle, sizeof d->subtitle,
        "; dot: mean, line: scatter of window means; for: explained here, not by health; against: rms above "
        "2");
    const struct swh_plot_evidence evidence = {.title = d->title,
                                               .subtitle = d->subtitle,
                                               .channel = swh_compared,
                                               .channels = SWH_COMPARED,
                                               .parting = q->doubtful ? -1 : parting,
                                               .rest = d->rest,
                                               .rests = (size_t)n,
                                               .finding = d->finding,
                                               .findings = d->findings};
    return swh_plot_evidence(&evidence, o, err);
}

static enum swh_status draw_both(const void *what, void *room, const struct swh_plot_options *o,
                                 struct swh_error *err)
{
    const enum swh_status status = draw_causes(what, room, o, err);
    return status == SWH_OK ? draw_evidence(what, room, o, err) : status;
}

enum swh_status swh_rank_draw(const struct swh_rank_drawing *q, struct swh_error *err)
{
    return swh_log_command_draw(q->judge, draw_both, q, sizeof(struct drawing), "rank.json", err);
}
