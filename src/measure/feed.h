/* Hands a stretch of a capture to each of its channels, block by block. The channels run in parallel with each other
 * and with the reader. */
#ifndef LDS_MEASURE_FEED_H
#define LDS_MEASURE_FEED_H

#include "measure/asked.h"

struct lds_feed {
    struct lds_capture *capture;
    const struct lds_asked *asked;
    int64_t first, frames;    /* of the capture */
    size_t channel, channels; /* of those measured: the first, and how many */
    const char *what;         /* for the error when a function returns false: there is no memory for this */
    void *context;            /* of both functions */
    bool (*take)(void *context, size_t channel, int64_t at, const double *x, size_t n); /* at: frames from `first` */
    bool (*beside)(void *context); /* something else to do meanwhile; NULL: nothing */
};

enum lds_status lds_feed_run(const struct lds_feed *feed, struct lds_error *error);

#endif
