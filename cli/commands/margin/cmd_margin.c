/* swashheat margin: how far from the edge, how long from there, and why. */
#include "cli/base/frame.h"
#include "cli/base/range_option.h"
#include "cli/base/result.h"
#include "cli/commands/margin/margin_result.h"
#include "solver/files/number.h"
#include "solver/files/suggest.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { POINTS = 26, FOLLOWED = 1000 }; /* of the gain and loss curves; most of the edge */

struct job {
    struct swh_frame frame; /* first */
    struct swh_margin_request request;
    struct swh_margin margin;
    bool has_margin, curves, follow;
    struct swh_key second;
    struct swh_range along;
    double *at, *critical; /* along.n each, in one block */
    struct swh_heat_curves heat;
};

/* ---- the command line ---- */

static enum swh_status usage(struct swh_error *err, const char *what, const char *found, const char *expected)
{
    swh_error_set(err, SWH_ERR_USAGE, "%s%s%.60s%s", what, found ? " '" : "", found ? found : "",
                  found ? "'" : "");
    swh_error_expected(err, "%s", expected);
    return SWH_ERR_USAGE;
}

static enum swh_status read_fault(struct job *j, const char *name, struct swh_error *err)
{
    const int fault = swh_fault_find(name);
    if (fault >= 0) {
        swh_key_of_fault((enum swh_fault)fault, &j->request.key);
        return SWH_OK;
    }
    char own[64];
    snprintf(own, sizeof own, "own_fault.%.44s.severity", name);
    if (swh_key_find_in(j->request.base, own, &j->request.key, NULL) == SWH_OK)
        return SWH_OK;
    struct swh_nearest near = {name, NULL, 0};
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        swh_nearest_offer(&near, swh_fault_table[i].id);
    swh_error_set(err, SWH_ERR_INPUT, "unknown fault '%.60s'", name);
    swh_error_expected(err, "a fault of `swashheat list faults`%s", swh_nearest_said(&near).text);
    swh_error_at(err, "--fault", 0, 0);
    return SWH_ERR_INPUT;
}

static void default_range(struct swh_margin_request *q)
{
    const double today = swh_key_get(q->base, &q->key);
    q->lo = q->key.lo;
    q->hi = q->key.hi;
    if (q->key.kind == SWH_KEY_FAULT && q->key.index == SWH_FAULT_undercharge)
        q->hi = 0.95; /* with nothing in the system there is nothing to compute */
    if (q->key.kind != SWH_KEY_PARAM || !(today > 0) || q->key.quantity == SWH_Q_TEMPERATURE)
        return;
    q->lo = fmax(q->lo, today / 3);
    q->hi = fmin(q->hi, today * 3);
}

/* "KEY" with --range, or "KEY=LO..HI" */
static enum swh_status read_vary(struct job *j, const char *text, struct swh_error *err)
{
    if (!strchr(text, '='))
        return swh_vary_key(j->request.base, text, "--vary", &j->request.key, err);
    struct swh_range range;
    const enum swh_status status =
        swh_vary_read(j->frame.session->units, j->request.base, text, &j->request.key, &range, err);
    j->request.lo = range.lo;
    j->request.hi = range.hi;
    return status;
}

static enum swh_status read_key(struct job *j, struct swh_error *err)
{
    const char *fault = swh_option_value(j->frame.session, SWH_OPT_fault);
    const char *vary = swh_option_value(j->frame.session, SWH_OPT_vary);
    const char *range = swh_option_value(j->frame.session, SWH_OPT_range);
    struct swh_margin_request *q = &j->request;
    j->has_margin = fault || vary;
    if (!j->has_margin)
        return j->curves ? SWH_OK
                         : usage(err, "nothing to vary", NULL, "--fault NAME, --vary KEY or --curves");
    if (fault && vary)
        return usage(err, "both --fault and --vary are given", NULL,
                     "one of them; --against names a second number");
    q->lo = q->hi = NAN;
    enum swh_status status = fault ? read_fault(j, fault, err) : read_vary(j, vary, err);
    if (status != SWH_OK)
        return status;
    if (range)
        status = swh_vary_range(j->frame.session->units, range, &q->key, &q->lo, &q->hi, err);
    else if (isnan(q->lo))
        default_range(q);
    if (status == SWH_OK)
        status = swh_margin_check_range(q, err);
    swh_error_at(err, range ? "--range" : "--vary", 0, 0);
    return status;
}

static enum swh_status read_limit(struct job *j, struct swh_error *err)
{
    const char *text = swh_option_value(j->frame.session, SWH_OPT_limit);
    j->request.limit_channel = -1;
    if (!text)
        return SWH_OK;
    char name[64];
    const char *equals = strchr(text, '=');
    snprintf(name, sizeof name, "%.*s", (int)(equals ? equals - text : 0), text);
    const int channel = swh_channel_find(name);
    if (channel < 0)
        return usage(err, "no channel in --limit", text,
                     "CHANNEL=VALUE; `swashheat list channels` shows them");
    j->request.limit_channel = channel;
    const enum swh_status status = swh_units_read(
        j->frame.session->units, equals + 1, swh_channel_table[channel].quantity, &j->request.limit, err);
    swh_error_at(err, "--limit", 0, 0);
    return status;
}

