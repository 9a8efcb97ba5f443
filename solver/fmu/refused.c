/* Functions that every unit must have, and that this one has no use for: there are no variables of these
 * types, no states to save, no derivatives. A master that looks at the description never calls them. */
#include "solver/fmu/fmi3.h"

#define REFS const fmi3ValueReference references[], size_t n
#define GET_AND_SET(type)                                                                                    \
    fmi3Status fmi3Get##type(fmi3Instance instance, REFS, fmi3##type values[], size_t n_values);             \
    fmi3Status fmi3Set##type(fmi3Instance instance, REFS, const fmi3##type values[], size_t n_values);       \
    fmi3Status fmi3Get##type(fmi3Instance instance, REFS, fmi3##type values[], size_t n_values)              \
    {                                                                                                        \
        (void)instance, (void)references, (void)values;                                                      \
        return n == 0 && n_values == 0 ? fmi3OK : fmi3Error;                                                 \
    }                                                                                                        \
    fmi3Status fmi3Set##type(fmi3Instance instance, REFS, const fmi3##type values[], size_t n_values)        \
    {                                                                                                        \
        (void)instance, (void)references, (void)values;                                                      \
        return n == 0 && n_values == 0 ? fmi3OK : fmi3Error;                                                 \
    }

GET_AND_SET(Float32)
GET_AND_SET(Int8)
GET_AND_SET(UInt8)
GET_AND_SET(Int16)
GET_AND_SET(UInt16)
GET_AND_SET(Int32)
GET_AND_SET(UInt32)
GET_AND_SET(Int64)
GET_AND_SET(UInt64)
GET_AND_SET(String)

#define REFUSED(name, ...)                                                                                   \
    fmi3Status fmi3##name(fmi3Instance instance, __VA_ARGS__);                                               \
    fmi3Status fmi3##name(fmi3Instance instance, __VA_ARGS__)

REFUSED(SetBoolean, REFS, const fmi3Boolean values[], size_t n_values)
{
    (void)instance, (void)references, (void)values;
    return n == 0 && n_values == 0 ? fmi3OK : fmi3Error;
}

REFUSED(GetBinary, REFS, size_t sizes[], fmi3Binary values[], size_t n_values)
{
    (void)instance, (void)references, (void)sizes, (void)values;
    return n == 0 && n_values == 0 ? fmi3OK : fmi3Error;
}

REFUSED(SetBinary, REFS, const size_t sizes[], const fmi3Binary values[], size_t n_values)
{
    (void)instance, (void)references, (void)sizes, (void)values;
    return n == 0 && n_values == 0 ? fmi3OK : fmi3Error;
}

REFUSED(GetClock, REFS, fmi3Clock values[])
{
    (void)instance, (void)references, (void)values;
    return n == 0 ? fmi3OK : fmi3Error;
}

REFUSED(SetClock, REFS, const fmi3Clock values[])
{
    (void)instance, (void)references, (void)values;
    return n == 0 ? fmi3OK : fmi3Error;
}

REFUSED(GetNumberOfVariableDependencies, fmi3ValueReference reference, size_t *n)
{
    (void)instance, (void)reference;
    *n = 0;
    return fmi3Error;
}

REFUSED(GetVariableDependencies, fmi3ValueReference dependent, size_t elements[],
        fmi3ValueReference independents[], size_t independent_elements[], fmi3DependencyKind kinds[],
        size_t n)
{
    (void)instance, (void)dependent, (void)elements, (void)independents, (void)independent_elements,
        (void)kinds, (void)n;
    return fmi3Error;
}

REFUSED(GetFMUState, fmi3FMUState *state)
{
    (void)instance;
    *state = NULL;
    return fmi3Error;
}

REFUSED(SetFMUState, fmi3FMUState state)
{
    (void)instance, (void)state;
    return fmi3Error;
}

REFUSED(FreeFMUState, fmi3FMUState *state)
{
    (void)instance;
    *state = NULL;
    return fmi3OK;
}

REFUSED(SerializedFMUStateSize, fmi3FMUState state, size_t *size)
{
    (void)instance, (void)state;
    *size = 0;
    return fmi3Error;
}

REFUSED(SerializeFMUState, fmi3FMUState state, fmi3Byte bytes[], size_t size)
{
    (void)instance, (void)state, (void)bytes, (void)size;
    return fmi3Error;
}

REFUSED(DeserializeFMUState, const fmi3Byte bytes[], size_t size, fmi3FMUState *state)
{
    (void)instance, (void)bytes, (void)size;
    *state = NULL;
    return fmi3Error;
}

#define DERIVATIVE                                                                                           \
    const fmi3ValueReference unknowns[], size_t n_unknowns, const fmi3ValueReference knowns[],               \
        size_t n_knowns, const fmi3Float64 seed[], size_t n_seed, fmi3Float64 result[], size_t n_result

REFUSED(GetDirectionalDerivative, DERIVATIVE)
{
    (void)instance, (void)unknowns, (void)n_unknowns, (void)knowns, (void)n_knowns, (void)seed, (void)n_seed,
        (void)result;
    (void)n_result;
    return fmi3Error;
}

REFUSED(GetAdjointDerivative, DERIVATIVE)
{
    (void)instance, (void)unknowns, (void)n_unknowns, (void)knowns, (void)n_knowns, (void)seed, (void)n_seed,
        (void)result;
    (void)n_result;
    return fmi3Error;
}

