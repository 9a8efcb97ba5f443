/* What a sweep found: cases.csv, JSON, words and pictures. */
#ifndef SWH_CLI_COMMANDS_SWEEP_SWEEP_RESULT_H
#define SWH_CLI_COMMANDS_SWEEP_SWEEP_RESULT_H

#include "cli/base/session.h"
#include "solver/study/sensitivity.h"
#include "solver/study/sweep.h"

#include <jansson.h>
#include <stdio.h>

/* A column of the table. Numbers of a row by name, for --result. */
struct swh_sweep_column {
    char name[64];
    enum swh_quantity quantity;
};
enum { SWH_SWEEP_COLUMNS = 4 + SWH_SWEEP_EXTREME_COUNT };
void swh_sweep_column_describe(int column, struct swh_sweep_column *out);
int swh_sweep_column_find(const char *name); /* -1 if there is none */
double swh_sweep_column_value(const struct swh_sweep_row *row, int column);

struct swh_sweep_result {
    const struct swh_sweep *sweep;
    const struct swh_sweep_row *rows; /* all done */
    const char *name, *folder;
    int column; /* that pictures and sensitivities are about */
    long count[SWH_CASE_RESULT_COUNT];
    double rank[SWH_SAMPLE_AXES];            /* rank correlation of each key with the column */
    double partial[SWH_SAMPLE_AXES];         /* partial rank correlation; NaN unless sampled */
    struct swh_sobol sobol[SWH_SAMPLE_AXES]; /* NaN unless the design is Saltelli's */
};

/* Time over which the cases were followed [s]: that of the longest. */
double swh_sweep_result_time(const struct swh_sweep_result *r);
/* Counts outcomes, computes sensitivities; sweep, rows, name, folder, column are set. SWH_ERR_MEMORY. */
enum swh_status swh_sweep_result_make(struct swh_sweep_result *r, struct swh_error *err);
void swh_sweep_result_csv(const struct swh_sweep_result *r, FILE *f);
json_t *swh_sweep_result_json(const struct swh_sweep_result *r);
void swh_sweep_result_print(const struct swh_sweep_result *r, const struct swh_units *units,
                            enum swh_show show, FILE *f);
/* One key: a curve; two keys of a grid: a map with lines of equal value; else bars of the sensitivities. */
enum swh_status swh_sweep_result_draw(const struct swh_sweep_result *r, const struct swh_session *session,
                                      struct swh_error *err);

#endif
