/* Sound files and headerless samples, through libsndfile. */
#include <errno.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "capture/reader.h"
#include "capture/sound_parts.h"
#include "fail.h"

struct sound {
    SNDFILE *file;
    int channels;
    bool packed24;           /* 24-bit samples in this machine's byte order, unpacked here at half the cost */
    struct lds_window_io io; /* of samples within the file */
};

static int64_t sound_read(void *state, double *samples, int64_t frames)
{
    struct sound *sound = state;
    if (!sound->packed24)
        return sf_readf_double(sound->file, samples, frames);
    /* The packed bytes go to the end of the caller's buffer: unpacking from the front never overtakes them. */
    int64_t count = frames * sound->channels;
    unsigned char *packed = (unsigned char *)(samples + count) - 3 * count;
    sf_count_t got = sf_read_raw(sound->file, packed, 3 * count);
    if (got < 0)
        return -1;
    lds_unpack24(packed, samples, got / 3);
    return got / (3 * sound->channels);
}

static bool sound_seek(void *state, int64_t frame)
{
    struct sound *sound = state;
    return sf_seek(sound->file, frame, SEEK_SET) == frame;
}

static void sound_close(void *state)
{
    struct sound *sound = state;
    if (sound->file)
        sf_close(sound->file);
    free(sound);
}

static const struct lds_reader sound_reader = {sound_read, sound_seek, sound_close};

/* Bits of an integer sample; 0 for floating point; -1 for other codings: most are lossy, and libsndfile 1.2.0 does not
 * read back its own ALAC files unchanged. */
static int sample_bits(int format)
{
    switch (format & SF_FORMAT_SUBMASK) {
    case SF_FORMAT_PCM_S8:
    case SF_FORMAT_PCM_U8:
        return 8;
    case SF_FORMAT_PCM_16:
        return 16;
    case SF_FORMAT_PCM_24:
        return 24;
    case SF_FORMAT_PCM_32:
        return 32;
    case SF_FORMAT_FLOAT:
    case SF_FORMAT_DOUBLE:
        return 0;
    default:
        return -1;
    }
}

static const char *container_name(int format)
{
    static const struct {
        int major;
        const char *name;
    } names[] = {
        {SF_FORMAT_WAV, "WAV"},    {SF_FORMAT_WAVEX, "WAV"},      {SF_FORMAT_RF64, "RF64"}, {SF_FORMAT_W64, "W64"},
        {SF_FORMAT_AIFF, "AIFF"},  {SF_FORMAT_FLAC, "FLAC"},      {SF_FORMAT_CAF, "CAF"},   {SF_FORMAT_MAT4, "MAT 4"},
        {SF_FORMAT_MAT5, "MAT 5"}, {SF_FORMAT_RAW, "headerless"},
    };
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (names[i].major == (format & SF_FORMAT_TYPEMASK))
            return names[i].name;
    return NULL;
}

static void name_format(int format, char *text, size_t size)
{
    int bits = sample_bits(format);
    const char *name = container_name(format);
    if (bits > 0)
        snprintf(text, size, "%s %d bit", name, bits);
    else
        snprintf(text, size, "%s %s", name, (format & SF_FORMAT_SUBMASK) == SF_FORMAT_DOUBLE ? "double" : "float");
}

static bool all_digits(const char *text, const char *pattern)
{
    for (; *pattern; pattern++, text++)
        if (*pattern == '0' ? *text < '0' || *text > '9' : *text != *pattern)
            return false;
    return true;
}

/* The date stated in the file: of the broadcast extension, or of its comments if that is an ISO date. */
static void read_date(SNDFILE *file, char *date, size_t size)
{
    static SF_BROADCAST_INFO const none;
    SF_BROADCAST_INFO broadcast = none;
    if (sf_command(file, SFC_GET_BROADCAST_INFO, &broadcast, sizeof broadcast) == SF_TRUE) {
        char day[11] = {0}, time[9] = {0};
        memcpy(day, broadcast.origination_date, 10);
        memcpy(time, broadcast.origination_time, 8);
        day[4] = day[7] = '-'; /* EBU Tech 3285 allows several separators */
        time[2] = time[5] = ':';
        if (all_digits(day, "0000-00-00")) {
            snprintf(date, size, "%s%s%s", day, all_digits(time, "00:00:00") ? "T" : "",
                     all_digits(time, "00:00:00") ? time : "");
            return;
        }
    }
    const char *stated = sf_get_string(file, SF_STR_DATE);
    if (stated && all_digits(stated, "0000-00-00"))
        snprintf(date, size, "%.*s", (int)size - 1, stated);
}

