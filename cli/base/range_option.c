#include "cli/base/range_option.h"

#include "solver/files/suggest.h"

#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TEXT = 192 };

/* ---- keys ---- */

static void offer_all(const struct swh_case *c, struct swh_nearest *near, char names[][64], int *count)
{
    for (int i = 0; i < c->n_own_faults; i++, (*count)++) {
        snprintf(names[*count], 64, "own_fault.%s.severity", c->own_fault[i].name);
        swh_nearest_offer(near, names[*count]);
    }
    for (int i = 0; i < SWH_PARAM_COUNT; i++)
        swh_nearest_offer(near, swh_param_table[i].name);
    for (int i = 0; i < SWH_INPUT_COUNT; i++, (*count)++) {
        snprintf(names[*count], 64, "conditions.%s", swh_input_table[i].id);
        swh_nearest_offer(near, names[*count]);
    }
    for (int i = 0; i < SWH_FAULT_COUNT; i++, (*count)++) {
        snprintf(names[*count], 64, "fault.%s.severity", swh_fault_table[i].id);
        swh_nearest_offer(near, names[*count]);
    }
}

enum swh_status swh_vary_key(const struct swh_case *c, const char *name, const char *where,
                             struct swh_key *key, struct swh_error *err)
{
    struct swh_error inside = {0};
    if (swh_key_find_in(c, name, key, &inside) == SWH_OK)
        return SWH_OK;
    char names[SWH_OWN_FAULTS + SWH_INPUT_COUNT + SWH_FAULT_COUNT][64];
    int count = 0;
    struct swh_nearest near = {name, NULL, 0};
    offer_all(c, &near, names, &count);
    swh_error_set(err, SWH_ERR_INPUT, "unknown key '%.80s'", name);
    swh_error_expected(err, "a known key%s", swh_nearest_said(&near).text);
    swh_error_at(err, where, 0, 0);
    return SWH_ERR_INPUT;
}

enum swh_status swh_vary_judged(enum swh_status status, const char *option, struct swh_error *err)
{
    if (status != SWH_ERR_INPUT)
        return status;
    swh_error_at(err, option, 0, 0);
    return err->status = SWH_ERR_USAGE;
}

/* ---- ranges ---- */

static void copy_part(char out[TEXT], const char *from, size_t n)
{
    while (n > 0 && isspace((unsigned char)*from)) {
        from++;
        n--;
    }
    while (n > 0 && isspace((unsigned char)from[n - 1]))
        n--;
    snprintf(out, TEXT, "%.*s", (int)(n < TEXT ? n : TEXT - 1), from);
}

/* what follows the number at the start of text */
static const char *unit_of(const char *text)
{
    char *end = NULL;
    strtod(text, &end);
    return end + strspn(end, " ");
}

enum swh_status swh_vary_range(const struct swh_units *u, const char *text, const struct swh_key *key,
                               double *lo, double *hi, struct swh_error *err)
{
    const char *dots = strstr(text, "..");
    if (!dots) {
        swh_error_set(err, SWH_ERR_INPUT, "'%.80s' is not a range for %s", text, key->name);
        swh_error_expected(err, "LO..HI, for example 0.1..0.8 or 20..45 degC");
        return SWH_ERR_INPUT;
    }
    char low[TEXT], high[TEXT], both[2 * TEXT];
    copy_part(low, text, (size_t)(dots - text));
    copy_part(high, dots + 2, strlen(dots + 2));
    const char *unit = *unit_of(low) ? "" : unit_of(high);
    snprintf(both, sizeof both, "%s%s%s", low, *unit ? " " : "", unit);
    enum swh_status status = swh_units_read(u, both, key->quantity, lo, err);
    if (status == SWH_OK)
        status = swh_units_read(u, high, key->quantity, hi, err);
    return status;
}

enum swh_status swh_vary_count(const char *text, const char *where, long lo, long hi, long *out,
                               struct swh_error *err)
{
    char *end = NULL;
    errno = 0;
    *out = strtol(text, &end, 10);
    if (end != text && *end == '\0' && errno == 0 && *out >= lo && *out <= hi)
        return SWH_OK;
    swh_error_set(err, SWH_ERR_INPUT, "'%.40s' is not a count", text);
    swh_error_expected(err, "a whole number from %ld to %ld", lo, hi);
    swh_error_at(err, where, 0, 0);
    return SWH_ERR_INPUT;
}

static enum swh_status read_parts(const struct swh_units *u, const struct swh_case *c, const char *text,
                                  const char *equals, struct swh_key *key, struct swh_range *range,
                                  struct swh_error *err)
{
    char name[TEXT], span[TEXT];
    copy_part(name, text, (size_t)(equals - text));
    enum swh_status status = swh_vary_key(c, name, text, key, err);
    if (status != SWH_OK)
        return status;
    const char *colon = strrchr(equals, ':');
    copy_part(span, equals + 1, colon ? (size_t)(colon - equals - 1) : strlen(equals + 1));
    range->n = 0;
    if (colon)
        status = swh_vary_count(colon + 1, text, 1, 10000000, &range->n, err);
    return status == SWH_OK ? swh_vary_range(u, span, key, &range->lo, &range->hi, err) : status;
}

enum swh_status swh_vary_read(const struct swh_units *u, const struct swh_case *c, const char *text,
                              struct swh_key *key, struct swh_range *range, struct swh_error *err)
{
    const char *equals = strchr(text, '=');
    if (!equals) {
        swh_error_set(err, SWH_ERR_INPUT, "'%.80s' has no range", text);
        swh_error_expected(err, "KEY=LO..HI:N, for example charge.fraction=0.2..1:9");
        return SWH_ERR_INPUT;
    }
    const enum swh_status status = read_parts(u, c, text, equals, key, range, err);
    if (status != SWH_OK)
        swh_error_at(err, text, 0, 0);
    return status;
}
