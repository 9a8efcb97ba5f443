/* What can be read off a machine: channels, totals, start, sparsity. */
#include "model/machine_laws.h"

#include <string.h>

/* ---- channels ---- */

static void observe_compressor(const struct swh_machine *m, const double *y, const struct swh_flows *f,
                               double *ch)
{
    ch[SWH_CH_suction_pressure] = f->P_low_port + f->P_air_low;
    ch[SWH_CH_discharge_pressure] = f->node[SWH_NODE_PLENUM].P + f->P_air;
    ch[SWH_CH_suction_temperature] = scalar(m, y, SWH_S_probe_suction);
    ch[SWH_CH_discharge_temperature] = scalar(m, y, SWH_S_probe_discharge);
    ch[SWH_CH_shell_temperature] = scalar(m, y, SWH_S_shell);
    ch[SWH_CH_rotor_temperature] = scalar(m, y, SWH_S_rotor);
    ch[SWH_CH_piston_temperature] = scalar(m, y, SWH_S_piston);
    ch[SWH_CH_block_temperature] = scalar(m, y, SWH_S_block);
    ch[SWH_CH_head_temperature] = scalar(m, y, SWH_S_head);
    ch[SWH_CH_oil_temperature] = scalar(m, y, SWH_S_oil);
    struct swh_film film = f->film;
    double mu = f->mu;
    if (!(f->N > 0)) /* the rates did without */
        swh_machine_film(m, y, f->N, f->node[SWH_NODE_CHAMBER].P, f->node[SWH_NODE_PLENUM].P + f->P_air, &mu,
                         &film);
    ch[SWH_CH_contact_temperature] = film.T_contact;
    ch[SWH_CH_discharge_gas_temperature] = f->node[SWH_NODE_PLENUM].T;
    ch[SWH_CH_suction_gas_temperature] = f->node[SWH_NODE_CHAMBER].T;
    ch[SWH_CH_suction_gas_density] = f->rho[SWH_NODE_CHAMBER];
    ch[SWH_CH_blowby_share] = f->comp.m_blowby / (f->comp.m + f->comp.m_blowby + 1e-12);
    ch[SWH_CH_film_ratio] = film.lambda;
    ch[SWH_CH_running_clearance] = film.clearance;
    ch[SWH_CH_oil_mass] = scalar(m, y, SWH_S_oil_comp);
    ch[SWH_CH_oil_evaporator_mass] = scalar(m, y, SWH_S_oil_evap);
    ch[SWH_CH_oil_viscosity] = mu;
    ch[SWH_CH_mass_flow] = f->comp.m;
    ch[SWH_CH_boundary_share] = film.share;
    ch[SWH_CH_oil_life] = scalar(m, y, SWH_S_life);
    ch[SWH_CH_plate_wear] = scalar(m, y, SWH_S_wear);
    ch[SWH_CH_clutch_face_temperature] = scalar(m, y, SWH_S_clutch_face);
    ch[SWH_CH_friction_power] = film.shoe + film.piston + film.bearing;
    ch[SWH_CH_shaft_power] = f->comp.work + ch[SWH_CH_friction_power];
    double T_sat = 0;
    swh_Tsat(m->fluid, f->P_low_port, &T_sat);
    ch[SWH_CH_superheat] = f->T_port - T_sat;
    swh_Tsat(m->fluid, ch[SWH_CH_discharge_pressure], &ch[SWH_CH_condensing_temperature]);
    ch[SWH_CH_evaporating_temperature] = T_sat;
    double rho = f->rho[SWH_NODE_CHAMBER];
    if (f->N > 1)
        ch[SWH_CH_volumetric_efficiency] = f->comp.m / (rho * m->p.compressor_displacement * f->N);
}

