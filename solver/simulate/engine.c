#include "solver/simulate/engine.h"

#include "model/base/smooth.h"
#include "solver/simulate/moving_params.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum root {
    ROOT_LOW,
    ROOT_FROST,
    ROOT_HIGH,
    ROOT_RELIEF,
    ROOT_FAN,
    ROOT_ICE,
    ROOT_FUSE,
    ROOT_GAS,
    ROOT_BURST,
    ROOT_FILM, /* the three warnings, in the order of their events */
    ROOT_CONTACT,
    ROOT_PLATE,
    ROOT_SHOE,
    ROOT_BORE
};

const char *swh_outcome_word(enum swh_outcome outcome)
{
    static const char *const words[] = {"survives",   "shoe_seized", "bore_seized", "protected",
                                        "overheated", "burst",       "incomplete"};
    return words[outcome];
}

bool swh_outcome_is_lost(enum swh_outcome outcome)
{
    return outcome == SWH_SHOE_SEIZED || outcome == SWH_BORE_SEIZED || outcome == SWH_OVERHEATED ||
           outcome == SWH_BURST;
}

const char *swh_cause_word(enum swh_seizure cause)
{
    return cause < SWH_SEIZURE_COUNT ? swh_seizure_table[cause].id : "";
}

/* ---- parameters with the faults of a time ---- */

static bool fault_is_leak(const struct swh_engine *e, int fault)
{
    const bool charge = fault == SWH_FAULT_undercharge || fault == SWH_FAULT_overcharge;
    return charge && isfinite(e->c->fault[fault].start);
}

static void set_machine(struct swh_engine *e, double t)
{
    struct swh_params p = e->c->params;
    swh_moving_params(e->c, t, &p);
    for (int i = 0; i < SWH_FAULT_COUNT; i++)
        if (!fault_is_leak(e, i))
            swh_fault_apply(&p, (enum swh_fault)i, swh_fault_severity(&e->c->fault[i], t));
    swh_machine_set(&e->machine, swh_case_refrigerant(e->c), &p, &e->c->choices);
}

/* A leak (or a filling) during the run: the fault's share of the nominal charge
 * over its ramp, at least 30 s. */
static double leak_time(const struct swh_fault_setting *f)
{
    return fmax(f->ramp, 30.0);
}

static double leak_rate(const struct swh_engine *e, double t)
{
    double rate = 0;
    for (int i = SWH_FAULT_undercharge; i <= SWH_FAULT_overcharge; i++) {
        const struct swh_fault_setting *f = &e->c->fault[i];
        if (!f->present || !fault_is_leak(e, i) || t < f->start || t >= f->start + leak_time(f))
            continue;
        const double part = f->severity * e->c->params.charge_nominal / leak_time(f);
        rate += i == SWH_FAULT_undercharge ? part : -part;
    }
    return rate;
}

static bool is_ramping(const struct swh_engine *e, double t)
{
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        const struct swh_fault_setting *f = &e->c->fault[i];
        if (f->present && f->ramp > 0 && !fault_is_leak(e, i) && t >= f->start && t < f->start + f->ramp)
            return true;
    }
    return swh_params_are_moving(e->c, t);
}

/* next instant after t at which a fault begins, ends or finishes its ramp */
static double next_fault_corner(const struct swh_engine *e, double t)
{
    double next = swh_moving_params_next(e->c, t);
    for (int i = 0; i < SWH_FAULT_COUNT; i++) {
        const struct swh_fault_setting *f = &e->c->fault[i];
        if (!f->present)
            continue;
        const double ramp = fault_is_leak(e, i) ? leak_time(f) : f->ramp;
        const double corner[3] = {f->start, f->start + ramp, f->end};
        for (int k = 0; k < 3; k++)
            if (corner[k] > t + 1e-9 && corner[k] < next)
                next = corner[k];
    }
    return next;
}

/* ---- the integrator's callbacks ---- */

/* Gas as hot as this cokes the oil and ruins reeds and seals, if that had not happened before; the property
 * tables end a degree or two above. Hoses burst at some 140 bar when new (four times what they are made for:
 * SAE J2064, from memory), condensers and old hoses well below; the tables end at 85 bar. Common practice, no
 * source. */
static const double GAS_BURNS = 523.15, BURSTS = 80e5; /* K, Pa */

/* whether the state just refused was too hot for the tables, before or behind the bores */
static bool refused_for_heat(const struct swh_engine *e)
{
    const struct swh_flows *f = &e->flows;
    return fmax(f->node[SWH_NODE_CHAMBER].T, f->node[SWH_NODE_PLENUM].T) > GAS_BURNS - 10;
}