static enum swh_status read_rest(struct job *j, struct swh_error *err)
{
    struct swh_session *s = j->frame.session;
    const char *against = swh_option_value(s, SWH_OPT_against),
               *horizon = swh_option_value(s, SWH_OPT_horizon);
    const char *threads = swh_option_value(s, SWH_OPT_threads);
    enum swh_status status = SWH_OK;
    j->follow = against != NULL;
    if (against && !j->has_margin)
        return usage(err, "--against without a first number", NULL, "--fault NAME or --vary KEY with it");
    if (against)
        status = swh_vary_read(s->units, j->request.base, against, &j->second, &j->along, err);
    if (status == SWH_OK && against &&
        (j->along.n < 2 || j->along.n > FOLLOWED || !(j->along.hi > j->along.lo)))
        status = usage(err, "for --against", against, "KEY=LO..HI:N with LO below HI and 2 to 1000 values");
    if (status == SWH_OK && horizon) {
        status = swh_units_read(s->units, horizon, SWH_Q_TIME, &j->request.horizon, err);
        swh_error_at(err, "--horizon", 0, 0);
    }
    long count = 0;
    if (status == SWH_OK && threads)
        status = swh_vary_count(threads, "--threads", 1, 1024, &count, err);
    j->request.threads = (int)count;
    return status;
}

static enum swh_status prepare(void *job, struct swh_error *err)
{
    struct job *j = job;
    j->request.base = &j->frame.scenario.c;
    j->request.feedbacks = j->request.band = true;
    j->curves = swh_given(j->frame.session, SWH_OPT_curves);
    enum swh_status status = read_key(j, err);
    if (status == SWH_OK)
        status = read_limit(j, err);
    if (status == SWH_OK)
        status = read_rest(j, err);
    return swh_vary_judged(status, "command line", err);
}

/* ---- the work ---- */

static enum swh_status compute(struct job *j, struct swh_error *err)
{
    const struct swh_case *c = &j->frame.scenario.c;
    enum swh_status status = SWH_OK;
    if (j->has_margin)
        status = swh_margin_find(&j->request, &j->margin, err);
    if (status == SWH_OK && j->follow) {
        const size_t n = (size_t)j->along.n;
        j->at = malloc(2 * n * sizeof *j->at);
        if (!j->at)
            return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the edge");
        j->critical = j->at + n;
        status = swh_margin_follow(&j->request, &j->second, j->along.lo, j->along.hi, (int)n, j->at,
                                   j->critical, err);
    }
    if (status == SWH_OK && j->curves)
        status = swh_heat_curves_compute(c, 293.15, 543.15, POINTS, j->request.threads, &j->heat, err);
    return status;
}

/* ---- results ---- */

static json_t *json_edge(const struct job *j)
{
    json_t *all = json_array();
    for (long i = 0; i < j->along.n; i++) {
        json_t *point = json_object();
        json_object_set_new(point, "at", swh_json_number(j->at[i]));
        json_object_set_new(point, "critical", swh_json_number(j->critical[i]));
        json_array_append_new(all, point);
    }
    return all;
}

static json_t *json_crossings(const struct job *j)
{
    struct swh_crossing x[8];
    const int n = swh_heat_crossings(&j->heat, x, 8);
    json_t *all = json_array();
    for (int i = 0; i < n; i++) {
        json_t *one = json_object();
        json_object_set_new(one, "kind",
                            json_string(x[i].kind == SWH_CROSSING_STABLE ? "stable" : "unstable"));
        json_object_set_new(one, "rotor_temperature", swh_json_number(x[i].T));
        json_object_set_new(one, "heat", swh_json_number(x[i].heat));
        json_array_append_new(all, one);
    }
    return all;
}

static json_t *json_of(const struct job *j, const struct swh_margin_result *r)
{
    json_t *root = j->has_margin ? swh_margin_json(r) : json_object();
    if (j->follow) {
        json_object_set_new(root, "against", json_string(j->second.name));
        json_object_set_new(root, "against_unit", json_string(swh_quantities[j->second.quantity].si));
        json_object_set_new(root, "edge_along", json_edge(j));
    }
    if (j->curves)
        json_object_set_new(root, "crossings", json_crossings(j));
    return root;
}

static enum swh_status put_edge(struct job *j, struct swh_error *err)
{
    FILE *f = swh_frame_file(&j->frame, "edge.csv", err);
    if (!f)
        return SWH_ERR_OUTPUT;
    fprintf(f, "%s[%s],%s[%s]\n", j->second.name, swh_quantities[j->second.quantity].si, j->request.key.name,
            swh_quantities[j->request.key.quantity].si);
    for (long i = 0; i < j->along.n; i++) {
        swh_number_put(f, "", j->at[i]);
        swh_number_put(f, ",", j->critical[i]);
        fputc('\n', f);
    }
    return SWH_OK;
}

