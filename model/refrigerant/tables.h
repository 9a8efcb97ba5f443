/* Layout of the property tables of one refrigerant. make_tables.c fills the structure from the
 * exact equations; for the program's own refrigerants that is done while the library is built, which then
 * holds the bytes and reads them as they are. No pointers inside, so nothing has to be done at the start of a
 * program.
 *
 * Grids are `octave` grids: between two powers of two the cells are equally wide, their number a power of
 * two, so that a cell's number is a shift of the bits of the double and needs neither logarithm nor search.
 * Functions of two variables are kept as nodes (value and three derivatives) of bicubic Hermite
 * interpolation, functions of one variable as cubics in powers of the local coordinate 0..1. */
#ifndef SWH_MODEL_REFRIGERANT_TABLES_H
#define SWH_MODEL_REFRIGERANT_TABLES_H

#include "model/refrigerant/eos.h"

#include <stdint.h>

enum {
    SWH_RHO_OCTAVES = 15, /* from 2^-4 kg/m3 */
    SWH_RHO_FIRST = -4,
    SWH_RHO_ROWS = 704,
    SWH_HOT_CELLS = 16,     /* from the saturation line to the hot end */
    SWH_COLD_CELLS = 64,    /* from the saturation line to the cold end */
    SWH_THETA_OCTAVES = 21, /* from 2^-13 K below the critical temperature */
    SWH_THETA_FIRST = -13,
    SWH_THETA_ROWS = 560,
    SWH_P_OCTAVES = 17,
    SWH_LOW_ROWS = 144, /* octaves of P */
    SWH_LOW_LIQUID = 8,
    SWH_LOW_VAPOUR = 24,
    SWH_HIGH_ROWS = 148, /* octaves of Pc - P */
    SWH_HIGH_LIQUID = 40,
    SWH_HIGH_VAPOUR = 24,
    SWH_OVER_ROWS = 116, /* octaves of P - Pc */
    SWH_OVER_CELLS = 64,
    SWH_MU_CELLS = 100,
    SWH_TABLE_VERSION = 5
};

/* cell number = (bits >> shift) - offset within the octave that holds the double */
struct swh_octave {
    uint64_t shift, offset;
};

/* Nodes: value, d/dx, d/dy, d2/dxdy, x in its own unit and y counted in cells. */
struct swh_node {
    double v[4];
};
struct swh_node_pair {
    double v[4][2]; /* P and T side by side */
};
struct swh_node_three {
    struct swh_node rho, T, s;
};

/* The cells between the densities x0 and x0 + width, kg/m3. */
struct swh_rho_row {
    double x0, width, inv;
    double dome[4]; /* internal energy on the saturation line, J/kg */
    double hot[4];  /* SWH_HOT_CELLS / (internal energy at the hot end less dome) */
    double cold[4]; /* SWH_COLD_CELLS / (dome less internal energy at the cold end) */
    double pad;
};

/* columns of saturation properties; P only in rows of theta, T only in rows of pressure */
enum {
    SWH_SAT_RHO_F,
    SWH_SAT_RHO_G,
    SWH_SAT_H_F,
    SWH_SAT_H_G,
    SWH_SAT_PT,
    SWH_SAT_SLIP, /* Baroczy's group */
    SWH_SAT_S_F,
    SWH_SAT_S_G,
    SWH_SAT_COUNT
};

/* Saturation between theta = Tc - T of x0 and x0 + 1/inv, K. */
struct swh_theta_row {
    double x0, inv;
    double c[4][8];
};

/* The cells between two pressures; x0 and inv belong to the zone's coordinate, width is in Pa and negative
 * where the coordinate falls with the pressure. */
struct swh_P_row {
    double x0, width, inv, inv_width;
    double c[4][8];     /* saturation, below Pc only */
    double edge[2][4];  /* enthalpy the cells are counted from: liquid or (above Pc) coldest, vapour */
    double cells[2][4]; /* cells per J/kg: liquid (negative: counted downwards) or supercritical, vapour */
};

struct swh_zone {
    double origin, scale; /* coordinate = (P - origin) scale, in smallest..1 */
    double smallest;
    struct swh_octave octave[SWH_P_OCTAVES];
};

struct swh_fluid {
    uint64_t version;
    int32_t rho_rows, theta_rows, unused[2];
    double T_c, P_c, rho_c;
    double gas_constant; /* J/(kg K) */
    double T_min, P_min; /* cold end of the saturation line */
    double cv_cold[2];   /* du/dT at T_min in the two-phase region is [0] + v [1] */
    double rho_low, rho_high, P_low, P_split, P_top, P_high;
    double mu_inv, mu_hot_inv;       /* cells per K */
    double vapour_pressure_slope[2]; /* d ln P / d ln T at the cold end and at the critical point */
    struct swh_octave rho_octave[SWH_RHO_OCTAVES];
    struct swh_octave theta_octave[SWH_THETA_OCTAVES];
    struct swh_zone zone[3]; /* low, high, over */
    struct swh_theta_row theta_row[SWH_THETA_ROWS];
    struct swh_rho_row rho_row[SWH_RHO_ROWS];
    struct swh_P_row low_row[SWH_LOW_ROWS], high_row[SWH_HIGH_ROWS], over_row[SWH_OVER_ROWS];
    double mu_saturated[SWH_MU_CELLS][4][2]; /* liquid, vapour */
    double mu_dilute[SWH_MU_CELLS][4];
    double liquid_T_P[SWH_MU_CELLS][4]; /* dT/dP at constant entropy of saturated liquid, K/Pa */
    _Alignas(64) struct swh_node_pair hot[SWH_RHO_ROWS + 1][SWH_HOT_CELLS + 1]; /* P, T of (rho, u) */
    struct swh_node hot_s[SWH_RHO_ROWS + 1][SWH_HOT_CELLS + 1];
    struct swh_node cold_T[SWH_RHO_ROWS + 1][SWH_COLD_CELLS + 1];
    _Alignas(64) struct swh_node_three low_liquid[SWH_LOW_ROWS + 1][SWH_LOW_LIQUID + 1]; /* of (P, h) */
    struct swh_node_three low_vapour[SWH_LOW_ROWS + 1][SWH_LOW_VAPOUR + 1];
    struct swh_node_three high_liquid[SWH_HIGH_ROWS + 1][SWH_HIGH_LIQUID + 1];
    struct swh_node_three high_vapour[SWH_HIGH_ROWS + 1][SWH_HIGH_VAPOUR + 1];
    struct swh_node_three over[SWH_OVER_ROWS + 1][SWH_OVER_CELLS + 1];
    struct swh_eos eos; /* what all this was made from */
};

#endif