static void observe_circuit(const struct swh_machine *m, const double *y, const struct swh_flows *f,
                            double *ch)
{
    double T_sat = 0;
    ch[SWH_CH_liquid_line_temperature] = scalar(m, y, SWH_S_probe_liquid);
    /* Its lag is left out: it would cost a state, and readings are compared by means over half a minute. */
    ch[SWH_CH_valve_inlet_temperature] = probe_equilibrium(&m->p, f->node[SWH_NODE_LIQUID].T, f->T_bay);
    ch[SWH_CH_vent_temperature] = f->T_vent;
    ch[SWH_CH_condenser_air_in_temperature] = f->T_cond_in;
    ch[SWH_CH_condenser_air_out_temperature] = f->T_cond_out;
    ch[SWH_CH_cabin_temperature] = scalar(m, y, SWH_S_cabin);
    ch[SWH_CH_evaporator_superheat] = f->superheat_evap;
    swh_Tsat(m->fluid, f->node[SWH_NODE_SUBCOOL].P + f->P_air, &T_sat);
    ch[SWH_CH_subcooling] = T_sat - f->node[SWH_NODE_LIQUID].T;
    swh_Tsat(m->fluid, f->node[SWH_NODE_SUCTION - 1].P, &ch[SWH_CH_evaporating_temperature]);
    ch[SWH_CH_cooling_capacity] = f->Q_evap;
    ch[SWH_CH_valve_opening] = f->opening;
    ch[SWH_CH_fin_temperature] = f->T_fin;
    double group[4] = {0};
    for (int i = 0; i < m->l.n_nodes; i++) {
        const int g = i == SWH_NODE_CHAMBER || i == SWH_NODE_SUCTION ? 3
                      : i < SWH_NODE_RECEIVER                        ? 0
                      : i <= SWH_NODE_LIQUID                         ? 1
                                                                     : 2;
        group[g] += y[m->l.M + i];
    }
    ch[SWH_CH_charge_condenser] = group[0];
    ch[SWH_CH_charge_receiver] = group[1];
    ch[SWH_CH_charge_evaporator] = group[2];
    ch[SWH_CH_charge_low_side] = group[3];
    ch[SWH_CH_charge] = group[0] + group[1] + group[2] + group[3];
}

void swh_machine_observe(const struct swh_machine *m, const struct swh_inputs *in,
                         const struct swh_modes *modes, const double *y, const struct swh_flows *f,
                         double *ch)
{
    const double time = ch[SWH_CH_time];
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        ch[i] = NAN;
    ch[SWH_CH_time] = time;
    ch[SWH_CH_ambient_temperature] = in->ambient_temperature;
    ch[SWH_CH_ambient_humidity] = in->ambient_humidity;
    ch[SWH_CH_underhood_temperature] = f->T_bay;
    ch[SWH_CH_compressor_speed] = in->compressor_speed * m->p.controls_overspeed;
    ch[SWH_CH_vehicle_speed] = in->vehicle_speed;
    ch[SWH_CH_clutch] = modes->engaged;
    observe_compressor(m, y, f, ch);
    if (m->l.closed)
        observe_circuit(m, y, f, ch);
    for (int i = 0; i < SWH_SUM_HEAT_COUNT; i++)
        ch[SWH_CH_heat_shoe_friction + i] = f->heat[i];
}

int swh_machine_cycle(const struct swh_machine *m, const struct swh_flows *f, double *P, double *h)
{
    int n = 0;
    if (!m->l.closed)
        return 0;
    P[n] = f->node[SWH_NODE_CHAMBER].P;
    h[n++] = f->node[SWH_NODE_CHAMBER].h;
    P[n] = f->node[SWH_NODE_PLENUM].P;
    h[n++] = f->comp.h_2;
    for (int i = SWH_NODE_PLENUM; i <= SWH_NODE_LIQUID; i++) {
        P[n] = f->node[i].P;
        h[n++] = f->h_donor_forward[i];
    }
    P[n] = f->node[SWH_NODE_EVAP].P; /* the expansion itself: same enthalpy */
    h[n++] = f->h_donor_forward[SWH_NODE_LIQUID];
    for (int i = SWH_NODE_EVAP; i <= SWH_NODE_SUCTION; i++) {
        P[n] = f->node[i].P;
        h[n++] = f->h_donor_forward[i];
    }
    return n;
}

/* ---- totals ---- */

double swh_machine_mass(const struct swh_machine *m, const double *y)
{
    double sum = 0;
    for (int i = 0; i < m->l.n_nodes; i++)
        sum += y[m->l.M + i];
    return sum;
}

