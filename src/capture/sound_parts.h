/* What the reader of sound files does besides calling libsndfile. */
#ifndef LDS_CAPTURE_SOUND_PARTS_H
#define LDS_CAPTURE_SOUND_PARTS_H

#include <sndfile.h>

#include "capture/reader.h"

/* Compares what the header of a chunked sound file (RIFF/WAVE, RF64, W64, AIFF, CAF) states with what the file holds.
 * libsndfile silently shortens a capture whose data end early; a measurement must not. */
struct lds_header {      /* of another form: all 0 */
    bool stream;         /* written without knowing the length: the samples continue to the end of the file */
    int64_t data_offset; /* bytes */
    int64_t data_bytes;  /* as the header states; for a stream, up to the end of the file */
};

/* LDS_BAD_INPUT: no chunk of samples, more promised than the file holds, 0 or > 64 channels, rate 0. Other files are
 * accepted unchecked. */
enum lds_status lds_header_read(const struct lds_source *source, struct lds_header *header, struct lds_error *error);

/* Detects MAT files that end within their matrices; libsndfile silently shortens them. LDS_BAD_INPUT when a matrix of
 * the file (level 4 or 5) is incomplete. */
enum lds_status lds_mat_check(const struct lds_source *source, int level, struct lds_error *error);

/* Lets libsndfile read headerless samples within a file: the data after a header that does not state their length. */
struct lds_window_io {
    int fd; /* owned by the caller */
    int64_t start, size, at;
};

/* about->format must be SF_FORMAT_RAW with a coding. io must outlive the file. */
SNDFILE *lds_window_open(struct lds_window_io *io, SF_INFO *about);

/* Whether packed samples in this machine's byte order can be unpacked here (little-endian machines). */
bool lds_unpack24_fits(void);

/* Converts count packed 24-bit little-endian integers to doubles, full scale 1.0. packed may be the last 3 x count
 * bytes of samples. */
void lds_unpack24(const unsigned char *packed, double *samples, int64_t count);

#endif
