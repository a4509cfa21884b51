/* The back end of a capture: something that gives frames of interleaved doubles. */
#ifndef LDS_CAPTURE_READER_H
#define LDS_CAPTURE_READER_H

#include <stddef.h>

#include "loadside/capture.h"

#define LDS_RATE_MIN_HZ 8e3
#define LDS_RATE_MAX_HZ 10e6

struct lds_reader {
    /* Reads up to `frames` frames; fewer only at the end of the data. -1: reading failed. */
    int64_t (*read)(void *state, double *samples, int64_t frames);
    bool (*seek)(void *state, int64_t frame);
    void (*close)(void *state);
};

struct lds_capture {
    const struct lds_reader *reader;
    void *state;
    int fd; /* the file that the reader reads; -1: none */
    char *name;
    struct lds_capture_info info;
    int64_t position;
    int64_t first, whole; /* lds_capture_limit: the frame that counts as 0, and all frames; whole 0: no limit yet */
};

/* A seekable file open for reading, with what is known about it before its format is known. */
struct lds_source {
    const char *name; /* for messages */
    int fd;
    int64_t size;
    char date[32]; /* ISO 8601 modification time, "" when there is none */
};

/* A capture of that name, without a reader; NULL: no memory. */
struct lds_capture *lds_capture_new(const char *name);

/* Each sets capture->reader, state and info from the source, whose descriptor must stay open as long as the capture.
 * lds_csv_open replaces it by that of a temporary file with the volts. */
enum lds_status lds_sound_open(struct lds_source *source, struct lds_capture *capture, struct lds_error *error);
enum lds_status lds_headerless_open(struct lds_source *source, const struct lds_capture_options *options,
                                    struct lds_capture *capture, struct lds_error *error);
enum lds_status lds_csv_open(struct lds_source *source, struct lds_capture *capture, struct lds_error *error);

/* Whether something that begins like the source can be a sound file, or text with rows of time and volts; the rest may
 * be missing. The caller keeps the descriptor. */
enum lds_status lds_sound_look(const struct lds_source *source, struct lds_error *error);
enum lds_status lds_csv_look(const struct lds_source *source, struct lds_error *error);

/* Interleaved native doubles from the start of the file, as the text reader writes them. */
enum lds_status lds_doubles_open(struct lds_source *source, int channels, double rate_hz, struct lds_capture *capture,
                                 struct lds_error *error);

/* Refuses rates outside 8 kHz..10 MHz, 0 or more than LDS_CHANNELS_MAX channels and fewer than 2 frames. */
enum lds_status lds_capture_check(const struct lds_capture *capture, struct lds_error *error);

/* From now on the capture is these frames, and frame 0 is the first of them; frames 0: all of it again. Seek before
 * reading on. */
void lds_capture_limit(struct lds_capture *capture, int64_t first, int64_t frames);

/* Samples must be smaller than this, in full scales or in volts: 2^100, about 1e30. Sums of fourth powers then stay far
 * from overflow. */
#define LDS_SAMPLE_LIMIT 0x1p100

/* Finite, and below the limit. */
bool lds_finite_is_sample(double value);
/* Index of the first invalid value, -1 when there is none. */
int64_t lds_finite_first_bad(const double *samples, int64_t count);
/* Describes such a value for an error: "not a number", ...; may be written to text, which has room for 64. */
const char *lds_finite_fault(double value, char *text, size_t size);

#endif
