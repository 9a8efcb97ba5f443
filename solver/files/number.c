#include "solver/files/number.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { DIGITS = 9, EXACT = 22 }; /* 10^22 is the largest power of ten that a double holds exactly */

static const double ten_to[EXACT + 1] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                         1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                         1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/* x * 10^n */
static double scale(double x, int n)
{
    if (n >= 0)
        return n <= EXACT ? x * ten_to[n] : x * pow(10.0, n);
    return -n <= EXACT ? x / ten_to[-n] : x / pow(10.0, -n);
}

/* |x| = digits * 10^(exponent - 8), digits in [10^8, 10^9); |x| is normal and finite */
static uint32_t decompose(double x, int *exponent)
{
    uint64_t bits;
    memcpy(&bits, &x, sizeof bits);
    const int two = (int)(bits >> 52) - 1023; /* 2^two <= |x| */
    /* floor(two log10(2)), exact for every exponent that there is */
    int e = two >= 0 ? two * 78913 >> 18 : -((-two * 78913 + (1 << 18) - 1) >> 18);
    double scaled = scale(x, DIGITS - 1 - e);
    if (scaled >= 1e9)
        scaled = scale(x, DIGITS - 1 - ++e);
    uint32_t n = (uint32_t)(scaled + 0.5);
    if (n >= 1000000000u) {
        n /= 10;
        e++;
    }
    *exponent = e;
    return n;
}

/* "00" to "99" */
static const char two_digits[] =
    "0001020304050607080910111213141516171819202122232425262728293031323334353637383940414243"
    "4445464748495051525354555657585960616263646566676869707172737475767778798081828384858687"
    "888990919293949596979899";

/* the nine digits; returns how many are left without trailing zeros (at least one) */
static int digits_of(uint32_t n, char digits[DIGITS])
{
    for (int i = DIGITS - 2; i > 0; i -= 2) {
        memcpy(digits + i, two_digits + 2 * (n % 100), 2);
        n /= 100;
    }
    digits[0] = (char)('0' + n);
    int count = DIGITS;
    while (count > 1 && digits[count - 1] == '0')
        count--;
    return count;
}

/* 12.34, 1200; the exponent is less than the number of digits */
static char *write_large(char *p, const char *digits, int count, int exponent)
{
    const int whole = exponent + 1;
    memcpy(p, digits, (size_t)whole);
    p += whole;
    if (count <= whole)
        return p;
    *p++ = '.';
    memcpy(p, digits + whole, (size_t)(count - whole));
    return p + count - whole;
}

/* 0.0012 */
static char *write_small(char *p, const char *digits, int count, int exponent)
{
    *p++ = '0';
    *p++ = '.';
    for (int i = exponent + 1; i < 0; i++)
        *p++ = '0';
    memcpy(p, digits, (size_t)count);
    return p + count;
}

/* 1.2e-07 */
static char *write_exponent(char *p, const char *digits, int count, int exponent)
{
    p = write_large(p, digits, count, 0);
    *p++ = 'e';
    *p++ = exponent < 0 ? '-' : '+';
    const int e = abs(exponent);
    if (e >= 100)
        *p++ = (char)('0' + e / 100);
    *p++ = (char)('0' + e / 10 % 10);
    *p++ = (char)('0' + e % 10);
    return p;
}

static size_t write_special(char *out, double x)
{
    if (isnan(x))
        return 0;
    const char *s = x > 0 ? "inf" : "-inf";
    size_t n = 0;
    for (; s[n]; n++)
        out[n] = s[n];
    return n;
}

size_t swh_number_write(char out[SWH_NUMBER_MAX], double x)
{
    if (!isfinite(x))
        return write_special(out, x);
    char *p = out;
    if (x < 0) {
        *p++ = '-';
        x = -x;
    }
    if (x < 1e-290) { /* zero, and what is as good as zero in every unit */
        out[0] = '0';
        return 1;
    }
    int exponent = 0;
    char digits[DIGITS];
    const int count = digits_of(decompose(x, &exponent), digits);
    if (exponent < -4 || exponent >= DIGITS)
        p = write_exponent(p, digits, count, exponent);
    else if (exponent < 0)
        p = write_small(p, digits, count, exponent);
    else
        p = write_large(p, digits, count, exponent);
    return (size_t)(p - out);
}

void swh_number_put(FILE *f, const char *before, double x)
{
    char text[SWH_NUMBER_MAX];
    fputs(before, f);
    fwrite(text, 1, swh_number_write(text, x), f);
}

struct decimal {
    uint64_t mantissa;
    int exponent; /* of ten */
    int digits;   /* read, leading zeros left out */
    bool any;
};

static bool is_digit(const char *s, const char *end)
{
    return s < end && *s >= '0' && *s <= '9';
}

static const char *read_digits(const char *s, const char *end, struct decimal *d, int step)
{
    for (; is_digit(s, end); s++) {
        d->any = true;
        d->exponent += step;
        if (d->digits == 0 && *s == '0')
            continue;
        if (++d->digits <= 19)
            d->mantissa = d->mantissa * 10 + (uint64_t)(*s - '0');
    }
    return s;
}

/* the exponent "e-3", if one is there */
static const char *read_exponent(const char *s, const char *end, int *exponent)
{
    const char *p = s + 1;
    if (s >= end || (*s != 'e' && *s != 'E'))
        return s;
    const bool negative = p < end && *p == '-';
    if (p < end && (*p == '-' || *p == '+'))
        p++;
    if (!is_digit(p, end))
        return s; /* "5 e" is a number and something else */
    int e = 0;
    for (; is_digit(p, end); p++)
        if (e < 10000)
            e = e * 10 + (*p - '0');
    *exponent += negative ? -e : e;
    return p;
}

/* the rare long way: more digits than a double holds, or a large exponent */
static double read_slowly(const char *s, const char *rest, char point)
{
    char text[400];
    size_t n = (size_t)(rest - s);
    if (n >= sizeof text)
        n = sizeof text - 1;
    memcpy(text, s, n);
    text[n] = '\0';
    char *comma = point == '.' ? NULL : strchr(text, point);
    if (comma)
        *comma = '.';
    return strtod(text, NULL);
}

const char *swh_number_read(const char *s, const char *end, char point, double *x)
{
    const char *start = s;
    const bool negative = s < end && *s == '-';
    if (s < end && (*s == '-' || *s == '+'))
        s++;
    struct decimal d = {0, 0, 0, false};
    s = read_digits(s, end, &d, 0);
    if (s < end && *s == point && (d.any || is_digit(s + 1, end)))
        s = read_digits(s + 1, end, &d, -1);
    if (!d.any)
        return NULL;
    s = read_exponent(s, end, &d.exponent);
    if (d.digits > 15 || abs(d.exponent) > EXACT) {
        *x = read_slowly(start, s, point);
        return s;
    }
    const double value = scale((double)d.mantissa, d.exponent);
    *x = negative ? -value : value;
    return s;
}
