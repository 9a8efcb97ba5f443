#include "tests/plots/plots_demo.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct moment {
    double t, end, short_of;
    bool clutch;
    double phase; /* of the clutch's cycle, 0..1 */
};

static double noise(size_t i, double size)
{
    /* a fixed scatter: the pictures of two test runs are the same */
    const double u = sin((double)i * 12.9898) * 43758.5453;
    return size * 2 * (u - floor(u) - 0.5);
}

static double warming(double t, double tau)
{
    return 1 - exp(-t / tau);
}

static void temperatures(double *v, const struct moment *m)
{
    const double x = m->t / m->end, run = m->short_of > 0.6 ? 60 * pow(x, 6) : 0, w = warming(m->t, 250);
    const double hot = 30 + 40 * m->short_of;
    v[SWH_CH_ambient_temperature] = 308.15;
    v[SWH_CH_underhood_temperature] = 308.15 + 20 * w;
    v[SWH_CH_shell_temperature] = 310 + (hot + 8) * warming(m->t, 420) + 0.3 * run;
    v[SWH_CH_block_temperature] = 310 + (hot + 16) * w + 0.5 * run;
    v[SWH_CH_head_temperature] = 310 + (hot + 30) * w + 0.4 * run;
    v[SWH_CH_oil_temperature] = 310 + (hot + 20) * warming(m->t, 300) + 0.7 * run;
    v[SWH_CH_piston_temperature] = 310 + (hot + 24) * w + 0.8 * run;
    v[SWH_CH_rotor_temperature] = 310 + (hot + 26) * w + 1.3 * run;
    v[SWH_CH_contact_temperature] = v[SWH_CH_rotor_temperature] + (m->clutch ? 12 + 0.5 * run : 0);
    v[SWH_CH_discharge_gas_temperature] = 310 + (hot + 35) * w + (m->clutch ? 3 : -3) + 0.2 * run;
    v[SWH_CH_discharge_temperature] = v[SWH_CH_discharge_gas_temperature] - 4;
    v[SWH_CH_suction_temperature] = 283 + 20 * m->short_of + (m->clutch ? 0 : 3);
    v[SWH_CH_vent_temperature] = 300 - 18 * (1 - m->short_of) * w;
    v[SWH_CH_liquid_line_temperature] = 312 + 8 * w;
    v[SWH_CH_cabin_temperature] = 320 - 20 * w * (1 - m->short_of);
}

static void gas(double *v, const struct moment *m)
{
    const double on = m->clutch ? exp(-4 * m->phase) : 1 - exp(-5 * (m->phase - 0.7));
    v[SWH_CH_clutch] = m->clutch;
    v[SWH_CH_suction_pressure] = 1e5 * (3.2 - 1.6 * m->short_of + 1.2 * on);
    v[SWH_CH_discharge_pressure] = 1e5 * (16 - 5 * m->short_of - 3 * on);
    v[SWH_CH_condensing_temperature] = 273.15 + 25.0 * pow(v[SWH_CH_discharge_pressure] / 6.65e5, 0.32);
    v[SWH_CH_evaporating_temperature] = 273.15 - 1;
    v[SWH_CH_superheat] = 6 + 30 * m->short_of + 2 * on;
    v[SWH_CH_evaporator_superheat] = 4 + 25 * m->short_of;
    v[SWH_CH_subcooling] = 7 * (1 - m->short_of) - on;
    v[SWH_CH_mass_flow] = m->clutch ? 0.045 * (1 - 0.7 * m->short_of) : 0;
    v[SWH_CH_shaft_power] = m->clutch ? 2100 - 900 * m->short_of : 0;
    v[SWH_CH_friction_power] = m->clutch ? 260 + 120 * m->short_of : 0;
    v[SWH_CH_cooling_capacity] = 5000 * (1 - m->short_of);
    v[SWH_CH_compressor_speed] = 33;
}

static void film(double *v, const struct moment *m)
{
    const double x = m->t / m->end;
    v[SWH_CH_film_ratio] = fmax(0.3, 4.5 * (1 - m->short_of * x * 1.1) + (m->clutch ? 0 : 0.3));
    v[SWH_CH_oil_mass] = 0.075 * (1 - 0.75 * m->short_of * warming(m->t, 500));
    v[SWH_CH_oil_evaporator_mass] = 0.05 * m->short_of * warming(m->t, 500);
    v[SWH_CH_oil_viscosity] = 0.018 * exp(-0.022 * (v[SWH_CH_oil_temperature] - 310));
    v[SWH_CH_running_clearance] = 14e-6 - 3e-6 * warming(m->t, 300);
    v[SWH_CH_boundary_share] = 1 / (1 + pow(v[SWH_CH_film_ratio] / 1.5, 6));
    v[SWH_CH_charge] = 0.74 * (1 - m->short_of);
    v[SWH_CH_charge_condenser] = v[SWH_CH_charge] * (0.3 + 0.2 * x);
    v[SWH_CH_charge_receiver] = v[SWH_CH_charge] * (0.4 - 0.15 * x);
    v[SWH_CH_charge_evaporator] = v[SWH_CH_charge] * (0.2 - 0.03 * x);
    v[SWH_CH_charge_low_side] = v[SWH_CH_charge] * (0.1 - 0.02 * x);
}

