/* Rates of the whole machine, one function per part. Symbols: m mass flow, h enthalpy, P pressure, T
 * temperature, rho density, UA conductance, x quality. */
#include "model/machine.h"

#include "model/base/wide.h"
#include "model/machine_laws.h"

#include <math.h>
#include <string.h>

static const double PI = 3.14159265358979323846;
static const double SIGMA = 5.670374419e-8; /* Stefan-Boltzmann constant, CODATA */

static double *heat_of(struct swh_flows *f, enum swh_channel path)
{
    return &f->heat[path - SWH_CH_heat_shoe_friction];
}

/* ---- refrigerant: states of the volumes and what leaves them ---- */

/* volumes whose state is not known yet */
struct unknown {
    int n, node[SWH_NODE_MAX];
    double rho[SWH_NODE_MAX], u[SWH_NODE_MAX];
    struct swh_cell_props *out[SWH_NODE_MAX];
};

/* 1 if a volume holds nothing; those after it are not listed */
static int list_unknown(const struct swh_machine *m, const double *y, struct swh_flows *f, struct unknown *x)
{
    const struct swh_memo *seen = &f->memo;
    x->n = 0;
    for (int i = 0; i < m->l.n_nodes; i++) {
        const double M = y[m->l.M + i], u = y[m->l.U + i] / M;
        if (!(M > 0))
            return 1;
        const double rho = f->rho[i] = M * m->volume_inverse[i];
        x->node[x->n] = i;
        x->rho[x->n] = rho;
        x->u[x->n] = u;
        x->out[x->n] = &f->node[i];
        x->n += !(seen->rho[i] == rho && seen->u[i] == u);
    }
    return 0;
}

static int node_states(const struct swh_machine *m, const double *y, struct swh_flows *f)
{
    struct unknown x;
    x.rho[0] = x.u[0] = 0; /* not all of it: that would cost more than the list */
    x.out[0] = f->node;
    const int empty = list_unknown(m, y, f, &x);
    const uint64_t outside = volume_states(m, x.n, x.rho, x.u, x.out);
    f->outside = 0;
    for (int k = 0; k < x.n; k++) {
        const int bad = outside >> k & 1;
        f->outside += bad;
        f->memo.rho[x.node[k]] = bad ? NAN : x.rho[k];
        f->memo.u[x.node[k]] = x.u[k];
        f->P[x.node[k]] = x.out[k]->P;
    }
    return empty || f->outside;
}

static void cell_outlets(struct swh_flows *f, int from, int to)
{
    for (int i = from; i < to; i++)
        f->h_donor_forward[i] = f->h_donor_reverse[i] = slip_enthalpy(&f->node[i]);
}

/* `outlets` of all volumes */
static void outlet_enthalpies(const struct swh_machine *m, struct swh_flows *f)
{
    static const int others[] = {SWH_NODE_CHAMBER, SWH_NODE_PLENUM, SWH_NODE_RECEIVER,
                                 SWH_NODE_SUBCOOL, SWH_NODE_LIQUID, SWH_NODE_SUCTION};
    for (size_t k = 0; k < sizeof others / sizeof *others; k++) {
        const int i = others[k];
        outlets(m, i, &f->node[i], f->rho[i], &f->h_donor_forward[i], &f->h_donor_reverse[i]);
    }
    cell_outlets(f, SWH_NODE_COND, SWH_NODE_RECEIVER);
    cell_outlets(f, SWH_NODE_EVAP, SWH_NODE_SUCTION);
    cell_outlets(f, SWH_NODE_REAR, m->l.n_nodes);
}

/* ---- flows between volumes ---- */

static void expansion_flows(const struct swh_machine *m, const double *y, struct swh_flows *f)
{
    const struct swh_cell_props *n = f->node;
    const double P_up = n[SWH_NODE_LIQUID].P + f->P_air;
    const double P_front = n[SWH_NODE_EVAP].P + f->P_air_low, rho_up = f->rho[SWH_NODE_LIQUID];
    f->opening = f->opening_rear = 1;
    if (m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE)
        f->m[SWH_NODE_LIQUID] =
            orifice_flow(m, &n[SWH_NODE_LIQUID], P_up, P_front, rho_up, f->rho[SWH_NODE_EVAP]);
    else {
        f->opening = valve_opening(m, scalar(m, y, SWH_S_bulb), n[SWH_NODE_SUCTION - 1].P);
        f->m[SWH_NODE_LIQUID] =
            valve_flow(m->p.valve_area * f->opening, P_up, P_front, rho_up, f->rho[SWH_NODE_EVAP]);
    }
    f->m_valve_rear = 0;
    if (!m->l.rear)
        return;
    f->opening_rear = valve_opening(m, scalar(m, y, SWH_S_bulb_rear), n[SWH_NODE_MAX - 1].P);
    f->m_valve_rear = valve_flow(m->p.valve_area * m->p.rear_evaporator_size * f->opening_rear, P_up,
                                 n[SWH_NODE_REAR].P + f->P_air_low, rho_up, f->rho[SWH_NODE_REAR]);
}

static double between(const struct swh_machine *m, const struct swh_flows *f, int a, int b)
{
    return pipe_flow(m->K_out[a], m->linear_out[a], f->P[a], f->P[b], f->rho[a], f->rho[b]);
}

/* all pipes that lead to the next node: no branches, so that several are reckoned at once */
SWH_WIDE static void pipe_flows(const struct swh_machine *m, const struct swh_flows *f, double *restrict out)
{
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++)
        out[i] = between(m, f, i, i + 1);
}

/* suction line and port in series from the low side into the chamber */
static void suction_flow(const struct swh_machine *m, struct swh_flows *f)
{
    f->m[SWH_NODE_SUCTION] = between(m, f, SWH_NODE_SUCTION, SWH_NODE_CHAMBER);
    f->P_low_port =
        f->P[SWH_NODE_CHAMBER] + m->gauge_share * (f->P[SWH_NODE_SUCTION] - f->P[SWH_NODE_CHAMBER]);
    f->h_port = f->h_donor_forward[SWH_NODE_SUCTION];
}

