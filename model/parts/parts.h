/* What the parts of the machine share, and what each of them gives to the whole. One file a part holds its
 * law, its derivatives, what it depends on and its channels; machine*.c put the parts together. Private to
 * model/. */
#ifndef SWH_MODEL_PARTS_PARTS_H
#define SWH_MODEL_PARTS_PARTS_H

#include "model/base/constants.h"
#include "model/base/smooth.h"
#include "model/machine.h"
#include "model/parts/clamp.h"

#include <math.h>
#include <stddef.h>

/* ---- common to all ---- */

static inline double scalar(const struct swh_machine *m, const double *y, enum swh_scalar s)
{
    return y[m->l.scalar + (int)s];
}

/* row of the sum of a path of heat */
static inline int heat_row(const struct swh_machine *m, enum swh_channel path)
{
    return m->l.sum + SWH_SUM_HEAT + (int)path - (int)SWH_CH_heat_shoe_friction;
}

static inline double *heat_of(struct swh_flows *f, enum swh_channel path)
{
    return &f->heat[path - SWH_CH_heat_shoe_friction];
}

/* One by one: mostly the first one differs, and memcmp would wait for stores of another width. */
static inline int are_same(const double *a, const double *b, size_t n)
{
    for (size_t k = 0; k < n; k++)
        if (a[k] != b[k])
            return 0;
    return 1;
}

/* ---- refrigerant ---- */

/* States of all volumes (volume.c). 1 if one of them is empty or outside the tables. */
int swh_node_states(const struct swh_machine *m, const double *y, struct swh_flows *f);

/* `outlets` of all volumes */
void swh_outlet_enthalpies(const struct swh_machine *m, struct swh_flows *f);

/* Flows through expansion valves or orifice tube (valve.c). */
void swh_expansion_flows(const struct swh_machine *m, const double *y, struct swh_flows *f);

/* All flows of the closed circuit but the compressor's; what they take along (pipe.c). */
void swh_circuit_flows(const struct swh_machine *m, const struct swh_modes *modes, const double *y,
                       struct swh_flows *f);
void swh_advect_circuit(const struct swh_machine *m, const struct swh_flows *f, double *dy);

/* heat between the lines and the air under the bonnet */
void swh_lines_part(const struct swh_machine *m, struct swh_flows *f, double *dy);

/* Without circuit: flows through the ports, whose pressures are prescribed. What leaves the system by ports,
 * relief valve and leak (vent.c). */
void swh_port_flows(const struct swh_machine *m, const struct swh_inputs *in, struct swh_flows *f);
void swh_advect_vent(const struct swh_machine *m, const struct swh_modes *modes, const struct swh_flows *f,
                     double *dy);

/* Partial pressure [Pa] of the non-condensable gas on the low side, and the rate of that on the high side
 * [Pa/s] (ncg.c). */
double swh_ncg_low(const struct swh_machine *m, double P_high, double T_ambient);
double swh_ncg_rate(const struct swh_machine *m, const struct swh_flows *f, double P_high, double T_ambient);

/* ---- exchangers, cabin, outside ---- */

/* what the flow makes of the conductance of each exchanger's cell (exchanger.c) */
void swh_flow_corrections(const struct swh_machine *m, struct swh_flows *f);

void swh_condenser_part(const struct swh_machine *m, const struct swh_inputs *in, struct swh_flows *f,
                        const double *y, double *dy);
void swh_evaporator_part(const struct swh_machine *m, const struct swh_inputs *in, struct swh_flows *f,
                         const double *y, double *dy);

/* Energy [J] of the ice on the coils over liquid water of its temperature. */
double swh_coil_energy(const struct swh_machine *m, const double *y);

/* Cabin: air, water, interior. Q_air [W] and water [kg/s] are what all coils take out of its air. */
void swh_cabin_part(const struct swh_machine *m, const struct swh_inputs *in, const double *y, double *dy,
                    double W_amb, double Q_air, double water);

/* The bay: of the ambient struct what is its own, and the rate [K/s] of its air at T [K] (bay.c). */
void swh_bay_set(const struct swh_params *p, const struct swh_inputs *in, struct swh_ambient *o);
double swh_bay_rate(const struct swh_machine *m, const struct swh_inputs *in, const struct swh_flows *f,
                    double T);

/* What follows from inputs and the fan's switch alone (ambient.c). */
void swh_ambient_set(const struct swh_machine *m, const struct swh_inputs *in, int fan_on,
                     struct swh_ambient *o);

/* ---- compressor ---- */

