/* swashheat fit: parameters from logs. */
#include "cli/commands/infer/fit_draw.h"
#include "solver/files/suggest.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- what to fit ---- */

static enum swh_status add_free(struct swh_session *s, struct swh_fit_request *q, const char *name)
{
    const int param = swh_param_find(name);
    if (param < 0) {
        struct swh_nearest near = {name, NULL, 0};
        for (int i = 0; i < SWH_PARAM_COUNT; i++)
            swh_nearest_offer(&near, swh_param_table[i].name);
        return swh_misuse(
            s, swh_nearest_is_near(&near) ? near.best : "section.key, see swashheat list parameters",
            "no parameter '%s'", name);
    }
    for (int i = 0; i < q->params; i++)
        if (q->param[i] == param)
            return swh_misuse(s, NULL, "'%s' is to be fitted twice", name);
    if (q->params == SWH_LSQ_MAX)
        return swh_misuse(s, "fewer", "too many parameters to fit");
    q->param[q->params++] = param;
    return SWH_OK;
}

static enum swh_status read_free(struct swh_session *s, struct swh_fit_request *q)
{
    const char *values[SWH_OPTIONS_MAX];
    const int count = swh_option_values(s, SWH_OPT_free, values);
    for (int i = 0; i < count; i++) {
        char text[1024], *rest = NULL;
        snprintf(text, sizeof text, "%s", values[i]);
        for (char *name = strtok_r(text, ", ", &rest); name; name = strtok_r(NULL, ", ", &rest))
            add_free(s, q, name);
    }
    return swh_problems_status(&s->problems);
}

static double number_option(struct swh_session *s, enum swh_option option, double fallback, double lo,
                            double hi)
{
    const char *text = swh_option_value(s, option);
    char *end = NULL;
    if (!text)
        return fallback;
    const double x = strtod(text, &end);
    if (end == text || *end != '\0' || !(x >= lo && x <= hi)) {
        char range[64];
        snprintf(range, sizeof range, "a number between %g and %g", lo, hi);
        swh_misuse(s, range, "'%s'", text);
    }
    return x;
}

static enum swh_status read_request(struct swh_log_command *j, struct swh_fit_request *q)
{
    struct swh_session *s = j->frame.session;
    const char *with = swh_option_value(s, SWH_OPT_with);
    q->vehicle = &j->frame.scenario.c;
    q->doors_given = j->doors_given;
    q->with = with && strcmp(with, "circuit") == 0 ? SWH_FIT_CIRCUIT : SWH_FIT_REPLAY;
    j->replays = q->with == SWH_FIT_REPLAY;
    q->holdout = number_option(s, SWH_OPT_holdout, 0.2, 0, 0.5);
    q->starts = (int)number_option(s, SWH_OPT_starts, SWH_FIT_STARTS, 1, 16);
    q->threads = swh_frame_threads();
    q->robust = true;
    q->profile = swh_given(s, SWH_OPT_profile);
    q->keep_unknown = swh_given(s, SWH_OPT_keep_unknown);
    return read_free(s, q);
}

/* ---- the result ---- */

static json_t *estimates_json(const struct swh_fit_result *r)
{
    json_t *o = json_object();
    for (int i = 0; i < r->estimates; i++) {
        const struct swh_fit_estimate *e = &r->estimate[i];
        json_t *one = swh_json_param(e->param, e->value, e->held ? NAN : e->spread);
        json_object_set_new(one, "low", swh_json_number(e->low));
        json_object_set_new(one, "high", swh_json_number(e->high));
        json_object_set_new(one, "start", swh_json_number(e->start));
        json_object_set_new(one, "identified", json_boolean(e->identified));
        json_object_set_new(one, "held", json_boolean(e->held));
        json_object_set_new(one, "at_bound", json_boolean(e->at_lower || e->at_upper));
        json_object_set_new(one, "profiled", json_boolean(e->profiled));
        json_object_set_new(o, swh_param_table[e->param].name, one);
    }
    return o;
}

