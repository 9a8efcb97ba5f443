#include "cli/base/result.h"

#include "model/base/utf8.h"

#include <math.h>
#include <string.h>

struct teller {
    const struct swh_result *r;
    const struct swh_units *units;
    enum swh_show show;
    FILE *f;
};

static const char *text(const struct teller *t, enum swh_quantity q, double si, char out[64])
{
    return swh_units_text(t->units, t->show, q, si, out, 64);
}

static const char *minutes(double s, char out[32])
{
    if (s < 120)
        snprintf(out, 32, "%.0f s", s);
    else
        snprintf(out, 32, "%.0f s (%.1f min)", s, s / 60);
    return out;
}

static const char *times(long n, char out[32])
{
    if (n == 1)
        snprintf(out, 32, "once");
    else
        snprintf(out, 32, "%ld times", n);
    return out;
}

bool swh_ledger_of_body(int channel)
{
    return swh_channel_table[channel].group == SWH_GROUP_LEDGER &&
           !strstr(swh_channel_table[channel].help, "outside the metal");
}

/* ---- the answer ---- */

/* "these 30 min", "this hour": how long a run looked */
static const char *looked_at(double s, char out[32])
{
    if (fabs(s - 3600) < 1)
        snprintf(out, 32, "this hour");
    else if (s > 5400)
        snprintf(out, 32, "these %.3g h", s / 3600);
    else if (s < 120)
        snprintf(out, 32, "these %.0f s", s);
    else
        snprintf(out, 32, "these %.3g min", s / 60);
    return out;
}

const char *swh_result_answer(const struct swh_result *r, const struct swh_units *units, enum swh_show show,
                              char *out, size_t size)
{
    const struct swh_summary *s = r->summary;
    char when[32], hot[64];
    swh_units_text(units, show, SWH_Q_TEMPERATURE, s->peak[SWH_CH_rotor_temperature].value, hot, sizeof hot);
    if (!s->complete && !swh_outcome_is_lost(s->outcome))
        snprintf(out, size, "No answer, the run stopped after %s", minutes(s->end_time, when));
    else if (s->outcome == SWH_SHOE_SEIZED)
        snprintf(out, size, "A shoe welds to the swash plate after %s: %s", minutes(s->time_to_seizure, when),
                 swh_seizure_table[s->cause].help);
    else if (s->outcome == SWH_BORE_SEIZED)
        snprintf(out, size, "A piston seizes in its bore after %s: %s", minutes(s->time_to_seizure, when),
                 swh_seizure_table[s->cause].help);
    else if (s->outcome == SWH_OVERHEATED)
        snprintf(
            out, size,
            "The compressor overheats after %s: its gas passes 250 degC, oil burns, reeds and seals fail",
            minutes(s->end_time, when));
    else if (s->outcome == SWH_BURST)
        snprintf(out, size, "The head passes 80 bar after %s: hoses and condenser burst",
                 minutes(s->end_time, when));
    else if (s->outcome == SWH_PROTECTED && s->protected_by == SWH_EV_fuse_open)
        snprintf(out, size, "The clutch burns until the fuse in its coil opens; the compressor survives");
    else if (s->outcome == SWH_PROTECTED)
        snprintf(out, size, "The compressor is kept alive by a switch: %s %s",
                 swh_event_table[s->protected_by].help, times(s->event_count[s->protected_by], hot));
    else
        snprintf(out, size, "The compressor survives %s; its rotor reaches %s%s",
                 looked_at(s->end_time, when), hot, r->warming > SWH_STILL_WARMS ? " and still warms" : "");
    return out;
}

static void tell_answer(const struct teller *t)
{
    const struct swh_result *r = t->r;
    char answer[256];
    fprintf(t->f, "%s: %s.\n", r->scenario->c.name,
            swh_result_answer(r, t->units, t->show, answer, sizeof answer));
    if (r->warming > SWH_STILL_WARMS && !swh_outcome_is_lost(r->summary->outcome))
        fprintf(t->f,
                "  Not at rest: the rotor still warms by %.2g K a minute; `margin`, or --set "
                "run.duration=3h, tells how "
                "it goes on.\n",
                r->warming);
    if (!r->summary->complete)
        fprintf(t->f, "  INCOMPLETE: the run stopped at %.6g s: %s.\n", r->summary->end_time,
                r->stopped->what);
}

/* ---- what decided ---- */