static int rates(double t, const double *y, double *dy, void *user)
{
    struct swh_engine *e = user;
    struct swh_inputs in;
    e->inputs(t, &in, e->inputs_user);
    if (e->ramping)
        set_machine(e, t);
    const int refused = swh_machine_rates(&e->machine, &in, &e->modes, y, dy, &e->flows);
    if (refused)
        e->too_hot = refused_for_heat(e);
    return refused;
}

static int derivatives(double t, const double *y, double *values, void *user)
{
    struct swh_engine *e = user;
    (void)t; /* the rates were just asked for at this time: machine and modes are set */
    return swh_machine_jacobian(&e->machine, &e->modes, y, &e->flows, &e->entries, values);
}

static double switch_root(bool ok, double x, double open, double close, double scale)
{
    return (x - (ok ? open : close)) / scale;
}

static bool cycles_on(const struct swh_engine *e, int which)
{
    const int c = e->c->choices.controls_cycling;
    return c == SWH_CYCLING_BOTH || c == which;
}

/* switches and valves of a closed circuit; one that is not fitted never crosses */
static void switch_roots(const struct swh_engine *e, const double *s, double P_d, double *g)
{
    const struct swh_params *p = &e->machine.p;
    const struct swh_controls *k = &e->controls;
    if (cycles_on(e, SWH_CYCLING_LOW))
        g[ROOT_LOW] =
            switch_root(k->low_ok, s[SWH_S_sensor_low], p->controls_low_open, p->controls_low_close, 1e5);
    if (cycles_on(e, SWH_CYCLING_FROST))
        g[ROOT_FROST] = switch_root(k->frost_ok, s[SWH_S_sensor_frost], p->controls_frost_open,
                                    p->controls_frost_close, 1.0);
    if (e->c->choices.controls_high_pressure)
        g[ROOT_HIGH] = switch_root(k->high_ok, P_d, p->controls_high_open, p->controls_high_close, 1e6);
    if (p->controls_relief_area > 0)
        g[ROOT_RELIEF] =
            switch_root(!e->modes.relief_open, P_d, p->controls_relief_open, p->controls_relief_close, 1e6);
    if (p->controls_fan_on > 0)
        g[ROOT_FAN] = switch_root(e->modes.fan_on, P_d, p->controls_fan_off, p->controls_fan_on, 1e6);
}

static double bore_room(const struct swh_params *p, const struct swh_event_values *w)
{
    return (w->clearance - p->compressor_clearance_floor) / 10e-6;
}

static int roots(double t, const double *y, double *g, void *user)
{
    struct swh_engine *e = user;
    const struct swh_params *p = &e->machine.p;
    struct swh_inputs in;
    struct swh_event_values w;
    e->inputs(t, &in, e->inputs_user);
    swh_machine_event_values(&e->machine, &in, &e->modes, y, &w);
    for (int i = 0; i < SWH_ROOT_COUNT; i++)
        g[i] = 1;
    if (e->machine.l.closed)
        switch_roots(e, y + e->machine.l.scalar, w.P_d, g);
    g[ROOT_ICE] = w.coil_open - 0.5; /* falling only, as ROOT_FILM */
    if (e->controls.fuse_ok)
        g[ROOT_FUSE] = (p->clutch_fuse_temperature - w.T_clutch_face) / 100;
    g[ROOT_GAS] = (GAS_BURNS - w.T_discharge) / 100;
    g[ROOT_BURST] = (BURSTS - w.P_d) / 1e6;
    if (e->modes.seized)
        return 0;
    /* falling only; never moved by the event, so that no restart is needed */
    g[ROOT_FILM] = 0.5 - w.share;
    g[ROOT_CONTACT] = (p->friction_weld_temperature - w.T_contact) / 100;
    g[ROOT_PLATE] = (p->friction_soften_temperature - w.T_rotor) / 100;
    g[ROOT_SHOE] = w.scuffing[0] + w.scuffing[1] + w.scuffing[2] - 1;
    g[ROOT_BORE] = fmin(bore_room(p, &w), (p->compressor_piston_limit - w.T_piston) / 100);
    return 0;
}

/* ---- events ---- */

static enum swh_status report(struct swh_engine *e, enum swh_event event, double value, struct swh_error *err)
{
    struct swh_event_record r = {.time = swh_ode_time(e->ode), .event = event, .value = value};
    snprintf(r.text, sizeof r.text, "%s", swh_event_table[event].help);
    if (event == SWH_EV_shoe_seizure || event == SWH_EV_bore_seizure)
        snprintf(r.text, sizeof r.text, "%s: %s", swh_event_table[event].help,
                 swh_seizure_table[e->summary->cause].help);
    e->summary->event_count[event]++;
    if (!e->sinks || !e->sinks->event)
        return SWH_OK;
    return e->sinks->event(&r, e->sinks->user, err);
}

