#include "model/parts/film.h"

#include "model/parts/parts.h"
#include "model/parts/pattern.h"

enum { SHOES = 10, BORES = 10 };
static const double T_COLD = 293.15; /* temperature of the cold clearance [K] */

/* mean load of one shoe [N]: gas force plus piston inertia (~ N^2) and spin-up of the shoe (~ N) */
static double shoe_load(const struct swh_params *p, double dP, double N)
{
    const double A = 0.25 * SWH_PI * p->compressor_bore * p->compressor_bore;
    const double n = N * (1 / SWH_SPEED_REF);
    return p->friction_load_factor * A * swh_smooth_pos(dP, 2e4) + 60.0 * n * n + 0.5 * N + 20.0;
}

static void shoe(const struct swh_params *p, const struct swh_film_in *in, struct swh_film *out)
{
    out->V = 2 * SWH_PI * in->N * p->compressor_plate_radius;
    out->load = shoe_load(p, in->dP, in->N);
    const double pressure = out->load / p->friction_shoe_area;
    const double root_H =
        sqrt(in->mu * (out->V + 1e-3) * p->friction_shoe_area / (out->load * p->friction_shoe_width));
    const double film =
        0.12 * p->friction_shoe_width * root_H * pow(swh_max(in->supply, 1e-4), p->friction_film_exponent);
    out->lambda = p->friction_film_scale * film / p->friction_roughness;
    out->share =
        1 / (1 + swh_power(out->lambda / p->friction_stribeck_lambda, p->friction_stribeck_exponent));
    const double f_v = p->friction_viscous_factor * root_H;
    out->f = f_v + (p->friction_boundary - f_v) * out->share;
    out->shoe = SHOES * out->f * out->load * out->V;
    out->T_contact = in->T_rotor + p->friction_flash * out->f * pressure * out->V;
    out->wear_rate =
        p->friction_wear_coefficient * out->share * pressure * out->V / p->friction_plate_hardness;
}

double swh_film_clearance(const struct swh_params *p, double T_block, double T_piston)
{
    const double grown = 0.5 * p->compressor_bore *
                         (p->compressor_block_expansion * (T_block - T_COLD) -
                          p->compressor_piston_expansion * (T_piston - T_COLD));
    return swh_held(p->freeze_clearance, p->compressor_clearance + grown);
}

static void piston(const struct swh_params *p, const struct swh_film_in *in, struct swh_film *out)
{
    out->clearance = swh_film_clearance(p, in->T_block, in->T_piston);
    const double floor = p->compressor_clearance_floor;
    const double per_c = 1 / (swh_smooth_pos(out->clearance - floor, 0.5e-6) + floor);
    const double V = 2 * p->compressor_stroke * in->N;
    const double area = BORES * SWH_PI * p->compressor_bore * p->compressor_seal_length;
    const double viscous = in->mu * V * V * area * per_c;
    const double side_load = BORES * 0.06 * out->load;
    const double contact = floor * per_c;
    const double c2 = contact * contact;
    out->piston = viscous + p->friction_boundary * side_load * V * (0.05 + 0.95 * c2 * c2);
}

void swh_film_eval(const struct swh_params *p, const struct swh_film_in *in, struct swh_film *out)
{
    shoe(p, in, out);
    piston(p, in, out);
    const double torque = p->friction_bearing_torque + p->friction_bearing_viscous * in->mu +
                          p->friction_bearing_load * 5 * out->load;
    out->bearing = torque * 2 * SWH_PI * in->N;
}

/* ---- in the machine ---- */

double swh_oil_supply(const struct swh_machine *m, const double *y)
{
    return swh_held(m->p.freeze_oil_supply, swh_min(swh_max(scalar(m, y, SWH_S_supply), 1e-4), 1.5));
}

void swh_machine_film(const struct swh_machine *m, const double *y, double N, double P_s, double P_d,
                      double *mu, struct swh_film *film)
{
    const double T_rotor = scalar(m, y, SWH_S_rotor);
    const double T_oil = swh_held(m->p.freeze_oil_temperature, scalar(m, y, SWH_S_oil));
    const double T_film = swh_held(m->p.freeze_oil_temperature, 0.5 * (T_rotor + T_oil));
    *mu = swh_oil_viscosity(&m->p, &m->walther, m->fluid, T_film, T_oil, P_s);
    const struct swh_film_in in = {.N = N,
                                   .dP = P_d - P_s,
                                   .mu = *mu,
                                   .supply = swh_oil_supply(m, y),
                                   .T_rotor = T_rotor,
                                   .T_block = scalar(m, y, SWH_S_block),
                                   .T_piston = scalar(m, y, SWH_S_piston)};
    swh_film_eval(&m->p, &in, film);
}

void swh_film_states(const struct swh_machine *m, const double *y, const struct swh_flows *f, double *dy)
{
    double *d = dy + m->l.scalar;
    const double oil = swh_smooth_min(scalar(m, y, SWH_S_oil_comp) * m->inv_sump, 1.0, 0.05);
    d[SWH_S_supply] = (oil - scalar(m, y, SWH_S_supply)) * m->inv[SWH_S_supply] * f->N / (f->N + 2.0);
    d[SWH_S_wear] = f->film.wear_rate;
}

/* ---- what it depends on ---- */

void swh_pattern_film(const struct swh_machine *m, struct pattern *p)
{
    static const struct depends_on supply = {0, BIT(speed_ratio) | BIT(supply) | BIT(oil_comp)},
                                   wear = {GAS, OIL_FILM}, piston = {GAS, BLOWBY};
    swh_couple_dependencies(m, p, m->l.scalar + SWH_S_supply, supply);
    swh_couple_dependencies(m, p, m->l.scalar + SWH_S_wear, wear);
    swh_couple_dependencies(m, p, heat_row(m, SWH_CH_heat_shoe_friction), wear);
    swh_couple_dependencies(m, p, heat_row(m, SWH_CH_heat_piston_friction), piston);
    swh_couple_dependencies(m, p, heat_row(m, SWH_CH_heat_bearing_friction), wear);
}

/* ---- channels ---- */

void swh_film_channels(const struct swh_view *v, double *ch)
{
    const struct swh_flows *f = v->f;
    struct swh_film film = f->film;
    double mu = f->mu;
    if (!(f->N > 0)) /* the rates did without */
        swh_machine_film(v->m, v->y, f->N, f->node[SWH_NODE_CHAMBER].P, f->node[SWH_NODE_PLENUM].P + f->P_air,
                         &mu, &film);
    ch[SWH_CH_contact_temperature] = film.T_contact;
    ch[SWH_CH_film_ratio] = film.lambda;
    ch[SWH_CH_running_clearance] = film.clearance;
    ch[SWH_CH_oil_viscosity] = mu;
    ch[SWH_CH_boundary_share] = film.share;
    ch[SWH_CH_plate_wear] = scalar(v->m, v->y, SWH_S_wear);
    ch[SWH_CH_friction_power] = film.shoe + film.piston + film.bearing;
    ch[SWH_CH_shaft_power] = f->comp.work + ch[SWH_CH_friction_power];
}
