#include "cli/base/findings_file.h"

#include "solver/files/ini.h"
#include "solver/files/suggest.h"
#include "solver/files/text_file.h"

#include <ctype.h>
#include <math.h>
#include <string.h>
#include <strings.h>

struct reader {
    struct swh_session *s;
    const struct swh_case *vehicle;
    struct swh_findings *out;
};

static void problem(const struct swh_ini_entry *e, bool in_value, struct swh_session *s, const char *what,
                    const char *expected)
{
    struct swh_error err = {0};
    swh_error_set(&err, SWH_ERR_INPUT, "%s '%s'", what, in_value ? e->value : e->key ? e->key : e->section);
    swh_error_expected(&err, "%s", expected);
    swh_error_at(&err, e->file, e->line, in_value ? e->value_column : e->column);
    swh_problems_add(&s->problems, &err);
}

static bool is_one_of(const char *word, const char *const *list)
{
    for (; *list; list++)
        if (strcasecmp(word, *list) == 0)
            return true;
    return false;
}

static void read_sign(const struct swh_ini_entry *e, double *out, const struct reader *r)
{
    static const char *const yes[] = {"yes", "y", "true", "1", "on", NULL};
    static const char *const no[] = {"no", "n", "false", "0", "off", NULL};
    const bool is_yes = is_one_of(e->value, yes);
    *out = is_yes ? 1 : 0;
    if (!is_yes && !is_one_of(e->value, no))
        problem(e, true, r->s, "neither yes nor no:", "yes or no");
}

static bool read_share_word(const struct swh_ini_entry *e, int f, double *out)
{
    if (f != SWH_FINDING_condenser_face || strcasecmp(e->value, "clean") != 0)
        return false;
    *out = 0;
    return true;
}

static void read_value(const struct swh_ini_entry *e, int f, struct reader *r)
{
    struct swh_error err = {0};
    double *out = &r->out->value[f];
    bool gauge;
    if (swh_finding_is_sign((enum swh_finding)f)) {
        read_sign(e, out, r);
        return;
    }
    const enum swh_quantity q = swh_channel_table[swh_finding_table[f].channel].quantity;
    const bool oil = f == SWH_FINDING_oil_amount || f == SWH_FINDING_oil_drained;
    if (read_share_word(e, f, out))
        return;
    if (oil && swh_units_read(r->s->units, e->value, SWH_Q_VOLUME, out, &err) == SWH_OK) {
        *out *= r->vehicle->params.oil_density;
        return;
    }
    swh_error_clear(&err);
    if (swh_units_read_gauge(r->s->units, e->value, q, &gauge, out, &err) == SWH_OK)
        return;
    swh_error_at(&err, e->file, e->line, e->value_column);
    swh_problems_add(&r->s->problems, &err);
}

static void take(const struct swh_ini_entry *e, void *user)
{
    struct reader *r = user;
    if (strcmp(e->section, "findings") != 0) {
        problem(e, false, r->s, "section of a file of findings:", "[findings]");
        return;
    }
    if (!e->key)
        return;
    const int f = swh_finding_find(e->key);
    if (f >= 0) {
        read_value(e, f, r);
        return;
    }
    struct swh_nearest near = {e->key, NULL, 0};
    for (int i = 0; i < SWH_FINDING_COUNT; i++)
        swh_nearest_offer(&near, swh_finding_table[i].id);
    problem(e, false, r->s, "unknown finding",
            swh_nearest_is_near(&near) ? near.best : "one of swashheat list findings");
}

enum swh_status swh_findings_read(struct swh_session *s, const char *path, const struct swh_case *vehicle,
                                  struct swh_findings *out)
{
    struct swh_error err = {0};
    struct reader r = {s, vehicle, out};
    const long before = s->problems.count;
    for (int i = 0; i < SWH_FINDING_COUNT; i++)
        out->value[i] = NAN;
    swh_ini_read(path, take, &r, &s->problems);
    if (s->problems.count == before && swh_findings_check(out, vehicle, &err) != SWH_OK) {
        swh_error_at(&err, path, 0, 0);
        swh_fail(s, &err);
    }
    return swh_problems_status(&s->problems);
}

bool swh_findings_look_like(const char *path)
{
    FILE *f = NULL;
    char line[256];
    bool findings = false;
    if (swh_text_open(path, &f, NULL) != SWH_OK)
        return false;
    while (fgets(line, sizeof line, f)) {
        const char *s = line + strspn(line, "\xEF\xBB\xBF \t");
        if (*s == '#' || *s == ';' || isspace((unsigned char)*s))
            continue;
        findings = strncmp(s, "[findings]", 10) == 0;
        break;
    }
    swh_text_close(f);
    return findings;
}

const char *swh_finding_text(const struct swh_session *s, enum swh_finding f, double value, char *out,
                             size_t size)
{
    const enum swh_quantity q = swh_channel_table[swh_finding_table[f].channel].quantity;
    if (swh_finding_is_sign(f))
        snprintf(out, size, "%s", value >= 0.5 ? "yes" : "no");
    else if (f == SWH_FINDING_condenser_face)
        snprintf(out, size, "%.0f %%", 100 * value);
    else
        swh_units_text(s->units, swh_session_show(s), q, value, out, size);
    return out;
}