double swh_machine_body_energy(const struct swh_machine *m, const double *y)
{
    const struct swh_params *p = &m->p;
    return p->body_rotor_capacity * scalar(m, y, SWH_S_rotor) +
           p->body_piston_capacity * scalar(m, y, SWH_S_piston) +
           p->body_block_capacity * scalar(m, y, SWH_S_block) +
           p->body_head_capacity * scalar(m, y, SWH_S_head) +
           p->body_shell_capacity * scalar(m, y, SWH_S_shell) +
           p->body_oil_capacity * scalar(m, y, SWH_S_oil);
}

double swh_machine_energy(const struct swh_machine *m, const double *y)
{
    double sum = swh_machine_body_energy(m, y);
    for (int i = 0; i < m->l.n_nodes; i++)
        sum += y[m->l.U + i];
    for (int i = 0; i < m->l.n_walls; i++)
        sum += m->wall_capacity[i] * y[m->l.wall + i];
    return sum;
}

static double sum_of(const struct swh_machine *m, const double *y, enum swh_channel path)
{
    return y[heat_row(m, path)];
}

double swh_machine_body_added(const struct swh_machine *m, const double *y)
{
    double sum = 0;
    for (int path = SWH_CH_heat_shoe_friction; path <= SWH_CH_heat_clutch; path++)
        sum += sum_of(m, y, (enum swh_channel)path);
    return sum;
}

double swh_machine_energy_added(const struct swh_machine *m, const double *y)
{
    static const enum swh_channel from_outside[] = {SWH_CH_heat_shoe_friction,    SWH_CH_heat_piston_friction,
                                                    SWH_CH_heat_bearing_friction, SWH_CH_heat_shell_air,
                                                    SWH_CH_heat_bracket,          SWH_CH_heat_shell_radiation,
                                                    SWH_CH_heat_clutch,           SWH_CH_heat_gas_work,
                                                    SWH_CH_heat_evaporator,       SWH_CH_heat_lines};
    double sum = -sum_of(m, y, SWH_CH_heat_condenser) - y[m->l.sum + SWH_SUM_ENERGY_OUT];
    for (unsigned i = 0; i < sizeof from_outside / sizeof from_outside[0]; i++)
        sum += sum_of(m, y, from_outside[i]);
    return sum;
}

/* ---- start ---- */

/* share of the liquid that settles in each volume of a standing system: the receiver or accumulator first,
 * then both exchangers; lines and compressor hold vapour */
static double settling_share(const struct swh_machine *m, int node, int round)
{
    const int orifice = m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE;
    if (node == (orifice ? SWH_NODE_SUCTION : SWH_NODE_RECEIVER))
        return round == 0 ? 0.6 : 0.95;
    if (node == SWH_NODE_CHAMBER || node == SWH_NODE_PLENUM || node == SWH_NODE_SUCTION)
        return round == 0 ? 0.0 : round == 1 ? 0.02 : 0.9;
    return round == 0 ? 0.0 : 0.95;
}

/* liquid volumes: round 0 fills the vessel, round 1 the exchangers, round 2 what is left */
static double fill_liquid(const struct swh_machine *m, double V_liquid, double *filled)
{
    for (int round = 0; round < 3 && V_liquid > 0; round++) {
        double room = 0;
        for (int i = 0; i < m->l.n_nodes; i++)
            room += fmax(settling_share(m, i, round) * m->volume[i] - filled[i], 0);
        const double part = room > 0 ? fmin(1.0, V_liquid / room) : 0;
        for (int i = 0; i < m->l.n_nodes; i++)
            filled[i] += part * fmax(settling_share(m, i, round) * m->volume[i] - filled[i], 0);
        V_liquid -= part * room;
    }
    return V_liquid;
}

static void set_node(const struct swh_machine *m, double *y, int i, double M, double u)
{
    y[m->l.M + i] = M;
    y[m->l.U + i] = M * u;
}

static double total_volume(const struct swh_machine *m)
{
    double V = 0;
    for (int i = 0; i < m->l.n_nodes; i++)
        V += m->volume[i];
    return V;
}

