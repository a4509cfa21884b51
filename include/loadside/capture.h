/* Captures: files of samples, read as a stream of interleaved doubles in full-scale units. */
#ifndef LOADSIDE_CAPTURE_H
#define LOADSIDE_CAPTURE_H

#include <stdbool.h>
#include <stdint.h>

#include "loadside/error.h"

#ifdef __cplusplus
extern "C" {
#endif

enum { LDS_CHANNELS_MAX = 64 };

struct lds_capture; /* opaque */

struct lds_capture_options {
    const char *encoding; /* NULL: from the file; else headerless: s8 u8 s16le s24le s32le f32le f64le, or ...be */
    double rate_hz;       /* headerless: rate, 8 kHz to 10 MHz */
    int channels;         /* headerless: 1 to 64 */
};

struct lds_capture_info {
    double rate_hz;
    int64_t frames; /* number of sample instants */
    int channels;
    int bits;        /* bits per sample in the container, 0 for floating point or text */
    bool in_volts;   /* samples are in volts already (two-column CSV); else 1.0 is full scale */
    char format[48]; /* "WAV 24 bit", "CSV", ... */
    char date[32];   /* ISO 8601 date from the file's metadata or modification time, "" when there is none */
};

/* Opens path ("-": standard input, copied to an unlinked temporary file first) for reading. options may be NULL. On
 * success *capture must be closed with lds_capture_close. Errors: LDS_IO (missing, unreadable, a directory),
 * LDS_BAD_INPUT (empty, not a capture, a wrong header, 0 or > 64 channels, a rate outside 8 kHz..10 MHz, an unsteady
 * time column, fewer than 2 frames), LDS_BAD_USE (headerless options incomplete). */
enum lds_status lds_capture_open(const char *path, const struct lds_capture_options *options,
                                 struct lds_capture **capture, struct lds_error *error);

/* A capture of samples in the caller's memory: frames x channels interleaved doubles in full-scale units. */
enum lds_status lds_capture_from_memory(const double *samples, int64_t frames, int channels, double rate_hz,
                                        struct lds_capture **capture, struct lds_error *error);

const struct lds_capture_info *lds_capture_info(const struct lds_capture *capture);

/* The name under which the capture was opened ("-" for standard input, "memory" for samples). */
const char *lds_capture_name(const struct lds_capture *capture);

/* Reads up to `frames` frames from the current position into samples[frames x channels]; *got: how many, 0 at the end.
 * LDS_BAD_INPUT: the data end before the header's length, or a sample is not finite or above 1e30 (the error has frame
 * and channel). */
enum lds_status lds_capture_read(struct lds_capture *capture, double *samples, int64_t frames, int64_t *got,
                                 struct lds_error *error);

/* Goes to a frame, 0 <= frame <= frames. */
enum lds_status lds_capture_seek(struct lds_capture *capture, int64_t frame, struct lds_error *error);

void lds_capture_close(struct lds_capture *capture);

#ifdef __cplusplus
}
#endif
#endif
