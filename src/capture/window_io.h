/* libsndfile reading headerless samples from within a file: what follows a header that does not state their length. */
#ifndef LDS_CAPTURE_WINDOW_IO_H
#define LDS_CAPTURE_WINDOW_IO_H

#include <sndfile.h>
#include <stdint.h>

struct lds_window_io {
    int fd; /* the caller's */
    int64_t start, size, at;
};

/* about->format is SF_FORMAT_RAW with a coding. io must outlive the file. */
SNDFILE *lds_window_open(struct lds_window_io *io, SF_INFO *about);

#endif
