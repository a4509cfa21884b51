/* What the header of a chunked sound file (RIFF/WAVE, RF64, W64, AIFF, CAF) promises, against what the file holds.
 * libsndfile quietly shortens a capture whose data end early; a measurement must not. */
#ifndef LDS_CAPTURE_HEADER_H
#define LDS_CAPTURE_HEADER_H

#include "capture/reader.h"

struct lds_header {
    bool chunked;        /* one of those forms: the rest holds */
    bool stream;         /* written without knowing the length: the samples run to the end of the file */
    int64_t data_offset; /* bytes */
    int64_t data_bytes;  /* what the header says; for a stream, up to the end of the file */
};

/* LDS_BAD_INPUT: no samples chunk, more promised than is there, 0 or > 64 channels, rate 0. Other files pass unseen. */
enum lds_status lds_header_read(const struct lds_source *source, struct lds_header *header, struct lds_error *error);

#endif
