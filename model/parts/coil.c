#include "model/parts/coil.h"

#include "model/base/smooth.h"

static const double T_FREEZES = 273.15, FREEZES_OVER = 1.0; /* K */
/* s; kg; s: common practice, no source */
static const double RUNS_OFF = 20, FILM = 0.005, FREEZES = 20;

double swh_ice_share(double T)
{
    return swh_smooth_step((T_FREEZES - T) * (1 / FREEZES_OVER));
}

/* share of the fins that is frozen, the shares of each in out->heat for the time being */
static double frozen_share(int n, const double *T, struct swh_coil_state *out)
{
    double sum = 0;
    for (int i = 0; i < n; i++)
        sum += out->heat[i] = swh_ice_share(T[i]);
    return sum / n;
}

static void give_heat(int n, double share, struct swh_coil_state *out)
{
    const double all = SWH_H_SF_WATER * out->freezes / n;
    for (int i = 0; i < n; i++) {
        const double frozen = out->heat[i];
        out->heat[i] = all > 0 ? all * frozen / share : all == 0 ? 0 : all * (1 - frozen) / (1 - share);
    }
}

void swh_coil_state(const struct swh_params *p, double size, double water, double ice, int n, const double *T,
                    struct swh_coil_state *out)
{
    const double M = swh_max(water, 0), I = swh_max(ice, 0);
    const double share = frozen_share(n, T, out);
    out->ice = I;
    out->freezes = (share * M - I) / FREEZES;
    give_heat(n, share, out);
    const double part = I / (p->evaporator_ice_block * size), part2 = part * part;
    out->open = 1 / (1 + part2 * part2);
    const double over = swh_max(M - p->evaporator_water * size, 0), thawed = swh_power(1 - share, 8);
    out->runs_off = over / (over + FILM);
    out->thaws = thawed * over * out->runs_off / RUNS_OFF;
}
