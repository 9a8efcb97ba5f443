/* The machine as the rates take it: everything that follows from the parameters alone, computed once. */
#include "model/base/hash.h"
#include "model/machine.h"

#include "model/parts/pipe.h"

#include <math.h>
#include <string.h>

/* K of m = K sqrt(rho dP) from a loss dP at SWH_FLOW_REF and density rho, split
 * over n equal pieces in series */
static double flow_factor(double loss, double rho, int n)
{
    return SWH_FLOW_REF / sqrt(rho * (loss + 10.0) / n);
}

static void set_volumes(struct swh_machine *m)
{
    const struct swh_params *p = &m->p;
    const int orifice = m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE;
    double *V = m->volume;
    V[SWH_NODE_CHAMBER] = p->compressor_chamber_volume;
    V[SWH_NODE_PLENUM] = p->discharge_line_volume;
    for (int i = 0; i < SWH_N_COND; i++)
        V[SWH_NODE_COND + i] = p->condenser_volume / SWH_N_COND;
    /* an orifice-tube system has an outlet header only where the other has its receiver */
    V[SWH_NODE_RECEIVER] = orifice ? 0.03e-3 : p->receiver_volume;
    V[SWH_NODE_SUBCOOL] = p->condenser_volume * p->condenser_subcool_share / (1 - p->condenser_subcool_share);
    V[SWH_NODE_LIQUID] = p->liquid_line_volume;
    for (int i = 0; i < SWH_N_EVAP; i++)
        V[SWH_NODE_EVAP + i] = p->evaporator_volume / SWH_N_EVAP;
    V[SWH_NODE_ACCUMULATOR] = orifice ? p->accumulator_volume : 0.5 * p->suction_line_volume;
    V[SWH_NODE_SUCTION] = orifice ? p->suction_line_volume : 0.5 * p->suction_line_volume;
    for (int i = 0; i < SWH_N_REAR; i++)
        V[SWH_NODE_REAR + i] = p->evaporator_volume * fmax(p->rear_evaporator_size, 1e-3) / SWH_N_REAR;
    for (int i = 0; i < SWH_NODE_MAX; i++)
        m->volume_inverse[i] = 1 / V[i];
}

/* liquid leaves about three fifths of the high side to gas */
static void set_foreign_ratio(struct swh_machine *m)
{
    double high = 0, low = 0;
    for (int i = 0; i < m->l.n_nodes; i++)
        *(i >= SWH_NODE_PLENUM && i <= SWH_NODE_LIQUID ? &high : &low) += m->volume[i];
    m->ncg_ratio = 0.6 * high / low;
}

static void set_pipe(struct swh_machine *m, int from, int count, double K, double linear)
{
    for (int i = from; i < from + count; i++) {
        m->K_out[i] = K;
        m->linear_out[i] = linear;
    }
}

static void set_pipes(struct swh_machine *m)
{
    const struct swh_params *p = &m->p;
    const double K_cond = flow_factor(p->condenser_loss, 120, SWH_N_COND + 1);
    set_pipe(m, 0, SWH_NODE_MAX, 0, PIPE_LINEAR);
    set_pipe(m, SWH_NODE_PLENUM, 1, m->K_discharge, PIPE_LINEAR);
    set_pipe(m, SWH_NODE_COND, SWH_N_COND - 1, K_cond, PIPE_LINEAR);
    set_pipe(m, SWH_NODE_RECEIVER - 1, 2, K_cond, VESSEL_LINEAR);
    set_pipe(m, SWH_NODE_SUBCOOL, 1, p->liquid_line_area, VESSEL_LINEAR);
    set_pipe(m, SWH_NODE_EVAP, SWH_N_EVAP, flow_factor(p->evaporator_loss, 15, SWH_N_EVAP), PIPE_LINEAR);
    set_pipe(m, SWH_NODE_ACCUMULATOR, 1,
             flow_factor(p->suction_line_loss, 15, 1) * p->suction_line_area_share, PIPE_LINEAR);
    set_pipe(m, SWH_NODE_SUCTION, 1, m->K_port, PIPE_LINEAR);
    set_pipe(m, SWH_NODE_REAR, SWH_N_REAR,
             flow_factor(p->evaporator_loss, 15, SWH_N_REAR) * fmax(p->rear_evaporator_size, 1e-3),
             PIPE_LINEAR);
}