static void ledger(double *v, const struct moment *m)
{
    const double on = m->clutch ? 1 : 0, x = m->t / m->end, warm = v[SWH_CH_block_temperature] - 310;
    const double flow = on * (1 - 0.8 * m->short_of);
    v[SWH_CH_heat_shoe_friction] = on * (140 + 150 * m->short_of * x * x);
    v[SWH_CH_heat_piston_friction] = on * 60;
    v[SWH_CH_heat_bearing_friction] = on * 45;
    v[SWH_CH_heat_bore_gas] = on * 90;
    v[SWH_CH_heat_discharge_gas] = on * 120;
    v[SWH_CH_heat_suction_block] = -flow * 3.2 * warm;
    v[SWH_CH_heat_suction_heads] = -flow * 1.4 * warm;
    v[SWH_CH_heat_suction_rotor] = -flow * 2.5 * warm;
    v[SWH_CH_heat_oil_carry] = -flow * 0.3 * warm;
    v[SWH_CH_heat_shell_air] = 30 - 2.1 * (v[SWH_CH_shell_temperature] - 310);
    v[SWH_CH_heat_shell_radiation] = 10 - 0.6 * (v[SWH_CH_shell_temperature] - 310);
    v[SWH_CH_heat_bracket] = 25;
    v[SWH_CH_heat_clutch] = on * 12;
    v[SWH_CH_heat_gas_work] = on * 1500;
    v[SWH_CH_heat_condenser] = on * -5000;
    v[SWH_CH_heat_evaporator] = on * 4000;
    v[SWH_CH_heat_lines] = 40;
}

static void measure(double *out, const double *v, size_t i)
{
    static const int read[] = {SWH_CH_suction_pressure,       SWH_CH_discharge_pressure,
                               SWH_CH_suction_temperature,    SWH_CH_discharge_temperature,
                               SWH_CH_vent_temperature,       SWH_CH_ambient_temperature,
                               SWH_CH_liquid_line_temperature};
    out[SWH_CH_time] = v[SWH_CH_time];
    for (size_t k = 0; k < sizeof read / sizeof read[0]; k++) {
        const bool pressure = swh_channel_table[read[k]].quantity == SWH_Q_PRESSURE;
        out[read[k]] = v[read[k]] + (pressure ? noise(i + 7 * k, 1.2e4) : noise(i + 3 * k, 0.5) + 1.2);
    }
    if (i % 10 == 0)
        out[SWH_CH_shell_temperature] = v[SWH_CH_shell_temperature] + noise(i, 1.0) - 1.5;
}

static void add_event(struct demo *d, double t, enum swh_event event, const char *text)
{
    const size_t most = sizeof d->event / sizeof d->event[0];
    if (d->series.event_count == most)
        return;
    d->event[d->series.event_count++] = (struct swh_plot_event){t, event, text};
}

static struct moment moment_at(double t, double end, double short_of)
{
    struct moment m = {t, end, short_of, true, 0};
    const double period = 14;
    m.phase = t / period - floor(t / period);
    m.clutch = m.phase < 0.7;
    return m;
}

static void clutch_events(struct demo *d, double end)
{
    for (double t = 0; t < end; t += 14) {
        add_event(d, t, SWH_EV_clutch_on, NULL);
        if (t + 9.8 < end)
            add_event(d, t + 9.8, SWH_EV_clutch_off, NULL);
    }
}

