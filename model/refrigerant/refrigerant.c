/* Names and constants of the refrigerants. */
#include "model/refrigerant/refrigerant.h"

#include "model/base/hash.h"
#include "model/refrigerant/eos.h"

/* next letter or digit in lower case, hyphens and blanks left out */
static int next_letter(const char **s)
{
    while (**s == '-' || **s == ' ')
        ++*s;
    int c = (unsigned char)**s;
    if (c == '\0')
        return 0;
    ++*s;
    return c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c;
}

static int same_name(const char *a, const char *b)
{
    for (;;) {
        int x = next_letter(&a), y = next_letter(&b);
        if (x != y)
            return 0;
        if (x == 0)
            return 1;
    }
}

int swh_refrigerant_find(const char *name)
{
    for (int r = 0; name && r < SWH_REFRIGERANT_COUNT; r++)
        if (same_name(name, swh_eos_get((enum swh_refrigerant)r)->name))
            return r;
    return -1;
}

const char *swh_refrigerant_name(const struct swh_eos *e)
{
    return e ? e->name : "";
}

uint64_t swh_eos_hash(const struct swh_eos *e)
{
    return swh_hash_words(SWH_HASH_START, e, sizeof *e);
}

double swh_critical_temperature(const struct swh_eos *e)
{
    return e->critical.T;
}

double swh_critical_pressure(const struct swh_eos *e)
{
    return e->critical.P;
}
