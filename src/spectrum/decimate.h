/* Decimation by powers of two through linear-phase half-band filters that reject aliases by more than 170 dB. */
#ifndef LDS_SPECTRUM_DECIMATE_H
#define LDS_SPECTRUM_DECIMATE_H

#include <stdbool.h>
#include <stddef.h>

struct lds_decimator;

/* Halves the rate `stages` times. Frequencies up to passband (as a fraction of the last output rate, <= 0.4) stay flat
 * and free of aliases; chunk is the longest push. NULL: no memory. */
struct lds_decimator *lds_decimator_new(int stages, double passband, size_t chunk);

/* Pushes n <= chunk samples; *out points to the *produced output samples, valid until the next push. Without stages
 * *out is the input itself. */
void lds_decimator_push(struct lds_decimator *decimator, const double *x, size_t n, const double **out,
                        size_t *produced);

/* Input samples between the first input and the centre of the first output. */
size_t lds_decimator_delay(const struct lds_decimator *decimator);

/* Gain at a frequency given as a fraction of the input rate (for tests). */
double lds_decimator_gain(const struct lds_decimator *decimator, double frequency);

void lds_decimator_free(struct lds_decimator *decimator);

#endif