static bool forced_off(const struct swh_engine *e, double t)
{
    const double on = e->c->params.controls_forced_on, off = e->c->params.controls_forced_off;
    return on > 0 && fmod(t + 1e-9, on + off) >= on;
}

static double next_forced_edge(const struct swh_engine *e, double t)
{
    const double on = e->c->params.controls_forced_on, off = e->c->params.controls_forced_off;
    if (on <= 0)
        return INFINITY;
    const double start = floor((t + 1e-9) / (on + off)) * (on + off);
    return t + 1e-9 < start + on ? start + on : start + on + off;
}

static bool wants_clutch(const struct swh_engine *e, double t, const struct swh_inputs *in)
{
    const struct swh_controls *k = &e->controls;
    if (in->clutch < 0.5 || !k->fuse_ok)
        return false;
    if (e->clutch_from_inputs)
        return true;
    if (cycles_on(e, SWH_CYCLING_LOW) && !k->low_ok)
        return false;
    if (cycles_on(e, SWH_CYCLING_FROST) && !k->frost_ok)
        return false;
    if (e->c->choices.controls_high_pressure && !k->high_ok)
        return false;
    return !forced_off(e, t) && t >= k->off_until - 1e-9;
}

/* sets modes.engaged from request and switches; reports a change */
static enum swh_status decide_clutch(struct swh_engine *e, bool *changed, struct swh_error *err)
{
    const double t = swh_ode_time(e->ode);
    struct swh_inputs in;
    e->inputs(t + 1e-7, &in, e->inputs_user); /* just after an edge */
    const bool want = wants_clutch(e, t, &in);
    *changed = want != (e->modes.engaged != 0);
    if (!*changed)
        return SWH_OK;
    e->modes.engaged = want;
    if (!want && !e->clutch_from_inputs)
        e->controls.off_until = t + e->machine.p.controls_least_off;
    if (want)
        e->last_engaged_time = t;
    else
        e->on_time += t - e->last_engaged_time;
    return report(e, want ? SWH_EV_clutch_on : SWH_EV_clutch_off, want, err);
}

static enum swh_status toggle(struct swh_engine *e, bool *ok, enum swh_event opens, enum swh_event closes,
                              double value, struct swh_error *err)
{
    *ok = !*ok;
    return report(e, *ok ? closes : opens, value, err);
}

static enum swh_status toggle_mode(struct swh_engine *e, int *on, enum swh_event turns_on,
                                   enum swh_event turns_off, double value, struct swh_error *err)
{
    *on = !*on;
    return report(e, *on ? turns_on : turns_off, value, err);
}

static enum swh_status seize(struct swh_engine *e, int what, enum swh_seizure cause, double value,
                             struct swh_error *err)
{
    e->modes.seized = what;
    e->summary->outcome = what == 1 ? SWH_SHOE_SEIZED : SWH_BORE_SEIZED;
    e->summary->cause = cause;
    e->summary->time_to_seizure = swh_ode_time(e->ode) - e->t_first;
    return report(e, what == 1 ? SWH_EV_shoe_seizure : SWH_EV_bore_seizure, value, err);
}

/* which of the three ways brought the shoe farthest */
static enum swh_seizure shoe_cause(const struct swh_event_values *w)
{
    int most = 0;
    for (int k = 1; k < 3; k++)
        if (w->scuffing[k] > w->scuffing[most])
            most = k;
    return (enum swh_seizure)(SWH_BY_film_lost + most);
}

/* a warning that comes again within 20 s, or while the shaft is just starting, is not told again */
static enum swh_status warn(struct swh_engine *e, int which, double value, struct swh_error *err)
{
    const double t = swh_ode_time(e->ode);
    const bool again = t < e->told[which] + 20 || t < e->last_engaged_time + 2;
    e->told[which] = t;
    return again ? SWH_OK : report(e, (enum swh_event)(SWH_EV_film_lost + which), value, err);
}

static enum swh_status act_on_film(struct swh_engine *e, int root, const struct swh_event_values *w,
                                   struct swh_error *err)
{
    const double warned[SWH_WARNING_COUNT] = {w->share, w->T_contact, w->T_rotor};
    if (root <= ROOT_PLATE)
        return warn(e, root - ROOT_FILM, warned[root - ROOT_FILM], err);
    if (root == ROOT_BORE && bore_room(&e->machine.p, w) < 1e-3)
        return seize(e, 2, SWH_BY_clearance_closed, w->clearance, err);
    if (root == ROOT_BORE)
        return seize(e, 2, SWH_BY_piston_softened, w->T_piston, err);
    return seize(e, 1, shoe_cause(w), w->T_contact, err);
}

