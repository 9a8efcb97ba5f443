/**
 * \file
 * What came of a run: channels over time,
 * events, and the summary. */
#ifndef SWASHHEAT_RECORD_H
#define SWASHHEAT_RECORD_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

struct swh_record; /**< rows, events and summary of one run */

/** Something that happened at an instant. */
struct swh_happening {
    double time;      /**< s */
    double value;     /**< of the quantity that crossed its limit [SI] */
    const char *name; /**< "clutch_on", "high_pressure_open", "shoe_seizure" */
    const char *text; /**< in words */
};

/** What a channel did over a run [SI, s]; NaN if it does not exist in that run. */
struct swh_course {
    double highest;      /**< highest value at any output time or event */
    double highest_time; /**< when */
    double lowest;       /**< lowest value */
    double lowest_time;  /**< when */
    double mean;         /**< average over time */
    double last;         /**< last value */
};

/**
 * Releases a record.
 * \param record may be
 * NULL */
void swh_record_free(struct swh_record *record);
/**
 * Number of rows.
 * \param record of them
 * \return how many output
 * times there are */
size_t swh_record_rows(const struct swh_record *record);
/**
 * A channel over time.
 * \param record of it
 * \param channel index, see swh_channel_find(); "time" is one of them
 * \return swh_record_rows() values [SI] in order of time, NaN where it does not exist, as long as the record
 * is there; NULL if there is no
 * such channel */
const double *swh_record_column(const struct swh_record *record, int channel);
/**
 * What a log said of a channel at the times of a replay.
 * \param record of it
 * \param channel index
 * \return as swh_record_column(), NaN where the log is blank; NULL if the record is not
 * of a replay */
const double *swh_record_reading(const struct swh_record *record, int channel);
/**
 * Number of events.
 * \param record of them
 * \return how many
 * there are */
size_t swh_record_events(const struct swh_record *record);
/**
 * An event.
 * \param record of it
 * \param index 0 to swh_record_events() - 1, in order of time
 * \param event is filled; its words stay as long as the record is there
 * \return 0, or -1 if there is
 * no such index */
int swh_record_event(const struct swh_record *record, size_t index, struct swh_happening *event);

/**
 * How it ended.
 * \param record of it
 * \return "survives", "protected", "shoe_seized", "bore_seized", "overheated",
 * "burst" or "incomplete" */
const char *swh_record_outcome(const struct swh_record *record);
/**
 * Whether the run reached its end.
 * \param record of it
 * \return 1, or 0 if the
 * integrator could not go on */
int swh_record_complete(const struct swh_record *record);
/**
 * One figure of the summary: "time_to_seizure_s" (NaN if none), "end_time_s", "duty" (share of time with the
 * clutch engaged), "charge_drift", "energy_residual", "body_residual" (relative errors of the balances),
 * "heat_moved_J", "suction_cooling_share", "steps", "rhs_evals", "events". \param record of it \param name of
 * the figure \return its value; NaN
 * for an unknown name */
double swh_record_figure(const struct swh_record *record, const char *name);
/**
 * What a channel did over the run.
 * \param record of it
 * \param channel index
 * \param course is filled
 * \return 0, or -1 if there is
 * no such channel */
int swh_record_course(const struct swh_record *record, int channel, struct swh_course *course);

#ifdef __cplusplus
}
#endif

#endif