/* all vapour: pressure by bisection on the vapour table */
static void start_superheated(const struct swh_machine *m, double T, double rho_wanted, double P_sat,
                              double *y)
{
    double lo = 100, hi = P_sat, h = 0, rho = 0;
    for (int k = 0; k < 60; k++) {
        const double mid = 0.5 * (lo + hi);
        swh_P_T_vapour(m->fluid, mid, T, &h, &rho);
        *(rho < rho_wanted ? &lo : &hi) = mid;
    }
    for (int i = 0; i < m->l.n_nodes; i++)
        set_node(m, y, i, rho * m->volume[i], h - hi / rho);
}

static enum swh_status start_circuit(const struct swh_machine *m, double T, double charge, double *y,
                                     struct swh_error *err)
{
    struct swh_saturation s;
    if (swh_sat_T(m->fluid, T, &s))
        return swh_error_set(err, SWH_ERR_INPUT,
                             "the soak temperature %.1f degC is outside the refrigerant's table", T - 273.15);
    const double V = total_volume(m);
    if (charge < s.rho_g * V) {
        start_superheated(m, T, charge / V, s.P, y);
        return SWH_OK;
    }
    double filled[SWH_NODE_MAX] = {0};
    const double V_liquid = (charge - s.rho_g * V) / (s.rho_f - s.rho_g);
    if (fill_liquid(m, V_liquid, filled) > 1e-9 * V) {
        swh_error_set(err, SWH_ERR_INPUT,
                      "a charge of %.0f g does not fit: at %.1f degC its liquid fills %.2f of %.2f litres",
                      1e3 * charge, T - 273.15, 1e3 * V_liquid, 1e3 * V);
        swh_error_expected(err, "less than about %.0f g", 1e3 * 0.93 * V * s.rho_f);
        return SWH_ERR_INPUT;
    }
    const double u_f = s.h_f - s.P / s.rho_f, u_g = s.h_g - s.P / s.rho_g;
    for (int i = 0; i < m->l.n_nodes; i++) {
        const double M_f = filled[i] * s.rho_f, M_g = (m->volume[i] - filled[i]) * s.rho_g;
        y[m->l.M + i] = M_f + M_g;
        y[m->l.U + i] = M_f * u_f + M_g * u_g + 1e-3 * M_g;
    }
    return SWH_OK;
}

static enum swh_status start_ports(const struct swh_machine *m, const struct swh_inputs *in, double T_body,
                                   double *y, struct swh_error *err)
{
    const double P[2] = {in->suction_pressure, in->discharge_pressure};
    for (int i = 0; i < 2; i++) {
        double T_sat = 0, h = 0, rho = 0;
        const double T = i == 0 ? in->suction_temperature : T_body;
        if (swh_Tsat(m->fluid, P[i], &T_sat) ||
            swh_P_T_vapour(m->fluid, P[i], fmax(T, T_sat + 0.5), &h, &rho))
            return swh_error_set(err, SWH_ERR_INPUT,
                                 "the %s port at %.2f bar abs, %.1f degC is outside the refrigerant's table",
                                 i == 0 ? "suction" : "discharge", 1e-5 * P[i], T - 273.15);
        set_node(m, y, i, rho * m->volume[i], h - P[i] / rho);
    }
    return SWH_OK;
}

static void start_scalars(const struct swh_machine *m, const struct swh_inputs *in, double T_soak,
                          double T_body, double *y)
{
    double *s = y + m->l.scalar;
    for (int i = 0; i < m->l.n_walls; i++)
        y[m->l.wall + i] = T_soak;
    for (int i = SWH_S_rotor; i <= SWH_S_clutch_face; i++)
        s[i] = T_body;
    s[SWH_S_speed_ratio] = 0;
    const double oil = m->p.oil_total;
    s[SWH_S_oil_comp] = fmin(0.72 * oil, 1.2 * m->p.oil_sump_full);
    s[SWH_S_oil_evap] = oil - s[SWH_S_oil_comp];
    s[SWH_S_supply] = fmin(s[SWH_S_oil_comp] / m->p.oil_sump_full, 1.0);
    s[SWH_S_probe_discharge] = s[SWH_S_probe_suction] = T_soak;
    s[SWH_S_wear] = s[SWH_S_life] = 0;
    if (!m->l.closed)
        return;
    s[SWH_S_probe_liquid] = s[SWH_S_bulb] = s[SWH_S_bulb_rear] = s[SWH_S_sensor_frost] = T_soak;
    double P = 0;
    swh_Psat(m->fluid, T_soak, &P);
    s[SWH_S_sensor_low] = P;
    s[SWH_S_ncg] = 0.5 * m->p.condenser_air_pressure;
    s[SWH_S_cabin] =
        isnan(m->p.cabin_start_temperature) ? in->ambient_temperature : m->p.cabin_start_temperature;
    s[SWH_S_interior] = s[SWH_S_cabin];
    s[SWH_S_cabin_water] = swh_humidity(in->ambient_temperature, in->ambient_humidity, in->ambient_pressure);
}

