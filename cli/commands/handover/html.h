/* Pieces of HTML: text that cannot become markup, keys said as words, pictures inside the page. */
#ifndef SWH_CLI_COMMANDS_HANDOVER_HTML_H
#define SWH_CLI_COMMANDS_HANDOVER_HTML_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* Writes `s` (NULL: nothing) so that a browser shows it letter by letter, in an attribute too; bytes that are
 * no UTF-8 are written as '?'. */
void swh_html_text(FILE *f, const char *s);
/* The same with keys said as words: "the suction_pressure of fault.fan_dead.severity" becomes "the suction
 * pressure of severity of fan dead"; names of files stay as they are. */
void swh_html_words(FILE *f, const char *s);
/* Keys as words into out, cut at `size`. Returns out. */
const char *swh_keys_as_words(const char *s, char *out, size_t size);
/* printf through swh_html_text, at most 1000 characters. */
void swh_html_print(FILE *f, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* MIME type of an image by its first bytes; NULL if the file is none that browsers show, or not readable. */
const char *swh_image_type(const char *path);
/* Writes <img> with the file inside it. false, and nothing written, if it is no image. */
bool swh_html_image(FILE *f, const char *path, const char *alternative);
/* Writes `size` bytes in base 64 (RFC 4648, section 4). */
void swh_html_base64(FILE *f, const unsigned char *bytes, size_t size);

#endif