/* Speed of the shaft [rev/s], the rate of its ratio to the pulley's, and the
 * faces' temperature (clutch.c). */
double swh_shaft_speed(const struct swh_machine *m, const struct swh_inputs *in,
                       const struct swh_modes *modes, const double *y);
void swh_clutch_states(const struct swh_machine *m, const struct swh_inputs *in,
                       const struct swh_modes *modes, const double *y, const struct swh_flows *f, double *dy);

/* Torque [N m] of the clutch at a slip of 0 to 1 of the pulley's speed: what it holds, and half as much again
 * when it slips fully, since the mean of sticking and sliding rises with the slip (common practice, no
 * source). Rate [1/s] of the shaft's speed over the pulley's (rev/s) under a load [N m]. */
#define SWH_SLIP_GRIP 0.5
double swh_clutch_torque(const struct swh_params *p, double slip);
double swh_clutch_rate(const struct swh_params *p, double ratio, double pulley, double load);

/* Heat [W] that the clutch gives to its faces; what reaches the shell is added to *shell. */
double swh_clutch_part(const struct swh_machine *m, const struct swh_inputs *in,
                       const struct swh_modes *modes, const double *y, struct swh_flows *f, double *shell);

/* Oil supply of the plate, 0..1.5; everything about friction at N [rev/s] under the
 * pressures P_s and P_d (film.c). At rest swh_machine_rates does without the latter. */
double swh_oil_supply(const struct swh_machine *m, const double *y);
void swh_machine_film(const struct swh_machine *m, const double *y, double N, double P_s, double P_d,
                      struct swh_film *film);
void swh_film_states(const struct swh_machine *m, const double *y, const struct swh_flows *f, double *dy);

/* Film and gas side of the compressor at the present state (compressor.c); 1 if a property left its table. */
int swh_compressor_part(const struct swh_machine *m, const double *y, struct swh_flows *f);
void swh_advect_compressor(const struct swh_machine *m, const struct swh_flows *f, double *dy);

/* Where the oil goes, and how it ages (oil.c). */
void swh_oil_part(const struct swh_machine *m, const double *y, struct swh_flows *f, double *dy);

/* Heat between the metal nodes of the compressor, its oil, its gas and the outside (body.c). */
void swh_body_part(const struct swh_machine *m, const struct swh_inputs *in, const struct swh_modes *modes,
                   const double *y, struct swh_flows *f, double *dy);

/* ---- probes and sensors (probes.c) ---- */

/* clamps on the compressor's pipes; what the circuit's probes, bulbs and switches feel */
void swh_clamp_states(const struct swh_machine *m, const double *y, const struct swh_flows *f, double *dy);
void swh_probe_states(const struct swh_machine *m, const double *y, struct swh_flows *f, double *dy);

/* ---- channels: each part writes its own ---- */

struct swh_view {
    const struct swh_machine *m;
    const struct swh_inputs *in;
    const struct swh_modes *modes;
    const double *y;
    const struct swh_flows *f;
};
void swh_ambient_channels(const struct swh_view *v, double *ch);
void swh_body_channels(const struct swh_view *v, double *ch);
void swh_compressor_channels(const struct swh_view *v, double *ch);
void swh_film_channels(const struct swh_view *v, double *ch);
void swh_oil_channels(const struct swh_view *v, double *ch);
void swh_clutch_channels(const struct swh_view *v, double *ch);
void swh_clamp_channels(const struct swh_view *v, double *ch);
void swh_probe_channels(const struct swh_view *v, double *ch);
void swh_volume_channels(const struct swh_view *v, double *ch);
void swh_condenser_channels(const struct swh_view *v, double *ch);
void swh_evaporator_channels(const struct swh_view *v, double *ch);
void swh_cabin_channels(const struct swh_view *v, double *ch);

/* Refrigerant's share of a gas that flows, by its share of the pressure (Dalton), from 0 to 1: so air cannot
 * press the last of the refrigerant out of a side. */
static inline double swh_refrigerant_share(double P, double P_air)
{
    const double known = swh_max(P, 0);
    return P_air > 0 ? known / (known + P_air) : 1;
}

/* The same where air lies above liquid and passes only with the last of it: 1 but for a 10,000th where the
 * refrigerant has a bar or more and the air 0.5 bar, falls as the refrigerant's pressure does below a 50th of
 * the air's. Common practice, no source. */
static inline double swh_share_behind_liquid(double P, double P_air)
{
    const double known = swh_max(P, 0), last = 0.02 * P_air;
    return P_air > 0 ? known * known / (known * known + last * last) : 1;
}

#endif