static json_t *correlation_json(const struct swh_fit_result *r)
{
    json_t *o = json_object();
    for (int i = 0; i < r->estimates; i++) {
        json_t *row = json_object();
        for (int k = 0; k < r->estimates; k++)
            json_object_set_new(row, swh_param_table[r->estimate[k].param].name,
                                swh_json_number(r->correlation[i * r->estimates + k]));
        json_object_set_new(o, swh_param_table[r->estimate[i].param].name, row);
    }
    return o;
}

static json_t *channels_json(const struct swh_fit_result *r)
{
    json_t *o = json_object();
    for (int i = 0; i < SWH_COMPARED; i++) {
        const struct swh_fit_channel *c = &r->channel[i];
        if (c->points == 0)
            continue;
        json_object_set_new(
            o, swh_channel_table[swh_compared[i]].id,
            json_pack("{s:i, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "points", c->points, "rms",
                      swh_json_number(c->rms), "bias", swh_json_number(c->bias), "holdout_rms",
                      swh_json_number(c->holdout_rms), "lag1", swh_json_number(c->lag1), "durbin_watson",
                      swh_json_number(c->durbin_watson), "effective_points", swh_json_number(c->effective),
                      "slow_error", swh_json_number(c->slow), "allowed", swh_json_number(c->allowed)));
    }
    return o;
}

static const char *name_of(const struct swh_log_command *j, int log)
{
    return log < j->logs ? j->log_name[log] : j->sheet[log - j->logs].name;
}

/* each log alone, before and after: root mean squares of its window means */
static json_t *logs_json(const struct swh_log_command *j, const struct swh_fit_result *r)
{
    json_t *a = json_array();
    for (int log = 0; log < j->logs + j->sheets; log++) {
        const struct swh_fit_log *l = &r->log[log];
        json_t *channels = json_object();
        for (int i = 0; i < SWH_COMPARED; i++)
            if (isfinite(l->rms[i]))
                json_object_set_new(channels, swh_channel_table[swh_compared[i]].id,
                                    json_pack("{s:o, s:o, s:o}", "before", swh_json_number(l->before[i]),
                                              "rms", swh_json_number(l->rms[i]), "holdout_rms",
                                              swh_json_number(l->holdout_rms[i])));
        json_array_append_new(a, json_pack("{s:s, s:o, s:o}", "log", name_of(j, log), "hidden_from_s",
                                           swh_json_number(l->hidden_from), "channels", channels));
    }
    return a;
}

static json_t *fit_json(const struct swh_log_command *j, const struct swh_fit_result *r)
{
    json_t *o = json_object();
    json_t *words = json_array();
    for (int i = 0; i < r->n_cannot_tell; i++)
        json_array_append_new(words, json_string(r->cannot_tell[i]));
    json_object_set_new(o, "estimates", estimates_json(r));
    json_object_set_new(o, "correlation", correlation_json(r));
    json_object_set_new(o, "fits", json_boolean(r->fits));
    json_object_set_new(o, "misfit",
                        json_pack("{s:s, s:o}", "channel",
                                  swh_channel_table[swh_compared[r->misfit_channel]].id, "ratio",
                                  swh_json_number(r->misfit)));
    json_object_set_new(o, "holdout_rms", swh_json_number(r->holdout_rms));
    json_object_set_new(o, "rms", swh_json_number(r->rms));
    json_object_set_new(o, "loss", swh_json_number(r->loss));
    json_object_set_new(o, "spread", swh_json_number(r->spread));
    json_object_set_new(o, "points", json_integer(r->points));
    json_object_set_new(o, "correlation_time_s", swh_json_number(r->correlation_time));
    json_object_set_new(o, "runs", json_integer(r->evals));
    json_object_set_new(o, "starts", json_integer(r->starts));
    json_object_set_new(o, "starts_agree", json_integer(r->starts_agree));
    json_object_set_new(o, "channels", channels_json(r));
    json_object_set_new(o, "logs", logs_json(j, r));
    json_object_set_new(o, "cannot_tell", words);
    swh_frame_notes_json(&j->frame, o);
    return o;
}

