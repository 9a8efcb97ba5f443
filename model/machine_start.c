/* The state that a machine starts from. */
#include "model/parts/air.h"

#include "model/parts/parts.h"

#include <string.h>

/* share of the liquid that settles in each volume of a standing system: the receiver or accumulator first,
 * then both exchangers; lines and compressor hold vapour */
static double settling_share(const struct swh_machine *m, int node, int round)
{
    const int orifice = m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE;
    if (node == (orifice ? SWH_NODE_ACCUMULATOR : SWH_NODE_RECEIVER))
        return round == 0 ? 0.6 : 0.95;
    if (node == SWH_NODE_CHAMBER || node == SWH_NODE_PLENUM || node == SWH_NODE_ACCUMULATOR ||
        node == SWH_NODE_SUCTION)
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
    s[SWH_S_supply] = fmin(s[SWH_S_oil_comp] / m->p.oil_plate_full, 1.0);
    s[SWH_S_wetness] = s[SWH_S_scuff_film] = s[SWH_S_scuff_contact] = s[SWH_S_scuff_plate] = 0;
    s[SWH_S_probe_discharge] = s[SWH_S_probe_suction] = T_soak;
    s[SWH_S_wear] = s[SWH_S_life] = 0;
    if (!m->l.closed)
        return;
    s[SWH_S_probe_liquid] = s[SWH_S_bulb] = s[SWH_S_bulb_rear] = s[SWH_S_sensor_frost] = T_soak;
    double P = 0;
    swh_Psat(m->fluid, T_soak, &P);
    s[SWH_S_sensor_low] = P;
    s[SWH_S_ncg] = 0.5 * m->p.condenser_air_pressure;
    /* the engine has run; after a soak the bay is no colder than the rest */
    struct swh_ambient ambient;
    swh_ambient_set(m, in, 1, &ambient);
    s[SWH_S_bay] = fmax(in->ambient_temperature + ambient.bay_engine, T_soak);
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
