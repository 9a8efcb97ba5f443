/* What the harnesses share. Each of them gives bytes of no sense to one reader of the program, in one
 * process, without starting another; AddressSanitizer and UndefinedBehaviorSanitizer watch. */
#ifndef SWH_TESTS_FUZZ_FUZZ_H
#define SWH_TESTS_FUZZ_FUZZ_H

#include "solver/files/units.h"

#include <stddef.h>
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { FUZZ_FILES = 3 };
/* A path under which the bytes can be opened and read, again and again, until the next call with the same
 * place. */
const char *fuzz_file(int place, const void *data, size_t size);
/* A new folder in TMPDIR, or /tmp; who starts the harness removes it. */
const char *fuzz_folder(void);
/* The bytes as a text that ends with a 0; valid until the next call. */
char *fuzz_text(const uint8_t *data, size_t size);
/* The unit system, made once. */
struct swh_units *fuzz_units(void);
/* Ends the process as a crash unless it is true. */
void fuzz_demand(int it, const char *what);

#endif
