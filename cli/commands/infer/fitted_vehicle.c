/* The vehicle file that a fit leaves behind. */
#include "cli/commands/infer/fitted_vehicle.h"

#include "cli/base/provenance.h"
#include "model/base/utf8.h"

#include <math.h>
#include <string.h>

static void write_choices(const struct swh_log_command *j, const char *section, bool *headed, FILE *f)
{
    const struct swh_choices *c = &j->frame.scenario.c.choices;
    for (int i = 0; i < SWH_CHOICE_COUNT; i++) {
        char word[64];
        const bool own = i == SWH_C_vehicle_refrigerant && j->frame.scenario.refrigerant;
        if (strcmp(swh_choice_table[i].section, section) != 0 ||
            (swh_choice_get(c, i) == swh_choice_table[i].value && !own))
            continue;
        if (!*headed)
            fprintf(f, "\n[%s]\n", section);
        *headed = true;
        swh_choice_word(i, swh_choice_get(c, i), word, sizeof word);
        fprintf(f, "%s = %s\n", swh_choice_table[i].key, own ? SWH_REFRIGERANT_COPY : word);
    }
}

/* the estimate of a parameter; NULL if it was not fitted */
static const struct swh_fit_estimate *estimate_of(const struct swh_fit_result *r, int param)
{
    for (int i = 0; i < r->estimates; i++)
        if (r->estimate[i].param == param)
            return &r->estimate[i];
    return NULL;
}

static double spread_of(const struct swh_log_command *j, const struct swh_fit_result *r, int param)
{
    const struct swh_fit_estimate *e = estimate_of(r, param);
    return e && !e->held ? e->spread : swh_param_get(&j->frame.scenario.c.spread, param);
}

/* "# 12.1 W/K to 17.5 W/K in 95 of 100", or that the logs do not tell it */
static void write_range(const struct swh_units *u, const struct swh_fit_estimate *e, FILE *f)
{
    char low[64], high[64], value[64];
    const char *key = swh_param_table[e->param].key;
    swh_param_text(u, e->param, e->low, low, sizeof low);
    swh_param_text(u, e->param, e->high, high, sizeof high);
    fprintf(f, e->identified ? "# fitted: 95 %% interval %s to %s\n" : "# open: anything from %s to %s\n",
            low, high);
    if (e->held)
        fprintf(f, "# %s = %s\n", key, swh_param_text(u, e->param, e->value, value, sizeof value));
    else if (!e->identified)
        fprintf(f, "# only with the rest as it stands here\n");
}

static void write_value(const struct swh_units *u, int param, double x, double spread, FILE *f)
{
    const struct swh_param_info *p = &swh_param_table[param];
    char text[64];
    fprintf(f, "%s = %s", p->key, swh_param_text(u, param, x, text, sizeof text));
    if (spread > 0) {
        const enum swh_quantity q = swh_units_difference(p->quantity);
        struct swh_unit unit = {1, 0, false, false};
        const char *word = q == p->quantity ? p->unit : swh_quantities[q].show_si;
        if (q != SWH_Q_NONE)
            swh_unit_find(u, word, q, &unit, NULL);
        fprintf(f, " +- %.4g%s%s", spread / unit.factor, q == SWH_Q_NONE ? "" : " ",
                q == SWH_Q_NONE ? "" : word);
    }
    fputc('\n', f);
}

static void write_params(const struct swh_log_command *j, const struct swh_fit_result *r, FILE *f)
{
    const char *section = "";
    bool headed = false;
    for (int i = 0; i < SWH_PARAM_COUNT; i++) {
        const struct swh_param_info *info = &swh_param_table[i];
        const struct swh_fit_estimate *e = estimate_of(r, i);
        if (strcmp(info->section, section) != 0) {
            section = info->section;
            headed = false;
            write_choices(j, section, &headed, f);
        }
        const double x = swh_param_get(&r->params, i), spread = spread_of(j, r, i);
        const bool said = !isnan(x) && (x != info->value || spread > 0 || (e && !e->held));
        if (!said && !e)
            continue;
        if (!headed)
            fprintf(f, "\n[%s]\n", section);
        headed = true;
        if (e)
            write_range(j->frame.session->units, e, f);
        if (said)
            write_value(j->frame.session->units, i, x, spread, f);
    }
}

/* ---- what errs together ---- */

static bool is_new(const struct swh_fit_result *r, int param)
{
    const struct swh_fit_estimate *e = estimate_of(r, param);
    return e && !e->held;
}

static double correlation_of(const struct swh_fit_result *r, int a, int b)
{
    const long i = estimate_of(r, a) - r->estimate, k = estimate_of(r, b) - r->estimate;
    return r->correlation[i * r->estimates + k];
}

/* Of this fit, and of an earlier one as far as its parameters were not fitted anew. */
static void write_correlations(const struct swh_log_command *j, const struct swh_fit_result *r, FILE *f)
{
    const struct swh_joint *old = &j->frame.scenario.c.joint;
    bool headed = false;
    for (int a = 0; a < SWH_PARAM_COUNT; a++)
        for (int b = 0; b < a; b++) {
            const int both = is_new(r, a) + is_new(r, b);
            const double c = both == 2 ? correlation_of(r, a, b) : both == 0 ? swh_joint_get(old, a, b) : 0;
            if (c == 0)
                continue;
            if (!headed)
                fprintf(f, "\n# how the spreads above go together\n[correlation]\n");
            headed = true;
            fprintf(f, "%s with %s = %.4f\n", swh_param_table[a].name, swh_param_table[b].name, c);
        }
}

static void write_conditions(const struct swh_log_command *j, FILE *f)
{
    struct swh_inputs in = j->frame.scenario.c.conditions;
    bool headed = false;
    for (int i = 0; i < SWH_INPUT_COUNT; i++) {
        const double x = *swh_input_at(&in, i);
        const enum swh_quantity q = swh_input_table[i].quantity;
        if (j->frame.scenario.conditions[i] == SWH_FROM_DEFAULT || isnan(x))
            continue;
        if (!headed)
            fprintf(f, "\n[conditions]\n");
        headed = true;
        fprintf(f, "%s = %.9g%s%s\n", swh_input_table[i].id,
                swh_units_show(j->frame.session->units, SWH_SHOW_SI, q, x), q == SWH_Q_NONE ? "" : " ",
                q == SWH_Q_NONE ? "" : swh_units_word(SWH_SHOW_SI, q));
    }
}

void swh_fitted_vehicle_write(const struct swh_log_command *j, const struct swh_fit_result *r, FILE *f)
{
    char shown[150]; /* a line that is too long would be refused when it is read back */
    fprintf(f, "# Calibrated vehicle, from %s and\n",
            swh_utf8_clean(shown, sizeof shown, swh_option_value(j->frame.session, SWH_OPT_vehicle)));
    for (int i = 0; i < j->frame.session->arguments; i++) {
        const char *slash = strrchr(j->frame.session->argument[i], '/');
        fprintf(f, "#   %s\n",
                swh_utf8_clean(shown, sizeof shown, slash ? slash + 1 : j->frame.session->argument[i]));
    }
    fprintf(f, "# What is not set here keeps the default that `swashheat list parameters` shows; +- is one "
               "standard\n"
               "# deviation, from which `swashheat run --ensemble` draws.\n");
    bool headed = false;
    write_choices(j, "vehicle", &headed, f);
    write_params(j, r, f);
    write_correlations(j, r, f);
    write_conditions(j, f);
}
