#include "solver/files/csv_names.h"

#include <ctype.h>
#include <stdbool.h>
#include <string.h>

static const struct swh_spelling spellings[] = {
#define HEADER(words, id, unit) {words, #id, unit},
#include "solver/files/headers.def"
#undef HEADER
};

/* a word of a header and the one that it stands for; "" where it says nothing. Common practice, no source. */
static const struct {
    const char *from, *to;
} words[] = {
    {"temp", "temperature"},
    {"tmp", "temperature"},
    {"press", "pressure"},
    {"pres", "pressure"},
    {"prs", "pressure"},
    {"hi", "high"},
    {"lo", "low"},
    {"evap", "evaporator"},
    {"cond", "condenser"},
    {"comp", "compressor"},
    {"disch", "discharge"},
    {"dis", "discharge"},
    {"suct", "suction"},
    {"liq", "liquid"},
    {"amb", "ambient"},
    {"ext", "outside"},
    {"exterior", "outside"},
    {"veh", "vehicle"},
    {"spd", "speed"},
    {"pipe", "line"},
    {"tube", "line"},
    {"hose", "line"},
    {"duct", "vent"},
    {"centre", "center"},
    {"middle", "center"},
    {"revs", "rpm"},
    {"rev", "rpm"},
    {"eng", "engine"},
    {"hum", "humidity"},
    {"rel", "relative"},
    {"min", "minutes"},
    {"mins", "minutes"},
    {"secs", "seconds"},
    {"sec", "seconds"},
    {"refrigerant", ""},
    {"side", ""},
    {"sensor", ""},
    {"reading", ""},
    {"actual", ""},
    {"measured", ""},
    {"value", ""},
    {"gauge", ""},
    {"probe", ""},
    {"clamp", ""},
    {"the", ""},
    {"at", ""},
    {"of", ""},
};

void swh_plain_words(const char *s, char *out, size_t size)
{
    size_t n = 0;
    for (; *s && n + 2 < size; s++) {
        const unsigned char c = (unsigned char)*s;
        if (c < 128 && isalnum(c))
            out[n++] = (char)tolower(c);
        else if (n > 0 && out[n - 1] != ' ' && c < 128)
            out[n++] = ' ';
    }
    while (n > 0 && out[n - 1] == ' ')
        n--;
    out[n] = '\0';
}

static const char *meant(const char *word, size_t n)
{
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (words[i].from[0] == word[0] && strncmp(words[i].from, word, n) == 0 && words[i].from[n] == '\0')
            return words[i].to;
    return NULL;
}

struct word {
    const char *at; /* NULL: no more words */
    size_t n;
};

/* The next word that counts, "temperature" for "temp". Words that say nothing are passed over, "a c" is one
 * word. The text is one of swh_plain_words. */
static struct word next_word(const char **text)
{
    while (**text) {
        const char *s = *text;
        const bool ac = s[0] == 'a' && s[1] == ' ' && s[2] == 'c' && (s[3] == ' ' || s[3] == '\0');
        const size_t n = ac ? 3 : strcspn(s, " ");
        *text = s + n + (s[n] == ' ');
        const char *to = ac ? "ac" : meant(s, n);
        if (!to)
            return (struct word){s, n};
        if (to[0] != '\0')
            return (struct word){to, strlen(to)};
    }
    return (struct word){NULL, 0};
}

/* Most spellings differ from a name in their first word, and
 * nothing else is looked at before that is seen. */
static bool says(const char *spelling, const struct word *name)
{
    for (;; name++) {
        const struct word w = next_word(&spelling);
        if (!w.at || !name->at)
            return w.at == name->at;
        if (w.n != name->n || memcmp(w.at, name->at, w.n) != 0)
            return false;
    }
}

const struct swh_spelling *swh_spelling_of(const char *name, int n)
{
    char plain[96];
    struct word word[sizeof plain / 2 + 1]; /* a letter and a space each, and the end */
    int count = 0;
    swh_plain_words(name, plain, sizeof plain);
    for (const char *left = plain; (word[count] = next_word(&left)).at;)
        count++;
    for (size_t i = 0; i < sizeof spellings / sizeof spellings[0] && count > 0; i++)
        if (says(spellings[i].words, word) && n-- == 0)
            return &spellings[i];
    return NULL;
}
