/* A polite end on Ctrl-C: the run stops at its next row, and what it has is kept, marked incomplete. */
#ifndef SWH_CLI_BASE_INTERRUPT_H
#define SWH_CLI_BASE_INTERRUPT_H

#include <stdbool.h>

/* From now on the first SIGINT, SIGTERM or SIGHUP only sets a flag; a second one ends the program at once.
 * Called wherever something is begun that must not be left half done; a second call changes nothing. */
void swh_interrupt_watch(void);
bool swh_interrupted(void);

#endif