/* The machine is destroyed by something else than a seizure; the run ends here. A seized one stays that. */
static enum swh_status end_with(struct swh_engine *e, enum swh_outcome outcome, enum swh_event event,
                                double value, struct swh_error *err)
{
    e->destroyed = true;
    if (!swh_outcome_is_lost(e->summary->outcome))
        e->summary->outcome = outcome;
    return report(e, event, value, err);
}

/* Dry gas behind the evaporator: the low side is low for want of refrigerant, not for want of heat. */
static const double DRY = 15; /* K of superheat */

static bool runs_dry(struct swh_engine *e)
{
    double T_sat;
    const struct swh_cell_props *c = &e->flows.node[SWH_NODE_ACCUMULATOR];
    if (rates(swh_ode_time(e->ode), swh_ode_state(e->ode), e->dy, e) != 0)
        return false;
    swh_Tsat(e->machine.fluid, c->P, &T_sat);
    return c->T > T_sat + DRY;
}

static enum swh_status act(struct swh_engine *e, int root, struct swh_error *err)
{
    const double t = swh_ode_time(e->ode);
    const double *y = swh_ode_state(e->ode), *s = y + e->machine.l.scalar;
    struct swh_inputs in;
    struct swh_event_values w;
    e->inputs(t, &in, e->inputs_user);
    swh_machine_event_values(&e->machine, &in, &e->modes, y, &w);
    struct swh_controls *k = &e->controls;
    switch (root) {
    case ROOT_LOW:
        e->starved += k->low_ok && runs_dry(e);
        return toggle(e, &k->low_ok, SWH_EV_low_pressure_open, SWH_EV_low_pressure_close, s[SWH_S_sensor_low],
                      err);
    case ROOT_FROST:
        return toggle(e, &k->frost_ok, SWH_EV_frost_open, SWH_EV_frost_close, s[SWH_S_sensor_frost], err);
    case ROOT_HIGH:
        return toggle(e, &k->high_ok, SWH_EV_high_pressure_open, SWH_EV_high_pressure_close, w.P_d, err);
    case ROOT_RELIEF:
        return toggle_mode(e, &e->modes.relief_open, SWH_EV_relief_open, SWH_EV_relief_close, w.P_d, err);
    case ROOT_FAN:
        return toggle_mode(e, &e->modes.fan_on, SWH_EV_fan_on, SWH_EV_fan_off, w.P_d, err);
    case ROOT_ICE:
        return report(e, SWH_EV_coil_iced, w.coil_open, err);
    case ROOT_FUSE:
        k->fuse_ok = false;
        return report(e, SWH_EV_fuse_open, w.T_clutch_face, err);
    case ROOT_GAS:
        return end_with(e, SWH_OVERHEATED, SWH_EV_gas_overheated, w.T_discharge, err);
    case ROOT_BURST:
        return end_with(e, SWH_BURST, SWH_EV_burst, w.P_d, err);
    default:
        return act_on_film(e, root, &w, err);
    }
}

static enum swh_status act_on_roots(struct swh_engine *e, struct swh_error *err)
{
    int info[SWH_ROOT_COUNT];
    swh_ode_root_info(e->ode, info);
    for (int i = 0; i < SWH_ROOT_COUNT; i++) {
        if (info[i] == 0)
            continue;
        const enum swh_status status = act(e, i, err);
        if (status != SWH_OK)
            return status;
        if (e->modes.seized && i >= ROOT_SHOE)
            break;
    }
    return SWH_OK;
}

/* what was asked for by `shift` */
static void move_state(struct swh_engine *e)
{
    for (int i = 0; i < e->machine.l.n_scalars && e->shifted; i++)
        e->y[e->machine.l.scalar + i] += e->shift[i];
    e->shifted = false;
}

enum swh_status swh_engine_settle(struct swh_engine *e, bool jump, struct swh_error *err)
{
    const double t = swh_ode_time(e->ode);
    const bool was_ramping = e->ramping;
    const double leak_before = e->modes.leak;
    set_machine(e, t);
    e->ramping = is_ramping(e, t);
    e->modes.leak = e->machine.l.closed ? leak_rate(e, t) : 0;
    bool changed = false;
    const enum swh_status status = decide_clutch(e, &changed, err);
    if (status != SWH_OK)
        return status;
    if (!(jump || changed || was_ramping != e->ramping || leak_before != e->modes.leak))
        return SWH_OK;
    memcpy(e->y, swh_ode_state(e->ode), (size_t)e->machine.l.n * sizeof *e->y);
    move_state(e);
    return swh_ode_restart(e->ode, t, e->y, err);
}

/* ---- start ---- */

