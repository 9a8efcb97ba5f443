#include "cli/commands/infer/plan_sheet.h"

#include <math.h>

/* what is to be read at each point */
static const enum swh_channel readings[] = {SWH_CH_suction_pressure,        SWH_CH_discharge_pressure,
                                            SWH_CH_suction_temperature,     SWH_CH_discharge_temperature,
                                            SWH_CH_liquid_line_temperature, SWH_CH_vent_temperature};
enum { READINGS = sizeof readings / sizeof readings[0], POINTS = 4 };

static const char *unit_of(const struct swh_log_command *j, enum swh_channel ch)
{
    return swh_units_word(swh_session_show(j->frame.session), swh_channel_table[ch].quantity);
}

static void head(const struct swh_log_command *j, FILE *f)
{
    fprintf(f,
            "point,held[min],doors_open,compressor_speed[rpm],vehicle_speed[%s],ambient_temperature[%s],"
            "ambient_humidity[%%]",
            unit_of(j, SWH_CH_vehicle_speed), unit_of(j, SWH_CH_ambient_temperature));
    for (int i = 0; i < READINGS; i++)
        fprintf(f, ",%s[%s]", swh_channel_table[readings[i]].id, unit_of(j, readings[i]));
    for (int i = 0; i < READINGS; i++)
        fprintf(f, ",expected %s", swh_channel_table[readings[i]].id);
    fputc('\n', f);
}

static int index_of(enum swh_channel ch)
{
    for (int i = 0; i < SWH_COMPARED; i++)
        if (swh_compared[i] == ch)
            return i;
    return 0;
}

/* "2.3 to 3.1 barg": over all causes, instrument and model included */
static void expected(const struct swh_log_command *j, const struct swh_test_result *t, int causes,
                     enum swh_channel ch, FILE *f)
{
    char low[48], high[48];
    const int i = index_of(ch);
    const double sigma = swh_testplan_sigma(&j->frame.scenario.c.params, i);
    double lo = INFINITY, hi = -INFINITY;
    for (int k = 0; k < causes; k++) {
        lo = fmin(lo, t->value[k][i] - 2 * sigma);
        hi = fmax(hi, t->value[k][i] + 2 * sigma);
    }
    if (lo <= hi)
        fprintf(f, ",%s to %s", swh_log_command_text(j, swh_channel_table[ch].quantity, lo, low, sizeof low),
                swh_log_command_text(j, swh_channel_table[ch].quantity, hi, high, sizeof high));
    else
        fputc(',', f);
}

static void point(const struct swh_log_command *j, const struct swh_steps *s, const struct swh_test_result *t,
                  FILE *f)
{
    const struct swh_testpoint_info *p = &swh_testpoint_table[t->point];
    fprintf(
        f, "%s,%.0f,%s,%.0f,%.0f,,", p->id, p->hold / 60, p->doors >= 0.5 ? "yes" : "no", 60 * p->rotation,
        swh_units_show(j->frame.session->units, swh_session_show(j->frame.session), SWH_Q_SPEED, p->road));
    for (int i = 0; i < READINGS; i++)
        fputc(',', f);
    for (int i = 0; i < READINGS; i++)
        expected(j, t, s->causes, readings[i], f);
    fputc('\n', f);
}

/* points that a sheet's columns describe: the fan as the controls want it, recirculated air */
void swh_plan_sheet(const struct swh_log_command *j, const struct swh_steps *s, FILE *f)
{
    int written = 0;
    head(j, f);
    for (int i = 0; i < SWH_TESTPOINT_COUNT && written < POINTS; i++) {
        const struct swh_testpoint_info *p = &swh_testpoint_table[s->test[i].point];
        if (s->test[i].barred || p->fan < 0.5 || p->recirculation < 0.5)
            continue;
        point(j, s, &s->test[i], f);
        written++;
    }
}