static void print_estimates(const struct swh_log_command *j, const struct swh_fit_result *r)
{
    printf("  %-36s %14s   %s\n", "", "value", "95 % interval");
    for (int i = 0; i < r->estimates; i++) {
        const struct swh_fit_estimate *e = &r->estimate[i];
        char value[64], low[64], high[64];
        const struct swh_units *u = j->frame.session->units;
        printf("  %-36s %14s   %s to %s%s%s\n", swh_param_table[e->param].name,
               swh_param_text(u, e->param, e->value, value, sizeof value),
               swh_param_text(u, e->param, e->low, low, sizeof low),
               swh_param_text(u, e->param, e->high, high, sizeof high),
               e->at_lower   ? "   AT ITS LOWER LIMIT"
               : e->at_upper ? "   AT ITS UPPER LIMIT"
                             : "",
               e->held          ? "   not told: stays as it was"
               : !e->identified ? "   only with the rest as it is"
                                : "");
    }
}

static void print_correlations(const struct swh_fit_result *r)
{
    for (int i = 0; i < r->estimates; i++)
        for (int k = 0; k < i; k++)
            if (fabs(r->correlation[i * r->estimates + k]) > 0.8)
                printf("  Correlation of %s and %s: %.2f\n", swh_param_table[r->estimate[i].param].name,
                       swh_param_table[r->estimate[k].param].name, r->correlation[i * r->estimates + k]);
    for (int i = 0; i < r->n_cannot_tell; i++)
        printf("  Not to be told: %s.\n", r->cannot_tell[i]);
}

/* a difference of the channel in the units of the session */
static const char *difference_text(const struct swh_log_command *j, int i, double x, char *out, size_t size)
{
    return swh_units_text(j->frame.session->units, swh_session_show(j->frame.session),
                          swh_units_difference(swh_channel_table[swh_compared[i]].quantity), x, out, size);
}

static void print_channels(const struct swh_log_command *j, const struct swh_fit_result *r)
{
    printf("\n  %-26s %12s %12s %10s %10s\n", "what is left over", "rms", "not seen", "lag-1", "worth");
    for (int i = 0; i < SWH_COMPARED; i++) {
        const struct swh_fit_channel *c = &r->channel[i];
        char rms[64], held[64];
        if (c->points == 0)
            continue;
        printf("  %-26s %12s %12s %10.2f %4.0f of %d\n", swh_channel_table[swh_compared[i]].id,
               difference_text(j, i, c->rms, rms, sizeof rms),
               difference_text(j, i, c->holdout_rms, held, sizeof held), c->lag1, c->effective, c->points);
    }
}

/* How well it fits, by what instruments and the model of a sound vehicle leave. */
static void print_headline(const struct swh_log_command *j, const struct swh_fit_result *r)
{
    const int files = j->logs + j->sheets;
    const struct swh_fit_channel *c = &r->channel[r->misfit_channel];
    char left[64], allowed[64];
    difference_text(j, r->misfit_channel, c->rms, left, sizeof left);
    difference_text(j, r->misfit_channel, c->allowed, allowed, sizeof allowed);
    printf("Fit of %d parameter%s to %d %s%s: what is left over is %s%.2f times what instruments and a sound "
           "model leave (%s: %s of %s).\n\n",
           r->estimates, r->estimates == 1 ? "" : "s", files,
           j->sheets == 0 ? "log"
           : j->logs == 0 ? "sheet"
                          : "file",
           files == 1 ? "" : "s", r->fits ? "at most " : "", r->misfit,
           swh_channel_table[swh_compared[r->misfit_channel]].id, left, allowed);
}

static void print_fit(const struct swh_log_command *j, const struct swh_fit_result *r)
{
    print_headline(j, r);
    print_estimates(j, r);
    print_correlations(r);
    print_channels(j, r);
    printf("\n  %d window means, %d runs; %d of %d starts reached this fit.\n", r->points, r->evals,
           r->starts_agree, r->starts);
    if (r->starts > 1 && r->starts_agree == 1)
        printf(
            "  Only 1 of %d starts reached this fit, the others ended where more is left over: --starts %d "
            "looks further.\n",
            r->starts, r->starts < 8 ? 2 * r->starts : 16);
    swh_frame_print_notes(&j->frame, stdout);
}

static enum swh_status draw_fit(struct swh_log_command *j, const struct swh_fit_request *q,
                                const struct swh_fit_result *r)
{
    struct swh_error err = {0};
    const struct swh_fit_drawing drawing = {j, q, r};
    return swh_fit_draw(&drawing, &err) == SWH_OK ? SWH_OK : swh_fail(j->frame.session, &err);
}

