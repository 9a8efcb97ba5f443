#include "model/parts/film.h"

#include "model/parts/parts.h"

static const double T_COLD = 293.15;   /* temperature of the cold clearance [K] */
static const double SIDE_SHARE = 0.06; /* side force on a piston over its shoe's load; practice */
static const double DESORBED = 40.0;   /* band over which adsorbed oil lets go [K]; practice */

/* Double-ended pistons: each loads one shoe and one side of its bores. */
static double pistons(const struct swh_params *p)
{
    return 0.5 * p->compressor_cylinders;
}

/* Mean load of a loaded shoe [N]: gas force plus piston inertia (~ N^2) and spin-up of the shoe (~ N). Sizes
 * of the latter: practice. */
static double shoe_load(const struct swh_params *p, double dP, double N)
{
    const double A = 0.25 * SWH_PI * p->compressor_bore * p->compressor_bore;
    const double n = N * (1 / SWH_SPEED_REF);
    return p->friction_load_factor * A * swh_smooth_pos(dP, 2e4) + 60.0 * n * n + 0.5 * N + 20.0;
}

/* ln F_5/2(lambda), F_5/2 the integral of (s - lambda)^2.5 over the normal distribution's tail: a polynomial
 * within 0.01 % of it from 0 to 5, within 0.2 % to 8. */
static const double GT[] = {-0.483403, -1.74423, -0.267756, -0.0249644, 0.0017082, -5.35127e-05};
static const double GT_END = 6.0; /* beyond it asperities carry less than 1e-8 */

static double asperity_integral(double x, double *log_slope)
{
    *log_slope = GT[1] + x * (2 * GT[2] + x * (3 * GT[3] + x * (4 * GT[4] + x * 5 * GT[5])));
    return exp(GT[0] + x * (GT[1] + x * (GT[2] + x * (GT[3] + x * (GT[4] + x * GT[5])))));
}

/* about where asperities of stiffness over pressure C carry half the load: the first three terms */
static double half_carried(double C)
{
    const double a = -GT[2], b = -GT[1], root = b * b + 4 * a * (log(2 * C) + GT[0]);
    return root > b * b ? (sqrt(root) - b) / (2 * a) : 0;
}

struct swh_film_sharing swh_film_share(double lambda_0, double stiffness, double p)
{
    const double C = stiffness / p, target = lambda_0 * lambda_0;
    if (lambda_0 >= GT_END || C <= 0)
        return (struct swh_film_sharing){0, lambda_0};
    double slope, low = lambda_0, high = GT_END, lambda = lambda_0;
    double share = C * asperity_integral(lambda, &slope);
    if (share > 0.5) {
        lambda = swh_max(lambda, half_carried(C));
        share = C * asperity_integral(lambda, &slope);
    }
    /* lambda^2 (1 - share) = lambda_0^2 by Newton's method, halving where that leaves the bracket: it rises
     * from below at lambda_0 to the end. What a step of 1e-7 leaves over is its square. */
    for (int k = 0; k < 80; k++) {
        const double over = lambda * lambda * (1 - share) - target;
        *(over > 0 ? &high : &low) = lambda;
        double next = lambda - over / (lambda * (2 * (1 - share) - lambda * share * slope));
        if (!(next > low && next < high))
            next = 0.5 * (low + high);
        const double moved = fabs(next - lambda);
        lambda = next;
        if (moved <= 1e-7)
            break;
        share = C * asperity_integral(lambda, &slope);
    }
    return (struct swh_film_sharing){1 - target / (lambda * lambda), lambda};
}

static double flash_temperature(const struct swh_params *p, double f, double pressure, double V)
{
    const double a = 0.5 * p->friction_shoe_width, Pe = V * a / (2 * p->friction_plate_diffusivity);
    const double heat = p->friction_flash * f * pressure * V;
    return 2 * heat * a / (p->friction_plate_conductivity * sqrt(SWH_PI * (1.273 + Pe)));
}

