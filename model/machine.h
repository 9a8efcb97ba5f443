/* The machine: rates of all states from state, inputs and modes. Pure: same arguments, same bits.
 *
 * A struct swh_machine holds what does not change between events (fluid, effective parameters with the faults
 * applied, layout, constants derived from them); it is filled by swh_machine_set and only read afterwards. */
#ifndef SWH_MODEL_MACHINE_H
#define SWH_MODEL_MACHINE_H

#include "model/layout.h"
#include "model/parts/air.h"
#include "model/parts/coil.h"
#include "model/parts/compressor.h"
#include "model/parts/film.h"
#include "model/parts/oil.h"

#include <stdint.h>

/* Switch positions: constant between events. */
struct swh_modes {
    int engaged; /* clutch held in by the controls */
    int relief_open;
    int fan_on;  /* by the fan's pressure switch */
    int seized;  /* 0 no, 1 shoe, 2 bore */
    double leak; /* charge that is let out [kg/s]; negative: filled in (undercharge, overcharge with a start
                    time) */
};

struct swh_machine {
    const struct swh_fluid *fluid;
    uint64_t stamp; /* of refrigerant, parameters and choices: equal ones have equal stamps; never 0 */
    struct swh_params p;
    struct swh_choices c;
    struct swh_layout l;
    /* derived */
    struct swh_walther walther;
    double volume[SWH_NODE_MAX], volume_inverse[SWH_NODE_MAX];
    double wall_capacity[SWH_WALL_MAX], wall_inverse[SWH_WALL_MAX];
    double inv[SWH_SCALAR_COUNT];    /* what each one's rate is multiplied by: 1 / heat capacity, 1 / time */
    double K_discharge, K_port;      /* m = K sqrt(rho dP), kg/s per sqrt(kg/m3 Pa) */
    double K_out[SWH_NODE_MAX];      /* of the pipe out of each node; of the liquid line 0: a valve */
    double linear_out[SWH_NODE_MAX]; /* where its flow is linear [Pa2] */
    double orifice_CdA;
    double UA_accumulator; /* of the suction line's UA, the volume's before it [W/K] */
    double inv_sump;       /* 1 / oil in the compressor at which the usual amount splashes [1/kg] */
    double inv_plate;      /* 1 / oil in the compressor at which the plate is fully supplied [1/kg] */
    double ncg_ratio;      /* gas room of the high side over the low side's */
    double T_critical;
};

/* What follows from inputs and the fan's switch alone. */
struct swh_ambient {
    double W;                            /* humidity ratio outside [kg/kg] */
    double T_bay;                        /* air under the bonnet, as far as inputs alone tell [K] */
    double air_cond, cond_effectiveness; /* condenser: air [kg/s] */
    double back_flow; /* rise of what it breathes in, over that of its walls over what it breathes in */
    double air_evap, evap_effectiveness, air_rear, rear_effectiveness;
    double blower_rise; /* of the air before the front coil [K] */
    double shell_film;  /* W/(m2 K) */
    double bay_feed;    /* rise of the bay's air over that of what leaves the condenser */
    double bay_engine;  /* rise by radiator and engine [K] */
};

/* What the last evaluation found for which arguments. The same arguments give the same bits, so only what
 * differs is computed anew: of the evaluations for a Jacobian by differences each changes a few volumes and
 * nothing else. Zeros mean that nothing was found yet. */
struct swh_memo {
    uint64_t stamp; /* of the machine */
    struct swh_inputs in;
    int fan_on;
    struct swh_ambient ambient;
    double rho[SWH_NODE_MAX], u[SWH_NODE_MAX]; /* NaN: was outside the tables */
    double compressor[14];
    struct swh_air_in air[SWH_WALL_MAX]; /* at the first wall of each coil */
    double air_wall[SWH_WALL_MAX];       /* K */
    struct swh_air_side air_side[SWH_WALL_MAX];
};

/* Everything computed on the way; results of evaluations never depend on what was evaluated before. Must be
 * zeroed before its first use. */
struct swh_flows {
    struct swh_cell_props node[SWH_NODE_MAX];
    double rho[SWH_NODE_MAX], P[SWH_NODE_MAX]; /* P as in node, side by side */
    double h_donor_forward[SWH_NODE_MAX];      /* enthalpy of what leaves downstream */
    double h_donor_reverse[SWH_NODE_MAX];      /* enthalpy of what leaves upstream when the flow reverses */
    double m[SWH_NODE_MAX]; /* flow out of each node to its successor; [NODE_CHAMBER] stays 0 */
    /* what the flow makes of the conductance of each exchanger's cell */
    double flow_correction[SWH_NODE_MAX];
    double m_valve_rear, m_port, m_out_port, m_relief;
    struct swh_compressor_flows comp;
    struct swh_film film;
    struct swh_oil_flows oil;
    double N, P_low_port, T_bay;
    double P_air, P_air_low; /* partial pressure of ncg gas, high and low side */
    double T_port, h_port;   /* at the suction port */
    double air_cond, T_cond_in, T_cond_out, T_vent, Q_evap, Q_cond;
    double opening, opening_rear, superheat_evap;
    double heat[SWH_SUM_HEAT_COUNT]; /* W per ledger path, ORDER of the LEDGER channels */
    double T_fin;
    struct swh_coil_state coil[2]; /* front, rear */

