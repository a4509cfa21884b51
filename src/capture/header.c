#include "capture/sound_parts.h"

#include <inttypes.h>
#include <string.h>
#include <unistd.h>

#include "fail.h"

enum { CHUNKS_MAX = 4096, FORMAT_BYTES = 40 };

/* How a file form lays out its chunks. */
struct form {
    const char *magic; /* first four bytes of the file */
    const char *type;  /* four bytes at type_at, NULL: any */
    int type_at;
    int first_chunk; /* offset of the first chunk */
    int id_bytes;    /* length of a chunk's identifier; the first four are compared */
    int size_bytes;  /* 4 or 8 */
    bool big_endian;
    bool size_counts_header; /* the size includes identifier and size itself */
    int align;               /* chunks start at multiples of this */
    const char *format, *data;
    int channels_at, rate_at; /* in the format chunk */
    int data_skip;            /* bytes of the data chunk ahead of the samples */
};

/* RIFF: Microsoft and IBM, "Multimedia Programming Interface and Data Specifications 1.0" (1991). RF64: EBU Tech 3306.
 * W64: Sony Pictures Digital, as libsndfile writes it (checked against its files). AIFF: Apple, "Audio Interchange File
 * Format" 1.3 (1989). CAF: Apple, "Core Audio Format Specification 1.0". */
static const struct form forms[] = {
    {"RIFF", "WAVE", 8, 12, 4, 4, false, false, 2, "fmt ", "data", 2, 4, 0},
    {"RIFX", "WAVE", 8, 12, 4, 4, true, false, 2, "fmt ", "data", 2, 4, 0},
    {"RF64", "WAVE", 8, 12, 4, 4, false, false, 2, "fmt ", "data", 2, 4, 0},
    {"riff", "wave", 24, 40, 16, 8, false, true, 8, "fmt ", "data", 2, 4, 0},
    {"FORM", "AIFF", 8, 12, 4, 4, true, false, 2, "COMM", "SSND", 0, -1, 8},
    {"FORM", "AIFC", 8, 12, 4, 4, true, false, 2, "COMM", "SSND", 0, -1, 8},
    {"caff", NULL, 0, 8, 4, 8, true, false, 1, "desc", "data", 24, -1, 4},
};

struct chunk {
    char id[4];
    int64_t body;   /* offset of the data after the chunk's header */
    uint64_t bytes; /* of the body, as stated */
};

static uint64_t number(const unsigned char *bytes, int count, bool big_endian)
{
    uint64_t value = 0;
    for (int i = 0; i < count; i++)
        value = value << 8 | bytes[big_endian ? i : count - 1 - i];
    return value;
}

static bool read_at(const struct lds_source *source, int64_t offset, unsigned char *bytes, int count)
{
    return pread(source->fd, bytes, (size_t)count, offset) == count;
}

static const struct form *find_form(const struct lds_source *source)
{
    unsigned char start[28] = {0};
    if (pread(source->fd, start, sizeof start, 0) < 12)
        return NULL;
    for (size_t i = 0; i < sizeof forms / sizeof *forms; i++)
        if (!memcmp(start, forms[i].magic, 4) &&
            (!forms[i].type || !memcmp(start + forms[i].type_at, forms[i].type, 4)))
            return &forms[i];
    return NULL;
}

static bool read_chunk(const struct lds_source *source, const struct form *form, int64_t at, struct chunk *chunk)
{
    unsigned char head[24];
    int length = form->id_bytes + form->size_bytes;
    if (!read_at(source, at, head, length))
        return false;
    memcpy(chunk->id, head, 4);
    chunk->body = at + length;
    chunk->bytes = number(head + form->id_bytes, form->size_bytes, form->big_endian);
    if (form->size_counts_header)
        chunk->bytes = chunk->bytes >= (uint64_t)length ? chunk->bytes - (uint64_t)length : 0;
    return true;
}

/* Start of the chunk after this one, -1 when that is past the end of the file. */
static int64_t next_chunk(const struct lds_source *source, const struct form *form, const struct chunk *chunk)
{
    if (chunk->bytes > (uint64_t)(source->size - chunk->body))
        return -1;
    int64_t end = chunk->body + (int64_t)chunk->bytes;
    return (end + form->align - 1) / form->align * form->align;
}

/* Whether everything from here to the end of the file is well-formed chunks. */
static bool chunks_to_end(const struct lds_source *source, const struct form *form, int64_t at)
{
    for (int i = 0; i < CHUNKS_MAX && at >= 0 && at < source->size; i++) {
        struct chunk chunk;
        if (!read_chunk(source, form, at, &chunk))
            return false;
        for (int k = 0; k < 4; k++)
            if (chunk.id[k] < 0x20 || chunk.id[k] > 0x7e)
                return false;
        at = next_chunk(source, form, &chunk);
    }
    return at >= source->size;
}