static void shoe(const struct swh_params *p, const struct swh_film_in *in, struct swh_film *out)
{
    out->V = 2 * SWH_PI * in->N * p->compressor_plate_radius;
    out->load = shoe_load(p, in->dP, in->N);
    const double pressure = out->load / p->friction_shoe_area;
    const double root_H =
        sqrt(in->mu_shoe * (out->V + 1e-3) * p->friction_shoe_area / (out->load * p->friction_shoe_width));
    const double film =
        0.12 * p->friction_shoe_width * root_H * pow(swh_max(in->supply, 1e-4), p->friction_film_exponent);
    const struct swh_film_sharing s = swh_film_share(p->friction_film_scale * film / p->friction_roughness,
                                                     p->friction_asperity_stiffness, pressure);
    out->lambda = s.lambda;
    out->share = s.share;
    const double f_v = p->friction_viscous_factor * root_H;
    const double let_go = swh_smooth_step((in->T_rotor - p->friction_desorption_temperature) / DESORBED);
    const double f_b = p->friction_boundary + p->friction_boundary_rise * let_go;
    out->f = f_v + (f_b - f_v) * out->share;
    out->shoe = pistons(p) * out->f * out->load * out->V;
    out->T_contact = in->T_rotor + flash_temperature(p, out->f, pressure, out->V);
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
    const double area = p->compressor_cylinders * SWH_PI * p->compressor_bore * p->compressor_seal_length;
    const double viscous = in->mu_bore * V * V * area * per_c;
    const double side_load = pistons(p) * SIDE_SHARE * out->load;
    const double contact = floor * per_c;
    const double c2 = contact * contact;
    out->piston = viscous + p->friction_boundary * side_load * V * (0.05 + 0.95 * c2 * c2);
}

void swh_film_eval(const struct swh_params *p, const struct swh_film_in *in, struct swh_film *out)
{
    out->mu = in->mu_shoe;
    out->mu_bore = in->mu_bore;
    shoe(p, in, out);
    piston(p, in, out);
    const double torque = p->friction_bearing_torque + p->friction_bearing_viscous * in->mu_bearing +
                          p->friction_bearing_load * pistons(p) * out->load;
    out->bearing = torque * 2 * SWH_PI * in->N;
}

/* sliding speed for which film_loss_time is stated: 1500 rpm on a track of 30 mm radius [m/s] */
static const double V_SCUFF = 4.71;

struct swh_scuff_rates swh_film_scuffing(const struct swh_params *p, const struct swh_film *film,
                                         double T_rotor, double N)
{
    /* every shaft starts and stops on bare metal: only a turning one counts */
    const double counts = swh_smooth_step((N - 5) / 5);
    const double metal = swh_smooth_step((film->share - 0.5) / 0.2);
    const double welds = swh_smooth_step((film->T_contact - p->friction_weld_temperature + 5) / 10);
    const double softens = swh_smooth_step((T_rotor - p->friction_soften_temperature + 10) / 20);
    return (struct swh_scuff_rates){counts * metal * film->V / (V_SCUFF * p->friction_film_loss_time),
                                    counts * welds / p->friction_weld_time,
                                    counts * softens / p->friction_soften_time};
}

/* ---- in the machine ---- */

double swh_oil_supply(const struct swh_machine *m, const double *y)
{
    const double washed = 1 - m->p.oil_wash * scalar(m, y, SWH_S_wetness);
    return swh_held(m->p.freeze_oil_supply, swh_min(swh_max(scalar(m, y, SWH_S_supply) * washed, 1e-4), 1.5));
}

/* Each film is as hot as the metal that it runs on: a few micrometres of oil follow it in microseconds. Only
 * the bearings' is as hot as the oil that reaches them. */