static void circuit_flows(const struct swh_machine *m, const struct swh_modes *modes, const double *y,
                          struct swh_flows *f)
{
    double out[SWH_NODE_MAX];
    pipe_flows(m, f, out);
    memcpy(f->m + SWH_NODE_PLENUM, out + SWH_NODE_PLENUM, (SWH_NODE_SUCTION - SWH_NODE_PLENUM) * sizeof *out);
    for (int i = SWH_NODE_REAR; i < m->l.n_nodes; i++)
        f->m[i] = between(m, f, i, after_rear(i));
    expansion_flows(m, y, f);
    suction_flow(m, f);
    f->m_relief = 0;
    if (modes->relief_open)
        f->m_relief = m->p.controls_relief_area *
                      sqrt(f->rho[SWH_NODE_PLENUM] *
                           swh_smooth_pos(f->node[SWH_NODE_PLENUM].P + f->P_air - 1e5, 100.0));
}

/* without circuit: the ports' pressures are prescribed */
static void port_flows(const struct swh_machine *m, const struct swh_inputs *in, struct swh_flows *f)
{
    double rho_port = 0, T_sat = 0;
    f->outside += swh_Tsat(m->fluid, in->suction_pressure, &T_sat);
    const double T = T_sat + swh_smooth_pos(in->suction_temperature - T_sat, 0.2);
    f->outside += swh_P_T_vapour(m->fluid, in->suction_pressure, T, &f->h_port, &rho_port);
    f->P_low_port = in->suction_pressure;
    f->m_port = pipe_flow(m->K_port, PIPE_LINEAR, in->suction_pressure, f->node[SWH_NODE_CHAMBER].P, rho_port,
                          f->rho[SWH_NODE_CHAMBER]);
    f->m_out_port = pipe_flow(4 * m->K_discharge, PIPE_LINEAR, f->node[SWH_NODE_PLENUM].P,
                              in->discharge_pressure, f->rho[SWH_NODE_PLENUM], f->rho[SWH_NODE_PLENUM]);
}

/* Energy [W] that m (positive a -> b) takes along from the side it comes from. The upwind switch is rounded
 * over 1e-4 kg/s: in a standing pipe liquid and vapour pass each other. */
static double energy_flow(double flow, double h_a, double h_b)
{
    const double root = sqrt(flow * flow + CARRY_ROUNDED);
    return 0.5 * ((flow + root) * h_a + (flow - root) * h_b);
}

/* the same product is taken and given, so that mass and energy are conserved to the last bit */
static void advect(const struct swh_machine *l, double *dy, double flow, int a, int b, double h_a, double h_b)
{
    const double H = energy_flow(flow, h_a, h_b);
    dy[l->l.M + a] -= flow;
    dy[l->l.M + b] += flow;
    dy[l->l.U + a] -= H;
    dy[l->l.U + b] += H;
}

/* what the pipes to the next node take along; what leaves one volume enters the next, the same number */
SWH_WIDE static void advect_pipes(const struct swh_flows *f, double *restrict dM, double *restrict dU)
{
    double H[SWH_NODE_SUCTION];
    H[0] = 0; /* the chamber's pipe is the compressor */
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++)
        H[i] = energy_flow(f->m[i], f->h_donor_forward[i], f->h_donor_reverse[i + 1]);
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++) {
        dM[i] += f->m[i - 1] - f->m[i];
        dU[i] += H[i - 1] - H[i];
    }
    dM[SWH_NODE_SUCTION] += f->m[SWH_NODE_SUCTION - 1];
    dU[SWH_NODE_SUCTION] += H[SWH_NODE_SUCTION - 1];
}

static void advect_circuit(const struct swh_machine *m, const struct swh_flows *f, double *dy)
{
    advect_pipes(f, dy + m->l.M, dy + m->l.U);
    advect(m, dy, f->m[SWH_NODE_SUCTION], SWH_NODE_SUCTION, SWH_NODE_CHAMBER,
           f->h_donor_forward[SWH_NODE_SUCTION], f->h_donor_forward[SWH_NODE_CHAMBER]);
    if (!m->l.rear)
        return;
    advect(m, dy, f->m_valve_rear, SWH_NODE_LIQUID, SWH_NODE_REAR, f->h_donor_forward[SWH_NODE_LIQUID],
           f->h_donor_forward[SWH_NODE_REAR]);
    for (int i = SWH_NODE_REAR; i < SWH_NODE_MAX; i++)
        advect(m, dy, f->m[i], i, after_rear(i), f->h_donor_forward[i], f->h_donor_reverse[after_rear(i)]);
}

/* mass and energy that leave the system, booked in the sums */
static void carry_out(const struct swh_machine *m, double *dy, double flow, int from, double h)
{
    dy[m->l.M + from] -= flow;
    dy[m->l.U + from] -= flow * h;
    dy[m->l.sum + SWH_SUM_MASS_OUT] += flow;
    dy[m->l.sum + SWH_SUM_ENERGY_OUT] += flow * h;
}

static void advect_vent(const struct swh_machine *m, const struct swh_modes *modes, const struct swh_flows *f,
                        double *dy)
{
    if (!m->l.closed) {
        const double h_in = f->m_port > 0 ? f->h_port : f->node[SWH_NODE_CHAMBER].h;
        carry_out(m, dy, -f->m_port, SWH_NODE_CHAMBER, h_in);
        carry_out(m, dy, f->m_out_port, SWH_NODE_PLENUM, f->node[SWH_NODE_PLENUM].h);
        return;
    }
    if (f->m_relief > 0)
        carry_out(m, dy, f->m_relief, SWH_NODE_PLENUM, f->node[SWH_NODE_PLENUM].h);
    if (modes->leak > 0)
        carry_out(m, dy, modes->leak, SWH_NODE_LIQUID, f->node[SWH_NODE_LIQUID].h);
    else if (modes->leak < 0) /* filled in at the low side as vapour */
        carry_out(m, dy, modes->leak, SWH_NODE_SUCTION, f->node[SWH_NODE_SUCTION].h_g);
}

/* ---- compressor ---- */