enum swh_status swh_machine_start(const struct swh_machine *m, const struct swh_inputs *in, double charge,
                                  double *y, struct swh_error *err)
{
    const double T_soak =
        isnan(m->p.run_start_temperature) ? in->ambient_temperature : m->p.run_start_temperature;
    const double T_body = isnan(m->p.run_start_body_temperature) ? T_soak : m->p.run_start_body_temperature;
    memset(y, 0, (size_t)m->l.n * sizeof *y);
    const enum swh_status status =
        m->l.closed ? start_circuit(m, T_soak, charge, y, err) : start_ports(m, in, T_body, y, err);
    if (status != SWH_OK)
        return status;
    start_scalars(m, in, T_soak, T_body, y);
    return SWH_OK;
}

/* ---- sparsity ---- */

struct pattern {
    int n;
    unsigned char *on; /* n x n, row-major */
};

static void couple(struct pattern *p, int row, int col)
{
    p->on[row * p->n + col] = 1;
}

static void couple_node(const struct swh_machine *m, struct pattern *p, int row_node, int col)
{
    couple(p, m->l.M + row_node, col);
    couple(p, m->l.U + row_node, col);
}

/* both rows of node a feel both states of node b */
static void couple_nodes(const struct swh_machine *m, struct pattern *p, int a, int b)
{
    couple_node(m, p, a, m->l.M + b);
    couple_node(m, p, a, m->l.U + b);
}

static void couple_row_to_node(const struct swh_machine *m, struct pattern *p, int row, int node)
{
    couple(p, row, m->l.M + node);
    couple(p, row, m->l.U + node);
}

/* What a row feels: chamber, plenum, and scalars of the body as bits. */
enum { CHAMBER = 1, PLENUM = 2, GAS = 3 };
#define BIT(scalar) (1u << SWH_S_##scalar)
static const unsigned OIL_FILM = BIT(rotor) | BIT(oil) | BIT(speed_ratio) | BIT(supply);
static const unsigned BLOWBY =
    BIT(rotor) | BIT(oil) | BIT(speed_ratio) | BIT(supply) | BIT(piston) | BIT(block);
struct feels {
    int nodes;
    unsigned scalars;
};

static void couple_feels(const struct swh_machine *m, struct pattern *p, int row, struct feels f)
{
    for (int node = SWH_NODE_CHAMBER; node <= SWH_NODE_PLENUM; node++)
        if (f.nodes & (1 << node))
            couple_row_to_node(m, p, row, node);
    for (int c = SWH_S_rotor; c <= SWH_S_oil_evap; c++)
        if (f.scalars & (1u << c))
            couple(p, row, m->l.scalar + c);
    if (m->l.closed && f.nodes == GAS) /* ncg gas is part of the discharge pressure */
        couple(p, row, m->l.scalar + SWH_S_ncg);
}

