/* A file in the making: it stands beside its place, in the same folder, under a name that nobody can
 * foretell, until it is whole and renamed. Nothing that stood there before is followed or written over. */
#ifndef SWH_PLOTS_PART_FILE_H
#define SWH_PLOTS_PART_FILE_H

#include <stdbool.h>
#include <stddef.h>

/* Writes a path FOLDER/.NAME.<16 hexadecimal digits>.part, which nobody can foretell, to `path` (size n). 0,
 * or errno: the path is too long, the system has no random numbers. */
int swh_part_name(const char *folder, const char *name, char *path, size_t n);
/* Makes the file FOLDER/.NAME.<16 hexadecimal digits>.part and opens it for writing; its path goes to `path`
 * (size n). Returns the descriptor, or -1 with errno set. */
int swh_part_open(const char *folder, const char *name, char *path, size_t n);
/* Is this the name (without folder) of a file in the making? */
bool swh_part_is(const char *name);
/* Removes the files in the making that runs which were killed left in `folder`. Only for whoever knows that
 * no other run is at work there. */
void swh_part_sweep(const char *folder);

#endif
