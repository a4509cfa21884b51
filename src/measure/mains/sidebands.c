/* The tone's sidebands at multiples of the mains. When the tone is near a multiple of the mains, k0 fm, every sideband
 * f1 + j fm is the same f1 - k0 fm away from order k0 + j, and it wanders with the tone, not with that order. */
#include "measure/mains/segment.h"

#include <math.h>
#include <stdlib.h>

#include "spectrum/window.h"

static const double STANDS_OUT = 11.0; /* times the noise's mean, as in the tracking */
static const double FAR_ABOVE = 10.0;  /* times the power of the orders around it, or of its mirror */
static const double ABOUT = 8.0;       /* orders to look at on each side of one */
static const double OVER_SKIRT = 4.0;  /* times the power to which the skirt of an order's line reaches */
static const double NOT_WEAK = 1e-4;   /* of the tone's power: a harmonic stronger than this may have strong
                                        * sidebands */

double lds_mains_sideband_near(const struct lds_mains_tones *tones, double mains_hz, double frequency_hz, int *turns)
{
    double nearest = INFINITY, least = INFINITY;
    *turns = 0;
    for (int i = 0; i < tones->harmonics; i++) {
        if (i > 0 && tones->power[i] < NOT_WEAK * tones->power[0])
            continue;
        for (int j = -LDS_MAINS_SIDEBANDS; j <= LDS_MAINS_SIDEBANDS; j++) {
            const double at_hz = fabs(tones->frequency_hz[i] + j * mains_hz), off_hz = fabs(frequency_hz - at_hz);
            if (j == 0 || off_hz >= least)
                continue;
            least = off_hz;
            nearest = at_hz;
            *turns = j < 0 ? -j : j;
        }
    }
    return nearest;
}

/* Power of the strongest bin within reach_hz. */
static double strongest(const struct lds_mains_spectrum *spectrum, double frequency_hz, double reach_hz)
{
    const long first = (long)floor((frequency_hz - reach_hz) / spectrum->bin_hz);
    const long last = (long)ceil((frequency_hz + reach_hz) / spectrum->bin_hz);
    double most = 0.0;
    for (long i = first > 1 ? first : 1; i <= last && i < (long)spectrum->bins; i++) {
        const double re = creal(spectrum->bin[i]), im = cimag(spectrum->bin[i]);
        most = fmax(most, 2.0 * (re * re + im * im));
    }
    return most;
}

static double noise_about(const struct lds_mains_spectrum *spectrum, const struct lds_comb *comb, double frequency_hz)
{
    const double order = fmax(1.0, fmin(LDS_MAINS_ORDERS, round(frequency_hz / comb->frequency_hz)));
    return comb->floor[(int)order] * spectrum->enbw_hz;
}

/* A modulation that gives the tone a sideband of this relative power gives harmonic m at most m^2 times as much (phase
 * modulation), or just as much (amplitude modulation). So a sideband that stands out of the noise, where the modulation
 * cannot be strong enough, is the mains alone. */
static bool possible(const struct lds_mains_tones *tones, int harmonic, double of_tone, double noise)
{
    const double most = harmonic * harmonic * of_tone * tones->power[harmonic - 1];
    return harmonic == 1 || most > 0.1 * noise;
}

/* Where a sideband would fall on a mains order, too close to be separated, the line is taken for the mains alone unless
 * it is far stronger than the surrounding orders that no sideband can fall on, and the sideband on the other side of
 * the tone, `turns` the other way, is about as strong: a modulation makes pairs. */
static bool only_mains(const struct lds_mains_spectrum *spectrum, double mains_hz, double wander_hz, double tone_hz,
                       int turns, double power)
{
    const double frequency_hz = fabs(tone_hz + turns * mains_hz);
    const double order = round(frequency_hz / mains_hz), at_tone = round(tone_hz / mains_hz);
    if (order < 1.0 || fabs(frequency_hz - order * mains_hz) > 4.0 / spectrum->seconds + order * wander_hz)
        return false;
    const double mirrored =
        strongest(spectrum, fabs(tone_hz - turns * mains_hz), 1.0 / spectrum->seconds + abs(turns) * wander_hz);
    if (power > FAR_ABOVE * mirrored)
        return true;
    double most = 0.0;
    for (double q = fmax(1.0, order - ABOUT); q <= order + ABOUT; q++)
        if (fabs(q - at_tone) > LDS_MAINS_SIDEBANDS)
            most = fmax(most, strongest(spectrum, q * mains_hz, 1.0 / spectrum->seconds + q * wander_hz));
    return power < FAR_ABOVE * most;
}

/* Power that the skirt of the nearest order's line reaches at a frequency, at most: the transform of the tapered
 * segment is that of a rectangle times that of the window that makes its edges. */
static double skirt(const struct lds_mains_spectrum *spectrum, double mains_hz, double wander_hz, double frequency_hz,
                    double reach_hz)
{
    const double order = fmax(1.0, round(frequency_hz / mains_hz));
    const double own_hz = 1.0 / spectrum->seconds + order * wander_hz;
    const double off_hz = fabs(frequency_hz - order * mains_hz) - reach_hz - order * wander_hz;
    if (off_hz <= own_hz)
        return 0.0; /* it stands on the order */
    const double flat_s = spectrum->seconds - spectrum->taper_s;
    const double share =
        lds_window_transform(&lds_window_analysis, off_hz * spectrum->taper_s) / fmax(1.0, M_PI * flat_s * off_hz);
    return share * share * strongest(spectrum, order * mains_hz, own_hz);
}

void lds_mains_sidebands_find(const struct lds_mains_spectrum *spectrum, const struct lds_comb *comb, double mains_hz,
                              double wander_hz, struct lds_mains_tones *tones)
{
    double of_tone[LDS_MAINS_SIDEBANDS + 1] = {0};
    tones->count = tones->harmonics;
    for (int m = 1; m < tones->harmonics; m++)
        tones->faint[m] = tones->power[m] < STANDS_OUT * noise_about(spectrum, comb, tones->frequency_hz[m]);
    for (int m = 1; m <= tones->harmonics; m++)
        for (int j = -LDS_MAINS_SIDEBANDS; j <= LDS_MAINS_SIDEBANDS; j++) {
            const double f = fabs(tones->frequency_hz[m - 1] + j * mains_hz);
            if (j == 0 || tones->count == LDS_MAINS_LINES || f > comb->frequency_hz * (LDS_MAINS_ORDERS + 1))
                continue;
            const int side = j < 0 ? -j : j;
            const double reach_hz = 1.0 / spectrum->seconds + side * wander_hz;
            const double power = strongest(spectrum, f, reach_hz);
            const double noise = noise_about(spectrum, comb, f);
            const double beside = skirt(spectrum, mains_hz, wander_hz, f, reach_hz);
            if (!(power > STANDS_OUT * noise + OVER_SKIRT * beside) || !possible(tones, m, of_tone[side], noise))
                continue;
            if (only_mains(spectrum, mains_hz, wander_hz, tones->frequency_hz[m - 1], j, power))
                continue;
            if (m == 1)
                of_tone[side] = fmax(of_tone[side], power / tones->power[0]);
            tones->order[tones->count] = j;
            tones->faint[tones->count] = false;
            tones->frequency_hz[tones->count] = f;
            tones->power[tones->count++] = power;
        }
}
