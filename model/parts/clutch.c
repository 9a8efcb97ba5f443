/* Clutch and shaft. */
#include "model/parts/parts.h"

/* A shaft that has come down to this part of the pulley's speed stands, or it would never: its speed falls
 * exponentially. So small that no channel shows it, not even the blow-by's share of next to no flow. */
static const double STANDS = 1e-15;

double swh_shaft_speed(const struct swh_machine *m, const struct swh_inputs *in,
                       const struct swh_modes *modes, const double *y)
{
    const double speed_ratio = scalar(m, y, SWH_S_speed_ratio);
    if (modes->seized || speed_ratio < STANDS)
        return 0;
    return in->compressor_speed * m->p.controls_overspeed * speed_ratio;
}

static double pulley_speed(const struct swh_machine *m, const struct swh_inputs *in)
{
    return in->compressor_speed * m->p.controls_overspeed;
}

/* Torque [N m] that the compressor asks of its shaft. At a creep it falls to nothing: gas leaks back as fast
 * as it is compressed (half a turn a second; common practice, no source). */
static double load_torque(const struct swh_flows *f)
{
    const double power = f->comp.work + f->film.shoe + f->film.piston + f->film.bearing;
    return power / (2 * SWH_PI * (f->N + 0.5));
}

double swh_clutch_torque(const struct swh_params *p, double slip)
{
    return p->clutch_torque * (1 + SWH_SLIP_GRIP * slip);
}

/* A sound clutch brings the shaft to speed in its engage_time. One whose torque the compressor's load exceeds
 * slips: d(omega)/dt = (M_clutch - M_load) / J. */
double swh_clutch_rate(const struct swh_params *p, double ratio, double pulley, double load)
{
    const double free = (1 - ratio) / p->clutch_engage_time;
    const double left = swh_clutch_torque(p, swh_max(1 - ratio, 0)) - load;
    return swh_smooth_min(free, left / (p->clutch_inertia * 2 * SWH_PI * (pulley + 1)), 0.2);
}

void swh_clutch_states(const struct swh_machine *m, const struct swh_inputs *in,
                       const struct swh_modes *modes, const double *y, const struct swh_flows *f, double *dy)
{
    const double ratio = scalar(m, y, SWH_S_speed_ratio);
    dy[m->l.scalar + SWH_S_speed_ratio] =
        modes->engaged && !modes->seized ? swh_clutch_rate(&m->p, ratio, pulley_speed(m, in), load_torque(f))
                                         : -ratio * m->inv[SWH_S_speed_ratio];
}

/* Friction heat [W] of the faces: torque times the difference of the speeds, with what speeds the shaft up;
 * on a locked shaft its sliding torque. */
static double slip_heat(const struct swh_machine *m, const struct swh_modes *modes, const double *y,
                        const struct swh_flows *f, double pulley)
{
    const struct swh_params *p = &m->p;
    if (!modes->engaged)
        return 0;
    if (modes->seized)
        return swh_min(p->clutch_slip_torque, swh_clutch_torque(p, 1)) * 2 * SWH_PI * pulley;
    const double load = load_torque(f), ratio = scalar(m, y, SWH_S_speed_ratio);
    const double speeds_up =
        p->clutch_inertia * 2 * SWH_PI * pulley * swh_clutch_rate(p, ratio, pulley, load);
    return swh_max(load + speeds_up, 0) * 2 * SWH_PI * swh_max(pulley - f->N, 0);
}

/* Clutch: coil heat goes to the shell; slip heats the faces. The faces give their heat to shell and bay air;
 * what reaches the shell is booked. */
double swh_clutch_part(const struct swh_machine *m, const struct swh_inputs *in,
                       const struct swh_modes *modes, const double *y, struct swh_flows *f, double *to_body)
{
    const struct swh_params *p = &m->p;
    const double face = scalar(m, y, SWH_S_clutch_face), shell = scalar(m, y, SWH_S_shell);
    const double pulley = pulley_speed(m, in);
    const double to_shell = p->clutch_face_shell * (face - shell);
    const double coil = modes->engaged ? p->clutch_coil_power : 0;
    *to_body += to_shell + coil;
    *heat_of(f, SWH_CH_heat_clutch) = to_shell + coil;
    return slip_heat(m, modes, y, f, pulley) - to_shell -
           p->clutch_face_air * (0.3 + pulley / (pulley + 10)) * (face - f->T_bay);
}

/* ---- what it depends on ---- */

/* ---- channels ---- */

void swh_clutch_channels(const struct swh_view *v, double *ch)
{
    ch[SWH_CH_clutch] = v->modes->engaged;
    ch[SWH_CH_clutch_face_temperature] = scalar(v->m, v->y, SWH_S_clutch_face);
}
