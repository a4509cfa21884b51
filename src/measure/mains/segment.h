/* What the parts of the mains analysis share: one segment of the slow stream. Complex amplitudes C are those of the
 * positive frequency alone, so a line has the mean square 2 |C|^2. */
#ifndef LDS_MEASURE_MAINS_SEGMENT_H
#define LDS_MEASURE_MAINS_SEGMENT_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>

#include "measure/mains/mains.h"

/* CMPLX of C11, which some compilers' libraries lack. */
static inline double complex lds_complex(double re, double im)
{
    return __builtin_complex(re, im);
}

enum {
    LDS_MAINS_TONES = 64,    /* the tone and its harmonics up to 2 kHz plus a lobe; below 31 Hz some are left out */
    LDS_MAINS_SIDEBANDS = 4, /* on each side of each of them: m f1 +- j f for j up to this */
    LDS_MAINS_LINES = 3 * LDS_MAINS_TONES
};

/* The transform of a segment with tapered edges. */
struct lds_mains_spectrum {
    double rate_hz;
    double seconds; /* of the segment */
    double taper_s; /* length of each edge; side lobes end 7/taper_s away from a line */
    double bin_hz;
    double enbw_hz; /* noise bandwidth of the tapered segment */
    size_t padded, bins;
    double complex *bin; /* scaled so that a line has the mean square 2 |bin|^2; uses the segment's memory */
};

/* Number of doubles that a segment of up to n samples needs, with its padding. */
size_t lds_mains_spectrum_room(size_t n, double rate_hz);
/* Tapers and transforms in place: x, from fftw_malloc and with room as above, becomes spectrum->bin. false: no
 * memory. */
bool lds_mains_spectrum_make(struct lds_mains_spectrum *spectrum, double *x, size_t n, double rate_hz);
/* The taper at relative time u (0..1 over the segment), rising and falling; each edge is the share `edge` of the
 * segment. */
double lds_mains_taper(double edge, double u);

/* The tone and its harmonics at their frequencies in this segment, followed by their sidebands. */
struct lds_mains_tones {
    int count;
    int harmonics;              /* of these: the tone and its harmonics */
    int order[LDS_MAINS_LINES]; /* multiple of the mains in the line's frequency: 0 for harmonics, +-j for sidebands */
    double frequency_hz[LDS_MAINS_LINES];
    double power[LDS_MAINS_LINES];
    bool faint[LDS_MAINS_LINES]; /* a harmonic that does not stand out of the noise: it disturbs nothing beside it */
};
/* second_hz: of a second tone, whose products with the first count as harmonics too; or NAN. */
void lds_mains_tones_find(const struct lds_mains_spectrum *spectrum, double tone_hz, double second_hz,
                          struct lds_mains_tones *tones);
/* Distance to the nearest of them, Hz; INFINITY: there are none. */
double lds_mains_tones_distance(const struct lds_mains_tones *tones, double frequency_hz);
/* The frequency nearest to the given one where the tone, or a harmonic that is not weak, could have a sideband if the
 * mains is at mains_hz, whether or not there is one; INFINITY: there is no tone. *turns: by how many times the mains it
 * is away from its tone. */
double lds_mains_sideband_near(const struct lds_mains_tones *tones, double mains_hz, double frequency_hz, int *turns);

/* The comb that explains the segment best. */
struct lds_comb {
    double frequency_hz;
    double step_hz;                       /* uncertainty of the search */
    double log_evidence;                  /* natural log of an e-value: its mean is at most 1 in noise */
    double density[LDS_MAINS_ORDERS + 1]; /* noise around each order, as the search uses it; NAN: order not used */
    double floor[LDS_MAINS_ORDERS + 1];   /* the same, for every order within reach */
    double energy[LDS_MAINS_ORDERS + 1];  /* power above the mean of the noise, in units of one noise bin */
    double scatter[LDS_MAINS_ORDERS + 1]; /* its standard deviation in noise */
    bool beside[LDS_MAINS_ORDERS + 1];    /* a sideband of the tone could stand close to the order */
};
/* nominal_hz: NAN for 45..65 Hz. near_hz: a comb found before, near which the best is searched, or NAN. */
bool lds_comb_find(struct lds_comb *comb, const struct lds_mains_spectrum *spectrum,
                   const struct lds_mains_tones *tones, double nominal_hz, double near_hz);

/* Replaces the sidebands by those of a mains of this frequency that stand out of the noise. On a mains order, it may be
 * the order itself that stands out. */
