#include "cli/commands/run/fit_file.h"

#include "cli/base/json_file.h"

#include <math.h>
#include <string.h>

static enum swh_status wrong(struct swh_error *err, const char *key, const char *what)
{
    swh_error_set(err, SWH_ERR_INPUT, "%s%s%s", key, key[0] ? ": " : "", what);
    swh_error_expected(err, "the fit.json that `swashheat fit` writes");
    return SWH_ERR_INPUT;
}

static enum swh_status take_estimate(struct swh_scenario *s, const char *key, const json_t *one,
                                     struct swh_error *err)
{
    const int param = swh_param_find(key);
    const json_t *value = json_object_get(one, "value"), *spread = json_object_get(one, "spread");
    const char *unit = json_string_value(json_object_get(one, "unit"));
    if (param < 0)
        return wrong(err, key, "no such parameter");
    const struct swh_param_info *p = &swh_param_table[param];
    const double x = json_number_value(value), sd = json_number_value(spread);
    if (!json_is_number(value) || !unit || strcmp(unit, swh_quantities[p->quantity].si) != 0)
        return wrong(err, key, "no value in SI units");
    if (!(x >= p->lo && x <= p->hi) || !(sd >= 0))
        return wrong(err, key, "a value out of range");
    if (s->params[param] == SWH_FROM_SET)
        return SWH_OK;
    swh_param_set(&s->c.params, param, x);
    if (json_is_number(spread))
        swh_param_set(&s->c.spread, param, sd);
    s->params[param] = SWH_FROM_SCENARIO;
    return SWH_OK;
}

/* of all pairs of estimates; those held have 0 with all others */
static enum swh_status take_correlations(struct swh_scenario *s, json_t *all, struct swh_error *err)
{
    const char *one = NULL, *other = NULL;
    json_t *row = NULL, *r = NULL;
    json_object_foreach(all, one, row)
    {
        json_object_foreach(row, other, r)
        {
            const int a = swh_param_find(one), b = swh_param_find(other);
            const double x = json_number_value(r);
            if (a < 0 || b < 0)
                return wrong(err, a < 0 ? one : other, "no such parameter");
            if (a != b && x != 0 && !swh_joint_set(&s->c.joint, a, b, fmin(fmax(x, -1), 1)))
                return wrong(err, one, "too many correlations");
        }
    }
    return SWH_OK;
}

enum swh_status swh_fit_file_apply(const char *path, struct swh_scenario *s, struct swh_error *err)
{
    json_t *file = swh_json_read(path, err);
    if (!file)
        return err->status;
    json_t *estimates = json_object_get(file, "estimates"), *one = NULL;
    const char *key = NULL;
    enum swh_status status =
        json_object_size(estimates) > 0 ? SWH_OK : wrong(err, "", "no estimates in this file");
    json_object_foreach(estimates, key, one)
    {
        if (status == SWH_OK)
            status = take_estimate(s, key, one, err);
    }
    if (status == SWH_OK)
        status = take_correlations(s, json_object_get(file, "correlation"), err);
    if (status == SWH_ERR_INPUT)
        swh_error_at(err, path, 0, 0);
    json_decref(file);
    return status;
}
