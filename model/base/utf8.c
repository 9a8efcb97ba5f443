#include "model/base/utf8.h"

/* How many bytes a first byte asks for; 0 if it can be no first one. */
static size_t announced(unsigned char first)
{
    if (first < 0x80)
        return 1;
    if (first < 0xC2 || first > 0xF4)
        return 0;
    return first < 0xE0 ? 2 : first < 0xF0 ? 3 : 4;
}

/* The second byte has narrower bounds where overlong forms, surrogates and what is beyond U+10FFFF begin. */
static bool second_fits(unsigned char first, unsigned char second)
{
    const unsigned char lo = first == 0xE0 ? 0xA0 : first == 0xF0 ? 0x90 : 0x80;
    const unsigned char hi = first == 0xED ? 0x9F : first == 0xF4 ? 0x8F : 0xBF;
    return second >= lo && second <= hi;
}

static bool continues(unsigned char c)
{
    return (c & 0xC0) == 0x80;
}

/* U+FFFE and U+FFFF, which XML forbids */
static bool no_character(const unsigned char *u, size_t n)
{
    return n == 3 && u[0] == 0xEF && u[1] == 0xBF && u[2] >= 0xBE;
}

static bool is_control(const unsigned char *u)
{
    return u[0] < 0x20 || u[0] == 0x7F || (u[0] == 0xC2 && u[1] >= 0x80 && u[1] < 0xA0);
}

size_t swh_utf8_character(const char *s)
{
    const unsigned char *u = (const unsigned char *)s;
    const size_t n = announced(u[0]);
    if (n == 0 || is_control(u) || (n > 1 && !second_fits(u[0], u[1])))
        return 0;
    for (size_t i = 2; i < n; i++)
        if (!continues(u[i]))
            return 0;
    return no_character(u, n) ? 0 : n;
}

/* Does the text end inside the character at s? */
static bool cut_off(const char *s)
{
    const unsigned char *u = (const unsigned char *)s;
    const size_t n = announced(u[0]);
    size_t have = 1;
    while (have < n && continues(u[have]))
        have++;
    return have < n && u[have] == '\0';
}

char *swh_utf8_clean(char *out, size_t size, const char *s)
{
    size_t used = 0;
    while (*s) {
        const size_t n = swh_utf8_character(s), step = n > 0 ? n : 1;
        if (used + step >= size || (n == 0 && cut_off(s)))
            break;
        for (size_t i = 0; i < step; i++)
            out[used++] = n > 0 ? s[i] : '?';
        s += step;
    }
    if (size > 0)
        out[used] = '\0';
    return out;
}

bool swh_utf8_controls(const char *s)
{
    for (; *s; s++)
        if (is_control((const unsigned char *)s))
            return true;
    return false;
}