/* A shaft that has come down to this part of the pulley's speed stands, or it would never: its speed falls
 * exponentially. So small that no channel shows it, not even the blow-by's share of next to no flow. */
static const double STANDS = 1e-15;

static double shaft_speed(const struct swh_machine *m, const struct swh_inputs *in,
                          const struct swh_modes *modes, const double *y)
{
    const double speed_ratio = scalar(m, y, SWH_S_speed_ratio);
    if (modes->seized || speed_ratio < STANDS)
        return 0;
    return in->compressor_speed * m->p.controls_overspeed * (1 - m->p.clutch_slip) * speed_ratio;
}

static double oil_supply(const struct swh_machine *m, const double *y)
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
                                   .supply = oil_supply(m, y),
                                   .T_rotor = T_rotor,
                                   .T_block = scalar(m, y, SWH_S_block),
                                   .T_piston = scalar(m, y, SWH_S_piston)};
    swh_film_eval(&m->p, &in, film);
}

/* One by one: mostly the first one differs, and memcmp would wait for stores of another width. */
static int are_same(const double *a, const double *b, size_t n)
{
    for (size_t k = 0; k < n; k++)
        if (a[k] != b[k])
            return 0;
    return 1;
}

/* Everything that film and compressor depend on; true if it is what they were last reckoned from. */
static int compressor_is_known(const struct swh_machine *m, const double *y, struct swh_flows *f)
{
    const double now[] = {f->rho[SWH_NODE_CHAMBER],
                          y[m->l.U + SWH_NODE_CHAMBER],
                          f->rho[SWH_NODE_PLENUM],
                          y[m->l.U + SWH_NODE_PLENUM],
                          f->N,
                          f->P_air,
                          f->P_air_low,
                          scalar(m, y, SWH_S_rotor),
                          scalar(m, y, SWH_S_oil),
                          scalar(m, y, SWH_S_block),
                          scalar(m, y, SWH_S_head),
                          scalar(m, y, SWH_S_piston),
                          scalar(m, y, SWH_S_supply)};
    _Static_assert(sizeof now == sizeof f->memo.compressor, "one place for each argument");
    const int known = are_same(f->memo.compressor, now, sizeof now / sizeof *now);
    memcpy(f->memo.compressor, now, sizeof now);
    return known;
}

static int compressor_part(const struct swh_machine *m, const double *y, struct swh_flows *f)
{
    const struct swh_cell_props *s = &f->node[SWH_NODE_CHAMBER], *d = &f->node[SWH_NODE_PLENUM];
    if (compressor_is_known(m, y, f))
        return 0;
    /* at rest there is no friction; what is told of the film then is reckoned when it is told */
    if (f->N > 0)
        swh_machine_film(m, y, f->N, s->P, d->P + f->P_air, &f->mu, &f->film);
    else
        f->film = (struct swh_film){.f = 0};
    const struct swh_compressor_in in = {.N = f->N,
                                         .suction = s,
                                         .rho_suction = f->rho[SWH_NODE_CHAMBER],
                                         .u_suction = f->memo.u[SWH_NODE_CHAMBER],
                                         .P_d = d->P + f->P_air - f->P_air_low,
                                         .rho_d = f->rho[SWH_NODE_PLENUM],
                                         .T_block = scalar(m, y, SWH_S_block),
                                         .T_heads = scalar(m, y, SWH_S_head),
                                         .T_rotor = scalar(m, y, SWH_S_rotor),
                                         .T_d = d->T,
                                         .mu = f->mu,
                                         .supply = oil_supply(m, y),
                                         .clearance = f->film.clearance};
    const int bad = swh_compressor_eval(&m->p, m->fluid, &in, &f->comp);
    if (bad)
        f->memo.compressor[0] = NAN; /* to be told again */
    return bad;
}

static void advect_compressor(const struct swh_machine *m, const struct swh_flows *f, double *dy)
{
    const struct swh_compressor_flows *c = &f->comp;
    const double h_1 = f->node[SWH_NODE_CHAMBER].h, h_d = f->node[SWH_NODE_PLENUM].h;
    const double H_in = (c->m + c->m_blowby) * h_1;
    const double H_leak = c->m_blowby * c->h_2;
    const double H_out = H_in + c->work - c->Q_bore - H_leak; /* first law over the bores */
    const double net = c->m + c->m_through - c->m_reed;
    const double H_past = c->m_through * h_1 - c->m_reed * h_d;
    dy[m->l.M + SWH_NODE_CHAMBER] -= net;
    dy[m->l.M + SWH_NODE_PLENUM] += net;
    dy[m->l.U + SWH_NODE_CHAMBER] += H_leak - H_in - H_past - c->Q_block - c->Q_heads - c->Q_rotor;
    dy[m->l.U + SWH_NODE_PLENUM] += H_out + H_past - c->Q_discharge;
}

/* ---- body ---- */

struct body_rates {
    double rotor, piston, block, head, shell, oil; /* W */
};

static void conduct(double G, double T_a, double T_b, double *Q_a, double *Q_b)
{
    const double Q = G * (T_a - T_b);
    *Q_a -= Q;
    *Q_b += Q;
}

static void body_network(const struct swh_machine *m, const double *y, const struct swh_flows *f,
                         struct body_rates *q)
{
    const struct swh_params *p = &m->p;
    const double rotor = scalar(m, y, SWH_S_rotor), piston = scalar(m, y, SWH_S_piston);
    const double block = scalar(m, y, SWH_S_block), head = scalar(m, y, SWH_S_head);
    const double shell = scalar(m, y, SWH_S_shell), oil = scalar(m, y, SWH_S_oil);
    const double turning = f->N / (f->N + 3.0);
    /* splashing oil reaches rotor and block only while there is some and while it turns */
    const double splash =
        (0.1 + 0.9 * turning) * swh_smooth_min(scalar(m, y, SWH_S_oil_comp) * m->inv_sump, 1.2, 0.1);
    conduct(p->body_rotor_block, rotor, block, &q->rotor, &q->block);
    conduct(p->body_rotor_oil * splash, rotor, oil, &q->rotor, &q->oil);
    conduct(p->body_piston_block, piston, block, &q->piston, &q->block);
    conduct(p->body_piston_rotor, piston, rotor, &q->piston, &q->rotor);
    conduct(p->body_block_heads, block, head, &q->block, &q->head);
    conduct(p->body_block_shell, block, shell, &q->block, &q->shell);
    conduct(p->body_heads_shell, head, shell, &q->head, &q->shell);
    conduct(p->body_oil_block * (0.2 + 0.8 * splash), oil, block, &q->oil, &q->block);
}

