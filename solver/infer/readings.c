#include "solver/infer/readings.h"

#include "solver/infer/spot.h"

#include <math.h>
#include <string.h>

static const double MOVING = 1.5; /* m/s */

bool swh_readings_have(const struct swh_readings *r, enum swh_channel channel)
{
    return r->sheet ? r->sheet->has[channel] : r->log && r->log->has[channel];
}

bool swh_readings_lack(const struct swh_readings *r, enum swh_channel channel)
{
    for (size_t i = 0; r->sheet && i < r->sheet->rows; i++)
        if (isnan(r->sheet->row[i].value[channel]))
            return true;
    return !r->sheet && r->log && !r->log->has[channel];
}

bool swh_readings_moved(const struct swh_readings *r)
{
    if (!r->sheet)
        return r->log && swh_log_channel_facts(r->log, SWH_CH_vehicle_speed).highest > MOVING;
    for (size_t i = 0; i < r->sheet->rows; i++)
        if (r->sheet->row[i].value[SWH_CH_vehicle_speed] > MOVING) /* false for a blank */
            return true;
    return false;
}

double swh_readings_covered(const struct swh_readings *r, enum swh_channel channel)
{
    double count = 0;
    if (r->log && !r->sheet)
        return swh_log_memory_covered(r->log, channel) / fmax(swh_log_memory_span(r->log), 1e-9);
    for (size_t i = 0; r->sheet && i < r->sheet->rows; i++)
        count += !isnan(r->sheet->row[i].value[channel]);
    return r->sheet && r->sheet->rows > 0 ? count / (double)r->sheet->rows : 0;
}

double swh_readings_at_work(const struct swh_readings *r)
{
    double sum = 0;
    if (r->log && !r->sheet)
        return swh_log_memory_at_work(r->log);
    for (size_t i = 0; r->sheet && i < r->sheet->rows; i++) {
        const struct swh_spot_row *row = &r->sheet->row[i];
        const bool off = row->value[SWH_CH_clutch] <= 0 || row->value[SWH_CH_compressor_speed] <= 0;
        sum += off ? 0 : row->held; /* a blank counts as at work */
    }
    return sum;
}

enum swh_status swh_readings_drive(struct swh_case *to, const struct swh_case *vehicle,
                                   const struct swh_readings *r, struct swh_schedule_facts *facts,
                                   struct swh_error *err)
{
    if (!r->sheet && r->log)
        return swh_schedule_from_log(to, vehicle, r->log, r->doors_given, facts, err);
    memset(facts, 0, sizeof *facts);
    *to = *vehicle;
    memset(&to->schedule, 0, sizeof to->schedule);
    if (!r->sheet || r->sheet->rows < 1)
        return swh_error_set(err, SWH_ERR_INPUT, "there is no row of readings");
    struct swh_case first;
    swh_spot_case(&first, to, &r->sheet->row[0], r->doors_given);
    facts->doors_open = first.conditions.doors_open >= 0.5;
    facts->start_temperature = first.conditions.ambient_temperature;
    facts->duration = swh_readings_at_work(r);
    return SWH_OK;
}

double swh_readings_mean(const struct swh_readings *r, enum swh_channel ch)
{
    double sum = 0;
    int n = 0;
    if (r->log)
        return swh_log_channel_facts(r->log, ch).mean;
    for (size_t i = 0; i < r->sheet->rows; i++)
        if (isfinite(r->sheet->row[i].value[ch])) {
            sum += r->sheet->row[i].value[ch];
            n++;
        }
    return n ? sum / n : NAN;
}

/* ---- logs ---- */

enum swh_status swh_log_long_enough(const struct swh_log_memory *m, struct swh_error *err)
{
    if (m->rows >= 2 && swh_log_memory_span(m) >= 60)
        return SWH_OK;
    swh_error_set(err, SWH_ERR_INPUT, "a log of %zu row%s and %.0f s: too short to tell", m->rows,
                  m->rows == 1 ? "" : "s", swh_log_memory_span(m));
    swh_error_expected(err, "a minute at least; 10 minutes are a fair minimum");
    return SWH_ERR_INPUT;
}

bool swh_log_drives_replay(enum swh_channel channel)
{
    for (int i = 0; i < SWH_REPLAY_INPUT_COUNT; i++)
        if (swh_replay_inputs[i].channel == channel)
            return true;
    return false;
}

int swh_log_leave_out_stuck(struct swh_log_memory *m, bool replays, enum swh_channel *stuck)
{
    int n = 0;
    for (int i = 0; i < SWH_COMPARED; i++) {
        const enum swh_channel channel = swh_compared[i];
        const struct swh_channel_facts f = swh_log_channel_facts(m, channel);
        if (f.readings <= 20 || f.highest > f.lowest || (replays && swh_log_drives_replay(channel)))
            continue;
        for (size_t k = 0; k < m->rows; k++)
            m->row[k].value[channel] = NAN;
        m->has[channel] = false;
        stuck[n++] = channel;
    }
    return n;
}
