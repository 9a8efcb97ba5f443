#include "cli/commands/export/model_description.h"

#include "solver/fmu/references.h"
#include "solver/simulate/key.h"
#include "solver/simulate/run.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <swashheat/names.h>

/* ---- units: exponents of the base units ---- */

static const struct base {
    const char *unit, *exponents;
} bases[] = {
    {"1", ""},
    {"K", "K=\"1\""},
    {"Pa", "kg=\"1\" m=\"-1\" s=\"-2\""},
    {"m", "m=\"1\""},
    {"m2", "m=\"2\""},
    {"m3", "m=\"3\""},
    {"kg", "kg=\"1\""},
    {"s", "s=\"1\""},
    {"m/s", "m=\"1\" s=\"-1\""},
    {"rps", "rad=\"1\" s=\"-1\" factor=\"6.283185307179586\""},
    {"W", "kg=\"1\" m=\"2\" s=\"-3\""},
    {"W/m2", "kg=\"1\" s=\"-3\""},
    {"J", "kg=\"1\" m=\"2\" s=\"-2\""},
    {"W/K", "kg=\"1\" m=\"2\" s=\"-3\" K=\"-1\""},
    {"W/m2/K", "kg=\"1\" s=\"-3\" K=\"-1\""},
    {"J/K", "kg=\"1\" m=\"2\" s=\"-2\" K=\"-1\""},
    {"kg/s", "kg=\"1\" s=\"-1\""},
    {"m2/s", "m=\"2\" s=\"-1\""},
    {"Pa s", "kg=\"1\" m=\"-1\" s=\"-1\""},
    {"N m", "kg=\"1\" m=\"2\" s=\"-2\""},
    {"K-1", "K=\"-1\""},
    {"J/kg", "m=\"2\" s=\"-2\""},
    {"J/kg/K", "m=\"2\" s=\"-2\" K=\"-1\""},
    {"kg/m3", "kg=\"1\" m=\"-3\""},
};

static void put_units(FILE *f)
{
    fputs("  <UnitDefinitions>\n", f);
    for (size_t i = 0; i < sizeof bases / sizeof bases[0]; i++)
        fprintf(f, "    <Unit name=\"%s\"><BaseUnit %s/></Unit>\n", bases[i].unit, bases[i].exponents);
    fputs("  </UnitDefinitions>\n", f);
}

/* ---- text ---- */

static void put_text(const char *s, FILE *f)
{
    for (; *s; s++) {
        if (*s == '&')
            fputs("&amp;", f);
        else if (*s == '<')
            fputs("&lt;", f);
        else if (*s == '"')
            fputs("&quot;", f);
        else if ((unsigned char)*s >= 32)
            fputc(*s, f);
    }
}

static void put_attribute(const char *name, const char *value, FILE *f)
{
    fprintf(f, " %s=\"", name);
    put_text(value, f);
    fputc('"', f);
}

/* ---- channels that this scenario has ---- */

static enum swh_status see_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    bool *has = user;
    (void)err;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        has[i] |= !isnan(row->value[i]);
    return SWH_OK;
}

/* by running its first seconds */
static enum swh_status find_channels(const struct swh_case *c, bool *has, struct swh_error *err)
{
    struct swh_case first = *c; /* the schedule is only read */
    struct swh_summary *summary = calloc(1, sizeof *summary);
    const struct swh_sinks sinks = {.row = see_row, .user = has};
    if (!summary)
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for a simulation");
    first.params.run_duration = 3;
    first.params.run_output_interval = 1;
    const enum swh_status status = swh_run(&first, &sinks, summary, err);
    free(summary);
    return status;
}

/* ---- variables ---- */

static void put_outputs(const bool *has, FILE *f, struct swh_described *n)
{
    for (int i = 1; i < SWH_CHANNEL_COUNT; i++) {
        const struct swh_channel_info *c = &swh_channel_table[i];
        if (!has[i])
            continue;
        fprintf(
            f,
            "    <Float64 name=\"%s\" valueReference=\"%d\" causality=\"output\" variability=\"continuous\"",
            c->id, i);
        put_attribute("unit", swh_quantities[c->quantity].si, f);
        put_attribute("description", c->help, f);
        fputs("/>\n", f);
        n->outputs++;
    }
    fprintf(
        f,
        "    <Boolean name=\"seized\" valueReference=\"%d\" causality=\"output\" variability=\"discrete\" "
        "description=\"a shoe has welded or a piston has seized\"/>\n",
        SWH_FMU_SEIZED);
    n->outputs++;
}

