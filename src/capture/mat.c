#include "capture/sound_parts.h"

#include <inttypes.h>
#include <string.h>
#include <unistd.h>

#include "fail.h"

enum { MATRICES_MAX = 1000 };

static bool read_words(const struct lds_source *source, int64_t at, int count, bool big_endian, uint32_t *word)
{
    unsigned char bytes[20];
    if (pread(source->fd, bytes, (size_t)count * 4, at) != count * 4)
        return false;
    for (int i = 0; i < count; i++) {
        const unsigned char *b = bytes + 4 * i;
        word[i] = big_endian ? (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 8 | b[3]
                             : (uint32_t)b[3] << 24 | (uint32_t)b[2] << 16 | (uint32_t)b[1] << 8 | b[0];
    }
    return true;
}

/* Level 4: type, rows, columns, whether complex, length of the name; name; values. The thousands digit of the type is 1
 * in big-endian files, and its tens digit is the width of a value (MAT-File Format, level 4, from memory; libsndfile's
 * files agree). */
static int64_t level4_end(const struct lds_source *source, int64_t at)
{
    static const int width[] = {8, 4, 4, 2, 2, 1};
    uint32_t word[5];
    if (!read_words(source, at, 5, false, word))
        return -1;
    if (word[0] > 9999 && !read_words(source, at, 5, true, word))
        return -1;
    uint32_t precision = word[0] / 10 % 10;
    if (precision > 5 || word[4] > 1024)
        return -1;
    /* At most 2^32 x 2^32 values: computed in doubles, since only "more than the file" matters. */
    double values = (double)word[1] * (double)word[2] * (word[3] ? 2.0 : 1.0) * width[precision];
    double end = (double)at + 20.0 + (double)word[4] + values;
    return end < 9e15 ? (int64_t)end : INT64_MAX;
}

/* Level 5: a header of 128 bytes whose last two give the byte order; then matrices, each with four elements (flags,
 * dimensions, name, values) of type, length and contents, padded to 8 bytes. Contents of up to 4 bytes are within the
 * element's first 8, as the upper half of the type shows. The matrix's own length is used only to find the next one:
 * libsndfile writes 8 too many. */
static int64_t level5_end(const struct lds_source *source, int64_t at, int64_t *next)
{
    char order[2] = {0};
    uint32_t word[2];
    if (pread(source->fd, order, 2, 126) != 2 || !read_words(source, at, 2, order[0] == 'M', word))
        return -1;
    *next = at + 8 + (int64_t)word[1];
    int64_t end = at + 8;
    for (int element = 0; element < 4; element++) {
        int64_t start = (end + 7) / 8 * 8;
        if (!read_words(source, start, 2, order[0] == 'M', word))
            return -1;
        end = start + 8 + (word[0] >> 16 ? 0 : (int64_t)word[1]);
    }
    return end;
}

enum lds_status lds_mat_check(const struct lds_source *source, int level, struct lds_error *error)
{
    int64_t at = level == 4 ? 0 : 128;
    for (int i = 0; i < MATRICES_MAX && at < source->size; i++) {
        int64_t next = 0, end = level == 4 ? level4_end(source, at) : level5_end(source, at, &next);
        if (end < 0)
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s: the file ends inside the header of a matrix: copy or record it again", source->name);
        if (end > source->size)
            return lds_fail(error, LDS_BAD_INPUT,
                            "%s: a matrix reaches to byte %" PRId64 ", the file holds %" PRId64
                            ": it is damaged or cut short, copy or record it again",
                            source->name, end, source->size);
        at = level == 4 ? end : next;
    }
    return LDS_OK;
}
