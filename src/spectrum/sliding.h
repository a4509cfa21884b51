/* A window that slides over a stream: the last `length` samples, offered every `hop` samples. Room for two lengths, so
 * that samples are seldom moved. */
#ifndef LDS_SPECTRUM_SLIDING_H
#define LDS_SPECTRUM_SLIDING_H

#include <stddef.h>

struct lds_sliding {
    size_t length, hop;
    double *buffer;
    size_t first, filled; /* first sample of the window, samples from there */
};

/* buffer: room for 2 length samples, which the caller keeps and frees. */
void lds_sliding_init(struct lds_sliding *sliding, double *buffer, size_t length, size_t hop);

/* Takes as many of the n samples as the window needs, *taken of them, and returns the window when it is full: it holds
 * until the next call. NULL: all n were taken and the window is not full yet. */
const double *lds_sliding_push(struct lds_sliding *sliding, const double *x, size_t n, size_t *taken);

#endif
