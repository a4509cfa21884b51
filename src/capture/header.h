/* Compares what the header of a chunked sound file (RIFF/WAVE, RF64, W64, AIFF, CAF) states with what the file holds.
 * libsndfile silently shortens a capture whose data end early; a measurement must not. */
#ifndef LDS_CAPTURE_HEADER_H
#define LDS_CAPTURE_HEADER_H

#include "capture/reader.h"

struct lds_header {
    bool chunked;        /* it has one of these forms; else the members below are not set */
    bool stream;         /* written without knowing the length: the samples continue to the end of the file */
    int64_t data_offset; /* bytes */
    int64_t data_bytes;  /* as the header states; for a stream, up to the end of the file */
};

/* LDS_BAD_INPUT: no chunk of samples, more promised than the file holds, 0 or > 64 channels, rate 0. Other files are
 * accepted unchecked. */
enum lds_status lds_header_read(const struct lds_source *source, struct lds_header *header, struct lds_error *error);

#endif
