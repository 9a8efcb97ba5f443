#include "cli/commands/margin/margin_result.h"

#include "cli/base/result.h"

#include <math.h>
#include <string.h>

/* ---- JSON ---- */

static json_t *json_try(const struct swh_margin_try *t)
{
    json_t *o = json_object();
    json_object_set_new(o, "at", swh_json_number(t->x));
    json_object_set_new(o, "outcome", json_string(swh_margin_try_word(t)));
    json_object_set_new(o, "cause",
                        t->cause < SWH_SEIZURE_COUNT ? json_string(swh_cause_word(t->cause)) : json_null());
    json_object_set_new(o, "holds", json_boolean(!t->lost));
    json_object_set_new(o, "time_to_seizure_s", swh_json_number(t->to_seizure));
    json_object_set_new(o, "time_to_loss_s", swh_json_number(t->to_loss));
    json_object_set_new(o, "growth_per_s", swh_json_number(t->growth));
    json_object_set_new(o, "rotor_temperature", swh_json_number(t->rotor));
    return o;
}

static json_t *json_tries(const struct swh_margin_try *t, int n)
{
    json_t *all = json_array();
    for (int i = 0; i < n; i++)
        json_array_append_new(all, json_try(&t[i]));
    return all;
}

static double first_time(const struct swh_margin *m)
{
    for (int i = 0; i < m->beyond_count; i++)
        if (isfinite(m->beyond[i].to_seizure))
            return m->beyond[i].to_seizure;
    return NAN;
}

static void set_feedbacks(json_t *root, const struct swh_margin *m)
{
    json_t *shares = json_object(), *edges = json_object();
    for (int k = 0; k < SWH_FEEDBACK_COUNT && m->has_feedbacks; k++) {
        json_object_set_new(shares, swh_feedback_table[k].id, swh_json_number(m->feedback[k].share));
        json_object_set_new(edges, swh_feedback_table[k].id, swh_json_number(m->feedback[k].critical));
    }
    json_object_set_new(root, "feedbacks", shares);
    json_object_set_new(root, "critical_without_feedback", edges);
}

static void set_band(json_t *root, const struct swh_margin *m)
{
    json_t *band = json_object(), *by = json_object();
    json_object_set_new(band, "low", m->band.known ? swh_json_number(m->band.low) : json_null());
    json_object_set_new(band, "high", m->band.known ? swh_json_number(m->band.high) : json_null());
    for (int k = 0; k < SWH_SPREAD_COUNT; k++) {
        json_t *ends = json_array();
        for (int i = 0; i < 2; i++)
            json_array_append_new(ends, swh_json_number(m->band.moved[k][i] ? m->band.critical[k][i] : NAN));
        json_object_set_new(by, swh_spread_table[k].id, ends);
    }
    json_object_set_new(band, "by", by);
    json_object_set_new(root, "band", band);
}

json_t *swh_margin_json(const struct swh_margin_result *r)
{
    const struct swh_margin *m = r->margin;
    json_t *root = json_object();
    json_object_set_new(root, "scenario", swh_json_text(r->name));
    json_object_set_new(root, "key", json_string(r->request->key.name));
    json_object_set_new(root, "unit", json_string(swh_quantities[r->request->key.quantity].si));
    json_object_set_new(root, "today", swh_json_number(m->today));
    json_object_set_new(root, "today_holds", json_boolean(!m->today_lost));
    json_object_set_new(root, "critical", swh_json_number(m->critical));
    json_object_set_new(root, "holds_at", swh_json_number(m->holds));
    json_object_set_new(root, "lost_at", swh_json_number(m->lost));
    json_object_set_new(root, "edge", json_string(swh_edge_word(m->kind)));
    json_object_set_new(root, "margin_percent", swh_json_number(swh_margin_percent(r)));
    json_object_set_new(root, "time_to_seizure_s", swh_json_number(first_time(m)));
    json_object_set_new(root, "beyond", json_tries(m->beyond, m->beyond_count));
    json_object_set_new(root, "growth_today_per_s", swh_json_number(m->growth_today));
    json_object_set_new(root, "growth_edge_per_s", swh_json_number(m->growth_edge));
    json_object_set_new(root, "critical_by_growth", swh_json_number(m->critical_by_rate));
    json_object_set_new(root, "pauses_by",
                        m->kind == SWH_EDGE_SWITCH && m->pauses < SWH_EVENT_COUNT
                            ? json_string(swh_event_table[m->pauses].id)
                            : json_null());
    set_feedbacks(root, m);
    set_band(root, m);
    if (m->kind == SWH_EDGE_NONE) {
        json_object_set_new(root, "low_end", json_try(&m->end_lo));
        json_object_set_new(root, "high_end", json_try(&m->end_hi));
    }
    json_object_set_new(root, "tried", json_tries(m->tried, m->tried_count));
    json_object_set_new(root, "runs", json_integer(m->runs));
    return root;
}

