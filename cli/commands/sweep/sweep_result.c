#include "cli/commands/sweep/sweep_result.h"

#include "cli/base/result.h"
#include "model/base/utf8.h"
#include "solver/files/number.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- columns ---- */

static const struct swh_sweep_column fixed[4] = {{"time_to_seizure", SWH_Q_TIME},
                                                 {"end_time", SWH_Q_TIME},
                                                 {"duty", SWH_Q_NONE},
                                                 {"suction_cooling_share", SWH_Q_NONE}};

void swh_sweep_column_describe(int column, struct swh_sweep_column *out)
{
    if (column < 4) {
        *out = fixed[column];
        return;
    }
    const struct swh_sweep_extreme *x = &swh_sweep_extremes[column - 4];
    snprintf(out->name, sizeof out->name, "%s", x->column);
    out->quantity = swh_channel_table[x->channel].quantity;
}

int swh_sweep_column_find(const char *name)
{
    for (int i = 0; i < SWH_SWEEP_COLUMNS; i++) {
        struct swh_sweep_column c;
        swh_sweep_column_describe(i, &c);
        if (strcmp(c.name, name) == 0)
            return i;
    }
    return -1;
}

double swh_sweep_column_value(const struct swh_sweep_row *row, int column)
{
    const double first[4] = {row->time_to_seizure, row->end_time, row->duty, row->suction_cooling_share};
    return column < 4 ? first[column] : row->extreme[column - 4];
}

/* ---- table ---- */

static void put_head(const struct swh_sweep_result *r, FILE *f)
{
    fputs(r->sweep->plan.design == SWH_DESIGN_SALTELLI ? "case,point[1],matrix" : "case", f);
    for (int i = 0; i < r->sweep->plan.axes; i++)
        fprintf(f, ",%s[%s]", r->sweep->key[i].name, swh_quantities[r->sweep->key[i].quantity].si);
    fputs(",outcome,cause", f);
    for (int i = 0; i < SWH_SWEEP_COLUMNS; i++) {
        struct swh_sweep_column c;
        swh_sweep_column_describe(i, &c);
        fprintf(f, ",%s[%s]", c.name, swh_quantities[c.quantity].si);
    }
    fputc('\n', f);
}

/* where a case stands in Saltelli's design: base point, and matrix A, B, or A with one column of B */
static void put_matrix(const struct swh_sweep_result *r, long k, FILE *f)
{
    const long width = r->sweep->plan.axes + 2, place = k % width;
    if (r->sweep->plan.design != SWH_DESIGN_SALTELLI)
        return;
    fprintf(f, ",%ld,", k / width + 1);
    if (place < 2)
        fputs(place == 0 ? "A" : "B", f);
    else
        fprintf(f, "A with %s of B", r->sweep->key[place - 2].name);
}

void swh_sweep_result_csv(const struct swh_sweep_result *r, FILE *f)
{
    put_head(r, f);
    for (long k = 0; k < r->sweep->plan.count; k++) {
        const struct swh_sweep_row *row = &r->rows[k];
        fprintf(f, "%ld", k + 1);
        put_matrix(r, k, f);
        for (int i = 0; i < r->sweep->plan.axes; i++)
            swh_number_put(f, ",", row->input[i]);
        fprintf(f, ",%s,%s", swh_case_result_word(row->result), swh_cause_word(row->cause));
        for (int i = 0; i < SWH_SWEEP_COLUMNS; i++)
            swh_number_put(f, ",", swh_sweep_column_value(row, i));
        fputc('\n', f);
    }
}

double swh_sweep_result_time(const struct swh_sweep_result *r)
{
    double longest = 0;
    for (long k = 0; k < r->sweep->plan.count; k++)
        longest = fmax(longest, r->rows[k].end_time);
    return longest;
}

/* ---- sensitivities ---- */

enum swh_status swh_sweep_result_make(struct swh_sweep_result *r, struct swh_error *err)
{
    const struct swh_sampling *plan = &r->sweep->plan;
    double *x = malloc((size_t)(plan->axes + 1) * (size_t)plan->count * sizeof *x);
    if (!x)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the sensitivities");
    double *y = x + plan->axes * plan->count;
    memset(r->count, 0, sizeof r->count);
    for (long k = 0; k < plan->count; k++) {
        r->count[r->rows[k].result]++;
        y[k] = swh_sweep_column_value(&r->rows[k], r->column);
    }
    enum swh_status status = SWH_OK;
    for (int i = 0; i < plan->axes && status == SWH_OK; i++) {
        for (long k = 0; k < plan->count; k++)
            x[i * plan->count + k] = r->rows[k].input[i];
        status = swh_rank_correlation(x + i * plan->count, y, plan->count, &r->rank[i], err);
        r->partial[i] = NAN;
        r->sobol[i] = (struct swh_sobol){NAN, NAN, NAN, NAN};
    }
    if (status == SWH_OK && plan->design == SWH_DESIGN_LATIN)
        status = swh_partial_rank_correlations(x, plan->axes, y, plan->count, r->partial, err);
    if (plan->design == SWH_DESIGN_SALTELLI)
        swh_sobol_indices(y, plan->sample, plan->axes, r->sobol);
    free(x);
    return status;
}

/* ---- JSON ---- */

