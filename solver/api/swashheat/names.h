/**
 * \file
 * Names of what can be set and of
 * what can be read. */
#ifndef SWASHHEAT_NAMES_H
#define SWASHHEAT_NAMES_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/** A number that can be set: a parameter (`section.key`), a condition (`conditions.NAME`) or part of a fault
 * (`fault.NAME.severity`). */
struct swh_key_entry {
    char name[64];      /**< as swh_setup_set() takes it */
    const char *unit;   /**< SI unit, "1" for a plain number */
    const char *help;   /**< what it is */
    const char *source; /**< where its default comes from; "" if it has none */
    double lowest;      /**< lower limit [SI] */
    double highest;     /**< upper limit [SI] */
    double usual;       /**< default [SI]; NaN: computed by the model */
};

/** A channel of the results: a reading that can be taken on a vehicle, a value inside, or one path of the
 * heat ledger. */
struct swh_channel_entry {
    const char *name; /**< as in series.csv */
    const char *unit; /**< SI unit, "1" for a plain number */
    const char *help; /**< what it is */
    double lowest;    /**< lowest value that is physically possible [SI] */
    double highest;   /**< highest value that is physically possible [SI] */
    int measured;     /**< 1 if it can be read on a vehicle */
};

/**
 * How many numbers can be set.
 * \return number of entries that
 * swh_key_describe() knows */
size_t swh_key_count(void);
/**
 * Describes a number that can be set.
 * \param index 0 to swh_key_count() - 1
 * \param entry is filled
 * \return 0, or -1 if there is
 * no such index */
int swh_key_describe(size_t index, struct swh_key_entry *entry);

/**
 * How many channels there are. Each is known by its index from 0, which may change from version to version;
 * its name stays. \return
 * number of channels */
size_t swh_channel_count(void);
/**
 * Describes a channel.
 * \param index 0 to swh_channel_count() - 1
 * \param entry is filled
 * \return 0, or -1 if there is
 * no such index */
int swh_channel_describe(size_t index, struct swh_channel_entry *entry);
/**
 * Finds a channel.
 * \param id its name, for example "discharge_temperature"
 * \return its index, -1 if it
 * is unknown */
int swh_channel_find(const char *id);

#ifdef __cplusplus
}
#endif

#endif
