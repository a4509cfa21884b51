/* A second implementation of the weighting curves, from the standards' formulas, to check the library's own. */
#ifndef SIM_WEIGHTING_H
#define SIM_WEIGHTING_H

/* IEC 61672-1:2013 annex E: gain in dB, 0 at 1 kHz, with the exact poles that follow from the design goals. */
double sim_a_weighting_db(double frequency_hz);

/* The response of the network of ITU-R BS.468-4, by the rational function in wide circulation; dB, 0 at 1 kHz. */
double sim_itu468_weighting_db(double frequency_hz);

/* The integral of weight(f) density(f) from low to high, weight being 10^(dB/10) (NULL: 1): Simpson's rule on 20000
 * steps of equal log f. */
double sim_band_power(double low_hz, double high_hz, double (*density)(double, const void *), const void *context,
                      double (*weighting_db)(double));

#endif
