#include "solver/files/trade_words.h"

#include <ctype.h>
#include <stddef.h>
#include <string.h>

static const struct {
    const char *setting, *word, *meant;
} words[] = {
#define WORD(setting, word, meant) {#setting, word, meant},
#include "solver/files/trade_words.def"
#undef WORD
};

static const char *next_sign(const char *s)
{
    while (*s && !isalnum((unsigned char)*s))
        s++;
    return s;
}

bool swh_same_word(const char *a, const char *b)
{
    for (;; a++, b++) {
        a = next_sign(a);
        b = next_sign(b);
        if (tolower((unsigned char)*a) != tolower((unsigned char)*b))
            return false;
        if (*a == '\0')
            return true;
    }
}

const char *swh_trade_word(const char *setting, const char *word)
{
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcmp(words[i].setting, setting) == 0 && swh_same_word(words[i].word, word))
            return words[i].meant;
    return NULL;
}