static void body_friction(struct swh_flows *f, struct body_rates *q)
{
    q->rotor += f->film.shoe + 0.5 * f->film.bearing;
    q->block += 0.5 * f->film.bearing + 0.5 * f->film.piston;
    q->piston += 0.5 * f->film.piston;
    *heat_of(f, SWH_CH_heat_shoe_friction) = f->film.shoe;
    *heat_of(f, SWH_CH_heat_piston_friction) = f->film.piston;
    *heat_of(f, SWH_CH_heat_bearing_friction) = f->film.bearing;
}

static void body_gas(struct swh_flows *f, struct body_rates *q)
{
    const struct swh_compressor_flows *c = &f->comp;
    q->block += 0.6 * c->Q_bore + c->Q_block;
    q->piston += 0.4 * c->Q_bore;
    q->head += c->Q_heads + c->Q_discharge;
    q->rotor += c->Q_rotor;
    *heat_of(f, SWH_CH_heat_bore_gas) = c->Q_bore;
    *heat_of(f, SWH_CH_heat_discharge_gas) = c->Q_discharge;
    *heat_of(f, SWH_CH_heat_suction_block) = c->Q_block;
    *heat_of(f, SWH_CH_heat_suction_heads) = c->Q_heads;
    *heat_of(f, SWH_CH_heat_suction_rotor) = c->Q_rotor;
    *heat_of(f, SWH_CH_heat_gas_work) = c->work;
}

/* The circulating oil leaves as hot as the sump and comes back as cold as the suction gas; the discharge gas
 * takes what it brings. */
static void body_oil(const struct swh_machine *m, const double *y, struct swh_flows *f, struct body_rates *q,
                     double *dy)
{
    const double Q =
        f->oil.out * m->p.oil_specific_heat * (scalar(m, y, SWH_S_oil) - f->node[SWH_NODE_CHAMBER].T);
    q->oil -= Q;
    dy[m->l.U + SWH_NODE_PLENUM] += Q;
    *heat_of(f, SWH_CH_heat_oil_carry) = -Q;
}

static void shell_exchange(const struct swh_machine *m, const double *y, struct swh_flows *f,
                           struct body_rates *q)
{
    const struct swh_params *p = &m->p;
    const double T = scalar(m, y, SWH_S_shell), T_bay = f->T_bay;
    const double air = f->memo.outside.shell_film * p->body_shell_area * (T_bay - T);
    const double radiation =
        p->body_emissivity * SIGMA * p->body_shell_area * (T_bay * T_bay * T_bay * T_bay - T * T * T * T);
    const double bracket = p->body_bracket * (p->body_engine_temperature - T);
    q->shell += air + radiation + bracket;
    *heat_of(f, SWH_CH_heat_shell_air) = air;
    *heat_of(f, SWH_CH_heat_shell_radiation) = radiation;
    *heat_of(f, SWH_CH_heat_bracket) = bracket;
}

/* Clutch: coil heat goes to the shell; slip heats the faces: by the fault while it runs, by the locked shaft
 * after seizure. The faces give their heat to shell and bay air; what reaches the shell is booked. */
static double clutch_part(const struct swh_machine *m, const struct swh_inputs *in,
                          const struct swh_modes *modes, const double *y, struct swh_flows *f,
                          struct body_rates *q)
{
    const struct swh_params *p = &m->p;
    const double face = scalar(m, y, SWH_S_clutch_face), shell = scalar(m, y, SWH_S_shell);
    const double pulley = in->compressor_speed * p->controls_overspeed;
    const double power = f->comp.work + f->film.shoe + f->film.piston + f->film.bearing;
    double slip = power / (f->N + 0.5) * swh_max(pulley * scalar(m, y, SWH_S_speed_ratio) - f->N, 0) *
                  (modes->seized == 0);
    if (modes->seized && modes->engaged)
        slip = p->clutch_slip_torque * 2 * PI * pulley;
    const double to_shell = p->clutch_face_shell * (face - shell);
    const double coil = modes->engaged ? p->clutch_coil_power : 0;
    q->shell += to_shell + coil;
    *heat_of(f, SWH_CH_heat_clutch) = to_shell + coil;
    return slip - to_shell - p->clutch_face_air * (0.3 + pulley / (pulley + 10)) * (face - f->T_bay);
}

static void body_part(const struct swh_machine *m, const struct swh_inputs *in, const struct swh_modes *modes,
                      const double *y, struct swh_flows *f, double *dy)
{
    struct body_rates q = {0};
    body_network(m, y, f, &q);
    body_friction(f, &q);
    body_gas(f, &q);
    body_oil(m, y, f, &q, dy);
    shell_exchange(m, y, f, &q);
    double *d = dy + m->l.scalar;
    d[SWH_S_clutch_face] = clutch_part(m, in, modes, y, f, &q) * m->inv[SWH_S_clutch_face];
    d[SWH_S_rotor] = q.rotor * m->inv[SWH_S_rotor];
    d[SWH_S_piston] = q.piston * m->inv[SWH_S_piston];
    d[SWH_S_block] = q.block * m->inv[SWH_S_block];
    d[SWH_S_head] = q.head * m->inv[SWH_S_head];
    d[SWH_S_shell] = q.shell * m->inv[SWH_S_shell];
    d[SWH_S_oil] = q.oil * m->inv[SWH_S_oil];
}

/* ---- shaft, oil supply, probes, damage ---- */

