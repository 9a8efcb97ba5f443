/* A refrigerant's equation of state from a file in the JSON form of CoolProp's fluid files: Helmholtz energy
 * with an ideal-gas part and residual terms, ancillary equations of the saturation line, viscosity. */
#ifndef SWH_SOLVER_FILES_REFRIGERANT_FILE_H
#define SWH_SOLVER_FILES_REFRIGERANT_FILE_H

#include "model/refrigerant/eos.h"

enum { SWH_REFRIGERANT_REMARK = 200 };

/* Does this word name such a file (does it end in ".json")? */
int swh_refrigerant_names_file(const char *word);

/* Reads a file; *e is complete, with the critical point of the equation itself and the IIR reference state.
 * `remark` receives what is estimated for want of anything published in the file ("" if nothing is).
 * SWH_ERR_INPUT with file, line, column, what was found and what was expected; SWH_ERR_MEMORY. */
enum swh_status swh_refrigerant_read(const char *path, struct swh_eos *e, char remark[SWH_REFRIGERANT_REMARK],
                                     struct swh_error *err);

#endif
