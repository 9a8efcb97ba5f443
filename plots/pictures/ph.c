/* The cycle in the plane of enthalpy and pressure, with the saturation dome. */
#include "plots/page/page.h"

#include <math.h>
#include <string.h>

enum { DOME_POINTS = 120, CYCLE_POINTS_MAX = 256, ISOTHERM_POINTS = 90, PH_HEIGHT = 640 };

static const struct swh_style dome_style = {"#000000", 2.2, "solid"};
static const struct swh_style healthy_style = {"#8a8a8a", 2.2, "solid"};
static const struct swh_style quality_style = {"#9a9a9a", 1, "(3,4)"};
static const struct swh_style isotherm_style = {"#9a9a9a", 1, "solid"};

struct view {
    double h0, h1, P0, P1; /* J/kg, Pa */
    const struct swh_fluid *fluid;
};

/* Round the cycles and the whole dome above the lowest pressure. */
static double critical_pressure(const struct view *v)
{
    return swh_critical_pressure(swh_fluid_eos(v->fluid));
}

static bool choose_view(struct view *v, const struct swh_fluid *fluid, const struct swh_plot_cycle *cycle,
                        size_t count)
{
    struct swh_saturation sat;
    v->fluid = fluid;
    v->h0 = v->P0 = INFINITY;
    v->h1 = v->P1 = -INFINITY;
    for (size_t k = 0; k < count; k++)
        for (size_t i = 0; i < cycle[k].n; i++) {
            if (!isfinite(cycle[k].h[i]) || !(cycle[k].P[i] > 0))
                continue;
            v->h0 = fmin(v->h0, cycle[k].h[i]);
            v->h1 = fmax(v->h1, cycle[k].h[i]);
            v->P0 = fmin(v->P0, cycle[k].P[i]);
            v->P1 = fmax(v->P1, cycle[k].P[i]);
        }
    if (!(v->h1 > v->h0))
        return false;
    v->P0 /= 1.6;
    v->P1 = fmax(1.3 * v->P1, 1.15 * critical_pressure(v));
    if (swh_sat_P(v->fluid, v->P0, &sat) == 0) {
        v->h0 = fmin(v->h0, sat.h_f);
        v->h1 = fmax(v->h1, sat.h_g);
    }
    const double margin = 0.06 * (v->h1 - v->h0);
    v->h0 -= margin;
    v->h1 += margin;
    return true;
}

/* Pressures from the lowest to near the critical point, closer together there, where the lines bend. */
static double dome_pressure(const struct view *v, int i)
{
    const double share = 1 - pow(1 - i / (double)(DOME_POINTS - 1), 3.0);
    return v->P0 * pow(0.99999 * critical_pressure(v) / v->P0, share);
}

/* Appends the line of quality x to (h, P), upwards or downwards; returns the number of points then held. */
static size_t add_quality(const struct view *v, double x, bool down, double *h, double *P, size_t k)
{
    for (int i = 0; i < DOME_POINTS; i++) {
        struct swh_saturation sat;
        P[k] = dome_pressure(v, down ? DOME_POINTS - 1 - i : i);
        if (swh_sat_P(v->fluid, P[k], &sat) != 0)
            continue;
        h[k++] = sat.h_f + x * (sat.h_g - sat.h_f);
    }
    return k;
}

static void draw_dome(struct swh_panel *n, const struct view *v)
{
    double h[2 * DOME_POINTS], P[2 * DOME_POINTS];
    for (int x = 1; x < 5; x++) {
        const struct swh_xy line = {add_quality(v, x / 5.0, false, h, P, 0), {h, 1}, {P, 1}};
        swh_panel_line(n, &line, &quality_style, NULL);
    }
    const size_t half = add_quality(v, 0, false, h, P, 0);
    const struct swh_xy dome = {add_quality(v, 1, true, h, P, half), {h, 1}, {P, 1}};
    swh_panel_line(n, &dome, &dome_style, NULL);
}

/* Vapour part of an isotherm; returns its enthalpy at the lowest pressure, NaN if there is none. */
static double isotherm(struct swh_panel *n, const struct view *v, double T)
{
    double h[ISOTHERM_POINTS], P[ISOTHERM_POINTS];
    struct swh_saturation sat;
    const bool below =
        T < swh_critical_temperature(swh_fluid_eos(v->fluid)) && swh_sat_T(v->fluid, T, &sat) == 0;
    const double top = below ? sat.P * 0.9999 : v->P1;
    size_t k = 0;
    if (top <= v->P0)
        return NAN;
    for (int i = 0; i < ISOTHERM_POINTS; i++) {
        const double share = 1 - pow(1 - i / (double)(ISOTHERM_POINTS - 1), 2.0);
        P[k] = v->P0 * pow(top / v->P0, share);
        double rho = 0;
        if (swh_P_T_vapour(v->fluid, P[k], T, &h[k], &rho) == 0)
            k++;
    }
    const struct swh_xy xy = {k, {h, 1}, {P, 1}};
    swh_panel_line(n, &xy, &isotherm_style, NULL);
    return k > 0 ? h[0] : NAN;
}

