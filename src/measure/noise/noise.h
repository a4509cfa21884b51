/* Noise figures from the floor of one channel. */
#ifndef LDS_MEASURE_NOISE_NOISE_H
#define LDS_MEASURE_NOISE_NOISE_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/measure.h"
#include "measure/spurs/lines.h"

struct lds_noise_scale;

/* The bands that are always measured. */
enum { LDS_NOISE_BANDS = 3 };
extern const struct lds_band lds_noise_bands[LDS_NOISE_BANDS];

struct lds_noise_request {
    const struct lds_band *band; /* bands requested besides the default ones */
    size_t bands;
};

/* Appends noise.band.*, noise.total.*, noise.a, noise.itu468, noise.density.*, noise.corner, noise.slope,
 * capture.bandwidth and the curve noise.floor, or the reason why one is absent. The tone and its harmonics are excluded
 * from all of them, hum and spurs from all but noise.total, noise.a and noise.itu468. false: no memory. */
bool lds_noise_measure(struct lds_channel *channel, const struct lds_floor *floor, const struct lds_noise_scale *scale,
                       const struct lds_noise_request *request);

/* Marks all of them absent with the reason. false: no memory. */
bool lds_noise_absent(struct lds_channel *channel, const struct lds_noise_request *request, const char *why);

/* How densities and bands of the floor become values at the load: power in the channel's linear unit squared. */
struct lds_noise_scale {
    double per_unit;               /* volts for a sample of 1.0, or 1 when not calibrated */
    const struct lds_bench *bench; /* NULL: flat */
    double relative_u_b;           /* standard uncertainty of per_unit, relative */
    double end_hz;                 /* min(usable_to, 0.45 fs) */
    double edge_hz;                /* where the floor drops steeply; the end of the capture if it does not */
};

void lds_noise_scale_init(struct lds_noise_scale *scale, const struct lds_bench *bench, const struct lds_floor *floor);

/* Integrates a band at the load, with the bench's response divided out as 1/gain^2. weight: lds_weighting_a, ... or
 * NULL. The powers are in the linear unit squared. */
void lds_noise_band(const struct lds_floor *floor, const struct lds_noise_scale *scale, double low_hz, double high_hz,
                    unsigned keep, double (*weight)(double frequency_hz, const void *context),
                    struct lds_band_power *band);

/* The part of a band that the capture covers. false: less than half of it, and *reason is what limits it ("the capture
 * at 86.4 kHz"); *cut: less than requested. */
bool lds_noise_covered(const struct lds_floor *floor, const struct lds_noise_scale *scale, double low_hz,
                       double high_hz, double covered_hz[2], bool *cut, char reason[160]);

/* Frequency where the floor drops steeply, at -3 dB relative to the floor before it, or the capture's usable end if it
 * does not. u_hz: standard uncertainty, from the width of the bands used. */
double lds_noise_edge(const struct lds_floor *floor, double *u_hz);

/* Moves to the next log-spaced band, which begins where this one ends: 24 a decade, wider where it would hold less than
 * 8 independent bins. false: it would exceed end_hz. */
bool lds_noise_next_band(const struct lds_density *density, double end_hz, struct lds_band *band);

/* Mean of the robust floor over a band, in the capture's own unit but with the bench's response divided out (NULL:
 * flat); NAN where it holds no bin. */
double lds_noise_mean_floor(const struct lds_floor *floor, const struct lds_bench *bench, const struct lds_band *band);

/* Adds the series floor: 24 bands a decade from 10 Hz to the usable end, wider ones where those would hold less than 8
 * independent bins. false: no memory. */
bool lds_noise_curve(struct lds_channel *channel, const struct lds_floor *floor, const struct lds_noise_scale *scale);

/* Appends noise.corner and noise.slope, or the reasons why they are absent. false: no memory. */
bool lds_noise_shape(struct lds_channel *channel, const struct lds_floor *floor, const struct lds_noise_scale *scale);

#endif
