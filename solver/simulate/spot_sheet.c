#include "solver/simulate/spot_sheet.h"

#include <math.h>
#include <string.h>

void swh_spot_row_empty(struct swh_spot_row *row)
{
    memset(row, 0, sizeof *row);
    row->held = SWH_SPOT_HELD;
    row->doors_open = -1;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        row->value[i] = NAN;
}