/* Readings that no vehicle gives, or that stay where they are while they drive, are not fitted. */
static enum swh_status check_readings(const struct swh_log_command *j, struct swh_error *err)
{
    const bool refused = j->impossible || j->odd_at_rest || j->stuck;
    if (!refused || swh_given(j->frame.session, SWH_OPT_keep_unknown))
        return SWH_OK;
    const char *why = "";
    for (int i = 0; i < j->frame.notes.count && !why[0]; i++)
        if (i < j->doubts || strstr(j->frame.notes.text[i], "stays where it is"))
            why = j->frame.notes.text[i];
    swh_error_set(err, SWH_ERR_INPUT, "these readings cannot be fitted: %s", why);
    swh_error_expected(err, "a log whose readings can be true; --keep-unknown fits it all the same");
    return SWH_ERR_INPUT;
}

/* Writes, prints and draws. A fit that does not follow the readings leaves no vehicle file. */
static enum swh_status answer(struct swh_log_command *j, const struct swh_fit_request *q,
                              const struct swh_fit_result *r)
{
    struct swh_error err = {0};
    char left[64], allowed[64];
    const struct swh_fit_channel *c = &r->channel[r->misfit_channel];
    const bool good = r->fits || q->keep_unknown;
    swh_log_command_folder(j, "fit");
    enum swh_status status = swh_log_command_write(j, fit_json(j, r), "fit.json", good ? r : NULL);
    if (status == SWH_OK && swh_frame_talks(&j->frame))
        print_fit(j, r);
    if (status == SWH_OK)
        status = draw_fit(j, q, r);
    if (status != SWH_OK || good)
        return status;
    swh_error_set(
        &err, SWH_ERR_INPUT,
        "the model does not follow these readings, and no vehicle file is written: %s is off by %s, "
        "%.1f times what instruments and a sound model leave (%s)",
        swh_channel_table[swh_compared[r->misfit_channel]].id,
        difference_text(j, r->misfit_channel, c->rms, left, sizeof left), r->misfit,
        difference_text(j, r->misfit_channel, c->allowed, allowed, sizeof allowed));
    swh_error_expected(&err, "units and channels first (swashheat check), then the vehicle file; "
                             "--keep-unknown writes it all the same");
    swh_error_at(&err, j->frame.session->argument[0], 0, 0);
    return swh_fail(j->frame.session, &err);
}

static enum swh_status fit_all(struct swh_log_command *j)
{
    struct swh_error err = {0};
    struct swh_fit_request q = {0};
    enum swh_status status = read_request(j, &q);
    if (status == SWH_OK)
        status = swh_log_command_logs(j, NULL);
    if (status != SWH_OK)
        return status;
    if (j->sheets > 0 && !swh_option_value(j->frame.session, SWH_OPT_with))
        q.with = SWH_FIT_CIRCUIT; /* a sheet has no course in time that could drive the body */
    q.log = j->log;
    q.logs = j->logs;
    q.sheet = j->sheet;
    q.sheets = j->sheets;
    if (q.params == 0 && (j->logs > 0 || swh_fit_usual(&q, &j->frame.scenario.c) == 0))
        return swh_misuse(j->frame.session, "--free KEY,KEY", "fit without parameters to fit");
    struct swh_fit_result *r = calloc(1, sizeof *r);
    if (!r)
        return swh_no_memory(j->frame.session, "a fit");
    status = check_readings(j, &err);
    if (status == SWH_OK)
        status = swh_fit(&q, r, &err);
    if (status == SWH_OK) {
        status = answer(j, &q, r);
    } else {
        if (status == SWH_ERR_INPUT)
            swh_error_at(&err, j->frame.session->argument[0], 0, 0);
        swh_fail(j->frame.session, &err);
    }
    free(r);
    return status;
}

enum swh_status swh_cmd_fit(struct swh_session *s)
{
    struct swh_log_command *j = calloc(1, sizeof *j);
    if (!j)
        return swh_no_memory(s, "a fit");
    enum swh_status status = swh_log_command_vehicle(j, s);
    if (status == SWH_OK)
        status = fit_all(j);
    swh_log_command_free(j);
    free(j);
    return status;
}
