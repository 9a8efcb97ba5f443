/* The property tables, made while the library is built, taken in as bytes. */
#include "model/refrigerant/refrigerant.h"

#include <stddef.h>

/* SWH_TABLE_DIR is given by the build. The assembler of gcc and clang knows .incbin. */
#define TABLE(symbol, file)                                                                                  \
    extern const struct swh_fluid symbol __attribute__((visibility("hidden")));                              \
    __asm__(".section .rodata\n"                                                                             \
            ".balign 64\n"                                                                                   \
            ".globl " #symbol "\n"                                                                           \
            ".hidden " #symbol "\n" #symbol ":\n"                                                            \
            ".incbin \"" SWH_TABLE_DIR "/" file ".bin\"\n"                                                   \
            ".previous\n");

TABLE(swh_table_r134a, "R134a")
TABLE(swh_table_r1234yf, "R1234yf")
TABLE(swh_table_r12, "R12")

const struct swh_fluid *swh_fluid_get(enum swh_refrigerant r)
{
    switch (r) {
    case SWH_R134A:
        return &swh_table_r134a;
    case SWH_R1234YF:
        return &swh_table_r1234yf;
    case SWH_R12:
        return &swh_table_r12;
    case SWH_REFRIGERANT_COUNT:
        break;
    }
    return NULL;
}
