/* The table of expect: as text, JSON, CSV and a picture. */
#ifndef SWH_CLI_COMMANDS_INFER_EXPECT_TABLE_H
#define SWH_CLI_COMMANDS_INFER_EXPECT_TABLE_H

#include "cli/commands/infer/draw.h"
#include "solver/infer/expect.h"

struct swh_expect_name {
    char text[80]; /* "idle: engine 750 rpm (compressor 1050)" */
};

struct swh_expect_command {
    struct swh_log_command judge; /* first: the vehicle and its conditions */
    bool at_engine;               /* speeds were given at the engine */
    bool ambient_given;
    struct swh_expect_point point[SWH_EXPECT_POINTS];
    struct swh_expect_name name[SWH_EXPECT_POINTS];
    int points;
    struct swh_expect_cause cause[SWH_EXPECT_CAUSES];
    int causes;
    struct swh_expect_cell *cell; /* [points * causes] */
};

void swh_expect_print(const struct swh_expect_command *e, FILE *f);
void swh_expect_csv(const struct swh_expect_command *e, FILE *f);
json_t *swh_expect_json(const struct swh_expect_command *e);
/* expect.png; the folder is there. */
enum swh_status swh_expect_draw(const struct swh_expect_command *e, struct swh_error *err);

#endif
