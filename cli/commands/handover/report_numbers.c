#include "cli/commands/handover/report_numbers.h"

#include "cli/commands/handover/html.h"

#include <string.h>

static const json_t *at(const json_t *o, const char *a, const char *b)
{
    return json_object_get(json_object_get(o, a), b);
}

static double number(const json_t *v)
{
    return json_is_number(v) ? json_number_value(v) : NAN;
}

static enum swh_quantity difference_of(enum swh_quantity q)
{
    return q == SWH_Q_TEMPERATURE ? SWH_Q_TEMPERATURE_DIFFERENCE
           : q == SWH_Q_PRESSURE  ? SWH_Q_PRESSURE_DIFFERENCE
                                  : q;
}

/* ---- JSON of any kind ---- */

static bool one_of(const char *word, const char *const *list)
{
    for (; word && list && *list; list++)
        if (strcmp(word, *list) == 0)
            return true;
    return false;
}

/* the quantity of a plain number: by its key and that of the object it lies in; false for a pure number */
static bool quantity_of(const char *key, const char *parent, enum swh_quantity *q)
{
    static const char *const pure[] = {"deviations", "compared", "event_count", "chi2", "separation", NULL};
    static const char *const apart[] = {"rms", "bias", NULL}, *const means[] = {"mean", "last_third", NULL};
    const int ch = swh_channel_find(key), inside = parent ? swh_channel_find(parent) : -1;
    const size_t n = strlen(key);
    *q = SWH_Q_TIME;
    if (n > 2 && strcmp(key + n - 2, "_s") == 0)
        return true;
    *q = SWH_Q_ENERGY;
    if ((n > 2 && strcmp(key + n - 2, "_J") == 0) || (parent && strcmp(parent, "ledger_J") == 0))
        return true;
    if (inside >= 0 && one_of(key, means)) {
        *q = difference_of(swh_channel_table[inside].quantity);
        return true;
    }
    if (ch < 0 || one_of(parent, pure))
        return false;
    *q = one_of(parent, apart) ? difference_of(swh_channel_table[ch].quantity)
                               : swh_channel_table[ch].quantity;
    return true;
}

/* the quantity of {"value", "unit"}: the channel's if the key is one, else the first with this unit */
static int quantity_of_unit(const char *key, const char *unit)
{
    const int ch = swh_channel_find(key);
    if (ch >= 0 && strcmp(swh_quantities[swh_channel_table[ch].quantity].si, unit) == 0)
        return (int)swh_channel_table[ch].quantity;
    for (int q = 0; q < SWH_QUANTITY_COUNT; q++)
        if (strcmp(swh_quantities[q].si, unit) == 0)
            return q;
    return -1;
}

static void plain_number(struct swh_report *r, const char *key, const char *parent, double x)
{
    char text[64];
    enum swh_quantity q;
    if (quantity_of(key, parent, &q))
        swh_html_text(r->f, swh_report_text(r, q, x, text, sizeof text));
    else
        fprintf(r->f, "%.5g", x);
}

/* true if `o` was a quantity and is written */
static bool quantity(struct swh_report *r, const char *key, const json_t *o)
{
    char text[64];
    const char *unit = json_string_value(json_object_get(o, "unit"));
    const json_t *value = json_object_get(o, "value");
    if (!unit || !value || !(json_is_number(value) || json_is_null(value)))
        return false;
    const int q = quantity_of_unit(key, unit);
    if (q >= 0)
        swh_html_text(r->f, swh_report_text(r, (enum swh_quantity)q, number(value), text, sizeof text));
    else
        swh_html_print(r->f, "%.5g %s", number(value), unit);
    if (json_is_number(json_object_get(o, "time_s")))
        fprintf(r->f, " at %.0f s", number(json_object_get(o, "time_s")));
    return true;
}

static void write_value(struct swh_report *r, const char *key, const char *parent, const json_t *v);

static void write_array(struct swh_report *r, const char *key, const char *parent, const json_t *v)
{
    fputs(json_array_size(v) ? "<ul class=\"values\">" : "none", r->f);
    for (size_t i = 0; i < json_array_size(v); i++) {
        fputs("<li>", r->f);
        write_value(r, key, parent, json_array_get(v, i));
        fputs("</li>", r->f);
    }
    fputs(json_array_size(v) ? "</ul>" : "", r->f);
}

