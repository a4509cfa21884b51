#include "simulate/weighting.h"

#include <math.h>
#include <stddef.h>

double sim_a_weighting_db(double frequency_hz)
{
    /* Poles from f_r = 1000, f_L = 10^1.5, f_H = 10^3.9, f_A = 10^2.45 (IEC 61672-1:2013, annex E). */
    const double f1 = 20.598997057618, f2 = 107.652648643046, f3 = 737.862230736290, f4 = 12194.217147998;
    const double at_1000_db = -1.9996555357;
    const double f = frequency_hz * frequency_hz;
    const double gain = f4 * f4 * f * f / ((f + f1 * f1) * sqrt(f + f2 * f2) * sqrt(f + f3 * f3) * (f + f4 * f4));
    return 20.0 * log10(gain) - at_1000_db;
}

double sim_itu468_weighting_db(double frequency_hz)
{
    const double f = frequency_hz, f2 = f * f;
    const double h1 = ((-4.737338981378384e-24 * f2 + 2.043828333606125e-15) * f2 - 1.363894795463638e-7) * f2 + 1.0;
    const double h2 = ((1.306612257412824e-19 * f2 - 2.118150887518656e-11) * f2 + 5.559488023498642e-4) * f;
    return 20.0 * log10(1.246332637532143e-4 * f / hypot(h1, h2)) + 18.238675; /* 18.2 is the published rounding */
}

double sim_band_power(double low_hz, double high_hz, double (*density)(double, const void *), const void *context,
                      double (*weighting_db)(double))
{
    enum { STEPS = 20000 };
    const double step = log(high_hz / low_hz) / STEPS;
    double sum = 0.0;
    for (int i = 0; i <= STEPS; i++) {
        const double f = low_hz * exp(i * step);
        const double weight = weighting_db == NULL ? 1.0 : pow(10.0, weighting_db(f) / 10.0);
        const double simpson = i == 0 || i == STEPS ? 1.0 : i % 2 == 1 ? 4.0 : 2.0;
        sum += simpson * weight * density(f, context) * f;
    }
    return sum * step / 3.0;
}
