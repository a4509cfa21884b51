/* The bands of frequency in which a sweep is measured. A sweep is at one frequency at a time, so each band needs only a
 * part of the capture, at a lower rate for low frequencies. Together these are half as many samples as one transform of
 * everything would take, and the long parts that low frequencies need have few samples. */
#ifndef LDS_MEASURE_KNOWN_SWEEP_BANDS_H
#define LDS_MEASURE_KNOWN_SWEEP_BANDS_H

#include <complex.h>

#include "measure/known/blocks.h"
#include "spectrum/fft.h"

/* Times longest_s: the length of a part, including what comes before its place. */
static const double LDS_SWEEP_PART_MOST = 1.5;
static const double LDS_SWEEP_FADE_S = 0.05;
enum { LDS_SWEEP_BANDS = 3, LDS_ORDERS_LAST = 9 /* of the distortion that is reported */ };

#define LDS_SWEEP_LONGEST_S 2.0 /* of a part: an amplifier with a corner at 1 Hz has settled */

struct lds_sweep_band {
    int shift; /* its rate is that of the capture over 2^shift */
    double rate_hz;
    double low_hz, high_hz; /* the frequencies taken from it; 0 and INFINITY at the ends */
    double longest_s;       /* the longest that a part of its impulse response is after its place */
    size_t first, samples;  /* of the stream at its rate: the samples that it needs */
    double begin;           /* frame of the capture at which sample `first` is */
    bool fades_in, fades_out;
    bool ends;      /* the end of the sweep shows in its linear response */
    size_t n;       /* of the transform, even */
    fftw_plan plan; /* in place, of any memory */
};

/* The bands of a stretch with a sweep, from the lowest up; the same for all channels. */
struct lds_sweep_bands {
    const struct lds_signal_spec *spec;
    size_t frames; /* of the stretch */
    size_t count;
    struct lds_sweep_band band[LDS_SWEEP_BANDS];
    size_t part_n; /* of the transform of a part of any of the impulse responses */
    fftw_plan part_plan;
};

/* known: roughly where the signal is. Plans are not made yet. false: no memory. */
bool lds_sweep_bands_make(struct lds_sweep_bands *bands, const struct lds_stretch *stretch,
                          const struct lds_known *known);
/* false: no memory. */
bool lds_sweep_bands_plan(struct lds_sweep_bands *bands);
void lds_sweep_bands_free(struct lds_sweep_bands *bands);

/* The edges of a band, whose response is flat from low_hz to high_hz and a little beyond: 0 to 1. */
double lds_sweep_band_edges(const struct lds_sweep_band *band, double hz);

/* How many numbers the memory for a band's samples must hold, so that their spectrum can take their place. */
size_t lds_sweep_band_room(const struct lds_sweep_band *band);
/* Fades the samples in and out where the capture goes on beyond them, and puts their spectrum, n/2 + 1 complex numbers,
 * in their place. */
void lds_sweep_band_transform(const struct lds_sweep_band *band, double *x);

/* The spectra of a channel in all bands. */
struct lds_sweep_spectra {
    double complex *of[LDS_SWEEP_BANDS];
    double *scratch; /* room for one more */
    double *own;     /* allocated if the memory lent is too small */
};

/* Puts them into `memory`, which has room for `room` numbers. The stretch may be in that memory too, and is then
 * overwritten. false: no memory. */
bool lds_sweep_spectra_make(struct lds_sweep_spectra *spectra, const struct lds_sweep_bands *bands,
                            const struct lds_stretch *stretch, double *memory, size_t room);
void lds_sweep_spectra_free(struct lds_sweep_spectra *spectra);

/* How far order k comes before the linear response: L ln k, L = seconds/ln(to/from). */
double lds_sweep_length_s(const struct lds_signal_spec *spec);

/* 0 below from, 1 above to, smooth between. */
double lds_sweep_rise(double x, double from, double to);

#endif