struct numbers {
    double h[40];
    char text[40][32];
    int count;
};

static void draw_isotherms(struct swh_panel *n, const struct view *v, struct numbers *at)
{
    const struct swh_page *u = n->page;
    const double step = u->o->trade ? 40 : 20, zero = u->offset[SWH_Q_TEMPERATURE],
                 per = u->scale[SWH_Q_TEMPERATURE];
    at->count = 0;
    for (double shown = ceil(swh_page_shown(u, SWH_Q_TEMPERATURE, 233.15) / step) * step; at->count < 40;
         shown += step) {
        const double T = (shown - zero) / per;
        if (T > 450)
            return;
        const double h = isotherm(n, v, T);
        if (!isfinite(h) || h > v->h1)
            continue;
        at->h[at->count] = h;
        swh_page_value(u, SWH_Q_TEMPERATURE, T, at->text[at->count], sizeof at->text[0]);
        snprintf(at->text[at->count], sizeof at->text[0], "%.0f", shown);
        at->count++;
    }
}

static void number_isotherms(struct swh_panel *n, const struct numbers *at)
{
    char unit[24], text[48];
    double free_from = -INFINITY;
    for (int i = 0; i < at->count; i++) {
        const double x = swh_panel_pixel(n, at->h[i]);
        const bool last = i + 1 == at->count;
        snprintf(text, sizeof text, "%s%s%s", at->text[i], last ? " " : "",
                 last ? swh_page_unit(n->page, SWH_Q_TEMPERATURE, unit, sizeof unit) : "");
        if (x < free_from || x > n->right - 10)
            continue;
        free_from = x + swh_text_width(text) + 4;
        swh_page_text(n->page, x, n->bottom - 12, "center", text, SWH_TEXT_BOXED " textcolor rgb '#777777'");
    }
}

static const char *degrees(const struct swh_page *u, double T, char *out, size_t n)
{
    char unit[24];
    snprintf(out, n, "%.0f %s", swh_page_shown(u, SWH_Q_TEMPERATURE, T),
             swh_page_unit(u, SWH_Q_TEMPERATURE, unit, sizeof unit));
    return out;
}

/* The label of a cycle ends with how hot the gas leaves the cylinders. */
static void name_cycle(struct swh_panel *n, const struct view *v, const char *label, double P, double h,
                       const struct swh_style *style)
{
    struct swh_ph_props state;
    char text[128], value[32];
    snprintf(text, sizeof text, "%s", label);
    if (swh_P_h(v->fluid, P, h, &state) == 0)
        snprintf(text, sizeof text, "%s: gas %s", label, degrees(n->page, state.T, value, sizeof value));
    swh_panel_label(n, P, text, style);
}

static void draw_cycle(struct swh_panel *n, const struct view *v, const struct swh_plot_cycle *c, size_t i)
{
    double h[CYCLE_POINTS_MAX + 1], P[CYCLE_POINTS_MAX + 1];
    size_t k = 0, hottest = 0;
    struct swh_style style = swh_style(i);
    for (size_t j = 0; j < c->n && k < CYCLE_POINTS_MAX; j++) {
        if (!isfinite(c->h[j]) || !(c->P[j] > 0))
            continue;
        h[k] = c->h[j];
        P[k] = c->P[j];
        if (h[k] > h[hottest])
            hottest = k;
        k++;
    }
    if (k == 0)
        return;
    h[k] = h[0];
    P[k] = P[0];
    if (c->healthy)
        style = healthy_style;
    const struct swh_xy xy = {k + 1, {h, 1}, {P, 1}}, corners = {k, {h, 1}, {P, 1}};
    style.width += 0.6;
    swh_panel_line(n, &xy, &style, NULL);
    swh_panel_points(n, &corners, &style, NULL);
    name_cycle(n, v, c->label, P[hottest], h[hottest], &style);
}

/* What happens along the sides of the last cycle, in the trade's words: its corners are found by where they
 * lie. */
static void name_sides(struct swh_panel *n, const struct swh_plot_cycle *c)
{
    double low = INFINITY, high = 0, left = INFINITY, right = -INFINITY;
    for (size_t i = 0; i < c->n; i++) {
        if (!isfinite(c->h[i]) || !(c->P[i] > 0))
            continue;
        low = fmin(low, c->P[i]);
        high = fmax(high, c->P[i]);
        left = fmin(left, c->h[i]);
        right = fmax(right, c->h[i]);
    }
    const struct {
        const char *text;
        double h, P;
        const char *side;
        int dx, dy;
    } word[] = {{"compressed", right, sqrt(low * high), "left", 10, 0},
                {"condenses", 0.5 * (left + right), high, "center", 0, -14},
                {"throttled", left, sqrt(low * high), "right", -10, 0},
                {"evaporates, warms up", left + 0.35 * (right - left), low, "center", 0, 14}};
    for (size_t i = 0; i < sizeof word / sizeof word[0]; i++)
        swh_page_text(n->page, swh_panel_pixel(n, word[i].h) + word[i].dx,
                      swh_panel_pixel_y(n, word[i].P) + word[i].dy, word[i].side, word[i].text,
                      SWH_TEXT_BOXED " textcolor rgb '#333333'");
}

