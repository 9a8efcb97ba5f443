#include "cli/commands/infer/finding_words.h"

#include "cli/base/findings_file.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- what a finding says ---- */

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median_said(const struct swh_ranking *r, enum swh_finding f)
{
    double said[SWH_RANK_MAX];
    int n = 0;
    for (int i = 0; i < r->causes; i++)
        if (r->cause[i].second == SWH_HEALTHY && isfinite(r->cause[i].said[f]))
            said[n++] = r->cause[i].said[f];
    qsort(said, (size_t)n, sizeof said[0], by_value);
    return n ? said[n / 2] : NAN;
}

double swh_finding_says(const struct swh_ranking *r, const struct swh_cause *c, enum swh_finding f)
{
    const double says = c->said[f] - median_said(r, f);
    return isfinite(says) ? says : 0;
}

/* ---- lists of causes ---- */

enum { LISTED = 4 };

/* The causes that a finding speaks for (sign 1) or against (-1), the clearest first; against only those that
 * are in question. */
static int list_causes(const struct swh_ranking *r, enum swh_finding f, int sign, int *out)
{
    int n = 0;
    bool taken[SWH_RANK_MAX] = {false};
    const bool direct =
        swh_finding_table[f].kind == SWH_FINDING_LOOK || swh_finding_table[f].kind == SWH_FINDING_MEASURE;
    while (n < LISTED) {
        int best = -1;
        for (int i = 0; i < r->causes; i++) {
            const struct swh_cause *c = &r->cause[i];
            const double says = sign * swh_finding_says(r, c, f);
            const bool asked = sign > 0 || direct || i < 5 || c->fault == SWH_HEALTHY;
            if (!taken[i] && asked && c->second == SWH_HEALTHY && says >= SWH_FINDING_SPEAKS &&
                (best < 0 || says > sign * swh_finding_says(r, &r->cause[best], f)))
                best = i;
        }
        if (best < 0)
            break;
        taken[best] = true;
        out[n++] = best;
    }
    return n;
}

static void names_of(const struct swh_ranking *r, const int *list, int n, char *out, size_t size)
{
    char name[80];
    out[0] = '\0';
    for (int i = 0; i < n; i++) {
        const size_t used = strlen(out);
        snprintf(out + used, size - used, "%s%s", i ? ", " : "",
                 swh_cause_name(&r->cause[list[i]], name, sizeof name));
    }
}

/* ---- why ---- */

static const char *why(enum swh_finding f, double value)
{
    const bool yes = value >= 0.5;
    switch (swh_finding_table[f].kind) {
    case SWH_FINDING_SIGN:
        return yes ? "those leave it behind in a computed hard hour (40 degC, 2500 rpm, switches out of "
                     "action), these do not"
                   : "those leave no such sign in a computed hard hour (40 degC, 2500 rpm, switches out of "
                     "action), these do";
    case SWH_FINDING_AMOUNT:
        return "so much is left after a computed hard hour (40 degC, 2500 rpm, switches out of action) with "
               "those, not with these";
    case SWH_FINDING_LOOK:
        return "it is that fault itself that is seen, or not seen";
    default:
        return "it is that fault itself that is weighed or measured";
    }
}

static bool looked_at(const struct swh_findings *b, int f)
{
    return isfinite(b->value[f]) && f != SWH_FINDING_standing_ambient; /* told with the pressure */
}

void swh_findings_print(const struct swh_session *s, const struct swh_findings *b,
                        const struct swh_ranking *r, FILE *f)
{
    bool any = false;
    for (int i = 0; b && i < SWH_FINDING_COUNT; i++) {
        char value[64], pro[200], contra[200];
        int list[LISTED];
        if (!looked_at(b, i))
            continue;
        if (!any)
            fprintf(f, "\n  On bench and vehicle\n");
        any = true;
        names_of(r, list, list_causes(r, (enum swh_finding)i, 1, list), pro, sizeof pro);
        names_of(r, list, list_causes(r, (enum swh_finding)i, -1, list), contra, sizeof contra);
        fprintf(f, "  %-22s %-18s %s%s%s%s%s\n", swh_finding_table[i].id,
                swh_finding_text(s, (enum swh_finding)i, b->value[i], value, sizeof value),
                pro[0] ? "for " : "", pro,
                pro[0] && contra[0] ? "; against "
                : contra[0]         ? "against "
                                    : "",
                contra, pro[0] || contra[0] ? "" : "tells nothing apart here");
        if (pro[0] || contra[0])
            fprintf(f, "  %-22s %-18s (%s)\n", "", "", why((enum swh_finding)i, b->value[i]));
    }
}

static json_t *causes_json(const struct swh_ranking *r, enum swh_finding f, int sign)
{
    char name[80];
    int list[LISTED];
    json_t *a = json_array();
    const int n = list_causes(r, f, sign, list);
    for (int i = 0; i < n; i++)
        json_array_append_new(a, json_string(swh_cause_name(&r->cause[list[i]], name, sizeof name)));
    return a;
}

json_t *swh_findings_json(const struct swh_session *s, const struct swh_findings *b,
                          const struct swh_ranking *r)
{
    json_t *a = json_array();
    for (int i = 0; b && i < SWH_FINDING_COUNT; i++) {
        char value[64];
        const struct swh_finding_info *info = &swh_finding_table[i];
        if (!isfinite(b->value[i]))
            continue;
        json_t *o = json_object();
        json_object_set_new(o, "finding", json_string(info->id));
        json_object_set_new(
            o, "text",
            swh_json_text(swh_finding_text(s, (enum swh_finding)i, b->value[i], value, sizeof value)));
        json_object_set_new(o, "value",
                            swh_finding_is_sign((enum swh_finding)i)
                                ? json_boolean(b->value[i] >= 0.5)
                                : swh_json_quantity(b->value[i], swh_channel_table[info->channel].quantity));
        json_object_set_new(o, "speaks_for", causes_json(r, (enum swh_finding)i, 1));
        json_object_set_new(o, "speaks_against", causes_json(r, (enum swh_finding)i, -1));
        json_object_set_new(o, "why", json_string(why((enum swh_finding)i, b->value[i])));
        json_array_append_new(a, o);
    }
    return a;
}