static void pattern_compressor(const struct swh_machine *m, struct pattern *p)
{
    static const struct feels body[] = {
        [SWH_S_rotor] = {GAS, BLOWBY | BIT(oil_comp)},
        [SWH_S_piston] = {GAS, BLOWBY},
        [SWH_S_block] = {GAS, BLOWBY | BIT(head) | BIT(shell) | BIT(oil_comp)},
        [SWH_S_head] = {GAS, BLOWBY | BIT(head) | BIT(shell)},
        [SWH_S_shell] = {0, BIT(block) | BIT(head) | BIT(shell) | BIT(clutch_face)},
        [SWH_S_oil] = {GAS, BLOWBY | BIT(oil_comp)},
        [SWH_S_clutch_face] = {GAS, BLOWBY | BIT(shell) | BIT(clutch_face)},
        [SWH_S_speed_ratio] = {0, BIT(speed_ratio)},
        [SWH_S_supply] = {0, BIT(speed_ratio) | BIT(supply) | BIT(oil_comp)},
        [SWH_S_oil_comp] = {GAS, BLOWBY | BIT(oil_comp) | BIT(oil_evap)},
        [SWH_S_oil_evap] = {GAS, BLOWBY | BIT(oil_comp) | BIT(oil_evap)},
        [SWH_S_probe_discharge] = {GAS, BLOWBY},
        [SWH_S_probe_suction] = {CHAMBER, 0},
        [SWH_S_wear] = {GAS, OIL_FILM},
        [SWH_S_life] = {0, BIT(oil)},
    };
    static const struct feels gas = {GAS, BLOWBY | BIT(head) | BIT(oil_comp)};
    for (int row = 0; row < (int)(sizeof body / sizeof body[0]); row++)
        couple_feels(m, p, m->l.scalar + row, body[row]);
    for (int node = SWH_NODE_CHAMBER; node <= SWH_NODE_PLENUM; node++) {
        couple_feels(m, p, m->l.M + node, gas);
        couple_feels(m, p, m->l.U + node, gas);
    }
}

static void pattern_chain(const struct swh_machine *m, struct pattern *p, int a, int b)
{
    couple_nodes(m, p, a, b);
    couple_nodes(m, p, b, a);
}

static void pattern_wall(const struct swh_machine *m, struct pattern *p, int node, int wall, int up, int down)
{
    const int w = m->l.wall + wall;
    couple_node(m, p, node, w);
    couple_row_to_node(m, p, w, node);
    couple_row_to_node(m, p, w, up);
    couple_row_to_node(m, p, w, down);
}

static void pattern_expansion(const struct swh_machine *m, struct pattern *p)
{
    const int s = m->l.scalar, last = SWH_NODE_SUCTION - 1;
    const int rows[2] = {SWH_NODE_LIQUID, SWH_NODE_EVAP};
    for (int i = 0; i < 2; i++) {
        couple_node(m, p, rows[i], s + SWH_S_ncg);
        couple_node(m, p, rows[i], s + SWH_S_bulb);
        couple_nodes(m, p, rows[i], last);
    }
    couple(p, m->l.wall + SWH_WALL_EVAP, s + SWH_S_bulb);
    couple(p, m->l.wall + SWH_WALL_EVAP, s + SWH_S_ncg);
    couple_row_to_node(m, p, m->l.wall + SWH_WALL_EVAP, last);
    if (!m->l.rear)
        return;
    const int rear_rows[2] = {SWH_NODE_LIQUID, SWH_NODE_REAR};
    for (int i = 0; i < 2; i++) {
        couple_node(m, p, rear_rows[i], s + SWH_S_bulb_rear);
        couple_node(m, p, rear_rows[i], s + SWH_S_ncg);
        couple_nodes(m, p, rear_rows[i], SWH_NODE_MAX - 1);
    }
    couple(p, m->l.wall + SWH_WALL_REAR, s + SWH_S_bulb_rear);
    couple(p, m->l.wall + SWH_WALL_REAR, s + SWH_S_ncg);
    couple_row_to_node(m, p, m->l.wall + SWH_WALL_REAR, SWH_NODE_MAX - 1);
}

static void pattern_cabin(const struct swh_machine *m, struct pattern *p)
{
    const int s = m->l.scalar;
    const int air[3] = {SWH_S_cabin, SWH_S_cabin_water, SWH_S_interior};
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 3; k++)
            couple(p, s + air[i], s + air[k]);
    for (int w = SWH_WALL_EVAP; w < m->l.n_walls; w++)
        for (int i = 0; i < 2; i++) {
            couple(p, m->l.wall + w, s + air[i]);
            couple(p, s + air[i], m->l.wall + w);
        }
}

