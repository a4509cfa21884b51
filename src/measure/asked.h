/* What the user asked for and stated about the signal, checked against what the capture can give. */
#ifndef LDS_MEASURE_ASKED_H
#define LDS_MEASURE_ASKED_H

#include <stdbool.h>

#include "loadside/measure.h"

struct lds_asked {
    const struct lds_capture_info *info;
    const struct lds_measure_options *options;
    struct lds_stated_signal stated;          /* tone_hz of the options included */
    size_t channels;                          /* to measure */
    int channel[LDS_CHANNELS_MAX];            /* their numbers in the capture, from 0 */
    struct lds_bench bench[LDS_CHANNELS_MAX]; /* of each of them; its pointers point into the options */
    size_t pairs;
    size_t pair[LDS_PAIRS_MAX][2]; /* indices into `channel`, the lower channel first */
};

/* Errors as in lds_measure. info and options must outlive it; nothing to free. */
enum lds_status lds_asked_check(const struct lds_capture_info *info, const struct lds_measure_options *options,
                                struct lds_asked *asked, struct lds_error *error);
/* Whether the capture can hold the tones that were stated. */
enum lds_status lds_asked_check_tones(const struct lds_asked *asked, struct lds_error *error);
/* Whether one tone or two were stated. */
bool lds_asked_has_tones(const struct lds_asked *asked);

#endif
