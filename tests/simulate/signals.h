/* Generators of signals with known content. Each adds to, or changes, n samples of x at rate_hz; levels are rms in the
 * unit of x. Phases are analytic integrals of the frequency, so no error accumulates. */
#ifndef SIM_SIGNALS_H
#define SIM_SIGNALS_H

#include <stdbool.h>
#include <stddef.h>

#include "simulate/random.h"

enum { SIM_ORDERS = 60 };

struct sim_tone {
    double frequency_hz;             /* mean over the capture */
    double level;                    /* rms of the fundamental at mid-capture */
    double phase_rad;                /* cosine convention, at the first sample */
    double creep_ppm;                /* linear change from end to end */
    double swing_ppm, swing_periods; /* peak sinusoidal change, and its number of periods in the capture */
    double drift_db_per_min;
    int orders;                          /* highest harmonic; 0 and 1: the fundamental alone */
    double relative[SIM_ORDERS + 1];     /* amplitude of harmonic k re the fundamental, k >= 2 */
    double relative_rad[SIM_ORDERS + 1]; /* phase_k - k phase_1 */
};

void sim_add_tone(double *x, size_t n, double rate_hz, const struct sim_tone *tone);

/* sqrt(sum of relative^2) over orders 2..last in dB: the tone's true THD, F-form. */
double sim_tone_thd_db(const struct sim_tone *tone, int last);

/* A tone whose amplitude and phase are modulated: m sin(2 pi f t + phase) of either gives two sidebands of m/2 each. */
struct sim_modulation {
    double frequency_hz;
    double depth; /* m; each sideband has a quarter of its power, relative to the tone */
    double phase_rad;
    bool of_phase; /* else of amplitude */
};
void sim_add_modulated(double *x, size_t n, double rate_hz, double frequency_hz, double level, double phase_rad,
                       const struct sim_modulation *modulation, size_t count);

/* A mains comb whose frequency wanders by +-wander_hz with wander_periods periods in the capture. */
struct sim_mains {
    double frequency_hz;
    double wander_hz, wander_periods;
    int orders;
    double level[SIM_ORDERS + 1];
    double phase_rad[SIM_ORDERS + 1];
};

void sim_add_mains(double *x, size_t n, double rate_hz, const struct sim_mains *mains);

/* White Gaussian noise of a one-sided density in unit/sqrt(Hz). */
void sim_add_white(double *x, size_t n, double rate_hz, double density, struct sim_random *random);

/* Gaussian noise of any power density (unit^2/Hz, one-sided), made in the frequency domain over at least twice the
 * capture and cut, so that the ends are not continuous. Exact at every frequency from rate/(2n) on; nothing at 0 Hz. */
struct sim_colour;
struct sim_colour *sim_colour_new(size_t n, double rate_hz, double (*density)(double frequency_hz, const void *context),
                                  const void *context);
void sim_colour_add(struct sim_colour *colour, double *x, struct sim_random *random);
void sim_colour_free(struct sim_colour *colour);

/* a (1 + corner/f): the density of an amplifier's noise. */
struct sim_flicker {
    double power; /* a, unit^2/Hz */
    double corner_hz;
};
double sim_flicker_density(double frequency_hz, const void *flicker);

/* Rounds to `bits` bits, full scale 1.0, after TPDF dither of 2 steps peak to peak (none when random is NULL). */
void sim_quantise(double *x, size_t n, int bits, struct sim_random *random);

/* y = sum of coefficient[i] x^i. */
void sim_polynomial(double *x, size_t n, const double *coefficient, size_t count);

/* Clips to +-level. */
void sim_clip(double *x, size_t n, double level);

/* Zeroed samples; the program ends with a message when there is no memory. */
double *sim_samples(size_t n);

#endif