/* ---- words ---- */

double swh_margin_percent(const struct swh_margin_result *r)
{
    const struct swh_margin *m = r->margin;
    const bool ratio = m->today > 0 && r->request->key.quantity != SWH_Q_TEMPERATURE;
    return 100 * (m->critical - m->today) / (ratio ? m->today : r->request->hi - r->request->lo);
}

static const char *edge_words(const struct swh_margin *m)
{
    static const char *const words[] = {"", "the stable running temperature vanishes",
                                        "the compressor seizes before a running temperature is reached",
                                        "the stated limit is passed", ""};
    for (int i = 0; i < m->tried_count && m->kind == SWH_EDGE_THRESHOLD; i++)
        if (m->tried[i].x == m->lost && m->tried[i].overheated)
            return "the compressor overheats before a running temperature is reached";
    if (m->kind != SWH_EDGE_SWITCH)
        return words[m->kind];
    return m->pauses == SWH_EV_frost_open          ? "the frost thermostat stops giving pauses"
           : m->pauses == SWH_EV_low_pressure_open ? "the low-pressure switch stops giving pauses"
                                                   : "the switches stop giving pauses";
}

/* what happens at every value tried, if no edge was found */
static void describe_none(const struct swh_margin_result *r, const struct swh_units *units,
                          enum swh_show show, char *out, size_t size)
{
    const struct swh_margin *m = r->margin;
    double from = INFINITY, to = -INFINITY;
    for (int i = 0; i < m->tried_count; i++)
        if (m->tried[i].result == SWH_CASE_PROTECTED) {
            from = fmin(from, m->tried[i].x);
            to = fmax(to, m->tried[i].x);
        }
    char a[48], b[48];
    swh_units_text(units, show, r->request->key.quantity, from, a, sizeof a);
    swh_units_text(units, show, r->request->key.quantity, to, b, sizeof b);
    if (m->today_lost)
        snprintf(out, size, "it is lost at every value tried");
    else if (to > from)
        snprintf(out, size, "it never seizes, and from %s to %s a switch or relief valve protects it", a, b);
    else if (to == from)
        snprintf(out, size, "it never seizes, and at %s a switch or relief valve protects it", a);
    else
        snprintf(out, size, "it runs on at every value tried");
}

/* " (0.41 to 0.78 ...)": how far what is known worst moves the edge; empty if that is not known */
static void describe_band(const struct swh_margin_result *r, const struct swh_units *units,
                          enum swh_show show, char *out, size_t size)
{
    const struct swh_margin_band *b = &r->margin->band;
    char low[48], high[48];
    out[0] = '\0';
    if (!b->known)
        return;
    swh_units_text(units, show, r->request->key.quantity, b->low, low, sizeof low);
    swh_units_text(units, show, r->request->key.quantity, b->high, high, sizeof high);
    if (r->margin->kind == SWH_EDGE_NONE)
        snprintf(out, size, "; but as far as film, oil and charge are known it may lie at %s",
                 r->margin->today < b->low ? low : high);
    else
        snprintf(out, size, " (%s to %s as far as film, oil and charge are known)", low, high);
}

void swh_margin_answer(const struct swh_margin_result *r, const struct swh_units *units, enum swh_show show,
                       char *out, size_t size)
{
    const struct swh_margin *m = r->margin;
    const struct swh_key *key = &r->request->key;
    char critical[48], today[48], lo[48], hi[48], none[224], band[192];
    swh_units_text(units, show, key->quantity, m->critical, critical, sizeof critical);
    swh_units_text(units, show, key->quantity, m->today, today, sizeof today);
    swh_units_text(units, show, key->quantity, r->request->lo, lo, sizeof lo);
    swh_units_text(units, show, key->quantity, r->request->hi, hi, sizeof hi);
    describe_none(r, units, show, none, sizeof none);
    describe_band(r, units, show, band, sizeof band);
    if (m->kind == SWH_EDGE_NONE)
        snprintf(out, size, "%s: no edge from %s to %s; %s%s", key->name, lo, hi, none, band);
    else if (m->today_lost)
        snprintf(out, size, "%s: today's %s is past the edge at %s%s, where %s", key->name, today, critical,
                 band, edge_words(m));
    else
        snprintf(out, size, "%s: at %s%s %s; today it is %s", key->name, critical, band, edge_words(m),
                 today);
}