static void set_walls(struct swh_machine *m)
{
    const struct swh_params *p = &m->p;
    /* the fins of a running coil are full of water within minutes: its heat capacity counts from the start */
    const double coil = p->evaporator_wall_capacity + SWH_C_WATER * p->evaporator_water;
    for (int i = 0; i < SWH_N_COND; i++)
        m->wall_capacity[SWH_WALL_COND + i] =
            p->condenser_wall_capacity * (1 - p->condenser_subcool_share) / SWH_N_COND;
    m->wall_capacity[SWH_WALL_SUBCOOL] = p->condenser_wall_capacity * p->condenser_subcool_share;
    for (int i = 0; i < SWH_N_EVAP; i++)
        m->wall_capacity[SWH_WALL_EVAP + i] = coil / SWH_N_EVAP;
    for (int i = 0; i < SWH_N_REAR; i++)
        m->wall_capacity[SWH_WALL_REAR + i] = coil * fmax(p->rear_evaporator_size, 1e-3) / SWH_N_REAR;
    for (int i = 0; i < SWH_WALL_MAX; i++)
        m->wall_inverse[i] = 1 / m->wall_capacity[i];
}

/* inverse of a clamp's time constant [1/s]; half a second is the pipe's own, and keeps a lag of 0 finite */
static double clamp_inverse(double lag)
{
    return 1 / (lag + 0.5);
}

/* divisions by what does not change: once, and not in every evaluation */
static void set_inverses(struct swh_machine *m)
{
    const struct swh_params *p = &m->p;
    double *per = m->inv;
    for (int i = 0; i < SWH_SCALAR_COUNT; i++)
        per[i] = 1;
    per[SWH_S_rotor] = 1 / p->body_rotor_capacity;
    per[SWH_S_piston] = 1 / p->body_piston_capacity;
    per[SWH_S_block] = 1 / p->body_block_capacity;
    per[SWH_S_head] = 1 / p->body_head_capacity;
    per[SWH_S_shell] = 1 / p->body_shell_capacity;
    per[SWH_S_oil] = 1 / p->body_oil_capacity;
    per[SWH_S_clutch_face] = 1 / p->clutch_capacity;
    per[SWH_S_speed_ratio] = 1 / p->clutch_engage_time;
    per[SWH_S_wetness] = 1 / p->oil_wash_time;
    per[SWH_S_supply] = 1 / p->friction_supply_lag;
    per[SWH_S_probe_discharge] = clamp_inverse(p->probe_discharge_lag);
    per[SWH_S_probe_suction] = clamp_inverse(p->probe_suction_lag);
    per[SWH_S_probe_liquid] = clamp_inverse(p->probe_liquid_lag);
    per[SWH_S_bulb] = per[SWH_S_bulb_rear] = 1 / p->valve_bulb_time;
    per[SWH_S_sensor_low] = 1 / p->controls_low_sensor_time;
    per[SWH_S_sensor_frost] = 1 / p->controls_frost_sensor_time;
    per[SWH_S_cabin] = 1 / (p->cabin_air_mass * SWH_CP_AIR);
    per[SWH_S_cabin_water] = 1 / p->cabin_air_mass;
    per[SWH_S_interior] = 1 / p->cabin_interior_capacity;
    m->inv_sump = 1 / p->oil_sump_full;
    m->inv_plate = 1 / p->oil_plate_full;
}

void swh_machine_set(struct swh_machine *m, const struct swh_fluid *fluid, const struct swh_params *p,
                     const struct swh_choices *c)
{
    m->fluid = fluid;
    const uint64_t stamp = swh_hash_words(SWH_HASH_START + (uint64_t)(uintptr_t)fluid, p, sizeof *p);
    m->stamp = swh_hash_words(stamp, c, sizeof *c) | 1;
    m->p = *p;
    m->c = *c;
    m->l = swh_layout_make(c->vehicle_circuit == SWH_CIRCUIT_CLOSED, p->rear_evaporator_size > 0);
    m->walther = swh_walther_line(p->oil_viscosity_40, p->oil_viscosity_100);
    set_volumes(m);
    set_foreign_ratio(m);
    set_walls(m);
    set_inverses(m);
    m->K_discharge = flow_factor(p->discharge_line_loss, 60, 1);
    m->K_port = flow_factor(p->suction_line_port_loss, 15, 1);
    /* an accumulator is insulated; without one half the line lies in front of the other */
    m->UA_accumulator = c->vehicle_expansion == SWH_EXPANSION_ORIFICE ? 0 : 0.5 * p->suction_line_ua;
    set_pipes(m);
    m->T_critical = swh_critical_temperature(swh_fluid_eos(fluid));
    m->orifice_CdA =
        p->orifice_coefficient * 0.25 * SWH_PI * p->orifice_diameter * p->orifice_diameter * p->orifice_share;
}
