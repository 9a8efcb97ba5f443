/* Readings that cannot be, in words. */
#ifndef SWH_CLI_BASE_ODD_READINGS_H
#define SWH_CLI_BASE_ODD_READINGS_H

#include "cli/base/session.h"
#include "solver/files/notes.h"
#include "solver/infer/plausible.h"

/* "the discharge pipe (12.0 degC) is colder than the suction pipe (60.2 degC) while it runs: ..." */
void swh_note_implausible(struct swh_notes *notes, const struct swh_session *s,
                          const struct swh_implausible *w);
/* A reading that stays where it is between two times [s], and what is made of it. */
void swh_note_stuck(struct swh_notes *notes, const char *path, enum swh_channel ch, double from, double to,
                    const char *what);

#endif
