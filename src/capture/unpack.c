#include "capture/sound_parts.h"

#include <string.h>

bool lds_unpack24_fits(void)
{
    return __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__;
}

static double unpack(const unsigned char *packed)
{
    uint32_t word = (uint32_t)packed[0] << 8 | (uint32_t)packed[1] << 16 | (uint32_t)packed[2] << 24;
    return (double)(int32_t)word * 0x1p-31;
}

/* Eight samples are 24 bytes: three words, all read before anything is written over them. */
static void unpack_eight(const unsigned char *packed, double *samples)
{
    uint64_t word[3];
    memcpy(word, packed, sizeof word);
    const uint64_t piece[8] = {word[0] << 8, word[0] >> 16, word[0] >> 40 | word[1] << 24,
                               word[1],      word[1] >> 24, word[1] >> 48 | word[2] << 16,
                               word[2] >> 8, word[2] >> 32};
    /* Each piece has its sample in bits 8..31. */
    for (int i = 0; i < 8; i++)
        samples[i] = (double)(int32_t)((uint32_t)piece[i] & 0xffffff00u) * 0x1p-31;
}

void lds_unpack24(const unsigned char *packed, double *samples, int64_t count)
{
    int64_t i = 0;
    for (; i + 8 <= count; i += 8)
        unpack_eight(packed + 3 * i, samples + i);
    for (; i < count; i++)
        samples[i] = unpack(packed + 3 * i);
}