static void start_modes(struct swh_engine *e)
{
    const struct swh_params *p = &e->machine.p;
    e->modes = (struct swh_modes){.fan_on = p->controls_fan_on <= 0};
    e->controls = (struct swh_controls){true, true, true, true, -INFINITY};
    e->controls.fuse_ok = e->y[e->machine.l.scalar + SWH_S_clutch_face] < p->clutch_fuse_temperature;
    for (int k = 0; k < SWH_WARNING_COUNT; k++)
        e->told[k] = -INFINITY;
    if (!e->machine.l.closed)
        return;
    const double *s = e->y + e->machine.l.scalar;
    e->controls.low_ok = s[SWH_S_sensor_low] > p->controls_low_close;
    e->controls.frost_ok = s[SWH_S_sensor_frost] > p->controls_frost_open;
}

static enum swh_status start_ode(struct swh_engine *e, double t0, struct swh_error *err)
{
    const struct swh_layout *l = &e->machine.l;
    for (int i = 0; i < l->n; i++) {
        swh_state_name(l, i, e->state_names[i], sizeof e->state_names[i]);
        e->names[i] = e->state_names[i];
        swh_state_tolerance(l, i, &e->rtol[i], &e->atol[i]);
        e->rtol[i] *= e->c->params.run_tolerance;
        e->atol[i] *= e->c->params.run_tolerance;
    }
    if (swh_machine_sparsity(&e->machine, e->col_ptr, e->row_idx,
                             (int)(sizeof e->row_idx / sizeof e->row_idx[0])) < 0)
        return swh_error_set(err, SWH_ERR_SOLVER, "the sparsity pattern does not fit its storage");
    unsigned char slow[SWH_STATE_MAX], sloped[SWH_STATE_MAX];
    swh_machine_slow_states(&e->machine, slow);
    swh_machine_slope_columns(&e->machine, sloped);
    swh_entries_set(&e->entries, l->n, e->col_ptr, e->row_idx);
    static const int direction[SWH_ROOT_COUNT] = {
        [ROOT_ICE] = -1,     [ROOT_FUSE] = -1,  [ROOT_GAS] = -1, [ROOT_BURST] = -1, [ROOT_FILM] = -1,
        [ROOT_CONTACT] = -1, [ROOT_PLATE] = -1, [ROOT_SHOE] = 1, [ROOT_BORE] = -1};
    memcpy(e->root_direction, direction, sizeof direction);
    const struct swh_ode_problem problem = {.n = l->n,
                                            .names = e->names,
                                            .rhs = rates,
                                            .n_roots = SWH_ROOT_COUNT,
                                            .roots = roots,
                                            .root_direction = e->root_direction,
                                            .rtol = e->rtol,
                                            .atol = e->atol,
                                            .col_ptr = e->col_ptr,
                                            .row_idx = e->row_idx,
                                            .slow = slow,
                                            .slow_time = SWH_SLOW_TIME,
                                            .derivatives = l->closed ? derivatives : NULL,
                                            .sloped = sloped,
                                            .kinked = 1,
                                            .user = e};
    e->ode = swh_ode_create(&problem, t0, e->y, err);
    return e->ode ? SWH_OK : err && err->status ? err->status : SWH_ERR_SOLVER;
}

/* the charge at the start: faults of the charge that were there before the run act on it */
static double charge_at_start(const struct swh_engine *e)
{
    return e->machine.p.charge_nominal * e->machine.p.charge_fraction;
}

static void clear_summary(struct swh_summary *s)
{
    memset(s, 0, sizeof *s);
    s->time_to_seizure = NAN;
    s->cause = SWH_SEIZURE_COUNT;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        s->peak[i] = (struct swh_peak){-INFINITY, NAN};
        s->lowest[i] = (struct swh_peak){INFINITY, NAN};
        s->final[i] = s->mean[i] = s->gauge[i] = NAN;
    }
}

enum swh_status swh_engine_start(struct swh_engine *e, const struct swh_case *c, double t0,
                                 const struct swh_sinks *sinks, struct swh_summary *summary,
                                 struct swh_error *err)
{
    e->c = c;
    e->sinks = sinks;
    e->summary = summary;
    e->t_first = t0;
    clear_summary(summary);
    set_machine(e, t0);
    struct swh_inputs in;
    e->inputs(t0, &in, e->inputs_user);
    if (e->machine.l.closed && charge_at_start(e) <= 1e-3)
        return swh_error_set(err, SWH_ERR_INPUT, "no refrigerant is left (charge %.1f g)",
                             1e3 * charge_at_start(e));
    enum swh_status status = swh_machine_start(&e->machine, &in, charge_at_start(e), e->y, err);
    if (status != SWH_OK)
        return status;
    start_modes(e);
    e->mass_start = swh_machine_mass(&e->machine, e->y);
    e->energy_start = swh_machine_energy(&e->machine, e->y);
    e->body_start = swh_machine_body_energy(&e->machine, e->y);
    e->previous_time = NAN;
    if (rates(t0, e->y, e->dy, e))
        return swh_error_set(err, SWH_ERR_RANGE, "the start state is outside the refrigerant's tables");
    status = start_ode(e, t0, err);
    if (status == SWH_OK && !e->controls.fuse_ok) /* a coil that starts hotter than its fuse bears */
        status = report(e, SWH_EV_fuse_open, e->y[e->machine.l.scalar + SWH_S_clutch_face], err);
    return status == SWH_OK ? swh_engine_settle(e, false, err) : status;
}

