/* Names that loggers and workshop sheets give to readings. */
#ifndef SWH_SOLVER_FILES_CSV_NAMES_H
#define SWH_SOLVER_FILES_CSV_NAMES_H

#include <stddef.h>

struct swh_spelling {
    const char *words; /* as in headers.def */
    const char *id;    /* of the channel, or "engine_speed", "held", "doors_open", "point" */
    const char *unit;  /* if the header gives none; "" if it must give one */
};

/* Lower case; everything else than letters and digits becomes one space. */
void swh_plain_words(const char *s, char *out, size_t size);
/* The n-th (from 0) meaning of a name, in the order of headers.def; NULL if there is none. Abbreviations
 * ("temp", "hi", "press") and words that say nothing ("sensor", "side", "actual") do not matter. */
const struct swh_spelling *swh_spelling_of(const char *name, int n);

#endif
