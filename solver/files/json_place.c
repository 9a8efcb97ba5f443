#include "solver/files/json_place.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

static const char *skip_space(const char *s)
{
    return s + strspn(s, " \t\r\n");
}

/* behind a string that starts at s */
static const char *skip_string(const char *s)
{
    for (s++; *s && *s != '"'; s++)
        if (*s == '\\' && s[1])
            s++;
    return *s ? s + 1 : s;
}

/* behind a value that starts at s */
static const char *skip_value(const char *s)
{
    int depth = 0;
    if (*s != '{' && *s != '[' && *s != '"')
        return s + strcspn(s, ",]} \t\r\n");
    do {
        if (*s == '"') {
            s = skip_string(s);
            continue;
        }
        depth += *s == '{' || *s == '[';
        depth -= *s == '}' || *s == ']';
        s++;
    } while (*s && depth > 0);
    return s;
}

/* the next value of an object or array, behind the one that starts at s; NULL behind the last */
static const char *next(const char *s)
{
    s = skip_space(skip_value(s));
    return *s == ',' ? skip_space(s + 1) : NULL;
}

/* the value of a key of the object at s; NULL if it has none */
static const char *of_key(const char *s, const char *key, size_t length)
{
    s = *s == '{' ? skip_space(s + 1) : NULL;
    while (s && *s == '"') {
        const char *end = skip_string(s);
        const bool same = (size_t)(end - s) == length + 2 && strncmp(s + 1, key, length) == 0;
        s = skip_space(end);
        s = *s == ':' ? skip_space(s + 1) : NULL;
        if (same)
            return s;
        s = s ? next(s) : NULL;
    }
    return NULL;
}

static const char *of_index(const char *s, long index)
{
    s = *s == '[' ? skip_space(s + 1) : NULL;
    for (; s && index > 0; index--)
        s = next(s);
    return s;
}

void swh_json_place(const char *text, const char *steps, long *line, long *column)
{
    const char *s = skip_space(text);
    while (*steps) {
        const size_t length = 1 + strcspn(steps + 1, ".[");
        const char *to =
            *steps == '[' ? of_index(s, strtol(steps + 1, NULL, 10)) : of_key(s, steps + 1, length - 1);
        if (!to)
            break;
        s = to;
        steps += length;
    }
    *line = *column = 1;
    for (const char *c = text; c < s; c++) {
        *column = *c == '\n' ? 1 : *column + 1;
        *line += *c == '\n';
    }
}
