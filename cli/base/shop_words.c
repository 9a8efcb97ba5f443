#include "cli/base/shop_words.h"

#include <stdio.h>
#include <string.h>

static const struct swh_shop_words words[SWH_FAULT_COUNT] = {
#define SHOP(fault, phrase, scale, unit, digits) [SWH_FAULT_##fault] = {phrase, scale, unit, digits},
#include "cli/base/shop_words.def"
#undef SHOP
};

const struct swh_shop_words *swh_shop_words(int fault)
{
    return &words[fault];
}

static void amount(int fault, double severity, char *out, size_t size)
{
    const char *unit = words[fault].unit;
    snprintf(out, size, "%.*f%s%s", words[fault].digits, severity * words[fault].scale, unit[0] ? " " : "",
             unit);
}

const char *swh_cause_amount(int fault, double severity, char *out, size_t size)
{
    char number[48];
    snprintf(out, size, "%s", fault < 0 ? "healthy" : swh_fault_table[fault].id);
    for (char *s = out; *s; s++)
        *s = *s == '_' ? ' ' : *s;
    if (fault < 0 || !words[fault].phrase)
        return out;
    amount(fault, severity, number, sizeof number);
    const size_t used = strlen(out);
    snprintf(out + used, size - used, ", %s", number);
    return out;
}

const char *swh_severity_words(int fault, double severity, char *out, size_t size)
{
    char number[48];
    if (fault < 0) {
        snprintf(out, size, "healthy");
        return out;
    }
    if (!words[fault].phrase) {
        snprintf(out, size, "severity %.2f", severity);
        return out;
    }
    amount(fault, severity, number, sizeof number);
    const char *phrase = words[fault].phrase, *at = strstr(phrase, "%s");
    snprintf(out, size, "%.*s%s%s", (int)(at - phrase), phrase, number, at + 2);
    return out;
}

const char *swh_severity_range_words(int fault, double severity, double low, double high, char *out,
                                     size_t size)
{
    char number[48];
    swh_severity_words(fault, severity, out, size);
    const size_t used = strlen(out);
    if (fault < 0)
        return out;
    if (!words[fault].phrase) {
        snprintf(out + used, size - used, ", %.2f to %.2f", low, high);
        return out;
    }
    amount(fault, high, number, sizeof number);
    snprintf(out + used, size - used, ", %.*f to %s", words[fault].digits, low * words[fault].scale, number);
    return out;
}

double swh_severity_number(int fault, double severity, char *out, size_t size)
{
    if (!words[fault].phrase) {
        snprintf(out, size, "severity");
        return severity;
    }
    const char *phrase = words[fault].phrase, *at = strstr(phrase, "%s"), *rest = at + 2;
    if (at == phrase)
        snprintf(out, size, "%s%s", words[fault].unit, rest);
    else
        snprintf(out, size, "%.*s%s%s", (int)(at - phrase), phrase, words[fault].unit, rest);
    return severity * words[fault].scale;
}

const char *swh_share_word(double share)
{
    return share > 0.8 ? "very likely" : share > 0.5 ? "likely" : share > 0.1 ? "possible" : "unlikely";
}
