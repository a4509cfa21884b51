#include "measure/noise/weighting.h"

/* IEC 61672-1:2013, Annex E: the poles follow from the design goals f_r = 1 kHz, f_L = 10^1.5, f_H = 10^3.9,
 * f_A = 10^2.45 Hz, D^2 = 1/2; these are their values to double precision, and GAIN makes 1 kHz exactly 1. */
static const double POLE1_HZ = 20.598997057618;
static const double POLE2_HZ = 107.652648643046;
static const double POLE3_HZ = 737.862230736290;
static const double POLE4_HZ = 12194.217147998;

static double a_unscaled(double square)
{
    double p1 = POLE1_HZ * POLE1_HZ, p2 = POLE2_HZ * POLE2_HZ, p3 = POLE3_HZ * POLE3_HZ, p4 = POLE4_HZ * POLE4_HZ;
    double numerator = p4 * square * square;
    double outer = (square + p1) * (square + p4);
    return numerator * numerator / (outer * outer * (square + p2) * (square + p3));
}

double lds_weighting_a(double frequency_hz, const void *context)
{
    (void)context;
    return a_unscaled(frequency_hz * frequency_hz) / a_unscaled(1e6);
}

/* The response of the Recommendation's network (ITU-R BS.468-4, Figure 1a) in closed form, coefficients as widely
 * published; it stays within 0.051 dB of the Recommendation's Table 1. */
static double itu468_unscaled(double square)
{
    double h1 =
        ((-4.737338981378384e-24 * square + 2.043828333606125e-15) * square - 1.363894795463638e-7) * square + 1.0;
    double h2 = (1.306612257412824e-19 * square - 2.118150887518656e-11) * square + 5.559488023498642e-4;
    return square / (h1 * h1 + h2 * h2 * square);
}

double lds_weighting_itu468(double frequency_hz, const void *context)
{
    (void)context;
    return itu468_unscaled(frequency_hz * frequency_hz) / itu468_unscaled(1e6);
}