REFUSED(GetIntervalDecimal, REFS, fmi3Float64 intervals[], fmi3IntervalQualifier qualifiers[])
{
    (void)instance, (void)references, (void)n, (void)intervals, (void)qualifiers;
    return fmi3Error;
}

REFUSED(GetIntervalFraction, REFS, fmi3UInt64 counters[], fmi3UInt64 resolutions[],
        fmi3IntervalQualifier qualifiers[])
{
    (void)instance, (void)references, (void)n, (void)counters, (void)resolutions, (void)qualifiers;
    return fmi3Error;
}

REFUSED(GetShiftDecimal, REFS, fmi3Float64 shifts[])
{
    (void)instance, (void)references, (void)n, (void)shifts;
    return fmi3Error;
}

REFUSED(GetShiftFraction, REFS, fmi3UInt64 counters[], fmi3UInt64 resolutions[])
{
    (void)instance, (void)references, (void)n, (void)counters, (void)resolutions;
    return fmi3Error;
}

REFUSED(SetIntervalDecimal, REFS, const fmi3Float64 intervals[])
{
    (void)instance, (void)references, (void)n, (void)intervals;
    return fmi3Error;
}

REFUSED(SetIntervalFraction, REFS, const fmi3UInt64 counters[], const fmi3UInt64 resolutions[])
{
    (void)instance, (void)references, (void)n, (void)counters, (void)resolutions;
    return fmi3Error;
}

REFUSED(SetShiftDecimal, REFS, const fmi3Float64 shifts[])
{
    (void)instance, (void)references, (void)n, (void)shifts;
    return fmi3Error;
}

REFUSED(SetShiftFraction, REFS, const fmi3UInt64 counters[], const fmi3UInt64 resolutions[])
{
    (void)instance, (void)references, (void)n, (void)counters, (void)resolutions;
    return fmi3Error;
}

REFUSED(GetOutputDerivatives, REFS, const fmi3Int32 orders[], fmi3Float64 values[], size_t n_values)
{
    (void)instance, (void)references, (void)n, (void)orders, (void)values, (void)n_values;
    return fmi3Error;
}

/* ---- model exchange, scheduled execution: masters look for all names, whatever the description says ---- */

fmi3Status fmi3EnterContinuousTimeMode(fmi3Instance instance);
fmi3Status fmi3EnterContinuousTimeMode(fmi3Instance instance)
{
    (void)instance;
    return fmi3Error;
}

REFUSED(CompletedIntegratorStep, fmi3Boolean no_way_back, fmi3Boolean *event, fmi3Boolean *end)
{
    (void)instance, (void)no_way_back;
    *event = *end = false;
    return fmi3Error;
}

REFUSED(SetTime, fmi3Float64 time)
{
    (void)instance, (void)time;
    return fmi3Error;
}

REFUSED(SetContinuousStates, const fmi3Float64 states[], size_t n)
{
    (void)instance, (void)states, (void)n;
    return fmi3Error;
}

#define GET_OF_STATES(name)                                                                                  \
    REFUSED(name, fmi3Float64 values[], size_t n)                                                            \
    {                                                                                                        \
        (void)instance, (void)values, (void)n;                                                               \
        return fmi3Error;                                                                                    \
    }

GET_OF_STATES(GetContinuousStateDerivatives)
GET_OF_STATES(GetEventIndicators)
GET_OF_STATES(GetContinuousStates)
GET_OF_STATES(GetNominalsOfContinuousStates)

REFUSED(GetNumberOfEventIndicators, size_t *n)
{
    (void)instance;
    *n = 0;
    return fmi3Error;
}

REFUSED(GetNumberOfContinuousStates, size_t *n)
{
    (void)instance;
    *n = 0;
    return fmi3Error;
}

REFUSED(ActivateModelPartition, fmi3ValueReference clock, fmi3Float64 time)
{
    (void)instance, (void)clock, (void)time;
    return fmi3Error;
}

fmi3Instance fmi3InstantiateModelExchange(fmi3String name, fmi3String token, fmi3String resources,
                                          fmi3Boolean visible, fmi3Boolean logging,
                                          fmi3InstanceEnvironment environment, fmi3LogMessageCallback log);
fmi3Instance fmi3InstantiateModelExchange(fmi3String name, fmi3String token, fmi3String resources,
                                          fmi3Boolean visible, fmi3Boolean logging,
                                          fmi3InstanceEnvironment environment, fmi3LogMessageCallback log)
{
    (void)name, (void)token, (void)resources, (void)visible, (void)logging, (void)environment, (void)log;
    return NULL;
}

fmi3Instance fmi3InstantiateScheduledExecution(fmi3String name, fmi3String token, fmi3String resources,
                                               fmi3Boolean visible, fmi3Boolean logging,
                                               fmi3InstanceEnvironment environment,
                                               fmi3LogMessageCallback log, fmi3ClockUpdateCallback clock,
                                               fmi3LockPreemptionCallback lock,
                                               fmi3UnlockPreemptionCallback unlock);
fmi3Instance fmi3InstantiateScheduledExecution(fmi3String name, fmi3String token, fmi3String resources,
                                               fmi3Boolean visible, fmi3Boolean logging,
                                               fmi3InstanceEnvironment environment,
                                               fmi3LogMessageCallback log, fmi3ClockUpdateCallback clock,
                                               fmi3LockPreemptionCallback lock,
                                               fmi3UnlockPreemptionCallback unlock)
{
    (void)name, (void)token, (void)resources, (void)visible, (void)logging, (void)environment, (void)log,
        (void)clock;
    (void)lock, (void)unlock;
    return NULL;
}