static void pattern_circuit(const struct swh_machine *m, struct pattern *p)
{
    const int s = m->l.scalar, w = m->l.wall;
    for (int i = 0; i < m->l.n_nodes; i++)
        couple_nodes(m, p, i, i);
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++)
        pattern_chain(m, p, i, i + 1);
    pattern_chain(m, p, SWH_NODE_SUCTION, SWH_NODE_CHAMBER);
    for (int i = 0; i < SWH_N_COND; i++)
        pattern_wall(m, p, SWH_NODE_COND + i, SWH_WALL_COND + i, SWH_NODE_COND + i - 1,
                     SWH_NODE_COND + i + 1);
    pattern_wall(m, p, SWH_NODE_SUBCOOL, SWH_WALL_SUBCOOL, SWH_NODE_RECEIVER, SWH_NODE_LIQUID);
    for (int i = 0; i < SWH_N_EVAP; i++)
        pattern_wall(m, p, SWH_NODE_EVAP + i, SWH_WALL_EVAP + i, SWH_NODE_EVAP + i - 1,
                     SWH_NODE_EVAP + i + 1);
    for (int i = 0; i <= SWH_WALL_SUBCOOL; i++) /* recirculated air joins the condenser's walls */
        for (int k = 0; k <= SWH_WALL_SUBCOOL; k++)
            couple(p, w + i, w + k);
    if (m->l.rear) {
        pattern_chain(m, p, SWH_NODE_LIQUID, SWH_NODE_REAR);
        pattern_chain(m, p, SWH_NODE_MAX - 1, SWH_NODE_SUCTION);
        for (int i = 0; i + 1 < SWH_N_REAR; i++)
            pattern_chain(m, p, SWH_NODE_REAR + i, SWH_NODE_REAR + i + 1);
        for (int i = 0; i < SWH_N_REAR; i++)
            pattern_wall(m, p, SWH_NODE_REAR + i, SWH_WALL_REAR + i,
                         i ? SWH_NODE_REAR + i - 1 : SWH_NODE_LIQUID,
                         i + 1 < SWH_N_REAR ? SWH_NODE_REAR + i + 1 : SWH_NODE_SUCTION);
    }
    pattern_expansion(m, p);
    pattern_cabin(m, p);
    const int oils[2] = {SWH_S_oil_comp, SWH_S_oil_evap};
    for (int i = 0; i < 2; i++) {
        couple_row_to_node(m, p, s + oils[i], SWH_NODE_SUCTION);
        couple_row_to_node(m, p, s + oils[i], SWH_NODE_SUCTION - 1);
    }
    couple_row_to_node(m, p, s + SWH_S_probe_suction, SWH_NODE_SUCTION);
    couple_row_to_node(m, p, s + SWH_S_probe_liquid,
                       m->c.probe_liquid_line_place == SWH_LIQUID_AT_CONDENSER ? SWH_NODE_SUBCOOL
                                                                               : SWH_NODE_LIQUID);
    couple_row_to_node(m, p, s + SWH_S_bulb, SWH_NODE_SUCTION - 1);
    couple_row_to_node(m, p, s + SWH_S_bulb_rear, m->l.rear ? SWH_NODE_MAX - 1 : SWH_NODE_SUCTION - 1);
    couple_row_to_node(m, p, s + SWH_S_sensor_low, SWH_NODE_SUCTION);
    couple_row_to_node(m, p, s + SWH_S_sensor_low, SWH_NODE_CHAMBER);
    couple(p, s + SWH_S_sensor_low, s + SWH_S_ncg);
    for (int i = SWH_NODE_COND; i <= SWH_NODE_RECEIVER && m->p.condenser_air_pressure > 0; i++)
        couple_row_to_node(m, p, s + SWH_S_ncg, i);
    couple(p, s + SWH_S_ncg, s + SWH_S_speed_ratio);
    for (int i = 1; i < 4; i++)
        couple(p, s + SWH_S_sensor_frost, w + SWH_WALL_EVAP + i);
}