/* A corner with its temperature, outside the cycle. */
static void put_corner(struct swh_panel *n, const struct view *v, const struct swh_plot_cycle *c, size_t at,
                       const char *what, int dx, int dy)
{
    struct swh_ph_props state;
    char value[32], text[64];
    if (swh_P_h(v->fluid, c->P[at], c->h[at], &state) != 0)
        return;
    snprintf(text, sizeof text, "%s %s", what, degrees(n->page, state.T, value, sizeof value));
    swh_page_text(n->page, swh_panel_pixel(n, c->h[at]) + dx, swh_panel_pixel_y(n, c->P[at]) + dy,
                  dx < 0 ? "right" : "left", text, SWH_TEXT_BOXED);
}

size_t swh_plot_cycle_liquid(const double *P, size_t n)
{
    double low = INFINITY, high = 0;
    size_t liquid = 1;
    for (size_t i = 0; i < n; i++) {
        low = fmin(low, P[i]);
        high = fmax(high, P[i]);
    }
    if (n < 4 || !(low > 0) || !isfinite(high))
        return 0;
    for (size_t i = 1; i < n; i++)
        if (P[i] > sqrt(low * high))
            liquid = i;
    return liquid + 1 < n ? liquid : 0;
}

/* The corners of the last cycle, which come in the order of the flow: suction gas, what enters the expansion
 * device, what leaves it. The label of the cycle has the discharge gas. */
static void name_corners(struct swh_panel *n, const struct view *v, const struct swh_plot_cycle *c)
{
    const size_t liquid = swh_plot_cycle_liquid(c->P, c->n);
    if (liquid == 0)
        return;
    put_corner(n, v, c, 0, "suction", 12, 12);
    put_corner(n, v, c, liquid, "liquid", -12, -12);
    put_corner(n, v, c, liquid + 1, "evaporates at", -12, 12);
}

static void draw(struct swh_page *page, const struct view *v, const struct swh_plot_cycle *cycle,
                 size_t count)
{
    struct swh_panel n;
    struct numbers numbers;
    /* the quantity of pressure differences: a diagram on a logarithmic axis has absolute pressures, not the
     * gauge's */
    swh_panel_open(&n, page, page->top + 34, page->top + 34 + PH_HEIGHT, SWH_Q_SPECIFIC_ENERGY, v->h0, v->h1,
                   SWH_Q_PRESSURE_DIFFERENCE, "absolute pressure");
    n.foot = "specific enthalpy";
    n.foot_below = true;
    n.y.log = true;
    n.y.from = swh_page_shown(page, SWH_Q_PRESSURE_DIFFERENCE, v->P0);
    n.y.to = swh_page_shown(page, SWH_Q_PRESSURE_DIFFERENCE, v->P1);
    draw_isotherms(&n, v, &numbers);
    draw_dome(&n, v);
    for (size_t i = count; i-- > 0;)
        draw_cycle(&n, v, &cycle[i], i);
    swh_panel_close(&n);
    number_isotherms(&n, &numbers);
    name_sides(&n, &cycle[count - 1]);
    name_corners(&n, v, &cycle[count - 1]);
}

enum swh_status swh_plot_pressure_enthalpy(const struct swh_fluid *refrigerant,
                                           const struct swh_plot_cycle *cycle, size_t count,
                                           const char *title, const struct swh_plot_options *o,
                                           struct swh_error *err)
{
    struct swh_page page;
    struct view v;
    char subtitle[240];
    if (o->format == SWH_PLOT_NONE)
        return SWH_OK;
    if (!choose_view(&v, refrigerant, cycle, count))
        return swh_error_set(err, SWH_ERR_INPUT, "pressure_enthalpy: no cycle to draw");
    snprintf(subtitle, sizeof subtitle,
             "%s in the pressure-enthalpy plane: saturation dome, quality in fifths (dotted), vapour "
             "isotherms (grey)",
             swh_refrigerant_name(swh_fluid_eos(refrigerant)));
    swh_page_begin(&page, o, 34 + PH_HEIGHT + 80, title ? title : "The refrigerant's cycle", subtitle);
    draw(&page, &v, cycle, count);
    return swh_page_end(&page, "pressure_enthalpy", err);
}