static void print_time(double seconds, FILE *f)
{
    if (seconds < 600)
        fprintf(f, "%.0f s", seconds);
    else
        fprintf(f, "%.0f min", seconds / 60);
}

/* A time to seizure is known to an order only. */
static const char *order_of(double seconds)
{
    static const struct {
        double below;
        const char *words;
    } order[] = {{30, "within seconds"},
                 {180, "in a minute or two"},
                 {900, "in minutes"},
                 {3600, "in tens of minutes"},
                 {INFINITY, "in hours"}};
    int i = 0;
    while (!(seconds < order[i].below) && i < 4)
        i++;
    return order[i].words;
}

/* why it seized, where it did */
static void print_cause(const struct swh_margin_try *t, FILE *f)
{
    if (t->cause < SWH_SEIZURE_COUNT)
        fprintf(f, " (%s)", swh_seizure_table[t->cause].help);
}

static void print_ends(const struct swh_margin_result *r, const struct swh_units *units, enum swh_show show,
                       FILE *f)
{
    const struct swh_margin_try *end[2] = {&r->margin->end_lo, &r->margin->end_hi};
    for (int i = 0; i < 2; i++) {
        char x[48], T[48];
        swh_units_text(units, show, r->request->key.quantity, end[i]->x, x, sizeof x);
        swh_units_text(units, show, SWH_Q_TEMPERATURE, end[i]->rotor, T, sizeof T);
        fprintf(f, "  At %s: %s%s", x, swh_margin_try_word(end[i]),
                end[i]->by_limit ? ", past the stated limit" : "");
        if (isfinite(end[i]->to_loss)) {
            fprintf(f, " %s", order_of(end[i]->to_loss));
            print_cause(end[i], f);
        } else if (isfinite(end[i]->rotor))
            fprintf(f, ", rotor at rest %s", T);
        fputc('\n', f);
    }
}

struct kinds {
    bool protected, overheated, cycling;
};

static void look_at(const struct swh_margin_try *t, int n, struct kinds *k)
{
    for (int i = 0; i < n; i++) {
        k->protected |= t[i].result == SWH_CASE_PROTECTED;
        k->overheated |= t[i].overheated;
        k->cycling |= t[i].cycling;
    }
}

static void print_overheated(const struct swh_margin_result *r, const struct swh_units *units,
                             enum swh_show show, FILE *f)
{
    char weld[48];
    swh_units_text(units, show, SWH_Q_TEMPERATURE, r->request->base->params.friction_weld_temperature, weld,
                   sizeof weld);
    fprintf(
        f,
        "  Overheated: the gas passed 250 degC, where oil burns, or the rotor stayed above %s, where bare "
        "metal welds; no rest is looked for beyond.\n",
        weld);
}

/* A margin is a statement on where the machine comes to rest, a sweep on what happens within its time. */
static void print_method(const struct swh_margin_result *r, const struct swh_units *units, enum swh_show show,
                         FILE *f)
{
    const double horizon = r->request->horizon > 0 ? r->request->horizon : SWH_REST_HORIZON;
    struct kinds k = {false, false, false};
    look_at(r->margin->tried, r->margin->tried_count, &k);
    look_at(r->margin->beyond, r->margin->beyond_count, &k);
    fprintf(f, "  Every value was started as the scenario says and followed until it came to rest or was "
               "lost, for at most ");
    print_time(horizon, f);
    fprintf(f, ".\n");
    if (k.cycling)
        fprintf(
            f,
            "  Where the clutch cycles what is slow was moved ahead of the cycles: temperatures at rest are "
            "good to a few kelvins, times to a tenth.\n");
    if (k.overheated)
        print_overheated(r, units, show, f);
    if (k.protected)
        fprintf(
            f, "  Protected values live by their switch: with the switch defeated the edge may lie there.\n");
}

