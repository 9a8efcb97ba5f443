/* What fit, rank, accept and plan share: vehicle and logs loaded into memory, a results folder with one JSON
 * file, the calibrated vehicle file. */
#ifndef SWH_CLI_COMMANDS_INFER_LOG_COMMAND_H
#define SWH_CLI_COMMANDS_INFER_LOG_COMMAND_H

#include "cli/base/frame.h"
#include "cli/base/result.h"
#include "solver/infer/fit.h"
#include "solver/infer/readings.h"
#include "solver/simulate/log_memory.h"

struct swh_log_command {
    struct swh_frame frame; /* first; its scenario is the vehicle */
    struct swh_log_memory log[SWH_FIT_LOGS];
    const char *log_name[SWH_FIT_LOGS];
    int logs;
    struct swh_spot_sheet sheet[SWH_FIT_LOGS];
    int sheets;
    const struct swh_findings *bench; /* NULL: nothing was looked at */
    bool doors_given;
    /* set before reading: the logs' pressures drive, and only discharge and shell are compared */
    bool replays;
    bool clutch_off;  /* found: in one of the logs the clutch is never on */
    int doubts;       /* how many of the first notes say what cannot be, or looks odd */
    bool impossible;  /* found: readings that no vehicle can have given; the first notes say which */
    bool odd_at_rest; /* found: gauges that part at rest, or less than liquid at the outside air has */
    bool stuck;       /* found: a reading that drives stays where it is for minutes; the notes say which */
    void *row_user;   /* for whoever is called after each row */
};

/* Called after each row of a log while it is read (live logs); may be NULL. */
typedef enum swh_status (*swh_log_command_row)(struct swh_log_command *j, struct swh_log_memory *log,
                                               struct swh_error *err);

/* Loads --vehicle with --set; SWH_ERR_USAGE without one. Free in either case. */
enum swh_status swh_log_command_vehicle(struct swh_log_command *j, struct swh_session *s);
/* Reads all arguments as logs or spot sheets, noting what looks odd: readings that never change (left out
 * where they do not drive), a clutch that is never on, a short log. Less than a minute is an error. What is
 * wrong with them is in the session's problems. */
enum swh_status swh_log_command_logs(struct swh_log_command *j, swh_log_command_row row);
/* The first log, or if there is none the first sheet. */
struct swh_readings swh_log_command_readings(const struct swh_log_command *j);
/* The vehicle stands, cabin air was not read, and nobody said whether the doors were open. */
bool swh_log_command_doors_unknown(const struct swh_log_command *j, const struct swh_readings *r);
/* Whether the vehicle file carries the mark that `fit` leaves. */
bool swh_log_command_fitted(const struct swh_log_command *j);
/* "log", "sheet" or "findings": what speaks. */
const char *swh_log_command_kind(const struct swh_log_command *j);
void swh_log_command_free(struct swh_log_command *j);
/* The results folder: --out, or results/NAME. */
void swh_log_command_folder(struct swh_log_command *j, const char *name);
/* Writes `json` as FOLDER/name and, with --json, on the standard output; the vehicle of `fitted` (or NULL) as
 * FOLDER/vehicle.ini. All appear or none. Takes the reference. */
enum swh_status swh_log_command_write(struct swh_log_command *j, json_t *json, const char *name,
                                      const struct swh_fit_result *fitted);
/* A value in the unit the parameter table shows it in. */
double swh_param_shown(const struct swh_units *u, int param, double si);
/* The same with its unit. Returns out. */
const char *swh_param_text(const struct swh_units *u, int param, double si, char *out, size_t size);

#endif