void lds_mains_sidebands_find(const struct lds_mains_spectrum *spectrum, const struct lds_comb *comb, double mains_hz,
                              double wander_hz, struct lds_mains_tones *tones);

#define LDS_MAINS_FLAT 0.35 /* of the low rate: a band's filter is flat up to here */

/* Each order moved from k frequency_hz to 0 Hz, band limited, at a low rate. */
struct lds_mains_bands {
    double frequency_hz; /* of the first order: order k was moved by k times this */
    double rate_hz;
    size_t points;                           /* of one period of the padded segment */
    size_t inside;                           /* of these, inside the segment */
    double *taper;                           /* points: the tapered edges at their times */
    double complex *z[LDS_MAINS_ORDERS + 1]; /* points each; NULL: out of reach */
    double complex *store;
};
bool lds_mains_bands_make(struct lds_mains_bands *bands, const struct lds_mains_spectrum *spectrum,
                          double frequency_hz);
void lds_mains_bands_free(struct lds_mains_bands *bands);
/* Time of a point in steps of the low rate; the later half of the padding holds the filter's ringing before the start.
 */
double lds_mains_point_time(const struct lds_mains_bands *bands, size_t point);

/* The tracked phase of the comb, minus 2 pi bands->frequency_hz t. */
struct lds_mains_track {
    double *phase;       /* at each point */
    double frequency_hz; /* mean over the segment */
    double u_frequency_hz;
    double low_hz, high_hz; /* lowest and highest frequency of the fundamental */
    bool steered;           /* false: no order was clear enough of noise and tone to be followed */
};
bool lds_mains_track_make(struct lds_mains_track *track, const struct lds_mains_bands *bands,
                          const struct lds_comb *comb, const struct lds_mains_tones *tones, double taper_s);
void lds_mains_track_free(struct lds_mains_track *track);

/* Whether the whole band of the order is clear of the tone, so that the order may steer the track. */
bool lds_mains_band_clear(const struct lds_mains_bands *bands, const struct lds_mains_tones *tones, double taper_s,
                          int order);

/* How a sideband falls on an order: directly, folded about 0 Hz, or one of each. */
enum lds_mains_folding { LDS_MAINS_UPRIGHT, LDS_MAINS_FOLDED, LDS_MAINS_BOTH, LDS_MAINS_FOLDINGS };

/* Separates hum from sidebands of the tone on the same order. */
struct lds_mains_apart {
    int tone_order; /* the order that the tone is on, too close to be separated from it; 0: none */
    bool usable[LDS_MAINS_FOLDINGS];
    double bandwidth_hz[LDS_MAINS_FOLDINGS];    /* of the noise in the estimate */
    double complex *weight[LDS_MAINS_FOLDINGS]; /* bands->inside each */
    double error_gain[LDS_MAINS_FOLDINGS];
    double u_phase_rad;       /* rms error of the tracked phase */
    double complex *sideband; /* its shape, with unit length */
    double complex *store;
};
bool lds_mains_apart_make(struct lds_mains_apart *apart, const struct lds_mains_bands *bands,
                          const struct lds_mains_track *track, const struct lds_mains_tones *tones, double seconds);
void lds_mains_apart_free(struct lds_mains_apart *apart);
/* Whether a sideband of the tone would fall on this order, too close to be separated by frequency, and how. */
bool lds_mains_apart_shared(const struct lds_mains_apart *apart, int order, enum lds_mains_folding *kind);
/* From the order's band demodulated at its phase; only if apart->usable. */
struct lds_mains_hum {
    double complex amplitude; /* C */
    double bandwidth_hz;      /* of the noise in the estimate */
    double error_power;       /* mean square that the sideband may add, given the uncertainty of its phase */
};
void lds_mains_apart_measure(const struct lds_mains_apart *apart, const struct lds_mains_bands *bands, int order,
                             enum lds_mains_folding kind, const double complex *z, struct lds_mains_hum *hum);

/* Smooth phase through measurements: minimises sum information (phase - measured)^2 + lambda sum (second difference)^2,
 * lambda by the marginal likelihood. variance_of_ends: of the last minus the first phase. false: no memory. */
struct lds_smooth {
    size_t n;
    double step_s;
    const double *measured, *information;
    double *smooth;
    double variance_of_ends;
};
bool lds_smooth_phase(struct lds_smooth *smooth);

#endif
