/* The tone of a capture, which besides role and power distinguishes sines. */
#ifndef LDS_JOB_TONE_H
#define LDS_JOB_TONE_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/job.h"

/* Unknown equals unknown; else within 1 %, like tones that are compared (docs/figures.md). */
bool lds_same_tone(double one_hz, double other_hz);

/* Channels that are not driven show the tone of a driven one. */
bool lds_tone_is_driven(const struct lds_tone *tone, size_t tones, size_t place);

/* Frequency of the first driven channel; NAN: there is no tone. */
double lds_tone_of(const struct lds_tone *tone, size_t tones);

/* Whether a channel was found to be driven. */
bool lds_is_driven(const struct lds_measurement *measurement, int channel);

/* The figure tone.level in a linear unit, comparable between the channels of a capture. */
double lds_tone_level(const struct lds_figure *level);

/* The tone of a measured capture that distinguishes it from others: for a sine, the stated one or else the measured
 * one. */
double lds_tone_of_capture(const struct lds_sheet_capture *capture, const struct lds_measurement *measurement);

/* The load into which a measured capture's power goes: that of the channel with the highest power. NAN: not stated. */
double lds_load_of_capture(const struct lds_measurement *measurement);

/* The measured tones; tone has room for LDS_CHANNELS_MAX. Returns how many. */
size_t lds_tones_measured(const struct lds_measurement *measurement, struct lds_tone *tone);

#endif
