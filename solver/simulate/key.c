#include "solver/simulate/key.h"

#include <stdio.h>
#include <string.h>

void swh_key_of_fault(enum swh_fault fault, struct swh_key *key)
{
    *key = (struct swh_key){
        .kind = SWH_KEY_FAULT, .index = (int)fault, .quantity = SWH_Q_NONE, .lo = 0, .hi = 1};
    snprintf(key->name, sizeof key->name, "fault.%s.severity", swh_fault_table[fault].id);
}

/* "fault.NAME.severity" -> the fault's index, -1 if it is not of that form */
static int fault_of(const char *name)
{
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        struct swh_key key;
        swh_key_of_fault((enum swh_fault)i, &key);
        if (strcmp(name, key.name) == 0)
            return i;
    }
    return -1;
}

static int condition_of(const char *name)
{
    static const char prefix[] = "conditions.";
    const size_t n = sizeof prefix - 1;
    return strncmp(name, prefix, n) == 0 ? swh_input_find(name + n) : -1;
}

static void fill(struct swh_key *key, enum swh_key_kind kind, int index, const char *name)
{
    const bool param = kind == SWH_KEY_PARAM;
    *key = (struct swh_key){.kind = kind,
                            .index = index,
                            .quantity =
                                param ? swh_param_table[index].quantity : swh_input_table[index].quantity,
                            .lo = param ? swh_param_table[index].lo : swh_input_table[index].lo,
                            .hi = param ? swh_param_table[index].hi : swh_input_table[index].hi};
    snprintf(key->name, sizeof key->name, "%s", name);
}

enum swh_status swh_key_find(const char *name, struct swh_key *key, struct swh_error *err)
{
    int i = fault_of(name);
    if (i >= 0) {
        swh_key_of_fault((enum swh_fault)i, key);
        return SWH_OK;
    }
    if ((i = condition_of(name)) >= 0) {
        fill(key, SWH_KEY_CONDITION, i, name);
        return SWH_OK;
    }
    if ((i = swh_param_find(name)) >= 0) {
        fill(key, SWH_KEY_PARAM, i, name);
        return SWH_OK;
    }
    swh_error_set(err, SWH_ERR_INPUT, "there is no number called '%.100s'", name);
    swh_error_expected(err, "section.key of a parameter, conditions.NAME or fault.NAME.severity");
    return SWH_ERR_INPUT;
}

enum swh_status swh_key_find_in(const struct swh_case *c, const char *name, struct swh_key *key,
                                struct swh_error *err)
{
    for (int i = 0; i < c->n_own_faults; i++) {
        *key =
            (struct swh_key){.kind = SWH_KEY_OWN_FAULT, .index = i, .quantity = SWH_Q_NONE, .lo = 0, .hi = 1};
        snprintf(key->name, sizeof key->name, "own_fault.%s.severity", c->own_fault[i].name);
        if (strcmp(name, key->name) == 0)
            return SWH_OK;
    }
    return swh_key_find(name, key, err);
}

double swh_key_get(const struct swh_case *c, const struct swh_key *key)
{
    if (key->kind == SWH_KEY_PARAM)
        return swh_param_get(&c->params, key->index);
    if (key->kind == SWH_KEY_FAULT)
        return c->fault[key->index].present ? c->fault[key->index].severity : 0;
    if (key->kind == SWH_KEY_OWN_FAULT)
        return c->own_fault[key->index].setting.severity;
    struct swh_inputs in = c->conditions;
    return *swh_input_at(&in, key->index);
}

void swh_key_set(struct swh_case *c, const struct swh_key *key, double value)
{
    if (key->kind == SWH_KEY_PARAM)
        swh_param_set(&c->params, key->index, value);
    else if (key->kind == SWH_KEY_CONDITION)
        *swh_input_at(&c->conditions, key->index) = value;
    else if (key->kind == SWH_KEY_OWN_FAULT)
        c->own_fault[key->index].setting.severity = value;
    else {
        c->fault[key->index].present = true;
        c->fault[key->index].severity = value;
    }
}

enum swh_status swh_key_check(const struct swh_case *c, const struct swh_key *key, struct swh_error *err)
{
    bool driven = key->kind == SWH_KEY_CONDITION && c->schedule.given[key->index];
    for (int i = 0; i < c->schedule.n_params && key->kind == SWH_KEY_PARAM; i++)
        driven |= c->schedule.param[i] == key->index;
    if (!driven)
        return SWH_OK;
    return swh_error_set(err, SWH_ERR_INPUT,
                         "%s cannot be varied: the drive schedule has a column for it, which counts",
                         key->name);
}