/* Checks channels and, in the forms that hold it as an integer, the rate. */
static enum lds_status check_format(const struct lds_source *source, const struct form *form, const struct chunk *chunk,
                                    struct lds_error *error)
{
    unsigned char body[FORMAT_BYTES] = {0};
    if (pread(source->fd, body, sizeof body, chunk->body) < 16)
        return lds_fail(error, LDS_BAD_INPUT, "%s: the file ends inside its header: copy or record it again",
                        source->name);
    int width = form->data_skip == 4 ? 4 : 2;
    uint64_t channels = number(body + form->channels_at, width, form->big_endian);
    if (channels < 1 || channels > LDS_CHANNELS_MAX)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: the header states %" PRIu64 " channels; 1 to %d can be read: record fewer", source->name,
                        channels, LDS_CHANNELS_MAX);
    if (form->rate_at >= 0 && number(body + form->rate_at, 4, form->big_endian) == 0)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: the header states a sample rate of 0 Hz; 8 kHz to 10 MHz can be measured: "
                        "check how it was recorded",
                        source->name);
    return LDS_OK;
}

/* A streaming recorder writes the length before it knows it: 0, or all bits set. A RIFF file that grew past 4 GiB holds
 * the length modulo 2^32. */
static bool is_stream(const struct lds_source *source, const struct form *form, const struct chunk *data)
{
    int64_t there = source->size - data->body;
    if (form->size_bytes == 4 && data->bytes == UINT32_MAX)
        return true;
    if (data->bytes >= (uint64_t)INT64_MAX) /* CAF: -1 */
        return true;
    if (data->bytes == 0)
        return there > 0 && !chunks_to_end(source, form, data->body);
    return form->size_bytes == 4 && there > UINT32_MAX && (uint32_t)there == data->bytes;
}

static enum lds_status check_data(const struct lds_source *source, const struct form *form, const struct chunk *data,
                                  struct lds_header *header, struct lds_error *error)
{
    int64_t there = source->size - data->body;
    *header = (struct lds_header){.stream = is_stream(source, form, data)};
    const bool cut = !header->stream && data->bytes > (uint64_t)there;
    const bool more = !header->stream && !cut && form->size_bytes == 4 && there > UINT32_MAX &&
                      !chunks_to_end(source, form, next_chunk(source, form, data));
    if (cut || more)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: the header promises %" PRIu64 " bytes of samples, the file holds %" PRId64 ": %s",
                        source->name, data->bytes, there,
                        cut ? "it is damaged or cut short, copy or record it again"
                            : "more than this form can state, record to RF64, W64 or CAF");
    int64_t bytes = header->stream ? there : (int64_t)data->bytes;
    if (bytes < form->data_skip)
        bytes = form->data_skip;
    header->data_offset = data->body + form->data_skip;
    header->data_bytes = bytes - form->data_skip;
    return LDS_OK;
}

enum lds_status lds_header_read(const struct lds_source *source, struct lds_header *header, struct lds_error *error)
{
    *header = (struct lds_header){0};
    const struct form *form = find_form(source);
    if (!form)
        return LDS_OK;
    int64_t at = form->first_chunk;
    uint64_t long_bytes = 0; /* RF64: the length of the data chunk is in ds64 */
    bool format = false;
    for (int i = 0; i < CHUNKS_MAX && at >= 0 && at < source->size; i++) {
        struct chunk chunk;
        if (!read_chunk(source, form, at, &chunk))
            break;
        unsigned char sizes[16];
        if (!memcmp(chunk.id, "ds64", 4) && read_at(source, chunk.body, sizes, sizeof sizes))
            long_bytes = number(sizes + 8, 8, false);
        if (!memcmp(chunk.id, form->format, 4)) {
            enum lds_status status = check_format(source, form, &chunk, error);
            if (status)
                return status;
            format = true;
        }
        /* AIFF allows a data chunk before the format chunk; in other forms it is useless. */
        if (!memcmp(chunk.id, form->data, 4)) {
            if (!memcmp(form->magic, "RF64", 4) && chunk.bytes == UINT32_MAX)
                chunk.bytes = long_bytes;
            return check_data(source, form, &chunk, header, error);
        }
        at = next_chunk(source, form, &chunk);
    }
    return lds_fail(error, LDS_BAD_INPUT, "%s: %s; the file is damaged or cut short, copy or record it again",
                    source->name, format ? "the header is followed by no samples" : "the header is incomplete");
}
