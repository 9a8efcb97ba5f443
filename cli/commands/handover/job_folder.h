/* The folder of a job as it lies on the disk: every file with what it is, and job.ini. */
#ifndef SWH_CLI_COMMANDS_HANDOVER_JOB_FOLDER_H
#define SWH_CLI_COMMANDS_HANDOVER_JOB_FOLDER_H

#include "solver/files/problems.h"

#include <jansson.h>
#include <stdbool.h>

enum swh_paper {
    SWH_PAPER_JOB,      /* job.ini */
    SWH_PAPER_FINDINGS, /* an INI file with [findings] */
    SWH_PAPER_SETTINGS, /* another INI file: vehicle, scenario, map of columns */
    SWH_PAPER_READINGS, /* a log or a sheet */
    SWH_PAPER_SERIES,   /* a table that a command wrote */
    SWH_PAPER_RANK,     /* JSON of a command, known by its keys */
    SWH_PAPER_ACCEPT,
    SWH_PAPER_RUN,
    SWH_PAPER_RESULT,     /* other JSON */
    SWH_PAPER_PROVENANCE, /* provenance.json */
    SWH_PAPER_BROKEN,     /* JSON that cannot be read */
    SWH_PAPER_PICTURE,
    SWH_PAPER_OTHER
};

struct swh_repair_paper {
    char path[512];   /* as opened */
    const char *name; /* within the folder; points into path */
    size_t folder;    /* letters of `name` up to the last slash; 0: in the folder itself */
    enum swh_paper kind;
    json_t *json;      /* of JSON that could be read */
    char problem[200]; /* of one that could not */
    bool photo;        /* named in [photos] */
};

struct swh_repair_entry {
    char section[32], key[256], value[1024];
};

struct swh_repair_folder {
    char root[512];
    struct swh_repair_paper *paper; /* by name */
    size_t papers, paper_room;
    bool has_job;
    struct swh_repair_entry *entry; /* of job.ini, in its order */
    size_t entries, entry_room;
};

/* Reads a folder and the folders in it (names that begin with a dot, and report.html, are passed over). What
 * cannot be read at all, and mistakes in job.ini, are noted in `problems`. Free in either case. */
enum swh_status swh_repair_folder_read(struct swh_repair_folder *j, const char *root,
                                       struct swh_problems *problems);
void swh_repair_folder_free(struct swh_repair_folder *j);
/* The value of [section] key in job.ini; NULL if it is not there or empty. */
const char *swh_repair_value(const struct swh_repair_folder *j, const char *section, const char *key);
/* How many entries a section has. */
size_t swh_repair_section_size(const struct swh_repair_folder *j, const char *section);
/* The first paper of a kind by name, NULL if there is none. */
const struct swh_repair_paper *swh_repair_first(const struct swh_repair_folder *j, enum swh_paper kind);
size_t swh_repair_count(const struct swh_repair_folder *j, enum swh_paper kind);
/* The paper of this name within the folder, NULL if it is not there. */
struct swh_repair_paper *swh_repair_paper_named(const struct swh_repair_folder *j, const char *name);
/* Do two papers lie in the same folder? */
bool swh_repair_together(const struct swh_repair_paper *a, const struct swh_repair_paper *b);

#endif
