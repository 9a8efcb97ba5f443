#include "cli/commands/handover/html.h"

#include "cli/base/frame.h"
#include "cli/base/json_memory.h"
#include "model/base/utf8.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

/* ---- text ---- */

static const char *entity(char c)
{
    return c == '&'    ? "&amp;"
           : c == '<'  ? "&lt;"
           : c == '>'  ? "&gt;"
           : c == '"'  ? "&quot;"
           : c == '\'' ? "&#39;"
                       : NULL;
}

void swh_html_text(FILE *f, const char *s)
{
    while (s && *s) {
        const size_t n = *s == '\n' || *s == '\t' ? 1 : swh_utf8_character(s);
        if (n == 0)
            fputc('?', f);
        else if (entity(*s))
            fputs(entity(*s), f);
        else
            fwrite(s, 1, n, f);
        s += n > 0 ? n : 1;
    }
}

void swh_html_print(FILE *f, const char *format, ...)
{
    char text[1001];
    va_list a;
    va_start(a, format);
    vsnprintf(text, sizeof text, format, a);
    va_end(a);
    swh_html_text(f, text);
}

/* ---- keys as words ---- */

static bool of_key(char c)
{
    return isalnum((unsigned char)c) || c == '_' || c == '.';
}

static bool names_file(const char *word)
{
    static const char *const endings[] = {".ini", ".csv",  ".json", ".png", ".svg",
                                          ".pdf", ".html", ".jpg",  ".jpeg"};
    const size_t n = strlen(word);
    for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++)
        if (n > strlen(endings[i]) && strcmp(word + n - strlen(endings[i]), endings[i]) == 0)
            return true;
    return false;
}

static bool is_key(const char *word)
{
    return !names_file(word) && (strchr(word, '_') || swh_param_find(word) >= 0 ||
                                 strncmp(word, "conditions.", 11) == 0 || strncmp(word, "fault.", 6) == 0);
}

/* the word at s, without full stops at its end, into out; returns its length */
static size_t take_word(const char *s, char out[128])
{
    size_t n = 0;
    while (of_key(s[n]) && n < 127)
        n++;
    while (n > 0 && s[n - 1] == '.')
        n--;
    memcpy(out, s, n);
    out[n] = '\0';
    return n;
}

const char *swh_keys_as_words(const char *s, char *out, size_t size)
{
    size_t used = 0;
    char word[128], words[160];
    while (s && *s && used + 1 < size) {
        const size_t n = take_word(s, word);
        if (n == 0) {
            out[used++] = *s++;
            continue;
        }
        swh_frame_words(word, words, sizeof words);
        const char *shown = is_key(word) ? words : word;
        const size_t length = strlen(shown) < size - 1 - used ? strlen(shown) : size - 1 - used;
        memcpy(out + used, shown, length);
        used += length;
        s += n;
    }
    out[used] = '\0';
    return out;
}

void swh_html_words(FILE *f, const char *s)
{
    const size_t size = s ? 2 * strlen(s) + 64 : 1;
    char *words = malloc(size);
    if (!words)
        swh_json_lost();
    swh_html_text(f, words ? swh_keys_as_words(s, words, size) : s);
    free(words);
}

/* ---- images ---- */

const char *swh_image_type(const char *path)
{
    unsigned char b[64] = {0};
    FILE *in = fopen(path, "rb");
    if (!in)
        return NULL;
    const size_t n = fread(b, 1, sizeof b - 1, in);
    fclose(in);
    const char *s = (const char *)b;
    if (n >= 8 && memcmp(b, "\x89PNG\r\n\x1a\n", 8) == 0)
        return "image/png";
    if (n >= 3 && memcmp(b, "\xff\xd8\xff", 3) == 0)
        return "image/jpeg";
    if (n >= 12 && memcmp(b, "RIFF", 4) == 0 && memcmp(b + 8, "WEBP", 4) == 0)
        return "image/webp";
    if (n >= 6 && (memcmp(b, "GIF87a", 6) == 0 || memcmp(b, "GIF89a", 6) == 0))
        return "image/gif";
    return strncmp(s, "<svg", 4) == 0 || strncmp(s, "<?xml", 5) == 0 ? "image/svg+xml" : NULL;
}

void swh_html_base64(FILE *f, const unsigned char *bytes, size_t size)
{
    static const char digit[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (size_t i = 0; i < size; i += 3) {
        const size_t n = size - i;
        const unsigned x =
            (unsigned)bytes[i] << 16 | (n > 1 ? (unsigned)bytes[i + 1] << 8 : 0) | (n > 2 ? bytes[i + 2] : 0);
        fputc(digit[x >> 18], f);
        fputc(digit[x >> 12 & 63], f);
        fputc(n > 1 ? digit[x >> 6 & 63] : '=', f);
        fputc(n > 2 ? digit[x & 63] : '=', f);
    }
}

bool swh_html_image(FILE *f, const char *path, const char *alternative)
{
    unsigned char block[3 * 1024]; /* a multiple of three: no padding but at the end */
    const char *type = swh_image_type(path);
    FILE *in = type ? fopen(path, "rb") : NULL;
    if (!in)
        return false;
    fputs("<img alt=\"", f);
    swh_html_text(f, alternative);
    fprintf(f, "\" src=\"data:%s;base64,", type);
    for (size_t n = fread(block, 1, sizeof block, in); n > 0; n = fread(block, 1, sizeof block, in))
        swh_html_base64(f, block, n);
    fputs("\">", f);
    fclose(in);
    return true;
}
