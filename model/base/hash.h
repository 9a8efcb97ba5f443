/* FNV-1a, 64 bits (Fowler, Noll and Vo): a number that changes with anything that is put into it. */
#ifndef SWH_MODEL_BASE_HASH_H
#define SWH_MODEL_BASE_HASH_H

#include <stddef.h>
#include <stdint.h>
#include <string.h>

#define SWH_HASH_START UINT64_C(0xcbf29ce484222325)
#define SWH_HASH_PRIME UINT64_C(0x100000001b3)

/* h with n bytes put into it */
static inline uint64_t swh_hash(uint64_t h, const void *bytes, size_t n)
{
    const unsigned char *b = bytes;
    for (size_t i = 0; i < n; i++)
        h = (h ^ b[i]) * SWH_HASH_PRIME;
    return h;
}

/* The same by words of 64 bits, eight times as fast, with the high bits folded down after each; another
 * number than swh_hash. */
static inline uint64_t swh_hash_words(uint64_t h, const void *bytes, size_t n)
{
    for (size_t k = 0; k + sizeof(uint64_t) <= n; k += sizeof(uint64_t)) {
        uint64_t word;
        memcpy(&word, (const char *)bytes + k, sizeof word);
        h = (h ^ word) * SWH_HASH_PRIME;
        h ^= h >> 29;
    }
    uint64_t rest = 0;
    memcpy(&rest, (const char *)bytes + (n & ~(sizeof rest - 1)), n & (sizeof rest - 1));
    return (h ^ rest) * SWH_HASH_PRIME;
}

#endif
