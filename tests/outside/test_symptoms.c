/* The symptom table tests/outside/symptoms.csv: for each fault and severity the sign of what a technician
 * reads, against the healthy vehicle at equal conditions. The origin of each row stands in the table.
 * Argument: the table. */
#include "tests/check.h"

#include "tests/solver/cases.h"

#include <stdio.h>
#include <stdlib.h>

enum reading { LOW, HIGH, SUPERHEAT, SUBCOOLING, VENT, DISCHARGE, DUTY, READINGS };
static const char *const reading_name[READINGS] = {"low",  "high",      "superheat", "subcooling",
                                                   "vent", "discharge", "duty"};
static const enum swh_channel channel[READINGS] = {SWH_CH_suction_pressure,
                                                   SWH_CH_discharge_pressure,
                                                   SWH_CH_evaporator_superheat,
                                                   SWH_CH_subcooling,
                                                   SWH_CH_vent_temperature,
                                                   SWH_CH_discharge_temperature,
                                                   SWH_CH_clutch};
static const double si[READINGS] = {1e3, 1e3, 1, 1, 1, 1, 1}; /* of the table's bands */

enum { COLUMNS = 15, FIRST_READING = 6, KNOWN = 13, ORIGIN = 14, ROWS = 200 };
struct row {
    char text[512];
    char *cell[COLUMNS];
    int line;
};
struct table {
    struct row row[ROWS];
    int rows;
    double band[READINGS];
};
static const char *table_path;

/* ---- the table ---- */
static void split(struct row *r)
{
    char *rest = r->text;
    rest[strcspn(rest, "\r\n")] = '\0';
    for (int i = 0; i < COLUMNS; i++) {
        r->cell[i] = rest;
        char *comma = rest ? strchr(rest, ',') : NULL;
        if ((comma == NULL) != (i == COLUMNS - 1))
            fail_msg("line %d has not %d cells", r->line, COLUMNS);
        if (comma)
            *comma = '\0';
        rest = comma ? comma + 1 : NULL;
    }
}

static void take_row(struct table *t, const char *line, int number)
{
    struct row *r = &t->row[t->rows];
    snprintf(r->text, sizeof r->text, "%s", line);
    r->line = number;
    split(r);
    if (strcmp(r->cell[0], "fault") == 0)
        return;
    if (strcmp(r->cell[0], "band") != 0) {
        assert_true(++t->rows < ROWS);
        return;
    }
    for (int i = 0; i < READINGS; i++)
        t->band[i] = si[i] * strtod(r->cell[FIRST_READING + i], NULL);
}

static void read_table(struct table *t)
{
    FILE *f = fopen(table_path, "r");
    assert_non_null(f);
    char line[512];
    for (int number = 1; fgets(line, sizeof line, f); number++)
        if (line[0] != '#' && line[0] != '\n')
            take_row(t, line, number);
    fclose(f);
    for (int i = 0; i < READINGS; i++)
        assert_true(t->band[i] > 0);
}

static enum swh_fault fault_of(const struct row *r)
{
    for (int f = 0; f < SWH_FAULT_COUNT; f++)
        if (strcmp(swh_fault_table[f].id, r->cell[0]) == 0)
            return (enum swh_fault)f;
    fail_msg("line %d: no fault '%s'", r->line, r->cell[0]);
    return SWH_FAULT_COUNT;
}

/* ---- what the gauges show ---- */
struct mean {
    double from, sum[READINGS], sum_on[READINGS];
    long count, count_on;
};

static enum swh_status add_row(const struct swh_row *row, void *user, struct swh_error *err)
{
    (void)err;
    struct mean *m = user;
    if (row->value[SWH_CH_time] < m->from)
        return SWH_OK;
    const bool on = row->value[SWH_CH_clutch] > 0.5;
    m->count++;
    m->count_on += on;
    for (int i = 0; i < READINGS; i++) {
        m->sum[i] += row->value[channel[i]];
        m->sum_on[i] += on ? row->value[channel[i]] : 0;
    }
    return SWH_OK;
}

static void conditions(struct swh_case *c, const struct row *r)
{
    const double ambient = strtod(r->cell[3], NULL);
    if (strcmp(r->cell[2], "orifice") == 0)
        swh_case_orifice(c, ambient);
    else
        swh_case_valve(c, ambient);
    c->conditions.compressor_speed = strtod(r->cell[4], NULL) / 60;
    c->conditions.vehicle_speed = strtod(r->cell[5], NULL) / 3.6;
    c->params.run_duration = 1200;
    c->params.run_output_interval = 1;
}

static void read_gauges(const struct swh_case *c, struct swh_summary *s, double reading[READINGS])
{
    struct mean m = {.from = c->params.run_duration / 2};
    const struct swh_sinks sinks = {.row = add_row, .user = &m};
    struct swh_error err = {0};
    CHECK_OK(swh_run(c, &sinks, s, &err), &err);
    for (int i = 0; i < READINGS; i++) {
        const bool always = i == VENT || i == DUTY || m.count_on == 0;
        reading[i] = always ? m.sum[i] / (double)m.count : m.sum_on[i] / (double)m.count_on;
    }
}