static bool is_input(const struct swh_case *c, const struct swh_key *key, double value)
{
    return key->kind == SWH_KEY_CONDITION && !isnan(value) && !c->schedule.given[key->index];
}

static bool is_parameter(const struct swh_key *key, double value)
{
    return key->kind != SWH_KEY_CONDITION && !isnan(value) && strncmp(key->name, "run.", 4) != 0;
}

static void put_key(const struct swh_key_entry *entry, size_t index, bool input, double value, FILE *f)
{
    fprintf(f, "    <Float64 name=\"%s\" valueReference=\"%zu\" causality=\"%s\" variability=\"%s\"%s",
            entry->name, SWH_FMU_KEYS + index, input ? "input" : "parameter", input ? "continuous" : "fixed",
            input ? "" : " initial=\"exact\"");
    fprintf(f, " start=\"%.17g\" min=\"%.17g\" max=\"%.17g\"", value, fmin(entry->lowest, value),
            fmax(entry->highest, value)); /* "14 um" need not be 14e-6 to the last bit */
    put_attribute("unit", entry->unit, f);
    put_attribute("description", entry->help, f);
    fputs("/>\n", f);
}

static void put_keys(const struct swh_case *c, bool inputs, FILE *f, struct swh_described *n)
{
    struct swh_key_entry entry;
    struct swh_key key;
    for (size_t i = 0; swh_key_describe(i, &entry) == 0; i++) {
        if (swh_key_find(entry.name, &key, NULL) != SWH_OK)
            continue;
        const double value = swh_key_get(c, &key);
        if (inputs ? !is_input(c, &key, value) : !is_parameter(&key, value))
            continue;
        put_key(&entry, i, inputs, value, f);
        *(inputs ? &n->inputs : &n->parameters) += 1;
    }
}

/* every output may depend on everything */
static void put_structure(const bool *has, FILE *f)
{
    fputs("  <ModelStructure>\n", f);
    for (int pass = 0; pass < 2; pass++) {
        const char *element = pass == 0 ? "Output" : "InitialUnknown";
        for (int i = 1; i < SWH_CHANNEL_COUNT; i++)
            if (has[i])
                fprintf(f, "    <%s valueReference=\"%d\"/>\n", element, i);
        fprintf(f, "    <%s valueReference=\"%d\"/>\n", element, SWH_FMU_SEIZED);
    }
    fputs("  </ModelStructure>\n", f);
}

static void put_head(const struct swh_scenario *s, const char *identifier, FILE *f)
{
    char token[SWH_FMU_TOKEN];
    fputs("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<fmiModelDescription fmiVersion=\"3.0\"", f);
    put_attribute("modelName", s->c.name, f);
    put_attribute("instantiationToken", swh_fmu_token(token), f);
    fputs(" description=\"transient heat balance of a swash-plate air-conditioning compressor\"", f);
    fprintf(f, " generationTool=\"swashheat %s\" variableNamingConvention=\"structured\">\n", swh_version());
    fprintf(f,
            "  <CoSimulation modelIdentifier=\"%s\" canHandleVariableCommunicationStepSize=\"true\" "
            "canBeInstantiatedOnlyOncePerProcess=\"false\"/>\n",
            identifier);
}

enum swh_status swh_model_description(const struct swh_scenario *s, const char *identifier, FILE *f,
                                      struct swh_described *n, struct swh_error *err)
{
    bool has[SWH_CHANNEL_COUNT] = {false};
    const struct swh_params *p = &s->c.params;
    *n = (struct swh_described){0};
    const enum swh_status status = find_channels(&s->c, has, err);
    if (status != SWH_OK)
        return status;
    put_head(s, identifier, f);
    put_units(f);
    fprintf(f, "  <DefaultExperiment startTime=\"0\" stopTime=\"%.17g\" stepSize=\"%.17g\"/>\n",
            p->run_duration, p->run_output_interval);
    fputs("  <ModelVariables>\n    <Float64 name=\"time\" valueReference=\"0\" causality=\"independent\" "
          "variability=\"continuous\" unit=\"s\"/>\n",
          f);
    put_keys(&s->c, true, f, n);
    put_outputs(has, f, n);
    put_keys(&s->c, false, f, n);
    fputs("  </ModelVariables>\n", f);
    put_structure(has, f);
    fputs("</fmiModelDescription>\n", f);
    return SWH_OK;
}
