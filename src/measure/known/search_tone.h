/* The first search for a stated signal made of steady tones: a sine, two tones, a staircase, bursts. The envelope of
 * its first tone, in frames, is compared with that of the reference. */
#ifndef LDS_MEASURE_KNOWN_SEARCH_TONE_H
#define LDS_MEASURE_KNOWN_SEARCH_TONE_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/signal.h"

struct lds_tone_search;

struct lds_tone_search *lds_tone_search_new(const struct lds_signal_spec *spec, double rate_hz);
/* false: no memory. */
bool lds_tone_search_push(struct lds_tone_search *search, const double *x, size_t n);
/* As lds_search_finish; the beginning is known to a frame, some 5 ms. like: how alike the envelopes are,
 * 0 to 1. */
void lds_tone_search_finish(struct lds_tone_search *search, double *begin, double *match, double *like);
void lds_tone_search_free(struct lds_tone_search *search);

#endif