/* ---- signs ---- */
static bool agrees(const char *sign, double change, double band, const struct row *r)
{
    const bool up = change > band, down = change < -band;
    static const char *const word[] = {"any", "+", "-", "0", "0+", "0-"};
    const bool truth[] = {true, up, down, !up && !down, !down, !up};
    for (unsigned i = 0; i < sizeof word / sizeof word[0]; i++)
        if (strcmp(sign, word[i]) == 0)
            return truth[i];
    fail_msg("line %d: '%s' is no sign", r->line, sign);
    return false;
}

static bool listed(const struct row *r, int reading)
{
    const size_t n = strlen(reading_name[reading]);
    for (const char *p = r->cell[KNOWN]; *p; p += strcspn(p, ";"), p += *p == ';')
        if (strcspn(p, ";") == n && strncmp(p, reading_name[reading], n) == 0)
            return true;
    return false;
}

struct count {
    int signs, unexpected, known, healed;
};

static void judge(const struct table *t, const struct row *r, const double *healthy, const double *faulty,
                  struct count *n)
{
    for (int i = 0; i < READINGS; i++) {
        const char *sign = r->cell[FIRST_READING + i];
        const double change = faulty[i] - healthy[i];
        const bool right = agrees(sign, change, t->band[i], r), known = listed(r, i);
        n->signs += strcmp(sign, "any") != 0;
        n->known += known && !right;
        n->healed += known && right;
        n->unexpected += !known && !right;
        if (known || !right)
            print_message("line %d: %s %s, %s: %s expected %s, is %+.4g on %.4g (band %g)%s\n", r->line,
                          r->cell[0], r->cell[1], r->cell[2], reading_name[i], sign, change / si[i],
                          healthy[i] / si[i], t->band[i] / si[i],
                          !known  ? ""
                          : right ? ": LISTED AS A DISAGREEMENT, BUT AGREES"
                                  : ": known");
    }
}

static bool same_conditions(const struct row *a, const struct row *b)
{
    for (int i = 2; i < FIRST_READING; i++)
        if (strcmp(a->cell[i], b->cell[i]) != 0)
            return false;
    return true;
}

static void show(const struct row *r, const double *healthy, const double *faulty, double duration)
{
    print_message("%-22s %s %-8s", r->cell[0], r->cell[1], r->cell[2]);
    for (int i = 0; i < READINGS; i++)
        print_message(" %s %+.3g", reading_name[i], (faulty[i] - healthy[i]) / si[i]);
    print_message(" in %.0f s\n", duration);
}

/* The healthy vehicle at the same conditions; kept from row to row while nothing changed. */
struct healthy {
    const struct row *row;
    double duration, reading[READINGS];
};

static void need_healthy(struct healthy *h, const struct row *r, double duration)
{
    if (h->row && h->duration == duration && same_conditions(h->row, r))
        return;
    struct swh_case c;
    struct swh_summary s;
    conditions(&c, r);
    c.params.run_duration = duration;
    read_gauges(&c, &s, h->reading);
    assert_true(s.outcome == SWH_SURVIVES || s.outcome == SWH_PROTECTED);
    h->row = r;
    h->duration = duration;
}

static void check_row(const struct table *t, const struct row *r, struct healthy *h, struct count *n)
{
    struct swh_case c;
    struct swh_summary s;
    double faulty[READINGS];
    conditions(&c, r);
    swh_case_fault(&c, fault_of(r), strtod(r->cell[1], NULL));
    read_gauges(&c, &s, faulty);
    if (s.end_time < c.params.run_duration) { /* seized: read both in the second half of the time before */
        c.params.run_duration = 0.98 * s.end_time;
        read_gauges(&c, &s, faulty);
    }
    need_healthy(h, r, c.params.run_duration);
    judge(t, r, h->reading, faulty, n);
    if (getenv("SWH_SYMPTOMS_SHOW"))
        show(r, h->reading, faulty, c.params.run_duration);
}

static void test_signs(void **state)
{
    (void)state;
    static struct table t;
    read_table(&t);
    struct healthy h = {0};
    struct count n = {0};
    for (int i = 0; i < t.rows; i++)
        check_row(&t, &t.row[i], &h, &n);
    print_message("%d signs in %d rows: %d known disagreements, %d others\n", n.signs, t.rows, n.known,
                  n.unexpected);
    assert_int_equal(n.unexpected, 0);
    assert_int_equal(n.healed, 0); /* take those off the list */
}

/* every fault of the table of faults, at three severities at least; every row with its origin */
static void test_complete(void **state)
{
    (void)state;
    static struct table t;
    read_table(&t);
    int rows[SWH_FAULT_COUNT] = {0};
    for (int i = 0; i < t.rows; i++) {
        rows[fault_of(&t.row[i])]++;
        assert_true(strlen(t.row[i].cell[ORIGIN]) > 10);
    }
    for (int f = 0; f < SWH_FAULT_COUNT; f++)
        if (rows[f] < 3)
            fail_msg("%s has %d rows", swh_fault_table[f].id, rows[f]);
}

int main(int argc, char **argv)
{
    table_path = argc > 1 ? argv[1] : "tests/outside/symptoms.csv";
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_complete), cmocka_unit_test(test_signs)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
