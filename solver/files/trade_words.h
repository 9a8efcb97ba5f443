/* Words of the trade for settings that are words. */
#ifndef SWH_SOLVER_FILES_TRADE_WORDS_H
#define SWH_SOLVER_FILES_TRADE_WORDS_H

#include <stdbool.h>

/* Whether two words are the same but for case, spaces and signs. */
bool swh_same_word(const char *a, const char *b);
/* The word that the tables know for what a label says of `setting` ("section.key"); NULL if there is none. */
const char *swh_trade_word(const char *setting, const char *word);

#endif