/* FLAC written to a pipe does not state its length: decoding it once gives it. */
static int64_t count_frames(SNDFILE *file, int channels)
{
    enum { COUNT_SAMPLES = 1 << 14 };
    double *block = malloc(COUNT_SAMPLES * sizeof *block);
    sf_count_t got, total = 0;
    while (block && (got = sf_readf_double(file, block, COUNT_SAMPLES / channels)) > 0)
        total += got;
    free(block);
    return sf_seek(file, 0, SEEK_SET) == 0 ? total : 0;
}

/* Closes the file after a failure. */
static enum lds_status adopt(SNDFILE *file, const SF_INFO *about, struct lds_capture *capture, struct lds_error *error)
{
    struct sound *sound = calloc(1, sizeof *sound);
    if (!sound) {
        sf_close(file);
        return lds_fail_memory(error, "a sound file");
    }
    int bits = sample_bits(about->format);
    bool swapped = sf_command(file, SFC_RAW_DATA_NEEDS_ENDSWAP, NULL, 0) == SF_TRUE;
    bool flac = (about->format & SF_FORMAT_TYPEMASK) == SF_FORMAT_FLAC;
    bool packed24 = (about->format & SF_FORMAT_SUBMASK) == SF_FORMAT_PCM_24 && !flac && !swapped && lds_unpack24_fits();
    *sound = (struct sound){.file = file, .channels = about->channels, .packed24 = packed24};
    capture->reader = &sound_reader;
    capture->state = sound;
    capture->info.rate_hz = about->samplerate;
    capture->info.frames = about->frames;
    capture->info.channels = about->channels;
    capture->info.bits = bits > 0 ? bits : 0;
    name_format(about->format, capture->info.format, sizeof capture->info.format);
    read_date(file, capture->info.date, sizeof capture->info.date);
    return LDS_OK;
}

static SNDFILE *open_file(const struct lds_source *source, SF_INFO *about)
{
    return lseek(source->fd, 0, SEEK_SET) == 0 ? sf_open_fd(source->fd, SFM_READ, about, SF_FALSE) : NULL;
}

/* libsndfile trusts a 32-bit length of all ones even in a longer file; the samples can be read without the header. */
static enum lds_status reopen_stream(const struct lds_source *source, const struct lds_header *header, int coding,
                                     struct lds_capture *capture, struct lds_error *error)
{
    struct sound *sound = capture->state;
    bool swapped = sf_command(sound->file, SFC_RAW_DATA_NEEDS_ENDSWAP, NULL, 0) == SF_TRUE;
    bool little = (__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__) != swapped;
    SF_INFO about = {.samplerate = 8000, /* not used */
                     .channels = sound->channels,
                     .format = SF_FORMAT_RAW | coding | (little ? SF_ENDIAN_LITTLE : SF_ENDIAN_BIG)};
    sound->io = (struct lds_window_io){.fd = source->fd, .start = header->data_offset, .size = header->data_bytes};
    sf_close(sound->file);
    sound->file = lds_window_open(&sound->io, &about);
    if (!sound->file)
        return lds_fail(error, LDS_IO, "%s: cannot be read as a stream: %s", source->name, sf_strerror(NULL));
    capture->info.frames = about.frames;
    return LDS_OK;
}

/* Accepts only lossless codings, and only containers for which missing data can be detected. */
static enum lds_status check_coding(const struct lds_source *source, SNDFILE *file, const SF_INFO *about,
                                    struct lds_error *error)
{
    int container = about->format & SF_FORMAT_TYPEMASK;
    bool known = container_name(about->format) != NULL;
    SF_FORMAT_INFO named = {.format = known ? about->format & SF_FORMAT_SUBMASK : container};
    if (known && sample_bits(about->format) >= 0) {
        if (container == SF_FORMAT_MAT4 || container == SF_FORMAT_MAT5)
            return lds_mat_check(source, container == SF_FORMAT_MAT4 ? 4 : 5, error);
        return LDS_OK;
    }
    sf_command(file, SFC_GET_FORMAT_INFO, &named, sizeof named);
    const char *name = named.name ? named.name : "an unknown format";
    if (known)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: is coded as %s; PCM or floating-point samples were expected: record that way",
                        source->name, name);
    return lds_fail(error, LDS_BAD_INPUT,
                    "%s: is %s; WAV, RF64, W64, AIFF, FLAC, CAF, MAT, CSV or stated headerless samples "
                    "were expected",
                    source->name, name);
}

