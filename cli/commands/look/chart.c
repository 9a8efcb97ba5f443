#include "cli/commands/look/chart.h"

#include "cli/base/result.h"
#include "solver/files/number.h"

#include <string.h>

enum { ROWS_MAX = 2000 };

struct range {
    double from, to, step;
};

static bool read_range(const char *text, struct range *r)
{
    double *const part[3] = {&r->from, &r->to, &r->step};
    const char *end = text + strlen(text);
    for (int i = 0; i < 3; i++) {
        text = swh_number_read(text, end, '.', part[i]);
        if (!text || *text != (i < 2 ? ':' : '\0'))
            return false;
        text++;
    }
    return r->step > 0 && r->to >= r->from && (r->to - r->from) / r->step < ROWS_MAX;
}

struct column {
    const char *title;
    enum swh_quantity quantity;
    double value;
};

static int columns_of(const struct swh_saturation *s, struct column out[8])
{
    const struct column all[] = {
        {"temperature", SWH_Q_TEMPERATURE, s->T},
        {"pressure", SWH_Q_PRESSURE, s->P},
        {"absolute_pressure", SWH_Q_PRESSURE_DIFFERENCE, s->P},
        {"liquid_density", SWH_Q_DENSITY, s->rho_f},
        {"vapour_density", SWH_Q_DENSITY, s->rho_g},
        {"liquid_enthalpy", SWH_Q_SPECIFIC_ENERGY, s->h_f},
        {"vapour_enthalpy", SWH_Q_SPECIFIC_ENERGY, s->h_g},
    };
    memcpy(out, all, sizeof all);
    return (int)(sizeof all / sizeof all[0]);
}

static void print_head(const struct swh_session *s, const struct swh_eos *fluid)
{
    const struct swh_saturation none = {0};
    struct column c[8];
    const int n = columns_of(&none, c);
    printf("%s, saturation\n", swh_refrigerant_name(fluid));
    for (int i = 0; i < n; i++)
        printf("%s%17s", i ? " " : "", c[i].title);
    putchar('\n');
    for (int i = 0; i < n; i++)
        printf("%s%17s", i ? " " : "", swh_units_word(swh_session_show(s), c[i].quantity));
    putchar('\n');
}

static void print_row(const struct swh_session *s, const struct swh_saturation *sat)
{
    struct column c[8];
    const int n = columns_of(sat, c);
    for (int i = 0; i < n; i++)
        printf("%s%17.*f", i ? " " : "", c[i].quantity == SWH_Q_TEMPERATURE ? 1 : 3,
               swh_units_show(s->units, swh_session_show(s), c[i].quantity, c[i].value));
    putchar('\n');
}

static void append_row(json_t *rows, const struct swh_saturation *sat)
{
    struct column c[8];
    const int n = columns_of(sat, c);
    json_t *o = json_object();
    for (int i = 0; i < n; i++)
        if (strcmp(c[i].title, "absolute_pressure") != 0) /* in Pa all are */
            json_object_set_new(o, c[i].title, swh_json_quantity(c[i].value, c[i].quantity));
    json_array_append_new(rows, o);
}

static enum swh_status one(struct swh_session *s, const struct swh_eos *fluid, double shown, json_t *rows)
{
    struct swh_error err = {0};
    struct swh_saturation sat;
    const struct swh_unit *unit = swh_units_shown(s->units, swh_session_show(s), SWH_Q_TEMPERATURE);
    if (swh_saturation_T(fluid, swh_unit_to_si(unit, shown, 0), &sat, &err) != SWH_OK) {
        err.status = SWH_ERR_USAGE;
        swh_error_at(&err, "--chart", 0, 0);
        return swh_fail(s, &err);
    }
    if (rows)
        append_row(rows, &sat);
    else
        print_row(s, &sat);
    return SWH_OK;
}

enum swh_status swh_chart(struct swh_session *s, const struct swh_eos *fluid)
{
    struct range r;
    const char *text = swh_option_value(s, SWH_OPT_chart);
    if (!read_range(text, &r))
        return swh_misuse(s, "FROM:TO:STEP with at most 2000 rows, for example -30:70:5", "--chart=%s", text);
    json_t *rows = swh_given(s, SWH_OPT_json) ? json_array() : NULL;
    if (!rows)
        print_head(s, fluid);
    enum swh_status status = SWH_OK;
    for (int i = 0; r.from + i * r.step <= r.to + 1e-9 * r.step && status == SWH_OK; i++)
        status = one(s, fluid, r.from + i * r.step, rows);
    if (rows && status == SWH_OK)
        swh_json_write(rows, stdout);
    json_decref(rows);
    return status;
}