static void tell_film(const struct teller *t)
{
    const struct swh_summary *s = t->r->summary;
    const struct swh_params *p = &t->r->scenario->c.params;
    char often[32], contact[64], weld[64], clearance[64], floor_text[64];
    if (isfinite(s->mean[SWH_CH_film_ratio]))
        fprintf(t->f,
                "  Oil film: %.2g of the roughness on average; metal carried %.1f %% of the shoe load.\n",
                s->mean[SWH_CH_film_ratio], 100 * s->mean[SWH_CH_boundary_share]);
    for (int k = SWH_EV_film_lost; k <= SWH_EV_plate_softened; k++)
        if (s->event_count[k] > 0)
            fprintf(t->f, "  %s %s.\n", swh_event_table[k].help, times(s->event_count[k], often));
    if (isfinite(s->peak[SWH_CH_contact_temperature].value))
        fprintf(t->f, "  Shoe contact: up to %s; bare metal welds at %s.\n",
                text(t, SWH_Q_TEMPERATURE, s->peak[SWH_CH_contact_temperature].value, contact),
                text(t, SWH_Q_TEMPERATURE, p->friction_weld_temperature, weld));
    if (isfinite(s->lowest[SWH_CH_running_clearance].value))
        fprintf(t->f, "  Piston clearance: down to %s; a bore seizes at %s.\n",
                text(t, SWH_Q_LENGTH, s->lowest[SWH_CH_running_clearance].value, clearance),
                text(t, SWH_Q_LENGTH, p->compressor_clearance_floor, floor_text));
}

static void tell_switches(const struct teller *t)
{
    static const enum swh_event switches[] = {SWH_EV_low_pressure_open, SWH_EV_frost_open,
                                              SWH_EV_high_pressure_open, SWH_EV_relief_open,
                                              SWH_EV_fuse_open};
    const struct swh_summary *s = t->r->summary;
    char often[32];
    fprintf(t->f, "  Clutch engaged %.0f %% of the time", 100 * s->duty);
    for (size_t i = 0; i < sizeof switches / sizeof switches[0]; i++)
        if (s->event_count[switches[i]] > 0)
            fprintf(t->f, "; %s %s", swh_event_table[switches[i]].help,
                    times(s->event_count[switches[i]], often));
    fprintf(t->f, ".\n");
}

/* what gauges, clamps and the vent show */
static const enum swh_channel readings[] = {SWH_CH_suction_pressure,
                                            SWH_CH_discharge_pressure,
                                            SWH_CH_superheat,
                                            SWH_CH_subcooling,
                                            SWH_CH_suction_temperature,
                                            SWH_CH_discharge_temperature,
                                            SWH_CH_liquid_line_temperature,
                                            SWH_CH_vent_temperature};

/* The clutch goes on and off so often that one value says nothing: what is said of the end is what gauges
 * show with the clutch engaged. The pictures draw the same number (plots/pictures/cycles.c has the same
 * limit). */
static bool many_cycles(const struct swh_summary *s)
{
    return s->event_count[SWH_EV_clutch_on] >= 12;
}

static void tell_readings(const struct teller *t)
{
    const struct swh_summary *s = t->r->summary;
    const bool cycles = many_cycles(s);
    char lowest[64], highest[64], mean[64], last[64];
    fprintf(t->f, "\n  %-28s %12s %12s %12s %12s\n", "what gauges and clamps read", "lowest", "highest",
            "mean", cycles ? "end, engaged" : "last");
    for (size_t i = 0; i < sizeof readings / sizeof readings[0]; i++) {
        const enum swh_channel ch = readings[i];
        const enum swh_quantity q = swh_channel_table[ch].quantity;
        if (isfinite(s->peak[ch].value))
            fprintf(t->f, "  %-28s %12s %12s %12s %12s\n", swh_channel_table[ch].id,
                    text(t, q, s->lowest[ch].value, lowest), text(t, q, s->peak[ch].value, highest),
                    text(t, q, s->mean[ch], mean),
                    text(t, q, cycles && isfinite(s->gauge[ch]) ? s->gauge[ch] : s->final[ch], last));
    }
    if (cycles)
        fprintf(t->f,
                "  end, engaged: mean of the last minutes with the clutch engaged, as gauges show it.\n");
}

