/* Value references and token of the unit: what its description and its code agree on. */
#ifndef SWH_SOLVER_FMU_REFERENCES_H
#define SWH_SOLVER_FMU_REFERENCES_H

#include <stdio.h>
#include <swashheat/version.h>

enum { SWH_FMU_SEIZED = 900, SWH_FMU_KEYS = 1000, SWH_FMU_TOKEN = 128 };

/* The token that binds a description to the code that understands it. Returns out. */
static inline const char *swh_fmu_token(char out[SWH_FMU_TOKEN])
{
    snprintf(out, SWH_FMU_TOKEN, "{swashheat %s %s}", swh_version(), swh_commit());
    return out;
}

#endif
