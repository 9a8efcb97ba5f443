/* Text of unknown origin (file names, log headers, titles) made fit to be shown: valid UTF-8 (Unicode 15,
 * table 3-7) without control characters, so that it harms neither terminals nor JSON, SVG or HTML. */
#ifndef SWH_MODEL_BASE_UTF8_H
#define SWH_MODEL_BASE_UTF8_H

#include <stdbool.h>
#include <stddef.h>

/* Bytes of the character at s: 1 to 4; 0 if it is a control character (C0, delete, C1), ends the text, or is
 * not well-formed. */
size_t swh_utf8_character(const char *s);
/* Copies s to out (size bytes with the final 0) and returns out. What is no character becomes '?'; the copy
 * ends with a whole character, and so does a text that was cut off inside one before. out may be s. */
char *swh_utf8_clean(char *out, size_t size, const char *s);
/* Is there a control character in the text? Bytes that are not UTF-8 are none. */
bool swh_utf8_controls(const char *s);

#endif
