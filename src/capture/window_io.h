/* Lets libsndfile read headerless samples within a file: the data after a header that does not state their length. */
#ifndef LDS_CAPTURE_WINDOW_IO_H
#define LDS_CAPTURE_WINDOW_IO_H

#include <sndfile.h>
#include <stdint.h>

struct lds_window_io {
    int fd; /* owned by the caller */
    int64_t start, size, at;
};

/* about->format must be SF_FORMAT_RAW with a coding. io must outlive the file. */
SNDFILE *lds_window_open(struct lds_window_io *io, SF_INFO *about);

#endif
