/* Taking a part of a capture for the whole. */
#ifndef LDS_CAPTURE_LIMIT_H
#define LDS_CAPTURE_LIMIT_H

#include "loadside/capture.h"

/* From now on the capture is these frames, and frame 0 is the first of them; frames 0: all of it again. Seek before
 * reading on. */
void lds_capture_limit(struct lds_capture *capture, int64_t first, int64_t frames);

#endif
