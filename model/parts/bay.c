/* Air under the bonnet: fed by what leaves condenser and radiator, thinned by what gets in past them. */
#include "model/parts/air.h"

#include "model/parts/parts.h"

/* Common practice, no source: of the bay's rise over ambient at standstill, the fan and the air conditioning
 * at work, 0.6 is the condenser's, whose air is then about 16 K over ambient; radiator and engine, the rest,
 * take the air through them four tenths of the way to their own temperature (NTU 0.5). What is hottest in the
 * bay is about 30 K over the engine. Air and what it washes follow within a minute. */
static const double CONDENSER_SHARE = 0.6, CONDENSER_RISE = 16, RADIATOR_NTU = 0.5, OVER_ENGINE = 30,
                    BAY_TIME = 60;

void swh_bay_set(const struct swh_params *p, const struct swh_inputs *in, struct swh_ambient *o)
{
    const double usual = p->condenser_fan_air + p->condenser_natural_air;
    /* at standstill nothing gets past the condenser; at the cooling speed as much as the fan sends through */
    const double past = usual * in->vehicle_speed / p->bay_cooling_speed;
    const double through = o->air_cond / (o->air_cond + past);
    const double slower = (1 - exp(-RADIATOR_NTU * usual / o->air_cond)) / (1 - exp(-RADIATOR_NTU));
    o->bay_feed = through * p->bay_rise_at_rest * (CONDENSER_SHARE / CONDENSER_RISE);
    o->bay_engine = through * p->bay_rise_at_rest * (1 - CONDENSER_SHARE) * slower;
}

double swh_bay_rate(const struct swh_machine *m, const struct swh_inputs *in, const struct swh_flows *f,
                    double T)
{
    const struct swh_ambient *o = &f->memo.ambient;
    const double T_air = in->ambient_temperature;
    const double rise = o->bay_engine + o->bay_feed * (f->T_cond_out - T_air);
    const double most = swh_max(m->p.body_engine_temperature + OVER_ENGINE - T_air, 1.0);
    return (T_air + swh_smooth_min(rise, most, 5.0) - T) * (1 / BAY_TIME);
}

/* ---- what it depends on ---- */
