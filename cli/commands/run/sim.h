/* One simulation from the command line: its rows and events go to files, to memory for pictures, and a bar on
 * the terminal shows how far it is. */
#ifndef SWH_CLI_COMMANDS_RUN_SIM_H
#define SWH_CLI_COMMANDS_RUN_SIM_H

#include "cli/base/frame.h"
#include "cli/base/result.h"
#include "cli/commands/run/decimated_series.h"
#include "cli/commands/run/series_csv.h"

struct swh_sim {
    struct swh_frame frame; /* first */
    struct swh_rowfile *series;
    FILE *events;
    struct swh_keep keep;
    struct swh_summary summary;
    struct swh_error stopped; /* why it could not go on */
    bool replay;
    char label[64]; /* among runs laid over each other: the value that varies; "": the file's name */
    double end;     /* s; NaN if unknown */
    double said;    /* s, clock of the progress bar */
    long rows;
    double rotor_early, rotor_last; /* K: ten minutes before the end and last; NaN before they are known */
};
/* The finished simulation, as it is told; points into it. */
struct swh_result swh_sim_result(const struct swh_sim *sim);

/* The folder of the results: --out, or results/NAME; with `several` scenarios a
 * folder for each below --out. */
void swh_sim_choose_folder(struct swh_sim *sim, bool several);
/* Opens the results. `measured`: the readings that a log has; NULL in a run. */
enum swh_status swh_sim_begin(struct swh_sim *sim, const bool *measured, struct swh_error *err);
struct swh_sinks swh_sim_sinks(struct swh_sim *sim);
/* Ends it with what swh_run or swh_replay returned: writes and names the files and tells the summary, or
 * removes everything begun. Returns SWH_OK, the status given, or SWH_ERR_OUTPUT; err says why. */
enum swh_status swh_sim_end(struct swh_sim *sim, enum swh_status status, struct swh_error *err);
/* Pictures of `count` finished simulations: each one's own, and all laid over each other if there are
 * several. */
enum swh_status swh_sim_draw(struct swh_sim *sim, int count, struct swh_error *err);
void swh_sim_free(struct swh_sim *sim);

/* Notes what was set by whom: everything that is not the vehicle file's, for the summary. */
void swh_sim_note_settings(struct swh_sim *sim);

/* Notes, after a run, that a life which hangs on the oil's return from a dry evaporator is open. */
void swh_sim_note_open_life(struct swh_sim *sim);

#endif
