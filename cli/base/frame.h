/* The frame of every command that simulates: scenario or vehicle, notes, the folder of results. Commands that
 * work on one scenario also share their course: load it, work, take back what was begun if that fails, say
 * what was wrong, free. */
#ifndef SWH_CLI_BASE_FRAME_H
#define SWH_CLI_BASE_FRAME_H

#include "cli/base/result_folder.h"
#include "cli/base/session.h"
#include "plots/plots.h"
#include "solver/files/notes.h"
#include "solver/files/scenario.h"

#include <jansson.h>

/* The first member of a command's own struct. */
struct swh_frame {
    struct swh_session *session;
    struct swh_scenario scenario;
    struct swh_notes notes;
    struct swh_out out;
    char folder[512]; /* of the results */
};

struct swh_frame_kind {
    const char *suffix; /* results go to results/STORY-SUFFIX if no folder is asked for */
    size_t size;        /* of the command's own struct */
    enum swh_status (*prepare)(void *job,
                               struct swh_error *err); /* the scenario is loaded: reads the other options */
    enum swh_status (*work)(void *job, struct swh_error *err);
    void (*release)(void *job); /* may be NULL */
};

/* Loads a scenario with the options of the session, with `vehicle` (or NULL) instead of the one that it
 * names. What is wrong is noted in the session. */
enum swh_status swh_frame_load(struct swh_frame *frame, struct swh_session *s, const char *path,
                               const char *vehicle);
/* The folder of the results: --out, else results/ and a name in printf's format. */
void swh_frame_folder(struct swh_frame *frame, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* Is something to be printed for people on the standard output? */
bool swh_frame_talks(const struct swh_frame *frame);
/* Number of threads for simulations. */
int swh_frame_threads(void);
/* Adds the notes as an array. */
void swh_frame_notes_json(const struct swh_frame *frame, json_t *json);
/* Prints the notes, and where the results are. */
void swh_frame_print_notes(const struct swh_frame *frame, FILE *f);

/* Does a job from start to end; the exit status follows from what is returned. */
enum swh_status swh_frame_do(struct swh_session *s, const struct swh_frame_kind *kind);

/* Opens DIR/name of the results, begins the folder if need be. NULL with err set. */
FILE *swh_frame_file(struct swh_frame *frame, const char *name, struct swh_error *err);
/* Writes JSON into DIR/name (it appears with the commit) and gives it up. SWH_ERR_OUTPUT, SWH_ERR_MEMORY. */
enum swh_status swh_frame_put_json(struct swh_frame *frame, const char *name, json_t *json,
                                   struct swh_error *err);
/* Ends the folder: adds where the results come from (provenance.h) and gives all files their names, or
 * removes them. SWH_ERR_OUTPUT, SWH_ERR_MEMORY. */
enum swh_status swh_frame_commit(struct swh_frame *frame, struct swh_error *err);
/* Writes JSON to the standard output and gives it up. SWH_ERR_OUTPUT, SWH_ERR_MEMORY. */
enum swh_status swh_frame_tell_json(json_t *json, struct swh_error *err);

/* How pictures of this session are drawn: format, folder, units; limit lines from the parameters. */
struct swh_plot_options swh_frame_plot_options(const struct swh_session *session, const char *folder,
                                               const struct swh_params *params);
/* Says of the error of pictures that could not be drawn which results (`kept`) are there all the same.
 * SWH_ERR_OUTPUT, SWH_ERR_SOLVER if drawing was interrupted, SWH_ERR_MEMORY. */
enum swh_status swh_frame_no_pictures(const char *kept, struct swh_error *err);
/* Nothing finite to draw is no failure of the work: SWH_OK then, else `status` with *inside put into err. */
enum swh_status swh_frame_forgive_picture(enum swh_status status, const struct swh_error *inside,
                                          struct swh_error *err);
/* A key as an axis says it: "severity of condenser blocked", "ambient temperature", "friction film scale". */
void swh_frame_words(const char *key, char *out, size_t size);

#endif
