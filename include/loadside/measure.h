/* From a capture to figures. */
#ifndef LOADSIDE_MEASURE_H
#define LOADSIDE_MEASURE_H

#include "loadside/capture.h"
#include "loadside/measurement.h"
#include "loadside/signal.h"

#ifdef __cplusplus
extern "C" {
#endif

enum { LDS_BANDS_MAX = 16, LDS_PAIRS_MAX = 32 };

struct lds_band {
    double low_hz, high_hz;
};

/* What the user says was played. */
struct lds_stated_signal {
    enum lds_signal_kind kind; /* NONE: not stated, it is recognised */
    double frequency_hz[2];    /* as in struct lds_signal; NAN: not stated. Those of tones are then searched for */
};

struct lds_measure_options {
    struct lds_bench bench;              /* used unchanged; the measurement keeps a copy */
    struct lds_band band[LDS_BANDS_MAX]; /* bands requested besides the default ones */
    size_t bands;
    int channel;                  /* 1..: only this one; 0: all */
    int driven[LDS_CHANNELS_MAX]; /* driven channels, from 1; `drivens` of them */
    size_t drivens;               /* 0: decided from their levels (docs/figures.md) */
    int pair[LDS_PAIRS_MAX][2];   /* pairs of channels to measure together, from 1; `pairs` of them */
    size_t pairs;                 /* 0: the first channel measured with the second, the third with the fourth, ... */
    double mains_hz;              /* nominal mains; NAN: the bench's, else searched between 45 and 65 Hz */
    double tone_hz;               /* tone to measure; NAN: search, or as `signal` says; 0: there is none (idle) */
    struct lds_stated_signal signal;
    struct lds_signal_spec known; /* what was played, from its sidecar; it is then found in the capture, and `signal` is
                                   * not used. kind NONE: not known */
    double settle_band_v;         /* V: the output has settled once it stays within +-this (default 50 mV) */
    double bias_ohm;              /* ohm: resistance that a bias current flows through; NAN: not stated */
    int reference;                /* the channel that holds the amplifier's input, from 1; 0: none */
    int threads;                  /* 0: as many as cores. The result is the same to the bit for any number */
    bool curves;                  /* fill the curves for plots */
    /* Called now and then from the thread that called lds_measure; NULL: not wanted. */
    void (*progress)(void *context, const char *doing, double fraction);
    void *progress_context;
};

void lds_measure_options_init(struct lds_measure_options *options);

/* Hz: how far figures of a capture can reach: 0.45 of its rate, or as far as the bench is trusted (docs/figures.md).
 * Captures to be compared are measured with usable_to_hz lowered to where all of them reach. */
double lds_measure_end_hz(double rate_hz, const struct lds_bench *bench);

struct lds_tone {
    int channel;         /* from 1 */
    double frequency_hz; /* NAN: no tone was found */
    double level;        /* rms, in the channel's linear unit (measurement.h) */
    int tones;           /* number of strong tones, this one included, without those that derive from another */
    double second_hz;    /* of a second one; NAN: there is none */
    bool perhaps_hum;    /* the tone may just as well be mains hum */
};

/* Only the short look with which lds_measure begins, at the middle of the capture: the tone of each channel that it
 * would measure. tone has room for LDS_CHANNELS_MAX. Errors as below. */
enum lds_status lds_measure_tones(struct lds_capture *capture, const struct lds_measure_options *options,
                                  struct lds_tone *tone, size_t *tones, struct lds_error *error);

/* Measures the capture in one pass (after a short look for the tone) in memory that does not grow with its length.
 * *measurement must be freed with lds_measurement_free, even after an error. LDS_BAD_INPUT: too short (< 0.2 s), or
 * what lds_capture_read finds; LDS_BAD_USE: a channel that does not exist, a band with its edges swapped, a tone that
 * the capture cannot hold. */
enum lds_status lds_measure(struct lds_capture *capture, const struct lds_measure_options *options,
                            struct lds_measurement *measurement, struct lds_error *error);

#ifdef __cplusplus
}
#endif
#endif