/* Text in UTF-16 begins with a byte order mark (The Unicode Standard, 23.8) and contains zeros. */
static bool is_utf16(const struct lds_source *source)
{
    unsigned char mark[2];
    return pread(source->fd, mark, 2, 0) == 2 &&
           ((mark[0] == 0xFF && mark[1] == 0xFE) || (mark[0] == 0xFE && mark[1] == 0xFF));
}

/* ID3v2 tags (id3.org, "ID3 tag version 2.4.0", 3.1), then a frame of MPEG audio, which begins with eleven bits set
 * (ISO/IEC 11172-3, 2.4.1.3). libsndfile would decode it, and its decoder writes to standard error; the coding is lossy
 * anyway. */
static bool is_mpeg(const struct lds_source *source)
{
    enum { TAGS_MAX = 8 };
    unsigned char head[10] = {0};
    int64_t at = 0;
    for (int i = 0; i < TAGS_MAX && pread(source->fd, head, sizeof head, at) == sizeof head; i++) {
        if (memcmp(head, "ID3", 3) != 0)
            return head[0] == 0xFF && (head[1] & 0xE0) == 0xE0;
        at +=
            10 + ((int64_t)(head[6] & 0x7F) << 21 | (head[7] & 0x7F) << 14 | (head[8] & 0x7F) << 7 | (head[9] & 0x7F));
    }
    return false;
}

static enum lds_status mpeg_format(const struct lds_source *source, struct lds_error *error)
{
    return lds_fail(error, LDS_BAD_INPUT,
                    "%s: is MPEG audio, which loses part of what was recorded; PCM or floating-point samples were "
                    "expected: record that way",
                    source->name);
}

static enum lds_status unknown_format(const struct lds_source *source, struct lds_error *error)
{
    if (errno == ENOMEM) /* libsndfile has no public code for it */
        return lds_fail_memory(error, "a capture");
    return lds_fail(error, LDS_BAD_INPUT,
                    "%s: is not a capture that can be read (%s); WAV, RF64, W64, AIFF, FLAC, CAF, MAT, CSV or stated "
                    "headerless samples were expected",
                    source->name, sf_strerror(NULL));
}

enum lds_status lds_sound_look(const struct lds_source *source, struct lds_error *error)
{
    struct lds_window_io io = {.fd = source->fd, .size = source->size};
    SF_INFO about = {0};
    if (is_mpeg(source))
        return mpeg_format(source, error);
    errno = 0;
    SNDFILE *file = lds_window_open(&io, &about);
    bool known = file || sf_error(NULL) != SF_ERR_UNRECOGNISED_FORMAT; /* else it may only be truncated */
    if (file)
        sf_close(file);
    return known ? LDS_OK : unknown_format(source, error);
}

enum lds_status lds_sound_open(struct lds_source *source, struct lds_capture *capture, struct lds_error *error)
{
    struct lds_header header;
    SF_INFO about = {0};
    if (is_utf16(source))
        return lds_fail(error, LDS_BAD_INPUT, "%s: is text in UTF-16; UTF-8 was expected: save it as that",
                        source->name);
    enum lds_status status = lds_header_read(source, &header, error);
    if (!status && is_mpeg(source))
        status = mpeg_format(source, error);
    if (status)
        return status;
    errno = 0;
    SNDFILE *file = open_file(source, &about);
    if (!file)
        return unknown_format(source, error);
    status = check_coding(source, file, &about, error);
    if (status) {
        sf_close(file);
        return status;
    }
    if ((about.format & SF_FORMAT_TYPEMASK) == SF_FORMAT_FLAC && (about.frames <= 0 || about.frames == SF_COUNT_MAX))
        about.frames = count_frames(file, about.channels);
    status = adopt(file, &about, capture, error);
    bool plain = (about.format & SF_FORMAT_SUBMASK) <= SF_FORMAT_DOUBLE;
    if (!status && header.stream && plain)
        status = reopen_stream(source, &header, about.format & SF_FORMAT_SUBMASK, capture, error);
    return status;
}