    int out_of_range; /* number of property look-ups outside their tables */
    struct swh_memo memo;
};

/* Fills a machine that holds the refrigerant of these tables. The parameters are taken as they are: apply
 * faults first. To change one fill the machine anew: by its stamp the flows know whether what they found
 * still holds. */
void swh_machine_set(struct swh_machine *m, const struct swh_fluid *fluid, const struct swh_params *p,
                     const struct swh_choices *c);

/* dy/dt [SI per s] at state y; flows (not NULL) is filled as well. Returns 0; 1 if a property left its table
 * (a smaller step may help). */
int swh_machine_rates(const struct swh_machine *m, const struct swh_inputs *in, const struct swh_modes *modes,
                      const double *y, double *dy, struct swh_flows *flows);

/* The refrigerant's way round the circuit as pressures [Pa] and enthalpies [J/kg] in flow order: swash
 * chamber, out of the bores, plenum, condenser, receiver, subcooling, liquid line, evaporator, suction line.
 * Returns the number of points (at most SWH_CYCLE_MAX), 0 without circuit. High side without the ncg gas,
 * as the refrigerant feels it. */
enum { SWH_CYCLE_MAX = SWH_NODE_REAR + 3 };
int swh_machine_cycle(const struct swh_machine *m, const struct swh_flows *flows, double *P, double *h);

/* What the event functions need, without the cost of all rates. Returns 0, 1 if a property left its table. */
struct swh_event_values {
    double P_d, T_discharge; /* of the plenum */
    double T_contact, share, clearance, T_clutch_face, T_rotor, T_piston;
    double scuffing[3]; /* by metal contact, hot contact, soft plate; a weld where the sum is 1 */
    double coil_open;   /* see struct swh_coil_state; front coil */
};
int swh_machine_event_values(const struct swh_machine *m, const struct swh_inputs *in,
                             const struct swh_modes *modes, const double *y, struct swh_event_values *out);

/* Channel values at a state (swh_machine_rates must have filled flows from the
 * same y). time is left alone. */
void swh_machine_observe(const struct swh_machine *m, const struct swh_inputs *in,
                         const struct swh_modes *modes, const double *y, const struct swh_flows *flows,
                         double *channel);

/* Start: everything at soak temperature and one pressure, charge [kg] laid where it settles (receiver or
 * accumulator, then evaporator and condenser). SWH_ERR_INPUT if the charge does not fit. For a machine
 * without circuit: P_suction and P_discharge [Pa] fill chamber and plenum. */
enum swh_status swh_machine_start(const struct swh_machine *m, const struct swh_inputs *in, double charge,
                                  double *y, struct swh_error *err);

/* Sparsity of d(rates)/dy in compressed columns: col_ptr[n+1], row_idx[capacity]; returns the number of
 * entries, or -1 if capacity is too small or the machine has more volumes than are looked up at once
 * (SWH_RHO_U_MOST). It holds for every machine of this layout, whatever its parameters. */
int swh_machine_sparsity(const struct swh_machine *m, int *col_ptr, int *row_idx, int capacity);

/* Where the entries of a sparsity stand: at[column][row] is the place among the values, col_ptr[n] where
 * there is none. */
struct swh_entries {
    int n, col_ptr[SWH_STATE_MAX + 1];
    short at[SWH_STATE_MAX][SWH_STATE_MAX];
};
void swh_entries_set(struct swh_entries *entries, int n, const int *col_ptr, const int *row_idx);

/* Columns of d(rates)/dy that swh_machine_jacobian knows (known[n]): what the volumes between discharge line
 * and suction line hold, and the bulbs. None without circuit. */
void swh_machine_slope_columns(const struct swh_machine *m, unsigned char *known);

/* Fills these columns among the values of the sparsity (col_ptr[n] + 1 numbers; the last one takes what has
 * no place). flows must come from swh_machine_rates at the same y, which must have returned 0. What oil and
 * ncg gas feel of the volumes is left out: small within a step, and nothing in the balances of mass and
 * energy. Returns 0, 1 (and nothing is filled) if the volumes' densities in flows are not those of y. */
int swh_machine_jacobian(const struct swh_machine *m, const struct swh_modes *modes, const double *y,
                         const struct swh_flows *flows, const struct swh_entries *entries, double *values);

/* Marks (slow[n]) the states that weigh little on the rates within a step of the integrator: walls, metal,
 * oil, cabin, probes. Their derivatives may be kept for a while. Not so the refrigerant's masses and
 * energies, the shaft and the bulbs. */
enum {
    SWH_SLOW_TIME = 1
}; /* s: what counts as a short step for them; a wall follows its fluid in some seconds */
void swh_machine_slow_states(const struct swh_machine *m, unsigned char *slow);

/* Totals that the ledger balances: refrigerant mass [kg]; energy stored in refrigerant, walls, metal [J]. */
double swh_machine_mass(const struct swh_machine *m, const double *y);
double swh_machine_energy(const struct swh_machine *m, const double *y);
double swh_machine_body_energy(const struct swh_machine *m, const double *y);
/* What the sums say was added since the start: to the whole, to the metal of the compressor [J]. */
double swh_machine_energy_added(const struct swh_machine *m, const double *y);
double swh_machine_body_added(const struct swh_machine *m, const double *y);

#endif
