/* The entries of the library for a page: one case is set up by keys, run, and read back as arrays. Only for
 * WebAssembly: there is one page, so what it holds is kept here. */
#include "model/refrigerant/refrigerant.h"
#include "solver/simulate/key.h"
#include "solver/simulate/run.h"
#include "solver/steady/margin.h"
#include "solver/web/page_case.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define ENTRY SWH_WEB_ENTRY

enum { TEXT = 1024, EVENTS = 4000, CYCLE = 2 * SWH_CYCLE_MAX + 1, TELL_EVERY = 40 };

static struct {
    char text[TEXT]; /* words from and to the page */
    struct swh_case c;
    bool begun;
    double *row;   /* rows x SWH_CHANNEL_COUNT */
    double *cycle; /* rows x CYCLE: number of points, their P, their h; none with the clutch out */
    size_t rows, room;
    double event[2 * EVENTS]; /* time, enum swh_event */
    int events;
    struct swh_summary summary;
} page;

/* Given by the page: so many rows are there now. */
__attribute__((import_module("env"), import_name("swh_page_rows"))) void swh_page_rows(int rows);

/* ---- words ---- */

ENTRY char *swh_web_text(void)
{
    return page.text;
}
ENTRY int swh_web_text_size(void)
{
    return TEXT;
}
struct swh_case *swh_web_case(void)
{
    return &page.c;
}

/* ---- the case ---- */

/* A case of defaults; forgets the one before. */
ENTRY void swh_web_new(void)
{
    if (page.begun)
        swh_case_free(&page.c);
    page.begun = true;
    swh_case_default(&page.c);
}

/* Sets the key in the text buffer (section.key, conditions.NAME, fault.NAME.severity, .start, .ramp or .end)
 * to a value in SI. 0, or -1 for an unknown key. */
ENTRY int swh_web_set(double value)
{
    struct swh_key key;
    char name[64], what[16];
    if (sscanf(page.text, "fault.%63[^.].%15s", name, what) == 2 && strcmp(what, "severity") != 0) {
        const int f = swh_fault_find(name);
        if (f < 0)
            return -1;
        double *const part = what[0] == 's'   ? &page.c.fault[f].start
                             : what[0] == 'r' ? &page.c.fault[f].ramp
                                              : &page.c.fault[f].end;
        *part = value;
        return 0;
    }
    if (swh_key_find(page.text, &key, NULL) != SWH_OK)
        return -1;
    swh_key_set(&page.c, &key, value);
    return 0;
}

/* Sets the choice named in the text buffer to its option number `option`. 0, or -1 for an unknown choice. */
ENTRY int swh_web_choose(int option)
{
    const int choice = swh_choice_find(page.text);
    if (choice < 0)
        return -1;
    swh_choice_set(&page.c.choices, choice, option);
    return 0;
}

/* A schedule of `rows` rows; the columns are put one by one. 0, or -1 if memory is short. */
ENTRY int swh_web_schedule(int rows)
{
    struct swh_schedule *s = &page.c.schedule;
    s->time = calloc((size_t)rows, sizeof *s->time);
    s->rows = s->time ? (size_t)rows : 0;
    return s->time ? 0 : -1;
}
/* Column of the input named in the text buffer ("time": the times): a pointer to fill, NULL if that fails. */
ENTRY double *swh_web_column(void)
{
    struct swh_schedule *s = &page.c.schedule;
    if (strcmp(page.text, "time") == 0)
        return s->time;
    const int i = swh_input_find(page.text);
    if (i < 0)
        return NULL;
    s->column[i] = calloc(s->rows, sizeof *s->column[i]);
    s->given[i] = s->column[i] != NULL;
    return s->column[i];
}

/* ---- the run ---- */

static bool grow(void)
{
    if (page.rows < page.room)
        return true;
    const size_t room = page.room ? 2 * page.room : 512;
    double *row = realloc(page.row, room * SWH_CHANNEL_COUNT * sizeof *row);
    if (row)
        page.row = row;
    double *cycle = row ? realloc(page.cycle, room * CYCLE * sizeof *cycle) : NULL;
    if (cycle)
        page.cycle = cycle;
    if (!cycle)
        return false;
    page.room = room;
    return true;
}