static void pattern_body_sums(const struct swh_machine *m, struct pattern *p)
{
    static const struct {
        enum swh_channel path;
        struct feels feels;
    } paths[] = {
        {SWH_CH_heat_shoe_friction, {GAS, OIL_FILM}},
        {SWH_CH_heat_piston_friction, {GAS, BLOWBY}},
        {SWH_CH_heat_bearing_friction, {GAS, OIL_FILM}},
        {SWH_CH_heat_bore_gas, {GAS, BIT(block) | BIT(speed_ratio)}},
        {SWH_CH_heat_discharge_gas, {GAS, BLOWBY | BIT(head)}},
        {SWH_CH_heat_suction_block, {GAS, BIT(block) | BIT(speed_ratio)}},
        {SWH_CH_heat_suction_heads, {GAS, BIT(head) | BIT(speed_ratio)}},
        {SWH_CH_heat_suction_rotor, {GAS, BIT(rotor) | BIT(speed_ratio)}},
        {SWH_CH_heat_oil_carry, {GAS, BLOWBY | BIT(oil_comp)}},
        {SWH_CH_heat_shell_air, {0, BIT(shell)}},
        {SWH_CH_heat_shell_radiation, {0, BIT(shell)}},
        {SWH_CH_heat_bracket, {0, BIT(shell)}},
        {SWH_CH_heat_clutch, {0, BIT(clutch_face) | BIT(shell)}},
        {SWH_CH_heat_gas_work, {GAS, BIT(speed_ratio)}},
        {SWH_CH_heat_lines, {PLENUM, 0}},
    };
    for (unsigned i = 0; i < sizeof paths / sizeof paths[0]; i++)
        couple_feels(m, p, heat_row(m, paths[i].path), paths[i].feels);
    couple_feels(m, p, m->l.sum + SWH_SUM_MASS_OUT, (struct feels){GAS, 0});
    couple_feels(m, p, m->l.sum + SWH_SUM_ENERGY_OUT, (struct feels){GAS, 0});
}
#undef BIT

/* The sums see whatever their parts see. */
static void pattern_sums(const struct swh_machine *m, struct pattern *p)
{
    pattern_body_sums(m, p);
    if (!m->l.closed)
        return;
    for (int i = 0; i <= SWH_WALL_SUBCOOL; i++)
        couple(p, heat_row(m, SWH_CH_heat_condenser), m->l.wall + i);
    for (int i = SWH_WALL_EVAP; i < m->l.n_walls; i++)
        couple(p, heat_row(m, SWH_CH_heat_evaporator), m->l.wall + i);
    couple(p, heat_row(m, SWH_CH_heat_evaporator), m->l.scalar + SWH_S_cabin);
    couple(p, heat_row(m, SWH_CH_heat_evaporator), m->l.scalar + SWH_S_cabin_water);
    couple_row_to_node(m, p, heat_row(m, SWH_CH_heat_lines), SWH_NODE_SUCTION);
    couple_row_to_node(m, p, heat_row(m, SWH_CH_heat_lines), SWH_NODE_LIQUID);
    couple_row_to_node(m, p, m->l.sum + SWH_SUM_ENERGY_OUT, SWH_NODE_LIQUID);
    couple_row_to_node(m, p, m->l.sum + SWH_SUM_ENERGY_OUT, SWH_NODE_SUCTION);
}

int swh_machine_sparsity(const struct swh_machine *m, int *col_ptr, int *row_idx, int capacity)
{
    unsigned char on[SWH_STATE_MAX * SWH_STATE_MAX] = {0};
    struct pattern p = {m->l.n, on};
    for (int i = 0; i < p.n; i++)
        couple(&p, i, i);
    pattern_compressor(m, &p);
    if (m->l.closed)
        pattern_circuit(m, &p);
    pattern_sums(m, &p);
    int count = 0;
    for (int col = 0; col < p.n; col++) {
        col_ptr[col] = count;
        for (int row = 0; row < p.n; row++) {
            if (!on[row * p.n + col])
                continue;
            if (count == capacity)
                return -1;
            row_idx[count++] = row;
        }
    }
    col_ptr[p.n] = count;
    return count;
}

void swh_machine_slow_states(const struct swh_machine *m, unsigned char *slow)
{
    memset(slow, 0, (size_t)m->l.n);
    memset(slow + m->l.wall, 1, (size_t)(m->l.sum - m->l.wall));
    slow[m->l.scalar + SWH_S_speed_ratio] = 0;
    if (m->l.closed)
        slow[m->l.scalar + SWH_S_bulb] = slow[m->l.scalar + SWH_S_bulb_rear] = 0;
}