/* ---- going on ---- */

static double next_stop(const struct swh_engine *e, double t, double t_stop)
{
    double next = fmin(t_stop, next_fault_corner(e, t));
    next = fmin(next, next_forced_edge(e, t));
    if (e->controls.off_until > t + 1e-9)
        next = fmin(next, e->controls.off_until);
    return next;
}

/* what the machine was doing, behind what went wrong */
static void describe_failure(struct swh_engine *e, struct swh_error *err)
{
    if (!err)
        return;
    const struct swh_flows *f = &e->flows;
    const double *y = swh_ode_state(e->ode);
    struct swh_inputs in;
    const double t = swh_ode_time(e->ode);
    e->inputs(t, &in, e->inputs_user);
    rates(t, y, e->dy, e);
    const size_t said = strlen(err->what);
    snprintf(err->what + said, sizeof err->what - said,
             "; the %s at %.0f rpm in air of %.0f degC, low side %.2f, high side %.2f bar abs, discharge gas "
             "%.0f degC, rotor %.0f degC",
             e->modes.seized    ? "shaft was locked, its pulley turning"
             : e->modes.engaged ? "compressor was running"
                                : "clutch was out, its pulley turning",
             60 * in.compressor_speed, in.ambient_temperature - 273.15, 1e-5 * f->P_low_port,
             1e-5 * (f->node[SWH_NODE_PLENUM].P + f->P_air), f->node[SWH_NODE_PLENUM].T - 273.15,
             y[e->machine.l.scalar + SWH_S_rotor] - 273.15);
}

static bool only_film(const struct swh_engine *e)
{
    int info[SWH_ROOT_COUNT];
    swh_ode_root_info(e->ode, info);
    for (int i = 0; i < SWH_ROOT_COUNT; i++)
        if (i != ROOT_FILM && i != ROOT_ICE && info[i] != 0)
            return false;
    return true;
}

static enum swh_status after_event(struct swh_engine *e, bool *ended, struct swh_error *err)
{
    const enum swh_status status = act_on_roots(e, err);
    if (status != SWH_OK || only_film(e))
        return status;
    *ended = e->destroyed ||
             (e->modes.seized && (e->c->choices.controls_after_seizure == 0 || !e->controls.fuse_ok));
    if (*ended)
        return SWH_OK;
    return swh_engine_settle(e, true, err);
}

/* the hottest refrigerant at the state that was reached [K]: a state that was tried and refused says nothing
 * of it */
static double discharge_gas(const struct swh_engine *e)
{
    struct swh_inputs in;
    struct swh_event_values w;
    e->inputs(swh_ode_time(e->ode), &in, e->inputs_user);
    swh_machine_event_values(&e->machine, &in, &e->modes, swh_ode_state(e->ode), &w);
    return w.T_discharge;
}

enum swh_status swh_engine_advance(struct swh_engine *e, double t_stop,
                                   enum swh_status (*emit)(struct swh_engine *e, double t, void *user,
                                                           struct swh_error *err),
                                   void *user, bool *ended, struct swh_error *err)
{
    *ended = false;
    while (!*ended && swh_ode_time(e->ode) < t_stop - 1e-9) {
        const double stop = next_stop(e, swh_ode_time(e->ode), t_stop);
        const enum swh_ode_result result = swh_ode_step(e->ode, stop, err);
        if (result == SWH_ODE_FAILED && err && err->status == SWH_ERR_RANGE && e->too_hot &&
            discharge_gas(e) > GAS_BURNS - 10) {
            *ended = true;
            swh_error_clear(err);
            return end_with(e, SWH_OVERHEATED, SWH_EV_gas_overheated, discharge_gas(e), err);
        }
        if (result == SWH_ODE_FAILED) {
            describe_failure(e, err);
            return err && err->status ? err->status : SWH_ERR_SOLVER;
        }
        enum swh_status status = emit(e, swh_ode_time(e->ode), user, err);
        if (status == SWH_OK && result == SWH_ODE_ROOT)
            status = after_event(e, ended, err);
        else if (status == SWH_OK && result == SWH_ODE_STOP && stop < t_stop)
            status = swh_engine_settle(e, false, err);
        if (status != SWH_OK)
            return status;
    }
    return SWH_OK;
}

