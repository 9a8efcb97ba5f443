/* The pictures of one run, by name. */
#include "plots/pictures/series.h"

const struct swh_plot_picture swh_plot_pictures[] = {
    {"predicted_measured", "predicted against measured readings, with the differences",
     swh_plot_predicted_measured, swh_compare_possible},
    {"body_temperatures", "temperatures of the compressor's parts with limits and events",
     swh_plot_body_temperatures, swh_body_possible},
    {"heat_ledger", "what heats the metal, what cools it, and the balance of the run", swh_plot_heat_ledger,
     swh_ledger_possible},
    {"pressures", "pressures, saturation temperatures, superheat, subcooling", swh_plot_pressures,
     swh_pressures_possible},
    {"film_oil", "film ratio, oil, viscosity, running clearance", swh_plot_film_oil, swh_film_possible},
    {"fitted", "readings beside the model before and after a fit, with the part it did not see",
     swh_plot_fitted, swh_fitted_possible},
    {"charge", "where the refrigerant sits", swh_plot_charge, swh_charge_possible},
};
const int swh_plot_picture_count = (int)(sizeof swh_plot_pictures / sizeof swh_plot_pictures[0]);

enum swh_status swh_plot_run(const struct swh_plot_series *s, const struct swh_plot_options *o,
                             struct swh_error *err)
{
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (o->slide)
        return swh_plot_slide(s, o, err);
    for (int i = 0; i < swh_plot_picture_count; i++) {
        if (!swh_plot_pictures[i].possible(s))
            continue;
        const enum swh_status status = swh_plot_pictures[i].draw(s, o, err);
        if (status != SWH_OK)
            return status;
    }
    return SWH_OK;
}
