/* The library as a unit of co-simulation: what a master calls, in terms of setup and stepper.
 *
 * Value references: a channel's index, SEIZED, or KEYS + the index of a number that can be set. Numbers are
 * set before the machine starts; conditions at any time. */
#include "solver/fmu/fmi3.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <swashheat/swashheat.h>

#include "solver/fmu/references.h"

struct unit {
    struct swh_setup *setup;
    struct swh_stepper *stepper; /* NULL until the machine is needed */
    double start;                /* the master's time at which the machine starts [s] */
    bool running;                /* out of initialization */
    char resources[1024];
    fmi3InstanceEnvironment environment;
    fmi3LogMessageCallback log;
};

/* ---- errors ---- */

static fmi3Status say(const struct unit *u, fmi3Status status, const char *words)
{
    if (u->log)
        u->log(u->environment, status, status == fmi3OK ? "logAll" : "logStatusError", words);
    return status;
}

static fmi3Status judge(const struct unit *u, enum swh_status status, const struct swh_error *err)
{
    char words[1200];
    return status == SWH_OK ? fmi3OK : say(u, fmi3Error, swh_error_text(err, words, sizeof words));
}

/* ---- life ---- */

static fmi3Status load(struct unit *u)
{
    struct swh_error err;
    char path[sizeof u->resources + 16];
    const size_t n = strlen(u->resources);
    snprintf(path, sizeof path, "%s%scase.ini", u->resources, n > 0 && u->resources[n - 1] == '/' ? "" : "/");
    return judge(u, swh_setup_load(&u->setup, path, NULL, &err), &err);
}

static void unload(struct unit *u)
{
    swh_stepper_free(u->stepper);
    swh_setup_free(u->setup);
    u->stepper = NULL;
    u->setup = NULL;
    u->running = false;
}

static fmi3Status need_stepper(struct unit *u)
{
    struct swh_error err;
    return u->stepper ? fmi3OK : judge(u, swh_stepper_new(&u->stepper, u->setup, &err), &err);
}

const char *fmi3GetVersion(void)
{
    return "3.0";
}

fmi3Instance fmi3InstantiateCoSimulation(fmi3String name, fmi3String token, fmi3String resources,
                                         fmi3Boolean visible, fmi3Boolean logging, fmi3Boolean event_mode,
                                         fmi3Boolean early_return, const fmi3ValueReference intermediate[],
                                         size_t n_intermediate, fmi3InstanceEnvironment environment,
                                         fmi3LogMessageCallback log, fmi3IntermediateUpdateCallback update)
{
    (void)name, (void)visible, (void)logging, (void)event_mode, (void)early_return, (void)intermediate;
    (void)n_intermediate, (void)update;
    struct unit *u = calloc(1, sizeof *u);
    char expected[SWH_FMU_TOKEN];
    if (!u)
        return NULL;
    u->environment = environment;
    u->log = log;
    if (!token || strcmp(token, swh_fmu_token(expected)) != 0)
        say(u, fmi3Error, "the description belongs to another version of this unit");
    else if (!resources || strlen(resources) >= sizeof u->resources)
        say(u, fmi3Error, "no folder of resources, or its name is too long");
    else {
        memcpy(u->resources, resources, strlen(resources) + 1);
        if (load(u) == fmi3OK)
            return u;
    }
    free(u);
    return NULL;
}

void fmi3FreeInstance(fmi3Instance instance)
{
    struct unit *u = instance;
    if (!u)
        return;
    unload(u);
    free(u);
}

fmi3Status fmi3Reset(fmi3Instance instance)
{
    struct unit *u = instance;
    unload(u);
    return load(u);
}

fmi3Status fmi3SetDebugLogging(fmi3Instance instance, fmi3Boolean on, size_t n, const fmi3String categories[])
{
    (void)instance, (void)on, (void)n, (void)categories;
    return fmi3OK; /* errors are always told */
}

fmi3Status fmi3EnterInitializationMode(fmi3Instance instance, fmi3Boolean tolerance_given,
                                       fmi3Float64 tolerance, fmi3Float64 start, fmi3Boolean stop_given,
                                       fmi3Float64 stop)
{
    struct unit *u = instance;
    (void)tolerance_given, (void)tolerance, (void)stop_given, (void)stop; /* run.tolerance is a parameter */
    u->start = start;
    return fmi3OK;
}

fmi3Status fmi3ExitInitializationMode(fmi3Instance instance)
{
    struct unit *u = instance;
    const fmi3Status status = need_stepper(u);
    u->running = status == fmi3OK;
    return status;
}