/* ---- rows ---- */

/* a standing shaft rests on bare metal: its film says nothing about the drive */
static bool counts_now(int i, const double *ch)
{
    return (i != SWH_CH_film_ratio && i != SWH_CH_boundary_share) || ch[SWH_CH_clutch] >= 0.5;
}

/* Takes a value with the clutch engaged into its minute. A row counts for the time since the one before it:
 * an engagement may be shorter than two rows, and trapezoids would only see its beginning. */
static void count_engaged(struct swh_engine *e, int i, double t, double value, double dt)
{
    const long number = (long)((t - e->t_first) / 60);
    struct swh_minute *m = &e->minute[number % SWH_GAUGE_MINUTES];
    if (m->number != number) {
        memset(m, 0, sizeof *m);
        m->number = number;
    }
    m->sum[i] += dt * value;
    m->time[i] += dt;
}

/* mean of the last minutes with the clutch engaged */
static double gauge_of(const struct swh_engine *e, int i)
{
    const long last = (long)((e->previous_time - e->t_first) / 60);
    double sum = 0, time = 0;
    for (int k = 0; k < SWH_GAUGE_MINUTES; k++) {
        const struct swh_minute *m = &e->minute[k];
        const bool late = m->number > last - SWH_GAUGE_MINUTES;
        sum += late ? m->sum[i] : 0;
        time += late ? m->time[i] : 0;
    }
    return time > 0 ? sum / time : NAN;
}

static void count(struct swh_engine *e, double t, const double *ch)
{
    struct swh_summary *s = e->summary;
    const bool first = isnan(e->previous_time);
    const double dt = first ? 0 : t - e->previous_time;
    const bool engaged = ch[SWH_CH_clutch] >= 0.5;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        if (isnan(ch[i]))
            continue;
        if (ch[i] > s->peak[i].value)
            s->peak[i] = (struct swh_peak){ch[i], t};
        if (ch[i] < s->lowest[i].value)
            s->lowest[i] = (struct swh_peak){ch[i], t};
        s->final[i] = ch[i];
        const double part = counts_now(i, ch) ? dt : 0;
        const double before = first || isnan(e->channel_last[i]) ? ch[i] : e->channel_last[i];
        e->channel_sum[i] += 0.5 * part * (ch[i] + before);
        if (engaged)
            count_engaged(e, i, t, ch[i], dt);
        e->channel_time[i] += part;
        e->channel_last[i] =
            counts_now(i, ch) ? ch[i] : NAN; /* a pause's value takes no part in the next drive */
    }
    e->previous_time = t;
}

enum swh_status swh_engine_observe(struct swh_engine *e, double t, double *channel, struct swh_error *err)
{
    const double *y = e->y;
    if (t == swh_ode_time(e->ode))
        y = swh_ode_state(e->ode);
    else {
        const enum swh_status status = swh_ode_interpolate(e->ode, t, e->y, err);
        if (status != SWH_OK)
            return status;
    }
    struct swh_inputs in;
    e->inputs(t, &in, e->inputs_user);
    if (e->ramping)
        set_machine(e, t);
    swh_machine_rates(&e->machine, &in, &e->modes, y, e->dy, &e->flows);
    channel[SWH_CH_time] = t;
    swh_machine_observe(&e->machine, &in, &e->modes, y, &e->flows, channel);
    return SWH_OK;
}

/* After so long with the clutch engaged the gas in the lines is its own, not that of the pause [s]. */
static const double CYCLE_SETTLES = 5;

/* Finds the cycle of this moment, and keeps it for what is shown of it at the end; false if there is none. */
static bool keep_cycle(struct swh_engine *e, double t, double P_d)
{
    struct swh_cycle *kept = e->summary->cycle;
    if (!e->machine.l.closed || !e->modes.engaged || e->flows.comp.m < 1e-3)
        return false;
    struct swh_cycle *now = &e->cycle;
    now->time = t;
    now->n = swh_machine_cycle(&e->machine, &e->flows, now->P, now->h);
    if (t < e->last_engaged_time + CYCLE_SETTLES && kept[SWH_CYCLE_LAST].n > 0)
        return true;
    kept[SWH_CYCLE_LAST] = *now;
    if (kept[SWH_CYCLE_EARLY].n == 0 && t >= e->t_first + 120)
        kept[SWH_CYCLE_EARLY] = *now;
    if (P_d >= e->highest_head) {
        e->highest_head = P_d;
        kept[SWH_CYCLE_HIGHEST] = *now;
    }
    return true;
}