static void print_evidence(const struct swh_margin *m, FILE *f)
{
    if (isfinite(m->growth_today))
        fprintf(f, "  A small disturbance of the rotor's temperature dies out in %.0f s today",
                -1 / m->growth_today);
    if (isfinite(m->growth_today) && m->growth_edge < 0)
        fprintf(f, ", in %.0f s just before the edge", -1 / m->growth_edge);
    if (isfinite(m->growth_today) && m->growth_edge >= 0)
        fprintf(f, ", no more just before the edge");
    if (isfinite(m->growth_today))
        fprintf(f, ".\n");
}

static void print_beyond(const struct swh_margin_result *r, const struct swh_units *units, enum swh_show show,
                         FILE *f)
{
    const struct swh_margin *m = r->margin;
    for (int i = 0; i < m->beyond_count; i++) {
        char x[48];
        swh_units_text(units, show, r->request->key.quantity, m->beyond[i].x, x, sizeof x);
        fprintf(f, "  Beyond, at %s: %s", x, swh_margin_try_word(&m->beyond[i]));
        if (isfinite(m->beyond[i].to_loss)) {
            fprintf(f, " %s", order_of(m->beyond[i].to_loss));
            print_cause(&m->beyond[i], f);
        }
        fputc('\n', f);
    }
}

static void print_feedbacks(const struct swh_margin_result *r, const struct swh_units *units,
                            enum swh_show show, FILE *f)
{
    const struct swh_margin *m = r->margin;
    if (m->kind == SWH_EDGE_SWITCH)
        fprintf(f, "  No feedback of heat is behind this edge: with the pauses the machine holds, without "
                   "them it does not.\n");
    if (!m->has_feedbacks)
        return;
    fprintf(f, "  What drives it (each held still in turn; share of the shift of the edge):\n");
    for (int k = 0; k < SWH_FEEDBACK_COUNT; k++) {
        char x[48];
        const struct swh_feedback_share *s = &m->feedback[k];
        swh_units_text(units, show, r->request->key.quantity, s->critical, x, sizeof x);
        fprintf(f, "    %-44s", swh_feedback_table[k].words);
        if (isnan(s->shift))
            fprintf(f, "   -  could not be computed\n");
        else if (s->shift == 0)
            fprintf(f, "   0 %%  does not move it\n");
        else if (isnan(s->critical))
            fprintf(f, "%4.0f %%  without it no edge in the range\n", 100 * s->share);
        else
            fprintf(f, "%4.0f %%  without it the edge is at %s\n", 100 * s->share, x);
    }
}

/* the edge with one of the worst known numbers less or more */
static void print_moved(const struct swh_margin_result *r, int k, int more, const struct swh_units *units,
                        enum swh_show show, FILE *f)
{
    const struct swh_margin_band *b = &r->margin->band;
    const double x = b->critical[k][more];
    char text[48];
    swh_units_text(units, show, r->request->key.quantity, x, text, sizeof text);
    fprintf(f, "%s",
            !b->moved[k][more]         ? "not told"
            : isnan(x)                 ? "no edge"
            : x == r->margin->critical ? "same"
                                       : text);
}

static void print_band(const struct swh_margin_result *r, const struct swh_units *units, enum swh_show show,
                       FILE *f)
{
    if (!r->margin->band.known)
        return;
    fprintf(f, "  What is known worst moves it, each on its own:\n");
    for (int k = 0; k < SWH_SPREAD_COUNT; k++) {
        fprintf(f, "    %-34s less: ", swh_spread_table[k].words);
        print_moved(r, k, 0, units, show, f);
        fprintf(f, ", more: ");
        print_moved(r, k, 1, units, show, f);
        fputc('\n', f);
    }
}

void swh_margin_print(const struct swh_margin_result *r, const struct swh_units *units, enum swh_show show,
                      FILE *f)
{
    char answer[512];
    const struct swh_margin *m = r->margin;
    swh_margin_answer(r, units, show, answer, sizeof answer);
    fprintf(f, "%s\n%s.\n", r->name, answer);
    if (m->kind == SWH_EDGE_NONE) {
        print_ends(r, units, show, f);
        print_band(r, units, show, f);
        print_method(r, units, show, f);
        return;
    }
    fprintf(f, "  Margin: %.1f %% of %s.\n", swh_margin_percent(r),
            m->today > 0 && r->request->key.quantity != SWH_Q_TEMPERATURE ? "today's value" : "the range");
    print_evidence(m, f);
    print_beyond(r, units, show, f);
    print_band(r, units, show, f);
    print_method(r, units, show, f);
    print_feedbacks(r, units, show, f);
}
