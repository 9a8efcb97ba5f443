/* Clutch and shaft. */
#include "model/parts/parts.h"

#include "model/parts/pattern.h"

/* A shaft that has come down to this part of the pulley's speed stands, or it would never: its speed falls
 * exponentially. So small that no channel shows it, not even the blow-by's share of next to no flow. */
static const double STANDS = 1e-15;

double swh_shaft_speed(const struct swh_machine *m, const struct swh_inputs *in,
                       const struct swh_modes *modes, const double *y)
{
    const double speed_ratio = scalar(m, y, SWH_S_speed_ratio);
    if (modes->seized || speed_ratio < STANDS)
        return 0;
    return in->compressor_speed * m->p.controls_overspeed * (1 - m->p.clutch_slip) * speed_ratio;
}

void swh_clutch_states(const struct swh_machine *m, const struct swh_modes *modes, const double *y,
                       double *dy)
{
    const double target = modes->engaged && !modes->seized ? 1.0 : 0.0;
    dy[m->l.scalar + SWH_S_speed_ratio] =
        (target - scalar(m, y, SWH_S_speed_ratio)) * m->inv[SWH_S_speed_ratio];
}

/* Clutch: coil heat goes to the shell; slip heats the faces: by the fault while it runs, by the locked shaft
 * after seizure. The faces give their heat to shell and bay air; what reaches the shell is booked. */
double swh_clutch_part(const struct swh_machine *m, const struct swh_inputs *in,
                       const struct swh_modes *modes, const double *y, struct swh_flows *f, double *to_body)
{
    const struct swh_params *p = &m->p;
    const double face = scalar(m, y, SWH_S_clutch_face), shell = scalar(m, y, SWH_S_shell);
    const double pulley = in->compressor_speed * p->controls_overspeed;
    const double power = f->comp.work + f->film.shoe + f->film.piston + f->film.bearing;
    double slip = power / (f->N + 0.5) * swh_max(pulley * scalar(m, y, SWH_S_speed_ratio) - f->N, 0) *
                  (modes->seized == 0);
    if (modes->seized && modes->engaged)
        slip = p->clutch_slip_torque * 2 * SWH_PI * pulley;
    const double to_shell = p->clutch_face_shell * (face - shell);
    const double coil = modes->engaged ? p->clutch_coil_power : 0;
    *to_body += to_shell + coil;
    *heat_of(f, SWH_CH_heat_clutch) = to_shell + coil;
    return slip - to_shell - p->clutch_face_air * (0.3 + pulley / (pulley + 10)) * (face - f->T_bay);
}

/* ---- what it depends on ---- */

void swh_pattern_clutch(const struct swh_machine *m, struct pattern *p)
{
    static const struct depends_on face = {GAS, BLOWBY | BIT(shell) | BIT(clutch_face)},
                                   drive = {0, BIT(speed_ratio)}, heat = {0, BIT(clutch_face) | BIT(shell)};
    swh_couple_dependencies(m, p, m->l.scalar + SWH_S_clutch_face, face);
    swh_couple_dependencies(m, p, m->l.scalar + SWH_S_speed_ratio, drive);
    swh_couple_dependencies(m, p, heat_row(m, SWH_CH_heat_clutch), heat);
}

/* ---- channels ---- */

void swh_clutch_channels(const struct swh_view *v, double *ch)
{
    ch[SWH_CH_clutch] = v->modes->engaged;
    ch[SWH_CH_clutch_face_temperature] = scalar(v->m, v->y, SWH_S_clutch_face);
}