static enum swh_status put_curves(struct job *j, struct swh_error *err)
{
    FILE *f = swh_frame_file(&j->frame, "heat_curves.csv", err);
    if (!f)
        return SWH_ERR_OUTPUT;
    fprintf(f, "rotor_temperature[K],heat_gained[W],heat_lost[W]\n");
    for (int i = 0; i < j->heat.n; i++) {
        swh_number_put(f, "", j->heat.T[i]);
        swh_number_put(f, ",", j->heat.gain[i]);
        swh_number_put(f, ",", j->heat.loss[i]);
        fputc('\n', f);
    }
    return SWH_OK;
}

static void print_crossings(const struct job *j, FILE *f)
{
    struct swh_crossing x[8];
    const int n = swh_heat_crossings(&j->heat, x, 8);
    fprintf(f, "Gain and loss of heat over the rotor's temperature: %s\n",
            n ? "" : "no crossing, no stable temperature");
    for (int i = 0; i < n; i++) {
        char T[48];
        swh_units_text(j->frame.session->units, swh_session_show(j->frame.session), SWH_Q_TEMPERATURE, x[i].T,
                       T, sizeof T);
        fprintf(f, "  %s at %s, %.0f W\n", x[i].kind == SWH_CROSSING_STABLE ? "stable" : "unstable", T,
                x[i].heat);
    }
}

static void print_edge(const struct job *j, FILE *f)
{
    const enum swh_show show = swh_session_show(j->frame.session);
    fprintf(f, "  %-40s edge of %s\n", j->second.name, j->request.key.name);
    for (long i = 0; i < j->along.n; i++) {
        char x[48], y[48];
        swh_units_text(j->frame.session->units, show, j->second.quantity, j->at[i], x, sizeof x);
        swh_units_text(j->frame.session->units, show, j->request.key.quantity, j->critical[i], y, sizeof y);
        fprintf(f, "  %-40s %s\n", x, y);
    }
}

static enum swh_status tell(const struct job *j, const struct swh_margin_result *r, struct swh_error *err)
{
    if (swh_given(j->frame.session, SWH_OPT_json))
        return swh_frame_tell_json(json_of(j, r), err);
    if (swh_given(j->frame.session, SWH_OPT_quiet))
        return SWH_OK;
    if (j->has_margin)
        swh_margin_print(r, j->frame.session->units, swh_session_show(j->frame.session), stdout);
    if (j->follow)
        print_edge(j, stdout);
    if (j->curves)
        print_crossings(j, stdout);
    return SWH_OK;
}

static enum swh_status write_files(struct job *j, const struct swh_margin_result *r, struct swh_error *err)
{
    enum swh_status status = swh_frame_put_json(&j->frame, "margin.json", json_of(j, r), err);
    if (status == SWH_OK && j->follow)
        status = put_edge(j, err);
    if (status == SWH_OK && j->curves)
        status = put_curves(j, err);
    return status == SWH_OK ? swh_frame_commit(&j->frame, err) : status;
}

static enum swh_status draw(const struct job *j, const struct swh_margin_result *r, struct swh_error *err)
{
    const char *format = swh_option_value(j->frame.session, SWH_OPT_plot);
    if (format && strcmp(format, "none") == 0)
        return SWH_OK;
    enum swh_status status = j->has_margin ? swh_margin_draw(r, j->frame.session, err) : SWH_OK;
    if (status == SWH_OK && j->follow)
        status =
            swh_margin_draw_edge(r, &j->second, j->at, j->critical, (int)j->along.n, j->frame.session, err);
    if (status == SWH_OK && j->curves)
        status = swh_margin_draw_heat(&j->heat, j->frame.scenario.c.name, j->frame.folder,
                                      &j->frame.scenario.c.params, j->frame.session, err);
    return status;
}

static enum swh_status work(void *job, struct swh_error *err)
{
    struct job *j = job;
    enum swh_status status = compute(j, err);
    if (status == SWH_ERR_INPUT)
        swh_error_at(err, j->frame.scenario.path, 0, 0);
    if (status != SWH_OK)
        return status;
    const struct swh_margin_result r = {&j->request, &j->margin, j->frame.scenario.c.name, j->frame.folder};
    status = write_files(j, &r, err);
    if (status == SWH_OK)
        status = draw(j, &r, err);
    return status == SWH_OK ? tell(j, &r, err) : status;
}

static void release(void *job)
{
    struct job *j = job;
    swh_heat_curves_free(&j->heat);
    free(j->at);
}

enum swh_status swh_cmd_margin(struct swh_session *s)
{
    static const struct swh_frame_kind kind = {"margin", sizeof(struct job), prepare, work, release};
    return swh_frame_do(s, &kind);
}