fmi3Status fmi3UpdateDiscreteStates(fmi3Instance instance, fmi3Boolean *again, fmi3Boolean *end,
                                    fmi3Boolean *nominals, fmi3Boolean *values, fmi3Boolean *next_defined,
                                    fmi3Float64 *next)
{
    (void)instance;
    *again = *end = *nominals = *values = *next_defined = false;
    *next = 0;
    return fmi3OK;
}

/* phases in which there is nothing to do here: no discrete states, no structure to configure */
#define IDLE_PHASE(name)                                                                                     \
    fmi3Status name(fmi3Instance instance)                                                                   \
    {                                                                                                        \
        (void)instance;                                                                                      \
        return fmi3OK;                                                                                       \
    }
IDLE_PHASE(fmi3EnterStepMode)
IDLE_PHASE(fmi3EnterEventMode)
IDLE_PHASE(fmi3EvaluateDiscreteStates)
IDLE_PHASE(fmi3EnterConfigurationMode)
IDLE_PHASE(fmi3ExitConfigurationMode)
IDLE_PHASE(fmi3Terminate)
#undef IDLE_PHASE

/* ---- values ---- */

static fmi3Status get_one(struct unit *u, fmi3ValueReference reference, double *x)
{
    struct swh_error err;
    struct swh_key_entry key;
    if (reference < swh_channel_count()) {
        const fmi3Status status = need_stepper(u);
        *x = status == fmi3OK ? swh_stepper_channel(u->stepper, (int)reference) : NAN;
        if (reference == 0) /* time is the master's */
            *x += u->start;
        return status;
    }
    if (reference < SWH_FMU_KEYS || swh_key_describe(reference - SWH_FMU_KEYS, &key) != 0)
        return say(u, fmi3Error, "there is no number of that reference");
    return judge(u, swh_setup_get(u->setup, key.name, NULL, x, &err), &err);
}

static fmi3Status set_one(struct unit *u, fmi3ValueReference reference, double x)
{
    struct swh_error err;
    struct swh_key_entry key;
    if (reference < SWH_FMU_KEYS || swh_key_describe(reference - SWH_FMU_KEYS, &key) != 0)
        return say(u, fmi3Error, "there is no number of that reference that can be set");
    const bool condition = strncmp(key.name, "conditions.", strlen("conditions.")) == 0;
    if (u->running && !condition)
        return say(u, fmi3Error, "parameters are set before the machine starts");
    fmi3Status status = judge(u, swh_setup_set(u->setup, key.name, x, NULL, &err), &err);
    if (status == fmi3OK && u->running)
        status = judge(u, swh_stepper_input(u->stepper, key.name, x, &err), &err);
    else if (status == fmi3OK) {
        swh_stepper_free(u->stepper); /* it was started to show what it would begin with */
        u->stepper = NULL;
    }
    return status;
}

fmi3Status fmi3GetFloat64(fmi3Instance instance, const fmi3ValueReference references[], size_t n,
                          fmi3Float64 values[], size_t n_values)
{
    fmi3Status status = n == n_values ? fmi3OK : fmi3Error;
    for (size_t i = 0; i < n && status == fmi3OK; i++)
        status = get_one(instance, references[i], &values[i]);
    return status;
}

fmi3Status fmi3SetFloat64(fmi3Instance instance, const fmi3ValueReference references[], size_t n,
                          const fmi3Float64 values[], size_t n_values)
{
    fmi3Status status = n == n_values ? fmi3OK : fmi3Error;
    for (size_t i = 0; i < n && status == fmi3OK; i++)
        status = set_one(instance, references[i], values[i]);
    return status;
}

fmi3Status fmi3GetBoolean(fmi3Instance instance, const fmi3ValueReference references[], size_t n,
                          fmi3Boolean values[], size_t n_values)
{
    struct unit *u = instance;
    fmi3Status status = n == n_values ? need_stepper(u) : fmi3Error;
    for (size_t i = 0; i < n && status == fmi3OK; i++) {
        if (references[i] != SWH_FMU_SEIZED)
            return say(u, fmi3Error, "there is no truth value of that reference");
        values[i] = strstr(swh_stepper_outcome(u->stepper), "seized") != NULL;
    }
    return status;
}

/* ---- steps ---- */

fmi3Status fmi3DoStep(fmi3Instance instance, fmi3Float64 point, fmi3Float64 step, fmi3Boolean no_way_back,
                      fmi3Boolean *event, fmi3Boolean *end, fmi3Boolean *early, fmi3Float64 *reached)
{
    struct unit *u = instance;
    struct swh_error err;
    (void)no_way_back;
    *event = *end = *early = false;
    *reached = point;
    if (!u->running)
        return say(u, fmi3Error, "a step before the end of initialization");
    const fmi3Status status = judge(u, swh_stepper_advance(u->stepper, point + step - u->start, &err), &err);
    *reached = u->start + swh_stepper_time(u->stepper);
    return status;
}
