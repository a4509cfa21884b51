/* A second look at a short stretch, before the pass: is there a tone, and where. */
#ifndef LDS_MEASURE_SCOUT_H
#define LDS_MEASURE_SCOUT_H

#include <stdbool.h>
#include <stddef.h>

struct lds_scout {
    double tone_hz; /* NAN: there is none */
    double level;   /* rms of that tone, of samples */
    char why[160];  /* why there is none, for the absent figures */
};

/* Looks at n samples at rate_hz (decimated to the audio level). in_volts: 1.0 is not full scale. given_hz: NAN: look;
 * 0: there is none; else the tone is looked for within one lobe of it. false: no memory. */
bool lds_scout_look(const double *x, size_t n, double rate_hz, bool in_volts, double given_hz, struct lds_scout *scout);

/* The lowest tone that a look at n samples can find. */
double lds_scout_lowest_hz(size_t n, double rate_hz);

#endif
