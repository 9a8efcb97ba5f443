/* INI files with line and column: inih does the parsing, this file keeps the places. '#' and ';' begin a
 * comment, at the start of a line or after a space. */
#ifndef SWH_SOLVER_FILES_INI_H
#define SWH_SOLVER_FILES_INI_H

#include "solver/files/problems.h"

/* One line of the file. key is NULL for a section's head; then column is that of the section's name. */
struct swh_ini_entry {
    const char *file;
    const char *section, *key, *value;
    long line;
    long column, value_column; /* of the key and of the value, from 1 */
};
typedef void (*swh_ini_handler)(const struct swh_ini_entry *entry, void *user);

/* Calls `handler` for each head and each entry in order. Lines that are neither, lines too long, and a file
 * that cannot be read are noted in `problems`. */
void swh_ini_read(const char *path, swh_ini_handler handler, void *user, struct swh_problems *problems);

#endif
