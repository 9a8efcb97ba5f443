/* A spot sheet: readings written down at test points, one row a point, in no particular time. Each row is a
 * state that a soaked vehicle was held in, never a sample of a curve. */
#ifndef SWH_SOLVER_SIMULATE_SPOT_SHEET_H
#define SWH_SOLVER_SIMULATE_SPOT_SHEET_H

#include "model/tables/tables.h"

#include <stdbool.h>
#include <stddef.h>

enum { SWH_SPOT_ROWS = 40 };
#define SWH_SPOT_HELD 300.0 /* s a point is held where the sheet does not say */

struct swh_spot_row {
    char point[64];                  /* the writer's words for the point; may be empty */
    double held;                     /* s, > 0 */
    int doors_open;                  /* 1 yes, 0 no, -1 not said */
    double value[SWH_CHANNEL_COUNT]; /* readings and conditions in SI, NaN where absent; no time */
};

/* Plain data without pointers: copied by assignment, never freed. */
struct swh_spot_sheet {
    char name[200]; /* of the file, for titles and messages */
    size_t rows;
    struct swh_spot_row row[SWH_SPOT_ROWS];
    bool has[SWH_CHANNEL_COUNT]; /* channels with at least one reading */
};

/* An empty row: held SWH_SPOT_HELD, doors not said, no reading. */
void swh_spot_row_empty(struct swh_spot_row *row);

#endif