static enum lds_status open_raw(const struct lds_source *source, int coding, int channels, double rate_hz,
                                struct lds_capture *capture, struct lds_error *error)
{
    SF_INFO about = {.samplerate = 8000, /* not looked at */
                     .channels = channels,
                     .format = SF_FORMAT_RAW | coding};
    SNDFILE *file = open_file(source, &about);
    if (!file)
        return lds_fail(error, LDS_IO, "%s: cannot be read: %s", source->name, sf_strerror(NULL));
    enum lds_status status = adopt(file, &about, capture, error);
    capture->info.rate_hz = rate_hz; /* libsndfile knows whole hertz only */
    return status;
}

enum lds_status lds_doubles_open(struct lds_source *source, int channels, double rate_hz, struct lds_capture *capture,
                                 struct lds_error *error)
{
    return open_raw(source, SF_FORMAT_DOUBLE | SF_ENDIAN_CPU, channels, rate_hz, capture, error);
}

struct encoding {
    const char *name;
    int format;
    int bytes;
};

static const struct encoding encodings[] = {
    {"s8", SF_FORMAT_PCM_S8, 1},
    {"u8", SF_FORMAT_PCM_U8, 1},
    {"s16le", SF_FORMAT_PCM_16 | SF_ENDIAN_LITTLE, 2},
    {"s16be", SF_FORMAT_PCM_16 | SF_ENDIAN_BIG, 2},
    {"s24le", SF_FORMAT_PCM_24 | SF_ENDIAN_LITTLE, 3},
    {"s24be", SF_FORMAT_PCM_24 | SF_ENDIAN_BIG, 3},
    {"s32le", SF_FORMAT_PCM_32 | SF_ENDIAN_LITTLE, 4},
    {"s32be", SF_FORMAT_PCM_32 | SF_ENDIAN_BIG, 4},
    {"f32le", SF_FORMAT_FLOAT | SF_ENDIAN_LITTLE, 4},
    {"f32be", SF_FORMAT_FLOAT | SF_ENDIAN_BIG, 4},
    {"f64le", SF_FORMAT_DOUBLE | SF_ENDIAN_LITTLE, 8},
    {"f64be", SF_FORMAT_DOUBLE | SF_ENDIAN_BIG, 8},
};

static enum lds_status check_statement(const struct lds_source *source, const struct lds_capture_options *options,
                                       const struct encoding **encoding, struct lds_error *error)
{
    *encoding = NULL;
    for (size_t i = 0; i < sizeof encodings / sizeof *encodings; i++)
        if (!strcmp(encodings[i].name, options->encoding))
            *encoding = &encodings[i];
    if (!*encoding)
        return lds_fail(error, LDS_BAD_USE,
                        "%s is not an encoding of headerless samples; s8, u8, s16le, s24le, s32le, f32le, "
                        "f64le or the same with be were expected",
                        options->encoding);
    if (!(options->rate_hz >= 8e3 && options->rate_hz <= 10e6))
        return lds_fail(error, LDS_BAD_USE, "%s: headerless samples need their rate, 8 kHz to 10 MHz: state it",
                        source->name);
    if (options->channels < 1 || options->channels > LDS_CHANNELS_MAX)
        return lds_fail(error, LDS_BAD_USE, "%s: headerless samples need the number of channels, 1 to %d: state it",
                        source->name, LDS_CHANNELS_MAX);
    int frame = (*encoding)->bytes * options->channels;
    if (source->size % frame != 0)
        return lds_fail(error, LDS_BAD_INPUT,
                        "%s: %lld bytes are not a whole number of %d-byte frames: check the encoding and "
                        "the number of channels",
                        source->name, (long long)source->size, frame);
    return LDS_OK;
}

enum lds_status lds_headerless_open(struct lds_source *source, const struct lds_capture_options *options,
                                    struct lds_capture *capture, struct lds_error *error)
{
    const struct encoding *encoding;
    enum lds_status status = check_statement(source, options, &encoding, error);
    if (status)
        return status;
    status = open_raw(source, encoding->format, options->channels, options->rate_hz, capture, error);
    snprintf(capture->info.format, sizeof capture->info.format, "headerless %s", encoding->name);
    return status;
}
