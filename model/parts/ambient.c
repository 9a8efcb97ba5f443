/* What surrounds the machine: what follows from inputs and the fan's switch alone. */
#include "model/parts/air.h"

#include "model/parts/parts.h"

double swh_bay_temperature(const struct swh_params *p, const struct swh_inputs *in)
{
    if (!isnan(in->underhood_temperature))
        return in->underhood_temperature;
    return in->ambient_temperature + p->bay_rise_at_rest / (1 + in->vehicle_speed / p->bay_cooling_speed);
}

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

void swh_ambient_set(const struct swh_machine *m, const struct swh_inputs *in, int fan_on,
                     struct swh_ambient *o)
{
    const struct swh_params *p = &m->p;
    const double rear = p->rear_evaporator_size, v = in->vehicle_speed;
    o->W = swh_humidity(in->ambient_temperature, in->ambient_humidity, in->ambient_pressure);
    o->T_bay = swh_bay_temperature(p, in);
    o->shell_film = p->body_shell_film * (1 + p->body_shell_film_wind * sqrt(0.3 * v / 5.0));
    if (!m->l.closed)
        return;
    o->air_cond = condenser_flow(p, in, fan_on);
    /* louvred fins: h ~ V^0.5 (Chang and Wang 1997: j ~ Re^-0.49) */
    const double UA_air = p->condenser_ua_air * sqrt(o->air_cond / 0.52);
    o->cond_effectiveness = swh_wall_effectiveness(o->air_cond, UA_air);
    const double again = p->condenser_recirculation * exp(-v / 5.0); /* share of the air that comes round */
    o->back_flow = again / (1 - again) * o->cond_effectiveness;
    swh_bay_set(p, in, o);
    o->air_evap = p->evaporator_air * p->evaporator_air_share * (0.03 + 0.97 * in->blower) + 0.002;
    o->evap_effectiveness = coil_effectiveness(p, o->air_evap * (1 - p->evaporator_bypass), 1.0);
    o->blower_rise = p->evaporator_blower_power * in->blower / (o->air_evap * SWH_CP_AIR);
    if (!m->l.rear)
        return;
    o->air_rear = p->evaporator_air * rear * (0.03 + 0.97 * p->rear_evaporator_blower) + 0.002;
    o->rear_effectiveness = coil_effectiveness(p, o->air_rear * (1 - p->evaporator_bypass), rear);
}

/* ---- channels ---- */

void swh_ambient_channels(const struct swh_view *v, double *ch)
{
    const struct swh_inputs *in = v->in;
    ch[SWH_CH_ambient_temperature] = in->ambient_temperature;
    ch[SWH_CH_ambient_humidity] = in->ambient_humidity;
    ch[SWH_CH_underhood_temperature] = v->f->T_bay;
    ch[SWH_CH_vehicle_speed] = in->vehicle_speed;
}