static enum swh_status take_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)user;
    if (!grow())
        return swh_error_set(err, SWH_ERR_MEMORY, "no memory for the rows");
    double *cycle = page.cycle + page.rows * CYCLE;
    memcpy(page.row + page.rows * SWH_CHANNEL_COUNT, row->value, SWH_CHANNEL_COUNT * sizeof *row->value);
    cycle[0] = 0;
    if (row->cycle) {
        cycle[0] = row->cycle->n;
        memcpy(cycle + 1, row->cycle->P, sizeof row->cycle->P);
        memcpy(cycle + 1 + SWH_CYCLE_MAX, row->cycle->h, sizeof row->cycle->h);
    }
    page.rows++;
    if (page.rows % TELL_EVERY == 0)
        swh_page_rows((int)page.rows);
    return SWH_OK;
}

static enum swh_status take_event(const struct swh_event_record *e, void *user, struct swh_error *err)
{
    (void)user;
    (void)err;
    if (page.events < EVENTS) {
        page.event[2 * page.events] = e->time;
        page.event[2 * page.events + 1] = e->event;
        page.events++;
    }
    return SWH_OK;
}

/* Runs the case; the text buffer then holds what was wrong. Returns an enum swh_status. */
ENTRY int swh_web_run(void)
{
    struct swh_error err = {0};
    const struct swh_sinks sinks = {.row = take_row, .event = take_event};
    page.rows = 0;
    page.events = 0;
    enum swh_status status = swh_case_check(&page.c, &err);
    if (status == SWH_OK)
        status = swh_run(&page.c, &sinks, &page.summary, &err);
    snprintf(page.text, TEXT, "%s", err.what);
    return status;
}

/* ---- what came out ---- */

ENTRY int swh_web_rows(void)
{
    return (int)page.rows;
}
ENTRY int swh_web_channels(void)
{
    return SWH_CHANNEL_COUNT;
}
ENTRY const double *swh_web_row_values(void)
{
    return page.row;
}
ENTRY int swh_web_cycle_size(void)
{
    return CYCLE;
}
ENTRY const double *swh_web_cycles(void)
{
    return page.cycle;
}
ENTRY int swh_web_events(void)
{
    return page.events;
}
ENTRY const double *swh_web_event_values(void)
{
    return page.event;
}
/* enum swh_outcome */
ENTRY int swh_web_outcome(void)
{
    return (int)page.summary.outcome;
}
ENTRY double swh_web_time_to_seizure(void)
{
    return page.summary.time_to_seizure;
}
ENTRY double swh_web_duty(void)
{
    return page.summary.duty;
}
ENTRY int swh_web_protected_by(void)
{
    return (int)page.summary.protected_by;
}
ENTRY double swh_web_end(void)
{
    return page.summary.end_time;
}

/* ---- the saturation dome ---- */

/* Fills n points of the dome of refrigerant r into `out` (n x 3: P, h of liquid, h of vapour); returns how
 * many. */
ENTRY int swh_web_dome(int r, int n, double *out)
{
    const struct swh_fluid *f = swh_fluid_get((enum swh_refrigerant)r);
    const double top = 0.9999 * swh_critical_pressure(swh_fluid_eos(f)), low = 6e4;
    int k = 0;
    for (int i = 0; i < n; i++) {
        struct swh_saturation sat;
        const double P = low * pow(top / low, 1 - pow(1 - i / (double)(n - 1), 3));
        if (swh_sat_P(f, P, &sat) != 0)
            continue;
        out[3 * k] = P;
        out[3 * k + 1] = sat.h_f;
        out[3 * k + 2] = sat.h_g;
        k++;
    }
    return k;
}
ENTRY double *swh_web_doubles(int n)
{
    return malloc((size_t)n * sizeof(double));
}

/* ---- gain and loss ---- */

/* Heat that the metal gains and loses [W] with the rotor held at one or the other temperature [K], all else
 * at rest, in the case set up here: two gains, two losses, NaN where there is no rest; NULL on failure. */
ENTRY const double *swh_web_heat(double from, double to)
{
    static double heat[4];
    struct swh_heat_curves curves;
    struct swh_error err = {0};
    if (swh_heat_curves_compute(&page.c, from, to, 2, 1, &curves, &err) != SWH_OK)
        return NULL;
    memcpy(heat, curves.gain, 2 * sizeof *heat);
    memcpy(heat + 2, curves.loss, 2 * sizeof *heat);
    swh_heat_curves_free(&curves);
    return heat;
}
