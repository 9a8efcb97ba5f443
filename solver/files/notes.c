#include "solver/files/notes.h"

#include "model/base/utf8.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void swh_note(struct swh_notes *n, const char *format, ...)
{
    if (n->count == SWH_NOTES_MAX)
        return;
    char *text = n->text[n->count];
    va_list ap;
    va_start(ap, format);
    vsnprintf(text, sizeof n->text[0], format, ap);
    va_end(ap);
    swh_utf8_clean(text, sizeof n->text[0], text);
    for (int i = 0; i < n->count; i++)
        if (strcmp(n->text[i], text) == 0)
            return;
    n->count++;
}

const char *swh_note_end(const char *text)
{
    const size_t n = strlen(text);
    return n > 0 && text[n - 1] == '?' ? "" : ".";
}