static void small_states(const struct swh_machine *m, const struct swh_modes *modes, const double *y,
                         struct swh_flows *f, double *dy)
{
    const struct swh_params *p = &m->p;
    double *d = dy + m->l.scalar;
    const double target = modes->engaged && !modes->seized ? 1.0 : 0.0;
    d[SWH_S_speed_ratio] = (target - scalar(m, y, SWH_S_speed_ratio)) * m->inv[SWH_S_speed_ratio];
    const double oil = swh_smooth_min(scalar(m, y, SWH_S_oil_comp) * m->inv_sump, 1.0, 0.05);
    d[SWH_S_supply] = (oil - scalar(m, y, SWH_S_supply)) * m->inv[SWH_S_supply] * f->N / (f->N + 2.0);
    d[SWH_S_oil_comp] = f->oil.back - f->oil.out;
    d[SWH_S_oil_evap] = -d[SWH_S_oil_comp];
    const double T_d = f->node[SWH_NODE_PLENUM].T;
    const double pulled = probe_equilibrium(p, T_d, f->T_bay);
    /* the pipe under the clamp follows its gas while that flows; standing gas hardly warms or cools it */
    const double flow = swh_smooth_pos(f->comp.m, 1e-5);
    const double grip = 0.12 + 0.88 * flow / (flow + 0.004);
    d[SWH_S_probe_discharge] =
        grip * (pulled - scalar(m, y, SWH_S_probe_discharge)) * m->inv[SWH_S_probe_discharge];
    const double pulled_s = probe_equilibrium(p, f->T_port, f->T_bay);
    d[SWH_S_probe_suction] = (pulled_s - scalar(m, y, SWH_S_probe_suction)) * m->inv[SWH_S_probe_suction];
    d[SWH_S_wear] = f->film.wear_rate;
    /* 1 / life_temperature - 1 / T in one division */
    const double T = swh_max(scalar(m, y, SWH_S_oil), 150.0);
    d[SWH_S_life] =
        exp(swh_min(p->oil_life_activation * (T - p->oil_life_temperature) / (p->oil_life_temperature * T),
                    30.0)) *
        (1.0 / 3600);
}

static void oil_part(const struct swh_machine *m, const double *y, struct swh_flows *f)
{
    /* without circuit the evaporator is taken as dry as the suction port */
    const double rho = f->rho[m->l.closed ? SWH_NODE_SUCTION : SWH_NODE_CHAMBER];
    double wet = 1;
    if (m->l.closed && m->c.vehicle_expansion == SWH_EXPANSION_ORIFICE) {
        /* an accumulator gives oil back with the liquid of its bleed */
        const double liquid = swh_smooth_step(liquid_share(&f->node[SWH_NODE_SUCTION], rho) / 0.03);
        wet = m->p.oil_accumulator_dry + (1 - m->p.oil_accumulator_dry) * liquid;
    }
    f->oil = swh_oil_rates(&m->p, f->comp.m, rho, f->superheat_evap, wet, scalar(m, y, SWH_S_oil_comp),
                           scalar(m, y, SWH_S_oil_evap));
}

/* ---- exchangers ---- */

static double wall_to_fluid(const struct swh_flows *f, double UA, int node, double T_wall)
{
    return UA * (T_wall - f->node[node].T);
}

/* as pipe_flows; the plenum is there only to fill a register */
SWH_WIDE static void cell_flow_corrections(const struct swh_flows *f, double *restrict flow_correction)
{
    for (int i = SWH_NODE_PLENUM; i < SWH_NODE_SUCTION; i++)
        flow_correction[i] = conductance_of_flow(0.5 * (f->m[i - 1] + f->m[i]));
}

/* a cell's flow is the mean of what enters and leaves */
static void flow_corrections(const struct swh_machine *m, struct swh_flows *f)
{
    double flow_correction[SWH_NODE_MAX];
    cell_flow_corrections(f, flow_correction);
    memcpy(f->flow_correction + SWH_NODE_COND, flow_correction + SWH_NODE_COND,
           (SWH_NODE_SUCTION - SWH_NODE_COND) * sizeof *flow_correction);
    for (int i = SWH_NODE_REAR; i < m->l.n_nodes; i++) {
        const double m_in = i == SWH_NODE_REAR ? f->m_valve_rear : f->m[i - 1];
        f->flow_correction[i] = conductance_of_flow(0.5 * (m_in + f->m[i]) / m->p.rear_evaporator_size);
    }
}

/* temperatures of the condenser's air from those of its walls */
static void condenser_air(const struct swh_machine *m, const struct swh_inputs *in, const double *y,
                          struct swh_flows *f)
{
    const double sub = m->p.condenser_subcool_share, share = (1 - sub) * (1.0 / SWH_N_COND);
    const double e = f->memo.outside.cond_effectiveness, k = f->memo.outside.back_flow;
    f->air_cond = f->memo.outside.air_cond;
    double T_wall = 0;
    for (int i = 0; i < SWH_N_COND; i++)
        T_wall += y[m->l.wall + SWH_WALL_COND + i];
    T_wall = T_wall * share + y[m->l.wall + SWH_WALL_SUBCOOL] * sub;
    f->T_cond_in = (in->ambient_temperature + k * T_wall) / (1 + k);
    f->T_cond_out = f->T_cond_in + e * (T_wall - f->T_cond_in);
}

static void condenser_cell(const struct swh_machine *m, struct swh_flows *f, const double *y, double *dy,
                           int node, int wall, double share, double effectiveness)
{
    const double T_wall = y[m->l.wall + wall];
    const double Q_in = share * condensing_heat(m, &f->node[node], T_wall) * f->flow_correction[node];
    const double air = share * f->air_cond * SWH_CP_AIR;
    const double Q_out = air * effectiveness * (T_wall - f->T_cond_in);
    dy[m->l.U + node] -= Q_in;
    dy[m->l.wall + wall] = (Q_in - Q_out) * m->wall_inverse[wall];
    f->Q_cond += Q_out;
}

static void condenser_part(const struct swh_machine *m, const struct swh_inputs *in, struct swh_flows *f,
                           const double *y, double *dy)
{
    const double effectiveness = f->memo.outside.cond_effectiveness;
    condenser_air(m, in, y, f);
    const double sub = m->p.condenser_subcool_share;
    f->Q_cond = 0;
    for (int i = 0; i < SWH_N_COND; i++)
        condenser_cell(m, f, y, dy, SWH_NODE_COND + i, SWH_WALL_COND + i, (1 - sub) / SWH_N_COND,
                       effectiveness);
    condenser_cell(m, f, y, dy, SWH_NODE_SUBCOOL, SWH_WALL_SUBCOOL, sub, effectiveness);
    *heat_of(f, SWH_CH_heat_condenser) = f->Q_cond;
}

