/* Non-condensable gas. */
#include "model/parts/volume.h"

/* Foreign gas does not condense: while the compressor runs it gathers in the high side, where its pressure
 * goes with the gas space that liquid leaves and with temperature (ideal gas); at rest it spreads back over
 * both sides within minutes. The state is its partial pressure on the high side; what is not there is on the
 * low side, where it has `ratio` times the room. Amount: condenser.air_pressure in the usual gas space at 50
 * degC. */
static const double GATHERS = 1 / 15.0, SPREADS = 1 / 200.0; /* 1/s; common practice, no source */

/* all of it in the usual gas space of the high side, as cold as the outside air */
static double ncg_cold(const struct swh_machine *m, double T_ambient)
{
    return m->p.condenser_air_pressure * T_ambient * (1 / 323.15);
}

double swh_ncg_low(const struct swh_machine *m, double P_high, double T_ambient)
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

double swh_ncg_rate(const struct swh_machine *m, const struct swh_flows *f, double P_high, double T_ambient)
{
    if (m->p.condenser_air_pressure <= 0)
        return -P_high * GATHERS;
    const double r = m->ncg_ratio, turning = f->N / (f->N + 3.0);
    return turning * (ncg_gathered(m, f) - P_high) * GATHERS +
           (1 - turning) * (ncg_cold(m, T_ambient) * r / (1 + r) - P_high) * SPREADS;
}

/* ---- what it depends on ---- */