enum swh_status swh_engine_row(struct swh_engine *e, double t, const double *measured, struct swh_error *err)
{
    double channel[SWH_CHANNEL_COUNT];
    const enum swh_status status = swh_engine_observe(e, t, channel, err);
    if (status != SWH_OK)
        return status;
    count(e, t, channel);
    const bool runs = keep_cycle(e, t, channel[SWH_CH_discharge_pressure]);
    if (!e->sinks || !e->sinks->row)
        return SWH_OK;
    const struct swh_row row = {channel, measured, runs ? &e->cycle : NULL};
    return e->sinks->row(&row, e->sinks->user, err);
}

/* ---- end ---- */

static void finish_ledger(struct swh_engine *e, const double *y)
{
    struct swh_summary *s = e->summary;
    const double *sum = y + e->machine.l.sum;
    double removed = 0, by_suction = 0;
    s->heat_moved = 0;
    for (int i = 0; i < SWH_SUM_HEAT_COUNT; i++) {
        const int path = SWH_CH_heat_shoe_friction + i;
        s->ledger[path] = sum[i];
        s->heat_moved += fabs(sum[i]);
        if (path <= SWH_CH_heat_clutch && sum[i] < 0)
            removed -= sum[i];
        if (path >= SWH_CH_heat_suction_block && path <= SWH_CH_heat_suction_rotor && sum[i] < 0)
            by_suction -= sum[i];
    }
    double body_moved = 1e-9;
    for (int path = SWH_CH_heat_shoe_friction; path <= SWH_CH_heat_clutch; path++)
        body_moved += fabs(s->ledger[path]);
    s->suction_cooling_share = removed > 0 ? by_suction / removed : 0;
    const double mass = swh_machine_mass(&e->machine, y) + sum[SWH_SUM_MASS_OUT];
    s->charge_drift = (mass - e->mass_start) / e->mass_start;
    s->energy_residual =
        (swh_machine_energy(&e->machine, y) - e->energy_start - swh_machine_energy_added(&e->machine, y)) /
        (s->heat_moved + 1e-9);
    s->body_residual =
        (swh_machine_body_energy(&e->machine, y) - e->body_start - swh_machine_body_added(&e->machine, y)) /
        body_moved;
}

/* A switch kept it alive: the high-pressure cut-out opened, or the low-pressure switch kept the clutch out
 * for more than half of the time and opened onto dry gas. Ordinary cycling of an accumulator system, onto a
 * cold wet evaporator, does neither. */
static void finish_verdict(struct swh_engine *e)
{
    struct swh_summary *s = e->summary;
    if (s->outcome != SWH_SURVIVES)
        return;
    if (!s->complete && !e->by_caller) {
        s->outcome = SWH_INCOMPLETE;
        return;
    }
    if (s->event_count[SWH_EV_fuse_open] > 0) {
        s->outcome = SWH_PROTECTED;
        s->protected_by = SWH_EV_fuse_open;
    } else if (s->event_count[SWH_EV_high_pressure_open] > 0) {
        s->outcome = SWH_PROTECTED;
        s->protected_by = SWH_EV_high_pressure_open;
    } else if (2 * e->starved > s->event_count[SWH_EV_low_pressure_open] && s->duty < 0.5 &&
               s->event_count[SWH_EV_low_pressure_open] > s->event_count[SWH_EV_frost_open]) {
        s->outcome = SWH_PROTECTED;
        s->protected_by = SWH_EV_low_pressure_open;
    }
}

void swh_engine_finish(struct swh_engine *e)
{
    struct swh_summary *s = e->summary;
    if (!e->ode)
        return;
    const double t = swh_ode_time(e->ode);
    if (e->modes.engaged)
        e->on_time += t - e->last_engaged_time;
    s->end_time = t;
    s->duty = t > e->t_first ? e->on_time / (t - e->t_first) : 0;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        s->gauge[i] = gauge_of(e, i);
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        if (!isnan(s->final[i]))
            s->mean[i] = e->channel_time[i] > 0 ? e->channel_sum[i] / e->channel_time[i] : s->final[i];
    finish_ledger(e, swh_ode_state(e->ode));
    finish_verdict(e);
    struct swh_ode_stats o;
    swh_ode_get_stats(e->ode, &o);
    s->stats = (struct swh_integrator_stats){.steps = o.steps,
                                             .rhs_evals = o.rhs_evals,
                                             .jac_evals = o.jac_evals,
                                             .jac_rhs_evals = o.jac_rhs_evals,
                                             .lin_setups = o.lin_setups,
                                             .newton_iters = o.newton_iters,
                                             .restarts = o.restarts};
    for (int i = 0; i < SWH_EVENT_COUNT; i++)
        s->stats.events += s->event_count[i];
}

void swh_engine_free(struct swh_engine *e)
{
    swh_ode_free(e->ode);
    e->ode = NULL;
}
