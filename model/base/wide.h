/* Loops over volumes or states in the widest registers the machine has. The compiler writes such a function
 * twice and the loader takes the one that fits; products and sums are not fused in either, so both give the
 * same bits. */
#ifndef SWH_MODEL_BASE_WIDE_H
#define SWH_MODEL_BASE_WIDE_H

#include <stdlib.h> /* tells whether this is glibc */

/* only where loader and compiler are known to do it, and no sanitizer stands between them */
#if defined(__x86_64__) && defined(__GLIBC__) && defined(__GNUC__) && !defined(__clang__) &&                 \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define SWH_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define SWH_WIDE
#endif

#endif
