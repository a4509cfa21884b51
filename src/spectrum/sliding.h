/* A window that slides over a stream: the last `length` samples, returned every `hop` samples. The buffer has twice the
 * length, so that samples are rarely moved. */
#ifndef LDS_SPECTRUM_SLIDING_H
#define LDS_SPECTRUM_SLIDING_H

#include <stddef.h>

struct lds_sliding {
    size_t length, hop;
    double *buffer;
    size_t first, filled; /* start of the window; number of samples from there */
};

/* buffer: room for 2 length samples, owned by the caller. */
void lds_sliding_init(struct lds_sliding *sliding, double *buffer, size_t length, size_t hop);

/* Takes *taken of the n samples, as many as the window needs, and returns the window when it is full; it is valid until
 * the next call. NULL: all n were taken and the window is not full yet. */
const double *lds_sliding_push(struct lds_sliding *sliding, const double *x, size_t n, size_t *taken);

#endif
