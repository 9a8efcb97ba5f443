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

/* the words that count, without those that say nothing; "a c" is one word */
static void key_of(const char *name, char *out, size_t size)
{
    char plain[96];
    size_t used = 0;
    swh_plain_words(name, plain, sizeof plain);
    for (const char *s = plain; *s;) {
        const bool ac = strncmp(s, "a c", 3) == 0 && (s[3] == ' ' || s[3] == '\0');
        const size_t n = ac ? 3 : strcspn(s, " ");
        const char *to = ac ? "ac" : meant(s, n);
        const size_t m = to ? strlen(to) : n;
        if (m > 0 && used + m + 2 < size) {
            if (used > 0)
                out[used++] = ' ';
            memcpy(out + used, to ? to : s, m);
            used += m;
        }
        s += n + (s[n] == ' ');
    }
    out[used] = '\0';
}

const struct swh_spelling *swh_spelling_of(const char *name, int n)
{
    char key[96], other[96];
    key_of(name, key, sizeof key);
    for (size_t i = 0; i < sizeof spellings / sizeof spellings[0] && key[0] != '\0'; i++) {
        key_of(spellings[i].words, other, sizeof other);
        if (strcmp(key, other) == 0 && n-- == 0)
            return &spellings[i];
    }
    return NULL;
}
