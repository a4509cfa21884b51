/* The FFT stage: one pass over a channel's samples, in constant memory. A cascade of decimators feeds one Welch average
 * per level; every frame also goes to a listener, which measures lines and compares the noise of channels. */
#ifndef LDS_SPECTRUM_CASCADE_H
#define LDS_SPECTRUM_CASCADE_H

#include <complex.h>
#include <fftw3.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "spectrum/density.h"

/* What all channels share: levels, windows, FFT plans. level[0] is the slowest. */
struct lds_plan {
    double rate_hz;
    int64_t frames;
    double end_hz;
    int levels;
    struct lds_plan_level {
        int shift; /* rate is rate_hz / 2^shift */
        double rate_hz;
        int n, hop;
        double low_hz, high_hz; /* the part of the composite spectrum taken from this level */
        double *window;
        fftw_plan fft;
    } level[LDS_LEVELS_MAX];
    int audio;      /* the level on which lines up to 20 kHz are measured */
    int slow_shift; /* of the slow stream, on which the mains is measured */
    double slow_rate_hz;
};

/* lowest_hz: lowest tone to be resolved, or 0; lines_to_hz: highest harmonic wanted. false: no memory. */
bool lds_plan_make(struct lds_plan *plan, double rate_hz, int64_t frames, double lowest_hz, double lines_to_hz);
/* Lines on the audio level that are closer cannot be told apart in a capture of that length. */
double lds_plan_finest_hz(double rate_hz, int64_t frames);
/* How many times the rate is halved for the level on which lines up to 20 kHz are measured. */
int lds_audio_shift(double rate_hz);
void lds_plan_free(struct lds_plan *plan);

/* One frame: spectrum[b] = sum_n w[n] x[n] exp(-2 pi i b n / N), b = 0..n/2. */
struct lds_frame {
    int level, index;
    double centre_s; /* of the frame, from the start of the capture */
    const double complex *spectrum;
};

struct lds_listener {
    void *context;
    void (*frame)(void *context, const struct lds_frame *frame);
    void (*slow)(void *context, const double *x, size_t n);  /* the slow stream */
    void (*audio)(void *context, const double *x, size_t n); /* the stream of the audio level */
};

struct lds_cascade;

enum { LDS_CHUNK = 2048 };

struct lds_cascade *lds_cascade_new(const struct lds_plan *plan, const struct lds_listener *listener);
/* Pushes n samples of the channel. */
void lds_cascade_push(struct lds_cascade *cascade, const double *x, size_t n);
/* Ends the pass: moves the averages into *density, to be freed by lds_density_free. Nothing may be pushed
 * afterwards. */
void lds_cascade_finish(struct lds_cascade *cascade, struct lds_density *density);
void lds_cascade_free(struct lds_cascade *cascade);
/* Seconds from the capture's start to the first sample of the audio level's stream. */
double lds_cascade_audio_start_s(const struct lds_cascade *cascade);
/* The same for the slow stream. */
double lds_cascade_slow_start_s(const struct lds_cascade *cascade);

void lds_density_free(struct lds_density *density);

#endif
