/* One segment of the slow stream around the tone: removes the tone and gives the spectrum of the rest. */
#ifndef LDS_MEASURE_TONE_ZOOM_SEGMENT_H
#define LDS_MEASURE_TONE_ZOOM_SEGMENT_H

#include <complex.h>
#include <fftw3.h>
#include <stdbool.h>
#include <stddef.h>

struct lds_zoom_segment {
    size_t n;
    double *shape;    /* the analysis window */
    double sum;       /* of the window */
    double moment[2]; /* of the window, t in half lengths from the middle: mean of t^2, and variance of t^2 */
    double complex *work;
    double complex *rest; /* the samples with the tone at 0 Hz */
    double *scratch;      /* NULL: lines close enough to disturb the tone are not looked for */
    fftw_plan forward;
};

/* close: lines a few bins from the tone are of interest. false: no memory; call lds_zoom_segment_free all the same. */
bool lds_zoom_segment_init(struct lds_zoom_segment *segment, size_t n, bool close);
void lds_zoom_segment_free(struct lds_zoom_segment *segment);

/* x: n complex samples, real and imaginary parts interleaved. offset: expected position of the tone, cycles a sample.
 * Adds |X|^2 of the windowed rest to power[n], where [0] is where the tone was found. */
void lds_zoom_segment_add(struct lds_zoom_segment *segment, const double *x, double offset, double *power);

#endif