struct evaporator_air {
    double m_air; /* of the whole coil */
    struct swh_air_in cell;
    double T_out, water; /* sums over cells: outlet temperature share by share, condensed kg/s */
};

_Static_assert((int)SWH_N_EVAP <= (int)SWH_AIR_WALLS && (int)SWH_N_REAR <= (int)SWH_AIR_WALLS,
               "a coil's walls at once");

static const struct swh_air_side *air_to_walls(struct swh_flows *f, int wall, const struct swh_air_in *in,
                                               int n, const double *T_wall)
{
    struct swh_air_in *seen = &f->memo.air[wall];
    const int same = are_same(f->memo.air_wall + wall, T_wall, (size_t)n) && seen->T == in->T &&
                     seen->W == in->W && seen->m_air == in->m_air && seen->P == in->P &&
                     seen->effectiveness == in->effectiveness;
    if (!same) {
        swh_air_to_walls(n, in, T_wall, f->memo.air_side + wall);
        memcpy(f->memo.air_wall + wall, T_wall, (size_t)n * sizeof *T_wall);
        *seen = *in;
    }
    return f->memo.air_side + wall;
}

static void evaporator_cells(const struct swh_machine *m, struct swh_flows *f, const double *y, double *dy,
                             int node, int wall, int n, double size, struct evaporator_air *air)
{
    const struct swh_params *p = &m->p;
    const double *T_wall = y + m->l.wall + wall;
    const double part = 1.0 / n;
    air->cell.m_air = air->m_air * part;
    const struct swh_air_side *a = air_to_walls(f, wall, &air->cell, n, T_wall);
    const double share = size * part;
    for (int i = 0; i < n; i++) {
        const double UA = share *
                          inside_UA(p->evaporator_ua_two_phase, p->evaporator_ua_vapour, f->node[node + i].x,
                                    p->evaporator_dry_out) *
                          f->flow_correction[node + i];
        const double Q = wall_to_fluid(f, UA, node + i, T_wall[i]);
        dy[m->l.U + node + i] += Q;
        dy[m->l.wall + wall + i] = (a[i].Q - Q) * m->wall_inverse[wall + i];
        f->Q_evap += a[i].Q;
        air->T_out += a[i].T_out;
        air->water += a[i].water;
    }
    air->T_out *= part;
}

/* cabin: air node, water, interior mass; T_supply and water removal of all coils */
static void cabin_part(const struct swh_machine *m, const struct swh_inputs *in, const double *y, double *dy,
                       double W_amb, double Q_air, double water)
{
    const struct swh_params *p = &m->p;
    const double T = scalar(m, y, SWH_S_cabin), T_in = scalar(m, y, SWH_S_interior),
                 W = scalar(m, y, SWH_S_cabin_water);
    const double T_amb = in->ambient_temperature;
    const double exchange = p->cabin_leak_air + p->cabin_door_air * in->doors_open;
    const double interior = p->cabin_interior_ua * (T_in - T);
    double *d = dy + m->l.scalar;
    const double sun = in->sun * p->cabin_glass_area;
    d[SWH_S_cabin] = (interior + p->cabin_wall_ua * (T_amb - T) + exchange * SWH_CP_AIR * (T_amb - T) +
                      75.0 * in->occupants + 0.1 * sun - Q_air) *
                     m->inv[SWH_S_cabin];
    d[SWH_S_interior] = (0.9 * sun * (1 - 0.8 * in->doors_open) - interior) * m->inv[SWH_S_interior];
    /* a person gives off about 0.015 g/s of water at rest (textbook, ASHRAE Fundamentals, from memory) */
    d[SWH_S_cabin_water] =
        (exchange * (W_amb - W) + 1.5e-5 * in->occupants - water) * m->inv[SWH_S_cabin_water];
}

static void evaporator_part(const struct swh_machine *m, const struct swh_inputs *in, struct swh_flows *f,
                            const double *y, double *dy)
{
    const struct swh_ambient *o = &f->memo.outside;
    const double T_cabin = scalar(m, y, SWH_S_cabin), W_cabin = scalar(m, y, SWH_S_cabin_water);
    const double r = in->recirculation;
    struct evaporator_air air = {.m_air = o->air_evap,
                                 .cell = {.T = r * T_cabin + (1 - r) * in->ambient_temperature,
                                          .W = r * W_cabin + (1 - r) * o->W,
                                          .P = in->ambient_pressure,
                                          .effectiveness = o->evap_effectiveness}};
    f->Q_evap = 0;
    evaporator_cells(m, f, y, dy, SWH_NODE_EVAP, SWH_WALL_EVAP, SWH_N_EVAP, 1.0, &air);
    f->T_vent = air.T_out;
    double Q_air = air.m_air * SWH_CP_AIR * (T_cabin - air.T_out);
    double water = air.water;
    const double fresh_water = air.m_air * (1 - r) * (o->W - W_cabin);
    if (m->l.rear) {
        struct evaporator_air rear = {
            .m_air = o->air_rear,
            .cell = {.T = T_cabin, .W = W_cabin, .P = air.cell.P, .effectiveness = o->rear_effectiveness}};
        evaporator_cells(m, f, y, dy, SWH_NODE_REAR, SWH_WALL_REAR, SWH_N_REAR, m->p.rear_evaporator_size,
                         &rear);
        Q_air += rear.m_air * SWH_CP_AIR * (T_cabin - rear.T_out);
        water += rear.water;
    }
    cabin_part(m, in, y, dy, o->W, Q_air, water - fresh_water);
    *heat_of(f, SWH_CH_heat_evaporator) = f->Q_evap;
}

