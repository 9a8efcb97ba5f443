/* Where each state lives in the vector y, and how the volumes are joined.
 *
 * Refrigerant sits in volumes with mass M and internal energy U as states. What leaves one enters the next,
 * so the sum of the rates of M (and of U with the ledger) is zero by construction and the integrator keeps it
 * to rounding. Pressures follow from (M/V, U/M); the flow between two volumes from their
 * pressure difference. */
#ifndef SWH_MODEL_LAYOUT_H
#define SWH_MODEL_LAYOUT_H

#include "model/tables/tables.h"

/* Cells of condenser and evaporators. A test is built with more of them, to see that they are enough. */
#ifndef SWH_CELLS
#define SWH_CELLS 6
#endif
enum { SWH_N_COND = SWH_CELLS, SWH_N_EVAP = SWH_CELLS, SWH_N_REAR = SWH_CELLS * 2 / 3 };

/* refrigerant volumes, in the order of the flow */
enum swh_node {
    SWH_NODE_CHAMBER, /* swash chamber and suction plenum */
    SWH_NODE_PLENUM,  /* discharge plenum and line */
    SWH_NODE_COND,    /* SWH_N_COND cells */
    SWH_NODE_RECEIVER = SWH_NODE_COND + SWH_N_COND,
    SWH_NODE_SUBCOOL,
    SWH_NODE_LIQUID,
    SWH_NODE_EVAP, /* SWH_N_EVAP cells */
    SWH_NODE_EVAP_LAST = SWH_NODE_EVAP + SWH_N_EVAP - 1,
    SWH_NODE_ACCUMULATOR, /* accumulator; of a system without one the first half of the suction line */
    SWH_NODE_SUCTION,     /* suction line, or its second half */
    SWH_NODE_REAR,        /* SWH_N_REAR cells, if there is a rear evaporator */
    SWH_NODE_MAX = SWH_NODE_REAR + SWH_N_REAR,
    SWH_NODE_REAR_LAST = SWH_NODE_MAX - 1
};

/* walls: condenser cells, subcooling pass, evaporator cells, rear cells */
enum {
    SWH_WALL_COND = 0,
    SWH_WALL_SUBCOOL = SWH_N_COND,
    SWH_WALL_EVAP,
    SWH_WALL_REAR = SWH_WALL_EVAP + SWH_N_EVAP,
    SWH_WALL_MAX = SWH_WALL_REAR + SWH_N_REAR
};

/* scalar states: SCALAR(id, unit, typical size for the absolute tolerance, needs the closed circuit, help) */
#define SWH_SCALARS(SCALAR)                                                                                  \
    SCALAR(rotor, "K", 1e-3, 0, "rotor temperature")                                                         \
    SCALAR(piston, "K", 1e-3, 0, "piston temperature")                                                       \
    SCALAR(block, "K", 1e-3, 0, "block temperature")                                                         \
    SCALAR(head, "K", 1e-3, 0, "head temperature")                                                           \
    SCALAR(shell, "K", 1e-3, 0, "shell temperature")                                                         \
    SCALAR(oil, "K", 1e-3, 0, "oil temperature")                                                             \
    SCALAR(clutch_face, "K", 1e-2, 0, "clutch face temperature")                                             \
    SCALAR(speed_ratio, "1", 1e-4, 0, "shaft speed over pulley speed")                                       \
    SCALAR(supply, "1", 1e-4, 0, "oil supply of the plate")                                                  \
    SCALAR(wetness, "1", 1e-3, 0, "liquid that the oil in the compressor has taken up")                      \
    SCALAR(oil_comp, "kg", 1e-6, 0, "oil in the compressor")                                                 \
    SCALAR(oil_evap, "kg", 1e-6, 0, "oil held up in the evaporator")                                         \
    SCALAR(probe_discharge, "K", 1e-2, 0, "discharge clamp")                                                 \
    SCALAR(probe_suction, "K", 1e-2, 0, "suction clamp")                                                     \
    SCALAR(wear, "m", 1e-8, 0, "plate wear")                                                                 \
    SCALAR(life, "1", 1e-6, 0, "spent oil life")                                                             \
    SCALAR(scuff_film, "1", 1e-3, 0, "damage by metal contact")                                              \
    SCALAR(scuff_contact, "1", 1e-3, 0, "damage by a contact that is too hot")                               \
    SCALAR(scuff_plate, "1", 1e-3, 0, "damage by a plate that is too hot")                                   \
    SCALAR(probe_liquid, "K", 1e-2, 1, "liquid-line clamp")                                                  \
    SCALAR(bulb, "K", 1e-2, 1, "bulb of the expansion valve")                                                \
    SCALAR(bulb_rear, "K", 1e-2, 1, "bulb of the rear valve")                                                \
    SCALAR(ncg, "Pa", 100, 1, "partial pressure of ncg gas on the high side")                                \
    SCALAR(sensor_low, "Pa", 200, 1, "low-pressure switch")                                                  \
    SCALAR(sensor_frost, "K", 1e-2, 1, "frost thermostat")                                                   \
    SCALAR(bay, "K", 1e-2, 1, "air under the bonnet")                                                        \
    SCALAR(cabin, "K", 1e-2, 1, "cabin air temperature")                                                     \
    SCALAR(cabin_water, "1", 1e-6, 1, "cabin humidity ratio")                                                \
    SCALAR(interior, "K", 1e-2, 1, "cabin interior temperature")                                             \
    SCALAR(coil_water, "kg", 1e-4, 1, "water and ice on the evaporator's fins")                              \
    SCALAR(coil_ice, "kg", 1e-4, 1, "ice among it")                                                          \
    SCALAR(coil_water_rear, "kg", 1e-4, 1, "water and ice on the rear one's")                                \
    SCALAR(coil_ice_rear, "kg", 1e-4, 1, "ice among it")

enum swh_scalar {
#define SCALAR(id, unit, size, closed, help) SWH_S_##id,
    SWH_SCALARS(SCALAR)
#undef SCALAR
        SWH_SCALAR_COUNT
};

/* sums that feed nothing back: the ledger's paths (ORDER of the LEDGER channels), then mass and energy that
 * left */
enum {
    SWH_SUM_HEAT = 0,
    SWH_SUM_HEAT_COUNT = SWH_CHANNEL_COUNT - SWH_CH_heat_shoe_friction,
    SWH_SUM_MASS_OUT = SWH_SUM_HEAT_COUNT,
    SWH_SUM_ENERGY_OUT,
    SWH_SUM_COUNT
};

struct swh_layout {
    int closed, rear;       /* closed circuit; rear evaporator */
    int n_nodes, n_walls;   /* used */
    int M, U, wall, scalar; /* first index of each group */
    int sum;
    int n_scalars, n;
};

enum { SWH_STATE_MAX = 2 * SWH_NODE_MAX + SWH_WALL_MAX + SWH_SCALAR_COUNT + SWH_SUM_COUNT };

struct swh_layout swh_layout_make(int closed, int rear);

/* Short name of state i for messages, written into out (size n). */
void swh_state_name(const struct swh_layout *l, int i, char *out, unsigned n);

/* Tolerances of state i: relative part and absolute part (INFINITY: not in the error test). */
void swh_state_tolerance(const struct swh_layout *l, int i, double *rtol, double *atol);

#endif