static void tell_peaks(const struct teller *t)
{
    static const enum swh_channel hot[] = {SWH_CH_discharge_gas_temperature, SWH_CH_rotor_temperature,
                                           SWH_CH_piston_temperature,        SWH_CH_block_temperature,
                                           SWH_CH_head_temperature,          SWH_CH_shell_temperature,
                                           SWH_CH_oil_temperature,           SWH_CH_contact_temperature};
    const struct swh_summary *s = t->r->summary;
    char peak[64], mean[64], when[32];
    fprintf(t->f, "\n  %-28s %12s %18s %12s\n", "how hot it gets", "highest", "at", "mean");
    for (size_t i = 0; i < sizeof hot / sizeof hot[0]; i++) {
        const enum swh_quantity q = swh_channel_table[hot[i]].quantity;
        if (isfinite(s->peak[hot[i]].value))
            fprintf(t->f, "  %-28s %12s %18s %12s\n", swh_channel_table[hot[i]].id,
                    text(t, q, s->peak[hot[i]].value, peak), minutes(s->peak[hot[i]].time, when),
                    text(t, q, s->mean[hot[i]], mean));
    }
}

/* ---- the ledger ---- */

static void tell_path(const struct teller *t, int channel, double whole)
{
    const struct swh_summary *s = t->r->summary;
    const double joules = fabs(s->ledger[channel]);
    fprintf(t->f, "    %-24s %9.1f kJ %8.0f W %5.0f %%\n", swh_channel_table[channel].id, joules / 1e3,
            fabs(s->mean[channel]), whole > 0 ? 100 * joules / whole : 0);
}

static void tell_side(const struct teller *t, double sign, const char *title)
{
    const double *ledger = t->r->summary->ledger;
    bool told[SWH_CHANNEL_COUNT] = {false};
    double whole = 0;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
        if (swh_ledger_of_body(i) && sign * ledger[i] > 0)
            whole += sign * ledger[i];
    fprintf(t->f, "  %s: %.1f kJ\n", title, whole / 1e3);
    for (;;) {
        int largest = -1;
        for (int i = 0; i < SWH_CHANNEL_COUNT; i++)
            if (swh_ledger_of_body(i) && !told[i] && sign * ledger[i] > 0.0005 * whole &&
                (largest < 0 || sign * ledger[i] > sign * ledger[largest]))
                largest = i;
        if (largest < 0)
            return;
        told[largest] = true;
        tell_path(t, largest, whole);
    }
}

static void tell_ledger(const struct teller *t)
{
    const struct swh_summary *s = t->r->summary;
    fprintf(t->f, "\n  Heat of the compressor's metal, whole run\n");
    tell_side(t, 1, "heated by");
    tell_side(t, -1, "cooled by");
    if (isfinite(s->suction_cooling_share))
        fprintf(t->f, "  Suction gas took %.0f %% of the heat that was removed.\n",
                100 * s->suction_cooling_share);
}

/* ---- how far to trust it ---- */

static void tell_comparison(const struct teller *t)
{
    const struct swh_summary *s = t->r->summary;
    char rms[64], bias[64];
    bool any = false;
    for (int i = 0; i < SWH_CHANNEL_COUNT; i++) {
        if (s->compared[i] == 0)
            continue;
        const enum swh_quantity q = swh_channel_table[i].quantity;
        const enum swh_quantity d = q == SWH_Q_TEMPERATURE ? SWH_Q_TEMPERATURE_DIFFERENCE
                                    : q == SWH_Q_PRESSURE  ? SWH_Q_PRESSURE_DIFFERENCE
                                                           : q;
        if (!any)
            fprintf(t->f, "\n  Predicted against measured         rms         bias   readings\n");
        any = true;
        fprintf(t->f, "  %-28s %10s %12s %10ld\n", swh_channel_table[i].id, text(t, d, s->rms[i], rms),
                text(t, d, s->bias[i], bias), s->compared[i]);
    }
    if (!any)
        fprintf(t->f, "\n  The log has no readings to compare the prediction with.\n");
}

static void tell_residuals(const struct teller *t)
{
    const struct swh_summary *s = t->r->summary;
    fprintf(t->f, "\n  Balance: heat of the metal closes to %.1e, of the whole system to %.1e",
            s->body_residual, s->energy_residual);
    if (isfinite(s->charge_drift) && !t->r->replay)
        fprintf(t->f, ", charge to %.1e", s->charge_drift);
    fprintf(t->f, " (relative).\n  Integrator: %ld steps, %ld rate evaluations, %ld Jacobians, %ld events.\n",
            s->stats.steps, s->stats.rhs_evals, s->stats.jac_evals, s->stats.events);
}

