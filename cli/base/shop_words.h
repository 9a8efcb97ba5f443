/* Severities, shares and outcomes in the workshop's words. */
#ifndef SWH_CLI_BASE_SHOP_WORDS_H
#define SWH_CLI_BASE_SHOP_WORDS_H

#include "model/tables/tables.h"

#include <stddef.h>

/* How a fault's severity is said: `phrase` with the number in place of its %s (NULL: by no words of its own),
 * the number being severity times `scale`, with `digits` decimals and `unit`. */
struct swh_shop_words {
    const char *phrase;
    double scale;
    const char *unit;
    int digits;
};
const struct swh_shop_words *swh_shop_words(int fault);

/* "36 % of the condenser air lost"; of a fault < 0: "healthy". Returns out. */
const char *swh_severity_words(int fault, double severity, char *out, size_t size);
/* "condenser blocked, 36 %". Returns out. */
const char *swh_cause_amount(int fault, double severity, char *out, size_t size);
/* The severity with its interval: "36 % of the condenser air lost, 17 to 54 %". Returns out. */
const char *swh_severity_range_words(int fault, double severity, double low, double high, char *out,
                                     size_t size);
/* A severity as a number on an axis, words for the axis: 0.36 as 36, "% of the condenser air lost". */
double swh_severity_number(int fault, double severity, char *words, size_t size);
/* "very likely", "likely", "possible", "unlikely": of a share 0..1 among all causes. The words stand for
 * above 80 %, 50 %, 10 %, and the rest. */
const char *swh_share_word(double share);

#endif