void swh_machine_film(const struct swh_machine *m, const double *y, double N, double P_s, double P_d,
                      struct swh_film *film)
{
    const double T_rotor = scalar(m, y, SWH_S_rotor), T_oil = scalar(m, y, SWH_S_oil);
    const double T_block = scalar(m, y, SWH_S_block), T_piston = scalar(m, y, SWH_S_piston);
    const double diluted = swh_oil_dilution(&m->p, m->fluid, T_oil, P_s, scalar(m, y, SWH_S_wetness));
    const double T_shoe = swh_held(m->p.freeze_oil_temperature, T_rotor);
    const struct swh_film_in in = {.N = N,
                                   .dP = P_d - P_s,
                                   .mu_shoe = diluted * swh_walther_viscosity(&m->walther, T_shoe),
                                   .mu_bore = diluted *
                                              swh_walther_viscosity(&m->walther, 0.5 * (T_piston + T_block)),
                                   .mu_bearing = diluted * swh_walther_viscosity(&m->walther, T_oil),
                                   .supply = swh_oil_supply(m, y),
                                   .T_rotor = T_rotor,
                                   .T_block = T_block,
                                   .T_piston = T_piston};
    swh_film_eval(&m->p, &in, film);
}

static void scuffing(const struct swh_machine *m, const double *y, const struct swh_flows *f, double turning,
                     double *d)
{
    struct swh_scuff_rates s = {0, 0, 0};
    if (f->N > 0)
        s = swh_film_scuffing(&m->p, &f->film, scalar(m, y, SWH_S_rotor), f->N);
    const double heals = turning / m->p.friction_heal_time;
    d[SWH_S_scuff_film] = s.film - heals * scalar(m, y, SWH_S_scuff_film);
    d[SWH_S_scuff_contact] = s.contact - heals * scalar(m, y, SWH_S_scuff_contact);
    d[SWH_S_scuff_plate] = s.plate - heals * scalar(m, y, SWH_S_scuff_plate);
}

void swh_film_states(const struct swh_machine *m, const double *y, const struct swh_flows *f, double *dy)
{
    double *d = dy + m->l.scalar;
    const double turning = f->N / (f->N + 2.0);
    const double oil = swh_smooth_min(scalar(m, y, SWH_S_oil_comp) * m->inv_plate, 1.0, 0.05);
    d[SWH_S_supply] = (oil - scalar(m, y, SWH_S_supply)) * m->inv[SWH_S_supply] * turning;
    const double wet = swh_smooth_step(8 * (1 - f->node[SWH_NODE_CHAMBER].x));
    d[SWH_S_wetness] = (wet - scalar(m, y, SWH_S_wetness)) * m->inv[SWH_S_wetness] * turning;
    d[SWH_S_wear] = f->film.wear_rate;
    scuffing(m, y, f, turning, d);
}

/* ---- what it depends on ---- */

/* ---- channels ---- */

void swh_film_channels(const struct swh_view *v, double *ch)
{
    const struct swh_flows *f = v->f;
    struct swh_film film = f->film;
    if (!(f->N > 0)) /* the rates did without */
        swh_machine_film(v->m, v->y, f->N, f->node[SWH_NODE_CHAMBER].P, f->node[SWH_NODE_PLENUM].P + f->P_air,
                         &film);
    ch[SWH_CH_contact_temperature] = film.T_contact;
    ch[SWH_CH_film_ratio] = film.lambda;
    ch[SWH_CH_running_clearance] = film.clearance;
    ch[SWH_CH_oil_viscosity] = film.mu;
    ch[SWH_CH_oil_supply] = swh_oil_supply(v->m, v->y);
    ch[SWH_CH_boundary_share] = film.share;
    ch[SWH_CH_scuffing] = scalar(v->m, v->y, SWH_S_scuff_film) + scalar(v->m, v->y, SWH_S_scuff_contact) +
                          scalar(v->m, v->y, SWH_S_scuff_plate);
    ch[SWH_CH_plate_wear] = scalar(v->m, v->y, SWH_S_wear);
    ch[SWH_CH_friction_power] = film.shoe + film.piston + film.bearing;
    ch[SWH_CH_shaft_power] = f->comp.work + ch[SWH_CH_friction_power];
}