static void tell_notes(const struct teller *t)
{
    const struct swh_notes *n = t->r->notes;
    for (int i = 0; n && i < n->count; i++)
        fprintf(t->f, "%s  Note: %s%s\n", i == 0 ? "\n" : "", n->text[i], swh_note_end(n->text[i]));
}

void swh_result_print(const struct swh_result *r, const struct swh_units *units, enum swh_show show, FILE *f)
{
    const struct teller t = {r, units, show, f};
    char folder[512];
    tell_answer(&t);
    tell_switches(&t);
    tell_film(&t);
    tell_readings(&t);
    tell_peaks(&t);
    tell_ledger(&t);
    if (r->replay)
        tell_comparison(&t);
    tell_notes(&t);
    if (r->folder)
        fprintf(f, "\n  Results: %s\n", swh_utf8_clean(folder, sizeof folder, r->folder));
}

void swh_result_print_channels(const struct swh_result *r, const struct swh_units *units, enum swh_show show,
                               FILE *f)
{
    const struct teller t = {r, units, show, f};
    const struct swh_summary *s = r->summary;
    char lowest[64], highest[64], mean[64], last[64];
    tell_residuals(&t);
    fprintf(f, "\n  %-30s %16s %16s %16s %16s\n", "channel", "lowest", "highest", "mean", "last");
    for (int i = 1; i < SWH_CHANNEL_COUNT; i++) {
        const enum swh_quantity q = swh_channel_table[i].quantity;
        if (isfinite(s->peak[i].value))
            fprintf(f, "  %-30s %16s %16s %16s %16s\n", swh_channel_table[i].id,
                    text(&t, q, s->lowest[i].value, lowest), text(&t, q, s->peak[i].value, highest),
                    text(&t, q, s->mean[i], mean), text(&t, q, s->final[i], last));
    }
}

/* ---- several beside each other ---- */

/* "shoe welds, 34 min", "lives, still warming" */
static void end_text(const struct swh_result *r, char *out, size_t size)
{
    const struct swh_summary *s = r->summary;
    static const char *const words[] = {
        "lives",     "shoe welds", "bore seizes", "lives by its switch",
        "overheats", "bursts",     "not known"}; /* ORDER of enum swh_outcome */
    const double time = isfinite(s->time_to_seizure) ? s->time_to_seizure : s->end_time;
    if (swh_outcome_is_lost(s->outcome))
        snprintf(out, size, "%s, %.*f min", words[s->outcome], time < 570 ? 1 : 0, time / 60);
    else
        snprintf(out, size, "%s%s", words[s->outcome], r->warming > SWH_STILL_WARMS ? ", still warming" : "");
}

static void print_row(const struct teller *t, const struct swh_result *r)
{
    static const enum swh_channel shown[] = {SWH_CH_suction_pressure, SWH_CH_discharge_pressure,
                                             SWH_CH_vent_temperature, SWH_CH_discharge_gas_temperature,
                                             SWH_CH_shell_temperature};
    char end[64], value[64];
    end_text(r, end, sizeof end);
    fprintf(t->f, "  %-34.34s %-30s", r->scenario->stem, end);
    for (size_t i = 0; i < sizeof shown / sizeof shown[0]; i++) {
        const bool peak = i > 2;
        const double told =
            isfinite(r->summary->gauge[shown[i]]) ? r->summary->gauge[shown[i]] : r->summary->final[shown[i]];
        const double x = peak ? r->summary->peak[shown[i]].value : told;
        fprintf(t->f, " %12s", text(t, swh_channel_table[shown[i]].quantity, x, value));
    }
    fprintf(t->f, " %5.0f %%\n", 100 * r->summary->duty);
}

void swh_result_print_table(const struct swh_result *r, int count, const struct swh_units *units,
                            enum swh_show show, FILE *f)
{
    const struct teller t = {r, units, show, f};
    char when[32];
    fprintf(f, "\n  %-34s %-30s %12s %12s %12s %12s %12s %7s\n", looked_at(r->summary->end_time, when),
            "outcome", "low", "high", "vent", "gas, hottest", "shell, most", "clutch");
    for (int i = 0; i < count; i++)
        print_row(&t, &r[i]);
    fprintf(f, "  Low, high and vent: means of the last minutes with the clutch engaged.\n");
}
