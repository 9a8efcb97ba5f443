#include "cli/base/result.h"

#include "cli/base/json_memory.h"
#include "model/base/utf8.h"

#include <math.h>
#include <string.h>

json_t *swh_json_number(double x)
{
    return isfinite(x) ? json_real(x) : json_null();
}

json_t *swh_json_quantity(double x, enum swh_quantity quantity)
{
    return json_pack("{s:o, s:s}", "value", swh_json_number(x), "unit", swh_quantities[quantity].si);
}

json_t *swh_json_param(int param, double value, double spread)
{
    json_t *o = swh_json_quantity(value, swh_param_table[param].quantity);
    json_object_set_new(o, "spread", swh_json_number(spread));
    return o;
}

json_t *swh_json_text(const char *s)
{
    char clean[1024];
    return json_string(swh_utf8_clean(clean, sizeof clean, s));
}

bool swh_json_write(const json_t *json, FILE *f)
{
    if (swh_json_whole(NULL) != SWH_OK)
        return false;
    const bool ok = json_dumpf(json, f, JSON_INDENT(2) | JSON_REAL_PRECISION(12) | JSON_PRESERVE_ORDER) == 0;
    return fputc('\n', f) != EOF && ok;
}

/* {channel: number} of what is finite */
static json_t *channels(const double *value, bool ledger_only)
{
    json_t *o = json_object();
    for (int i = 1; i < SWH_CHANNEL_COUNT; i++)
        if (isfinite(value[i]) && (!ledger_only || swh_channel_table[i].group == SWH_GROUP_LEDGER))
            json_object_set_new(o, swh_channel_table[i].id, json_real(value[i]));
    return o;
}

static json_t *extremes(const struct swh_peak *peak)
{
    json_t *o = json_object();
    for (int i = 1; i < SWH_CHANNEL_COUNT; i++) {
        if (!isfinite(peak[i].value))
            continue;
        json_t *p = swh_json_quantity(peak[i].value, swh_channel_table[i].quantity);
        json_object_set_new(p, "time_s", swh_json_number(peak[i].time));
        json_object_set_new(o, swh_channel_table[i].id, p);
    }
    return o;
}

static json_t *unit_map(void)
{
    json_t *o = json_object();
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        json_object_set_new(o, swh_channel_table[i].id,
                            json_string(swh_quantities[swh_channel_table[i].quantity].si));
    return o;
}

static json_t *event_counts(const struct swh_summary *s)
{
    json_t *o = json_object();
    for (int i = 0; i < SWH_EVENT_COUNT; i++)
        if (s->event_count[i] > 0)
            json_object_set_new(o, swh_event_table[i].id, json_integer(s->event_count[i]));
    return o;
}

static json_t *integrator(const struct swh_integrator_stats *s)
{
    return json_pack("{s:I, s:I, s:I, s:I, s:I, s:I, s:I, s:I}", "steps", (json_int_t)s->steps, "rhs_evals",
                     (json_int_t)s->rhs_evals, "jac_evals", (json_int_t)s->jac_evals, "events",
                     (json_int_t)s->events, "jac_rhs_evals", (json_int_t)s->jac_rhs_evals, "lin_setups",
                     (json_int_t)s->lin_setups, "newton_iters", (json_int_t)s->newton_iters, "restarts",
                     (json_int_t)s->restarts);
}

static void add_comparison(json_t *o, const struct swh_summary *s)
{
    json_t *compared = json_object();
    json_object_set_new(o, "rms", channels(s->rms, false));
    json_object_set_new(o, "bias", channels(s->bias, false));
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        if (s->compared[i] > 0)
            json_object_set_new(compared, swh_channel_table[i].id, json_integer(s->compared[i]));
    json_object_set_new(o, "compared", compared);
}

static json_t *notes_array(const struct swh_notes *n)
{
    json_t *a = json_array();
    for (int i = 0; n && i < n->count; i++)
        json_array_append_new(a, swh_json_text(n->text[i]));
    return a;
}

static void add_files(json_t *o, const struct swh_scenario *s)
{
    json_object_set_new(o, "name", swh_json_text(s->c.name));
    json_object_set_new(o, "scenario", swh_json_text(s->path));
    json_object_set_new(o, "vehicle", s->vehicle[0] ? swh_json_text(s->vehicle) : json_null());
}

json_t *swh_result_json(const struct swh_result *r)
{
    const struct swh_summary *s = r->summary;
    json_t *o = json_object();
    add_files(o, r->scenario);
    json_object_set_new(o, "outcome", json_string(swh_outcome_word(s->outcome)));
    json_object_set_new(o, "cause",
                        s->cause < SWH_SEIZURE_COUNT ? json_string(swh_cause_word(s->cause)) : json_null());
    json_object_set_new(o, "time_to_seizure_s", swh_json_number(s->time_to_seizure));
    json_object_set_new(o, "complete", json_boolean(s->complete));
    json_object_set_new(o, "stopped_because", s->complete ? json_null() : swh_json_text(r->stopped->what));
    json_object_set_new(o, "end_time_s", swh_json_number(s->end_time));
    json_object_set_new(o, "protected_by",
                        s->outcome == SWH_PROTECTED ? json_string(swh_event_table[s->protected_by].id)
                                                    : json_null());
    json_object_set_new(o, "duty", swh_json_number(s->duty));
    json_object_set_new(o, "charge_drift", swh_json_number(s->charge_drift));
    json_object_set_new(o, "energy_residual", swh_json_number(s->energy_residual));
    json_object_set_new(o, "body_residual", swh_json_number(s->body_residual));
    json_object_set_new(o, "heat_moved_J", swh_json_number(s->heat_moved));
    json_object_set_new(o, "suction_cooling_share", swh_json_number(s->suction_cooling_share));
    json_object_set_new(o, "integrator", integrator(&s->stats));
    json_object_set_new(o, "peak", extremes(s->peak));
    json_object_set_new(o, "lowest", extremes(s->lowest));
    json_object_set_new(o, "final", channels(s->final, false));
    json_object_set_new(o, "mean", channels(s->mean, false));
    json_object_set_new(o, "ledger_J", channels(s->ledger, true));
    json_object_set_new(o, "event_count", event_counts(s));
    if (r->replay)
        add_comparison(o, s);
    json_object_set_new(o, "units", unit_map());
    json_object_set_new(o, "notes", notes_array(r->notes));
    return o;
}