static json_t *json_sensitivities(const struct swh_sweep_result *r)
{
    json_t *all = json_object();
    for (int i = 0; i < r->sweep->plan.axes; i++) {
        json_t *one = json_object();
        json_object_set_new(one, "rank_correlation", swh_json_number(r->rank[i]));
        if (r->sweep->plan.design == SWH_DESIGN_LATIN)
            json_object_set_new(one, "partial_rank_correlation", swh_json_number(r->partial[i]));
        if (r->sweep->plan.design == SWH_DESIGN_SALTELLI) {
            json_object_set_new(one, "sobol_first", swh_json_number(r->sobol[i].first));
            json_object_set_new(one, "sobol_first_error", swh_json_number(r->sobol[i].first_error));
            json_object_set_new(one, "sobol_total", swh_json_number(r->sobol[i].total));
            json_object_set_new(one, "sobol_total_error", swh_json_number(r->sobol[i].total_error));
        }
        json_object_set_new(all, r->sweep->key[i].name, one);
    }
    return all;
}

static json_t *json_keys(const struct swh_sampling *plan, const struct swh_key *key)
{
    json_t *all = json_object();
    for (int i = 0; i < plan->axes; i++) {
        json_t *one = json_object();
        json_object_set_new(one, "low", swh_json_number(plan->range[i].lo));
        json_object_set_new(one, "high", swh_json_number(plan->range[i].hi));
        json_object_set_new(one, "unit", json_string(swh_quantities[key[i].quantity].si));
        if (plan->design == SWH_DESIGN_GRID)
            json_object_set_new(one, "values", json_integer(plan->range[i].n));
        json_object_set_new(all, key[i].name, one);
    }
    return all;
}

static void add_plan(json_t *root, const struct swh_sampling *plan, const struct swh_key *key)
{
    static const char *const designs[] = {"grid", "latin_hypercube",
                                          "saltelli"}; /* ORDER of enum swh_design */
    const bool drawn = plan->design != SWH_DESIGN_GRID;
    json_object_set_new(root, "design", json_string(designs[plan->design]));
    json_object_set_new(root, "sample", drawn ? json_integer(plan->sample) : json_null());
    json_object_set_new(root, "seed", drawn ? json_integer((json_int_t)plan->seed) : json_null());
    json_object_set_new(root, "keys", json_keys(plan, key));
}

json_t *swh_sweep_result_json(const struct swh_sweep_result *r)
{
    struct swh_sweep_column c;
    swh_sweep_column_describe(r->column, &c);
    json_t *root = json_object(), *outcomes = json_object();
    json_object_set_new(root, "scenario", swh_json_text(r->name));
    json_object_set_new(root, "cases", json_integer(r->sweep->plan.count));
    add_plan(root, &r->sweep->plan, r->sweep->key);
    for (int i = 0; i < SWH_CASE_RESULT_COUNT; i++)
        json_object_set_new(outcomes, swh_case_result_word((enum swh_case_result)i),
                            json_integer(r->count[i]));
    json_object_set_new(root, "outcomes", outcomes);
    json_object_set_new(root, "followed_s", swh_json_number(swh_sweep_result_time(r)));
    json_object_set_new(root, "result", json_string(c.name));
    json_object_set_new(root, "sensitivities", json_sensitivities(r));
    json_object_set_new(root, "folder", swh_json_text(r->folder));
    return root;
}

/* ---- words ---- */

/* to two digits, without "-0.00" */
static double rounded(double x)
{
    return fabs(x) < 0.005 ? 0.0 : x;
}

static void print_keys(const struct swh_sweep_result *r, const struct swh_units *units, enum swh_show show,
                       FILE *f)
{
    for (int i = 0; i < r->sweep->plan.axes; i++) {
        const struct swh_key *k = &r->sweep->key[i];
        const struct swh_range *g = &r->sweep->plan.range[i];
        char lo[48], hi[48];
        swh_units_text(units, show, k->quantity, g->lo, lo, sizeof lo);
        swh_units_text(units, show, k->quantity, g->hi, hi, sizeof hi);
        fprintf(f, "  %-36s %s to %s", k->name, lo, hi);
        const struct swh_sobol *b = &r->sobol[i];
        if (r->sweep->plan.design == SWH_DESIGN_SALTELLI && isfinite(b->first))
            fprintf(f, "   Sobol index %.2f +- %.2f alone, %.2f +- %.2f in all", rounded(b->first),
                    b->first_error, rounded(b->total), b->total_error);
        else if (isfinite(r->rank[i]))
            fprintf(f, "   rank correlation %+.2f", rounded(r->rank[i]));
        if (isfinite(r->partial[i]))
            fprintf(f, ", %+.2f with the others held", rounded(r->partial[i]));
        fputc('\n', f);
    }
}

void swh_sweep_result_print(const struct swh_sweep_result *r, const struct swh_units *units,
                            enum swh_show show, FILE *f)
{
    struct swh_sweep_column c;
    swh_sweep_column_describe(r->column, &c);
    fprintf(f, "%s: %ld cases", r->name, r->sweep->plan.count);
    const char *before = ":";
    for (int i = 0; i < SWH_CASE_RESULT_COUNT; i++) {
        if (r->count[i] == 0)
            continue;
        fprintf(f, "%s %ld %s", before, r->count[i], swh_case_result_word((enum swh_case_result)i));
        before = ",";
    }
    char time[48], folder[512];
    swh_units_text(units, show, SWH_Q_TIME, swh_sweep_result_time(r), time, sizeof time);
    fprintf(f,
            ".\n  Each case was followed for %s; what would be lost later counts as it stood then "
            "(`margin` follows to rest).\n",
            time);
    print_keys(r, units, show, f);
    fprintf(f, "  (of %s)\n  Table: %s/cases.csv\n", c.name,
            swh_utf8_clean(folder, sizeof folder, r->folder));
}