static void lines_part(const struct swh_machine *m, struct swh_flows *f, double *dy)
{
    const struct swh_params *p = &m->p;
    const double discharge = p->discharge_line_ua * (f->T_bay - f->node[SWH_NODE_PLENUM].T);
    dy[m->l.U + SWH_NODE_PLENUM] += discharge;
    *heat_of(f, SWH_CH_heat_lines) = discharge;
    if (!m->l.closed) {
        *heat_of(f, SWH_CH_heat_condenser) = *heat_of(f, SWH_CH_heat_evaporator) = 0;
        return;
    }
    const double suction = p->suction_line_ua * (f->T_bay - f->node[SWH_NODE_SUCTION].T);
    const double liquid = p->liquid_line_ua * (f->T_bay - f->node[SWH_NODE_LIQUID].T);
    dy[m->l.U + SWH_NODE_SUCTION] += suction;
    dy[m->l.U + SWH_NODE_LIQUID] += liquid;
    *heat_of(f, SWH_CH_heat_lines) = suction + liquid + discharge;
}

/* Foreign gas does not condense: while the compressor runs it gathers in the high side, where its pressure
 * goes with the gas space that liquid leaves and with temperature (ideal gas); at rest it spreads back over
 * both sides within minutes. The state is its partial pressure on the high side; what is not there is on the
 * low side, where it has `ratio` times the room. Amount: condenser.air_pressure in the usual gas space at 50
 * degC. */
static const double FOREIGN_GATHERS = 1 / 15.0,
                    FOREIGN_SPREADS = 1 / 200.0; /* 1/s; common practice, no source */

/* all of it in the usual gas space of the high side, as cold as the outside air */
static double ncg_cold(const struct swh_machine *m, double T_ambient)
{
    return m->p.condenser_air_pressure * T_ambient * (1 / 323.15);
}

static double ncg_low(const struct swh_machine *m, double P_high, double T_ambient)
{
    const double all = ncg_cold(m, T_ambient);
    return all > 0 ? m->ncg_ratio * swh_smooth_pos(all - P_high, 0.01 * all) : 0;
}

static double ncg_gathered(const struct swh_machine *m, const struct swh_flows *f)
{
    double room = 0, T = 0;
    for (int i = SWH_NODE_COND; i <= SWH_NODE_RECEIVER; i++) {
        const double V = m->volume[i] * (1 - 0.98 * liquid_share(&f->node[i], f->rho[i]));
        room += V;
        T += V * f->node[i].T;
    }
    const double usual = 0.6 * (m->p.condenser_volume + m->volume[SWH_NODE_RECEIVER]);
    return m->p.condenser_air_pressure * (T / room / 323.15) * (usual / room);
}

static double ncg_rate(const struct swh_machine *m, const struct swh_flows *f, double P_high,
                       double T_ambient)
{
    if (m->p.condenser_air_pressure <= 0)
        return -P_high * FOREIGN_GATHERS;
    const double r = m->ncg_ratio, turning = f->N / (f->N + 3.0);
    return turning * (ncg_gathered(m, f) - P_high) * FOREIGN_GATHERS +
           (1 - turning) * (ncg_cold(m, T_ambient) * r / (1 + r) - P_high) * FOREIGN_SPREADS;
}

static void circuit_states(const struct swh_machine *m, const struct swh_inputs *in, const double *y,
                           struct swh_flows *f, double *dy)
{
    const struct swh_params *p = &m->p;
    double *d = dy + m->l.scalar;
    const int place =
        m->c.probe_liquid_line_place == SWH_LIQUID_AT_CONDENSER ? SWH_NODE_SUBCOOL : SWH_NODE_LIQUID;
    const double pulled = probe_equilibrium(p, f->node[place].T, f->T_bay);
    d[SWH_S_probe_liquid] = (pulled - scalar(m, y, SWH_S_probe_liquid)) * m->inv[SWH_S_probe_liquid];
    const double T_e = f->node[SWH_NODE_SUCTION - 1].T;
    d[SWH_S_bulb] = (T_e - scalar(m, y, SWH_S_bulb)) * m->inv[SWH_S_bulb];
    const double T_r = m->l.rear ? f->node[SWH_NODE_MAX - 1].T : T_e;
    d[SWH_S_bulb_rear] = (T_r - scalar(m, y, SWH_S_bulb_rear)) * m->inv[SWH_S_bulb_rear];
    d[SWH_S_ncg] = ncg_rate(m, f, scalar(m, y, SWH_S_ncg), in->ambient_temperature);
    d[SWH_S_sensor_low] =
        (f->P_low_port + f->P_air_low - scalar(m, y, SWH_S_sensor_low)) * m->inv[SWH_S_sensor_low];
    f->T_fin = 0;
    for (int i = 1; i < 4; i++) /* fins where the bulb usually sits: the colder half of the coil */
        f->T_fin += y[m->l.wall + SWH_WALL_EVAP + i] * (1.0 / 3);
    d[SWH_S_sensor_frost] = (f->T_fin - scalar(m, y, SWH_S_sensor_frost)) * m->inv[SWH_S_sensor_frost];
}

static void superheats(const struct swh_machine *m, struct swh_flows *f)
{
    double T_sat = 0;
    f->T_port = f->node[SWH_NODE_CHAMBER].T;
    if (!m->l.closed) {
        swh_Tsat(m->fluid, f->P_low_port, &T_sat);
        struct swh_ph_props port;
        swh_P_h(m->fluid, f->P_low_port, f->h_port, &port);
        f->T_port = port.T;
        f->superheat_evap = port.T - T_sat;
        return;
    }
    f->T_port = f->node[SWH_NODE_SUCTION].T;
    swh_Tsat(m->fluid, f->node[SWH_NODE_SUCTION - 1].P, &T_sat);
    f->superheat_evap = f->node[SWH_NODE_SUCTION - 1].T - T_sat;
}

/* ---- outside ---- */

static double condenser_flow(const struct swh_params *p, const struct swh_inputs *in, int fan_on)
{
    const double fan = p->condenser_fan_air * p->condenser_fan_share * (fan_on ? in->fan : 0);
    const double ram = p->condenser_ram_air * in->vehicle_speed;
    /* fan and ram air share one duct: near the larger of the two (fourth powers) */
    const double fan2 = fan * fan, ram2 = ram * ram;
    const double driven = sqrt(sqrt(fan2 * fan2 + ram2 * ram2 + 1e-12));
    return (p->condenser_natural_air + driven) * p->condenser_air_share + 0.004;
}