/* a key without the unit it ends with */
static void label(struct swh_report *r, const char *key)
{
    char bare[256];
    snprintf(bare, sizeof bare, "%s", key);
    const size_t n = strlen(bare);
    if (n > 2 && (strcmp(bare + n - 2, "_s") == 0 || strcmp(bare + n - 2, "_J") == 0))
        bare[n - 2] = '\0';
    swh_html_words(r->f, bare);
}

static void rows(struct swh_report *r, const json_t *o, const char *parent, const char *const *leave_out)
{
    const char *key;
    json_t *v;
    json_object_foreach((json_t *)o, key, v)
    {
        if (one_of(key, leave_out))
            continue;
        fputs("<tr><th scope=\"row\">", r->f);
        label(r, key);
        fputs("</th><td>", r->f);
        write_value(r, key, parent, v);
        fputs("</td></tr>\n", r->f);
    }
}

static void write_value(struct swh_report *r, const char *key, const char *parent, const json_t *v)
{
    if (json_is_string(v))
        swh_html_words(r->f, json_string_value(v));
    else if (json_is_boolean(v))
        fputs(json_is_true(v) ? "yes" : "no", r->f);
    else if (json_is_number(v))
        plain_number(r, key, parent, number(v));
    else if (json_is_array(v))
        write_array(r, key, parent, v);
    else if (json_object_size(v) == 0 || (json_is_object(v) && quantity(r, key, v)))
        fputs(json_is_object(v) && json_object_size(v) > 0 ? "" : "none", r->f);
    else {
        fputs("<table>", r->f);
        rows(r, v, key, NULL);
        fputs("</table>", r->f);
    }
}

static size_t shown(const json_t *o, const char *const *leave_out)
{
    const char *key;
    json_t *v;
    size_t n = 0;
    json_object_foreach((json_t *)o, key, v) n += !one_of(key, leave_out);
    return n;
}

void swh_report_object(struct swh_report *r, const json_t *o, const char *caption,
                       const char *const *leave_out)
{
    if (shown(o, leave_out) == 0)
        return;
    fputs("<table><caption>", r->f);
    swh_html_words(r->f, caption);
    fputs("</caption>", r->f);
    rows(r, o, NULL, leave_out);
    fputs("</table>\n", r->f);
}

/* ---- channels of a run ---- */

static void channel_row(struct swh_report *r, const json_t *run, int ch)
{
    const char *id = swh_channel_table[ch].id;
    const enum swh_quantity q = swh_channel_table[ch].quantity;
    const double value[] = {number(json_object_get(at(run, "lowest", id), "value")),
                            number(json_object_get(at(run, "peak", id), "value")),
                            number(at(run, "mean", id)), number(at(run, "final", id))};
    const double when = number(json_object_get(at(run, "peak", id), "time_s"));
    char text[64];
    if (isnan(value[0]) && isnan(value[1]) && isnan(value[2]) && isnan(value[3]))
        return;
    fputs("<tr><th scope=\"row\">", r->f);
    swh_html_words(r->f, id);
    fputs("</th>", r->f);
    for (size_t i = 0; i < sizeof value / sizeof value[0]; i++) {
        fputs("<td>", r->f);
        swh_html_text(r->f, swh_report_text(r, q, value[i], text, sizeof text));
        if (i == 1 && isfinite(when))
            fprintf(r->f, " at %.1f min", when / 60);
        fputs("</td>", r->f);
    }
    fputs("</tr>\n", r->f);
}

void swh_report_channels(struct swh_report *r, const json_t *run, const char *caption,
                         const enum swh_channel *only, size_t n, enum swh_channel_group group)
{
    fputs("<table><caption>", r->f);
    swh_html_words(r->f, caption);
    fputs("</caption><thead><tr><th scope=\"col\">Reading</th><th scope=\"col\">Lowest</th><th "
          "scope=\"col\">Highest</th><th scope=\"col\">Mean</th><th "
          "scope=\"col\">Last</th></tr></thead><tbody>\n",
          r->f);
    for (size_t i = 0; i < n; i++)
        channel_row(r, run, (int)only[i]);
    for (int ch = 1; ch < SWH_CHANNEL_COUNT && n == 0; ch++)
        if (swh_channel_table[ch].group == group)
            channel_row(r, run, ch);
    fputs("</tbody></table>\n", r->f);
}