void demo_make(struct demo *d, size_t n, double end, double short_of, bool replay)
{
    memset(d, 0, sizeof *d);
    const size_t cells = n * SWH_CHANNEL_COUNT;
    d->value = malloc(cells * sizeof(double));
    d->measured = malloc(cells * sizeof(double));
    if (!d->value || !d->measured)
        abort();
    for (size_t i = 0; i < cells; i++)
        d->value[i] = d->measured[i] = NAN;
    for (size_t i = 0; i < n; i++) {
        double *v = d->value + i * SWH_CHANNEL_COUNT;
        v[SWH_CH_time] = end * (double)i / (double)(n > 1 ? n - 1 : 1);
        const struct moment m = moment_at(v[SWH_CH_time], end, short_of);
        temperatures(v, &m);
        gas(v, &m);
        film(v, &m);
        ledger(v, &m);
        measure(d->measured + i * SWH_CHANNEL_COUNT, v, i);
    }
    d->series.name = "market-garden delivery van (invented)";
    d->series.refrigerant = swh_fluid_get(SWH_R134A);
    d->series.n = n;
    d->series.value = d->value;
    d->series.measured = replay ? d->measured : NULL;
    d->series.event = d->event;
    clutch_events(d, end);
    if (short_of > 0.6) {
        add_event(d, 0.88 * end, SWH_EV_film_lost, NULL);
        add_event(d, 0.97 * end, SWH_EV_shoe_seizure, NULL);
        add_event(d, 0.99 * end, SWH_EV_fuse_open, NULL);
    }
}

void demo_fit(struct demo *d)
{
    static const char *const lines[] = {"valve.area  1.73 mm2  (1.59 to 1.88)"};
    const size_t cells = d->series.n * SWH_CHANNEL_COUNT;
    struct swh_plot_fit *f = &d->fit;
    d->before = malloc(cells * sizeof(double));
    if (!d->before)
        abort();
    for (size_t i = 0; i < cells; i++)
        d->before[i] = d->value[i] + (d->value[i] > 1e4 ? 5e4 : 3);
    for (int ch = 0; ch < SWH_CHANNEL_COUNT; ch++)
        f->rms[ch] = f->hidden_rms[ch] = f->before_rms[ch] = NAN;
    f->rms[SWH_CH_discharge_temperature] = 1.25;
    f->hidden_rms[SWH_CH_discharge_temperature] = 1.5;
    f->before_rms[SWH_CH_discharge_temperature] = 4.25;
    f->rms[SWH_CH_suction_pressure] = 8e3;
    f->hidden_rms[SWH_CH_suction_pressure] = 9e3;
    f->what = "valve.area";
    f->before = d->before;
    f->seen_from = 60;
    f->window = 30;
    f->hidden_from = 0.8 * d->value[cells - SWH_CHANNEL_COUNT + SWH_CH_time];
    f->line = lines;
    f->lines = 1;
    d->series.fit = f;
}

void demo_free(struct demo *d)
{
    free(d->before);
    free(d->value);
    free(d->measured);
}

/* NIST SP 811 (2008), appendix B.8: psi, lb, BTU(IT), ft; a standard atmosphere
 * between absolute and gauge. */
struct conversion {
    enum swh_quantity quantity;
    double per_si, zero_si; /* SI of one shown unit, SI of its zero */
    double per_trade, zero_trade;
};
static const struct conversion conversions[] = {
    {SWH_Q_TEMPERATURE, 1, 273.15, 5.0 / 9, 273.15 - 32 * 5.0 / 9},
    {SWH_Q_TEMPERATURE_DIFFERENCE, 1, 0, 5.0 / 9, 0},
    {SWH_Q_PRESSURE, 1e5, 101325, 6894.757, 101325},
    {SWH_Q_PRESSURE_DIFFERENCE, 1e5, 0, 6894.757, 0},
    {SWH_Q_LENGTH, 1e-3, 0, 0.0254, 0},
    {SWH_Q_MASS, 1, 0, 0.45359237, 0},
    {SWH_Q_MASS_FLOW, 1e-3, 0, 0.45359237 / 60, 0},
    {SWH_Q_SPECIFIC_ENERGY, 1e3, 0, 2326, 0},
    {SWH_Q_VISCOSITY, 1e-3, 0, 1e-3, 0},
    {SWH_Q_ENERGY, 1e3, 0, 1e3, 0},
    {SWH_Q_ROTATION, 1.0 / 60, 0, 1.0 / 60, 0},
    {SWH_Q_SPEED, 1 / 3.6, 0, 0.44704, 0},
};

static double shown(enum swh_quantity quantity, bool trade, double si, void *user)
{
    (void)user;
    for (size_t i = 0; i < sizeof conversions / sizeof conversions[0]; i++) {
        const struct conversion *c = &conversions[i];
        if (c->quantity == quantity)
            return trade ? (si - c->zero_trade) / c->per_trade : (si - c->zero_si) / c->per_si;
    }
    return si;
}

void demo_options(struct swh_plot_options *o, enum swh_plot_format format, bool trade, const char *folder)
{
    struct swh_params params;
    swh_params_default(&params);
    memset(o, 0, sizeof *o);
    o->format = format;
    o->folder = folder;
    o->trade = trade;
    o->shown = shown;
    swh_plot_limits_default(&o->limits, &params);
}
