/* A scenario: INI file, its vehicle file and --set options made into a case. */
#ifndef SWH_SOLVER_FILES_SCENARIO_H
#define SWH_SOLVER_FILES_SCENARIO_H

#include "solver/files/notes.h"
#include "solver/files/own_refrigerant.h"
#include "solver/files/settings.h"
#include "solver/files/units.h"
#include "solver/simulate/case.h"

struct swh_scenario {
    struct swh_case c;
    char path[256];                          /* of the scenario (or vehicle) file */
    char stem[128];                          /* its name without folder and ending: names the results */
    char vehicle[512], schedule[512];        /* as found from here; "" if none */
    enum swh_origin params[SWH_PARAM_COUNT]; /* who set each */
    enum swh_origin conditions[SWH_INPUT_COUNT];
    struct swh_own_refrigerant *refrigerant; /* from a fluid file; NULL: one of the program's own */
    struct swh_notes notes;                  /* how doubtful words were understood */
};

struct swh_scenario_request {
    const char *path;
    const char *vehicle;    /* instead of the one that the scenario names; NULL for that one */
    const char *const *set; /* "section.key=value" */
    int set_count;
};

/* Loads a scenario. Everything wrong with it is noted in `problems`; returns the status of the first. Free
 * with swh_scenario_free in either case. */
enum swh_status swh_scenario_load(struct swh_scenario *s, const struct swh_scenario_request *request,
                                  const struct swh_units *units, struct swh_problems *problems);
void swh_scenario_free(struct swh_scenario *s);

/* Computes the displacement from cylinders, bore and stroke where one of these was set and it was not. */
void swh_scenario_swept_volume(struct swh_scenario *s);

/* File name without folder and ending into out; "log" for the standard input. */
void swh_stem(const char *path, char *out, size_t size);
/* `file` as seen from the folder of `from` */
void swh_path_relative_to(const char *from, const char *file, char *out, size_t size);

#endif
