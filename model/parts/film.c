#include "model/parts/film.h"

#include "model/base/smooth.h"

#include <math.h>

enum { SHOES = 10, BORES = 10 };
static const double PI = 3.14159265358979323846;
static const double T_COLD = 293.15; /* temperature of the cold clearance [K] */

/* mean load of one shoe [N]: gas force plus piston inertia (~ N^2) and spin-up of the shoe (~ N) */
static double shoe_load(const struct swh_params *p, double dP, double N)
{
    const double A = 0.25 * PI * p->compressor_bore * p->compressor_bore;
    const double n = N * (1 / 33.3);
    return p->friction_load_factor * A * swh_smooth_pos(dP, 2e4) + 60.0 * n * n + 0.5 * N + 20.0;
}

static void shoe(const struct swh_params *p, const struct swh_film_in *in, struct swh_film *out)
{
    out->V = 2 * PI * in->N * p->compressor_plate_radius;
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
    const double area = BORES * PI * p->compressor_bore * p->compressor_seal_length;
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
    out->bearing = torque * 2 * PI * in->N;
}
