/* The first search for a stated sweep or noise in a channel: a matched filter on decimated samples, whatever the length
 * of the capture. */
#ifndef LDS_MEASURE_KNOWN_SEARCH_H
#define LDS_MEASURE_KNOWN_SEARCH_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/signal.h"

struct lds_search;

/* rate_hz: of the recorder. NULL: no memory. */
struct lds_search *lds_search_new(const struct lds_signal_spec *spec, double rate_hz);
/* The next samples of the channel. false: no memory. */
bool lds_search_push(struct lds_search *search, const double *x, size_t n);
/* Ends the search. *begin: the frame at which the signal begins, the first of its repeats, within a few milliseconds if
 * clocks differ by 200 ppm. *match: the correlation there, 0 to 1. */
void lds_search_finish(struct lds_search *search, double *begin, double *match);
void lds_search_free(struct lds_search *search);

#endif
