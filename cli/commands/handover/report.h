/* The page of a job: its front, which prints to two sheets, and its appendix. */
#ifndef SWH_CLI_COMMANDS_HANDOVER_REPORT_H
#define SWH_CLI_COMMANDS_HANDOVER_REPORT_H

#include "cli/base/session.h"
#include "cli/commands/handover/job_folder.h"
#include "cli/commands/handover/job_readings.h"

/* What is not there: lines that end the front and that the command says on the terminal. */
struct swh_missing {
    char **line;
    size_t count, room;
    bool failed; /* memory was short for one */
};
/* Adds a line (printf format) unless it is there already. */
void swh_missing_add(struct swh_missing *m, const char *format, ...) __attribute__((format(printf, 2, 3)));
void swh_missing_free(struct swh_missing *m);

struct swh_report {
    const struct swh_session *session;
    enum swh_show show;
    const struct swh_repair_folder *job;
    const struct swh_repair_readings *readings;
    const char *title; /* NULL: the usual one */
    struct swh_missing missing;
    FILE *f;
};

/* A value in SI as it is shown, with its unit. Returns out. */
const char *swh_report_text(const struct swh_report *r, enum swh_quantity q, double si, char *out,
                            size_t size);
/* Which of a job's rankings and acceptances the front tells: the last by name. NULL if there is none. */
const struct swh_repair_paper *swh_report_last(const struct swh_report *r, enum swh_paper kind);
/* One sentence: how a run (its summary.json) ended. Returns out. */
const char *swh_report_outcome(const struct swh_report *r, const json_t *run, char *out, size_t size);
/* What a run is called: its own name, or its folder's. */
const char *swh_report_run_name(const struct swh_repair_paper *p);
/* Runs beside each other, if there are two or more. */
void swh_report_compare_runs(struct swh_report *r);
/* A run by itself: sentence, small table, three pictures. */
void swh_report_run(struct swh_report *r, const struct swh_repair_paper *p);
/* A picture's file name as words: "pressures", "pressure enthalpy". Returns out. */
const char *swh_report_picture_name(const struct swh_repair_paper *p, char *out, size_t size);

/* The parts of the page, in their order. */
void swh_report_who(struct swh_report *r);
void swh_report_why(struct swh_report *r);
void swh_report_bench(struct swh_report *r);
void swh_report_gauges(struct swh_report *r);
void swh_report_done(struct swh_report *r);
void swh_report_test(struct swh_report *r);
void swh_report_watch(struct swh_report *r);
void swh_report_appendix(struct swh_report *r);

#endif
