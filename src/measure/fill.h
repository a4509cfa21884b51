/* Reads a block of a capture, as long as was asked for or up to the capture's end. */
#ifndef LDS_MEASURE_FILL_H
#define LDS_MEASURE_FILL_H

#include "loadside/capture.h"

/* Reads until `wanted` frames are there; fewer only at the end. */
enum lds_status lds_fill(struct lds_capture *capture, double *frames, int64_t wanted, int64_t *got,
                         struct lds_error *error);

#endif
