/* What scenario file, vehicle file and command line set, before anything is made of it: a list of
 * `section.key = value` with places, in the order met. */
#ifndef SWH_SOLVER_FILES_SETTINGS_H
#define SWH_SOLVER_FILES_SETTINGS_H

#include "solver/files/problems.h"

#include <stdbool.h>
#include <stddef.h>

/* Later ones override earlier ones. */
enum swh_origin { SWH_FROM_DEFAULT, SWH_FROM_VEHICLE, SWH_FROM_SCENARIO, SWH_FROM_SET };

struct swh_setting {
    enum swh_origin origin;
    char section[192], key[192], value[192]; /* key "" for a section's head */
    char where[256];                         /* the file, or the option as written */
    long line, column, value_column;         /* 0 on the command line */
    bool of_group; /* from the file that an oil's grade or a compressor's model names */
};

struct swh_settings {
    struct swh_setting *item;
    size_t count, room;
};

void swh_settings_free(struct swh_settings *s);
/* Reads an INI file into the list. A key that the same file sets twice is a problem. */
void swh_settings_read(struct swh_settings *s, const char *path, enum swh_origin origin,
                       struct swh_problems *problems);
/* Takes "section.key=value", or "fault.NAME.key=value". */
void swh_settings_add_option(struct swh_settings *s, const char *text, struct swh_problems *problems);
/* The setting of section.key that counts; NULL if there is none. */
const struct swh_setting *swh_settings_find(const struct swh_settings *s, const char *section,
                                            const char *key);

/* Notes a problem with a setting: `err` holds what and expected, this adds the place and clears it. */
void swh_setting_problem(const struct swh_setting *s, bool in_value, struct swh_error *err,
                         struct swh_problems *problems);

#endif