static double coil_effectiveness(const struct swh_params *p, double m_air, double size)
{
    const double UA =
        p->evaporator_ua_air * size * swh_pow_three_quarters(m_air / (p->evaporator_air * size));
    return swh_wall_effectiveness(m_air, UA);
}

static void set_ambient(const struct swh_machine *m, const struct swh_inputs *in, int fan_on,
                        struct swh_ambient *o)
{
    const struct swh_params *p = &m->p;
    const double rear = p->rear_evaporator_size, v = in->vehicle_speed;
    o->W = swh_humidity(in->ambient_temperature, in->ambient_humidity, in->ambient_pressure);
    o->T_bay = isnan(in->underhood_temperature)
                   ? in->ambient_temperature + p->bay_rise_at_rest / (1 + v / p->bay_cooling_speed)
                   : in->underhood_temperature;
    o->shell_film = p->body_shell_film * (1 + p->body_shell_film_wind * sqrt(0.3 * v / 5.0));
    if (!m->l.closed)
        return;
    o->air_cond = condenser_flow(p, in, fan_on);
    const double UA_air = p->condenser_ua_air * swh_pow_three_quarters(o->air_cond / 0.52);
    o->cond_effectiveness = swh_wall_effectiveness(o->air_cond, UA_air);
    const double again = p->condenser_recirculation * exp(-v / 5.0); /* share of the air that comes round */
    o->back_flow = again / (1 - again) * o->cond_effectiveness;
    o->air_evap = p->evaporator_air * p->evaporator_air_share * (0.03 + 0.97 * in->blower) + 0.002;
    o->evap_effectiveness = coil_effectiveness(p, o->air_evap, 1.0);
    if (!m->l.rear)
        return;
    o->air_rear = p->evaporator_air * rear * (0.03 + 0.97 * p->rear_evaporator_blower) + 0.002;
    o->rear_effectiveness = coil_effectiveness(p, o->air_rear, rear);
}

/* Brings the memory in step with machine, inputs and fan. */
static void remember(const struct swh_machine *m, const struct swh_inputs *in, const struct swh_modes *modes,
                     struct swh_memo *memo)
{
    const int same = memo->stamp == m->stamp;
    if (!same) {
        memset(memo, 0, sizeof *memo);
        memo->stamp = m->stamp;
    }
    if (same && memo->fan_on == modes->fan_on && memcmp(&memo->in, in, sizeof *in) == 0)
        return;
    memo->in = *in;
    memo->fan_on = modes->fan_on;
    set_ambient(m, in, modes->fan_on, &memo->outside);
}

/* ---- the whole ---- */

int swh_machine_rates(const struct swh_machine *m, const struct swh_inputs *in, const struct swh_modes *modes,
                      const double *y, double *dy, struct swh_flows *f)
{
    memset(dy, 0, (size_t)m->l.n * sizeof *dy);
    remember(m, in, modes, &f->memo);
    if (node_states(m, y, f))
        return 1;
    outlet_enthalpies(m, f);
    f->N = shaft_speed(m, in, modes, y);
    f->P_air = m->l.closed ? swh_max(scalar(m, y, SWH_S_ncg), 0) : 0;
    f->P_air_low = m->l.closed ? ncg_low(m, f->P_air, in->ambient_temperature) : 0;
    f->T_bay = f->memo.outside.T_bay;
    if (m->l.closed)
        circuit_flows(m, modes, y, f);
    else
        port_flows(m, in, f);
    superheats(m, f);
    if (compressor_part(m, y, f) || f->outside)
        return 1;
    advect_compressor(m, f, dy);
    advect_vent(m, modes, f, dy);
    oil_part(m, y, f);
    if (m->l.closed) {
        advect_circuit(m, f, dy);
        flow_corrections(m, f);
        condenser_part(m, in, f, y, dy);
        evaporator_part(m, in, f, y, dy);
        circuit_states(m, in, y, f, dy);
    }
    lines_part(m, f, dy);
    body_part(m, in, modes, y, f, dy);
    small_states(m, modes, y, f, dy);
    memcpy(dy + m->l.sum + SWH_SUM_HEAT, f->heat, sizeof f->heat);
    return 0;
}

int swh_machine_event_values(const struct swh_machine *m, const struct swh_inputs *in,
                             const struct swh_modes *modes, const double *y, struct swh_event_values *out)
{
    /* every shaft starts and stops on bare metal: only a turning one counts as having lost its film */
    const double N = shaft_speed(m, in, modes, y), counts = swh_smooth_step((N - 5) / 5);
    const int n = counts > 0 ? 2 : 1; /* plenum; chamber */
    double rho[2], u[2];
    struct swh_cell_props plenum, chamber, *const node[2] = {&plenum, &chamber};
    for (int k = 0; k < n; k++) {
        const int i = SWH_NODE_PLENUM - k;
        const double M = swh_max(y[m->l.M + i], 1e-9);
        rho[k] = M * m->volume_inverse[i];
        u[k] = y[m->l.U + i] / M;
    }
    const int bad = swh_rho_u_all(m->fluid, n, rho, u, node) != 0;
    const double P_air = m->l.closed ? swh_max(scalar(m, y, SWH_S_ncg), 0) : 0;
    out->P_d = plenum.P + P_air;
    out->T_clutch_face = scalar(m, y, SWH_S_clutch_face);
    if (counts > 0) {
        double mu;
        struct swh_film film;
        swh_machine_film(m, y, N, chamber.P, out->P_d, &mu, &film);
        out->T_contact = film.T_contact;
        out->share = film.share * counts;
        out->clearance = film.clearance;
        return bad;
    }
    out->T_contact = scalar(m, y, SWH_S_rotor);
    out->share = 0;
    out->clearance = swh_film_clearance(&m->p, scalar(m, y, SWH_S_block), scalar(m, y, SWH_S_piston));
    return bad;
}
