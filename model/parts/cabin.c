/* Cabin: air, its water, interior. */
#include "model/parts/air.h"

#include "model/parts/parts.h"

/* cabin: air node, water, interior mass; T_supply and water removal of all coils */
void swh_cabin_part(const struct swh_machine *m, const struct swh_inputs *in, const double *y, double *dy,
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

/* ---- what it depends on ---- */

/* ---- channels ---- */

void swh_cabin_channels(const struct swh_view *v, double *ch)
{
    ch[SWH_CH_cabin_temperature] = scalar(v->m, v->y, SWH_S_cabin);
}
